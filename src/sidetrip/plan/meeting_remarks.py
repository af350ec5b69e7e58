"""What a plan says aloud of its meetings: heard twice, faintly, only in some states, or harmless."""

from __future__ import annotations

from collections.abc import Mapping

from sidetrip.findings import Finding
from sidetrip.model.house import Accepted
from sidetrip.plan.compare import DROP_DB, Compared
from sidetrip.plan.gap import MOVED_DB
from sidetrip.plan.invariants_house import accepted_by
from sidetrip.plan.meeting import Meeting
from sidetrip.units import ms_from_seconds

_NAMED = 3  # of what was dropped; the rest is counted


def meeting_findings(
    meetings: tuple[Meeting, ...],
    accept: tuple[Accepted, ...] = (),
    groups: Mapping[str, tuple[str, ...]] | None = None,
) -> list[Finding]:
    """Say what is heard twice, who accepts it where somebody does, and what cannot be told.

    groups: the strips of each bypass group. What they take OUT together is not warned of loop by loop.
    """
    found = []
    for meeting in meetings:
        where = f"heard at {', '.join(meeting.places)}"
        by = accepted_by(accept, meeting) if meeting.verdict != "together" or meeting.apart_in else None
        if by is not None:
            what, remedy = meeting.sentence.rstrip("."), "Nothing to do; take it off the list to be warned again"
            found.append(Finding("accepted", where, what, f"accepted by {by}", remedy))
        elif meeting.harmless:
            remedy = "Nothing to do while the return is all wet; any dry sound in it combs"
            found.append(Finding("judged-harmless", where, meeting.harmless.rstrip("."), "", remedy))
        elif meeting.verdict == "cannot tell":
            remedy = f"Find out: {meeting.deciding}" if meeting.deciding else "Give the missing figure"
            found.append(Finding("meeting-untold", where, meeting.sentence.rstrip("."), "", remedy))
        elif meeting.verdict == "apart":
            code = _code(meeting)
            more = f"{len(meeting.sources)} sources, worst {meeting.sources[0]}" if len(meeting.sources) > 1 else ""
            found.append(Finding(code, where, meeting.sentence.rstrip("."), more, remedy_for(meeting)))
        else:
            if meeting.apart_in and meeting.kind != "picture":
                found += _elsewhere(meeting, where, groups or {})
            found += _taken_over(meeting, where)
    return found


def _code(meeting: Meeting) -> str:
    if meeting.kind == "picture":
        return "picture-off"
    return "heard-faintly" if meeting.slight else "heard-twice"


def _elsewhere(meeting: Meeting, where: str, groups: Mapping[str, tuple[str, ...]]) -> list[Finding]:
    """Say of what is together IN and OUT in which other state it is apart: a cue, or a loop taken OUT by itself."""
    together = any(set(meeting.loops) <= set(own) for own in groups.values())
    if meeting.slight or (together and not meeting.cues_apart):
        return []
    other_units = {state for state, _ in meeting.taken_over}
    states = meeting.cues_apart or tuple(state for state in meeting.apart_in if state not in other_units)
    if not states:
        return []
    meet = f"in {meeting.joined}" if meeting.joined else f"at {meeting.places[0]}"
    spread = ""
    if meeting.gap_worst is not None and meeting.worst_state in states:
        spread = f", {abs(ms_from_seconds(meeting.gap_worst.typical)):.2f} ms apart"
    when = "In" if meeting.cues_apart else "With"
    what = f"{when} {meeting.worst_state if spread else states[0]} {meeting.sources[0]} is heard twice {meet}{spread}"
    remedy = f"Take {' and '.join(meeting.loops)} OUT together: one bypass group, one key"
    if meeting.cues_apart:
        remedy = f"Let {' and '.join(meeting.loops)} change in the same cue, or accept it by name"
    more = f"{len(states)} states: {', '.join(states)}" if len(states) > 1 else ""
    return [Finding("heard-twice" if meeting.cues_apart else "heard-twice-out", where, what, more, remedy)]


def _taken_over(meeting: Meeting, where: str) -> list[Finding]:
    """Say of what is together IN and OUT where it is apart once a unit that stands in has taken over."""
    found = []
    for state, gap in meeting.apart_taken_over if not meeting.slight else ():
        ms = ms_from_seconds(gap.typical)
        if meeting.kind == "picture":
            when = f"{abs(ms):.1f} ms {'before' if ms > 0 else 'after'} its picture"
            what = f"With {state} sound reaches {meeting.places[0]} {when}"
            remedy = "Dial it at the encoder then, not on strips that feed the room"
        else:
            meet = f"in {meeting.joined}" if meeting.joined else f"at {meeting.places[0]}"
            what = f"With {state} {meeting.sources[0]} is heard twice {meet}, {abs(ms):.2f} ms apart"
            remedy = "Set both units to one buffer and measure both; else take both ways behind loops of one unit"
        found.append(Finding("heard-twice-stand-in", where, what, "together with all loops IN and all OUT", remedy))
    return found


def nearly_findings(compared: Compared) -> list[Finding]:
    """Say what was dropped as too quiet, and would not be if a level moved."""
    nearly = compared.nearly
    if not nearly:
        return []
    count = f"{len(nearly)} cause" + ("s" if len(nearly) > 1 else "")
    names = "; ".join(
        f"{own.sources[0]} {f'in {own.joined}' if own.joined else f'at {own.places[0]}'}" for own in nearly[:_NAMED]
    )
    more = f" and {len(nearly) - _NAMED} more" if len(nearly) > _NAMED else ""
    what = f"{count} of sound heard twice dropped, more than {DROP_DB:g} dB below the loudest as mixed"
    remedy = f"Nothing to do as mixed; if a send or a compressor lifts it by {MOVED_DB:g} dB, it is heard"
    return [Finding("nearly-heard", "levels as mixed", what, names + more, remedy)]


def remedy_for(meeting: Meeting) -> str:
    """Say what to do about a meeting that is apart."""
    if meeting.kind == "picture":
        return "Dial it at the encoder, not on strips that feed the room"
    if meeting.inside:
        return "Use one whose dry side waits, or set it all wet and mix the dry sound in by a chain as late"
    if meeting.loops and meeting.gap_in.verdict == "apart":
        one = f"loop {meeting.loops[0]}" if len(meeting.loops) == 1 else f"loops {', '.join(meeting.loops)}"
        if meeting.kind == "two microphones":
            return f"Only one of the two passes {one}: send both out or neither, lower the spill, or accept it by name"
        return f"Only one of the two passes {one}: take both behind it or both before it, or accept it by name"
    if meeting.gap_in.verdict != "apart":
        return "It is together with all loops IN; with them OUT expect it, and say so on the card"
    return "Delay the earlier one, or take one of them out of this place"


__all__ = ["meeting_findings", "nearly_findings", "remedy_for"]
