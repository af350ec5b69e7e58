"""From pairs to the question that the integer program answers: which of them count, in which states, which ears."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sidetrip.graph.arrivals import Arrivals
from sidetrip.model.house import Accepted
from sidetrip.model.show import Show
from sidetrip.plan.alignment_lines import DeskLines, Line, Passing, Place
from sidetrip.plan.alignment_moves import Move
from sidetrip.plan.alignment_pairs import Pair, Watched
from sidetrip.plan.alignment_program import Answer, Condition, Ear, Question
from sidetrip.plan.ears import heard_ways
from sidetrip.units import frames_from_seconds, seconds_from_ms

COMFORT_MS = 10.0
"""Above this, many performers refuse what they hear of themselves in their ears; common practice, no source."""

MAX_CONDITIONS = 120
"""No more pairs and states than these are weighed against each other; the deepest are kept."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, and what it is about. left_out: conditions that were too many."""

    question: Question
    lines: tuple[Line, ...]
    moves: tuple[Move, ...]
    watched: tuple[Watched, ...]
    left_out: int

    def move_frames(self, pair: Pair, number: int) -> tuple[tuple[int, float], ...]:
        """Return what each move adds to the spread of a pair in a state, by number of the move."""
        return _moves(pair, self.moves, self.watched[number])

    def shift(self, pair: Pair, number: int, answer: Answer) -> float:
        """Return by how many frames an answer shifts the second of a pair against the first in a state."""
        dialled = {line.place: more for line, more in zip(self.lines, answer.dialled(self.lines), strict=True)}
        frames = sum(dialled[place] * factor for place, factor in pair.lines.items())
        return frames + sum(more * answer.moved[move] for move, more in self.move_frames(pair, number))


def ask(
    show: Show,
    passing: Passing,
    arrivals: Arrivals,
    watched: tuple[Watched, ...],
    pairs: Sequence[Pair],
    lines: tuple[Line, ...],
    moves: tuple[Move, ...],
    own: DeskLines,
) -> Asked:
    """Return what is asked: every pair in every state that a line or a move can shift, and the ears on the way.

    A pair that is apart in other states only, and not while the show runs, asks for nothing.
    """
    number_of = {line.place: number for number, line in enumerate(lines)}
    found: dict[tuple[object, ...], Condition] = {}
    for runs in (True, False):  # what also counts while the show runs counts once
        for pair in pairs:
            if pair.cancels or pair.harmless or is_accepted(show.accept, pair):
                continue
            running = any(
                here.runs and pair.gap(number, 0.0, show.sample_rate).verdict == "apart"
                for number, here in enumerate(watched)
            )
            for state in range(len(watched)):
                if watched[state].runs is runs:
                    given = number_of, lines, moves, own
                    condition = _condition(show, pair, state, watched[state], *given, running=running)
                    if condition is not None:
                        zones = tuple((round(a, 4), round(b, 4)) for (a, b), _ in condition.zones)
                        key = (condition.grade, condition.lines, condition.moves, zones)
                        found.setdefault(key, condition)
    ranked = sorted(found.values(), key=lambda one: (-one.grade, not one.runs, one.lines, one.moves, one.zones))
    kept = tuple(ranked[:MAX_CONDITIONS])
    ears = _ears(show, passing, arrivals, watched[0], number_of, moves)
    question = Question(lines, tuple(move.price for move in moves), kept, ears)
    return Asked(question, lines, moves, watched, len(ranked) - len(kept))


def is_accepted(accept: Sequence[Accepted], pair: Pair) -> bool:
    """Tell whether somebody accepts a pair by name at all its places."""
    loops = set(pair.loops)
    return bool(loops) and all(
        any(own.at == place and loops <= set(own.loops) for own in accept) for place in pair.places
    )


def _condition(
    show: Show,
    pair: Pair,
    state: int,
    watched: Watched,
    number_of: Mapping[Place, int],
    lines: Sequence[Line],
    moves: tuple[Move, ...],
    own: DeskLines,
    *,
    running: bool,
) -> Condition | None:
    between = pair.states[state]
    together = pair.gap(state, 0.0, show.sample_rate).verdict == "together"
    if between.alone or not (together or (between.exact and pair.levels)):
        return None
    if not (watched.runs or together or running):
        return None  # nothing is dialled for a state that nobody runs the show in
    if pair.kind == "electrical" and own.coarse and not together:
        return None  # whole steps would meet it by luck only
    factors = tuple(sorted((number_of[place], factor) for place, factor in pair.lines.items() if place in number_of))
    shifts = _moves(pair, moves, watched)
    zones = pair.zones(state, show.sample_rate)
    if not zones or not (shifts or any(lines[line].open for line, _ in factors)):
        return None
    return Condition(pair.grade, watched.runs, factors, shifts, zones)


def _moves(pair: Pair, moves: tuple[Move, ...], watched: Watched) -> tuple[tuple[int, float], ...]:
    counts = [(number, pair.edges.get(move.edge, 0)) for number, move in enumerate(moves)]
    return tuple(
        (number, count * moves[number].frames)
        for number, count in counts
        if count and moves[number].beside not in watched.state.out
    )


def _ears(
    show: Show,
    passing: Passing,
    arrivals: Arrivals,
    running: Watched,
    number_of: Mapping[Place, int],
    moves: tuple[Move, ...],
) -> tuple[Ear, ...]:
    """Return every way to ears that a line or a move makes later, with what the show's limit leaves of it."""
    rate, limit_ms = show.sample_rate, show.limits.ear_total_ms
    limit = math.inf if limit_ms is None else frames_from_seconds(seconds_from_ms(limit_ms), rate)
    comfort = frames_from_seconds(seconds_from_ms(COMFORT_MS), rate)
    indices = {id(row): index for index, row in enumerate(arrivals.rows)}
    late = arrivals.times(running.state).high
    found: dict[tuple[object, ...], Ear] = {}
    for mix, _, way in heard_ways(show, arrivals):
        frames = float(late[indices[id(way)]]) * rate
        if not math.isfinite(frames):
            continue
        factors: dict[int, int] = {}
        for place in passing.places(way):
            if place in number_of:
                factors[number_of[place]] = factors.get(number_of[place], 0) + 1
        shifts = tuple((n, move.passes(way) * move.frames) for n, move in enumerate(moves) if move.passes(way))
        if factors or shifts:
            room = max(0.0, limit - frames)
            key = (mix, tuple(sorted(factors.items())), shifts, round(room, 4), round(frames, 4))
            found[key] = Ear(mix, tuple(sorted(factors.items())), shifts, room, frames - comfort)
    return tuple(found[key] for key in sorted(found, key=repr))
