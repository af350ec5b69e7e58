"""A mixed-integer program written row by row, solved by HiGHS through SciPy, aim after aim."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

_ROUNDING = 0.5  # every aim here counts in whole numbers


@dataclass(slots=True)
class Program:
    """Integer variables from 0 to their upper bound, rows between bounds, aims fixed one after the other."""

    upper: list[float] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)

    def variable(self, upper: float = 1.0) -> int:
        """Add an integer variable from 0 to `upper` and return its number."""
        self.upper.append(upper)
        return len(self.upper) - 1

    def row(self, terms: Mapping[int, float], low: float = -float("inf"), high: float = float("inf")) -> None:
        """Demand low ≤ Σ coefficient · variable ≤ high."""
        self.rows.append((dict(terms), low, high))

    def maximise(self, aim: Mapping[int, float]) -> list[int] | None:
        """Return the values of all variables that make the aim largest, None when nothing satisfies the rows.

        The aim's value is kept for all later aims. Raises RuntimeError when the solver stops without proof.
        """
        values = self._solve({index: -weight for index, weight in aim.items()})
        if values is not None and aim:
            best = sum(weight * values[index] for index, weight in aim.items())
            self.row(aim, low=best - _ROUNDING)
        return values

    def feasible(self, fixed: Sequence[tuple[Mapping[int, float], float, float]] = ()) -> bool:
        """Tell whether the rows can be satisfied, with some more for this question only."""
        self.rows.extend((dict(terms), low, high) for terms, low, high in fixed)
        try:
            return self._solve({}) is not None
        finally:
            del self.rows[len(self.rows) - len(fixed) :]

    def _solve(self, cost: Mapping[int, float]) -> list[int] | None:
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        if not self.upper:
            return [] if all(low <= 0 <= high for _, low, high in self.rows) else None
        count = len(self.upper)
        c = np.zeros(count)
        for index, weight in cost.items():
            c[index] = weight
        entries = [
            (row, index, weight) for row, (terms, _, _) in enumerate(self.rows) for index, weight in terms.items()
        ]
        constraints = []
        if self.rows:
            rows, columns, weights = zip(*entries, strict=True) if entries else ((), (), ())
            matrix = coo_array((weights, (rows, columns)), shape=(len(self.rows), count), dtype=float)
            lows = np.array([low for _, low, _ in self.rows])
            highs = np.array([high for _, _, high in self.rows])
            constraints = [LinearConstraint(matrix, lows, highs)]
        result = milp(
            c,
            integrality=np.ones(count, dtype=np.int64),
            bounds=Bounds(np.zeros(count), np.array(self.upper)),
            constraints=constraints,
            options={"mip_rel_gap": 0.0},
        )
        if result.status == 2:  # infeasible
            return None
        if result.status != 0:
            raise RuntimeError(f"the solver stopped without an answer: {result.message}")
        return [round(value) for value in result.x]
