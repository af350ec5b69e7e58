"""The rows of one part of `alignment_program` in whole numbers, for OR-Tools' CP-SAT.

Times are in whole units: the largest part of a frame of which all steps and moves are multiples. Sums of whole units
are exact, so a zone is cut to the units inside it and nothing is lost by rounding. What is shifted alike is one sum;
its range falls into spans where a zone begins or ends, and one span is chosen for each sum.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from sidetrip.plan.alignment_lines import Line
from sidetrip.plan.alignment_parts import CHAIN
from sidetrip.plan.alignment_program import CLOSE_FRAMES, Answer, Condition, Ear, Question

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import IntVar, LinearExpr

FINE = 10**4
"""What is no whole unit, how far ears are beyond comfort and a pair short of the best, is rounded to so many parts."""

LARGEST = 2**62
"""CP-SAT counts in 64 bits."""

_SCALES = (1, 2, 5, 10, 20, 50, 100, 1000, 10**4, 10**5, 10**6, 10**9)
_EXACT = 1e-9
_MOST_SUMS = 4096  # of moves, looked at one by one

Span = tuple[int, int]


def scale_of(question: Question, every: Sequence[Condition | Ear]) -> int:
    """Return how many units a frame has, so that all steps and moves that shift these are whole."""
    lines = {line for own in every for line, _ in own.lines}
    own = {part for line in lines for part in (question.lines[line].step, question.lines[line].now)}
    own |= {frames for one in every for _, frames in one.moves}

    def whole(scale: int) -> bool:
        return all(abs(part * scale - round(part * scale)) <= _EXACT * scale for part in own)

    return next(filter(whole, _SCALES), _SCALES[-1])


def turned(own: Condition) -> Condition:
    """Return a condition with first and second the other way round where its first factor is negative."""
    if ([*own.lines, *own.moves] or [(0, 1)])[0][1] > 0:
        return own
    zones = tuple(((-end, -start), (-last, -best)) for (start, end), (best, last) in own.zones)
    lines = tuple((line, -factor) for line, factor in own.lines)
    return replace(own, lines=lines, moves=tuple((move, -frames) for move, frames in own.moves), zones=zones)


@dataclass(frozen=True, slots=True)
class Sum:
    """What is shifted alike. value: in units; spans: what its range falls into, each with whether it is chosen."""

    lines: Mapping[int, int]
    moves: Mapping[int, int]
    value: LinearExpr | int
    conditions: list[Condition]
    spans: list[tuple[Span, IntVar]]


class Rows:
    """One part as a model. weighed: whether it is counted which lines are dialled. chosen: those, once it is settled.

    scale: units of a frame.

    Variables are steps on a line (n), whether it is dialled (w; only where that counts, or where the show has a delay
    on it), whether a move is made (z), which span of each sum is chosen, and how far ears are beyond comfort.
    """

    def __init__(
        self,
        question: Question,
        conditions: list[Condition],
        ears: list[Ear],
        scale: int,
        *,
        weighed: bool = False,
        chosen: frozenset[int] | None = None,
    ) -> None:
        from ortools.sat.python.cp_model import CpModel

        self.model = CpModel()
        self.question, self.conditions, self.ears = question, conditions, ears
        every: list[Condition | Ear] = [*conditions, *ears]
        self.lines = sorted({line for own in every for line, _ in own.lines})
        self.moves = sorted({move for own in every for move, _ in own.moves})
        given = [question.lines[line] for line in self.lines]
        self.scale, self.fine = scale, max(1, FINE // scale)
        widest = max((abs(end) for own in conditions for zone, _ in own.zones for end in zone), default=0.0) * CHAIN
        widest += max((one.now for one in given), default=0.0)
        self.most = {line: min(one.most, math.ceil(widest / one.step)) for line, one in self._each()}
        self.step = {line: round(one.step * self.scale) for line, one in self._each()}
        self.now = {line: round(one.now * self.scale) for line, one in self._each()}
        self.n = {line: self.model.new_int_var(0, self.most[line], f"n{line}") for line in self.lines}
        self.w: dict[int, IntVar] = {}
        for line in self.lines:
            if weighed or (chosen is None and self.now[line]):
                self.w[line] = self.model.new_bool_var(f"w{line}")
                self.model.add(self.n[line] <= self.most[line] * self.w[line])
                if not self.now[line]:
                    self.model.add(self.n[line] >= self.w[line])
        self.chosen = chosen
        self.z = {move: self.model.new_bool_var(f"z{move}") for move in self.moves}
        self.over: dict[str, IntVar] = {}
        self.short: list[tuple[Condition, IntVar]] = []
        for ear in ears:
            if math.isfinite(ear.room):
                self.model.add(self._value(ear) <= self._down(ear.room))
        forms: defaultdict[tuple[object, ...], list[Condition]] = defaultdict(list)
        for own in map(turned, conditions):
            forms[own.lines, own.moves].append(own)
        self.sums = [self._lay(own) for own in forms.values()]

    def _each(self) -> list[tuple[int, Line]]:
        return [(line, self.question.lines[line]) for line in self.lines]

    def _down(self, frames: float) -> int:
        return math.floor((frames + CLOSE_FRAMES) * self.scale + _EXACT)

    def _up(self, frames: float) -> int:
        return -self._down(-frames)

    def _value(self, own: Condition | Ear) -> LinearExpr | int:
        """Return by how many units something is shifted."""
        terms: list[LinearExpr | int] = []
        for line, factor in own.lines:
            terms.append(self.n[line] * (factor * self.step[line]))
            if self.now[line]:
                dialled = self.w.get(line, 1)
                terms.append(dialled * (-factor * self.now[line]))
        terms += [self.z[move] * round(frames * self.scale) for move, frames in own.moves]
        return sum(terms)

    def _ends(self, own: Condition | Ear) -> Span:
        """Return the least and the most units that something can be shifted."""
        low = high = 0
        for line, factor in own.lines:
            ends = [factor * -self.now[line], factor * (self.most[line] * self.step[line] - self.now[line]), 0]
            low, high = low + min(ends), high + max(ends)
        for _, frames in own.moves:
            low, high = low + min(0, round(frames * self.scale)), high + max(0, round(frames * self.scale))
        return low, high

    def zones(self, own: Condition) -> list[tuple[Span, tuple[float, float]]]:
        """Return the zones of a condition in units, with what is best in each, in frames."""
        each = (((self._up(start), self._down(end)), best) for (start, end), best in own.zones)
        return [zone for zone in each if zone[0][0] <= zone[0][1]]

    def _lay(self, conditions: list[Condition]) -> Sum:
        first = conditions[0]
        low, high = self._ends(first)
        cuts = {low, high + 1}
        for own in conditions:
            for (start, end), _ in self.zones(own):
                cuts |= {cut for cut in (start, end + 1) if low < cut <= high}
        value, model = self._value(first), self.model
        lines = dict(first.lines)
        moves = {move: round(frames * self.scale) for move, frames in first.moves}
        spans = []
        for start, after in pairwise(sorted(cuts)):
            y = model.new_bool_var("")
            spans.append(((start, after - 1), y))
            if not isinstance(value, int):
                model.add_linear_constraint(value, start, after - 1).only_enforce_if(y)
        model.add_exactly_one([y for _, y in spans])
        found = Sum(lines, moves, value, conditions, spans)
        if self.w and all(line in self.w for line in lines) and not any(self.now[line] for line in lines):
            self._hit(found)
        return found

    def _hit(self, own: Sum) -> None:
        """Say which lines or moves it takes to come into a span: the sum is nothing without them."""
        sums = {0}
        for units in own.moves.values():
            sums |= {one + units for one in sums} if len(sums) < _MOST_SUMS else set()
        if len(sums) >= _MOST_SUMS:
            return
        for (start, end), y in own.spans:
            if start <= 0 <= end:
                continue
            needed = [self.w[line] for line in own.lines]
            if any(start <= one <= end for one in sums):
                needed += [self.z[move] for move in own.moves]
            elif max(sums) < start:
                needed = [self.w[line] for line, factor in own.lines.items() if factor > 0]
            elif min(sums) > end:
                needed = [self.w[line] for line, factor in own.lines.items() if factor < 0]
            self.model.add_bool_or([*needed, ~y])

    def inside(self, own: Condition, span: Span) -> list[tuple[float, float]]:
        """Return what is best in each zone of a condition that a span lies in."""
        return [best for zone, best in self.zones(own) if zone[0] <= span[0] and span[1] <= zone[1]]

    # What aims are made of

    def apart(self, grade: int, *, runs: bool) -> tuple[LinearExpr | int, int]:
        """Return how many conditions of a grade are apart, and the least that can be."""
        total = least = 0
        together: list[LinearExpr] = []
        for one in self.sums:
            mine = [own for own in one.conditions if (own.grade, own.runs) == (grade, runs)]
            counts = [sum(bool(self.inside(own, span)) for own in mine) for span, _ in one.spans]
            together += [y * count for (_, y), count in zip(one.spans, counts, strict=True) if count]
            total += len(mine)
            least += len(mine) - max(counts, default=0)
        return total - sum(together), least

    def open_ears(self, room: int = LARGEST) -> tuple[LinearExpr | int, int]:
        """Add how far each mix's ears are beyond comfort. Return the sum, in parts of a unit, and the most it can be.

        room: what that must be below; parts are made coarser until it is.
        """
        while True:
            most: defaultdict[str, int] = defaultdict(int)
            for ear in self.ears:
                later = min(self._ends(ear)[1], self._down(ear.room)) if math.isfinite(ear.room) else self._ends(ear)[1]
                most[ear.mix] = max(most[ear.mix], later * self.fine + self._parts(ear.over))
            total = sum(most.values())
            if total < room or self.fine == 1:
                break
            self.fine = max(1, self.fine // 10)
        self.over = {mix: self.model.new_int_var(0, own, mix) for mix, own in most.items()}
        for ear in self.ears:
            self.model.add(self.over[ear.mix] >= self._value(ear) * self.fine + self._parts(ear.over))
        return sum(self.over.values()), total

    def open_short(self) -> LinearExpr | int:
        """Add how far each condition is short of the best while the show runs, and return the sum, in parts."""
        model = self.model
        for one in self.sums:
            for own in one.conditions:
                if not own.runs or all(zone == best for zone, best in own.zones):
                    continue
                short = model.new_int_var(0, 10**12, "")
                self.short.append((own, short))
                for span, y in one.spans:
                    best = self.inside(own, span)
                    chosen = [y] if len(best) == 1 else [model.new_bool_var("") for _ in best]
                    if len(best) > 1:
                        model.add_bool_or([*chosen, ~y])
                    for (early, late), literal in zip(best, chosen, strict=True):
                        model.add(short >= self._parts(early) - one.value * self.fine).only_enforce_if(literal)
                        model.add(short >= one.value * self.fine - self._parts(late)).only_enforce_if(literal)
        return sum(short for _, short in self.short)

    def _parts(self, frames: float) -> int:
        return round(frames * self.scale * self.fine)

    # Points

    def answer(self, values: Mapping[int, int]) -> Answer:
        """Return a point as an answer. values: by the index of a variable."""
        steps: list[int | None] = [None] * len(self.question.lines)
        moved = [0] * len(self.question.prices)
        for line in self.lines:
            own = values[self.n[line].index]
            dialled = values[self.w[line].index] if line in self.w else self.chosen is not None or own > 0
            steps[line] = own if dialled else None
        for move in self.moves:
            moved[move] = values[self.z[move].index]
        return Answer(tuple(steps), tuple(moved))

    def hint(self, answer: Answer) -> dict[int, int]:
        """Give the solver an answer to begin with, and return it as a point."""
        point: dict[int, int] = {}
        for line in self.lines:
            steps = answer.steps[line]
            point[self.n[line].index] = steps or 0
            if line in self.w:
                point[self.w[line].index] = int(steps is not None)
        for move in self.moves:
            point[self.z[move].index] = answer.moved[move]
        dialled = answer.dialled(self.question.lines)
        for one in self.sums:
            shift = round(one.conditions[0].shift(dialled, answer.moved) * self.scale)
            for (start, end), y in one.spans:
                point[y.index] = int(start <= shift <= end)
        over: defaultdict[str, int] = defaultdict(int)
        for ear in self.ears:
            later = round(ear.later(dialled, answer.moved) * self.scale) * self.fine
            over[ear.mix] = max(over[ear.mix], later + round(ear.over * self.scale * self.fine))
        point |= {own.index: over[mix] for mix, own in self.over.items()}
        self.model.proto.clear_solution_hint()
        for index, value in point.items():
            self.model.add_hint(self.model.get_int_var_from_proto_index(index), value)
        return point


__all__ = ["LARGEST", "Rows", "scale_of"]
