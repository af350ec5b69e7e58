"""Holds an allocation of a drawn case against the rules, looking only at its loops, ports and block settings."""

from __future__ import annotations

from itertools import combinations

from bruteforce_cases import Case, Wish
from bruteforce_rules import (
    Score,
    Serving,
    counts,
    lawful,
    lines_used,
    places_of,
    stretches,
    together,
    torn,
)
from bruteforce_settings import NONE, blocks_of, one_meaning, opened, stays
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.ports import Ports
from sidetrip.plan.assign import Allocation


def serving_of(own: Case, found: Allocation) -> Serving:
    """Return the unit of each request in the order of the case."""
    units = {(loop.strip, loop.way): loop.unit for loop in found.loops if not loop.blank}
    return tuple(units.get((wish.strip, wish.way)) for wish in own.wishes)


def score_of(own: Case, found: Allocation) -> Score:
    """Return the score of an allocation, counted from what it says."""
    serving = serving_of(own, found)
    free = {(wish.strip, wish.way) for wish in own.wishes if wish.way == "insert" and wish.pin is None}
    places = {(loop.unit, loop.returns) for loop in found.loops if (loop.strip, loop.way) in free}
    lost = sum(len(setting.lost) for setting in found.settings)
    return (*counts(own, serving), -torn(own, serving), len(places) if own.cues else 0, -lost)


def broken(own: Case, found: Allocation) -> list[str]:
    """Return every rule that an allocation breaks."""
    serving = serving_of(own, found)
    wrong = [] if lawful(own, serving) else ["a rule that is not about ports is broken"]
    wrong += [
        f"{wish.strip} must go out"
        for wish, unit in zip(own.wishes, serving, strict=True)
        if wish.want == "must" and unit is None
    ]
    asked: dict[tuple[str, str], Wish] = {(wish.strip, wish.way): wish for wish in own.wishes}
    said = {(setting.block, setting.becomes) for setting in found.settings}
    legal = tuple(
        change
        for row in blocks_of(own)
        for change in row
        if change is not None and (change.block, change.becomes) in said
    )
    changed = {(change.to, change.first + n) for change in legal for n in range(change.count)}
    if len(legal) < len(said) or changed & stays(own) or not one_meaning(legal):
        return [*wrong, f"these blocks cannot be set together: {sorted(said)}"]
    open_ = opened(own, legal)
    if open_.lines != lines_used(own, serving) or open_.whole != open_.lines:
        wrong.append("a block of channels goes in-line without being asked, or not whole")
    brought = {
        (change.to, change.first + n): (change.source, change.start + n)
        for change in legal
        for n in range(change.count)
    }
    for loop in found.loops:
        wish = asked.get((loop.strip, loop.way))
        if wish is None and not (loop.blank and loop.way == "in-line"):
            wrong.append(f"nobody asked for {loop.name}")
        if wish is not None and not loop.blank:
            wrong += _misplaced(own, wish, loop)
            wrong += _out_of_reach(own, loop, brought, open_.jacks)
    return wrong + _shared(own, found, asked)


def _misplaced(own: Case, wish: Wish, loop: PlacedLoop) -> list[str]:
    runs = (loop.send, loop.returns, loop.unit_in, loop.unit_out)
    wrong = []
    if loop.way != "in-line" and any(len(run) != wish.width or (wish.width == 2 and not run.odd_even) for run in runs):
        wrong.append(f"{wish.strip} is half a loop, or not left on odd")
    if loop.unit not in own.units_for(wish):
        wrong.append(f"{wish.strip} runs on a unit it did not ask for")
    if loop.way == "insert" and wish.pin is not None and (loop.send.first, loop.returns.first) != (wish.pin, wish.pin):
        wrong.append(f"{wish.strip} is not where it is pinned")
    if loop.way == "send-and-strip" and (loop.send.first, loop.returns.first) != (wish.send, wish.back):
        wrong.append(f"{wish.strip} does not leave and come back where it is written")
    kept = set(own.kept)
    mine = runs if loop.way != "in-line" else (loop.returns,)
    if any((port.group, port.number) in kept for run in mine for port in run.each):
        wrong.append(f"{wish.strip} sits on a kept port")
    if loop.way == "insert":
        places = places_of(own, wish, loop.unit, NONE)
        if frozenset(port.number for port in loop.returns.each) not in places:
            wrong.append(f"{wish.strip} is on no place for it")
    return wrong


def _out_of_reach(
    own: Case, loop: PlacedLoop, brought: dict[tuple[str, int], tuple[str, int]], jacks: frozenset[int]
) -> list[str]:
    """Follow each leg from its send to the unit and back, through what the blocks bring."""
    if loop.unit not in own.cards:
        at_jack = loop.returns.group != "aux in" or {port.number for port in loop.returns.each} <= jacks
        return (
            []
            if at_jack and (loop.unit_in, loop.unit_out) == (loop.send, loop.returns)
            else [f"{loop.name} is not at its jack"]
        )
    wrong = []
    for send, into in zip(loop.send.each, loop.unit_in.each, strict=True):
        source = brought.get((into.group, into.number), ("stage", into.number))
        if into.group != f"{loop.unit} out" or source != (send.group, send.number):
            wrong.append(f"{loop.name} does not reach {loop.unit} from {send}")
    strip = own.strip(loop.strip) if loop.way == "in-line" else None
    for number, (back, into) in enumerate(zip(loop.returns.each, loop.unit_out.each, strict=True)):
        to = ("channel", strip.ch + number) if strip is not None else (back.group, back.number)
        if into.group != f"{loop.unit} in" or brought.get(to) != (into.group, into.number):
            wrong.append(f"{loop.name} does not come back from {loop.unit} on {to}")
    return wrong


def _shared(own: Case, found: Allocation, asked: dict[tuple[str, str], Wish]) -> list[str]:
    """Find two loops that send, or come back, on one port at the same time."""
    wrong = []
    for one, other in combinations([loop for loop in found.loops if loop.way in ("insert", "send-and-strip")], 2):
        meet = together(stretches(own, asked[one.strip, one.way]), stretches(own, asked[other.strip, other.way]))
        if meet and (one.send.overlaps(other.send) or one.returns.overlaps(other.returns)):
            wrong.append(f"{one.name} and {other.name} share a port")
    inputs: list[Ports] = [loop.unit_out for loop in found.loops if loop.unit in own.cards]
    again = [str(run) for run, more in combinations(inputs, 2) if run.overlaps(more)]
    return wrong if own.cues else [*wrong, *(f"{run} has two meanings" for run in again)]
