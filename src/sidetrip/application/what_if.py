"""A plan, and the same show asked about: in another state, at another buffer or rate, or without a unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import Planned, plan
from sidetrip.errors import ShowUnreadable

if TYPE_CHECKING:
    from sidetrip.plan.what_if import Asked, WhatIf


@dataclass(frozen=True, slots=True)
class AskedPlan:
    """The plan as it stands, the plan that is asked about (the same one for a state), and how they differ."""

    stands: Planned
    other: Planned
    what_if: WhatIf


def ask(store: ShowStore, library: DeskLibrary, path: str, asked: Asked) -> AskedPlan:
    """Plan a show twice where it has to be. Raises ShowUnreadable for wrong names too, NoPlan when musts conflict."""
    from sidetrip.plan.what_if import what_if, wrong_names

    stands = plan(store, library, path)
    wrong = list(wrong_names(asked, stands.plan.show))
    if wrong:
        raise ShowUnreadable(wrong)
    other = stands
    if asked.another_plan:
        other = plan(
            store,
            library,
            path,
            buffer_frames=asked.buffer_frames,
            rate_hz=asked.rate_hz,
            without=asked.without,
            temperature_c=asked.temperature_c,
        )
    return AskedPlan(stands, other, what_if(stands.plan, other.plan, asked))


__all__ = ["AskedPlan", "ask"]
