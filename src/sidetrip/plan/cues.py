"""Over cues: who is IN between which cues, who may follow whom on the same ports, and what each cue changes.

A show falls into stretches: before its first cue that changes a loop, and from each such cue to the next. A loop
needs its ports from its first stretch to its last, and one stretch more when its chain has a tail: a return that
still rings is not opened for somebody else. Nothing changes inside a stretch.
"""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.show import Request, Show

Stretch = tuple[int, int]
"""First and last stretch in which a loop needs its ports, both included."""


@dataclass(frozen=True, slots=True)
class CueChange:
    """What one cue changes. into, out: loops that go IN and OUT. moved: (ports, loop before, loop from here on)."""

    cue: float
    into: tuple[str, ...]
    out: tuple[str, ...]
    moved: tuple[tuple[str, str, str], ...]


def cue_numbers(show: Show) -> tuple[float, ...]:
    """Return the cues that change a loop, in order; stretch 0 is before the first of them."""
    return tuple(sorted({float(cue.from_) for cue in show.cues or ()}))


def stretches_in(show: Show, strip: str) -> tuple[bool, ...]:
    """Return for each stretch whether a strip's loop is IN; what no cue names is IN throughout."""
    said = {float(cue.from_): cue.requests[strip] == "in" for cue in show.cues or () if strip in cue.requests}
    state = not said[min(said)] if said else True  # before a cue that takes it OUT it is IN, and the other way round
    states = [state]
    for cue in cue_numbers(show):
        state = said.get(cue, state)
        states.append(state)
    return tuple(states)


def needed(show: Show, request: Request) -> Stretch:
    """Return the stretches in which a request needs its ports, those in between and that of its tail included."""
    states = stretches_in(show, request.strip)
    last = len(states) - 1
    inside = [number for number, state in enumerate(states) if state]
    if not inside:
        return 0, last
    chain = show.chains.get(request.chain or "", ())
    rings = any(processor.settings.get("tail_ms") for processor in chain)
    return inside[0], min(inside[-1] + int(rings), last)


def overlap(one: Stretch, other: Stretch) -> bool:
    """Tell whether two loops need ports at the same time."""
    return one[0] <= other[1] and other[0] <= one[1]


def loops_out(show: Show, loops: tuple[PlacedLoop, ...]) -> tuple[tuple[float, frozenset[str]], ...]:
    """Return (cue, loops OUT from it on) for each cue. What goes in-line follows no cue: its block has one source."""
    by_cue = []
    for number, cue in enumerate(cue_numbers(show), 1):
        out = {loop.name for loop in loops if loop.way != "in-line" and not stretches_in(show, loop.strip)[number]}
        by_cue.append((cue, frozenset(out)))
    return tuple(by_cue)


def cue_changes(show: Show, loops: tuple[PlacedLoop, ...]) -> tuple[CueChange, ...]:
    """Return what each cue changes, for the operator and for the scenes of the desk."""
    placed = [loop for loop in sorted(loops, key=lambda loop: loop.name) if loop.way != "in-line"]
    states = {loop.name: stretches_in(show, loop.strip) for loop in placed}
    found = []
    for number, cue in enumerate(cue_numbers(show), 1):
        before = {loop.name for loop in placed if states[loop.name][number - 1]}
        after = {loop.name for loop in placed if states[loop.name][number]}
        moved = tuple(
            (str(loop.returns), other.name, loop.name)
            for loop in placed
            if loop.name in after - before
            for other in placed
            if other.name != loop.name and other.returns.overlaps(loop.returns) and not any(states[other.name][number:])
        )
        found.append(CueChange(cue, tuple(sorted(after - before)), tuple(sorted(before - after)), moved))
    return tuple(found)


__all__ = [
    "CueChange",
    "Stretch",
    "cue_changes",
    "cue_numbers",
    "loops_out",
    "needed",
    "overlap",
    "stretches_in",
]
