"""Loops as the unit that stands in carries them: its channels, its return ports, and what is changed to bring it in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.allocation import Choice, Options
from sidetrip.plan.invariants_words import about
from sidetrip.plan.rows import port_rows
from sidetrip.plan.stand_in import Stand
from sidetrip.plan.ways import Ground, Leg, Reach, Setting, each_port, other_source

OwnPlaces = dict[tuple[Stand, Ports], tuple[Leg, ...]]
"""By unit that stands in and by the return ports of a loop: the legs on which that unit takes it over."""


@dataclass(frozen=True, slots=True)
class TakeOver:
    """One loop and how another unit carries it.

    by: the same loop on the unit that stands in, with the ports it has then. block, becomes: for the switch by block
    the block that is turned and its other source, as in the desk file; empty otherwise.
    """

    stand: Stand
    loop: PlacedLoop
    by: PlacedLoop
    block: str = ""
    becomes: str = ""


def take_overs(
    show: Show,
    desk: Desk,
    ground: Ground,
    options: Options,
    choice: Choice,
    loops: tuple[PlacedLoop, ...],
    own_places: OwnPlaces,
) -> tuple[TakeOver, ...]:
    """Return how every loop is taken over from a unit that another stands in for, in the order of the loops."""
    legs = {
        (leg.unit, leg.send, leg.returns): leg for by_unit in port_rows(ground).values() for leg in by_unit.values()
    }
    held = each_port(ground.taken)
    found: list[TakeOver] = []
    for stand in options.stands:
        unit = show.unit(stand.by)
        socket = desk.connection(unit.connects or "") if unit is not None else None
        for loop in loops if socket is not None else ():
            if loop.unit != stand.unit:
                continue
            if loop.way != "insert":
                found.append(TakeOver(stand, loop, replace(loop, unit=stand.by)))
                continue
            ends = zip(loop.send.each, loop.returns.each, strict=True)
            own = [legs[stand.unit, send, returns] for send, returns in ends]
            heard = _run([_set(leg.mirror, choice.settings).port for leg in own]) if own[0].mirror else loop.unit_in
            by = replace(loop, unit=stand.by, unit_in=heard)
            block = becomes = ""
            if stand.switch == "by strip":
                place = own_places[stand, loop.returns]
                back = _run([_set(leg.back, choice.settings).port for leg in place])
                by = replace(by, returns=_run([leg.returns for leg in place]), unit_out=back)
                if not desk.returns_alone:
                    out = _run([_set(leg.out, choice.settings).port for leg in place])
                    by = replace(by, send=_run([leg.send for leg in place]), unit_in=out)
            elif stand.switch == "by block":
                assert socket is not None
                turns = [
                    other_source(desk, leg.returns, _set(leg.back, choice.settings), socket.back, held) for leg in own
                ]
                known = [turn for turn in turns if turn is not None]
                assert len(known) == len(own), "a leg without another source was left out by the survey"
                number, index = known[0][0]
                source = desk.blocks[number].choices[index]
                block = desk.blocks[number].name
                becomes = str(source.from_) + (f" on {source.covers}" if source.covers else "")
                by = replace(by, unit_out=_run([port for _, port in known]))
            found.append(TakeOver(stand, loop, by, block, becomes))
    return tuple(found)


def _set(reaches: tuple[Reach, ...], settings: tuple[Setting, ...]) -> Reach:
    return next(reach for reach in reaches if reach.setting is None or reach.setting in settings)


def _run(ports: list[Port]) -> Ports:
    return Ports(ports[0].group, ports[0].number, ports[-1].number)


def with_stand_in(loops: Iterable[PlacedLoop], taken: Iterable[TakeOver], stand: Stand) -> tuple[PlacedLoop, ...]:
    """Return the loops once a unit has taken over."""
    by = {own.loop.name: own.by for own in taken if own.stand == stand}
    return tuple(by.get(loop.name, loop) for loop in loops)


def check_take_overs(show: Show, loops: tuple[PlacedLoop, ...], taken: tuple[TakeOver, ...]) -> Iterator[Finding]:
    """Find ports on which a unit that stands in would meet another writer, once in or while it waits.

    Does not trust the allocation: it looks at the loops themselves. The loop that it takes over is no other writer.
    """
    for own in taken:
        others = [(loop.name, loop) for loop in loops if loop.name != own.loop.name]
        others += [(f"{two.by.unit} for {two.loop.name}", two.by) for two in taken if two is not own]
        for name, loop in others:
            if not loop.shares_time(own.loop):
                continue
            for ports, their in ((own.by.returns, loop.returns), (own.by.unit_out, loop.unit_out)):
                if ports.overlaps(their):
                    yield _two_writers(show, own, ports, f"loop {name}")
        if own.stand.switch == "by strip" and own.by.returns.overlaps(own.loop.returns):
            yield _two_writers(show, own, own.by.returns, f"'{own.loop.unit}' for the same strip")
        for item in show.inputs:
            if own.by.way == "insert" and (item.port.overlaps(own.by.returns) or item.port.overlaps(own.by.unit_out)):
                yield _two_writers(show, own, item.port, f"'{item.name}'")
        for keep in show.keep:
            if keep.ports.overlaps(own.by.returns) or keep.ports.overlaps(own.by.unit_out):
                yield _two_writers(show, own, keep.ports, keep.for_)


def _two_writers(show: Show, own: TakeOver, ports: Ports, other: str) -> Finding:
    values = f"{ports}: '{own.by.unit}' for {own.loop.name}, and {other}"
    what = "A unit that stands in would come back on ports that another has"
    return about(show, "port-two-writers", own.loop.name, what, values, "Give it ports of its own, or leave it out")


__all__ = ["OwnPlaces", "TakeOver", "check_take_overs", "take_overs", "with_stand_in"]
