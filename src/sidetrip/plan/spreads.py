"""Spreads of many pairs of arrivals in many states at once, as arrays.

The same sums as in `spread`: a figure that both of a pair pass cancels, known or not. Here every figure has a number,
each arrival is a run of figure numbers, and a pair is the second's run minus the first's. In another state only those
pairs differ that one of the loops tells apart, so only those are summed again. Once another unit has taken over, those
are the loops that take other times on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.graph.arrivals import Arrivals, State
from sidetrip.graph.linemap import Edge, LoopTime
from sidetrip.graph.span import NOTHING, Span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

_FEMTOSECOND = 15  # decimals of a second


@dataclass(frozen=True, slots=True)
class Bounds:
    """Second minus first of each pair in seconds, shape (pairs,); infinite where a figure is unknown.

    air_low, air_high: the part that air before microphones makes. own_low, own_high: the rest.
    """

    low: Floats
    high: Floats
    air_low: Floats
    air_high: Floats
    own_low: Floats
    own_high: Floats

    def rounded(self) -> Bounds:
        """Return the same to a femtosecond, so that what is alike compares as alike."""
        return Bounds(*(np.round(getattr(self, name), _FEMTOSECOND) + 0.0 for name in _FIELDS))

    def like(self, other: Bounds, where: Ints) -> Bounds:
        """Return a copy with the rows `where` taken from another one, whose rows are only those."""
        pairs = [(getattr(self, name).copy(), getattr(other, name)) for name in _FIELDS]
        for mine, theirs in pairs:
            mine[where] = theirs
        return Bounds(*(mine for mine, _ in pairs))


_FIELDS = ("low", "high", "air_low", "air_high", "own_low", "own_high")


@dataclass(frozen=True, slots=True)
class _Runs:
    """Numbers in runs: run n is values[starts[n]:starts[n + 1]]."""

    starts: Ints
    values: Ints

    @classmethod
    def of(cls, runs: Sequence[Sequence[int]]) -> _Runs:
        lengths = np.fromiter(map(len, runs), dtype=np.intp, count=len(runs))
        starts = np.concatenate([np.zeros(1, dtype=np.intp), np.cumsum(lengths)])
        return cls(starts, np.fromiter(chain.from_iterable(runs), dtype=np.intp, count=int(starts[-1])))

    def gather(self, runs: Ints) -> tuple[Ints, Ints]:
        """Return, for all values of these runs, the place of the run in `runs` and the value."""
        lengths = self.starts[runs + 1] - self.starts[runs]
        owner = np.repeat(np.arange(len(runs)), lengths)
        within = np.arange(len(owner)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
        return owner, self.values[np.repeat(self.starts[runs], lengths) + within]


class Spreads:
    """The figures of some arrivals, ready to be summed for pairs of them in any state.

    rows: the arrivals that pairs will name, by index.
    """

    def __init__(self, arrivals: Arrivals, loops: Iterable[LoopTime], rows: Sequence[int]) -> None:
        self._arrivals = arrivals
        self._numbers: dict[object, int] = {}
        self._spans: list[Span] = []
        self._air: list[bool] = []
        times = {time.loop: time for time in loops}
        edges: dict[int, Edge] = {}
        for row in rows:
            edges.update((id(edge), edge) for edge in arrivals.rows[row].edges)
        index = {loop: number for number, loop in enumerate(arrivals.loops)}
        holds = arrivals.holding.holds if arrivals.holding is not None else ()
        held = {(edge.start, edge.end): number for number, edge in enumerate(holds)}
        figure: dict[int, int] = {}
        loop_at: dict[int, int] = {}
        held_at: dict[int, int] = {}
        for key, edge in edges.items():
            if edge.loop is not None:
                loop_at[key] = index[edge.loop]
            elif edge.held and arrivals.holding is not None:
                bare = arrivals.holding.bare(edge)
                figure[key] = self._number(bare.cause, bare.delay)
                held_at[key] = held[edge.start, edge.end]
            elif edge.delay is not NOTHING:
                air = edge.kind == "acoustic" and edge.end.kind == "microphone"
                figure[key] = self._number(edge.cause or ("edge", key), edge.delay, air=air)
        place = np.zeros(len(arrivals.rows), dtype=np.intp)
        place[list(rows)] = np.arange(len(rows))
        self._place = place
        ways = [[id(edge) for edge in arrivals.rows[row].edges] for row in rows]
        self._own = _Runs.of([[figure[key] for key in way if key in figure] for way in ways])
        self._passed = _Runs.of([[loop_at[key] for key in way if key in loop_at] for way in ways])
        self._held = _Runs.of([[held_at[key] for key in way if key in held_at] for way in ways])
        self._holds = holds
        self._times = tuple(times[loop] for loop in arrivals.loops)
        self._items: dict[str | None, _Runs] = {None: self._items_of(self._times)}

    def _items_of(self, times: Iterable[LoopTime]) -> _Runs:
        """Return the figures of each loop, in the order of the loops."""
        return _Runs.of(
            [
                [self._number(item.cause or (own.loop, n), item.delay) for n, item in enumerate(own.items)]
                for own in times
            ]
        )

    def _number(self, key: object, span: Span, *, air: bool = False) -> int:
        known = self._numbers.get(key)
        if known is not None and self._spans[known] != span:
            key = (key, span)  # what a copy waits has one name, and another length in another state
        number = self._numbers.setdefault(key, len(self._spans))
        if number == len(self._spans):
            self._spans.append(span)
            self._air.append(air)
        return number

    def base(self, first: Ints, second: Ints) -> Bounds:
        """Return the spreads of pairs (indices of arrivals) with every loop IN."""
        return self._sum(first, second, frozenset(), None)

    def in_state(self, base: Bounds, first: Ints, second: Ints, state: State) -> Bounds:
        """Return the spreads in a state; `base` is what `base` gave for the same pairs."""
        out = state.out & frozenset(self._arrivals.loops)
        instead = state.instead if state.instead in self._arrivals.instead else None
        moved = out | self._moved(instead)
        if not moved:
            return base
        columns = [number for number, loop in enumerate(self._arrivals.loops) if loop in moved]
        passes = self._arrivals.passes[:, columns]
        touched = (passes[first] != passes[second]).any(axis=1)
        if self._holds and self._arrivals.held is not None:
            touched |= (self._arrivals.held[first] != self._arrivals.held[second]).any(axis=1)
        where = np.flatnonzero(touched)
        return base.like(self._sum(first[where], second[where], out, instead), where) if len(where) else base

    def _moved(self, instead: str | None) -> frozenset[str]:
        """Return the loops that take another time, or the same by other figures, once this unit has taken over."""
        if instead is None:
            return frozenset()
        other = self._arrivals.instead[instead].loop_times
        if instead not in self._items:
            self._items[instead] = self._items_of(other)
        return frozenset(was.loop for was, now in zip(self._times, other, strict=True) if was.items != now.items)

    def _waits(self, out: frozenset[str], instead: str | None) -> tuple[_Runs, _Runs]:
        """Return the figures that each held copy waits for with these loops OUT, and how often each counts."""
        holding = (self._arrivals if instead is None else self._arrivals.instead[instead]).holding
        waits = [holding.wait(edge, out) if holding is not None else () for edge in self._holds]
        figures = [[self._number(item.cause, item.delay) for item, _ in wait] for wait in waits]
        return _Runs.of(figures), _Runs.of([[times for _, times in wait] for wait in waits])

    def _sum(self, first: Ints, second: Ints, out: frozenset[str], instead: str | None) -> Bounds:
        active = np.array([loop not in out for loop in self._arrivals.loops], dtype=bool)
        waits = self._waits(out, instead) if self._holds else None
        owners: list[Ints] = []
        figures: list[Ints] = []
        counts: list[Ints] = []
        for sign, rows in ((-1, first), (1, second)):
            runs = self._place[rows]
            owner, figure = self._own.gather(runs)
            found = [(owner, figure, np.full(len(owner), sign, dtype=np.intp))]
            owner, loop = self._passed.gather(runs)
            owner, loop = owner[active[loop]], loop[active[loop]]
            which, figure = self._items[instead].gather(loop)
            found.append((owner[which], figure, np.full(len(which), sign, dtype=np.intp)))
            if waits is not None:
                owner, hold = self._held.gather(runs)
                which, figure = waits[0].gather(hold)
                found.append((owner[which], figure, sign * waits[1].gather(hold)[1]))
            for own, fig, count in found:
                owners.append(own)
                figures.append(fig)
                counts.append(count)
        low, high, air = self._bounds()
        owner, figure, count = _left(np.concatenate(owners), np.concatenate(figures), np.concatenate(counts), len(low))
        ends = _ends(low[figure], high[figure], count)
        before = air[figure]
        rest = [_added(owner, end, ~before, len(first)) for end in ends]
        through = [_added(owner, end, before, len(first)) for end in ends]
        return Bounds(rest[0] + through[0], rest[1] + through[1], *through, *rest).rounded()

    def _bounds(self) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        low = np.array([span.low for span in self._spans], dtype=float)
        high = np.array([span.high for span in self._spans], dtype=float)
        return low, high, np.array(self._air, dtype=bool)


def _left(owner: Ints, figure: Ints, count: Ints, figures: int) -> tuple[Ints, Ints, Ints]:
    """Add up how often each pair has each figure, and leave out what cancels."""
    if not len(owner):
        return owner, figure, count
    key = owner * figures + figure
    order = np.argsort(key, kind="stable")
    key = key[order]
    starts = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
    summed = np.add.reduceat(count[order], starts)
    key, summed = key[starts][summed != 0], summed[summed != 0]
    return key // figures, key % figures, summed


def _ends(low: Floats, high: Floats, count: Ints) -> tuple[Floats, Floats]:
    """Return what figures that count so often add, low and high."""
    one, other = count * low, count * high
    return np.minimum(one, other), np.maximum(one, other)


def _added(owner: Ints, values: Floats, where: NDArray[np.bool_], pairs: int) -> Floats:
    owner, values = owner[where], values[where]
    known = np.isfinite(values)
    found = np.bincount(owner[known], values[known], minlength=pairs).astype(float)
    found[owner[~known]] = values[~known]  # all of one end are infinite the same way
    return found


__all__ = ["Bounds", "Spreads"]
