"""What makes two arrivals differ: pairs with one cause get one number, and become one meeting.

A cause is where two ways part, where they join, and the loops that only one of them has. Where air is part of it,
distances differ: there one cause has one verdict too.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.graph.arrivals import Arrival, Arrivals
from sidetrip.model.show import Show
from sidetrip.plan.compare import KINDS, Pairs, numbered
from sidetrip.plan.verdicts import Judged

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.intp]

_ELECTRICAL, _MICROPHONES = KINDS.index("electrical"), KINDS.index("two microphones")


def cause_numbers(show: Show, arrivals: Arrivals, pairs: Pairs, judged: Judged) -> Ints:
    """Return the number of its cause for each pair, in the order in which causes are first met."""
    rows = arrivals.rows
    first, second = pairs.first, pairs.second
    nothing = np.full(len(first), -1, dtype=np.intp)
    inside = pairs.kind <= _MICROPHONES
    differ, some = _differing(rows, first, second)
    joined, ways = _joins(rows, first, second, inside)
    microphones = _unordered(numbered(row.microphone for row in rows), first, second)
    output = numbered(row.output for row in rows)
    through_air = ~inside & ((output[first] < 0) | (output[second] < 0))
    place = numbered(row.place.name for row in rows)[first]
    source = numbered(row.source for row in rows)[first]
    electrical = pairs.kind == _ELECTRICAL
    columns = (
        pairs.kind,
        pairs.quiet.astype(np.intp),
        judged.tailed[:2].any(axis=0).astype(np.intp),
        differ,
        joined,
        np.where(electrical, ways, nothing),
        np.where(electrical, nothing, judged.verdicts[0]),
        np.where(electrical, nothing, judged.verdicts[1]),
        np.where((pairs.kind == _MICROPHONES) & ~some, microphones, nothing),
        np.where(inside, nothing, _unordered(output, first, second)),
        np.where(through_air, source, nothing),
        np.where(inside | some, nothing, place),
    )
    return _codes(np.stack(columns, axis=1))


def _codes(table: Ints) -> Ints:
    """Return a number for each row of a table, the same for equal rows, in the order in which they are first met."""
    code = np.zeros(len(table), dtype=np.intp)
    for column in table.T:
        _, place = np.unique(column, return_inverse=True)
        _, code = np.unique(code * (int(place.max()) + 1) + place, return_inverse=True)
    _, where, number = np.unique(code, return_index=True, return_inverse=True)
    met = np.empty(len(where), dtype=np.intp)
    met[np.argsort(where, kind="stable")] = np.arange(len(where))
    return np.asarray(met[number], dtype=np.intp)


def _unordered(numbers: Ints, first: Ints, second: Ints) -> Ints:
    one, other = numbers[first], numbers[second]
    return np.asarray(np.minimum(one, other) * (int(numbers.max()) + 2) + np.maximum(one, other), dtype=np.intp)


def _differing(rows: Sequence[Arrival], first: Ints, second: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """Return a number for the loops that only one and only the other of each pair passes, and whether there are any."""
    sets = numbered(row.loops for row in rows)
    loops = {int(number): frozenset(row.loops) for number, row in zip(sets, rows, strict=True)}
    keys, place = np.unique(np.stack([sets[first], sets[second]], axis=1), axis=0, return_inverse=True)
    apart = [(loops[int(one)] - loops[int(other)], loops[int(other)] - loops[int(one)]) for one, other in keys]
    found = numbered(tuple(sorted(tuple(sorted(own)) for own in both)) for both in apart)
    some = np.array([any(both) for both in apart], dtype=bool)
    place = place.reshape(-1)
    return found[place], some[place]


def _joins(rows: Sequence[Arrival], first: Ints, second: Ints, inside: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Return a number for the strip where each pair joins, and one for the two strips before it."""
    routes = numbered((row.route, row.output) for row in rows)
    known: dict[tuple[int, int], tuple[str, tuple[str, ...]]] = {}
    found: list[tuple[str, tuple[str, ...]]] = []
    for a, b, meets in zip(first.tolist(), second.tolist(), inside.tolist(), strict=True):
        if not meets:
            found.append(("", ()))
            continue
        key = (int(routes[a]), int(routes[b]))
        if key not in known:
            joined = joined_at(rows[a], rows[b])
            known[key] = joined, tuple(sorted(before(row, joined) for row in (rows[a], rows[b])))
        found.append(known[key])
    return numbered(joined for joined, _ in found), numbered(ways for _, ways in found)


def joined_at(first: Arrival, second: Arrival) -> str:
    """Return the strip where two ways join for good: the first of the tail they share."""
    if first.output != second.output:
        return ""
    joined = ""
    for one, other in zip(reversed(first.route), reversed(second.route), strict=False):
        if one != other:
            break
        joined = one
    return joined


def before(arrival: Arrival, joined: str) -> str:
    """Return the strip from which an arrival comes to where the two ways join."""
    return next((one for one, following in pairwise(arrival.route) if following == joined), "")


def route_words(arrival: Arrival) -> str:
    """Return the way of an arrival in words, with its loops."""
    if arrival.microphone is None:
        return "through the air"
    loops = f" (loop {', '.join(arrival.loops)})" if arrival.loops else ""
    return " → ".join(arrival.route) + loops


__all__ = ["before", "cause_numbers", "joined_at", "route_words"]
