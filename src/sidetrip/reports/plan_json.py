"""The plan as JSON: a published format, described by `docs/reference/plan.schema.json`.

The same bytes for the same show whatever the order of its lists: everything is sorted by name, and findings name
their place, not their line. Times are in ms with six decimals; what is unknown is null.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import standing_of
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.span import Span
from sidetrip.plan.gap import Gap
from sidetrip.plan.hand_over import HandOver
from sidetrip.plan.patching import Step, StepGap, undo_steps
from sidetrip.plan.planner import Plan
from sidetrip.plan.remarks import remedy_for
from sidetrip.plan.two_desks import loops_in_ears
from sidetrip.plan.what_if import WhatIf
from sidetrip.reports.alignment_docs import alignment_doc
from sidetrip.reports.finding_json import finding_doc
from sidetrip.reports.plan_docs import (
    ActDoc,
    ArrivalDoc,
    BlockDoc,
    CueStepDoc,
    DelayDoc,
    EarDoc,
    FailureDoc,
    GapDoc,
    HandOverDoc,
    InsteadDoc,
    KeyDoc,
    LoopDoc,
    MeetingDoc,
    PartDoc,
    PatchGapDoc,
    PlanDoc,
    PlanFile,
    PressDoc,
    RecoveryDoc,
    RefusalDoc,
    SceneChangeDoc,
    SceneDoc,
    StateDoc,
    StepDoc,
    TakeOverDoc,
    UnitDoc,
)
from sidetrip.reports.what_if_words import what_if_doc
from sidetrip.units import ms_from_seconds

FORMAT = 1


def plan_text(plan: Plan | None, findings: Sequence[Finding], what_if: WhatIf | None = None) -> str:
    """Return the JSON text, strict: no NaN, no Infinity. what_if: how it differs from the plan as it stands."""
    document = PlanFile(
        sidetrip_plan=FORMAT,
        plan=None if plan is None else _plan(plan),
        findings=[finding_doc(finding) for finding in findings],
        what_if=None if what_if is None else what_if_doc(what_if),
    )
    return json.dumps(_renamed(document), indent=1, ensure_ascii=False, allow_nan=False)


def _renamed(value: Any) -> Any:
    """Give `return` its name, which Python keeps for itself."""
    if isinstance(value, dict):
        return {key.rstrip("_"): _renamed(item) for key, item in value.items()}
    return [_renamed(item) for item in value] if isinstance(value, list) else value


def _number(value: float) -> float | None:
    return round(float(value), 6) + 0.0 if math.isfinite(value) else None


def _ms(seconds: float) -> float | None:
    return _number(ms_from_seconds(float(seconds))) if math.isfinite(seconds) else None


def _delay(span: Span) -> DelayDoc:
    low = _ms(span.low)
    return DelayDoc(low_ms=0.0 if low is None else low, high_ms=_ms(span.high), standing=span.standing)


def _plan(plan: Plan) -> PlanDoc:
    show = plan.show
    wants = {(request.strip, request.way): request.want for request in show.requests}
    kinds = {unit.name: unit.kind for unit in show.units}
    stands = {unit.name: unit.stands_in_for for unit in show.units}
    in_ears = loops_in_ears(plan.arrivals)
    return PlanDoc(
        show=show.show,
        desk=plan.desk.name,
        sample_rate_hz=show.sample_rate,
        units=[
            UnitDoc(
                name=unit.name,
                kind=kinds[unit.name],
                buffer_frames=unit.buffer_frames,
                round_trip=_delay(unit.time.span),
                basis=unit.time.basis,
                residual_frames=None if unit.time.residual_frames is None else _number(unit.time.residual_frames),
                spread_frames=unit.time.spread_frames,
                buffer_chosen_because=unit.why,
                stands_in_for=stands.get(unit.name),
            )
            for unit in plan.units
        ],
        loops=[_loop(plan, loop, wants.get((loop.strip, loop.way))) for loop in plan.allocation.loops],
        refusals=[
            RefusalDoc(
                strip=r.strip,
                want=r.want,
                chain=r.chain,
                reason=r.reason,
                would_fit_if=list(r.would_fit_if),
                pair=list(r.pair),
                tried=r.tried,
            )
            for r in plan.allocation.refusals
        ],
        blocks=[
            BlockDoc(block=s.block, was=s.was, becomes=s.becomes, lost=str(s.lost)) for s in plan.allocation.settings
        ],
        spare_returns=list(plan.allocation.spare),
        rings=[[node.name for node in ring] for ring in plan.line_map.rings],
        states=[StateDoc(name=s.name, out=sorted(s.out), dead=sorted(s.dead), instead=s.instead) for s in plan.states],
        arrivals=_arrivals(plan),
        ears=[
            EarDoc(
                mix=e.mix,
                desk=None if (other := show.desk_of(e.mix)) is None else other.name,
                performer=e.performer,
                source=e.source,
                own=e.own,
                in_ms=_ms(e.in_s),
                out_ms=_ms(e.out_s),
                added_ms=_ms(e.added_s),
                loops=list(in_ears.get((e.mix, e.source), ())),
                standing=e.standing,
            )
            for e in plan.ears
        ],
        meetings=[
            MeetingDoc(
                kind=m.kind,
                joined=m.joined,
                places=list(m.places),
                sources=list(m.sources),
                first=m.first,
                second=m.second,
                loops=list(m.loops),
                all_in=_gap(m.gap_in),
                all_out=_gap(m.gap_out),
                natural_ms=_ms(m.natural_s) or 0.0,
                level_difference_db=None if m.level_difference_db is None else _number(m.level_difference_db),
                inverted=m.inverted,
                first_null_hz=None if m.first_null_hz is None else _number(m.first_null_hz),
                ripple_db=None if m.ripple_db is None else _number(m.ripple_db),
                ripple_moved_db=None if m.ripple_moved_db is None else _number(m.ripple_moved_db),
                crossover_loss_db=None if m.crossover_loss_db is None else _number(m.crossover_loss_db),
                worst_state=m.worst_state or None,
                worst=None if m.gap_worst is None else _gap(m.gap_worst),
                apart_in=list(m.apart_in),
                taken_over=[InsteadDoc(state=state, spread=_gap(gap)) for state, gap in m.taken_over],
                image_in=m.image_in or None,
                image_out=m.image_out or None,
                harmless=m.harmless or None,
                deciding=m.deciding,
                sentence=m.sentence,
                remedy=remedy_for(m) if m.verdict == "apart" else None,
            )
            for m in plan.meetings
        ],
        steps=[step_doc(step) for step in plan.steps],
        undo=[step.number for step in undo_steps(plan.steps)],
        patch_minutes=_number(plan.patching.minutes) or 0.0,
        patch_gaps=[gap_doc(gap) for gap in plan.patching.gaps],
        scenes=[
            SceneDoc(
                scene=own.scene,
                verdict=own.verdict,
                does=own.does,
                out=list(own.out),
                exclude=list(own.keep_out),
                changes=[
                    SceneChangeDoc(item=c.item, planned=c.planned, recalled=c.recalled, does=c.does)
                    for c in own.changes
                ],
            )
            for own in plan.scenes
        ],
        cues=[CueStepDoc(cue=own.cue, item=own.item, was=own.was, becomes=own.becomes) for own in plan.cues],
        recovery=_recovery(plan),
        alignment=alignment_doc(plan.alignment, plan.meetings),
    )


def step_doc(step: Step) -> StepDoc:
    """Return a step as it stands in JSON."""
    return StepDoc(
        number=step.number,
        kind=step.kind,
        page=step.page,
        item=step.item,
        was=step.was,
        becomes=step.becomes,
        meter=step.meter,
        lost=step.lost,
        undo=step.undo,
        minutes=step.minutes,
        needs=list(step.needs),
    )


def gap_doc(gap: StepGap) -> PatchGapDoc:
    """Return a gap as it stands in JSON."""
    danger = gap.danger
    return PatchGapDoc(danger=danger.kind, at=danger.at, first=gap.first, last=gap.last, minutes=gap.minutes)


def _loop(plan: Plan, loop: PlacedLoop, want: int | str | None) -> LoopDoc:
    time = plan.line_map.loop(loop.name)
    return LoopDoc(
        strip=loop.strip,
        way=loop.way,
        want=want,
        blank=loop.blank,
        back_on=loop.back_on,
        unit=loop.unit,
        chain=loop.chain,
        width=loop.legs,
        send=str(loop.send),
        return_=str(loop.returns),
        unit_in=str(loop.unit_in),
        unit_out=str(loop.unit_out),
        delay=_delay(time.delay),
        parts=[PartDoc(label=item.label, kind=item.kind, delay=_delay(item.delay)) for item in time.items],
    )


def _gap(gap: Gap) -> GapDoc:
    return GapDoc(low_ms=_ms(gap.low), high_ms=_ms(gap.high), verdict=gap.verdict)


def _arrivals(plan: Plan) -> list[ArrivalDoc]:
    times = [plan.arrivals.times(state) for state in plan.states]
    return [
        ArrivalDoc(
            source=row.source,
            place=row.place.name,
            place_kind=row.place.kind,
            route=list(row.route),
            output=row.output,
            loops=list(row.loops),
            level_db=None if row.level_db is None else _number(row.level_db),
            inverted=row.inverted,
            standing=standing_of(plan.line_map, row),
            low_ms=[None if time.silent[index] else _ms(float(time.low[index])) for time in times],
            high_ms=[None if time.silent[index] else _ms(float(time.high[index])) for time in times],
        )
        for index, row in enumerate(plan.arrivals.rows)
    ]


def _recovery(plan: Plan) -> RecoveryDoc:
    found = plan.recovery
    return RecoveryDoc(
        danger=found.danger,
        keys=[KeyDoc(number=k.number, label=k.label, strips=list(k.strips), sure=k.sure) for k in found.keys],
        presses=[
            PressDoc(strip=p.strip, key=p.key, presses=p.presses, seconds=p.seconds, earlier=_delay(p.delay))
            for p in found.presses
        ],
        failures=[
            FailureDoc(unit=f.unit, silent=list(f.silent), passing=list(f.passing), unsure=list(f.unsure))
            for f in found.failures
        ],
        seconds_by_hand=found.seconds_by_hand,
        hand_overs=[_hand_over(plan, own) for own in found.hand_overs],
    )


def _hand_over(plan: Plan, own: HandOver) -> HandOverDoc:
    later = {one.strip: one.delay for one in own.later}
    return HandOverDoc(
        unit=own.unit,
        by=own.by,
        switch=own.switch,
        acts=[ActDoc(what=a.what, becomes=a.becomes, presses=a.presses, seconds=a.seconds) for a in own.acts],
        presses=own.presses,
        seconds=own.seconds,
        timed=own.timed,
        loops=[
            TakeOverDoc(
                loop=taken.loop.name,
                send=str(taken.by.send),
                return_=str(taken.by.returns),
                unit_in=str(taken.by.unit_in),
                unit_out=str(taken.by.unit_out),
                later=_delay(later[taken.loop.name]),
            )
            for taken in plan.allocation.take_overs
            if taken.by.unit == own.by
        ],
        not_cured=list(own.not_cured),
        ask=list(own.ask),
    )
