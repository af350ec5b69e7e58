"""What is done at each cue: loops OUT, inserts that change hands, loops IN; all of it belongs into the desk's cue.

A port that changes hands is written by two inserts, one after the other: the loop that leaves goes OUT and its insert
is unassigned before the one that comes is assigned, OUT, and taken IN. What has a tail has kept its port longer by
one cue.
"""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.cues import cue_changes, cue_numbers, stretches_in


@dataclass(frozen=True, slots=True)
class CueStep:
    """One thing that a cue does. cue: its number, None before the first of them. was, becomes: in words."""

    cue: float | None
    item: str
    was: str
    becomes: str


def patched_first(loops: tuple[PlacedLoop, ...]) -> tuple[PlacedLoop, ...]:
    """Return the loops that are patched before the show: of those that share a return the first to have it."""
    return tuple(
        loop
        for loop in loops
        if not any(
            other.returns.overlaps(loop.returns) and _begins(other) < _begins(loop)
            for other in loops
            if other.name != loop.name
        )
    )


def _begins(loop: PlacedLoop) -> float:
    return -1.0 if loop.from_cue is None else loop.from_cue


def cue_steps(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> tuple[CueStep, ...]:
    """Return what is set before the first cue and at each of them, in order; none where no cue changes a loop."""
    if not cue_numbers(show):
        return ()
    placed = {loop.name: loop for loop in loops}
    first = {loop.name for loop in patched_first(loops)}
    steps = [
        CueStep(None, _item(desk, loop), "IN", "OUT")
        for loop in sorted(loops, key=lambda loop: loop.name)
        if loop.name in first and loop.way != "in-line" and not stretches_in(show, loop.strip)[0]
    ]
    assigned = set(first)
    for change in cue_changes(show, loops):
        steps += [CueStep(change.cue, _item(desk, placed[name]), "IN", "OUT") for name in change.out]
        for name in change.into:
            loop = placed[name]
            if name not in assigned:
                left = [other for other in sorted(assigned) if placed[other].returns.overlaps(loop.returns)]
                for other in left:
                    steps.append(CueStep(change.cue, f"insert of {other}", _ports(placed[other]), "no insert"))
                assigned = (assigned - set(left)) | {name}
                steps.append(CueStep(change.cue, f"insert of {name}", "no insert", f"{_ports(loop)}, left OUT"))
            steps.append(CueStep(change.cue, _item(desk, loop), "OUT", "IN"))
    return tuple(steps)


def cue_words(cue: float | None) -> str:
    """Return how a cue is called."""
    return "before the first" if cue is None else f"cue {cue:g}"


def _item(desk: Desk, loop: PlacedLoop) -> str:
    return f"{loop.strip}: {desk.bypass.key}" if loop.way == "insert" else loop.strip


def _ports(loop: PlacedLoop) -> str:
    return f"send {loop.send}, return {loop.returns}"


__all__ = ["CueStep", "cue_steps", "cue_words", "patched_first"]
