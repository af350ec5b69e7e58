"""The way from one plan to another, as a table for the terminal and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sidetrip.findings import Finding
from sidetrip.plan.planner import Plan
from sidetrip.plan.repatch import Repatch
from sidetrip.reports.finding_json import finding_doc
from sidetrip.reports.plan_json import gap_doc, step_doc
from sidetrip.reports.sheet import count, listed
from sidetrip.reports.summary import Block

FORMAT = 1


def change_doc(
    one: Plan | None, other: Plan | None, change: Repatch | None, findings: Sequence[Finding]
) -> dict[str, Any]:
    """Return the document of `sidetrip change --json`; change is null where there is no way."""
    return {
        "sidetrip_change": FORMAT,
        "from": None if one is None else one.show.show,
        "to": None if other is None else other.show.show,
        "change": None
        if change is None
        else {
            "changed": change.changed,
            "steps_counted": change.counted,
            "fewest": change.fewest,
            "out_for_the_time": list(change.forced),
            "minutes": change.minutes,
            "steps": [step_doc(step) for step in change.steps],
            "gaps": [gap_doc(gap) for gap in change.gaps],
            "beside": list(change.moved),
        },
        "findings": [finding_doc(finding) for finding in findings],
    }


def change_blocks(change: Repatch) -> tuple[Block, ...]:
    """Return the blocks in words: what is done in which order, and what else differs."""
    blocks = [Block("What to change", _answer(change), ("step", "where", "item", "was", "becomes"), _rows(change))]
    if change.moved:
        rows = tuple((words,) for words in change.moved)
        answer = "This differs between the shows and is no matter of the loops; no step above is for it."
        blocks.append(Block("What else differs", answer, ("what",), rows))
    return tuple(blocks)


def _answer(change: Repatch) -> str:
    if not change.steps:
        return "Nothing: the desk is patched as it has to be."
    proven = "no fewer can do it" if change.fewest else "whether fewer could do it is not proven"
    words = f"{count(change.counted, 'step')} at the desk for {count(change.changed, 'thing')} that differ"
    words += f"{'s' if change.changed == 1 else ''}; {proven}. About {change.minutes:.0f} min (assumed)."
    if change.forced:
        words += f" OUT for the time, because their way changes: {listed(change.forced)}."
    if not change.gaps:
        words += " One may stop after any step."
    return words


def _rows(change: Repatch) -> tuple[tuple[str, ...], ...]:
    return tuple((str(step.number), step.page, step.item, step.was, step.becomes) for step in change.steps)
