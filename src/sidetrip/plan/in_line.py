"""The way in-line: a block of channels takes its source from a unit, and every input of it goes along.

What nobody asked for goes through the unit as a blank loop, so that the block stays together in time. A block goes
only as a whole: each of its inputs needs a port on the way out, which a recorder that takes the same raw input may
share.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Block, Choice, Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Input, Show
from sidetrip.plan.ways import Ground, Reach, Setting, current_choice
from sidetrip.showfile.check_strips import strip_legs


@dataclass(frozen=True, slots=True)
class Member:
    """An input of a block that goes in-line. back: the ports that become its source. out: for each leg its ways out."""

    item: Input
    back: Ports
    out: tuple[tuple[Reach, ...], ...]


@dataclass(frozen=True, slots=True)
class InLine:
    """One choice of a block of channels that brings it a unit. blocked: why it cannot be taken, empty when it can."""

    setting: Setting
    unit: str
    members: tuple[Member, ...]
    blocked: str

    def holds(self, strip: str) -> bool:
        """Tell whether a strip goes along."""
        return any(member.item.name == strip for member in self.members)


def in_lines(show: Show, desk: Desk, ground: Ground) -> tuple[InLine, ...]:
    """Return every way to put a block of channels in line with a computer, in the order of the desk file."""
    found: list[InLine] = []
    for number, block in enumerate(desk.blocks):
        if block.feeds.group != "channel":
            continue
        for index, choice in enumerate(block.choices):
            for unit in sorted(show.units, key=lambda unit: unit.name):
                socket = desk.connection(unit.connects or "")
                if socket is None or not isinstance(choice.from_, Ports) or choice.from_.group != socket.back:
                    continue
                if index == current_choice(block, show, desk):
                    continue  # inputs that come from the unit already are no loop
                found.append(_in_line(show, desk, ground, (number, index), block, choice, unit, socket.out))
    return tuple(found)


def blocks_in_line(show: Show, desk: Desk, loops: Iterable[PlacedLoop]) -> dict[str, tuple[PlacedLoop, ...]]:
    """Return the loops of each block that goes in-line, by the block's ports in words: they are OUT all together."""
    found: defaultdict[str, list[PlacedLoop]] = defaultdict(list)
    for loop in sorted(loops, key=lambda loop: loop.name):
        item = show.input(loop.strip) if loop.way == "in-line" else None
        legs = strip_legs(item, desk) if item is not None else None
        if legs is not None:
            block = next((block for block in desk.blocks if legs.overlaps(block.feeds)), None)
            found[str(block.feeds if block is not None else legs)].append(loop)
    return {name: tuple(own) for name, own in found.items()}


def _in_line(
    show: Show, desk: Desk, ground: Ground, setting: Setting, block: Block, choice: Choice, unit: Unit, socket: str
) -> InLine:
    covered = block.covered(choice)
    members: list[Member] = []
    blocked: list[str] = []
    for item in sorted(show.inputs, key=lambda item: (item.ch or 0, item.name)):
        legs = strip_legs(item, desk)
        if item.ch is None or legs is None or not legs.overlaps(covered):
            continue
        if not (covered.first <= legs.first and legs.last <= covered.last):
            blocked.append(f"only half of {item.name} would go")
            continue
        assert isinstance(choice.from_, Ports)
        first = choice.from_.first + legs.first - covered.first
        back = Ports(choice.from_.group, first, first + len(legs) - 1)
        held = [f"{ports} for {what}" for ports, what in ground.taken if ports.overlaps(back)]
        blocked += [f"{back} is in use or must stay: {one}" for one in held]
        out = tuple(_ways_out(desk, ground, port, socket) for port in item.port.each)
        if not all(out):
            blocked.append(f"nothing brings {item.port} of {item.name} to {unit.name}")
        if item.name in show.never:
            blocked.append(f"{item.name} would go along, and must never pass a loop")
        blocked += [
            f"{item.name} would go along, and hears {source}, which must never pass a loop"
            for source in sorted(set(item.hears) & set(show.never))
        ]
        members.append(Member(item, back, out))
    return InLine(setting, unit.name, tuple(members), "; ".join(dict.fromkeys(blocked)))


def _ways_out(desk: Desk, ground: Ground, port: Port, socket: str) -> tuple[Reach, ...]:
    """Return where an input's port appears on the way to a unit: by what is set already even where that must stay."""
    found = []
    for number, block in enumerate(desk.blocks):
        for index in ground.allowed[number]:
            choice = block.choices[index]
            covered = block.covered(choice)
            if covered.group != socket or not isinstance(choice.from_, Ports) or not _holds(choice.from_, port):
                continue
            out = Port(socket, covered.first + port.number - choice.from_.first)
            kept = any(_holds(ports, out) for ports, _ in ground.taken)
            if index == ground.current[number] or not kept:
                found.append(Reach(out, (number, index)))
    return tuple(found)


def _holds(ports: Ports, port: Port) -> bool:
    return ports.group == port.group and ports.first <= port.number <= ports.last


__all__ = ["InLine", "Member", "blocks_in_line", "in_lines"]
