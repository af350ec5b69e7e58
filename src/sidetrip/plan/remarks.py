"""What a plan says aloud of its units, its meetings and its keys."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.round_trip import UnitTime
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.meeting import Meeting


@dataclass(frozen=True, slots=True)
class UnitPlan:
    """A unit as planned.

    buffer_frames: None for hardware. why: how an open buffer was chosen, empty if it was given.
    """

    name: str
    buffer_frames: int | None
    time: UnitTime
    why: str


def unit_findings(show: Show, units: tuple[UnitPlan, ...], used: set[str]) -> list[Finding]:
    """Say which round trips are guessed, unknown, uneven or not constant, and which buffer was chosen."""
    found = []
    names = [unit.name for unit in show.units]
    for planned in units:
        unit = show.unit(planned.name)
        assert unit is not None
        if unit.name not in used:
            continue
        where, path = f"units / {unit.name}", ("units", names.index(unit.name))
        at = (
            f"buffer {planned.buffer_frames} at {show.sample_rate} Hz"
            if planned.buffer_frames
            else f"{show.sample_rate} Hz"
        )
        measured = ", ".join(str(buffer) for buffer in sorted({point.buffer for point in unit.measured})) or "none"
        if planned.why and planned.buffer_frames is not None:
            values = f"{planned.buffer_frames} frames"
            found.append(
                Finding(
                    "buffer-chosen",
                    where,
                    f"The buffer was left open and is {planned.why}",
                    values,
                    "Write the number to fix it",
                    path,
                )
            )
        if planned.time.basis == "line":
            remedy = f"Measure the round trip at {at}"
            found.append(
                Finding(
                    "round-trip-guessed",
                    where,
                    f"The round trip at {at} comes from a line through other buffers",
                    f"measured: {measured}",
                    remedy,
                    path,
                )
            )
        if planned.time.basis == "other rate":
            rates = ", ".join(str(rate) for rate in sorted({point.rate for point in unit.measured}))
            remedy = "Measure at this rate; not everything in a round trip is counted in frames"
            found.append(
                Finding(
                    "rate-unlike",
                    where,
                    f"Frames measured at {rates} Hz are used at {show.sample_rate} Hz",
                    "",
                    remedy,
                    path,
                )
            )
        if not planned.time.span.known:
            key = "delay_ms" if unit.kind == "hardware" else "measured"
            remedy = f"Measure the round trip and add it under '{key}'"
            found.append(
                Finding(
                    "round-trip-unknown",
                    where,
                    f"The round trip at {at} is unknown",
                    f"measured at buffers: {measured}",
                    remedy,
                    path,
                )
            )
        if planned.time.uneven:
            values = f"off the line by up to {planned.time.residual_frames:.1f} frames"
            found.append(
                Finding(
                    "round-trip-uneven",
                    where,
                    "The round trips do not grow evenly with the buffer",
                    values,
                    "Something unmodelled is in the path: measure again",
                    path,
                )
            )
        if planned.time.spread_frames > 0:
            values = f"{planned.time.spread_frames:g} frames apart"
            found.append(
                Finding(
                    "round-trip-spread",
                    where,
                    "The round trip is not constant between openings",
                    values,
                    "Do not mix this unit with a dry copy of the same sound",
                    path,
                )
            )
        if unit.kind == "computer" and unit.aligns == "unknown":
            remedy = "Put a long chain on one loop and see whether the others get later; write all or per chain"
            found.append(
                Finding(
                    "aligns-unknown",
                    where,
                    "It is unknown whether the unit delays every chain to its slowest",
                    "",
                    remedy,
                    path,
                )
            )
    return found


def meeting_findings(meetings: tuple[Meeting, ...]) -> list[Finding]:
    """Say what is heard twice, and what cannot be told."""
    found = []
    for meeting in meetings:
        where = f"heard at {', '.join(meeting.places)}"
        if meeting.verdict == "cannot tell":
            remedy = f"Find out: {meeting.deciding}" if meeting.deciding else "Give the missing figure"
            found.append(Finding("meeting-untold", where, meeting.sentence.rstrip("."), "", remedy))
        elif meeting.verdict == "apart":
            code = "picture-off" if meeting.kind == "picture" else "heard-twice"
            more = f"{len(meeting.sources)} sources, worst {meeting.sources[0]}" if len(meeting.sources) > 1 else ""
            found.append(Finding(code, where, meeting.sentence.rstrip("."), more, _remedy(meeting)))
    return found


def _remedy(meeting: Meeting) -> str:
    if meeting.kind == "picture":
        return "Dial it at the encoder, not on strips that feed the room"
    if meeting.loops and meeting.gap_in.verdict == "apart":
        one = f"loop {meeting.loops[0]}" if len(meeting.loops) == 1 else f"loops {', '.join(meeting.loops)}"
        return f"Only one of the two passes {one}: take both behind it or both before it, or accept it by name"
    if meeting.gap_in.verdict != "apart":
        return "It is together with all loops IN: take loops OUT together, and say so on the card"
    return "Delay the earlier one, or take one of them out of this place"


def group_findings(show: Show, desk: Desk) -> list[Finding]:
    """Say which bypass groups this desk has no key for."""
    if not show.bypass_groups or (desk.bypass.group_keys and desk.bypass.group_key_takes_inserts.answer == "yes"):
        return []
    values = f"{desk.bypass.group_keys} keys; takes inserts: {desk.bypass.group_key_takes_inserts.answer}"
    remedy = "Press its strips one by one, or drop the group"
    return [
        Finding(
            "group-key-missing",
            f"bypass_groups / {name}",
            "No single key of this desk takes the group OUT",
            values,
            remedy,
            ("bypass_groups", name),
        )
        for name in sorted(show.bypass_groups)
    ]
