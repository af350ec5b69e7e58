"""Which requests are alike, as the rows of a program have it.

Two requests are alike when their columns are: the same weights in the same rows, a row that holds nothing but the
request itself taken by its shape. In a row that only has an upper bound a smaller weight is easier, so what fits with
the heavier fits with the lighter. Both follow from the rows alone and hold whatever rules they state.
"""

from __future__ import annotations

from collections import defaultdict

from sidetrip.plan.allocation import Built, Key

Kind = tuple[object, ...]
"""What must be equal for two requests to be alike."""

Weights = tuple[float, ...]
"""What may differ: weights in rows with an upper bound only; smaller is easier."""


class Likeness:
    """Tells which requests of a program are alike."""

    def __init__(self, built: Built) -> None:
        """Read the columns of every request once."""
        self._upper = built.program.upper
        self._rows = built.program.rows
        self._columns: defaultdict[int, list[tuple[int, float]]] = defaultdict(list)
        for number, (terms, _, _) in enumerate(self._rows):
            for index, weight in terms.items():
                self._columns[index].append((number, weight))
        self._of = built.of
        self._found: dict[Key, tuple[Kind, Weights]] = {}
        self._once: dict[Key, int] = {}

    def of(self, key: Key) -> tuple[Kind, Weights]:
        """Return the kind of a request and its weights."""
        if key not in self._found:
            self._found[key] = self._look(key)
        return self._found[key]

    def once(self, key: Key) -> int | None:
        """Return the number of the row that lets a request out once, None where it has other rows of its own."""
        self.of(key)
        return self._once.get(key)

    def _look(self, key: Key) -> tuple[Kind, Weights]:
        own = list(self._of(key))
        kind: list[object] = [len(own)]
        weights: list[float] = []
        rows: set[int] = set()
        for index in own:
            kind.append(self._upper[index])
            for number, weight in self._columns[index]:
                terms, low, high = self._rows[number]
                if set(terms) <= set(own):
                    rows.add(number)
                    kind.append((low, high, tuple(terms.get(other) for other in own)))
                elif low == -float("inf"):
                    kind.append(number)
                    weights.append(weight)
                else:
                    kind.append((number, weight))
        if len(rows) == 1:
            terms, low, high = self._rows[number := rows.pop()]
            if (low, high) == (0, 1) and set(terms.values()) == {1.0} and len(terms) == len(own):
                self._once[key] = number
        return tuple(kind), tuple(weights)


__all__ = ["Kind", "Likeness", "Weights"]
