"""The plan again, once everything that it says to dial and to move is done."""

from __future__ import annotations

from sidetrip.plan.alignment import aligned_show
from sidetrip.plan.planner import Plan, make_plan


def dialled_plan(plan: Plan) -> Plan | None:
    """Return the plan of the show with what it says to dial dialled and taps moved; None where it says nothing.

    Buffers are those of the plan. Raises NoPlan as make_plan does, which a show that was planned does not.
    """
    if not plan.alignment.settings and not plan.alignment.moves:
        return None
    buffers = {unit.name: unit.buffer_frames for unit in plan.units}
    show = aligned_show(plan.show, plan.desk, plan.alignment)
    units = tuple(
        unit if (own := buffers.get(unit.name)) is None else unit.model_copy(update={"buffer": own})
        for unit in show.units
    )
    return make_plan(show.model_copy(update={"units": units}), plan.desk)


__all__ = ["dialled_plan"]
