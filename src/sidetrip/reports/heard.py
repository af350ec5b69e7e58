"""The loudest arrival of every source at every place, IN and OUT, and which of them can share a row."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

from sidetrip.graph.arrivals import Arrival, State, standing_of
from sidetrip.model.figure import Standing
from sidetrip.plan.planner import Plan

_PLACES = ("output", "listener", "ear")


@dataclass(frozen=True, slots=True)
class Heard:
    """A source at a place by its loudest way. Times are bounds in seconds, the upper one infinite where unknown."""

    source: str
    loops: tuple[str, ...]
    in_s: tuple[float, float]
    out_s: tuple[float, float]
    standing: Standing


def heard_at(plan: Plan) -> dict[tuple[str, str], list[Heard]]:
    """Return by (place, kind) one entry a source, earliest first; outputs, then listeners, then ears.

    Of ways that are equally loud the latest counts, and an unknown level counts as loud. A performer's own voice
    through the head is left out: it is there before everything.
    """
    arrivals = plan.arrivals
    inside = arrivals.times(State("all IN", "all in"))
    outside = arrivals.times(State("all OUT", "all out", out=frozenset(arrivals.loops)))
    best: dict[tuple[str, str, str], tuple[tuple[float, float], int]] = {}
    for index, row in enumerate(arrivals.rows):
        if row.place.kind == "ear" and row.microphone is None:
            continue
        key = (row.place.kind, row.place.name, row.source)
        rank = (math.inf if row.level_db is None else row.level_db, float(inside.high[index]))
        if key not in best or best[key][0] < rank:
            best[key] = (rank, index)
    found: defaultdict[tuple[str, str], list[Heard]] = defaultdict(list)
    for (kind, name, source), (_, index) in sorted(best.items(), key=lambda item: _order(item[0])):
        row = arrivals.rows[index]
        times = [(float(state.low[index]), float(state.high[index])) for state in (inside, outside)]
        found[name, kind].append(Heard(source, row.loops, times[0], times[1], _standing(plan, row)))
    return {place: sorted(own, key=lambda one: (one.in_s, one.source)) for place, own in found.items()}


def together(own: list[Heard]) -> list[list[Heard]]:
    """Put sources that pass the same loops, with the same standing, into one row; earliest row first."""
    groups: defaultdict[tuple[object, ...], list[Heard]] = defaultdict(list)
    for one in own:
        known = math.isfinite(one.in_s[1]), math.isfinite(one.out_s[1])
        groups[one.loops, one.standing, known].append(one)
    return list(groups.values())


def _order(key: tuple[str, str, str]) -> tuple[int, str, str]:
    kind, name, source = key
    return (_PLACES.index(kind), name, source)


def _standing(plan: Plan, row: Arrival) -> Standing:
    return standing_of(plan.line_map, row)
