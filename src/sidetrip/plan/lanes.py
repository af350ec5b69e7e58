"""When what arrives at one place, source by source: every way part by part, and whether it is together with the rest.

The parts of a way are what the desk takes, what loops add while they are IN, and air. Beside the loudest way of its
source every other one is judged as meetings are.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sidetrip.graph.arrivals import Arrival, State
from sidetrip.plan.causes import route_words
from sidetrip.plan.comb import null_hz
from sidetrip.plan.compare import KINDS, find_pairs
from sidetrip.plan.gap import Verdict
from sidetrip.plan.meeting import WORSE
from sidetrip.plan.planner import Plan
from sidetrip.plan.verdicts import judge, tails_of
from sidetrip.units import ms_from_seconds

DROPPED_DB = 25.0
"""So far below the loudest of its source a way ripples less than 1 dB."""

MOST_WAYS = 5
_SMALL_S = 1e-7

PartKind = Literal["desk", "loop", "air"]


@dataclass(frozen=True, slots=True)
class LanePart:
    """One part of a way: seconds, the middle of a range; `label` names a loop."""

    kind: PartKind
    seconds: float
    label: str = ""


@dataclass(frozen=True, slots=True)
class Bar:
    """One way of a source to the place. in_s, out_s: when it arrives in the state, and with all loops OUT; None: not.

    known: whether every part is. words: its way. by: what it leaves the desk by, or air. verdict: the worst beside the
    louder ways of its source; says: what that does, empty where it does nothing.
    """

    words: str
    by: str
    parts: tuple[LanePart, ...]
    in_s: float
    out_s: float | None
    known: bool
    level_db: float | None
    verdict: Verdict
    says: str


@dataclass(frozen=True, slots=True)
class Lane:
    """A source. bars: its ways, the loudest first. dropped: how many more there are, too soft to matter or too many."""

    source: str
    bars: tuple[Bar, ...]
    dropped: int


@dataclass(frozen=True, slots=True)
class Lanes:
    """All sources at a place in a state. most_s: when most of them arrive, None without any."""

    place: str
    state: str
    lanes: tuple[Lane, ...]
    most_s: float | None


def lanes_at(plan: Plan, place: str, state: State) -> Lanes:
    """Return what arrives at a place in a state; sources that reach it by no way are left out."""
    times = plan.arrivals.times(state)
    dry = plan.arrivals.times(State("all OUT", "all out", out=frozenset(plan.arrivals.loops)))
    own: defaultdict[str, list[int]] = defaultdict(list)
    for index, row in enumerate(plan.arrivals.rows):
        if row.place.name == place and not times.silent[index]:
            own[row.source].append(index)
    judged = _Judgements(plan, state)
    lanes = []
    for source in _in_order(plan, own):
        rows = plan.arrivals.rows
        ways = sorted(own[source], key=lambda index: (-_level(rows[index]), float(times.low[index]), index))
        loudest = _level(plan.arrivals.rows[ways[0]])
        kept = [index for index in ways if _level(plan.arrivals.rows[index]) >= loudest - DROPPED_DB][:MOST_WAYS]
        several = len({rows[index].microphone for index in kept}) > 1
        bars = []
        for index in kept:
            row, late = plan.arrivals.rows[index], (float(times.low[index]), float(times.high[index]))
            known = math.isfinite(late[1])
            in_s = (late[0] + late[1]) / 2 if known else late[0]
            bare = (float(dry.low[index]), float(dry.high[index]))
            out_s = None if dry.silent[index] or not math.isfinite(bare[1]) else (bare[0] + bare[1]) / 2
            verdict, says = judged.beside(kept[: kept.index(index)], index)
            parts = _parts(plan, row, state, in_s)
            by = _left_by(row)
            if several and row.place.kind == "listener" and row.microphone is not None:
                by = f"{row.microphone} by {by}"
            bars.append(Bar(route_words(row), by, parts, in_s, out_s, known, row.level_db, verdict, says))
        lanes.append(Lane(source, tuple(bars), len(ways) - len(kept)))
    firsts = [lane.bars[0].in_s for lane in lanes if lane.bars[0].known]
    return Lanes(place, state.name, tuple(lanes), _most(firsts))


def _in_order(plan: Plan, own: dict[str, list[int]]) -> list[str]:
    """Return sources in the order in which the show names them."""
    order: dict[str, int] = {}
    for item in plan.show.inputs:
        for name in list(item.hears) or [item.name]:
            order.setdefault(name, len(order))
    return sorted(own, key=lambda source: (order.get(source, len(order)), source))


def _level(row: Arrival) -> float:
    return 0.0 if row.level_db is None else row.level_db


def _parts(plan: Plan, row: Arrival, state: State, in_s: float) -> tuple[LanePart, ...]:
    """Return the parts of a way that take time, in order; neighbours of one kind are one."""
    found: list[LanePart] = []
    for edge in row.edges:
        delay = edge.delay
        if edge.loop is not None and edge.loop not in state.out:
            delay = plan.line_map.loop(edge.loop).delay
        seconds = delay.low if delay.typical is None else delay.typical
        if seconds <= 0:
            continue
        kind: PartKind = "loop" if edge.loop is not None else "air" if edge.kind == "acoustic" else "desk"
        label = edge.loop or ""
        if found and found[-1].kind == kind and found[-1].label == label:
            found[-1] = LanePart(kind, found[-1].seconds + seconds, label)
        else:
            found.append(LanePart(kind, seconds, label))
    rest = in_s - sum(part.seconds for part in found)
    if rest > _SMALL_S:  # what the desk holds back by itself
        found.append(LanePart("desk", rest))
    return tuple(found)


class _Judgements:
    """Verdicts of pairs in one state, by the numbers of their arrivals."""

    def __init__(self, plan: Plan, state: State) -> None:
        self.plan = plan
        arrivals = plan.arrivals
        pairs = find_pairs(plan.show, plan.line_map, arrivals, arrivals.times(plan.states[0]))
        self.by_rows: dict[tuple[int, int], int] = {}
        self.by_outputs: dict[tuple[str, str, frozenset[str | None]], int] = {}
        if not len(pairs.first):
            return
        tails = tails_of(plan.show, arrivals)
        self.judged = judge(plan.line_map, arrivals, pairs, (state,), plan.show.sample_rate, tails)
        self.pairs = pairs
        ends = zip(pairs.first.tolist(), pairs.second.tolist(), strict=True)
        both = zip(pairs.first.tolist(), pairs.second.tolist(), strict=True)
        self.by_outputs = {
            _outputs(arrivals.rows[one], arrivals.rows[other]): number
            for number, (one, other) in enumerate(both)
            if arrivals.rows[one].place.kind == "listener"
        }
        self.by_rows = {(one, other): number for number, (one, other) in enumerate(ends)}

    def beside(self, louder: list[int], index: int) -> tuple[Verdict, str]:
        """Return the worst verdict of a way beside louder ones of its source, and what it does in words."""
        found: list[tuple[Verdict, str]] = [self._pair(other, index) for other in louder]
        return max(found, key=lambda one: WORSE.index(one[0]), default=("alone", ""))

    def _pair(self, other: int, index: int) -> tuple[Verdict, str]:
        ends = (min(other, index), max(other, index))
        rows = self.plan.arrivals.rows
        number = self.by_rows.get(ends)
        if number is None and rows[other].microphone == rows[index].microphone:  # another microphone said the same
            number = self.by_outputs.get(_outputs(rows[other], rows[index]))
            ends = (other, index)
        if number is None:
            return "alone", ""
        one = rows[int(self.pairs.first[number])]
        forward = ends[0] == other if ends in self.by_rows else one.output == rows[other].output
        gap = self.judged.gap(0, number, 1 if forward else -1)
        if gap.verdict != "apart":
            return gap.verdict, "nobody knows how far apart" if gap.verdict == "cannot tell" else ""
        side = "behind" if gap.typical > 0 else "ahead of"
        mine, name = (_left_by(rows[number]) for number in (index, other))
        name = name if name != mine else "its other way"
        ms = abs(ms_from_seconds(gap.typical))
        words = f"{ms:.2f} ms {side} {name}" if ms >= 0.005 else f"beside {name}, polarity turned"
        inverted = rows[other].inverted != rows[index].inverted
        if KINDS[int(self.pairs.kind[number])] in ("electrical", "two microphones") and gap.typical:
            words += f" · first notch {null_hz(gap.typical, 0 if not inverted else 1, inverted=inverted):.0f} Hz"
        return "apart", words


def _left_by(row: Arrival) -> str:
    """Return by what a way is told from others of its lane: the output it left by, at an output its microphone."""
    return (row.output if row.place.kind == "listener" else row.microphone) or "air"


def _outputs(one: Arrival, other: Arrival) -> tuple[str, str, frozenset[str | None]]:
    return one.source, one.place.name, frozenset((one.output, other.output))


def _most(times: list[float], within_s: float = 1e-3) -> float | None:
    """Return the middle of the millisecond in which most times lie, the earliest of equals."""
    if not times:
        return None
    ordered = np.sort(np.array(times))
    counts = np.searchsorted(ordered, ordered + within_s, side="right") - np.arange(len(ordered))
    start = int(np.argmax(counts))
    return float(ordered[start : start + int(counts[start])].mean())


__all__ = ["Bar", "Lane", "LanePart", "Lanes", "lanes_at"]
