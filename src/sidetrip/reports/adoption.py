"""What adopting measured figures changed in the plan."""

from __future__ import annotations

from sidetrip.graph.span import Span
from sidetrip.plan.planner import Plan
from sidetrip.reports.summary import Block
from sidetrip.units import ms_from_seconds


def adoption_block(before: Plan, after: Plan) -> Block:
    """Return each unit's time and each loop's, before and after, with their standing."""
    rows = [
        (f"unit {unit.name}", _span(old), _span(unit.time.span))
        for unit in after.units
        if (old := next((one.time.span for one in before.units if one.name == unit.name), None)) is not None
    ]
    rows += [
        (f"loop {loop.loop}", _span(before.line_map.loop(loop.loop).delay), _span(loop.delay))
        for loop in after.line_map.loops
        if any(one.loop == loop.loop for one in before.line_map.loops)
    ]
    gone = {loop.name for loop in before.allocation.loops} - {loop.name for loop in after.allocation.loops}
    answer = "Measured figures are in the show now, and it was planned again."
    if gone:
        answer += f" With them these no longer go out: {', '.join(sorted(gone))}."
    return Block("What adopting changed", answer, ("what", "before", "now"), tuple(rows))


def _span(span: Span) -> str:
    if not span.known:
        return "unknown"
    low, high = ms_from_seconds(span.low), ms_from_seconds(span.high)
    figure = f"{low:.3f} ms" if f"{low:.3f}" == f"{high:.3f}" else f"{low:.3f} to {high:.3f} ms"
    return f"{figure}, {span.standing}"


__all__ = ["adoption_block"]
