"""Units that stand in for others: who takes over whose loops, how, and what that needs of the desk.

By strip each loop has a place of its own for the unit that takes over; by block its return block has a second source;
by a box in the returns nothing more. Ways of the trade are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.model.outboard import Switch
from sidetrip.model.show import Show


@dataclass(frozen=True, slots=True)
class Stand:
    """One unit that can take over all loops of another. shared: both hang on one socket and read the same sends."""

    unit: str
    by: str
    switch: Switch
    shared: bool

    @property
    def places(self) -> str:
        """The name under which its own places are counted; no unit of a show can carry it."""
        return f"{self.unit}\n{self.by}"

    @property
    def anything(self) -> bool:
        """Tell whether loops of every way are taken over: only where one box changes the whole socket."""
        return self.switch == "by box" and self.shared


def stands_of(show: Show) -> tuple[Stand, ...]:
    """Return every unit that stands in for another, by the name of that other."""
    units = {unit.name: unit for unit in show.units}
    found = [
        Stand(
            unit.stands_in_for,
            unit.name,
            unit.switch or "by strip",
            unit.connects is not None and unit.connects == units[unit.stands_in_for].connects,
        )
        for unit in show.units
        if unit.stands_in_for is not None and unit.stands_in_for in units
    ]
    return tuple(sorted(found, key=lambda stand: (stand.unit, stand.by)))


def idle(show: Show) -> frozenset[str]:
    """Return the units that stand in and carry nothing of their own: no request names them."""
    named = {request.unit for request in show.requests}
    return frozenset(stand.by for stand in stands_of(show) if stand.by not in named)


def without_stand(show: Show, stand: Stand) -> Show:
    """Return the show in which a unit does not stand in; it is left out where nothing else is asked of it."""
    gone = idle(show)
    units = tuple(
        unit.model_copy(update={"stands_in_for": None, "switch": None, "switch_seconds": None})
        if unit.name == stand.by
        else unit
        for unit in show.units
        if unit.name != stand.by or unit.name not in gone
    )
    return show.model_copy(update={"units": units})


def without_stands(show: Show) -> Show:
    """Return the show in which no unit stands in for another."""
    for stand in stands_of(show):
        show = without_stand(show, stand)
    return show


def left_out(stand: Stand) -> str:
    """Say the change that leaves a unit out, in words that follow "if"."""
    return f"'{stand.by}' did not stand in for '{stand.unit}'"


def no_room(stand: Stand, legs: int) -> str:
    """Say why a strip cannot go out on a unit because another stands in for it."""
    what = f"'{stand.by}', which stands in for '{stand.unit}'"
    if stand.switch == "by strip":
        return f"{what}, needs {'an odd-even pair' if legs == 2 else 'a place'} of its own for it, and none is left"
    if stand.switch == "by block":
        return f"{what}, cannot take it over: no block that hears it has both units as its source"
    return f"{what}, cannot take it over: nothing brings its send to '{stand.by}' too"


def no_load(stand: Stand) -> str:
    """Say why a strip cannot go out because the unit that stands in would not carry its chain."""
    return f"'{stand.by}', which stands in for '{stand.unit}', has no load left for it"


__all__ = ["Stand", "idle", "left_out", "no_load", "no_room", "stands_of", "without_stand", "without_stands"]
