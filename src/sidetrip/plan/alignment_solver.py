"""The integer program of `alignment_program`, solved by OR-Tools' CP-SAT, part by part and aim after aim.

CP-SAT counts its own work, so that a search is cut at the same point on any machine: no clock is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sidetrip.plan.alignment_parts import left_of, parts_of, useful
from sidetrip.plan.alignment_program import Answer, Condition, Ear, Open, Question, rank_of
from sidetrip.plan.alignment_rows import LARGEST, Rows, scale_of

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import LinearExpr

MOST_WORK = 8.0
"""For all aims of a part together, in CP-SAT's own measure, about a second each: what cannot be proven with so much is
answered as well as it is known by then."""

LEAST_WORK = 0.3
"""For each aim once the rest is used up."""

_LINES = "delays dialled"
_GRADES = {2: "hollow", 1: "worth a warning", 0: "slight"}
_RANK = 1000  # `rank_of` in whole numbers


@dataclass(frozen=True, slots=True)
class _Aim:
    """A sum to make least. least: what it cannot be below. unit: how much of what it is named for one of it is."""

    name: str
    sum: LinearExpr | int
    least: int = 0
    unit: float = 1.0


def solve(question: Question) -> Answer:
    """Return the best answer. What hangs together by no line and no move is solved by itself."""
    steps: list[int | None] = [None] * len(question.lines)
    moved = [0] * len(question.prices)
    left: list[Open] = []
    smaller = useful(question)
    for conditions, ears in parts_of(smaller):
        if not any(own.grade and own.short(0.0) is None and own.zones for own in conditions):
            continue  # nothing here is worth a setting
        found = _Part(smaller).solve(conditions, ears)
        steps = [own if own is not None else steps[number] for number, own in enumerate(found.steps)]
        moved = [max(pair) for pair in zip(moved, found.moved, strict=True)]
        left += found.open
    return Answer(tuple(steps), tuple(moved), tuple(left))


@dataclass(frozen=True, slots=True)
class _Late:
    """How far ears are beyond comfort. frames: in parts of a unit, so many as `fine` says."""

    frames: int
    fine: int


class _Part:
    """The search in one part: how much work is left, the best answer until now, and which aims are not proven."""

    def __init__(self, question: Question) -> None:
        self._question = question
        self._work, self._scale = MOST_WORK, 1
        self._open: list[Open] = []
        self._found = Answer((None,) * len(question.lines), (0,) * len(question.prices))

    def solve(self, conditions: list[Condition], ears: list[Ear]) -> Answer:
        """Settle what is apart, aims 1 to 4; then which lines are dialled, 5 to 8; then by how much."""
        deep = [own for own in conditions if own.grade]
        self._scale = scale_of(self._question, [*conditions, *ears])
        first = Rows(self._question, deep, ears, self._scale)
        harm = self._run(first, _harm(first, (2, 1)))
        if self._found.nothing:
            return self._answer()
        late = self._settle(deep, ears, harm)
        if self._found.nothing:
            return self._answer()
        chosen = frozenset(line for line, steps in enumerate(self._found.steps) if steps is not None)
        left = [left_of(own, chosen) for own in conditions], [left_of(own, chosen) for own in ears]
        last = Rows(self._question, *left, self._scale, chosen=chosen)
        _keep(last, _harm(last, (2, 1)), harm)
        last.model.add(_prices(last) <= self._price())
        fine, last.fine = last.fine, late.fine
        last.model.add(last.open_ears()[0] <= late.frames)
        last.fine = fine
        total = sum(own * last.step[line] for line, own in last.n.items())
        named = sum(own * rank for rank, own in enumerate(last.n.values(), 1))
        short = _Aim("frames short of the best", last.open_short(), unit=1 / (last.scale * last.fine))
        delay = _Aim("frames of delay", total, unit=1 / last.scale)
        self._run(last, [*_harm(last, (0,)), short, delay, _Aim("which steps", named)])
        return self._answer()

    def _settle(self, deep: list[Condition], ears: list[Ear], harm: Sequence[int]) -> _Late:
        """Settle aims 5 to 8 as one sum, each weighed more than all that follow it can be.

        The best answer dials no more lines than the one that is known, so their ranks come to no more either.
        """
        rows = Rows(self._question, deep, ears, self._scale, weighed=True)
        _keep(rows, _harm(rows, (2, 1)), harm)
        ranks = {line: round(_RANK * rank_of(line)) for line in rows.w}
        count = sum(steps is not None for steps in self._found.steps)
        most_price = sum(self._question.prices[move] for move in rows.moves)
        most_rank = sum(sorted(ranks.values(), reverse=True)[:count])
        weight = (len(ranks) + 2) * (most_price + 1) * (most_rank + 1)
        late, most_late = rows.open_ears((LARGEST - sum(ranks.values())) // weight - 1)
        settings = sum(rows.w.values()) * (most_price + 1) + _prices(rows)
        rank = sum(own * ranks[line] for line, own in rows.w.items())
        if weight * (most_late + 1) + sum(ranks.values()) < LARGEST:
            inside = (most_late + 1) * (most_rank + 1)
            whole = settings * inside + late * (most_rank + 1) + rank
            (value,) = self._run(rows, [_Aim(_LINES, whole, unit=1 / inside / (most_price + 1))])
            return _Late(value % inside // (most_rank + 1), rows.fine)
        parts = 1 / (rows.scale * rows.fine)
        aims = [
            _Aim(_LINES, settings, unit=1 / (most_price + 1)),
            _Aim("frames of ears beyond comfort", late, unit=parts),
            _Aim("which lines", rank, unit=1 / _RANK),
        ]
        return _Late(self._run(rows, aims)[1], rows.fine)

    def _price(self) -> int:
        return sum(price for price, moved in zip(self._question.prices, self._found.moved, strict=True) if moved)

    def _answer(self) -> Answer:
        return replace(self._found, open=tuple(self._open))

    def _run(self, rows: Rows, aims: Sequence[_Aim]) -> list[int]:
        """Go through some aims, each kept for all that follows. Return their values."""
        values = []
        for aim in aims:
            point = rows.hint(self._found)
            value = self._least(rows, aim, point)
            if not isinstance(aim.sum, int):
                rows.model.add(aim.sum <= value)
            values.append(value)
        return values

    def _least(self, rows: Rows, aim: _Aim, point: dict[int, int]) -> int:
        """Return the least value of an aim, or the least that is found with the work that is left."""
        from ortools.sat.python import cp_model

        if isinstance(aim.sum, int):
            return aim.sum
        known = _value(aim.sum, rows, point)
        if known is not None and known <= aim.least:
            return known
        rows.model.minimize(aim.sum)
        value, bound = known, float(aim.least)
        for interleaved in (False, True):  # by turns with others finds better answers, alone it proves sooner
            solver = cp_model.CpSolver()
            solver.parameters.num_workers = 1
            solver.parameters.interleave_search = interleaved
            solver.parameters.linearization_level = 2
            solver.parameters.max_deterministic_time = max(self._work / 2, LEAST_WORK)
            status = solver.solve(rows.model)
            self._work -= solver.response_proto.deterministic_time
            if status == cp_model.UNKNOWN:
                continue
            assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE), solver.status_name(status)
            value, bound = round(solver.objective_value), max(bound, solver.best_objective_bound)
            self._found = rows.answer(dict(enumerate(solver.response_proto.solution)))
            if status == cp_model.OPTIMAL:
                return value
            rows.hint(self._found)
        assert value is not None
        self._open.append(Open(aim.name, value * aim.unit, bound * aim.unit))
        return value


def _harm(rows: Rows, grades: Sequence[int]) -> list[_Aim]:
    """Return the aims that count what is apart, of these grades."""
    aims = []
    for grade in grades:
        for runs in (True, False):
            own, least = rows.apart(grade, runs=runs)
            name = f"{_GRADES[grade]} {'while the show runs' if runs else 'in other states'}"
            aims.append(_Aim(name, own, least))
    return aims


def _prices(rows: Rows) -> LinearExpr | int:
    """Return what the moves that are made count as."""
    return sum(own * rows.question.prices[move] for move, own in rows.z.items())


def _keep(rows: Rows, aims: Sequence[_Aim], values: Sequence[int]) -> None:
    """Keep what aims reached in other rows."""
    for aim, value in zip(aims, values, strict=True):
        if not isinstance(aim.sum, int):
            rows.model.add(aim.sum <= value)


def _value(own: LinearExpr, rows: Rows, point: dict[int, int]) -> int | None:
    """Return the value of a sum at a point, None where the point says not all of it."""
    from ortools.sat.python.cp_model import FlatIntExpr

    flat = FlatIntExpr(own)
    if any(one.index not in point for one in flat.vars):
        return None
    return flat.offset + sum(weight * point[one.index] for weight, one in zip(flat.coeffs, flat.vars, strict=True))


__all__ = ["LEAST_WORK", "MOST_WORK", "solve"]
