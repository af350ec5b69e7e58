"""A mixed-integer program written row by row, solved by HiGHS through SciPy, aim after aim."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

_ROUNDING = 0.5  # every aim here counts in whole numbers
_CLOSE = 1e-9

Terms = Mapping[int, float]
"""A sum: coefficient by variable."""

Row = tuple[Terms, float, float]
"""A sum with its lower and its upper bound."""


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
        values = self.best(aim)
        if values is not None and aim and not self._settle(aim, values):
            best = sum(weight * values[index] for index, weight in aim.items())
            self.row(aim, low=best - _ROUNDING)
        return values

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
        return self._solve({}, fixed, wider) is not None

    def satisfied(self, values: Sequence[int], wider: Wider | None = None) -> bool:
        """Tell whether these values of all variables satisfy the rows and bounds: a proof without solving."""
        import numpy as np

        x = np.array(values, dtype=float)
        laid, most = self._bounded(wider)
        sums = laid.matrix @ x
        inside = np.all((x >= 0) & (x <= most))
        return bool(inside and np.all((sums >= laid.low - _CLOSE) & (sums <= laid.high + _CLOSE)))

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

    def _solve(self, cost: Terms, fixed: Sequence[Row] = (), wider: Wider | None = None) -> list[int] | None:
        if not self.upper:
            return [] if all(low <= 0 <= high for _, low, high in (*self.rows, *fixed)) else None
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        count = len(self.upper)
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
        values = least.copy()
        if kept.size:
            constraints = [LinearConstraint(rows.matrix, rows.low, rows.high)] if rows.low.size else []
            result = milp(
                c[kept],
                integrality=np.ones(kept.size, dtype=np.int64),
                bounds=Bounds(least[kept], most[kept]),
                constraints=constraints,
                options={"mip_rel_gap": 0.0},
            )
            if result.status == 2:  # infeasible
                return None
            if result.status != 0:
                raise RuntimeError(f"the solver stopped without an answer: {result.message}")
            values[kept] = result.x
        return [round(value) for value in values]

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
