"""The whole plan: each computation once, in order, from a checked show and its desk."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from sidetrip.errors import NoPlan
from sidetrip.findings import Finding, ordered
from sidetrip.graph.arrivals import Arrivals, State, find_arrivals, states_of, with_times
from sidetrip.graph.build import build
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.round_trip import UnitTime, measured_buffers, unit_time
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.alignment import NOTHING_ALIGNED, Alignment, align
from sidetrip.plan.alignment_remarks import alignment_findings
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.plan.cue_steps import CueStep, cue_steps
from sidetrip.plan.cues import loops_out
from sidetrip.plan.delay_order import delay_order_findings
from sidetrip.plan.ears import EarDelay, beyond, find_ear_delays, judged, over_limits
from sidetrip.plan.hand_over import hand_over_findings, hand_overs
from sidetrip.plan.in_line import blocks_in_line
from sidetrip.plan.invariants import check_plan, check_requests
from sidetrip.plan.lags import find_lags, lag_findings
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.patching import Patching, Step, gap_findings, patch
from sidetrip.plan.recordings import find_recordings, find_replays, recording_findings, replay_findings
from sidetrip.plan.recovery import Recovery, recovery
from sidetrip.plan.remarks import (
    UnitPlan,
    cut_findings,
    filled_in_findings,
    group_findings,
    meeting_findings,
    unit_findings,
)
from sidetrip.plan.scenes import SceneAudit, audit_scenes, scene_findings
from sidetrip.plan.side_chains import find_side_chains, side_chain_findings
from sidetrip.plan.stand_in import stands_of
from sidetrip.plan.take_over import check_take_overs, with_stand_in
from sidetrip.plan.two_desks import two_desk_findings


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
    patching: Patching
    scenes: tuple[SceneAudit, ...]
    recovery: Recovery
    findings: tuple[Finding, ...]
    cues: tuple[CueStep, ...] = ()
    alignment: Alignment = NOTHING_ALIGNED


def make_plan(
    show: Show, desk: Desk, buffer_frames: int | None = None, *, dial: bool = True, like: Plan | None = None
) -> Plan:
    """Plan a show that was checked without errors.

    buffer_frames: for every computer, in place of what the show says. dial: whether to find what to dial. like: a plan
    of the same show and desk at another buffer: who goes out, and how it is patched, hang on no buffer and are taken
    from it. Raises NoPlan when the musts conflict.
    """
    if like is not None:
        allocation = like.allocation
    else:
        try:
            allocation = allocate(show, desk)
        except NoPlan as error:
            raise NoPlan([*error.findings, *check_requests(show, desk)]) from error
    units, line_map, arrivals = _with_buffers(show, desk, allocation, buffer_frames)
    instead = _instead(show, desk, allocation, units)
    if instead:
        arrivals = replace(arrivals, instead={by: with_times(arrivals, own) for by, own in instead.items()})
    states = _states(show, desk, allocation)
    ears = find_ear_delays(show, line_map, arrivals, states)
    meetings, compared = find_meetings(show, line_map, arrivals, states)
    changes = hand_overs(show, desk, allocation.loops, allocation.take_overs, line_map, instead)
    rescue = recovery(show, desk, allocation.loops, line_map, changes)
    patching = patch(show, desk, allocation, rescue.keys) if like is None else like.patching
    scenes = audit_scenes(show, desk, patching) if like is None else like.scenes
    findings = [
        *allocation.findings,
        *line_map.findings,
        *check_requests(show, desk),
        *check_plan(show, desk, allocation.loops, line_map),
        *check_take_overs(show, allocation.loops, allocation.take_overs),
        *unit_findings(show, units, {loop.unit for loop in (*allocation.loops, *_taken_over(allocation))}),
        *hand_over_findings(show, changes),
        *over_limits(show, ears),
        *two_desk_findings(show, allocation.loops, arrivals),
        *meeting_findings(meetings, show.accept, show.bypass_groups),
        *lag_findings(find_lags(show, line_map)),
        *side_chain_findings(find_side_chains(show, desk, line_map)),
        *delay_order_findings(show, desk, line_map),
        *recording_findings(show, find_recordings(show, line_map)),
        *replay_findings(show, find_replays(show, line_map)),
        *group_findings(show, desk, rescue),
        *gap_findings(show, patching),
        *scene_findings(show, scenes),
        *filled_in_findings(show),
        *cut_findings(arrivals, compared),
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
    plan = Plan(
        show,
        desk,
        units,
        allocation,
        line_map,
        arrivals,
        states,
        ears,
        meetings,
        patching.steps,
        patching,
        scenes,
        rescue,
        ordered(findings),
        cue_steps(show, desk, allocation.loops),
    )
    return with_alignment(plan) if dial else plan


def with_alignment(plan: Plan) -> Plan:
    """Return a plan that was made without what to dial, with it; this is what takes the longest on large shows."""
    times, spare = {unit.name: unit.time for unit in plan.units}, plan.allocation.spare
    given = plan.show, plan.desk, plan.allocation.loops, plan.line_map, plan.arrivals, plan.states, plan.meetings
    aligned = align(*given, times, spare, plan.recovery.keys)
    findings = ordered([*plan.findings, *alignment_findings(plan.show, aligned)])
    return replace(plan, alignment=aligned, findings=findings)


def _taken_over(allocation: Allocation) -> tuple[PlacedLoop, ...]:
    """Return the loops as the units carry them that stand in for others."""
    return tuple(own.by for own in allocation.take_overs)


def _instead(show: Show, desk: Desk, allocation: Allocation, units: tuple[UnitPlan, ...]) -> dict[str, LineMap]:
    """Return the line map once a unit has taken over, by its name."""
    times = {unit.name: unit.time for unit in units}
    taken = allocation.take_overs
    return {
        stand.by: build(show, desk, with_stand_in(allocation.loops, taken, stand), times)
        for stand in dict.fromkeys(own.stand for own in taken)
    }


def _states(show: Show, desk: Desk, allocation: Allocation) -> tuple[State, ...]:
    by_strip = {loop.strip: loop.name for loop in allocation.loops if loop.way == "insert"}
    groups = {
        name: tuple(by_strip[member] for member in members if member in by_strip)
        for name, members in show.bypass_groups.items()
    }
    units = {
        unit.name: tuple(loop.name for loop in allocation.loops if loop.unit == unit.name)
        for unit in show.units
        if unit.kind == "computer" or unit.unpowered != "passes"
    }
    in_line = blocks_in_line(show, desk, allocation.loops)
    blocks = {f"{name} in-line": tuple(loop.name for loop in own) for name, own in in_line.items()}
    states = states_of(tuple(sorted(loop.name for loop in allocation.loops)), groups, units, blocks)
    taken = dict.fromkeys(own.stand for own in allocation.take_overs)
    states += tuple(State(f"{one.unit} dead, {one.by} in", "taken over", instead=one.by) for one in taken)
    by_cue = tuple(State(f"cue {cue:g}", "cue", out=out) for cue, out in loops_out(show, allocation.loops))
    return (*states, *by_cue)


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
    known = _map(show, desk, allocation.loops, _times(show, {name: buffer for name, (buffer, _) in chosen.items()}))
    for name in sorted(open_units):
        chosen[name] = _largest_that_ears_accept(show, desk, allocation, chosen, name, known)
    units = tuple(
        UnitPlan(
            unit.name,
            chosen[unit.name][0],
            unit_time(unit, chosen[unit.name][0], show.sample_rate),
            chosen[unit.name][1],
        )
        for unit in sorted(show.units, key=lambda unit: unit.name)
    )
    line_map, arrivals = _map(show, desk, allocation.loops, {unit.name: unit.time for unit in units}, known)
    return units, line_map, arrivals


def _times(show: Show, buffers: dict[str, int | None]) -> dict[str, UnitTime]:
    return {unit.name: unit_time(unit, buffers[unit.name], show.sample_rate) for unit in show.units}


def _map(
    show: Show,
    desk: Desk,
    loops: tuple[PlacedLoop, ...],
    times: dict[str, UnitTime],
    known: tuple[LineMap, Arrivals] | None = None,
) -> tuple[LineMap, Arrivals]:
    line_map = build(show, desk, loops, times)
    return line_map, find_arrivals(line_map, known)


def _largest_that_ears_accept(
    show: Show,
    desk: Desk,
    allocation: Allocation,
    chosen: dict[str, tuple[int | None, str]],
    name: str,
    known: tuple[LineMap, Arrivals],
) -> tuple[int, str]:
    unit = show.unit(name)
    assert unit is not None
    buffers = measured_buffers(unit, show.sample_rate)
    limits = show.limits
    loops = allocation.loops
    for stand in stands_of(show):
        if stand.by == name:  # its own loops are those that it takes over
            loops = with_stand_in(loops, allocation.take_overs, stand)
    if limits.ear_total_ms is None and limits.ear_added_ms is None:
        return buffers[0], "the smallest measured, since the show sets no limit for ears"
    states = _states(show, desk, allocation)
    late: list[float] = []
    for buffer in reversed(buffers):
        times = _times(show, {**{other: own for other, (own, _) in chosen.items()}, name: buffer})
        line_map, arrivals = _map(show, desk, loops, times, known)
        delays = judged(show, find_ear_delays(show, line_map, arrivals, states))
        late = [
            seconds
            for delay in delays
            if delay.added_s > 0
            for seconds, limit_ms in ((delay.in_s, limits.ear_total_ms), (delay.added_s, limits.ear_added_ms))
            if beyond(seconds, limit_ms)
        ]
        if not late:
            return buffer, "the largest measured that keeps ears within the show's limits"
    if all(math.isinf(seconds) for seconds in late):
        return buffers[0], "the smallest measured, since a delay on the way to ears is unknown"
    return buffers[0], "the smallest measured; even this is later than the show's limits for ears"
