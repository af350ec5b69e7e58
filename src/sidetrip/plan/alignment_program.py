"""What to dial so that what meets arrives together: an integer program, one aim after the other, solved by CP-SAT.

Sets       l in L delay lines; m in M moves (a tap, a blank loop); c in C conditions (a pair in a state)
Variables  n[l] steps dialled on l, whole, 0 to its longest; w[l] 1 where that is not what the show has; z[m] 1 where a
           move is made; u[c,k] 1 where c is together in its k-th zone; r[c] frames short of the best of that zone
Shift      t[c] = Σ lines[c,l] · (step · n[l] - now[l] · w[l]) + Σ moves[c,m] · z[m], in frames
Rows       n[l] ≤ most · w[l];  Σ_k u[c,k] ≤ 1;  zone start ≤ t[c] ≤ zone end where u[c,k] = 1
           ears: t[e] ≤ room[e], what the limit leaves, or nothing where they are late already
Aims       1 apart and hollow, while the show runs    2 the same in the other states
           3 apart and worth a warning, running       4 the same in the other states
           5 lines dialled: they do not follow a bypass   6 moves: a tap counts 1, a blank loop 2
           7 ears beyond comfort   8 which lines: outputs before strips, then by name; they are settled with this
           9 slight, running    10 slight, other states    11 Σ r while running    12 Σ step · n, the least delay
           13 steps by name, so that one answer is left
Only moves follow a bypass, so what they cure is together in more states: aims 2 and 4 prefer them to lines.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sidetrip.plan.alignment_lines import Line
from sidetrip.plan.alignment_pairs import Zone

CLOSE_FRAMES = 1e-4
"""Sums of times in frames are this exact."""


@dataclass(frozen=True, slots=True)
class Condition:
    """A pair in a state. lines: factor by number of the line; moves: frames by number of the move.

    grade: 2 hollow, 1 worth a warning, 0 slight. runs: whether the show runs in this state.
    """

    grade: int
    runs: bool
    lines: tuple[tuple[int, int], ...]
    moves: tuple[tuple[int, float], ...]
    zones: tuple[Zone, ...]

    def shift(self, dialled: Sequence[float], moved: Sequence[int]) -> float:
        """Return by how many frames it is shifted. dialled: frames added to each line; moved: 1 where one is made."""
        return _shift(self, dialled, moved)

    def short(self, shift: float) -> float | None:
        """Return how many frames short of the best it is after a shift, None where it is apart."""
        found = None
        for (start, end), (best, last) in self.zones:
            if start - CLOSE_FRAMES <= shift <= end + CLOSE_FRAMES:
                own = max(0.0, best - shift, shift - last)
                found = own if found is None else min(found, own)
        return found


@dataclass(frozen=True, slots=True)
class Ear:
    """One way to somebody's ears. room: frames that it may get later; over: frames beyond comfort now."""

    mix: str
    lines: tuple[tuple[int, int], ...]
    moves: tuple[tuple[int, float], ...]
    room: float
    over: float

    def later(self, dialled: Sequence[float], moved: Sequence[int]) -> float:
        """Return by how many frames it gets later."""
        return _shift(self, dialled, moved)


def _shift(own: Condition | Ear, dialled: Sequence[float], moved: Sequence[int]) -> float:
    frames = sum(dialled[line] * factor for line, factor in own.lines)
    return frames + sum(more * moved[move] for move, more in own.moves)


@dataclass(frozen=True, slots=True)
class Question:
    """All that is asked. prices: of each move, 1 or 2."""

    lines: tuple[Line, ...]
    prices: tuple[int, ...]
    conditions: tuple[Condition, ...]
    ears: tuple[Ear, ...]


@dataclass(frozen=True, slots=True)
class Open:
    """An aim that the search was cut short in. found: what the answer has; least: what no answer is below."""

    aim: str
    found: float
    least: float


@dataclass(frozen=True, slots=True)
class Answer:
    """steps: dialled on each line, None where it stays as it is. moved: 1 where a move is made.

    open: the aims in which the search was cut short; the answer then is the best that was found.
    """

    steps: tuple[int | None, ...]
    moved: tuple[int, ...]
    open: tuple[Open, ...] = ()

    @property
    def proven(self) -> bool:
        """Tell whether no better answer exists."""
        return not self.open

    @property
    def nothing(self) -> bool:
        """Tell whether nothing is dialled and nothing is moved."""
        return not any(self.moved) and all(steps is None for steps in self.steps)

    def dialled(self, lines: Sequence[Line]) -> list[float]:
        """Return the frames added to each line."""
        return [
            0.0 if steps is None else steps * line.step - line.now
            for steps, line in zip(self.steps, lines, strict=True)
        ]


def rank_of(line: int) -> float:
    """Return what dialling a line counts as in aim 8; sets of as many lines hardly ever count the same."""
    return line + 1 + (line + 1) ** 2 / 1000


def aims_of(question: Question, answer: Answer) -> tuple[float, ...]:
    """Return the value of aims 1 to 12 of an answer, by their definition."""
    dialled = answer.dialled(question.lines)
    short = [own.short(own.shift(dialled, answer.moved)) for own in question.conditions]

    def apart(grade: int, *, runs: bool) -> int:
        each = zip(question.conditions, short, strict=True)
        return sum(own.grade == grade and own.runs is runs and found is None for own, found in each)

    over: defaultdict[str, float] = defaultdict(float)
    for ear in question.ears:
        over[ear.mix] = max(over[ear.mix], ear.over + ear.later(dialled, answer.moved))
    runs = zip(question.conditions, short, strict=True)
    return (
        apart(2, runs=True),
        apart(2, runs=False),
        apart(1, runs=True),
        apart(1, runs=False),
        sum(steps is not None for steps in answer.steps),
        sum(price * made for price, made in zip(question.prices, answer.moved, strict=True)),
        sum(over.values()),
        sum(rank_of(n) for n, steps in enumerate(answer.steps) if steps is not None),
        apart(0, runs=True),
        apart(0, runs=False),
        sum(found for own, found in runs if own.runs and found is not None),
        sum(line.now + more for line, more in zip(question.lines, dialled, strict=True)),
    )


def fits(question: Question, answer: Answer) -> bool:
    """Tell whether an answer keeps the hard limits: what lines can, and what ears accept."""
    dialled = answer.dialled(question.lines)
    able = all(
        steps is None or (line.open and 0 <= steps <= line.most)
        for steps, line in zip(answer.steps, question.lines, strict=True)
    )
    heard = all(ear.later(dialled, answer.moved) <= ear.room + CLOSE_FRAMES for ear in question.ears)
    return able and heard


__all__ = ["CLOSE_FRAMES", "Answer", "Condition", "Ear", "Open", "Question", "aims_of", "fits", "rank_of"]
