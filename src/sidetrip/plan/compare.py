"""Which arrivals are worth comparing: near enough to the loudest of their source, and not too many of them."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.graph.arrivals import Arrival, Arrivals, Times
from sidetrip.graph.linemap import LineMap
from sidetrip.model.show import Show
from sidetrip.plan.gap import MOVED_DB, MeetingClass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidetrip.plan.meeting import Meeting

    Ints = NDArray[np.intp]
    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]

DROP_DB = 25.0
EQUAL_DB = 1.0
MAX_WAYS = 24


@dataclass(frozen=True, slots=True)
class Compared:
    """How much was compared: `left_out` arrivals were too many beside `most` louder ones of their source and place.

    nearly: what is apart and was dropped as too quiet, but would not be if a level moved by MOVED_DB.
    """

    left_out: int
    most: int
    nearly: tuple[Meeting, ...] = ()


@dataclass(frozen=True, slots=True)
class Kept:
    """Arrivals of one source at one place by index, the level of its loudest, and how many were too many.

    quiet: further arrivals that were dropped, but by less than MOVED_DB.
    """

    indices: list[int]
    loudest_db: float | None
    cut: int
    quiet: tuple[int, ...] = ()


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
    near = [index for index in indices if not _far_below(arrivals.rows[index], loudest, DROP_DB)]
    lower = set(indices) - set(near)
    further = [i for i in indices if i in lower and not _far_below(arrivals.rows[i], loudest, DROP_DB + MOVED_DB)]
    if arrivals.rows[indices[0]].place.kind == "listener":
        near, every = _loudest_by_output(arrivals, near, times), _loudest_by_output(arrivals, near + further, times)
        further = [index for index in every if index in lower]
    if len(near) + len(further) <= MAX_WAYS:
        return Kept(sorted(near), loudest, 0, tuple(further))
    ranked = sorted(near, key=lambda index: (-_level(arrivals.rows[index]), float(times.low[index]), index))
    further = sorted(further, key=lambda index: (-_level(arrivals.rows[index]), float(times.low[index]), index))
    room = max(0, MAX_WAYS - len(near))
    return Kept(sorted(ranked[:MAX_WAYS]), loudest, max(0, len(near) - MAX_WAYS), tuple(sorted(further[:room])))


def _level(arrival: Arrival) -> float:
    return math.inf if arrival.level_db is None else arrival.level_db


def _far_below(arrival: Arrival, loudest: float | None, by_db: float) -> bool:
    return loudest is not None and arrival.level_db is not None and arrival.level_db < loudest - by_db


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


KINDS: tuple[MeetingClass, ...] = ("electrical", "two microphones", "two loudspeakers", "main and sub")


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of arrivals to judge, shape (pairs,): indices of both, class as index of KINDS, loudest of their source.

    crossover_hz: where main and sub part, nan elsewhere. loudest_db: nan where no level is known. quiet: pairs that
    are dropped unless a level moves. left_out: arrivals that were too many.
    """

    first: Ints
    second: Ints
    kind: Ints
    crossover_hz: Floats
    loudest_db: Floats
    quiet: Truths
    left_out: int

    def chosen(self, where: Truths | Ints) -> Pairs:
        """Return some of the pairs."""
        return Pairs(
            self.first[where],
            self.second[where],
            self.kind[where],
            self.crossover_hz[where],
            self.loudest_db[where],
            self.quiet[where],
            self.left_out,
        )


def crossover_of(show: Show, arrival: Arrival) -> float | None:
    """Return the crossover of the output an arrival came by, in Hz, None where it has none."""
    output = show.output(arrival.output) if arrival.output else None
    return output.crossover_hz if output else None


def find_pairs(show: Show, line_map: LineMap, arrivals: Arrivals, times: Times) -> Pairs:
    """Return every pair of arrivals that can meet, with its class. times: with all loops IN."""
    firsts: list[Ints] = []
    seconds: list[Ints] = []
    loudest: list[Floats] = []
    quiet_rows: set[int] = set()
    left_out = 0
    for indices in by_place_and_source(line_map, arrivals):
        if len(indices) < 2:
            continue
        kept = keep(arrivals, indices, times)
        left_out += kept.cut
        quiet_rows.update(kept.quiet)
        rows = np.array(sorted((*kept.indices, *kept.quiet)), dtype=np.intp)
        one, two = np.triu_indices(len(rows), 1)
        firsts.append(rows[one])
        seconds.append(rows[two])
        loudest.append(np.full(len(one), np.nan if kept.loudest_db is None else kept.loudest_db))
    if not firsts:
        none = np.zeros(0, dtype=np.intp)
        return Pairs(none, none, none, np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool), left_out)
    first, second = np.concatenate(firsts), np.concatenate(seconds)
    kind, crossover = _classes(show, arrivals, first, second)
    quiet = np.zeros(len(arrivals.rows), dtype=bool)
    quiet[list(quiet_rows)] = True
    pairs = Pairs(first, second, kind, crossover, np.concatenate(loudest), quiet[first] | quiet[second], left_out)
    return pairs.chosen(kind >= 0)


def numbered(values: Iterable[object]) -> Ints:
    """Return a number for each value, the same for equal ones; -1 for None."""
    known: dict[object, int] = {}
    return np.array([-1 if own is None else known.setdefault(own, len(known)) for own in values], dtype=np.intp)


def _classes(show: Show, arrivals: Arrivals, first: Ints, second: Ints) -> tuple[Ints, Floats]:
    """Return the class of each pair, -1 where another pair says the same, and the crossover between its outputs."""
    rows = arrivals.rows
    heard = np.array([row.place.kind == "listener" for row in rows], dtype=bool)
    microphone = numbered(row.microphone for row in rows)
    output = numbered(row.output for row in rows)
    by_name = {own.name: own.crossover_hz for own in show.outputs}
    crossovers = [by_name.get(row.output or "") for row in rows]
    crossover = np.array([np.nan if own is None else own for own in crossovers], dtype=float)
    kind = np.full(len(first), -1, dtype=np.intp)
    inside = ~heard[first] & (microphone[first] >= 0) & (microphone[second] >= 0)
    same = microphone[first] == microphone[second]  # own voice against own ears is judged by its delay, not as a comb
    kind[inside & same] = KINDS.index("electrical")
    kind[inside & ~same] = KINDS.index("two microphones")
    outside = heard[first] & (output[first] != output[second])  # else they met already at that output
    one, other = crossover[first], crossover[second]
    has, have = np.isfinite(one), np.isfinite(other)
    parted = outside & (has != have)
    kind[outside & (has == have)] = KINDS.index("two loudspeakers")
    # a sub hardly carries what air alone brings
    kind[parted & (output[first] >= 0) & (output[second] >= 0)] = KINDS.index("main and sub")
    between = np.where(kind == KINDS.index("main and sub"), np.where(has, one, other), np.nan)
    return kind, between
