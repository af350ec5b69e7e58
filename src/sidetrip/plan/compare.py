"""Which arrivals are worth comparing: near enough to the loudest of their source, and not too many of them."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from sidetrip.graph.arrivals import Arrival, Arrivals, Times
from sidetrip.graph.linemap import LineMap

DROP_DB = 25.0
EQUAL_DB = 1.0
MAX_WAYS = 24


@dataclass(frozen=True, slots=True)
class Compared:
    """How much was compared: `left_out` arrivals were too many beside `most` louder ones of their source and place."""

    left_out: int
    most: int


@dataclass(frozen=True, slots=True)
class Kept:
    """Arrivals of one source at one place by index, the level of its loudest, and how many were too many."""

    indices: list[int]
    loudest_db: float | None
    cut: int


def by_place_and_source(line_map: LineMap, arrivals: Arrivals) -> Iterable[list[int]]:
    """Group arrivals that can meet. An output that only feeds ears is left to those ears."""
    ears = {place.node for place in line_map.places if place.kind == "ear"}
    skipped = {edge.start.name for edge in line_map.edges if edge.start.kind == "sounding" and edge.end in ears}
    rows: defaultdict[tuple[str, str, str], list[int]] = defaultdict(list)
    for index, row in enumerate(arrivals.rows):
        if not (row.place.kind == "output" and row.place.name in skipped):
            rows[row.place.kind, row.place.name, row.source].append(index)
    return rows.values()


def keep(arrivals: Arrivals, indices: list[int], times: Times) -> Kept:
    """Keep the arrivals worth comparing: near enough to the loudest, and not more than MAX_WAYS of them."""
    levels = [level for index in indices if (level := arrivals.rows[index].level_db) is not None]
    loudest = max(levels, default=None)
    near = [index for index in indices if not _far_below(arrivals.rows[index], loudest)]
    if arrivals.rows[indices[0]].place.kind == "listener":
        near = _loudest_by_output(arrivals, near, times)
    ranked = sorted(near, key=lambda index: (-_level(arrivals.rows[index]), float(times.low[index]), index))
    return Kept(sorted(ranked[:MAX_WAYS]), loudest, max(0, len(near) - MAX_WAYS))


def _level(arrival: Arrival) -> float:
    return math.inf if arrival.level_db is None else arrival.level_db


def _far_below(arrival: Arrival, loudest: float | None) -> bool:
    return loudest is not None and arrival.level_db is not None and arrival.level_db < loudest - DROP_DB


def _loudest_by_output(arrivals: Arrivals, indices: list[int], times: Times) -> list[int]:
    """Keep, for each loudspeaker and for the air, the loudest arrival; of equals the earliest and the latest.

    What shares a loudspeaker met before it, and names must not decide between equals.
    """
    by_output: defaultdict[str | None, list[int]] = defaultdict(list)
    for index in indices:
        by_output[arrivals.rows[index].output].append(index)
    kept: set[int] = set()
    for own in by_output.values():
        loudest = max(_level(arrivals.rows[index]) for index in own)
        equals = [index for index in own if _level(arrivals.rows[index]) >= loudest - EQUAL_DB]
        kept |= {min(equals, key=lambda i: float(times.low[i])), max(equals, key=lambda i: float(times.high[i]))}
    return sorted(kept)
