"""The shape of what to dial as JSON, and how it is made."""

from __future__ import annotations

import math
from typing import Literal

from typing_extensions import TypedDict  # the library that makes the schema asks for this one before Python 3.12

from sidetrip.plan.alignment import Aligned, Alignment
from sidetrip.plan.gap import Gap
from sidetrip.units import ms_from_seconds


class SettingDoc(TypedDict):
    """One delay to dial. now, with the loops IN, and OUT. wrong_out: loops that make it wrong when they are OUT."""

    on: Literal["output", "strip"]
    name: str
    now_ms: float
    in_ms: float
    out_ms: float
    steps: int
    frames: float
    wrong_out: list[str]
    undo: str | None


class MoveDoc(TypedDict):
    """A tap to take behind the insert, or a blank loop: both follow IN and OUT. beside: the loop that it follows."""

    kind: Literal["tap", "blank loop"]
    strip: str
    mix: str | None
    beside: str
    in_frames: float
    send: str | None
    back: str | None


class RepairDoc(TypedDict):
    """One way to cure a meeting, best first. done: whether the numbers count on it."""

    kind: str
    words: str
    done: bool


class AlignedGapDoc(TypedDict):
    """A spread once all is dialled."""

    low_ms: float | None
    high_ms: float | None
    verdict: Literal["together", "apart", "alone", "cannot tell"]


class LackingDoc(TypedDict):
    """What the desk lacks to cure a meeting."""

    kind: Literal["short", "missing"]
    on: list[str]
    needs_ms: float
    left_ms: float


class AlignedDoc(TypedDict):
    """A meeting after. meeting: its place in the list of meetings, from 0."""

    meeting: int
    verdict: Literal["cured", "left", "made worse", "accepted", "measure first"]
    all_in: AlignedGapDoc
    all_out: AlignedGapDoc
    residue_ms: float | None
    residue_null_hz: float | None
    repairs: list[RepairDoc]
    why: str | None
    lacking: LackingDoc | None


class AlignmentDoc(TypedDict):
    """What to dial. step_frames: of the desk's delay lines, null where unknown. proven: no better answer exists."""

    settings: list[SettingDoc]
    moves: list[MoveDoc]
    meetings: list[AlignedDoc]
    measure_first: list[str]
    step_frames: float | None
    proven: bool
    left_out: int


def alignment_doc(alignment: Alignment, meetings: tuple[object, ...]) -> AlignmentDoc:
    """Return an alignment as it stands in JSON. meetings: the plan's, to which it points."""
    number = {id(meeting): index for index, meeting in enumerate(meetings)}
    return AlignmentDoc(
        settings=[
            SettingDoc(
                on=own.on,
                name=own.name,
                now_ms=_ms(own.was_s) or 0.0,
                in_ms=_ms(own.in_s) or 0.0,
                out_ms=_ms(own.out_s) or 0.0,
                steps=own.steps,
                frames=round(own.frames, 6),
                wrong_out=list(own.wrong_out),
                undo=own.undo or None,
            )
            for own in alignment.settings
        ],
        moves=[
            MoveDoc(
                kind=move.kind,
                strip=move.strip,
                mix=move.mix or None,
                beside=move.beside,
                in_frames=round(move.frames, 6),
                send=None if move.blank is None else str(move.blank.send),
                back=None if move.blank is None else str(move.blank.returns),
            )
            for move in alignment.moves
        ],
        meetings=[_aligned(one, number[id(one.meeting)]) for one in alignment.meetings],
        measure_first=list(alignment.measure_first),
        step_frames=alignment.desk.step,
        proven=alignment.proven,
        left_out=alignment.left_out,
    )


def _aligned(one: Aligned, number: int) -> AlignedDoc:
    null = one.residue_null_hz
    lacking = one.lacking
    return AlignedDoc(
        meeting=number,
        verdict=one.verdict,
        all_in=_gap(one.after_in),
        all_out=_gap(one.after_out),
        residue_ms=None if one.residue_s is None else _ms(one.residue_s),
        residue_null_hz=None if null is None or not math.isfinite(null) else round(null, 6),
        repairs=[RepairDoc(kind=own.kind, words=own.words, done=own.done) for own in one.repairs],
        why=one.why or None,
        lacking=None
        if lacking is None
        else LackingDoc(
            kind=lacking.kind,
            on=list(lacking.on),
            needs_ms=_ms(lacking.needs_s) or 0.0,
            left_ms=_ms(lacking.left_s) or 0.0,
        ),
    )


def _gap(gap: Gap) -> AlignedGapDoc:
    return AlignedGapDoc(low_ms=_ms(gap.low), high_ms=_ms(gap.high), verdict=gap.verdict)


def _ms(seconds: float) -> float | None:
    return round(ms_from_seconds(seconds), 6) + 0.0 if math.isfinite(seconds) else None
