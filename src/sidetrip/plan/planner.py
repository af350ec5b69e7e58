"""The whole plan: each computation once, in order, from a checked show and its desk."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.findings import Finding, ordered
from sidetrip.graph.arrivals import Arrivals, State, find_arrivals, states_of
from sidetrip.graph.build import build
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.round_trip import UnitTime, measured_buffers, unit_time
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.plan.ears import EarDelay, find_ear_delays, judged, over_limits
from sidetrip.plan.invariants import check_plan, check_requests
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.patching import Step, patch_steps
from sidetrip.plan.recovery import Recovery, recovery
from sidetrip.plan.remarks import UnitPlan, group_findings, meeting_findings, unit_findings
from sidetrip.units import ms_from_seconds


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything the main job computes; frozen, and the same whatever the order of the show's lists."""

    show: Show
    desk: Desk
    units: tuple[UnitPlan, ...]
    allocation: Allocation
    line_map: LineMap
    arrivals: Arrivals
    states: tuple[State, ...]
    ears: tuple[EarDelay, ...]
    meetings: tuple[Meeting, ...]
    steps: tuple[Step, ...]
    recovery: Recovery
    findings: tuple[Finding, ...]


def make_plan(show: Show, desk: Desk, buffer_frames: int | None = None) -> Plan:
    """Plan a show that was checked without errors.

    buffer_frames: for every computer, in place of what the show says. Raises NoPlan when the musts conflict.
    """
    allocation = allocate(show, desk)
    units, line_map, arrivals = _with_buffers(show, desk, allocation, buffer_frames)
    states = _states(show, allocation)
    ears = find_ear_delays(show, line_map, arrivals, states)
    meetings = find_meetings(show, line_map, arrivals, states)
    findings = [
        *allocation.findings,
        *line_map.findings,
        *check_requests(show, desk),
        *check_plan(show, desk, allocation.loops, line_map),
        *unit_findings(show, units, {loop.unit for loop in allocation.loops}),
        *over_limits(show, ears),
        *meeting_findings(meetings),
        *group_findings(show, desk),
    ]
    if not show.requests:
        findings.append(
            Finding(
                "no-loops",
                "requests",
                "The show asks for no loop",
                "",
                "Add requests: a strip, a chain and a want",
            )
        )
    return Plan(
        show,
        desk,
        units,
        allocation,
        line_map,
        arrivals,
        states,
        ears,
        meetings,
        patch_steps(show, desk, allocation),
        recovery(show, desk, allocation.loops, line_map),
        ordered(findings),
    )


def _states(show: Show, allocation: Allocation) -> tuple[State, ...]:
    by_strip = {loop.strip: loop.name for loop in allocation.loops}
    groups = {
        name: tuple(by_strip[member] for member in members if member in by_strip)
        for name, members in show.bypass_groups.items()
    }
    units = {
        unit.name: tuple(loop.name for loop in allocation.loops if loop.unit == unit.name)
        for unit in show.units
        if unit.kind == "computer" or unit.unpowered != "passes"
    }
    return states_of(tuple(sorted(loop.name for loop in allocation.loops)), groups, units)


def _with_buffers(
    show: Show, desk: Desk, allocation: Allocation, forced: int | None
) -> tuple[tuple[UnitPlan, ...], LineMap, Arrivals]:
    """Settle every buffer, then build the line map once more with all of them."""
    chosen: dict[str, tuple[int | None, str]] = {}
    open_units: list[str] = []
    for unit in show.units:
        if unit.kind == "hardware":
            chosen[unit.name] = (None, "")
        elif forced is not None or isinstance(unit.buffer, int):
            chosen[unit.name] = (forced if forced is not None else int(unit.buffer or 0), "")
        else:
            buffers = measured_buffers(unit, show.sample_rate)
            chosen[unit.name] = (
                buffers[0] if buffers else None,
                "" if buffers else "nothing measured at this rate",
            )
            if len(buffers) > 1:
                open_units.append(unit.name)
    for name in sorted(open_units):
        chosen[name] = _largest_that_ears_accept(show, desk, allocation, chosen, name)
    units = tuple(
        UnitPlan(
            unit.name,
            chosen[unit.name][0],
            unit_time(unit, chosen[unit.name][0], show.sample_rate),
            chosen[unit.name][1],
        )
        for unit in sorted(show.units, key=lambda unit: unit.name)
    )
    line_map, arrivals = _map(show, desk, allocation.loops, {unit.name: unit.time for unit in units})
    return units, line_map, arrivals


def _map(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...], times: dict[str, UnitTime]) -> tuple[LineMap, Arrivals]:
    line_map = build(show, desk, loops, times)
    return line_map, find_arrivals(line_map)


def _largest_that_ears_accept(
    show: Show, desk: Desk, allocation: Allocation, chosen: dict[str, tuple[int | None, str]], name: str
) -> tuple[int, str]:
    unit = show.unit(name)
    assert unit is not None
    buffers = measured_buffers(unit, show.sample_rate)
    limits = show.limits
    if limits.ear_total_ms is None and limits.ear_added_ms is None:
        return buffers[0], "the smallest measured, since the show sets no limit for ears"
    states = _states(show, allocation)
    for buffer in reversed(buffers):
        times = {
            other.name: unit_time(other, buffer if other.name == name else chosen[other.name][0], show.sample_rate)
            for other in show.units
        }
        line_map, arrivals = _map(show, desk, allocation.loops, times)
        delays = judged(show, find_ear_delays(show, line_map, arrivals, states))
        if all(_accepted(show, delay) for delay in delays if delay.added_s > 0):
            return buffer, "the largest measured that keeps ears within the show's limits"
    return buffers[0], "the smallest measured; even this is later than the show's limits for ears"


def _accepted(show: Show, delay: EarDelay) -> bool:
    total_ms, added_ms = ms_from_seconds(delay.in_s), ms_from_seconds(delay.added_s)
    within_total = show.limits.ear_total_ms is None or total_ms <= show.limits.ear_total_ms
    return within_total and (show.limits.ear_added_ms is None or added_ms <= show.limits.ear_added_ms)
