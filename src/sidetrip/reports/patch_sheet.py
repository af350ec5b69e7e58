"""The patch sheet: who goes where, the steps with what each takes away, the way back, and who stays in."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.plan.cue_steps import CueStep, cue_words
from sidetrip.plan.patching import Step, StepKind, undo_steps
from sidetrip.plan.planner import Plan
from sidetrip.plan.scenes import SceneAudit
from sidetrip.plan.tick_words import item_words
from sidetrip.reports.sheet import Cell, Sheet, Stamp, Wording, count, errors_in, listed, make_sheet, ports
from sidetrip.reports.stand_in_words import rows as hand_over_rows

_PHASES: dict[StepKind, str] = {
    "safety": "Make it safe",
    "close": "Close the return strips, before anything feeds them",
    "source": "Change the sources",
    "out": "Take loops OUT",
    "unit": "Change the units",
    "reopen": "Give strips back, once nothing feeds them",
    "cable": "Plug the cables",
    "assign": "Assign the loops, and leave them OUT",
    "prove": "Prove the loops",
    "in": "Take the loops IN, one at a time",
    "key": "Set up the keys and try them",
    "open": "Open the outputs",
}

_HEADER = ("part", "done", "order", "where", "item", "was", "becomes", "expect", "lost", "remark", "corrections")


def patch_sheet(plan: Plan, stamp: Stamp) -> Sheet:
    """Return the sheet that is ticked at the desk."""
    words = Wording(plan)
    back = undo_steps(plan.steps)
    data: dict[str, Any] = {
        "lead": _lead(plan, len(back)),
        "errors": errors_in(plan),
        "loops": [_stops(plan, loop) for loop in plan.allocation.loops],
        "take_overs": [_stops(plan, own.by) for own in plan.allocation.take_overs],
        "phases": [
            {"title": _PHASES[kind], "minutes": _minutes(own), "steps": [_step(step, words) for step in own]}
            for kind, steps in groupby(plan.steps, key=lambda step: step.kind)
            for own in [list(steps)]
        ],
        "as_found": [_found(step, words) for step in plan.steps if step in set(back)],
        "left": [words(f"{item_words(plan.desk, own.item)}: {own.item.kind}") for own in plan.patching.left],
        "outputs_open": plan.show.patching.outputs == "open",
        "gaps": [words(f"{finding.values}: {finding.what}. {finding.remedy}.") for finding in _gaps(plan)],
        "scenes": [_scene(own, words) for own in plan.scenes],
        "cues": [
            {"title": cue_words(cue), "rows": [_cue(own, words) for own in steps]}
            for cue, steps in groupby(plan.cues, key=lambda own: own.cue)
        ],
        "undo": [_undo(order, step, words) for order, step in enumerate(back, 1)],
        "after": [
            {"item": words(step.item), "back": words(step.undo)}
            for step in reversed(plan.steps)
            if step.kind == "safety"
        ],
        "refused": _refused(plan, words),
        "ways_out": _ways_out(plan),
        "kept": [{"ports": ports(keep.ports), "for": keep.for_} for keep in plan.show.keep],
        "never": list(plan.show.never),
        "spare": [words(port) for port in plan.allocation.spare],
    }
    return make_sheet("patch-sheet", "Patch sheet", stamp, data, _HEADER, _csv(plan, words))


def _lead(plan: Plan, undone: int) -> str:
    loops, refusals = plan.allocation.loops, plan.allocation.refusals
    out = f"{count(len(loops), 'strip goes', 'strips go')} out" if loops else "Nothing goes out"
    stay = f", {len(refusals)} that asked {'stays' if len(refusals) == 1 else 'stay'} in" if refusals else ""
    if not plan.steps:
        return f"{out}{stay}. There is nothing to patch and nothing to undo."
    about = f"about {plan.patching.minutes:.0f} min (common practice, assumed)"
    steps = f"{count(len(plan.steps), 'step')}, {undone} to undo, {about}"
    outputs = "Outputs stay muted until every loop is proven and IN."
    if plan.show.patching.outputs == "open":
        outputs = "Outputs stay open: take each loop IN in a gap of the show, its fader down first."
    safe = " One may stop after any step, or undo from there." if not plan.patching.gaps else ""
    return f"{out}{stay}. {steps}. {outputs}{safe}"


def _minutes(steps: list[Step]) -> str:
    return f"about {sum(step.minutes for step in steps):g} min"


def _gaps(plan: Plan) -> list[Finding]:
    return [finding for finding in plan.findings if finding.code == "patch-gap"]


def _found(step: Step, words: Wording) -> dict[str, Any]:
    """Return a row of the form that is filled in before the patch and after the undo; what nobody knows is blank."""
    found = "" if step.was in ("as found", "open as delivered") else step.was
    return {"number": step.number, "where": step.page, "item": words(step.item), "found": words(found)}


def _scene(own: SceneAudit, words: Wording) -> dict[str, Any]:
    alone = own.verdict == "leaves the patch alone"
    return {
        "name": own.scene,
        "verdict": own.verdict,
        "does": words(own.does),
        "says": words(own.does) or own.verdict,
        "keep_out": "nothing" if alone else words("; ".join(own.keep_out)),
        "bad": own.verdict in ("feeds back", "silence"),
    }


def _cue(own: CueStep, words: Wording) -> dict[str, str]:
    return {"item": words(own.item), "was": words(own.was), "becomes": words(own.becomes)}


def _stops(plan: Plan, loop: PlacedLoop) -> dict[str, Any]:
    """Return a loop as one row of stops; those outside the desk are marked."""
    unit = plan.show.unit(loop.unit)
    assert unit is not None, "a placed loop has a unit of the show"
    if unit.kind == "computer":
        channels = f"{ports(loop.unit_in)}, back on {ports(loop.unit_out)}"
    else:
        channels = "hardware, its own jacks"
    chain = f"chain {loop.chain}" if loop.chain else "no chain"
    width = "mono" if loop.legs == 1 else "stereo"
    return {
        "name": loop.name,
        "stops": [
            {"label": loop.strip, "detail": f"{loop.way} way, {width}", "outside": False},
            {"label": ports(loop.send), "detail": "send", "outside": False},
            {"label": loop.unit, "detail": f"{channels}; {chain}", "outside": True},
            {"label": ports(loop.returns), "detail": "return", "outside": False},
            {"label": loop.strip, "detail": "and on", "outside": False},
        ],
    }


def _refused(plan: Plan, words: Wording) -> list[dict[str, Any]]:
    """Return who stays in; neighbours with one and the same reason share it."""
    alike = groupby(plan.allocation.refusals, key=lambda refusal: (refusal.reason, refusal.would_fit_if))
    return [
        {
            "strips": [
                {"strip": refusal.strip, "want": f"want {refusal.want}", "chain": refusal.chain or "no chain"}
                for refusal in refusals
            ],
            "reason": words(reason),
            "changes": [words(change) for change in changes],
        }
        for (reason, changes), refusals in alike
    ]


def _ways_out(plan: Plan) -> list[dict[str, str]]:
    """Return what the recovery card may have no room for: every key, the order by hand, and what a dead unit does."""
    recovery = plan.recovery
    rows = [{"what": f"key {key.number}", "does": f"{key.label}: {', '.join(key.strips)}"} for key in recovery.keys]
    if recovery.presses:
        usual = plan.desk.bypass.key
        order = (p.strip if p.key == usual else f"{p.strip} ({p.key})" for p in recovery.presses)
        about = "" if recovery.seconds_by_hand is None else f"; about {recovery.seconds_by_hand:.0f} s in all"
        rows.append({"what": "by hand, in this order", "does": ", ".join(order) + about})
    for failure in recovery.failures:
        fates = (("silent until OUT", failure.silent), ("passes", failure.passing), ("unknown", failure.unsure))
        does = "; ".join(f"{fate}: {', '.join(strips)}" for fate, strips in fates if strips)
        rows.append({"what": f"{failure.unit} dies", "does": does})
    for own in recovery.hand_overs:
        rows += [{"what": what, "does": does} for what, does in hand_over_rows(own, plan.show.sample_rate)]
    return rows


def _step(step: Step, words: Wording) -> dict[str, Any]:
    return {
        "number": step.number,
        "where": step.page,
        "item": words(step.item),
        "was": words(step.was),
        "becomes": words(step.becomes),
        "meter": "" if step.meter == "-" else words(step.meter),
        "lost": words(step.lost),
        "minutes": step.minutes,
        "needs": _needs(step),
    }


def _needs(step: Step) -> str:
    """Say which steps must have been done: "not before steps 3, 9 and 12"."""
    if not step.needs:
        return ""
    return f"not before step{'' if len(step.needs) == 1 else 's'} {listed(str(number) for number in step.needs)}"


def _undo(order: int, step: Step, words: Wording) -> dict[str, Any]:
    return {
        "order": order,
        "number": step.number,
        "where": step.page,
        "item": words(step.item),
        "now": words(step.becomes),
        "back": words(step.undo),
    }


def _csv(plan: Plan, words: Wording) -> Iterator[tuple[Cell, ...]]:
    for step in plan.steps:
        row = _step(step, words)
        texts = tuple(row[key] for key in ("where", "item", "was", "becomes", "meter", "lost"))
        remark = "; ".join(filter(None, (f"about {step.minutes:g} min", row["needs"])))
        yield ("step", "", step.number, *texts, remark, "")
    for order, step in enumerate(undo_steps(plan.steps), 1):
        row = _undo(order, step, words)
        yield ("undo", "", order, row["where"], row["item"], row["now"], row["back"], "", "", f"step {step.number}", "")
    for step in plan.steps:
        if step in set(undo_steps(plan.steps)):
            row = _found(step, words)
            yield ("as found", "", step.number, row["where"], row["item"], row["found"], "", "", "", "left: ", "")
    for own in plan.scenes:
        row = _scene(own, words)
        yield ("scene", "", "", "", own.scene, "", own.verdict, "", row["does"], f"exclude: {row['keep_out']}", "")
    for change in plan.cues:
        cue = _cue(change, words)
        yield ("at cue", "", "", cue_words(change.cue), cue["item"], cue["was"], cue["becomes"], "", "", "", "")
    for loop in plan.allocation.loops:
        way = f"send {ports(loop.send)}, {loop.unit}, return {ports(loop.returns)}"
        chain = f"chain {loop.chain}" if loop.chain else "no chain"
        yield ("going out", "", "", loop.way, loop.strip, "", way, "", "", chain, "")
    for taken in plan.allocation.take_overs:
        way = f"send {ports(taken.by.send)}, {taken.by.unit}, return {ports(taken.by.returns)}"
        yield ("taken over", "", "", taken.by.way, taken.by.strip, "", way, "", "", f"from {taken.loop.unit}", "")
    for refusal in plan.allocation.refusals:
        changes = ", or if ".join(words(change) for change in refusal.would_fit_if)
        why = words(refusal.reason) + (f"; it would go out if {changes}" if changes else "")
        yield ("staying in", "", "", "", refusal.strip, f"want {refusal.want}", "stays in", "", "", why, "")
    for keep in plan.show.keep:
        yield ("left alone", "", "", "", ports(keep.ports), "", "stays as it is", "", "", f"for {keep.for_}", "")
