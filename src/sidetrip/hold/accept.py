"""Which buffers ears and picture accept: the plan's own loops, timed with another buffer or rate of one unit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.arrivals import Arrival, State, find_arrivals
from sidetrip.graph.build import build
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import UNKNOWN, Span
from sidetrip.hold.round_trip import Trip
from sidetrip.plan.ears import beyond, find_ear_delays, judged
from sidetrip.plan.pictures import PICTURE_LATE_S
from sidetrip.plan.planner import Plan
from sidetrip.units import seconds_from_ms

_ROUNDING_S = 1e-9


@dataclass(frozen=True, slots=True)
class Objection:
    """A limit that a buffer is over. of: whose. seconds: infinite where unknown. key: the limit in the show file."""

    kind: Literal["ears", "picture"]
    of: str
    what: str
    seconds: float
    limit_s: float
    key: str


@dataclass(frozen=True, slots=True)
class Reach:
    """Whether limits are about a unit at all: the mixes for ears, and the outputs with a picture, that it reaches."""

    ears: tuple[str, ...]
    pictures: tuple[str, ...]


def reach(plan: Plan, unit: str) -> Reach:
    """Return what of the show's limits a unit's loops touch."""
    rows = _through(plan.arrivals.rows, _loops(plan, unit))
    limited = plan.show.limits.ear_total_ms is not None or plan.show.limits.ear_added_ms is not None
    ears = {row.place.name for row in rows if row.place.kind == "ear"} if limited else set()
    seen = {output.name for output in plan.show.outputs if output.picture_delay_ms is not None}
    pictures = {row.place.name for row in rows if row.place.kind == "output"} & seen
    return Reach(tuple(sorted(ears)), tuple(sorted(pictures)))


def objections(plan: Plan, unit: str, trip: Trip) -> tuple[Objection, ...]:
    """Return the limits that are broken with a unit's round trip as given, all else as planned, worst first.

    A range is taken at its late end.
    """
    show = plan.show
    if trip.rate != show.sample_rate:
        show = show.model_copy(update={"sample_rate": trip.rate})
    known = trip.low_s is not None and trip.high_s is not None
    span = Span(trip.low_s or 0.0, trip.high_s or 0.0, "assumed") if known else UNKNOWN
    times = {one.name: UnitTime(span, "measured") if one.name == unit else one.time for one in plan.units}
    line_map = build(show, plan.desk, plan.allocation.loops, times)
    same = (plan.line_map, plan.arrivals) if trip.rate == plan.show.sample_rate else None
    arrivals = find_arrivals(line_map, same)
    mine = _loops(plan, unit)
    touched = {(row.place.name, row.source) for row in _through(arrivals.rows, mine) if row.place.kind == "ear"}
    found: list[Objection] = []
    limits = show.limits
    for delay in judged(show, find_ear_delays(show, line_map, arrivals, plan.states)):
        if (delay.mix, delay.source) not in touched or delay.added_s <= 0:
            continue
        what = f"{delay.source} in the ears of {delay.performer}"
        for seconds, limit_ms, words, key in (
            (delay.in_s, limits.ear_total_ms, "in all", "ear_total_ms"),
            (delay.added_s, limits.ear_added_ms, "added by loops", "ear_added_ms"),
        ):
            if limit_ms is not None and beyond(seconds, limit_ms):
                found.append(Objection("ears", delay.mix, f"{what}, {words}", seconds, seconds_from_ms(limit_ms), key))
    into = arrivals.times(State("all IN", "all in"))
    for output in show.outputs:
        picture = output.picture_delay_ms
        if picture is None or picture.low is None:
            continue
        rows = [
            number
            for number, row in enumerate(arrivals.rows)
            if row.place.kind == "output" and row.place.name == output.name and mine & set(row.loops)
        ]
        latest = max((float(into.high[number]) for number in rows), default=0.0)
        limit = seconds_from_ms(picture.low) + PICTURE_LATE_S
        if latest > limit + _ROUNDING_S:
            what = f"sound after its picture at {output.name}"
            found.append(Objection("picture", output.name, what, latest, limit, "picture_delay_ms"))
    return tuple(sorted(found, key=lambda one: (-_over(one), one.kind, one.what)))


def _over(one: Objection) -> float:
    return math.inf if math.isinf(one.seconds) else one.seconds / one.limit_s


def _loops(plan: Plan, unit: str) -> frozenset[str]:
    return frozenset(loop.name for loop in plan.allocation.loops if loop.unit == unit)


def _through(rows: tuple[Arrival, ...], loops: frozenset[str]) -> list[Arrival]:
    return [row for row in rows if loops & set(row.loops)]


__all__ = ["Objection", "Reach", "objections", "reach"]
