"""Moves in a safe order: the usual order of the trade where it is safe, another where it is not.

A move sets one thing, or a few that are set together. An order is safe when no tick on the way holds a danger that
neither the first nor the last tick has, and no move changes what something IN passes. A danger that only the last tick
has is named as a gap until the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sidetrip.plan.judge import Danger, Dangers, Judge, Judged
from sidetrip.plan.tick import Settings, Tick

TRIES = 4000
"""How many ticks are judged in search of a safe order before one with the fewest dangers is taken instead."""


@dataclass(frozen=True, slots=True)
class Move:
    """Something to set. rank: its place in the usual order. after: moves that must have gone before, by index."""

    rank: tuple[int, ...]
    sets: Settings
    after: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Gap:
    """A danger that no order avoids: from right after one move until right after another, by their places."""

    danger: Danger
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Ordered:
    """Moves by index in the order to make them. gaps: what could not be avoided. whole: every order was tried."""

    order: tuple[int, ...]
    gaps: tuple[Gap, ...]
    whole: bool


def judged(judges: Sequence[Judge], tick: Tick) -> Judged:
    """Judge a tick by several judges: what is dangerous to any of them is dangerous. The last knows the ways best."""
    if len(judges) == 1:
        return judges[0].judge(tick)
    each = [judge.judge(tick) for judge in judges]
    found = {replace(danger, by=number) for number, one in enumerate(each) for danger in one.dangers}
    return Judged(frozenset(found), {name: way for one in each for name, way in one.ways_in.items()})


def safe_order(start: Tick, moves: Sequence[Move], judges: Sequence[Judge], tries: int = TRIES) -> Ordered:
    """Order the moves. Where no safe order is found, one whose dangers are few, each named as a gap.

    The search goes deep first, by rank, and never looks twice at what is left of the same moves: what is set does not
    depend on the order in which it was.
    """
    end = start
    for move in sorted(moves, key=lambda move: len(move.after)):
        end = end.having(move.sets)
    first, last = judged(judges, start).dangers, judged(judges, end).dangers
    search = _Search(start, moves, judges, first | last, tries)
    order = search.run()
    made = Ordered(tuple(order), (), whole=True) if order is not None else None
    made = made or _with_gaps(start, moves, judges, first | last, whole=search.tries > 0)
    staying = {danger for danger in last - first if danger.by == len(judges) - 1}
    return replace(made, gaps=(*made.gaps, *_until_the_end(start, moves, judges, made.order, staying)))


def _until_the_end(
    start: Tick, moves: Sequence[Move], judges: Sequence[Judge], order: Sequence[int], staying: set[Danger]
) -> list[Gap]:
    """Name the dangers that the last tick holds, from the move that brings them."""
    gaps: list[Gap] = []
    tick = start
    for place, index in enumerate(order if staying else ()):
        tick = tick.having(moves[index].sets)
        now = judged(judges, tick).dangers & staying
        gaps += [Gap(danger, place, len(order) - 1) for danger in sorted(now)]
        staying = staying - now
    return gaps


class _Search:
    def __init__(
        self, start: Tick, moves: Sequence[Move], judges: Sequence[Judge], allowed: Dangers, tries: int
    ) -> None:
        self.start, self.moves, self.judges, self.allowed, self.tries = start, moves, judges, allowed, tries
        self.ranked = sorted(range(len(moves)), key=lambda index: (moves[index].rank, index))

    def run(self) -> list[int] | None:
        """Return the first safe order by rank; None when there is none, or when the tries are used up."""
        done: list[int] = []
        made: set[int] = set()
        ticks = [(self.start, judged(self.judges, self.start))]
        waiting = [iter(self.ranked)]
        hopeless: set[frozenset[int]] = set()
        while len(done) < len(self.moves):
            index = next(waiting[-1], None)
            if index is None:
                hopeless.add(frozenset(made))
                if not done:
                    return None
                waiting.pop()
                ticks.pop()
                made.discard(done.pop())
                continue
            if index in made or not made.issuperset(self.moves[index].after):
                continue
            if hopeless and frozenset((*made, index)) in hopeless:
                continue
            if self.tries <= 0:
                return None
            self.tries -= 1
            before, was = ticks[-1]
            tick = before.having(self.moves[index].sets)
            now = judged(self.judges, tick)
            if (now.dangers | was.disturbed_by(now)) - self.allowed:
                continue
            done.append(index)
            made.add(index)
            ticks.append((tick, now))
            waiting.append(iter(self.ranked))
        return done


def _with_gaps(
    start: Tick, moves: Sequence[Move], judges: Sequence[Judge], allowed: Dangers, *, whole: bool
) -> Ordered:
    """Go by rank, and where nothing is safe take what adds the fewest dangers, a ring last of all."""
    tick, was, left, order = start, judged(judges, start), set(range(len(moves))), list[int]()
    began: dict[Danger, int] = {}
    gaps: list[Gap] = []
    while left:
        ready = [index for index in left if not set(moves[index].after) & left]
        tried = {index: judged(judges, tick.having(moves[index].sets)) for index in ready}
        found = {index: (now.dangers | was.disturbed_by(now)) - allowed for index, now in tried.items()}

        def cost(index: int, found: dict[int, Dangers] = found) -> tuple[int, int, tuple[int, ...], int]:
            own = found[index]
            return sum(danger.kind == "ring" for danger in own), len(own), moves[index].rank, index

        best = min(ready, key=cost)
        place = len(order)
        order.append(best)
        left.discard(best)
        now = tried[best]
        gaps += [Gap(danger, place, place) for danger in was.disturbed_by(now) - allowed]
        present = now.dangers - allowed
        gaps += [Gap(danger, first, place) for danger, first in began.items() if danger not in present]
        began = {danger: began.get(danger, place) for danger in present}
        tick, was = tick.having(moves[best].sets), now
    gaps += [Gap(danger, first, len(order) - 1) for danger, first in began.items()]
    return Ordered(tuple(order), tuple(sorted(gaps, key=lambda gap: (gap.first, gap.danger))), whole)
