"""The ways out and back that a desk offers: carriers, what must be set for them, and what that costs.

A carrier is a send port and a return port that belong together. It reaches a unit either at the jacks, or by block
choices that bring the send to the unit's socket and the socket back to the return.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from sidetrip.model.desk import Block, Choice, Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.stand_in import Stand, idle, stands_of
from sidetrip.showfile.check_strips import chosen_source

Setting = tuple[int, int]
"""A block by its index in the desk file and one of its choices."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How one leg of a carrier meets a unit: the unit's port, and the setting that makes it so, None at a jack."""

    port: Port
    setting: Setting | None


@dataclass(frozen=True, slots=True)
class Leg:
    """One carrier port pair for one unit, with every way to open it out and back.

    mirror: where another unit stands in and hears the same send on a socket of its own, every way to bring it there.
    """

    row: int
    send: Port
    returns: Port
    unit: str
    out: tuple[Reach, ...]
    back: tuple[Reach, ...]
    mirror: tuple[Reach, ...] = ()

    @property
    def signature(self) -> tuple[tuple[Setting | None, ...], ...]:
        """What must be set: legs of one row with the same signature are alike."""
        return tuple(tuple(reach.setting for reach in reaches) for reaches in (self.out, self.back, self.mirror))


@dataclass(frozen=True, slots=True)
class Ground:
    """What a show leaves free on its desk.

    current: the choice of each block as the show finds it. allowed: the choices each block may take. lost: what a
    choice takes away, as ports whose source changes. taken: ports that are in use or kept, with what for.
    any_pair: stereo loops may sit on any two neighbouring ports, not on odd-even pairs only.
    """

    current: tuple[int, ...]
    allowed: tuple[tuple[int, ...], ...]
    taken: tuple[tuple[Ports, str], ...]
    legs: tuple[Leg, ...]
    any_pair: bool = False

    def lost(self, desk: Desk, setting: Setting) -> Ports | None:
        """Return the ports whose source a setting changes, None when it changes nothing."""
        block, choice = setting
        return None if choice == self.current[block] else desk.blocks[block].covered(desk.blocks[block].choices[choice])


def survey(show: Show, desk: Desk, *, freed: Ports | None = None) -> Ground:
    """Find what is free. freed: take these ports as free, whatever holds them, to learn what that would give."""
    taken = _taken(show, freed)
    coming_back = [
        (item.port, item.name)
        for request in show.requests
        if request.back_on is not None and (item := show.input(request.back_on)) is not None
    ]
    kept = {(ports, keep.for_) for keep in show.keep for ports in _without(keep.ports, freed)}
    fixed: defaultdict[str, list[Ports]] = defaultdict(list)  # by group of ports
    for entry in taken:
        if entry not in coming_back or entry in kept:  # a unit may feed the others
            fixed[entry[0].group].append(entry[0])
    current = tuple(current_choice(block, show, desk) for block in desk.blocks)
    allowed = tuple(
        tuple(
            index
            for index, choice in enumerate(block.choices)
            if index == current[number] or _may_change(block, current[number], choice, fixed)
        )
        for number, block in enumerate(desk.blocks)
    )
    held, by_groups, resting = each_port(taken), brought(desk, allowed), idle(show)
    legs = tuple(
        leg
        for unit in sorted(show.units, key=lambda unit: unit.name)
        if unit.name not in resting
        for row, carrier in enumerate(desk.carriers)
        for send, returns in zip(carrier.send.each, carrier.returns.each, strict=True)
        if (leg := _leg(desk, allowed, by_groups, held, unit, row, send, returns)) is not None
    )
    for stand in stands_of(show):
        legs = _with_stand(show, desk, stand, legs, (allowed, by_groups, held))
    return Ground(current, allowed, taken, legs, desk.stereo == "any pair")


def _with_stand(
    show: Show,
    desk: Desk,
    stand: Stand,
    legs: tuple[Leg, ...],
    free: tuple[tuple[tuple[int, ...], ...], Brought, frozenset[Port]],
) -> tuple[Leg, ...]:
    """Return the legs with those of a unit that another can take over, and with that other's own places."""
    allowed, by_groups, held = free
    unit = show.unit(stand.by)
    socket = desk.connection(unit.connects or "") if unit is not None else None
    if unit is None or socket is None:
        return tuple(leg for leg in legs if leg.unit != stand.unit)
    together = stand.switch == "by strip" and not desk.returns_alone  # its send moves with its return
    found: list[Leg] = []
    for leg in legs:
        if leg.unit != stand.unit:
            found.append(leg)
            continue
        heard = together or stand.shared
        mirror = () if heard else reaches_out(by_groups, leg.send, socket.out, held)
        back = leg.back
        if stand.switch == "by block":
            back = tuple(reach for reach in back if other_source(desk, leg.returns, reach, socket.back, held))
        if back and (heard or mirror):
            found.append(replace(leg, mirror=mirror, back=back))
    if stand.switch == "by strip":
        for row, carrier in enumerate(desk.carriers):
            for send, returns in zip(carrier.send.each, carrier.returns.each, strict=True):
                own = _leg(desk, allowed, by_groups, held, unit, row, send, returns)
                if not together and send not in held and returns not in held:
                    back = returns_from(by_groups, returns, socket.back, held)
                    own = Leg(row, send, returns, stand.by, (Reach(send, None),), back) if back else None
                if own is not None:
                    found.append(replace(own, unit=stand.places))
    return tuple(found)


def other_source(
    desk: Desk, returns: Port, reach: Reach, socket: str, held: frozenset[Port]
) -> tuple[Setting, Port] | None:
    """Return the first choice by which a block takes a unit on another socket, or on other channels of the same.

    It changes the same ports as the choice that it takes the place of. The port is the channel that comes back then.
    """
    if reach.setting is None:
        return None
    number, index = reach.setting
    block = desk.blocks[number]
    was = block.choices[index]
    for other, choice in enumerate(block.choices):
        source = choice.from_
        if not isinstance(source, Ports) or not isinstance(was.from_, Ports) or source.group != socket:
            continue
        same = block.covered(choice) == block.covered(was) and len(source) == len(was.from_)
        if same and not source.overlaps(was.from_) and not any(port in held for port in source.each):
            return (number, other), Port(socket, source.first + returns.number - block.covered(choice).first)
    return None


@dataclass(frozen=True, slots=True)
class Holding:
    """Ports that somebody holds, and the change that would free them, in words that follow "if"."""

    ports: Ports
    change: str


def holdings(show: Show, desk: Desk) -> tuple[Holding, ...]:
    """Return what could be freed: each keep by block and whole, then inputs and outputs where loops could go."""
    found: list[Holding] = []
    for keep in sorted(show.keep, key=lambda keep: str(keep.ports)):
        parts = [part for block in desk.blocks if (part := _common(keep.ports, block.feeds)) not in (None, keep.ports)]
        for ports in [*(part for part in parts if part is not None), keep.ports]:
            moving = _on(show, ports)
            moved = f" and {', '.join(moving)} moved to other ports" if moving else ""
            found.append(Holding(ports, f"{ports} did not stay for {keep.for_}{moved}"))
    groups = {ports.group for carrier in desk.carriers for ports in (carrier.send, carrier.returns)}
    groups |= {name for socket in desk.connections for name in (socket.out, socket.back)}
    runs = {item.port for item in show.inputs} | {output.port for output in show.outputs}
    for ports in sorted(runs):
        if ports.group in groups and not any(ports.overlaps(keep.ports) for keep in show.keep):
            found.append(Holding(ports, f"{', '.join(_on(show, ports))} moved off {ports}"))
    return tuple(found)


def _on(show: Show, ports: Ports) -> list[str]:
    """Return the inputs and outputs on any of these ports."""
    names = [item.name for item in show.inputs if item.port.overlaps(ports)]
    return sorted([*names, *(output.name for output in show.outputs if output.port.overlaps(ports))])


def _common(one: Ports, other: Ports) -> Ports | None:
    return Ports(one.group, max(one.first, other.first), min(one.last, other.last)) if one.overlaps(other) else None


def _taken(show: Show, freed: Ports | None) -> tuple[tuple[Ports, str], ...]:
    in_use = [(item.port, item.name) for item in show.inputs]
    in_use += [(output.port, output.name) for output in show.outputs]
    still = [(ports, name) for ports, name in in_use if freed is None or not ports.overlaps(freed)]
    keeps = [(ports, keep.for_) for keep in show.keep for ports in _without(keep.ports, freed)]
    return tuple(sorted([*keeps, *still]))


def _without(ports: Ports, freed: Ports | None) -> list[Ports]:
    """Return what is left of a run when some of it is freed."""
    if freed is None or not ports.overlaps(freed):
        return [ports]
    left = [(ports.first, freed.first - 1), (freed.last + 1, ports.last)]
    return [Ports(ports.group, first, last) for first, last in left if first <= last]


def current_choice(block: Block, show: Show, desk: Desk) -> int:
    """Return the choice a block has as the show finds it: what its inputs need, else as delivered."""
    needs = [index for index in chosen_source(block, show, desk) if index >= 0]
    return min(needs, default=0)


def _may_change(block: Block, current: int, choice: Choice, taken: Mapping[str, list[Ports]]) -> bool:
    if block.feeds.group == "channel":
        return True  # only the way in-line asks for it, and looks at the inputs by itself
    was = block.choices[current]
    changed = [block.covered(each) for each in (choice, was) if isinstance(each.from_, Ports)]
    return not any(ports.overlaps(used) for ports in changed for used in taken.get(ports.group, ()))


def _leg(
    desk: Desk,
    allowed: tuple[tuple[int, ...], ...],
    by_groups: Brought,
    held: frozenset[Port],
    unit: Unit,
    row: int,
    send: Port,
    returns: Port,
) -> Leg | None:
    if send in held or returns in held:
        return None
    if unit.out is not None and unit.back is not None:
        if not (_within(send, unit.out) and _within(returns, unit.back)):
            return None
        if send.number - unit.out.first != returns.number - unit.back.first:
            return None
        out, back = at_jack(desk, allowed, send), at_jack(desk, allowed, returns)
        return Leg(row, send, returns, unit.name, out, back) if out and back else None
    socket = desk.connection(unit.connects or "")
    if socket is None:
        return None
    out = reaches_out(by_groups, send, socket.out, held)
    back = returns_from(by_groups, returns, socket.back, held) if out else ()
    return Leg(row, send, returns, unit.name, out, back) if out and back else None


def each_port(taken: Iterable[tuple[Ports, str]]) -> frozenset[Port]:
    """Return every port of some runs."""
    return frozenset(port for ports, _ in taken for port in ports.each)


def at_jack(desk: Desk, allowed: tuple[tuple[int, ...], ...], port: Port) -> tuple[Reach, ...]:
    """Return the settings under which a port still belongs to its jack; one without a setting if it always does."""
    for number, block in enumerate(desk.blocks):
        if _within(port, block.feeds):
            return tuple(
                Reach(port, (number, index))
                for index in allowed[number]
                if block.choices[index].from_ == "jacks" or not _within(port, block.covered(block.choices[index]))
            )
    return (Reach(port, None),)


Brought = dict[tuple[str, str], list[tuple[Setting, Ports, Ports]]]
"""What block choices bring: by groups (from, to) the setting, the ports it takes and the ports it feeds."""


def brought(desk: Desk, allowed: tuple[tuple[int, ...], ...]) -> Brought:
    """Return what the choices that blocks may take bring from ports to ports."""
    found: defaultdict[tuple[str, str], list[tuple[Setting, Ports, Ports]]] = defaultdict(list)
    for number, block in enumerate(desk.blocks):
        for index in allowed[number]:
            choice = block.choices[index]
            if isinstance(choice.from_, Ports):
                covered = block.covered(choice)
                found[choice.from_.group, covered.group].append(((number, index), choice.from_, covered))
    return dict(found)


def reaches_out(by_groups: Brought, send: Port, socket: str, held: frozenset[Port]) -> tuple[Reach, ...]:
    """Return where a send port can appear on the socket's way out."""
    if send.group == socket:
        return (Reach(send, None),)
    found = []
    for setting, source, covered in by_groups.get((send.group, socket), ()):
        if source.first <= send.number <= source.last:
            port = Port(socket, covered.first + send.number - source.first)
            if port not in held:
                found.append(Reach(port, setting))
    return tuple(found)


def returns_from(by_groups: Brought, returns: Port, socket: str, held: frozenset[Port]) -> tuple[Reach, ...]:
    """Return which ports of the socket's way back can appear on a return port."""
    if returns.group == socket:
        return (Reach(returns, None),)
    found = []
    for setting, source, covered in by_groups.get((socket, returns.group), ()):
        if covered.first <= returns.number <= covered.last:
            port = Port(socket, source.first + returns.number - covered.first)
            if port not in held:
                found.append(Reach(port, setting))
    return tuple(found)


def _within(port: Port, ports: Ports) -> bool:
    return port.group == ports.group and ports.first <= port.number <= ports.last
