"""What a show says of units that stand in for others, held against itself: who, for whom, and what both hang on."""

from __future__ import annotations

from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.show import Show
from sidetrip.showfile.check_strips import unknown
from sidetrip.showfile.syntax import Path


def check_stand_in(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find units that can take over from nobody, and what would fail together with the unit they stand in for."""
    for index, unit in enumerate(show.units):
        path: Path = ("units", index)
        if unit.stands_in_for is None:
            for key in ("switch", "switch_seconds"):
                if getattr(unit, key) is not None:
                    what, remedy = f"'{key}' says nothing here", "Add 'stands_in_for: ...', or remove it"
                    yield Finding("value-wrong", f"units / {unit.name}", what, unit.name, remedy, (*path, key))
            continue
        first = show.unit(unit.stands_in_for)
        if first is None:
            names = [other.name for other in show.units if other.name != unit.name]
            here = (*path, "stands_in_for")
            yield unknown(here, f"units / {unit.name}", "unit", unit.stands_in_for, names)
            continue
        wrong = list(_wrong(show, unit, first, (*path, "stands_in_for")))
        yield from wrong or _together(show, desk, unit, first, path)


def stand_in_pair(show: Show, one: Unit, other: Unit) -> bool:
    """Tell whether one of two units stands in for the other, so that they may hang on one socket."""
    return other.name != one.name and (one.stands_in_for == other.name or other.stands_in_for == one.name)


def clock_through(show: Show, name: str, through: str) -> bool:
    """Tell whether the clock comes to a device through another one: that one leads, or it follows it step by step."""
    clock = show.clock
    if clock is None:
        return False
    seen: set[str] = set()
    while name not in seen and name != "itself":
        seen.add(name)
        if name == through and len(seen) > 1:
            return True
        device = clock.device(name)
        name = device.follows if device is not None else clock.leader
    return False


def _wrong(show: Show, unit: Unit, first: Unit, path: Path) -> Iterator[Finding]:
    """Find why a unit can take over nothing at all."""
    where = f"units / {unit.name}"
    values = f"'{unit.name}' for '{first.name}'"
    if first.name == unit.name:
        remedy = "Name the unit whose loops it takes over"
        yield Finding("stand-in-wrong", where, "A unit cannot stand in for itself", unit.name, remedy, path)
        return
    if _circle(show, unit):
        remedy = "Let one of them carry the loops, and the other stand in"
        yield Finding("stand-in-wrong", where, "Units stand in for each other in a circle", values, remedy, path)
    elif first.stands_in_for is not None:
        what = f"'{first.name}' stands in itself, for '{first.stands_in_for}'"
        remedy = f"Let it stand in for '{first.stands_in_for}', or leave one of them out: one failure is planned for"
        yield Finding("stand-in-wrong", where, what, values, remedy, path)
    others = sorted(other.name for other in show.units if other.stands_in_for == first.name)
    if others.index(unit.name) > 0:
        what = f"Two units stand in for '{first.name}'"
        remedy = "Keep one of them; one failure is planned for"
        yield Finding("stand-in-wrong", where, what, ", ".join(others), remedy, path)
    boxes = [own.name for own in (unit, first) if own.kind == "hardware"]
    if boxes:
        what = "Only a computer can stand in for a computer"
        remedy = "Remove it; a box is replaced by hand, with its loop OUT"
        yield Finding("stand-in-wrong", where, what, f"hardware: {', '.join(boxes)}", remedy, path)
    named = sorted(request.strip for request in show.requests if request.unit == unit.name)
    if named and unit.switch == "by block" and unit.connects == first.connects:
        what = "A block turned to it would change the loops that it carries itself"
        remedy = "Use 'switch: by strip', or let it carry no loops of its own"
        yield Finding("stand-in-wrong", where, what, ", ".join(named), remedy, path)


def _circle(show: Show, unit: Unit) -> bool:
    seen: set[str] = set()
    here: Unit | None = unit
    while here is not None and here.stands_in_for is not None:
        if here.name in seen:
            return here.name == unit.name
        seen.add(here.name)
        here = show.unit(here.stands_in_for)
    return False


def _together(show: Show, desk: Desk, unit: Unit, first: Unit, path: Path) -> Iterator[Finding]:
    """Find what takes both down at once, and what it carries beside."""
    where = f"units / {unit.name}"
    if unit.connects is not None and unit.connects == first.connects and desk.connection(unit.connects) is not None:
        what = f"'{unit.name}' hangs on the socket of '{first.name}': what kills the socket or its cable kills both"
        values = f"both on {unit.connects}"
        remedy = "Give it a socket of its own, or keep the key that takes all loops OUT at hand"
        yield Finding("stand-in-shares", where, what, values, remedy, (*path, "connects"))
    if clock_through(show, unit.name, first.name):
        what = f"'{unit.name}' has its clock from '{first.name}', and loses it when '{first.name}' dies"
        leader = show.clock.leader if show.clock is not None else ""
        remedy = "Let the desk lead the clock"
        yield Finding("stand-in-shares", where, what, f"clock leader: {leader}", remedy, ("clock", "leader"))
    named = sorted(request.strip for request in show.requests if request.unit == unit.name)
    if named:
        what = f"'{unit.name}' carries loops of its own beside those that it takes over, so that its load adds up"
        limit = "no load_limit" if unit.load_limit is None else f"load_limit {unit.load_limit:g}"
        remedy = "Let it carry nothing else, or soak it with all of these chains loaded"
        yield Finding("stand-in-busy", where, what, f"{', '.join(named)}; {limit}", remedy, path)


__all__ = ["check_stand_in", "clock_through", "stand_in_pair"]
