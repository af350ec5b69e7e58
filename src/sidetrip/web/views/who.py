"""Who goes out: the ladder of wants, each loop as a row of stops, what would serve who stays in, and the patch."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sidetrip.application.at_desk import Seen
from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.show import Request
from sidetrip.plan.planner import Plan
from sidetrip.plan.reasons import Refusal
from sidetrip.reports.patch_sheet import patch_sheet
from sidetrip.reports.sheet import Stamp, Wording, count, ports, span_ms
from sidetrip.reports.summary import SAID, Block, summary

_NO_STAMP = Stamp("", "", "", "", "")
MOST_CHANGES = 6


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of a loop. outside: whether it is outside the desk."""

    label: str
    detail: str
    outside: bool


@dataclass(frozen=True, slots=True)
class Wanting:
    """One request on the ladder. changes: what would serve it, empty where it goes out. pair: two together."""

    strip: str
    way: str
    want: str
    chain: str
    goes_out: bool
    stops: tuple[Stop, ...]
    late: str
    reason: str
    changes: tuple[str, ...]
    pair: tuple[str, ...]
    tried: int


@dataclass(frozen=True, slots=True)
class Rung:
    """All requests of one want, the highest want first."""

    want: str
    wanting: tuple[Wanting, ...]


@dataclass(frozen=True, slots=True)
class PatchStep:
    """One step of the patch. key: by which its tick is known. needs: the numbers of the steps that go first."""

    key: str
    number: int
    where: str
    item: str
    was: str
    becomes: str
    meter: str
    lost: str
    minutes: float
    needs: tuple[int, ...]
    undo: str
    done_at: str


@dataclass(frozen=True, slots=True)
class Phase:
    """Steps of one kind, in their order."""

    title: str
    minutes: str
    steps: tuple[PatchStep, ...]


@dataclass(frozen=True, slots=True)
class WhoView:
    """The whole part. lead: its answer in a sentence. costs: which ports lose what they had. next_step: what to do."""

    lead: str
    rungs: tuple[Rung, ...]
    costs: Block
    cues: Block | None
    phases: tuple[Phase, ...]
    patch_lead: str
    done: int
    steps: int
    next_step: PatchStep | None
    findings: tuple[Mapping[str, str], ...]


def who_view(seen: Seen, ticks: Mapping[str, str]) -> WhoView:
    """Return the part for a show that has a plan."""
    plan = seen.plan
    assert plan is not None
    words = Wording(plan)
    blocks = {block.heading: block for block in summary(plan)}
    phases = _phases(plan, ticks)
    steps = [step for phase in phases for step in phase.steps]
    sheet = patch_sheet(plan, _NO_STAMP)
    return WhoView(
        _lead(plan),
        _rungs(plan, words),
        blocks["What it costs"],
        blocks.get("What the cues change"),
        phases,
        str(sheet.data["lead"]),
        sum(bool(step.done_at) for step in steps),
        len(steps),
        next((step for step in steps if not step.done_at), None),
        findings_of(seen),
    )


def findings_of(seen: Seen) -> tuple[Mapping[str, str], ...]:
    """Return what checking and planning found, as text; refusals and meetings are said elsewhere."""
    return tuple(finding_doc(finding) for finding in seen.findings if finding.code not in SAID)


def finding_doc(finding: Finding) -> dict[str, str]:
    """Return a finding as it goes to the page."""
    return {
        "severity": str(finding.severity),
        "where": f"line {finding.line}" if finding.line is not None else finding.where,
        "what": finding.what,
        "values": finding.values,
        "remedy": finding.remedy,
    }


def _lead(plan: Plan) -> str:
    loops, refusals = plan.allocation.loops, plan.allocation.refusals
    asked = len(plan.show.requests)
    if not asked:
        return "Nobody has asked to go out."
    going = sum(not loop.blank for loop in loops)
    out = f"{count(going, 'strip goes', 'strips go')} out of {asked} that want to"
    if not refusals:
        return f"{out}; nobody who asked stays in."
    names = ", ".join(refusal.strip for refusal in refusals[:3])
    more = f" and {len(refusals) - 3} more" if len(refusals) > 3 else ""
    return f"{out}; {names}{more} {'stays' if len(refusals) == 1 else 'stay'} in."


def _rungs(plan: Plan, words: Wording) -> tuple[Rung, ...]:
    loops: dict[tuple[str, str], PlacedLoop] = {(loop.strip, loop.way): loop for loop in plan.allocation.loops}
    refusals = {(refusal.strip, refusal.way): refusal for refusal in plan.allocation.refusals}
    rungs = []
    for want in ("must", *map(str, range(9, 0, -1))):
        own = [request for request in plan.show.requests if str(request.want) == want]
        found = [_wanting(plan, request, loops, refusals, words) for request in own]
        rungs.append(Rung(want, tuple(found)))
    return tuple(rungs)


def _wanting(
    plan: Plan,
    request: Request,
    loops: Mapping[tuple[str, str], PlacedLoop],
    refusals: Mapping[tuple[str, str], Refusal],
    words: Wording,
) -> Wanting:
    key = request.strip, request.way
    loop, refusal = loops.get(key), refusals.get(key)
    return Wanting(
        request.strip,
        request.way,
        str(request.want),
        request.chain or "no chain",
        loop is not None,
        () if loop is None else _stops(plan, loop),
        "" if loop is None else span_ms(plan.line_map.loop(loop.name).delay),
        "" if refusal is None else words(refusal.reason),
        () if refusal is None else refusal.would_fit_if[:MOST_CHANGES],
        () if refusal is None else tuple(words(each) for each in refusal.pair),
        0 if refusal is None else refusal.tried,
    )


def _stops(plan: Plan, loop: PlacedLoop) -> tuple[Stop, ...]:
    unit = plan.show.unit(loop.unit)
    inside = "its own jacks" if unit is None or unit.kind != "computer" else f"in {ports(loop.unit_in)}"
    return (
        Stop(loop.strip, loop.way, outside=False),
        Stop(ports(loop.send), "send", outside=False),
        Stop(loop.unit, inside, outside=True),
        Stop(ports(loop.returns), "return", outside=False),
        Stop(loop.back_on or loop.strip, "and on", outside=False),
    )


def step_key(where: str, item: str, becomes: str) -> str:
    """Return the name by which a step's tick is kept: it stays while the step says the same, whatever its number."""
    return hashlib.sha256(f"{where}\n{item}\n{becomes}".encode()).hexdigest()[:20]


def _phases(plan: Plan, ticks: Mapping[str, str]) -> tuple[Phase, ...]:
    undo = {step.number: step.undo for step in plan.steps}
    needs = {step.number: step.needs for step in plan.steps}
    data: list[dict[str, Any]] = patch_sheet(plan, _NO_STAMP).data["phases"]
    phases = []
    for phase in data:
        steps = []
        for row in phase["steps"]:
            key, number = step_key(row["where"], row["item"], row["becomes"]), row["number"]
            steps.append(
                PatchStep(
                    key,
                    number,
                    row["where"],
                    row["item"],
                    row["was"],
                    row["becomes"],
                    row["meter"],
                    row["lost"],
                    row["minutes"],
                    needs[number],
                    undo[number],
                    ticks.get(key, ""),
                )
            )
        phases.append(Phase(phase["title"], phase["minutes"], tuple(steps)))
    return tuple(phases)


def _before(view: WhoView, step: PatchStep) -> set[int]:
    """Return the steps that go before one: what it needs, and all of the phases before its own."""
    found = set(step.needs)
    for phase in view.phases:
        numbers = [own.number for own in phase.steps]
        if step.number in numbers:
            return found
        found.update(numbers)
    return found


def open_needs(view: WhoView, key: str) -> tuple[int, ...]:
    """Return the numbers of steps that must be ticked before this one and are not."""
    steps = {step.number: step for phase in view.phases for step in phase.steps}
    own = next((step for step in steps.values() if step.key == key), None)
    if own is None:
        return ()
    return tuple(number for number in sorted(_before(view, own)) if not steps[number].done_at)


def ticked_after(view: WhoView, key: str) -> tuple[int, ...]:
    """Return the numbers of ticked steps that this one must have gone before: they are undone first."""
    steps = [step for phase in view.phases for step in phase.steps]
    own = next((step for step in steps if step.key == key), None)
    if own is None:
        return ()
    return tuple(step.number for step in steps if step.done_at and own.number in _before(view, step))


__all__ = [
    "MOST_CHANGES",
    "PatchStep",
    "Phase",
    "Rung",
    "Stop",
    "Wanting",
    "WhoView",
    "finding_doc",
    "findings_of",
    "open_needs",
    "step_key",
    "ticked_after",
    "who_view",
]
