"""Patch and undo: steps in an order that leaves a working show wherever one stops, and back again.

The order is solved: every step is held against the dangers of the tick that it makes (`judge`, `order`), as though no
output were muted. The usual order of the trade stays where it is safe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.build import build
from sidetrip.graph.linemap import LineMap
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import NOTHING
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.assign import Allocation
from sidetrip.plan.drafts import (
    Draft,
    StepKind,
    by_rank,
    drafts_of,
    files_saved,
    outputs_muted,
    outputs_opened,
    proof,
    stand_in_proof,
)
from sidetrip.plan.judge import Danger, Judge
from sidetrip.plan.order import Gap, Move, safe_order
from sidetrip.plan.recovery import GroupKey
from sidetrip.plan.return_strips import fed_strips
from sidetrip.plan.tick import Difference, Item, Tick, as_found, differences


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do at the desk.

    page: where, in plain words. item: what. was, becomes: its value before and after. meter: what to see when it is
    done. lost: what this takes away, empty for nothing. undo: how it is put back; undo runs in reverse order. minutes:
    an estimate, assumed. needs: the numbers of the steps without which it would be dangerous. sets: what it sets.
    """

    number: int
    kind: StepKind
    page: str
    item: str
    was: str
    becomes: str
    meter: str
    lost: str
    undo: str
    minutes: float
    needs: tuple[int, ...]
    sets: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class StepGap:
    """A danger that lasts from one step until another, by number, because no order avoids it; minutes: how long."""

    danger: Danger
    first: int
    last: int
    minutes: float


@dataclass(frozen=True, slots=True)
class Patching:
    """The whole patch. found: the desk before it. done: the desk after it. gaps: what no order avoids."""

    steps: tuple[Step, ...]
    found: Tick
    done: Tick
    gaps: tuple[StepGap, ...]

    @property
    def minutes(self) -> float:
        """All steps together, in minutes; an estimate, assumed."""
        return sum(step.minutes for step in self.steps)

    @property
    def left(self) -> tuple[Difference, ...]:
        """What is not as found after every step was done and undone."""
        ticks = undo_ticks(self.found, self.steps)
        return differences(self.found, ticks[-1] if ticks else self.found)


def patch_steps(show: Show, desk: Desk, allocation: Allocation, keys: tuple[GroupKey, ...] = ()) -> tuple[Step, ...]:
    """Return the steps from the desk as found to all loops IN and outputs open; none when nothing goes out.

    keys: the keys of the recovery plan, to be set up and tried before the outputs open.
    """
    return patch(show, desk, allocation, keys).steps


def patch(show: Show, desk: Desk, allocation: Allocation, keys: tuple[GroupKey, ...] = ()) -> Patching:
    """Solve the order of the steps. Outputs are muted meanwhile, unless the show says that they stay open."""
    found = as_found(show, desk)
    if not allocation.loops:
        return Patching((), found, found, ())
    judge = Judge(show, desk, bare_map(show, desk), back_on_of(allocation))
    drafts = drafts_of(show, desk, allocation, keys)
    ordered = safe_order(found, [Move(draft.rank, draft.sets) for draft in drafts], [judge])
    muted = show.patching.outputs == "muted"
    row: list[Draft] = [files_saved(), *([outputs_muted()] if muted else [])]
    places: dict[int, int] = {}
    proven = False
    for place, index in enumerate(ordered.order):
        draft = drafts[index]
        if draft.kind == "in" and not proven:
            now = by_rank(allocation)
            later = sorted({loop.strip for loop in allocation.loops} - {loop.strip for loop in now})
            row.append(proof(show, desk, now, later))
            row += [other] if (other := stand_in_proof(allocation)) is not None else []
        proven = draft.kind == "in" or (proven and draft.kind != "assign")
        row.append(draft)
        places[place] = len(row)
    row += [outputs_opened()] if muted else []
    steps = _numbered(found, row, judge)
    gaps = tuple(_gap(gap, places, steps) for gap in ordered.gaps)
    done = patch_ticks(found, steps)[-1]
    return Patching(steps, found, done, gaps)


def bare_map(show: Show, desk: Desk) -> LineMap:
    """Return the line map of a show without loops; it knows what reaches what, not when."""
    return build(show, desk, (), {unit.name: UnitTime(NOTHING, "hardware") for unit in show.units})


def back_on_of(allocation: Allocation) -> tuple[str, ...]:
    """Return the inputs that stand on strips on which loops come back."""
    return tuple(loop.back_on for loop in allocation.loops if loop.back_on is not None)


def _gap(gap: Gap, places: dict[int, int], steps: tuple[Step, ...]) -> StepGap:
    first, last = places[gap.first], places[gap.last]
    return StepGap(gap.danger, first, last, sum(step.minutes for step in steps[first - 1 : last]))


def _numbered(found: Tick, row: Sequence[Draft], judge: Judge) -> tuple[Step, ...]:
    steps: list[Step] = []
    tick = found
    by_item: dict[Item, int] = {}
    ringing = _rings_if_open(judge, found)
    for number, draft in enumerate(row, 1):
        after = tick.having(draft.sets)
        needs: set[int] = set()
        if draft.sets and draft.kind not in ("key", "open"):
            if draft.kind == "in":
                needs |= _on_the_way(judge, tick, after, by_item)
            now = _rings_if_open(judge, after) if draft.kind != "close" else ringing
            needs |= {by_item[item] for item in now - ringing if item in by_item}
            ringing = now
        sets = tuple(Difference(item, tick.value(item), after.value(item)) for item, _ in draft.sets)
        words = (draft.kind, draft.page, draft.item, draft.was, draft.becomes, draft.meter, draft.lost, draft.undo)
        steps.append(Step(number, *words, draft.minutes, tuple(sorted(needs - {number})), sets))
        by_item |= dict.fromkeys((own.item for own in sets), number)
        tick = after
    return tuple(steps)


def _rings_if_open(judge: Judge, tick: Tick) -> set[Item]:
    """Return the strips without an input that would close a ring if they were open."""
    opened = tick.having((item, False) for item in tick.values if item.kind == "strip")
    ringed = {danger.at for danger in judge.judge(opened).dangers if danger.kind == "ring"}
    return {Item("strip", leg.group, leg.number) for leg in judge.wires.spare if str(leg) in ringed}


def _on_the_way(judge: Judge, before: Tick, after: Tick, by_item: dict[Item, int]) -> set[int]:
    """Return the steps that set something which a loop passes that this step takes IN."""
    old, new = judge.judge(before).ways_in, judge.judge(after).ways_in
    needs: set[int] = set()
    for name in new.keys() - old.keys():
        needs |= {number for item, number in by_item.items() if item.kind in ("insert", "copy") and item.name == name}
        for leg in new[name]:
            passed = leg[1] if isinstance(leg, tuple) and len(leg) == 2 else ()
            items = [item for item, _ in passed]
            needs |= {by_item[item] for item in items if item in by_item}
            needs |= {by_item[unit] for item in items if (unit := Item("unit", item.name)) in by_item}
    return needs


def undo_steps(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return the steps that put something back, last first; keys last of all, since they are the way out till then.

    steps: those that were done, from the first on; undo can begin after any of them.
    """
    back = [step for step in reversed(steps) if step.kind in ("close", "source", "cable", "assign", "in")]
    return (*back, *(step for step in reversed(steps) if step.kind == "key"))


def patch_ticks(found: Tick, steps: Sequence[Step]) -> list[Tick]:
    """Return the desk as found and then after each step."""
    ticks = [found]
    for step in steps:
        ticks.append(ticks[-1].having((own.item, own.left) for own in step.sets))
    return ticks


def undo_ticks(found: Tick, steps: tuple[Step, ...]) -> list[Tick]:
    """Return the desk while these steps are undone: outputs muted if they ever were, all undo steps, then the rest.

    The rest is what has to stay until the end: units on, outputs muted.
    """
    ticks = [patch_ticks(found, steps)[-1]]
    muted = [own for step in steps for own in step.sets if own.item.kind == "mute"]
    if muted:
        ticks.append(ticks[-1].having([(muted[0].item, True)]))
    last = [step for step in reversed(steps) if step.kind == "safety"]
    for step in (*undo_steps(steps), *last):
        ticks.append(ticks[-1].having((own.item, own.found) for own in step.sets))
    return ticks


def gap_findings(show: Show, patching: Patching) -> list[Finding]:
    """Say which steps leave something dead or lost for a while, because no order avoids it."""
    words = {
        "ring": "feeds back through a unit",
        "dead": "is IN with nothing of its own coming back",
        "lost": "does not reach the desk",
        "disturbed": "changes its way while it is IN",
    }
    opened = show.patching.outputs == "open"
    found = []
    for gap in patching.gaps:
        steps = f"step {gap.first}" if gap.first == gap.last else f"steps {gap.first} to {gap.last}"
        what = f"No order of the steps avoids that '{gap.danger.at}' {words[gap.danger.kind]} for a while"
        remedy = "Do these steps without a stop, in a gap of the show, with its fader down"
        if not opened:
            remedy = "Outputs are muted then: do these steps without a stop, and open nothing between them"
        values = f"{steps}, about {gap.minutes:g} min"
        found.append(Finding("patch-gap", f"patch / {gap.danger.at}", what, values, remedy, ("patching",)))
    return found


__all__ = ["Patching", "Step", "StepGap", "StepKind", "fed_strips", "patch", "patch_steps", "patch_ticks", "undo_steps"]
