"""Which dangers a tick holds, judged quickly: once for every step that is tried.

It knows the desk by its ports and by what reaches what on the line map without loops. `tick_map` and `safe` judge the
same ticks on a whole line map each, and tests hold the two against each other. Where they differ on purpose this one
is the stricter: a ring counts whatever its gain.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.linemap import LineMap, Node
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.tick import Item, Patch, Tick, as_found
from sidetrip.plan.wires import Links, Trace, Wires

DangerKind = Literal["ring", "dead", "lost", "disturbed"]


@dataclass(frozen=True, slots=True, order=True)
class Danger:
    """Something that must not be. at: the strip, input or output where it shows.

    ring: a signal reaches itself through a unit. dead: IN, and what comes back is not what went out. lost: an input
    that was there does not reach the desk any more. disturbed: what an IN loop passes changes under it. by: which
    judge found it, where several judge.
    """

    kind: DangerKind
    at: str
    by: int = 0


Dangers = frozenset[Danger]


@dataclass(frozen=True, slots=True)
class Judged:
    """A tick judged. ways_in: what each signal that comes back from a unit passes, for everything that is IN."""

    dangers: Dangers
    ways_in: Mapping[str, tuple[object, ...]]

    def disturbed_by(self, after: Judged) -> Dangers:
        """Return what is IN before and after a step whose way changes under it."""
        both = self.ways_in.keys() & after.ways_in.keys()
        return frozenset(Danger("disturbed", name) for name in both if self.ways_in[name] != after.ways_in[name])


class Judge:
    """Judges the ticks of one show on its desk. base: its line map without loops.

    held: inputs that must go on reaching the desk; left out, all that reach a place.
    """

    def __init__(
        self, show: Show, desk: Desk, base: LineMap, back_on: Iterable[str] = (), held: Iterable[str] | None = None
    ) -> None:
        self.show, self.desk, self.base = show, desk, base
        self.wires = Wires(show, desk, back_on)
        self._reached: dict[Node, frozenset[Node]] = {}
        self._known: dict[tuple[object, ...], _Routed] = {}
        places = {place.node for place in base.places}
        found = as_found(show, desk)
        links = self.wires.links(found)
        names = [item.name for item in show.inputs] if held is None else sorted(held)
        self._held: dict[str, tuple[Port | None, ...]] = {}
        for name in names:
            if name not in self.wires.back_on and places & self.reach(Node("strip", name)):
                self._held[name] = self._starts(found, links, name)

    def reach(self, start: Node) -> frozenset[Node]:
        """Return every node that a signal at this one comes to, with every insert passing."""
        known = self._reached.get(start)
        if known is None:
            reached: set[Node] = set()
            waiting = [start]
            while waiting:
                node = waiting.pop()
                if node not in reached:
                    reached.add(node)
                    waiting += [edge.end for edge in self.base.outgoing.get(node, ())]
            known = self._reached[start] = frozenset(reached)
        return known

    def _starts(self, tick: Tick, links: Links, name: str) -> tuple[Port | None, ...]:
        fed = (self.wires.feeds(tick, leg) for leg in self.wires.legs[name])
        return tuple(None if port is None else self.wires.trace(tick, links, port).start for port in fed)

    def judge(self, tick: Tick) -> Judged:
        """Judge a tick, as though no output were muted."""
        links = self.wires.links(tick)
        returns = self._returns(tick, links)
        routed = self._routed(tick, links)
        dead = {Danger("dead", name) for name, legs in returns.items() if not all(legs)}
        dangers = frozenset(dead | routed.lost | self._rings(tick, routed))
        return Judged(dangers, {**routed.in_line, **self._ways_in(tick, returns)})

    def _routed(self, tick: Tick, links: Links) -> _Routed:
        """Return what hangs on the wiring alone, found once for all ticks that are wired alike."""
        key = self.wires.routing(tick, links)
        known = self._known.get(key)
        if known is None:
            lost = {Danger("lost", name) for name, own in self._held.items() if self._starts(tick, links, name) != own}
            fed = []
            for leg in [*self.wires.played, *self.wires.spare]:
                port = self.wires.feeds(tick, leg)
                if port is not None:
                    fed.append((leg, self.wires.played.get(leg, ""), self.wires.trace(tick, links, port)))
            in_line: dict[str, list[object]] = {}
            through = {name for _, name, trace in fed if name and trace.through_unit}
            for _, name, trace in fed:
                if name in through - self.wires.back_on:
                    in_line.setdefault(f"{name}, in-line", []).append((trace.ports, trace.passed))
            ways = {name: tuple(legs) for name, legs in in_line.items()}
            known = self._known[key] = _Routed(frozenset(lost), tuple(fed), ways)
        return known

    def _returns(self, tick: Tick, links: Links) -> dict[str, list[Trace | None]]:
        """Return, for everything that is IN, the way back of each leg; None where it does not lead to its own send."""
        found: dict[str, list[Trace | None]] = {}
        for item, value in tick.values.items():
            if item.kind == "in":
                patch = tick.value(Item("insert", item.name))
                pair = (patch.send, patch.returns) if isinstance(patch, Patch) else None
            elif item.kind == "turn" and isinstance(value, Ports):
                send = tick.value(Item("copy", item.name))
                pair = (send, value) if isinstance(send, Ports) else None
            elif item.kind == "back":
                pair = self._parallel(tick, links, item.name)
            else:
                continue
            found[item.name] = [None] if pair is None else self._legs(tick, links, *pair)
        return found

    def _legs(self, tick: Tick, links: Links, send: Ports, returns: Ports) -> list[Trace | None]:
        legs: list[Trace | None] = []
        for out, back in zip(send.each, returns.each, strict=False):
            trace = self.wires.trace(tick, links, back)
            legs.append(trace if trace.start == out and not trace.ringed else None)
        return legs if len(send) == len(returns) else [None]

    def _parallel(self, tick: Tick, links: Links, name: str) -> tuple[Ports, Ports] | None:
        """Return what an input strip is fed from and with, where a copy or an output stands at its beginning."""
        item = self.show.input(name)
        starts = [self.wires.trace(tick, links, port).start for port in item.port.each] if item is not None else []
        sends = [value for own, value in tick.values.items() if own.kind == "copy" and isinstance(value, Ports)]
        sends += [output.port for output in self.show.outputs]
        sends = [ports for ports in sends if starts and list(ports.each) == starts]
        return (sends[0], item.port) if sends and item is not None else None

    def _signals(self, tick: Tick) -> dict[Port, Node]:
        """Return the node behind each port on which the desk sends something out."""
        found = {port: Node("output", output.name, 1) for output in self.show.outputs for port in output.port.each}
        for item, value in tick.values.items():
            if item.kind == "insert" and isinstance(value, Patch):
                found |= dict.fromkeys(value.send.each, leaving(self.show, self.desk, item.name))
            elif item.kind == "copy" and isinstance(value, Ports):
                found |= dict.fromkeys(value.each, leaving(self.show, self.desk, item.name))
        return found

    def _rings(self, tick: Tick, routed: _Routed) -> set[Danger]:
        """Find strips that are fed by a signal which they reach: open spares may be open into any mix."""
        signals = self._signals(tick)
        ways: list[tuple[Node, Node | None, str]] = []
        ringed: set[Danger] = set()
        for leg, name, trace in routed.fed:
            if tick.value(Item("strip", leg.group, leg.number)):
                continue  # shut; an input's strip too, where another show had no input on it
            if name in self.wires.back_on and not tick.value(Item("back", name)):
                continue
            if trace.ringed:
                ringed.add(Danger("ring", name or str(leg)))
            elif trace.start in signals and len(trace.ports) > 1:
                ways.append((signals[trace.start], Node("strip", name) if name else None, name or str(leg)))
        if not ways:
            return ringed
        mixes = frozenset().union(*(self.reach(Node("strip", mix.name)) for mix in self.show.mixes))
        ahead: defaultdict[Node, set[Node]] = defaultdict(set)
        owners = {owner for owner, _, _ in ways}
        heard = [(owner, owners & (mixes if into is None else self.reach(into)), label) for owner, into, label in ways]
        for owner, next_ones, _ in heard:
            ahead[owner] |= next_ones
        for owner, next_ones, label in heard:
            if owner in _closure(next_ones, ahead):
                ringed.add(Danger("ring", label))
        return ringed

    def _ways_in(self, tick: Tick, returns: Mapping[str, list[Trace | None]]) -> dict[str, tuple[object, ...]]:
        found: dict[str, tuple[object, ...]] = {}
        for name, legs in returns.items():
            patch = tick.value(Item("insert", name)) or tick.value(Item("turn", name))
            found[name] = (patch, *((leg.ports, leg.passed) if leg is not None else None for leg in legs))
        return found


@dataclass(frozen=True, slots=True)
class _Routed:
    """What hangs on the wiring of a tick alone: inputs lost, what feeds each strip, and what goes in-line."""

    lost: Dangers
    fed: tuple[tuple[Port, str, Trace], ...]
    in_line: Mapping[str, tuple[object, ...]]


def leaving(show: Show, desk: Desk, name: str) -> Node:
    """Return the node at which a strip's insert, an output's copy or a strip's copy leaves."""
    if name not in show.strips():
        return Node("output", name)
    pool = desk.pool(show.kind(name))
    order = pool.order if pool is not None else ()
    return Node("strip", name, order.index("insert") if "insert" in order else len(order))


def _closure(starts: Iterable[Node], ahead: dict[Node, set[Node]]) -> set[Node]:
    reached: set[Node] = set()
    waiting = list(starts)
    while waiting:
        node = waiting.pop()
        if node not in reached:
            reached.add(node)
            waiting += ahead.get(node, ())
    return reached
