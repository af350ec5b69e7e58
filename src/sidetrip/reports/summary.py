"""The plan for a terminal: blocks of a heading, one sentence that answers it, and a short table."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.graph.arrivals import State, Times
from sidetrip.graph.span import Span
from sidetrip.model.split import FOH
from sidetrip.plan.cue_steps import cue_words
from sidetrip.plan.ears import EarDelay, judged, rating_of
from sidetrip.plan.gap import Gap
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.planner import Plan
from sidetrip.plan.remarks import remedy_for
from sidetrip.plan.two_desks import OtherMix, other_mixes
from sidetrip.reports import alignment_words
from sidetrip.reports.stand_in_words import effort
from sidetrip.reports.stand_in_words import rows as hand_over_rows
from sidetrip.units import ms_from_seconds

_MOST_MEETINGS = 8
_MOST_CHANGES = 6

SAID = ("request-refused", "heard-twice", "heard-faintly", "picture-off", "meeting-untold")
"""Findings that the summary has already said."""


@dataclass(frozen=True, slots=True)
class Block:
    """heading: the question. answer: one sentence. header and rows: the table, empty for none."""

    heading: str
    answer: str
    header: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def summary(plan: Plan) -> tuple[Block, ...]:
    """Return the blocks in the order of the engineer's questions."""
    return (
        _out(plan),
        _stays(plan),
        _costs(plan),
        _late(plan),
        _ears(plan),
        *_other_desks(plan),
        _twice(plan),
        _dial(plan),
        *_cues(plan),
        _dies(plan),
        *_takes_over(plan),
    )


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _ms(span: Span) -> str:
    if not span.known:
        return "unknown"
    low, high = ms_from_seconds(span.low), ms_from_seconds(span.high)
    return f"{low:.2f}" if high - low < 0.005 else f"{low:.2f} to {high:.2f}"


def _out(plan: Plan) -> Block:
    loops = plan.allocation.loops
    wants = {(request.strip, request.way): request.want for request in plan.show.requests}
    if not loops:
        return Block("Who goes out", "Nobody goes out.")
    rows = tuple(
        (
            loop.strip,
            "blank" if loop.blank else str(wants[loop.strip, loop.way]),
            loop.unit,
            str(loop.send),
            str(loop.returns),
            _ms(plan.line_map.loop(loop.name).delay),
        )
        for loop in sorted(loops, key=lambda loop: (loop.returns, loop.name))
    )
    answer = f"{_count(len(loops), 'strip goes', 'strips go')} out of {len(plan.show.requests)} that want to."
    return Block("Who goes out", answer, ("strip", "want", "unit", "send", "return", "later by ms"), rows)


def _stays(plan: Plan) -> Block:
    refusals = plan.allocation.refusals
    if not refusals:
        return Block("Who stays in", "Nobody who asked stays in.")
    rows = []
    said: dict[tuple[str, tuple[str, ...]], str] = {}
    for refusal in refusals:
        answer = (refusal.reason, (*refusal.would_fit_if, *refusal.pair))
        same = f"as {said[answer]}" if answer in said else ""
        said.setdefault(answer, refusal.strip)
        fits = "; or ".join(refusal.would_fit_if[:_MOST_CHANGES])
        if len(refusal.would_fit_if) > _MOST_CHANGES:
            fits += f"; or {len(refusal.would_fit_if) - _MOST_CHANGES} other changes"
        if refusal.pair:
            fits = f"two changes: {' and '.join(refusal.pair)}"
        fits = fits or f"none of {refusal.tried} changes tried"
        rows.append((refusal.strip, str(refusal.want), same or refusal.reason, same or fits))
    count = f"{_count(len(refusals), 'strip stays', 'strips stay')} in."
    return Block("Who stays in", count, ("strip", "want", "because", "would fit if"), tuple(rows))


def _costs(plan: Plan) -> Block:
    settings = plan.allocation.settings
    if not settings:
        return Block("What it costs", "No block of the desk changes its source.")
    rows = tuple(
        (
            setting.block,
            setting.was,
            setting.becomes,
            f"{'jacks' if setting.jacks else 'tracks'} {setting.lost}",
        )
        for setting in settings
    )
    jacks = sum(len(setting.lost) for setting in settings if setting.jacks)
    tracks = sum(len(setting.lost) for setting in settings if not setting.jacks)
    parts = [_count(jacks, "jack")] * bool(jacks) + [_count(tracks, "recorder track")] * bool(tracks)
    spare = f" Spare and open: {', '.join(plan.allocation.spare)}." if plan.allocation.spare else ""
    return Block(
        "What it costs",
        f"{' and '.join(parts)} lose what they had.{spare}",
        ("block", "was", "becomes", "lost"),
        rows,
    )


def _late(plan: Plan) -> Block:
    into, out = plan.arrivals.times(plan.states[0]), plan.arrivals.times(_all_out(plan))
    rows = []
    for place in plan.line_map.places:
        own = [
            index for index, row in enumerate(plan.arrivals.rows) if row.place == place and row.microphone is not None
        ]
        if place.kind == "ear" or not own:
            continue
        heard_in = [index for index in own if not into.silent[index]]
        rows.append((place.name, _range(into, heard_in), _range(out, own)))
    at = ", ".join(f"{unit.name} at {unit.buffer_frames} frames" for unit in plan.units if unit.buffer_frames)
    answer = "From the source to each place, with all loops IN and all OUT"
    return Block(
        "When does it arrive",
        f"{answer}{f'; {at}' if at else ''}.",
        ("place", "IN, ms", "OUT, ms"),
        tuple(rows),
    )


def _all_out(plan: Plan) -> State:
    return next((state for state in plan.states if state.kind == "all out"), plan.states[0])


def _range(times: Times, indices: list[int]) -> str:
    if not indices:
        return "silent"
    low, high = min(float(times.low[i]) for i in indices), max(float(times.high[i]) for i in indices)
    if not math.isfinite(high):
        return f"{ms_from_seconds(low):.2f} or more"
    return f"{ms_from_seconds(low):.2f} to {ms_from_seconds(high):.2f}"


def latest_in_ears(plan: Plan) -> dict[str, EarDelay]:
    """Return the latest sound that limits are about in each mix for ears, all loops IN."""
    worst: dict[str, EarDelay] = {}
    for delay in judged(plan.show, plan.ears):
        if delay.mix not in worst or delay.in_s > worst[delay.mix].in_s:
            worst[delay.mix] = delay
    return worst


def _ears(plan: Plan) -> Block:
    delays = judged(plan.show, plan.ears)
    if not delays:
        return Block("What do ears get", "The show names nobody's ears.")
    worst = latest_in_ears(plan)
    rows = tuple(
        (d.mix, d.performer, *_on(plan, d.mix), d.source, _s(d.in_s), _s(d.out_s), d.standing)
        for _, d in sorted(worst.items())
    )
    limit = plan.show.limits.ear_total_ms
    answer = (
        f"The latest sound in each, against {limit:g} ms."
        if limit
        else "The latest sound in each; the show sets no limit."
    )
    rated = [f"{d.mix}: {words}" for _, d in sorted(worst.items()) if (words := rating_of(plan.show, d))]
    if rated:
        answer += f" How musicians of one study rated such times, no promise: {'; '.join(rated)}."
    desk = ("desk",) if plan.show.other_desks else ()
    return Block("What do ears get", answer, ("mix", "for", *desk, "latest", "IN, ms", "OUT, ms", "standing"), rows)


def _on(plan: Plan, mix: str) -> tuple[str, ...]:
    """Return the desk that a mix is on, for a show with more than one."""
    other = plan.show.desk_of(mix)
    return () if not plan.show.other_desks else (FOH if other is None else other.name,)


def _other_desks(plan: Plan) -> tuple[Block, ...]:
    """Say which mixes are on another desk, and which loops reach them."""
    if not plan.show.other_desks:
        return ()
    mixes = other_mixes(plan.show, plan.allocation.loops, plan.arrivals)
    rows = tuple(
        (mix.mix, mix.desk, ", ".join((*mix.split, *(f"{name} (tie)" for name in mix.ties))), *_reach(mix))
        for mix in mixes
    )
    dry = sum(bool(mix.spared) for mix in mixes)
    count = _count(len(mixes), "mix", "mixes")
    answer = f"{count} on another desk; {dry or 'none'} of them without a loop that the room hears."
    return (
        Block("What does the other desk get", answer, ("mix", "desk", "takes", "loops in it", "loops not in it"), rows),
    )


def _reach(mix: OtherMix) -> tuple[str, str]:
    return ", ".join(mix.loops) or "none", ", ".join(mix.spared) or "none"


def _s(seconds: float) -> str:
    return f"{ms_from_seconds(seconds):.2f}" if seconds != float("inf") else "unknown"


def _twice(plan: Plan) -> Block:
    apart = [meeting for meeting in plan.meetings if meeting.verdict == "apart"]
    untold = [meeting for meeting in plan.meetings if meeting.verdict == "cannot tell"]
    more = f"; {_count(len(untold), 'meeting')} cannot be told" if untold else ""
    answer = f"{_count(len(apart), 'cause')} of sound heard twice, the worst first{more}."
    if not apart:
        answer = f"Nothing is heard twice, apart{more}."
    shown = [*apart[:_MOST_MEETINGS], *untold[:_MOST_MEETINGS]]
    hidden = len(apart) + len(untold) - len(shown)
    if hidden:
        answer += f" {hidden} more are on the timing sheet."
    rows = tuple((_gap(m.gap_in), _gap(m.gap_out), _with_remedy(m)) for m in shown)
    return Block("What is heard twice", answer, ("IN, ms", "OUT, ms", "what happens"), rows)


def _with_remedy(meeting: Meeting) -> str:
    return f"{meeting.sentence} {remedy_for(meeting)}." if meeting.verdict == "apart" else meeting.sentence


def _gap(gap: Gap) -> str:
    if gap.verdict == "alone":
        return "alone"
    return f"{ms_from_seconds(gap.typical):.2f}" if math.isfinite(gap.low) and math.isfinite(gap.high) else "unknown"


def _dial(plan: Plan) -> Block:
    return Block("What to dial", alignment_words.answer(plan.alignment), *alignment_words.table(plan.alignment))


def _cues(plan: Plan) -> tuple[Block, ...]:
    """Return what the cues do to loops, nothing where none does."""
    if not plan.cues:
        return ()
    shown, rows = "", []
    for step in plan.cues:
        at = cue_words(step.cue)
        rows.append(("" if at == shown else at, step.item, step.was, step.becomes))
        shown = at
    answer = "Store this in the desk's cues, and run through them once with the outputs muted."
    return (Block("What the cues change", answer, ("cue", "item", "was", "becomes"), tuple(rows)),)


def _takes_over(plan: Plan) -> Iterator[Block]:
    for own in plan.recovery.hand_overs:
        answer = f"'{own.by}' can take over from '{own.unit}', {own.switch}: {effort(own)}, once its loops are OUT."
        yield Block("Who takes over", answer, ("what", "how"), tuple(hand_over_rows(own, plan.show.sample_rate)))


def _dies(plan: Plan) -> Block:
    found = plan.recovery
    if not found.presses:
        return Block("If it dies", "No loop, nothing to press.")
    rows = tuple(
        (
            str(press.order),
            press.strip,
            press.key,
            "unknown" if press.presses is None else f"{press.presses:g}",
            _ms(press.delay),
        )
        for press in found.presses
    )
    if found.keys:
        key = found.keys[0]
        sure = "" if key.sure else " (that this desk can is assumed: try it)"
        answer = f"Press key {key.number}, '{key.label}', once it is set up{sure}."
    else:
        answer = "This desk has no key for all loops: press them in this order."
    return Block("If it dies", answer, ("order", "strip", "by hand", "presses", "earlier by ms"), rows)
