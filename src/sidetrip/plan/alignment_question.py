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
from sidetrip.plan.alignment_pairs import Pair, Watched, Zone
from sidetrip.plan.alignment_program import Answer, Condition, Ear, Question
from sidetrip.plan.ears import heard_ways
from sidetrip.units import frames_from_seconds, seconds_from_ms

COMFORT_MS = 10.0
"""Above this, many performers refuse what they hear of themselves in their ears; common practice, no source."""

MAX_CONDITIONS = 120
"""No more pairs and states than these are weighed against each other: the deepest grade first, in it line by line.

Whole lines are weighed so; single pairs picked across all lines would make a question that takes longer and says less.
"""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, and what it is about. left_out: conditions that were too many."""

    question: Question
    lines: tuple[Line, ...]
    moves: tuple[Move, ...]
    watched: tuple[Watched, ...]
    left_out: int

    def dialled(self, answer: Answer) -> dict[Place, float]:
        """Return the frames that an answer adds to each line, by its place."""
        return {line.place: more for line, more in zip(self.lines, answer.dialled(self.lines), strict=True)}

    def made(self, answer: Answer) -> tuple[Move, ...]:
        """Return the moves that an answer makes."""
        return tuple(move for move, own in zip(self.moves, answer.moved, strict=True) if own)

    def shifts(self, pair: Pair, dialled: Mapping[Place, float], made: Sequence[Move]) -> tuple[float, ...]:
        """Return by how many frames the second of a pair is shifted against the first in each state."""
        frames = sum(dialled[place] * factor for place, factor in pair.lines.items())
        own = _shifting(pair, made)
        return tuple(frames + sum(more for _, more in _moves(own, watched)) for watched in self.watched)


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
    rate, coarse = show.sample_rate, own.coarse
    found: dict[tuple[object, ...], Condition] = {}
    asking = []
    for pair in pairs:
        if pair.cancels or pair.harmless or is_accepted(show.accept, pair):
            continue
        factors = tuple(sorted((number_of[at], factor) for at, factor in pair.lines.items() if at in number_of))
        shifting = _shifting(pair, moves)
        if not shifting and not any(lines[line].open for line, _ in factors):
            continue  # nothing shifts it
        running = any(here.runs and pair.verdict(number, rate) == "apart" for number, here in enumerate(watched))
        asking.append((pair, factors, shifting, running))
    for runs in (True, False):  # what also counts while the show runs counts once
        states = [number for number, here in enumerate(watched) if here.runs is runs]
        for pair, factors, shifting, running in asking:
            seen: set[tuple[object, ...]] = set()
            for state in states:
                own_moves = _moves(shifting, watched[state]) if shifting else ()
                key = id(pair.states[state]), own_moves
                if key in seen:
                    continue
                seen.add(key)
                if not own_moves and not any(lines[line].open for line, _ in factors):
                    continue
                zones = _zones(pair, state, rate, runs=runs or running, coarse=coarse)
                if zones:
                    ends = tuple((round(a, 4), round(b, 4)) for (a, b), _ in zones)
                    condition = Condition(pair.grade, runs, factors, own_moves, zones)
                    found.setdefault((pair.grade, factors, own_moves, ends), condition)
    ranked = sorted(found.values(), key=lambda one: (-one.grade, not one.runs, one.lines, one.moves, one.zones))
    kept = tuple(ranked[:MAX_CONDITIONS])
    ears = _ears(show, passing, arrivals, watched[0], number_of, moves)
    question = Question(lines, tuple(move.price for move in moves), kept, ears)
    return Asked(question, lines, moves, watched, len(found) - len(kept))


def is_accepted(accept: Sequence[Accepted], pair: Pair) -> bool:
    """Tell whether somebody accepts a pair by name at all its places."""
    loops = set(pair.loops)
    return bool(loops) and all(
        any(own.at == place and loops <= set(own.loops) for own in accept) for place in pair.places
    )


def _zones(pair: Pair, state: int, rate_hz: int, *, runs: bool, coarse: bool) -> tuple[Zone, ...]:
    """Return the shifts that bring a pair together in a state; none where it asks for nothing there.

    runs: whether the show runs in it, or the pair is apart in another state that it runs in.
    """
    between = pair.states[state]
    together = pair.verdict(state, rate_hz) == "together"
    if between.alone or not (together or (between.exact and pair.levels)):
        return ()
    if not (runs or together):
        return ()  # nothing is dialled for a state that nobody runs the show in
    if pair.kind == "electrical" and coarse and not together:
        return ()  # whole steps would meet it by luck only
    return pair.zones(state, rate_hz)


def _shifting(pair: Pair, moves: Sequence[Move]) -> tuple[tuple[int, float, str], ...]:
    """Return the moves that shift a pair: their number, by how many frames, and beside which loop."""
    if not pair.edges:
        return ()
    counts = [(number, move, pair.edges.get(move.edge, 0)) for number, move in enumerate(moves)]
    return tuple((number, count * move.frames, move.beside) for number, move, count in counts if count)


def _moves(shifting: tuple[tuple[int, float, str], ...], watched: Watched) -> tuple[tuple[int, float], ...]:
    return tuple((number, frames) for number, frames, beside in shifting if beside not in watched.state.out)


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
