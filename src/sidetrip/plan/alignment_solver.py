"""The integer program of `alignment_program`, solved by HiGHS through SciPy, part by part and aim after aim."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from sidetrip.plan.alignment_pairs import Zone
from sidetrip.plan.alignment_parts import CHAIN, left_of, parts_of, useful
from sidetrip.plan.alignment_program import CLOSE_FRAMES, Answer, Condition, Ear, Question, rank_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_NODES = 300
"""For all aims of a part together: what cannot be proven with so many is answered as well as it is known by then."""

_FEWEST_NODES = 5
_FULL_SIZE = 400  # variables up to which so many nodes are looked at; fewer for more of them
_KEPT = 0.5  # an aim that counts in whole numbers keeps its value within this
_ROUNDING = 3e-6  # by how much of a row's width the solver may miss its bounds


def solve(question: Question) -> Answer:
    """Return the best answer. What hangs together by no line and no move is solved by itself."""
    steps: list[int | None] = [None] * len(question.lines)
    moved = [0] * len(question.prices)
    proven = True
    smaller = useful(question)
    for conditions, ears in parts_of(smaller):
        if not any(own.grade and own.short(0.0) is None and own.zones for own in conditions):
            continue  # nothing here is worth a setting
        found = _solve_part(smaller, conditions, ears)
        steps = [own if own is not None else steps[number] for number, own in enumerate(found.steps)]
        moved = [max(pair) for pair in zip(moved, found.moved, strict=True)]
        proven = proven and found.proven
    return Answer(tuple(steps), tuple(moved), proven)


def _solve_part(question: Question, conditions: list[Condition], ears: list[Ear]) -> Answer:
    """Settle which lines are dialled, aims 1 to 8, then by how much."""
    first = _Solver(question, conditions, ears)
    values, x, proven = first.run(first.harm_aims())
    found = first.answer(x, proven=proven)
    if any(steps is not None for steps in found.steps):
        first.open_ears()
        more, x, sure = first.run([first.ear_aim(), first.line_aim()])
        proven = proven and sure
        values, found = [*values, *more], first.answer(x, proven=proven) if x is not None else found
    if not any((*(steps is not None for steps in found.steps), *found.moved)):
        return found
    chosen = frozenset(line for line, steps in enumerate(found.steps) if steps is not None)
    left = [left_of(own, chosen) for own in conditions], [left_of(own, chosen) for own in ears]
    last = _Solver(question, *left, chosen=chosen)
    last.used = first.used
    last.open_ears()
    for aim, value in zip([*last.harm_aims(), last.ear_aim()], values, strict=False):
        last.keep(aim, value)
    _, x, sure = last.run(last.last_aims())
    proven = proven and sure
    return last.answer(x, proven=proven) if x is not None else replace(found, proven=proven)


@dataclass(frozen=True, slots=True)
class _Aim:
    """A sum to make small. least: no smaller value is possible. kept: how far above its value it may be left later."""

    terms: dict[int, float]
    least: float
    kept: float = _KEPT

    def of(self, x: Floats) -> float:
        """Return its value."""
        return sum(weight * float(x[index]) for index, weight in self.terms.items())


def _turned(own: Condition) -> Condition:
    """Return a condition with first and second the other way round."""
    zones = tuple(((-end, -start), (-last, -best)) for (start, end), (best, last) in own.zones)
    lines = tuple((line, -factor) for line, factor in own.lines)
    return replace(own, lines=lines, moves=tuple((move, -frames) for move, frames in own.moves), zones=zones)


@dataclass(slots=True)
class _Form:
    """One sum of lines and moves, and the conditions on it. ends: the least and the most that it can be, in frames."""

    terms: dict[int, float]
    ends: tuple[float, float]
    conditions: list[tuple[Condition, tuple[Zone, ...]]]

    def parts(self) -> list[tuple[float, float]]:
        """Return what its range falls into where a zone begins or ends."""
        low, high = self.ends
        cuts = {low, high}
        for _, zones in self.conditions:
            cuts |= {end for zone, _ in zones for end in zone if low < end < high}
        points = sorted(cuts)
        return list(pairwise(points)) if len(points) > 1 else [(low, low)]

    def zone(self, own: tuple[Condition, tuple[Zone, ...]], part: tuple[float, float]) -> Zone | None:
        """Return the zone of a condition that a part lies in, the one that leaves least to be wished for."""
        inside = [zone for zone in own[1] if zone[0][0] <= part[0] and part[1] <= zone[0][1]]
        middle = sum(part) / 2
        return min(inside, key=lambda zone: max(zone[1][0] - middle, middle - zone[1][1], 0.0), default=None)


class _Solver:
    """The rows of one part, and its aims in order. chosen: the lines that are dialled, once they are settled.

    The range of each sum falls into parts. One is chosen (y), with the value in it (t): start · y ≤ t ≤ end · y. A
    condition is together where the chosen part lies in a zone of it. This is as tight as one sum can be written.
    """

    def __init__(
        self, question: Question, conditions: list[Condition], ears: list[Ear], chosen: frozenset[int] | None = None
    ) -> None:
        fully = self._fully = chosen is not None
        self.used = 0.0  # share of the nodes that are there for all aims
        self._question = question
        self._upper: list[float] = []
        self._lower: list[float] = []
        self._whole: list[bool] = []
        self._rows: list[tuple[dict[int, float], float, float]] = []
        every: list[Condition | Ear] = [*conditions, *ears]
        self._lines = sorted({line for own in every for line, _ in own.lines})
        self._moves = sorted({move for own in every for move, _ in own.moves})
        widest = max((abs(end) for own in conditions for zone, _ in own.zones for end in zone), default=0.0) * CHAIN
        widest += max((question.lines[other].now for other in self._lines), default=0.0)
        lines = {line: question.lines[line] for line in self._lines}
        self._most = {line: min(own.most, math.ceil(widest / own.step)) for line, own in lines.items()}
        self._n = {line: self._variable(self._most[line]) for line in self._lines}
        self._w = {line: self._variable(1, lower=float(line in (chosen or ()))) for line in self._lines}
        self._z = {move: self._variable(1) for move in self._moves}
        for line in self._lines:
            self._bound({self._n[line]: 1.0, self._w[line]: -self._most[line]}, high=0.0)
        self._chosen: list[tuple[int, list[Condition]]] = []
        self._best: dict[tuple[int, bool], float] = {}
        self._short: list[int] = []
        for form in self._forms([own for own in conditions if fully or own.grade]):
            self._lay(form)
        self._over: dict[str, int] = {}
        self._ears = ears
        for ear in ears:
            if math.isfinite(ear.room):
                self._bound(self._terms(ear), high=ear.room)

    def _variable(self, upper: float, *, lower: float = 0.0, whole: bool = True) -> int:
        self._upper.append(float(upper))
        self._lower.append(float(lower))
        self._whole.append(whole)
        return len(self._upper) - 1

    def _bound(self, terms: dict[int, float], *, low: float = -math.inf, high: float = math.inf) -> None:
        """Add a row, scaled so that its largest factor is 1: the solver's tolerance then means the same in all."""
        scale = max([1.0, *map(abs, terms.values())])
        self._rows.append(({index: own / scale for index, own in terms.items()}, low / scale, high / scale))

    def _terms(self, own: Condition | Ear) -> dict[int, float]:
        terms: dict[int, float] = {}
        for line, factor in own.lines:
            terms[self._n[line]] = factor * self._question.lines[line].step
            if self._question.lines[line].now:
                terms[self._w[line]] = -factor * self._question.lines[line].now
        return terms | {self._z[move]: frames for move, frames in own.moves}

    def _ends(self, own: Condition) -> tuple[float, float]:
        """Return the least and the most that a condition can be shifted."""
        low = high = 0.0
        for line, factor in own.lines:
            one = self._question.lines[line]
            ends = [factor * -one.now, factor * (self._most[line] * one.step - one.now), 0.0]
            low, high = low + min(ends), high + max(ends)
        for _, frames in own.moves:
            low, high = low + min(0.0, frames), high + max(0.0, frames)
        return low, high

    def _forms(self, conditions: list[Condition]) -> list[_Form]:
        """Put together what is shifted alike, whichever of the two is called the first."""
        forms: dict[tuple[object, ...], _Form] = {}
        for own in conditions:
            turned = own if ([*own.lines, *own.moves] or [(0, 1)])[0][1] > 0 else _turned(own)
            ends = self._ends(turned)
            zones = tuple((self._safe(turned, *zone, ends), best) for zone, best in turned.zones)
            reached = tuple(own for own in zones if own[0][0] <= min(own[0][1], ends[1]) and own[0][1] >= ends[0])
            form = forms.setdefault((turned.lines, turned.moves), _Form(self._terms(turned), ends, []))
            form.conditions.append((turned, reached))
        return list(forms.values())

    def _lay(self, form: _Form) -> None:
        """Add one sum: its parts, one of them chosen, and how far the value in it is short of the best."""
        chosen, values = dict[int, float](), dict[int, float]()
        short = [(dict[int, float](), dict[int, float]()) for _ in form.conditions]
        for start, end in form.parts():
            y, t = self._variable(1), self._variable(max(end, 0.0), lower=min(start, 0.0), whole=False)
            chosen[y], values[t] = 1.0, -1.0
            self._bound({t: 1.0, y: -start}, low=0.0)
            self._bound({t: 1.0, y: -end}, high=0.0)
            inside = [(number, form.zone(own, (start, end))) for number, own in enumerate(form.conditions)]
            self._chosen.append((y, [form.conditions[number][0] for number, zone in inside if zone is not None]))
            for number, zone in inside:
                if zone is not None and zone[0] != zone[1]:
                    early, late = short[number]
                    early |= {y: zone[1][0], t: -1.0}
                    late |= {y: -zone[1][1], t: 1.0}
        self._bound(chosen, low=1.0, high=1.0)
        self._bound(form.terms | values, low=0.0, high=0.0)
        for grade, runs in {(own.grade, own.runs) for own, _ in form.conditions}:
            each = [sum((o.grade, o.runs) == (grade, runs) for o in own) for y, own in self._chosen if y in chosen]
            self._best[grade, runs] = self._best.get((grade, runs), 0.0) + max(each)
        for (own, _), (early, late) in zip(form.conditions, short, strict=True):
            if own.runs and self._fully and early:
                self._short.append(self._variable(1e9, whole=False))
                self._bound({**early, self._short[-1]: -1.0}, high=0.0)
                self._bound({**late, self._short[-1]: -1.0}, high=0.0)

    def _safe(self, own: Condition, start: float, end: float, ends: tuple[float, float]) -> tuple[float, float]:
        """Return a zone in which the solver's rounding does no harm.

        Where every shift is a multiple of one step: a quarter of it around the multiples inside. Else a little less.
        """
        lines = [self._question.lines[line] for line, _ in own.lines]
        step = lines[0].step if lines else 1.0
        parts = [*(one.step for one in lines), *(one.now for one in lines), *(frames for _, frames in own.moves)]
        for step in (step / own for own in (1, 2, 4, 10)):
            if not all(abs(part - round(part / step) * step) < CLOSE_FRAMES / 10 for part in parts):
                continue
            first, last = math.ceil((start - CLOSE_FRAMES / 10) / step), math.floor((end + CLOSE_FRAMES / 10) / step)
            return first * step - step / 4, last * step + step / 4
        inside = min(_ROUNDING * (ends[1] - ends[0]), (end - start) / 4)
        return start + inside, end - inside

    def open_ears(self) -> None:
        """Add how far each mix's ears are beyond comfort."""
        for ear in self._ears:
            if ear.mix not in self._over:
                self._over[ear.mix] = self._variable(1e6, whole=False)
            self._bound({**self._terms(ear), self._over[ear.mix]: -1.0}, high=-ear.over)

    def _apart(self, grade: int, *, runs: bool) -> _Aim:
        counts = [(y, sum((one.grade, one.runs) == (grade, runs) for one in own)) for y, own in self._chosen]
        return _Aim({y: -float(count) for y, count in counts if count}, -self._best.get((grade, runs), 0.0))

    def run(self, aims: Sequence[_Aim], x: Floats | None = None) -> tuple[list[float], Floats | None, bool]:
        """Go through some aims. Return the value of each, where they are reached, and whether all of it is proven.

        x: a point that satisfies the rows, if one is known.
        """
        values: list[float] = []
        proven = True
        for aim in aims:
            value = aim.of(x) if x is not None else math.inf if aim.terms else 0.0
            if value > aim.least + CLOSE_FRAMES:
                found, sure = self._point(aim.terms, known=x is not None)
                proven = proven and sure
                if found is not None:
                    x, value = found, aim.of(found)
            if not math.isfinite(value):
                return values, None, False
            values.append(value)
            self.keep(aim, value)
        return values, x, proven

    def keep(self, aim: _Aim, value: float) -> None:
        """Keep the value of an aim for all that follows."""
        self._rows.append((aim.terms, -math.inf, value + aim.kept))

    def answer(self, x: Floats | None, *, proven: bool) -> Answer:
        """Return a point as an answer, nothing dialled where there is none."""
        steps: list[int | None] = [None] * len(self._question.lines)
        moved = [0] * len(self._question.prices)
        if x is not None:
            for line in self._lines:
                steps[line] = round(float(x[self._n[line]])) if round(float(x[self._w[line]])) else None
            for move in self._moves:
                moved[move] = round(float(x[self._z[move]]))
        return Answer(tuple(steps), tuple(moved), proven)

    def harm_aims(self) -> list[_Aim]:
        """Return aims 1 to 6."""
        return [
            *(self._apart(grade, runs=runs) for grade in (2, 1) for runs in (True, False)),
            _Aim(dict.fromkeys(self._w.values(), 1.0), 0.0),
            _Aim({z: float(self._question.prices[move]) for move, z in self._z.items()}, 0.0),
        ]

    def ear_aim(self) -> _Aim:
        """Return aim 7."""
        return _Aim(dict.fromkeys(self._over.values(), 1.0), 0.0, CLOSE_FRAMES)

    def line_aim(self) -> _Aim:
        """Return aim 8."""
        return _Aim({w: rank_of(line) for line, w in self._w.items()}, 0.0, CLOSE_FRAMES)

    def last_aims(self) -> list[_Aim]:
        """Return aims 9 to 13."""
        lines = self._question.lines
        total = {n: lines[line].step for line, n in self._n.items()}
        return [
            *(self._apart(0, runs=runs) for runs in (True, False)),
            _Aim(dict.fromkeys(self._short, 1.0), 0.0, CLOSE_FRAMES),
            _Aim(total, 0.0, CLOSE_FRAMES),
            _Aim({self._n[line]: float(rank) for rank, line in enumerate(self._lines, 1)}, 0.0),
        ]

    def _point(self, aim: dict[int, float], *, known: bool) -> tuple[Floats | None, bool]:
        """Return a point where the aim is least, or as near as it is known, and whether that is proven.

        known: whether there is a point already, which is kept where none is found within the nodes that are left.
        """
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        cost = np.zeros(len(self._upper))
        for index, weight in aim.items():
            cost[index] = weight
        entries = [(row, index, own) for row, (terms, _, _) in enumerate(self._rows) for index, own in terms.items()]
        constraints = []
        if entries:
            rows, columns, weights = (np.array(each) for each in zip(*entries, strict=True))
            matrix = csr_array((weights.astype(float), (rows, columns)), shape=(len(self._rows), len(self._upper)))
            low, high = (np.array([row[side] for row in self._rows]) for side in (1, 2))
            constraints = [LinearConstraint(matrix, low, high)]
        all_nodes = max(1, MOST_NODES * _FULL_SIZE // max(_FULL_SIZE, len(self._upper) ** 2 // _FULL_SIZE))
        nodes = max(round(all_nodes * (1 - self.used)), min(_FEWEST_NODES, all_nodes))
        for presolve in (False, True):  # with it HiGHS may write to the terminal; without it it stumbles now and then
            result = milp(
                cost,
                integrality=np.array(self._whole, dtype=int),
                bounds=Bounds(np.array(self._lower), np.array(self._upper)),
                constraints=constraints,
                options={"mip_rel_gap": 0.0, "node_limit": nodes, "presolve": presolve},
            )
            # SciPy knows no name for HiGHS' answer that it has looked at as many nodes as it may
            limited = result.status == 1 or "limit reached" in result.message
            if result.status == 0 or (limited and (known or result.x is not None)):
                break
        count = result.mip_node_count
        self.used += (nodes if count is None or limited else float(count)) / all_nodes
        return result.x, result.status == 0


__all__ = ["MOST_NODES", "solve"]
