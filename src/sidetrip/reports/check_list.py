"""The list to tick before a show, with what this system said of itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sidetrip.application.evidence_ports import Seen
from sidetrip.hold.advice import Advice, UnitAdvice
from sidetrip.hold.checklist import check_list
from sidetrip.reports.summary import Block


def check_blocks(advice: Advice, seen: Sequence[Seen]) -> list[Block]:
    """Return one block: what this system says of itself; the rest is to be looked at."""
    own = advice.units[0] if len(advice.units) == 1 else None
    rows = [
        (stage["when"], item["words"], item["said"] or "look") for stage in stages(own, seen) for item in stage["items"]
    ]
    read = sum(row[2] != "look" for row in rows)
    answer = (
        f"{read} of {len(rows)} could be read on this computer; nothing was changed. The rest wants a person's eyes."
    )
    return [Block("Before the show, on the computer", answer, ("when", "what", "this computer says"), tuple(rows))]


def stages(own: UnitAdvice | None, seen: Sequence[Seen]) -> list[dict[str, Any]]:
    """Return the list as data for a sheet: each item with what was said about it, and whether that is fine."""
    by = {one.key: one for one in seen}
    return [
        {
            "when": stage.when,
            "items": [
                {"words": item.words, "said": _said(by.get(item.key)), "fine": _fine(by.get(item.key))}
                for item in stage.items
            ],
        }
        for stage in check_list(own)
    ]


def _said(one: Seen | None) -> str:
    if one is None:
        return ""
    return f"{one.value}{'' if one.fine is None else ', fine' if one.fine else ', look'}"


def _fine(one: Seen | None) -> bool | None:
    return None if one is None else one.fine


__all__ = ["check_blocks", "stages"]
