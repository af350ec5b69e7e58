"""Every two arrivals that alignment can bring together: what shifts them, and within which shifts they are together.

A pair is what `meetings` judges, before causes are merged: the same classes, limits and verdicts. Times are in frames
here, because desks dial in frames.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.graph.arrivals import Arrival, Arrivals, State
from sidetrip.graph.linemap import LineMap, Node
from sidetrip.model.show import Show
from sidetrip.plan.alignment_lines import Passing, Place
from sidetrip.plan.causes import cause_numbers
from sidetrip.plan.comb import ripple
from sidetrip.plan.compare import KINDS, Pairs
from sidetrip.plan.compare import find_pairs as compared_pairs
from sidetrip.plan.gap import FUSED_FROM_S, FUSED_S, LOUDSPEAKERS_S, Gap, MeetingClass, Verdict
from sidetrip.plan.meeting import SLIGHT_DB
from sidetrip.plan.spreads import Spreads
from sidetrip.plan.verdicts import ELECTRICAL_FRAMES, judge, tails_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.intp]
    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]

EXACT_FRAMES = 1e-3
"""A time whose bounds are no further apart is one figure; a thousandth of a frame moves no dip that can be heard."""

CLOSE_FRAMES = 1e-6

DEEP_DB = ripple(-6).ripple_db
"""Ripple of two ways within 6 dB, which is hollow, and within 15 dB, which is worth a warning. Less is told, not cured.

Common practice, no source."""

MAX_PAIRS = 4000
"""More pairs than this are not shifted against each other; the deepest are kept."""

Ends = tuple[Node, Node]
"""An edge of the line map by its ends."""

Interval = tuple[float, float]
Zone = tuple[Interval, Interval]
"""Shifts in frames that bring a pair together, and those among them that leave nothing to be wished for."""


@dataclass(frozen=True, slots=True)
class Watched:
    """A state that counts, and whether the show runs in it: all IN and every cue. The others are emergencies."""

    state: State
    runs: bool


@dataclass(frozen=True, slots=True)
class Between:
    """A pair in one state, in frames: second minus first, and how much of that is not air before a microphone."""

    low: float
    high: float
    least: float
    most: float
    alone: bool = False

    @property
    def exact(self) -> bool:
        """Tell whether it is one figure."""
        return self.high - self.low <= EXACT_FRAMES


@dataclass(frozen=True, slots=True)
class Pair:
    """Two arrivals of one source at one place.

    sources, places: of all that meet like this. limit: frames within which they are together. ripple_db: None where a
    level is unknown. lines, edges: how often the second passes each delay line, and each edge where a move could take
    effect, more than the first. states: one entry for each watched state. cause: a number that pairs of one meeting
    share. levels: whether both levels are known. harmless: whether one is only a tail, which combs with nothing.
    """

    kind: MeetingClass
    first: Arrival
    second: Arrival
    sources: tuple[str, ...]
    places: tuple[str, ...]
    limit: float
    ripple_db: float | None
    lines: Mapping[Place, int]
    edges: Mapping[Ends, int]
    states: tuple[Between, ...] = field(repr=False)
    cause: int = -1
    levels: bool = True
    harmless: bool = False

    @property
    def cancels(self) -> bool:
        """Tell whether one is upside down: then no delay cures it."""
        return self.kind == "electrical" and self.first.inverted != self.second.inverted

    @property
    def grade(self) -> int:
        """How deep the dips are: 2 hollow, or unknown; 1 worth a warning; 0 slight."""
        if self.ripple_db is None or self.ripple_db >= DEEP_DB - CLOSE_FRAMES:
            return 2
        return 1 if self.ripple_db >= SLIGHT_DB - CLOSE_FRAMES else 0

    @property
    def loops(self) -> tuple[str, ...]:
        """The loops that only one of the two passes."""
        return tuple(sorted(set(self.first.loops) ^ set(self.second.loops)))

    def zones(self, number: int, rate_hz: int) -> tuple[Zone, ...]:
        """Return the shifts of the second against the first, in frames, that bring them together in a state."""
        own = self.states[number]
        if own.alone or self.cancels or self.harmless or not (math.isfinite(own.low) and math.isfinite(own.high)):
            return ()
        limit = self.limit * (1 + 1e-9)
        middle = -(own.least + own.most) / 2
        found: list[Zone] = [((-limit - own.least, limit - own.most), (middle, middle))]
        if self.kind == "two loudspeakers":
            start, end = FUSED_FROM_S * rate_hz, FUSED_S * rate_hz * (1 + 1e-9)
            for zone in ((start - own.least, end - own.most), (-end - own.least, -start - own.most)):
                found.append((zone, zone))
        if self.kind == "two microphones":
            air = own.low - own.least, own.high - own.most
            if min(air) > 0:
                zone, best = (-own.low, min(air) + limit - own.high), (-own.low, -own.most)
                found.append((zone, best))
            elif max(air) < 0:
                zone, best = (max(air) - limit - own.low, -own.high), (-own.least, -own.high)
                found.append((zone, best))
        return tuple(zone for zone in found if zone[0][0] <= zone[0][1])

    def gap(self, number: int, shift: float, rate_hz: int) -> Gap:
        """Return the spread in a state once the second is so many frames later against the first."""
        own = self.states[number]
        if own.alone:
            return Gap(0.0, 0.0, "alone")
        low, high = (own.low + shift) / rate_hz, (own.high + shift) / rate_hz
        if not (math.isfinite(low) and math.isfinite(high)):
            return Gap(low, high, "cannot tell")
        if self.harmless:
            return Gap(low, high, "together")
        apart: Verdict = "apart" if self.levels else "cannot tell"
        if self.cancels:
            return Gap(low, high, apart)
        zones = self.zones(number, rate_hz)
        if any(start - CLOSE_FRAMES <= shift <= end + CLOSE_FRAMES for (start, end), _ in zones):
            return Gap(low, high, "together")
        return Gap(low, high, "cannot tell" if self._could_be(own, shift, rate_hz) else apart)

    def verdict(self, number: int, rate_hz: int) -> Verdict:
        """Return what a pair is in a state as the show is."""
        return self.gap(number, 0.0, rate_hz).verdict

    def _could_be(self, own: Between, shift: float, rate_hz: int) -> bool:
        """Tell whether some figure within the ranges would be together."""
        least, most = own.least + shift, own.most + shift
        near = 0.0 if least <= 0 <= most else min(abs(least), abs(most))
        far = max(abs(least), abs(most))
        if near <= self.limit * (1 + 1e-9):
            return True
        fused = self.kind == "two loudspeakers"
        return fused and near <= FUSED_S * rate_hz * (1 + 1e-9) and far >= FUSED_FROM_S * rate_hz


def watched_states(states: tuple[State, ...], loops: tuple[str, ...]) -> tuple[Watched, ...]:
    """Return the states that count, all IN first and all OUT second. A dead unit shifts nothing: it silences."""
    found = [Watched(states[0], True), Watched(State("all OUT", "all out", out=frozenset(loops)), False)]
    seen = {own.state.out for own in found}
    for state in sorted(states[1:], key=lambda own: (own.kind != "cue", own.name)):
        if state.kind not in ("unit dead", "taken over", "all out", "all in") and state.out not in seen:
            seen.add(state.out)
            found.append(Watched(state, state.kind == "cue"))
    return tuple(found)


def find_pairs(
    show: Show,
    passing: Passing,
    line_map: LineMap,
    arrivals: Arrivals,
    watched: tuple[Watched, ...],
    edges: frozenset[Ends] = frozenset(),
) -> tuple[tuple[Pair, ...], int]:
    """Return the pairs that `meetings` judges, the deepest first, and how many were too many.

    Pairs that are shifted alike, and are as far apart in every state, are one. edges: edges of the line map beside the
    delay lines that tell pairs apart, because a move takes effect there.
    """
    states = tuple(own.state for own in watched)
    found = compared_pairs(show, line_map, arrivals, arrivals.times(states[0]))
    found = found.chosen(~found.quiet)
    if not len(found.first):
        return (), 0
    tails = tails_of(show, arrivals)
    judged = judge(line_map, arrivals, found, states, show.sample_rate, tails)
    causes = cause_numbers(show, arrivals, found, judged)
    rows = np.unique(np.concatenate([found.first, found.second]))
    spreads = Spreads(arrivals, line_map.loops, [int(row) for row in rows])
    base = spreads.base(found.first, found.second)
    bounds = [spreads.in_state(base, found.first, found.second, state) for state in states]
    keys, features = _features(passing, arrivals, rows, edges)
    differ = features[found.second] - features[found.first]
    harmless = _harmless(line_map, arrivals, found, tails)
    depth = _depths(arrivals, found)
    silent = np.stack([arrivals.silent(state) for state in states])
    alone = silent[:, found.first] | silent[:, found.second]
    frames = np.stack([(own.low, own.high, own.own_low, own.own_high) for own in bounds]) * show.sample_rate
    times = frames[:, :3].reshape(-1, len(found.first))
    with np.errstate(invalid="ignore"):
        table = np.vstack([np.where(np.isfinite(times), np.round(times * 1e4), 9e15), np.round(depth * 1e6), alone])
    table = np.vstack([np.where(np.isfinite(table), table, 9e15), causes, harmless, differ.T])
    kept, number = _alike(table)
    order = sorted(range(len(kept)), key=lambda own: (-_rank(float(depth[kept[own]])), kept[own]))
    members = _Members(arrivals, found, number)
    each = [kept[own] for own in order[:MAX_PAIRS]]
    frames, alone = np.round(frames[:, :, each], 6).transpose(2, 0, 1) + 0.0, alone[:, each].T
    made = _Made(show, arrivals, found, frames, alone, keys, differ, causes, harmless, depth)
    pairs = [made.pair(place, index, *members(order[place])) for place, index in enumerate(each)]
    return tuple(pairs), max(0, len(order) - MAX_PAIRS)


def _alike(table: Floats) -> tuple[list[int], Ints]:
    """Return the first of each column that differs from those before it, and for each column which of these it is."""
    columns = np.ascontiguousarray(table.T + 0.0)  # a minus nothing is nothing
    seen: dict[bytes, int] = {}
    number = [seen.setdefault(column.tobytes(), len(seen)) for column in columns]
    _, kept = np.unique(number, return_index=True)
    return [int(own) for own in kept], np.array(number, dtype=np.intp)


@dataclass(frozen=True, slots=True)
class _Made:
    """All that is known of the pairs, as arrays, on the way to results. keys: what the columns of `differ` count.

    frames: low and high, of all and of what is not air, shape (results, states, 4); alone: shape (results, states).
    kept: what is alike is one object.
    """

    show: Show
    arrivals: Arrivals
    found: Pairs
    frames: Floats
    alone: Truths
    keys: list[tuple[Place | None, Ends | None]]
    differ: Ints
    causes: Ints
    harmless: Truths
    depth: Floats
    kept: dict[tuple[float, float, float, float, bool], Between] = field(default_factory=dict)

    def pair(self, place: int, index: int, sources: tuple[str, ...], places: tuple[str, ...]) -> Pair:
        """Return one pair. place: among the results; index: in the arrays of what was found."""
        first, second = (self.arrivals.rows[int(own[index])] for own in (self.found.first, self.found.second))
        kind, rate = KINDS[int(self.found.kind[index])], self.show.sample_rate
        limit = LOUDSPEAKERS_S * rate
        if kind in ("electrical", "two microphones"):
            limit = ELECTRICAL_FRAMES
        elif kind == "main and sub":
            limit = rate / (8 * float(self.found.crossover_hz[index]))
        ends = []
        states = zip(self.frames[place].tolist(), self.alone[place].tolist(), strict=True)
        for (low, high, least, most), alone in states:
            each = (low, high, least, most, alone) if kind == "two microphones" else (low, high, low, high, alone)
            if each not in self.kept:
                self.kept[each] = Between(*each)
            ends.append(self.kept[each])
        counts = [(key, own) for key, own in zip(self.keys, self.differ[index].tolist(), strict=True) if own]
        lines = {place: own for (place, _), own in counts if place is not None}
        edges = {ends: own for (_, ends), own in counts if ends is not None}
        depth = None if math.isnan(self.depth[index]) else float(self.depth[index])
        levels = first.level_db is not None and second.level_db is not None
        cause, harmless = int(self.causes[index]), bool(self.harmless[index])
        given = kind, first, second, sources, places, limit, depth, lines, edges, tuple(ends)
        return Pair(*given, cause, levels, harmless)


class _Members:
    """Sources and places of all pairs that are one."""

    def __init__(self, arrivals: Arrivals, found: Pairs, number: Ints) -> None:
        self._rows, self._first = arrivals.rows, found.first
        order = np.argsort(number, kind="stable")
        starts = np.flatnonzero(np.concatenate([[True], number[order][1:] != number[order][:-1]]))
        self._runs = np.split(order, starts[1:])

    def __call__(self, own: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
        rows = [self._rows[int(self._first[pair])] for pair in self._runs[own]]
        return tuple(sorted({row.source for row in rows})), tuple(sorted({row.place.name for row in rows}))


def _features(
    passing: Passing, arrivals: Arrivals, rows: Ints, edges: frozenset[Ends]
) -> tuple[list[tuple[Place | None, Ends | None]], Ints]:
    """Return delay lines and edges, and how often each arrival passes each, shape (arrivals, both)."""
    places, ends = dict[Place, list[int]](), dict[Ends, list[int]]()
    for row in rows.tolist():
        for edge in arrivals.rows[row].edges:
            place = passing.place(edge)
            if place is not None:
                places.setdefault(place, []).append(row)
            elif (edge.start, edge.end) in edges:
                ends.setdefault((edge.start, edge.end), []).append(row)
    keys: list[tuple[Place | None, Ends | None]] = [(place, None) for place in sorted(places)]
    keys += [(None, own) for own in sorted(ends)]
    features = np.zeros((len(arrivals.rows), len(keys)), dtype=np.intp)
    for column, passed in enumerate([*(places[own] for own in sorted(places)), *(ends[own] for own in sorted(ends))]):
        np.add.at(features[:, column], passed, 1)
    return keys, features


def _depths(arrivals: Arrivals, found: Pairs) -> Floats:
    """Return the ripple that the quieter leaves beside the loudest of its source, in dB; nan where unknown."""
    levels = np.array([np.nan if row.level_db is None else row.level_db for row in arrivals.rows], dtype=float)
    one, other = levels[found.first], levels[found.second]
    below = np.minimum(one, other) - np.fmax(np.maximum(one, other), found.loudest_db)
    gain = 10 ** (below / 20)
    with np.errstate(divide="ignore"):
        return np.asarray(20 * np.log10((1 + gain) / (1 - gain)), dtype=float)


def _harmless(line_map: LineMap, arrivals: Arrivals, found: Pairs, tails: Truths) -> Truths:
    """Tell which pairs differ by a tail without the sound itself, which has no fixed phase and combs with nothing."""
    tailing = {time.loop for time in line_map.loops if time.tail}
    passes = arrivals.passes[:, [loop in tailing for loop in arrivals.loops]] > 0
    told = (tails[found.first] != tails[found.second]).any(axis=1)
    return np.asarray(told | (passes[found.first] != passes[found.second]).any(axis=1), dtype=bool)


def _rank(depth: float) -> float:
    return math.inf if math.isnan(depth) else depth
