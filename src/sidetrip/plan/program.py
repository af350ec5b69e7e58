"""A mixed-integer program written row by row, solved by HiGHS through SciPy, aim after aim."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

_ROUNDING = 0.5  # every aim here counts in whole numbers
_CLOSE = 1e-9
_SLACK = 1e-3  # how far a bound found in floating point is taken to reach
_HINTS = 3

Terms = Mapping[int, float]
"""A sum: coefficient by variable."""

Row = tuple[Terms, float, float]
"""A sum with its lower and its upper bound."""


def _whole(x: NDArray[np.float64]) -> list[int]:
    """Return the whole numbers nearest to these."""
    return list(map(int, x.round().tolist()))


def _sum(terms: Terms, values: Sequence[int]) -> float:
    return sum(weight * values[index] for index, weight in terms.items())


@dataclass(slots=True)
class _Laid:
    """Rows as the solver takes them. matrix: (rows, variables). low, high: (rows,)."""

    matrix: csr_array[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]

    def cut(
        self, more: _Laid, least: NDArray[np.float64], most: NDArray[np.float64]
    ) -> tuple[NDArray[np.intp], _Laid] | None:
        """Return the variables that are not fixed by their bounds, and the rows that could still be broken by them.

        None when some row cannot be satisfied whatever they are. Most questions here fix most variables.
        """
        import numpy as np
        from scipy.sparse import csr_array

        count = self.low.size + more.low.size
        low, high = np.concatenate([self.low, more.low]), np.concatenate([self.high, more.high])
        weight = np.concatenate([self.matrix.data, more.matrix.data])
        column = np.concatenate([self.matrix.indices, more.matrix.indices])
        lengths = np.concatenate([np.diff(self.matrix.indptr), np.diff(more.matrix.indptr)])
        row = np.repeat(np.arange(count), lengths)
        ends = weight * least[column], weight * most[column]
        lowest = np.bincount(row, np.minimum(*ends), minlength=count)
        highest = np.bincount(row, np.maximum(*ends), minlength=count)
        if np.any(lowest > high + _CLOSE) or np.any(highest < low - _CLOSE):
            return None
        open_ = (lowest < low - _CLOSE) | (highest > high + _CLOSE)
        free = least < most
        kept = np.flatnonzero(free)
        fixed = np.bincount(row, np.where(free[column], 0.0, ends[0]), minlength=count)
        entry = open_[row] & free[column]
        new_row, new_column = np.cumsum(open_) - 1, np.cumsum(free) - 1
        matrix = csr_array(
            (weight[entry], (new_row[row[entry]], new_column[column[entry]])), shape=(int(open_.sum()), kept.size)
        )
        rest = np.asarray(low - fixed, dtype=float)[open_], np.asarray(high - fixed, dtype=float)[open_]
        return kept, _Laid(matrix, *rest)


@dataclass(frozen=True, slots=True)
class Wider:
    """Bounds that hold for one question in place of the program's own: of variables, and above rows by their number.

    With them one variable can stand for many that are alike.
    """

    variables: Mapping[int, float] = field(default_factory=dict)
    rows: Mapping[int, float] = field(default_factory=dict)


@dataclass(slots=True)
class Program:
    """Integer variables from 0 to their upper bound, rows between bounds, aims fixed one after the other."""

    upper: list[float] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)
    _least: dict[int, float] = field(default_factory=dict, repr=False)
    _laid: _Laid | None = field(default=None, repr=False)
    _last: list[int] | None = field(default=None, repr=False)
    _shapes: list[dict[int, int]] = field(default_factory=list, repr=False)

    def variable(self, upper: float = 1.0) -> int:
        """Add an integer variable from 0 to `upper` and return its number."""
        self.upper.append(upper)
        return len(self.upper) - 1

    def row(self, terms: Terms, low: float = -float("inf"), high: float = float("inf")) -> None:
        """Demand low ≤ Σ coefficient · variable ≤ high."""
        self.rows.append((dict(terms), low, high))

    def maximise(self, aim: Terms) -> list[int] | None:
        """Return the values of all variables that make the aim largest, None when nothing satisfies the rows.

        The aim's value is kept for all later aims. Raises RuntimeError when the solver stops without proof.
        """
        values = self._surely_best(aim) or self.best(aim)
        if values is not None and aim and not self._settle(aim, values):
            self.row(aim, low=_sum(aim, values) - _ROUNDING)
        self._last = values
        return values

    def _surely_best(self, aim: Terms) -> list[int] | None:
        """Return values that no others can better, where a bound without whole numbers proves it; else None.

        Those are the values of the last aim, if they reach the bound, or those of the bound itself, if whole.
        """
        if not aim or not all(float(weight).is_integer() for weight in aim.values()):
            return None
        x = self._point({index: -weight for index, weight in aim.items()}, (), None, whole=False)
        if x is None:
            return None
        top = math.floor(sum(weight * x[index] for index, weight in aim.items()) + _SLACK)
        near = _whole(x)
        for values in (near, self._last):
            if values is not None and _sum(aim, values) >= top and self.satisfied(values):
                return values
        return None

    def _settle(self, aim: Terms, values: Sequence[int]) -> bool:
        """Keep an aim's value by keeping each of its sums, where no two of them make up for each other.

        Variables of one weight are a sum. Where each weight is larger than all smaller ones can bring together, the
        largest value of the aim has one way to come about: small rows and bounds say so, and large weights are gone.
        """
        sums: dict[float, list[int]] = {}
        for index, weight in aim.items():
            if weight:
                sums.setdefault(weight, []).append(index)
        most = {frozenset(terms): high for terms, low, high in self.rows if low >= 0 and set(terms.values()) == {1.0}}
        below = 0.0
        for weight in sorted(sums, key=abs):
            own = sums[weight]
            if abs(weight) <= below:
                return False
            below += abs(weight) * min(most.get(frozenset(own), float("inf")), sum(self.upper[index] for index in own))
        for own in sums.values():
            total = float(sum(values[index] for index in own))
            if len(own) == 1:
                self.upper[own[0]] = self._least[own[0]] = total
            elif total == 0:
                self.upper = [0.0 if index in own else upper for index, upper in enumerate(self.upper)]
            else:
                self.row(dict.fromkeys(own, 1.0), total, total)
        return True

    def best(self, aim: Terms, fixed: Sequence[Row] = (), wider: Wider | None = None) -> list[int] | None:
        """Return the values that make the aim largest, with some more rows for this question only, or None.

        Nothing is kept. Raises RuntimeError when the solver stops without proof.
        """
        return self._solve({index: -weight for index, weight in aim.items()}, fixed, wider)

    def feasible(self, fixed: Sequence[Row] = (), wider: Wider | None = None) -> bool:
        """Tell whether the rows can be satisfied, with some more for this question only."""
        return self.find(fixed, wider) is not None

    def find(
        self, fixed: Sequence[Row] = (), wider: Wider | None = None, shape: Sequence[int] = ()
    ) -> list[int] | None:
        """Return values that satisfy the rows, with some more for this question only, or None where none do.

        Tried first is what needs no whole numbers: nothing satisfies the rows if not even fractions do, and fractions
        that happen to be whole are an answer. shape: variables whose values in earlier answers are worth trying.
        """
        everything = dict.fromkeys(range(len(self.upper)), -1.0)
        for hint in ({}, *reversed(self._shapes)):
            bounds: list[Row] = [({index: 1.0}, float(value), float(value)) for index, value in hint.items()]
            x = self._point(everything, [*fixed, *bounds], wider, whole=False)
            if x is None and not hint:
                return None
            values = None if x is None else _whole(x)
            if values is not None and self.satisfied(values, wider, fixed):
                return values
        values = self.best({}, fixed, wider)
        if values is not None and shape:
            self._shapes = [*self._shapes, {index: values[index] for index in shape}][-_HINTS:]
        return values

    def satisfied(self, values: Sequence[int], wider: Wider | None = None, fixed: Sequence[Row] = ()) -> bool:
        """Tell whether these values of all variables satisfy the rows and bounds: a proof without solving."""
        import numpy as np

        x = np.array(values, dtype=float)
        laid, most = self._bounded(wider)
        sums = laid.matrix @ x
        inside = bool(np.all((x >= 0) & (x <= most))) and all(x[index] >= least for index, least in self._least.items())
        return (
            inside
            and bool(np.all((sums >= laid.low - _CLOSE) & (sums <= laid.high + _CLOSE)))
            and all(low - _CLOSE <= _sum(terms, values) <= high + _CLOSE for terms, low, high in fixed)
        )

    def _bounded(self, wider: Wider | None) -> tuple[_Laid, NDArray[np.float64]]:
        """Return the rows, and the upper bounds of all variables."""
        import numpy as np

        laid, most = self._lay(), np.array(self.upper, dtype=float)
        if wider is None:
            return laid, most
        high = laid.high.copy()
        for number, value in wider.rows.items():
            high[number] = value
        for index, value in wider.variables.items():
            most[index] = value
        return _Laid(laid.matrix, laid.low, high), most

    def _solve(self, cost: Terms, fixed: Sequence[Row], wider: Wider | None) -> list[int] | None:
        x = self._point(cost, fixed, wider, whole=True)
        return None if x is None else _whole(x)

    def _point(
        self, cost: Terms, fixed: Sequence[Row], wider: Wider | None, *, whole: bool
    ) -> NDArray[np.float64] | None:
        """Return where the cost is least, (variables,), in whole numbers or in fractions too; None where nowhere."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        count = len(self.upper)
        if not count:
            fits = all(low <= 0 <= high for _, low, high in (*self.rows, *fixed))
            return np.zeros(0) if fits else None
        c = np.zeros(count)
        for index, weight in cost.items():
            c[index] = weight
        laid, most = self._bounded(wider)
        least = np.zeros(count)
        for index, value in self._least.items():
            least[index] = value
        more: list[Row] = []
        for terms, low, high in fixed:
            if len(terms) == 1 and next(iter(terms.values())) == 1.0:  # one variable: a bound, which presolve drops
                (index,) = terms
                least[index], most[index] = max(least[index], low), min(most[index], high)
            else:
                more.append((terms, low, high))
        if np.any(least > most):
            return None
        small = laid.cut(self._laid_out(more), least, most)
        if small is None:
            return None
        kept, rows = small
        if kept.size:
            constraints = [LinearConstraint(rows.matrix, rows.low, rows.high)] if rows.low.size else []
            result = milp(
                c[kept],
                integrality=np.full(kept.size, int(whole)),
                bounds=Bounds(least[kept], most[kept]),
                constraints=constraints,
                options={"mip_rel_gap": 0.0} if whole else {},
            )
            if result.status == 2:  # infeasible
                return None
            if result.status != 0:
                raise RuntimeError(f"the solver stopped without an answer: {result.message}")
            least[kept] = result.x
        return least

    def _lay(self) -> _Laid:
        """Return the rows as the solver takes them, made again only when there are more of them or of the variables."""
        if self._laid is None or self._laid.matrix.shape != (len(self.rows), len(self.upper)):
            self._laid = self._laid_out(self.rows)
        return self._laid

    def _laid_out(self, rows: Sequence[Row]) -> _Laid:
        import numpy as np
        from scipy.sparse import csr_array

        ends = [0]
        for terms, _, _ in rows:
            ends.append(ends[-1] + len(terms))
        weights = np.array([weight for terms, _, _ in rows for weight in terms.values()], dtype=float)
        indices = np.array([index for terms, _, _ in rows for index in terms], dtype=np.int32)
        matrix = csr_array((weights, indices, np.array(ends, dtype=np.int32)), shape=(len(rows), len(self.upper)))
        low, high = (np.array([row[side] for row in rows], dtype=float) for side in (1, 2))
        return _Laid(matrix, low, high)
