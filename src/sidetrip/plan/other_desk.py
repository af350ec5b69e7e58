"""What changes when one show is planned another way: on another desk type, at another rate or with other ports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.span import Span
from sidetrip.plan.planner import Plan
from sidetrip.units import ms_from_seconds

ChangeKind = Literal["goes out", "ports", "delay", "lost", "presses", "warning"]


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that differs. what: the loop, block or finding it is about; was, becomes: in words."""

    kind: ChangeKind
    what: str
    was: str
    becomes: str

    def __str__(self) -> str:
        return f"{self.what}: {self.was} → {self.becomes}"


def changes(one: Plan, other: Plan) -> tuple[Change, ...]:
    """Return what changes from one plan to another of the same show, loops first, sorted within each kind."""
    found: list[Change] = []
    ones, others = ({(loop.name, loop.way): loop for loop in plan.allocation.loops} for plan in (one, other))
    for name, way in sorted({*ones, *others}):
        was, becomes = ones.get((name, way)), others.get((name, way))
        if was is None or becomes is None:
            words = ["out" if loop is not None else "stays in" for loop in (was, becomes)]
            found.append(Change("goes out", f"loop {name}", *words))
    both = sorted({*ones} & {*others})
    for key in both:
        paths = [f"send {loop.send}, return {loop.returns}" for loop in (ones[key], others[key])]
        if paths[0] != paths[1]:
            found.append(Change("ports", f"loop {key[0]}", *paths))
    for name, _ in both:
        times = [_ms(plan.line_map.loop(name).delay) for plan in (one, other)]
        if times[0] != times[1]:
            found.append(Change("delay", f"loop {name}", *times))
    lost = [
        ", ".join(f"{'jacks' if own.jacks else 'tracks'} {own.lost}" for own in plan.allocation.settings) or "nothing"
        for plan in (one, other)
    ]
    if lost[0] != lost[1]:
        found.append(Change("lost", "taken away", *lost))
    presses = [f"{plan.desk.bypass.presses} presses, {plan.desk.bypass.seconds} s" for plan in (one, other)]
    if presses[0] != presses[1]:
        found.append(Change("presses", "to take an insert OUT", *presses))
    said = [{f"{finding.where}: {finding.what}" for finding in plan.findings} for plan in (one, other)]
    found += [Change("warning", words, "said", "gone") for words in sorted(said[0] - said[1])]
    found += [Change("warning", words, "not there", "said") for words in sorted(said[1] - said[0])]
    return tuple(found)


def _ms(span: Span) -> str:
    if not span.known:
        return "unknown"
    low, high = (f"{ms_from_seconds(end):.2f}" for end in (span.low, span.high))
    return f"{low} ms" if low == high else f"{low} to {high} ms"
