"""The timing sheet: what each loop adds, what arrives where and when, whose ears are late, what is heard twice."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from sidetrip.graph.span import Span
from sidetrip.plan.ears import EarDelay, beyond, judged, rating_of
from sidetrip.plan.gap import Gap
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.planner import Plan
from sidetrip.plan.recordings import Recording, find_recordings
from sidetrip.plan.remarks import UnitPlan, remedy_for
from sidetrip.plan.two_desks import loops_in_ears
from sidetrip.reports.alignment_words import csv_rows, sheet_data
from sidetrip.reports.heard import Heard, heard_at, together
from sidetrip.reports.sheet import (
    UNKNOWN,
    Cell,
    Sheet,
    Stamp,
    Wording,
    db,
    errors_in,
    frames,
    hz,
    listed,
    make_sheet,
    ms,
    number,
    span_ms,
)
from sidetrip.units import ms_from_seconds

# Paper names the first few; the CSV names all.
_NAMED_SOURCES = 2

_HEADER = (
    "part",
    "place",
    "what",
    "through loops",
    "IN ms",
    "IN frames",
    "OUT ms",
    "OUT frames",
    "IN says",
    "OUT says",
    "first dip Hz",
    "ripple dB",
    "standing",
    "remark",
)


def timing_sheet(plan: Plan, stamp: Stamp) -> Sheet:
    """Return the sheet for whoever aligns loudspeakers, ears and stream."""
    words = Wording(plan)
    heard = heard_at(plan)
    apart = [meeting for meeting in plan.meetings if meeting.verdict in ("apart", "cannot tell")]
    named = [meeting for meeting in plan.meetings if meeting in apart or meeting.apart_taken_over]
    used = {loop.unit for loop in plan.allocation.loops}
    data: dict[str, Any] = {
        "lead": _lead(plan, apart),
        "errors": errors_in(plan),
        "units": [_unit(plan, unit) for unit in plan.units if unit.name in used],
        "loops": [
            {
                "name": time.loop,
                "parts": [_part(plan, words(item.label), item.delay) for item in time.items],
                "total": _part(plan, "in all", time.delay),
            }
            for time in plan.line_map.loops
        ],
        "places": [_place(place, own) for place, own in heard.items()],
        "axis": _axis(heard),
        "dial": sheet_data(plan, words),
        "ears": _ears(plan),
        "meetings": [_meeting(plan, order, meeting, words) for order, meeting in enumerate(named, 1)],
        "recordings": [_recording(plan, own) for own in find_recordings(plan.show, plan.line_map)],
        "complete": plan.arrivals.complete,
    }
    return make_sheet("timing-sheet", "Timing sheet", stamp, data, _HEADER, _csv(plan, heard, words))


def _lead(plan: Plan, apart: list[Meeting]) -> str:
    untold = sum(meeting.verdict == "cannot tell" for meeting in apart)
    counts = f"apart {len(apart) - untold}, cannot tell {untold}, together {len(plan.meetings) - len(apart)}"
    return f"Heard twice: {counts}.{_with_stand_in(plan)} {_earlier(plan)}"


def _with_stand_in(plan: Plan) -> str:
    """Say how many more are apart once a unit that stands in has taken over, with a space in front."""
    states = [state.name for state in plan.states if state.kind == "taken over"]
    counted = {
        state: sum(state in dict(meeting.apart_taken_over) for meeting in plan.meetings if not meeting.slight)
        for state in states
    }
    return "".join(f" With {state}: apart {count} more." for state, count in counted.items() if count)


def _earlier(plan: Plan) -> str:
    if not plan.line_map.loops:
        return "No loop delays anything."
    earlier = "OUT makes everything behind a loop earlier by the whole time of that loop"
    counts = any(own.external_inserts.answer != "no" for own in plan.desk.compensation)
    return f"{earlier}, and with it what this desk may hold back for it." if counts else f"{earlier}."


def _unit(plan: Plan, unit: UnitPlan) -> str:
    if unit.buffer_frames is None:
        return f"{unit.name}: {span_ms(unit.time.span)} ms by itself, {unit.time.span.standing}."
    why = f"; {unit.why}" if unit.why else ""
    return f"{unit.name}: buffer {unit.buffer_frames} frames at {plan.show.sample_rate} Hz{why}."


def _part(plan: Plan, label: str, delay: Span) -> dict[str, str]:
    text = frames(delay.low, delay.high, rate_hz=plan.show.sample_rate)
    return {"label": label, "frames": text, "ms": span_ms(delay), "standing": delay.standing}


# What arrives


def _place(place: tuple[str, str], own: list[Heard]) -> dict[str, Any]:
    name, kind = place
    return {
        "name": name,
        "kind": kind,
        "ends": f"IN {_ends(own, inside=True)}; OUT {_ends(own, inside=False)}",
        "groups": [
            {
                "sources": _some(one.source for one in group),
                "loops": ", ".join(group[0].loops) or "none",
                "in": ms(min(one.in_s[0] for one in group), max(one.in_s[1] for one in group)),
                "out": ms(min(one.out_s[0] for one in group), max(one.out_s[1] for one in group)),
                "in_bar": _bar([one.in_s for one in group]),
                "out_bar": _bar([one.out_s for one in group]),
                "standing": group[0].standing,
            }
            for group in together(own)
        ],
    }


def _ends(own: list[Heard], *, inside: bool) -> str:
    """Say which source comes first and which last, in one state."""

    def time(one: Heard) -> tuple[float, float]:
        return one.in_s if inside else one.out_s

    first = min(own, key=lambda one: (time(one)[0], one.source))
    last = max(own, key=lambda one: (time(one)[1], one.source))
    if first is last:
        return ms(*time(first))
    return f"from {ms(time(first)[0])} ({first.source}) to {ms(time(last)[1])} ({last.source})"


def _bar(times: list[tuple[float, float]]) -> list[float] | None:
    low, high = min(low for low, _ in times), max(high for _, high in times)
    return [round(ms_from_seconds(low), 3), round(ms_from_seconds(high), 3)] if math.isfinite(high) else None


def _axis(heard: dict[tuple[str, str], list[Heard]]) -> dict[str, Any]:
    """Return the common axis in ms: at most six steps of a round length."""
    ends = [end for own in heard.values() for one in own for end in (one.in_s[1], one.out_s[1])]
    longest = ms_from_seconds(max((end for end in ends if math.isfinite(end)), default=0.0))
    step = next((step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500) if longest <= 6 * step), 1000)
    steps = max(1, math.ceil(longest / step - 1e-9))
    return {"max": steps * step, "ticks": [index * step for index in range(steps + 1)]}


# Ears


def _ears(plan: Plan) -> list[dict[str, str]]:
    """Return the sounds that the limits are about, for each mix: the own one, else the latest and the most delayed."""
    by_mix: defaultdict[str, list[EarDelay]] = defaultdict(list)
    for delay in judged(plan.show, plan.ears):
        by_mix[delay.mix].append(delay)
    rows = []
    for _, own in sorted(by_mix.items()):
        latest = max(own, key=lambda delay: (delay.in_s, delay.source))
        added = max(own, key=lambda delay: (delay.added_s, delay.source))
        for delay in [latest] if added is latest or added.added_s <= 0 else [latest, added]:
            is_latest = "latest of the mix" if delay is latest else "most added of the mix"
            rows.append(_ear(plan, delay, "own" if delay.own else is_latest))
    return rows


def _ear(plan: Plan, delay: EarDelay, which: str) -> dict[str, str]:
    limits = plan.show.limits
    return {
        "mix": delay.mix + _on(plan, delay.mix),
        "performer": delay.performer,
        "source": delay.source,
        "which": which,
        "in": ms(delay.in_s),
        "out": ms(delay.out_s),
        "added": ms(delay.added_s),
        "in_limit": against(delay.in_s, limits.ear_total_ms),
        "added_limit": against(delay.added_s, limits.ear_added_ms),
        "standing": delay.standing,
    }


def _on(plan: Plan, mix: str) -> str:
    """Say on which other desk a mix is, with a comma in front; nothing for the show's own."""
    other = plan.show.desk_of(mix)
    return "" if other is None else f", on {other.name}"


def against(seconds: float, limit_ms: float | None) -> str:
    """Say how far a time is within a limit, or over it, in ms."""
    if limit_ms is None:
        return "no limit given"
    if not math.isfinite(seconds):
        return f"cannot tell, limit {limit_ms:g}"
    over = ms_from_seconds(seconds) - limit_ms
    if beyond(seconds, limit_ms):
        return f"over {limit_ms:g} by {over:.2f}"
    return f"within {limit_ms:g} by {max(-over, 0.0):.2f}"


# What is heard twice


def _meeting(plan: Plan, order: int, meeting: Meeting, words: Wording) -> dict[str, Any]:
    others = meeting.sources[1:]
    return {
        "order": order,
        "verdict": meeting.verdict,
        "kind": meeting.kind,
        "sentence": words(meeting.sentence),
        "others": f"The same happens to {_some(others)}." if others and meeting.kind != "picture" else "",
        "remedy": words(f"{remedy_for(meeting)}.") if meeting.verdict == "apart" else "",
        "deciding": words(meeting.deciding or "") if meeting.verdict == "cannot tell" else "",
        "places": ", ".join(meeting.places),
        "taken_over": _taken_over(plan, meeting),
        "in": _gap(plan, meeting.gap_in, framed=meeting.kind != "picture"),
        "out": _gap(plan, meeting.gap_out, framed=meeting.kind != "picture"),
    }


def _taken_over(plan: Plan, meeting: Meeting) -> list[str]:
    """Say how far apart it is once a unit that stands in has taken over, where that is not as with all loops IN."""
    inside, found = _gap(plan, meeting.gap_in), []
    for state, gap in meeting.taken_over:
        own = _gap(plan, gap)
        if own != inside:
            parts = (own["verdict"], own["ms"] and f"{own['ms']} ms", own["frames"] and f"{own['frames']} frames")
            found.append(f"With {state}: {', '.join(part for part in parts if part)}.")
    return found


def _some(names: Iterable[str]) -> str:
    """Join names; of many only the first few and how many more there are."""
    every = list(names)
    few = (
        every if len(every) <= _NAMED_SOURCES + 1 else [*every[:_NAMED_SOURCES], f"{len(every) - _NAMED_SOURCES} more"]
    )
    return listed(few)


def _gap(plan: Plan, gap: Gap, *, framed: bool = True) -> dict[str, str]:
    """Return a spread as text. framed: in frames too, which beside a picture would be taken for those of the video."""
    alone, known = gap.verdict == "alone", math.isfinite(gap.low) and math.isfinite(gap.high)
    return {
        "verdict": gap.verdict,
        "ms": "" if alone else ms(gap.low, gap.high),
        "frames": "" if alone or not known or not framed else frames(gap.low, gap.high, rate_hz=plan.show.sample_rate),
    }


# Recordings that are mixed with each other


def _recording(plan: Plan, own: Recording) -> dict[str, Any]:
    rate = plan.show.sample_rate
    return {
        "name": own.name,
        "tracks": [
            {
                "output": track.output,
                "inputs": _some(track.inputs),
                "loops": ", ".join(track.loops) or "none",
                "in": frames(*track.in_s, rate_hz=rate),
                "in_ms": ms(*track.in_s),
                "out": frames(*track.out_s, rate_hz=rate),
                "out_ms": ms(*track.out_s),
            }
            for track in own.tracks
        ],
    }


# The same as rows, and all of them: a spreadsheet does not mind length


def _csv(plan: Plan, heard: dict[tuple[str, str], list[Heard]], words: Wording) -> Iterator[tuple[Cell, ...]]:
    rate, limits, blank = plan.show.sample_rate, plan.show.limits, ("", "", "", "")
    for time in plan.line_map.loops:
        for label, delay in (*((words(item.label), item.delay) for item in time.items), ("in all", time.delay)):
            figures = _both((delay.low, delay.high), rate)
            yield ("loop", time.loop, label, time.loop, *figures, 0, 0, *blank, delay.standing, "")
    for (name, kind), own in heard.items():
        for one in own:
            inside, outside = _both(one.in_s, rate), _both(one.out_s, rate)
            loops = ", ".join(one.loops)
            yield (f"arrival, {kind}", name, one.source, loops, *inside, *outside, *blank, one.standing, "")
    in_ears = loops_in_ears(plan.arrivals) if plan.show.other_desks else {}
    for ear in plan.ears:
        inside, outside = _both((ear.in_s, ear.in_s), rate), _both((ear.out_s, ear.out_s), rate)
        total, added = against(ear.in_s, limits.ear_total_ms), against(ear.added_s, limits.ear_added_ms)
        remark = f"for {ear.performer}{_on(plan, ear.mix)}; {total} in all; loops add {ms(ear.added_s)} ms, {added}"
        rating = rating_of(plan.show, ear)
        remark += f"; {rating}" if rating else ""
        through = ", ".join(in_ears.get((ear.mix, ear.source), ()))
        yield ("ears", ear.mix, ear.source, through, *inside, *outside, *blank, ear.standing, remark)
    for meeting in plan.meetings:
        yield _meeting_row(plan, meeting, words)
    for recording in find_recordings(plan.show, plan.line_map):
        for track in recording.tracks:
            both = (*_both(track.in_s, rate), *_both(track.out_s, rate))
            remark = f"recorded together: {recording.name}; later than its earliest track"
            loops, inputs = ", ".join(track.loops), ", ".join(track.inputs)
            yield ("recording", track.output, inputs, loops, *both, *blank, "", words(remark))
    yield from csv_rows(plan, words)


def _both(bounds: tuple[float, float], rate_hz: int) -> tuple[Cell, Cell]:
    return number(ms(*bounds)), number(frames(*bounds, rate_hz=rate_hz))


def _meeting_row(plan: Plan, meeting: Meeting, words: Wording) -> tuple[Cell, ...]:
    inside, outside = _gap(plan, meeting.gap_in), _gap(plan, meeting.gap_out)
    decides = f" This figure decides: {meeting.deciding}." if meeting.deciding else ""
    remedy = f" {remedy_for(meeting)}." if meeting.verdict == "apart" else ""
    ripple = "complete" if meeting.ripple_db == math.inf else number(db(meeting.ripple_db))
    return (
        f"heard twice, {meeting.kind}",
        ", ".join(meeting.places),
        ", ".join(meeting.sources),
        ", ".join(meeting.loops),
        number(inside["ms"]),
        number(inside["frames"]),
        number(outside["ms"]),
        number(outside["frames"]),
        inside["verdict"],
        outside["verdict"],
        "" if meeting.first_null_hz is None else number(hz(meeting.first_null_hz)),
        "" if meeting.ripple_db is None else ripple,
        UNKNOWN if meeting.verdict == "cannot tell" else "",
        words(" ".join((meeting.sentence + decides + remedy, *_taken_over(plan, meeting)))),
    )
