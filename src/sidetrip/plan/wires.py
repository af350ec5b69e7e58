"""What a tick connects: which port stands behind which, what feeds each strip, and where a signal comes from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.tick import Item, Patch, Slot, Tick
from sidetrip.showfile.check_strips import strip_legs

Links = Mapping[Port, tuple[Port, Item]]
"""For each port on which a unit gives something back, the port at which it takes it, and what makes it so."""


@dataclass(frozen=True, slots=True)
class Trace:
    """The way back from a port to where its signal begins.

    ports: from the port to `start`. passed: what makes the way so (a block's choice, a cable, a slot), in order.
    ringed: the way never ends.
    """

    ports: tuple[Port, ...]
    passed: tuple[tuple[Item, object], ...]
    ringed: bool

    @property
    def start(self) -> Port:
        """Where the signal begins: a jack, a port with nothing behind it, or a send."""
        return self.ports[-1]

    @property
    def through_unit(self) -> bool:
        """Tell whether the way passes a unit."""
        return any(item.kind in ("cable", "slot") for item, _ in self.passed)


class Wires:
    """The blocks, strips and inputs of a show on its desk, looked up by port.

    back_on: inputs that stand on a strip on which a loop comes back; they are fed by it alone.
    """

    def __init__(self, show: Show, desk: Desk, back_on: Iterable[str] = ()) -> None:
        self.show, self.desk, self.back_on = show, desk, frozenset(back_on)
        self._at: dict[Port, int] = {port: i for i, block in enumerate(desk.blocks) for port in block.feeds.each}
        self._own: dict[Port, Port] = {}
        for group in desk.ports:
            every = Ports(group.name, 1, group.count)
            strips = group.strips_of(every)
            if strips is not None:
                self._own |= dict(zip(strips.each, every.each, strict=True))
        self._jack: dict[Port, Port] = {}
        self.legs: dict[str, tuple[Port, ...]] = {}
        self.played: dict[Port, str] = {}
        for item in show.inputs:
            legs = strip_legs(item, desk)
            self.legs[item.name] = legs.each if legs is not None else ()
            self.played |= dict.fromkeys(self.legs[item.name], item.name)
            self._jack |= dict(zip(self.legs[item.name], item.port.each, strict=False))
        channels = [port for block in desk.blocks if block.feeds.group == "channel" for port in block.feeds.each]
        self.spare = tuple(sorted({*channels, *self._own} - set(self.played)))
        """Strips that carry no input of the show; where they are open is not known."""

    def links(self, tick: Tick) -> Links:
        """Return what units pass at a tick. A unit that is off passes nothing."""
        found: dict[Port, tuple[Port, Item]] = {}
        sockets = {unit.name: self.desk.connection(unit.connects or "") for unit in self.show.units}
        for item, value in tick.values.items():
            if not tick.value(Item("unit", item.name)):
                continue
            if item.kind == "cable" and isinstance(value, Patch):
                found |= {back: (out, item) for back, out in zip(value.returns.each, value.send.each, strict=True)}
            elif item.kind == "slot" and isinstance(value, Slot) and (socket := sockets.get(item.name)) is not None:
                found[value.out] = Port(socket.out, item.number), item
        return found

    def _behind(self, tick: Tick, links: Links, port: Port) -> tuple[Port, Item, object] | None:
        """Return what stands behind a port, None where the signal begins."""
        index = self._at.get(port)
        if index is not None:
            block = self.desk.blocks[index]
            chosen = tick.choice(str(block.feeds), index)
            choice = block.choices[chosen]
            covered = block.covered(choice)
            if isinstance(choice.from_, Ports) and covered.first <= port.number <= covered.last:
                source = Port(choice.from_.group, choice.from_.first + port.number - covered.first)
                return source, Item("block", str(block.feeds), index), chosen
        if port in links:
            source, item = links[port]
            return source, item, tick.value(item)
        return None

    def trace(self, tick: Tick, links: Links, port: Port) -> Trace:
        """Follow a signal from a port back to where it begins."""
        ports: list[Port] = [port]
        passed: list[tuple[Item, object]] = []
        while (behind := self._behind(tick, links, ports[-1])) is not None:
            passed.append(behind[1:])
            ports.append(behind[0])
            if behind[0] in ports[:-1]:
                return Trace(tuple(ports), tuple(passed), ringed=True)
        return Trace(tuple(ports), tuple(passed), ringed=False)

    def feeds(self, tick: Tick, strip: Port) -> Port | None:
        """Return the port that feeds one leg of a strip at a tick, None for a strip that nothing feeds.

        On a desk that takes any port on any channel strip, an input's own port.
        """
        index = self._at.get(strip)
        if index is not None:
            block = self.desk.blocks[index]
            choice = block.choices[tick.choice(str(block.feeds), index)]
            covered = block.covered(choice)
            if isinstance(choice.from_, Ports) and covered.first <= strip.number <= covered.last:
                return Port(choice.from_.group, choice.from_.first + strip.number - covered.first)
            return None
        return self._own.get(strip) or self._jack.get(strip)

    def routing(self, tick: Tick, links: Links) -> tuple[object, ...]:
        """Return what decides which port stands behind which: ticks that are equal in it are wired alike."""
        choices = tuple(tick.choice(str(block.feeds), index) for index, block in enumerate(self.desk.blocks))
        return choices, frozenset((back, out, item, tick.value(item)) for back, (out, item) in links.items())
