"""Alignment: what to dial, and what to patch otherwise, so that what meets arrives together.

Repairs are listed best first: those that follow a bypass before those that do not. The numbers come from an integer
program in frames (`alignment_program`); nothing is dialled on a time that is a range or unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from sidetrip.graph.arrivals import Arrivals, State
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Figure, figure
from sidetrip.model.show import Input, Mix, Output, Show
from sidetrip.plan.alignment_lines import Line, Passing, desk_lines, lines_of
from sidetrip.plan.alignment_moves import find_moves, move_edges, moved_show
from sidetrip.plan.alignment_outcome import Outcome
from sidetrip.plan.alignment_pairs import Pair, Watched, find_pairs, watched_states
from sidetrip.plan.alignment_question import ask
from sidetrip.plan.alignment_result import NOTHING_ALIGNED, Aligned, Alignment, Lacking, Repair, RepairKind, Setting
from sidetrip.plan.alignment_solver import solve
from sidetrip.plan.alignment_words import aligned, untold
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.recovery import GroupKey
from sidetrip.units import ms_from_seconds, seconds_from_frames

_Item = TypeVar("_Item", Input, Mix, Output)


def align(
    show: Show,
    desk: Desk,
    loops: tuple[PlacedLoop, ...],
    line_map: LineMap,
    arrivals: Arrivals,
    states: tuple[State, ...],
    meetings: tuple[Meeting, ...],
    unit_times: Mapping[str, UnitTime],
    spare: tuple[str, ...] = (),
    keys: tuple[GroupKey, ...] = (),
) -> Alignment:
    """Return what to dial for the meetings of a plan. spare: return ports that carry nothing, for blank loops."""
    own = desk_lines(show, desk)
    if not any(meeting.verdict == "apart" or meeting.apart_in for meeting in meetings):
        measure = sorted({meeting.deciding for meeting in meetings if meeting.deciding})
        quiet = tuple(untold(meeting) for meeting in meetings if meeting.verdict == "cannot tell")
        return Alignment((), (), quiet, tuple(measure), own, True, 0)
    watched = watched_states(states, arrivals.loops)
    passing = Passing(show, desk)
    edges = move_edges(show, desk, loops, line_map)
    pairs, too_many = find_pairs(show, passing, line_map, arrivals, watched, edges)
    lines = lines_of(show, desk, own)
    curable = [pair for pair in pairs if pair.grade and _apart_running(show, pair, watched)]
    moves = find_moves(show, desk, line_map, loops, spare, unit_times, curable)
    asked = ask(show, passing, arrivals, watched, pairs, lines, moves, own)
    answer = solve(asked.question)
    outcome = Outcome(show, desk, line_map, arrivals, loops, pairs, own, asked, answer, passing, spare, keys)
    found = tuple(one for meeting in meetings if (one := aligned(outcome, meeting)) is not None)
    settings = tuple(
        _setting(outcome, line, steps) for line, steps in zip(lines, answer.steps, strict=True) if steps is not None
    )
    made = tuple(move for move, moved in zip(moves, answer.moved, strict=True) if moved)
    figures = {*own.missing, *(m.deciding for m in meetings if m.deciding)}
    figures |= {w for one in found if one.verdict == "measure first" and (w := _figure(outcome, one)) is not None}
    return Alignment(
        settings, made, found, tuple(sorted(figures)), own, answer.proven, too_many + asked.left_out, answer.open
    )


def _figure(outcome: Outcome, one: Aligned) -> str | None:
    """Return the figure that a meeting waits for, as its words have it."""
    figure_of = one.why.removeprefix("Measure ").removesuffix(" first.")
    return one.meeting.deciding or (figure_of if figure_of != one.why else None)


def _apart_running(show: Show, pair: Pair, watched: Iterable[Watched]) -> bool:
    return any(
        own.runs and pair.gap(number, 0.0, show.sample_rate).verdict == "apart" for number, own in enumerate(watched)
    )


def _setting(outcome: Outcome, line: Line, steps: int) -> Setting:
    """Return a setting, and whether it is wrong when the loops are OUT that it is dialled for."""
    wrong: set[str] = set()
    for pair in outcome.pairs:
        if line.place not in pair.lines or not pair.loops:
            continue
        if (outcome.before(pair, 1).verdict, outcome.after(pair, 1).verdict) == ("together", "apart"):
            wrong |= set(pair.loops)
    rate, (on, name) = outcome.show.sample_rate, line.place
    was, now = seconds_from_frames(line.now, rate), seconds_from_frames(steps * line.step, rate)
    loops, out = tuple(sorted(wrong)), was if wrong else now
    undo = outcome.undo(loops, out) if wrong else ""
    return Setting(on, name, was, now, out, steps, steps * line.step, loops, undo)


def aligned_show(show: Show, desk: Desk, alignment: Alignment) -> Show:
    """Return the show with everything dialled and every tap moved, to be planned again. Blank loops are loops."""
    dialled: dict[tuple[str, str], Figure] = {
        (own.on, own.name): figure(ms_from_seconds(own.in_s)) for own in alignment.settings
    }
    moved = moved_show(show, desk, alignment.moves)

    def with_delay(on: str, item: _Item) -> _Item:
        found = dialled.get((on, item.name))
        return item if found is None else item.model_copy(update={"delay_ms": found})

    return moved.model_copy(
        update={
            "inputs": tuple(with_delay("strip", item) for item in moved.inputs),
            "mixes": tuple(with_delay("strip", mix) for mix in moved.mixes),
            "outputs": tuple(with_delay("output", output) for output in moved.outputs),
        }
    )


__all__ = [
    "NOTHING_ALIGNED",
    "Aligned",
    "Alignment",
    "Lacking",
    "Repair",
    "RepairKind",
    "Setting",
    "align",
    "aligned_show",
]
