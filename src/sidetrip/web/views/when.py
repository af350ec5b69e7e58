"""When it arrives: the time map of a place, what is heard twice by harm, ears, and what to dial."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sidetrip.plan.ears import beyond
from sidetrip.plan.lanes import lanes_at
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.planner import Plan
from sidetrip.plan.remarks import remedy_for
from sidetrip.reports import alignment_words
from sidetrip.reports.draw.palette import DIM, PAGE, PRINT, Palette
from sidetrip.reports.draw.time_map import first_line, time_map_svg
from sidetrip.reports.sheet import Wording, hz, ms
from sidetrip.reports.summary import latest_in_ears
from sidetrip.reports.timing_sheet import against

INKS: dict[str, Palette] = {"page": PAGE, "dim": DIM, "print": PRINT}
BUFFERS = (16, 32, 64, 128, 256, 512, 1024, 2048)
_COMBS = ("electrical", "two microphones", "two loudspeakers", "main and sub")
_SAME_S = 5e-5
_HARMLESS = {"two microphones": "no further than they stand apart", "two loudspeakers": "heard as one"}


@dataclass(frozen=True, slots=True)
class Twice:
    """One cause of sound heard twice. here: whether at the place that is shown. others: how many sources more.

    after: what became of it once all is dialled. comb: whether it has a picture.
    """

    here: bool
    others: int
    verdict: str
    kind: str
    source: str
    place: str
    where: str
    in_ms: str
    out_ms: str
    dip: str
    sentence: str
    do: str
    after: str
    comb: bool


@dataclass(frozen=True, slots=True)
class EarLine:
    """The latest sound in a mix for ears, against the limit."""

    mix: str
    performer: str
    source: str
    in_ms: str
    out_ms: str
    says: str
    over: bool


@dataclass(frozen=True, slots=True)
class WhenView:
    """The whole part, for one place, buffer and rate. svg: the time map. aligned: whether what to dial is known yet."""

    lead: str
    place: str
    places: tuple[str, ...]
    buffer: int | None
    buffers: tuple[int, ...]
    rate: int
    rates: tuple[int, ...]
    planned_buffer: int | None
    planned_rate: int
    svg: str
    apart: tuple[Twice, ...]
    together: int
    ears: tuple[EarLine, ...]
    dial_lead: str
    dial_header: tuple[str, ...]
    dial_rows: tuple[tuple[str, ...], ...]
    aligned: bool


def places_of(plan: Plan) -> tuple[str, ...]:
    """Return every place where something is heard, listeners first: those are who it is for."""
    heard = {row.place.name for row in plan.arrivals.rows}
    names = [listener.name for listener in plan.show.listeners]
    names += [place.name for place in plan.line_map.places]
    return tuple(name for name in dict.fromkeys(names) if name in heard)


def buffer_of(plan: Plan) -> int | None:
    """Return the buffer of the computer with most loops, None where no computer has one."""
    used = [loop.unit for loop in plan.allocation.loops]
    own = [unit for unit in plan.units if unit.buffer_frames is not None]
    best = max(own, key=lambda unit: (used.count(unit.name), unit.name), default=None)
    return None if best is None else best.buffer_frames


def map_svg(plan: Plan, place: str, ink: str, width_px: int) -> tuple[str, str]:
    """Return the time map of a place as SVG, and its answer in a sentence."""
    found = lanes_at(plan, place, plan.states[0])
    lead = f"At {place}: {first_line(found)[:1].lower()}{first_line(found)[1:]}"
    over = [f"{line.mix} {line.says.removeprefix('over ')} ms" for line in _ears(plan) if line.over]
    lead += f" Ears over the limit of {', '.join(over)}." if over else ""
    return time_map_svg(f"What arrives at {place}", found, INKS[ink], width_px), lead


def when_view(plan: Plan, stands: Plan, place: str | None, ink: str, width_px: int, *, aligned: bool) -> WhenView:
    """Return the part. plan: at the buffer and rate asked about; stands: as the show has it."""
    places = places_of(plan)
    own = place if place in places else (places[0] if places else "")
    svg, lead = map_svg(plan, own, ink, width_px) if own else ("", "The show names no place where anything is heard.")
    words = Wording(plan)
    after = {id(one.meeting): one.verdict for one in plan.alignment.meetings}
    apart = [meeting for meeting in plan.meetings if meeting.verdict in ("apart", "cannot tell")]
    header, rows = alignment_words.table(plan.alignment)
    buffer, planned = buffer_of(plan), buffer_of(stands)
    return WhenView(
        lead,
        own,
        places,
        buffer,
        _buffers(buffer, planned),
        plan.show.sample_rate,
        tuple(sorted(stands.desk.rates)),
        planned,
        stands.show.sample_rate,
        svg,
        tuple(sorted((_twice(meeting, own, words, after.get(id(meeting), "")) for meeting in apart), key=_elsewhere)),
        len(plan.meetings) - len(apart),
        _ears(plan),
        alignment_words.answer(plan.alignment),
        header,
        tuple(tuple(words(cell) for cell in row) for row in rows),
        aligned,
    )


def _buffers(now: int | None, planned: int | None) -> tuple[int, ...]:
    """Return the places of the slider, none where no computer has a buffer."""
    return () if planned is None else tuple(sorted({*BUFFERS, planned, *([] if now is None else [now])}))


def _elsewhere(own: Twice) -> bool:
    return not own.here


def _twice(meeting: Meeting, place: str, words: Wording, became: str) -> Twice:
    return Twice(
        place in meeting.places,
        len(meeting.sources) - 1 if meeting.kind != "picture" else 0,
        meeting.verdict,
        meeting.kind,
        meeting.sources[0] if meeting.kind != "picture" else "Sound and picture",
        place if place in meeting.places else meeting.places[0],
        ", ".join(meeting.places),
        _gap(meeting, inside=True),
        _gap(meeting, inside=False),
        "" if meeting.first_null_hz is None else hz(meeting.first_null_hz),
        words(meeting.sentence),
        words(f"{remedy_for(meeting)}.")
        if meeting.verdict == "apart"
        else words(f"This figure decides: {meeting.deciding}." if meeting.deciding else ""),
        {"cured": "cured by what there is to dial", "accepted": "accepted in the show"}.get(became, ""),
        meeting.kind in _COMBS and meeting.verdict == "apart",
    )


def _gap(meeting: Meeting, *, inside: bool) -> str:
    gap = meeting.gap_in if inside else meeting.gap_out
    if gap.verdict == "alone":
        return "alone"
    figure = f"{ms(gap.low, gap.high)} ms" if math.isfinite(gap.low) and math.isfinite(gap.high) else "unknown"
    if gap.verdict != "together" or abs(gap.typical) < _SAME_S:
        return figure
    return f"{figure}, {_HARMLESS.get(meeting.kind, 'together')}"


def _ears(plan: Plan) -> tuple[EarLine, ...]:
    limit = plan.show.limits.ear_total_ms
    return tuple(
        EarLine(
            mix,
            own.performer,
            own.source,
            ms(own.in_s),
            ms(own.out_s),
            against(own.in_s, limit),
            math.isfinite(own.in_s) and beyond(own.in_s, limit),
        )
        for mix, own in sorted(latest_in_ears(plan).items())
    )


__all__ = ["BUFFERS", "INKS", "EarLine", "Twice", "WhenView", "buffer_of", "map_svg", "places_of", "when_view"]
