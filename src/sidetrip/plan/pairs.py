"""The cheapest two changes that serve a strip together, where no single one does.

A pair is as dear as its dearer change, then as the other. Two strips that stay in are found by one program, as is one
that stays in beside another change; ports are freed two runs at a time, or one beside another change.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Key, key_of
from sidetrip.plan.changes import STAY, Change, Harm, Rooms, everything_freed, together
from sidetrip.plan.protect import never_passed
from sidetrip.plan.trials import Trial

Pair = tuple[Change | str, Change | str]
_Cost = tuple[Harm, Harm]


class Pairs:
    """Finds pairs for the refusals of one allocation; trials are shared."""

    def __init__(
        self,
        show: Show,
        desk: Desk,
        base: Trial,
        changes: tuple[Change, ...],
        rooms: Rooms,
        served: frozenset[Key],
        stays: list[Request],
    ) -> None:
        """stays: who could stay in, the least wanted first."""
        self._show, self._desk, self._base = show, desk, base
        self._changes, self._rooms, self._served = changes, rooms, served
        self._want = {key_of(request): int(request.want) for request in stays}
        self._strip = {key_of(request): request.strip for request in stays}
        self._freed: dict[int, Trial] = {}
        self._joined: dict[tuple[int, int], Change | None] = {}

    def cheapest(self, key: Key) -> tuple[Pair | tuple[()], int]:
        """Return the cheapest pair that serves a request beside all that goes out, if any, and how many were tried."""
        own = [
            change
            for change in (*self._changes, *self._rooms.all)
            if (there := change.key(key)) is not None and not self._protected(change, key, there)
        ]
        found = [*self._of_two_freed(key, own), *self._of_freed_and_other(key, own)]
        if not found:  # whoever stays in costs more than any of these
            found = [*self._of_change_and_staying(key, own)]
            found += [] if key in self._base.options.protected else self._of_two_staying(key)
        count = len(self._want)
        tried = count * (count - 1) // 2 + count * len(own)
        freeing = sum(change.ports is not None for change in own)
        tried += freeing * (freeing - 1) // 2 + freeing * (len(own) - freeing)
        best = min(found, key=lambda pair: pair[0], default=None)
        return (best[1] if best is not None else ()), tried

    def _protected(self, change: Change, key: Key, there: Key) -> bool:
        """Tell whether a protected path would pass the loop all the same: then nothing beside the change helps."""
        if key not in self._base.options.protected:
            return False
        return there == key or there in never_passed(change.trial.show, self._desk, [there])

    def _price(self, key: Key) -> float:
        """Return a price by which the dearer of two counts before the other."""
        return 4.0 ** self._want[key] if key in self._want else float("inf")

    def _staying(self, key: Key) -> str:
        return f"'{self._strip[key]}' stayed in"

    def _of_two_staying(self, key: Key) -> Iterator[tuple[_Cost, Pair]]:
        found = self._base.cheapest_without(self._served, key, 2, self._price)
        if found is not None and len(found) == 2:
            one, other = sorted(found, key=lambda own: (-self._want[own], own))
            cost = (STAY, self._want[one]), (STAY, self._want[other])
            yield cost, (self._staying(one), self._staying(other))

    def _of_change_and_staying(self, key: Key, own: list[Change]) -> Iterator[tuple[_Cost, Pair]]:
        for change in own:
            there = change.key(key)
            assert there is not None
            found = change.trial.cheapest_without(self._served, there, 1, self._price)
            if found:
                (other,) = found
                yield ((STAY, self._want[other]), change.harm), (change, self._staying(other))

    def _of_two_freed(self, key: Key, own: list[Change]) -> Iterator[tuple[_Cost, Pair]]:
        rooms = [change for change in own if change.ports is not None]
        if len(rooms) > 1 and self._all_freed(None).fits(self._served, key):
            yield from self._first(key, combinations(rooms, 2))

    def _of_freed_and_other(self, key: Key, own: list[Change]) -> Iterator[tuple[_Cost, Pair]]:
        rooms = [change for change in own if change.ports is not None]
        for other in own:
            there = other.key(key)
            if rooms and other.ports is None and there and self._all_freed(other).fits(self._served, there):
                yield from self._first(key, ((room, other) for room in rooms))

    def _first(self, key: Key, pairs: Iterator[tuple[Change, Change]]) -> Iterator[tuple[_Cost, Pair]]:
        """Yield the cheapest pair that serves. Where two whole runs do not, parts of them are not asked."""
        for one, other in sorted(pairs, key=lambda pair: _cost(*pair)):
            whole, beside = self._rooms.whole(one), self._rooms.whole(other)
            if whole is not beside and not self._serve(key, whole, beside, surely=False):
                continue
            if self._serve(key, one, other, surely=True):
                yield _cost(one, other), (one, other)
                return

    def _serve(self, key: Key, one: Change, other: Change, *, surely: bool) -> bool:
        joined = self._join(one, other)
        there = joined.key(key) if joined is not None else None
        if joined is None or there is None:
            return False
        return joined.trial.fits(self._served, there) if surely else joined.trial.may_fit(self._served, there)

    def _join(self, one: Change, other: Change) -> Change | None:
        ids = id(one), id(other)
        if ids not in self._joined:
            self._joined[ids] = together(self._show, self._desk, one, other)
        return self._joined[ids]

    def _all_freed(self, beside: Change | None) -> Trial:
        if id(beside) not in self._freed:
            self._freed[id(beside)] = everything_freed(self._show, self._desk, self._rooms.all, beside)
        return self._freed[id(beside)]


def _cost(one: Change, other: Change) -> _Cost:
    return max(one.harm, other.harm), min(one.harm, other.harm)


__all__ = ["Pair", "Pairs"]
