"""What to dial, in words and rows: for the terminal, the timing sheet and the CSV."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sidetrip.plan.alignment import Aligned, Alignment, Setting
from sidetrip.plan.alignment_moves import Move
from sidetrip.plan.gap import Gap
from sidetrip.plan.planner import Plan
from sidetrip.reports.sheet import Cell, Wording, count, frames, hz, ms, number, ports
from sidetrip.units import seconds_from_frames

DIAL_HEADER = ("where", "IN, ms", "OUT, ms", "what for")
_AUDIBLE_HZ = 20_000.0
NO_DELAY = "no delay"


def answer(alignment: Alignment) -> str:
    """Say in one sentence how much there is to dial and what it cures."""
    became = [one.verdict for one in alignment.meetings]
    cured, left = became.count("cured"), len(became) - became.count("cured") - became.count("accepted")
    tasks = [count(len(alignment.settings), "delay to dial", "delays to dial")] if alignment.settings else []
    taps = sum(move.kind == "tap" for move in alignment.moves)
    blanks = len(alignment.moves) - taps
    tasks += [count(taps, "tap to move", "taps to move")] if taps else []
    tasks += [count(blanks, "blank loop to add", "blank loops to add")] if blanks else []
    if not became:
        return "Nothing to dial."
    lead = " and ".join(tasks) if tasks else "Nothing to dial"
    cures = f"{count(cured, 'meeting is', 'meetings are')} cured, {left} {'is' if left == 1 else 'are'} not"
    return f"{lead}: {cures}.{measure(alignment)}"


def measure(alignment: Alignment) -> str:
    """Name the figures to measure first, as a sentence with a space before it; empty for none."""
    if not alignment.measure_first:
        return ""
    return f" Not dialled before it is measured: {'; '.join(alignment.measure_first)}."


def rows(alignment: Alignment) -> Iterator[tuple[str, ...]]:
    """Yield a row for each thing to do, then one for each meeting that stays and is more than slight."""
    for move in alignment.moves:
        yield (place_of_move(move), NO_DELAY, NO_DELAY, f"{move_words(move)}.")
    for own in alignment.settings:
        was = f"Now {ms(own.was_s)} ms. " if own.was_s > 0 else ""
        yield (place(own), ms(own.in_s), ms(own.out_s), f"{was}{_note(alignment, own)}")
    for one in alignment.meetings:
        if one.verdict == "made worse" or (one.verdict == "left" and not (one.meeting.slight or _picture(one))):
            inside, outside = _gap(one.after_in), _gap(one.after_out)
            yield ("stays apart", inside, outside, f"{_what(one)}. {one.why}{repair_words(one)}")


def _note(alignment: Alignment, own: Setting) -> str:
    """Say what a setting is for, and what undoes it."""
    return f"{_delayed(alignment, own)}.{f' {own.undo}.' if own.undo else ''}"


def _picture(one: Aligned) -> bool:
    return one.meeting.kind == "picture"


def table(alignment: Alignment) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Return header and rows, both empty where there is nothing to say."""
    found = tuple(rows(alignment))
    return (DIAL_HEADER if found else ()), found


def place(setting: Setting) -> str:
    """Say where a delay is dialled."""
    return f"{setting.on} {setting.name}"


def place_of_move(move: Move) -> str:
    """Say where a tap or a blank loop is set."""
    return f"send of {move.strip} to {move.mix}" if move.kind == "tap" else f"insert of {move.strip}"


def move_words(move: Move) -> str:
    """Say what is set."""
    if move.blank is None:
        return "Take it after the insert, so that it follows IN and OUT; what is dialled stays"
    via = f"out on {ports(move.blank.send)}, back on {ports(move.blank.returns)}"
    return f"A blank loop beside {move.beside}: {via}; take both OUT with one key"


def _delayed(alignment: Alignment, own: Setting) -> str:
    """Name what a setting is for: the meetings whose repairs count on it."""
    needle = f"{'Output' if own.on == 'output' else 'Strip'} {own.name}, delay:"
    served = [one for one in alignment.meetings if any(r.done and r.words.startswith(needle) for r in one.repairs)]
    cured = [one for one in served if one.verdict == "cured"]
    out_only = " while all loops are OUT"
    names = dict.fromkeys(f"{_what(one)}{out_only * (one.meeting.gap_in.verdict != 'apart')}" for one in cured)
    return f"For {'; '.join(names)}" if names else "So that others stay together"


def _what(one: Aligned) -> str:
    meeting = one.meeting
    where = f"in {meeting.joined}" if meeting.joined else f"at {', '.join(meeting.places)}"
    if meeting.kind == "picture":
        return f"sound and picture at {', '.join(meeting.places)}"
    if meeting.kind == "main and sub":
        return f"main and sub {where}"
    others = f" and {len(meeting.sources) - 1} more" if len(meeting.sources) > 1 else ""
    return f"{meeting.sources[0]}{others} {where}"


def repair_words(one: Aligned) -> str:
    """Name the best repair that is not done, as a sentence with a space before it; empty for none."""
    best = next((repair for repair in one.repairs if not repair.done), None)
    return "" if best is None else f" {best.words}."


def _gap(gap: Gap) -> str:
    return "alone" if gap.verdict == "alone" else ms(gap.low, gap.high)


# For the sheet and the CSV


def sheet_data(plan: Plan, words: Wording) -> dict[str, object]:
    """Return what the timing sheet prints of it."""
    own = plan.alignment
    step = own.desk.step
    rate = plan.show.sample_rate
    return {
        "lead": answer(own),
        "step": "" if step is None else f"One step of a delay line here is {_step(step, rate)}.",
        "rows": [
            *(
                {"where": words(place_of_move(move)), "now": "", "in": NO_DELAY, "out": NO_DELAY, "frames": ""}
                | {"note": words(f"{move_words(move)}.")}
                for move in own.moves
            ),
            *(
                {"where": place(setting), "now": ms(setting.was_s), "in": ms(setting.in_s), "out": ms(setting.out_s)}
                | {"frames": f"{frames(setting.in_s, rate_hz=rate)} frames", "note": words(_note(own, setting))}
                for setting in own.settings
            ),
        ],
        "left": [
            {"what": _what(one), "why": words(f"{one.why}{repair_words(one)}".strip()), "residue": residue(plan, one)}
            for one in own.meetings
            if one.verdict not in ("cured", "accepted")
        ],
        "cured": [
            {
                "what": _what(one),
                "before": _both(one.meeting.gap_in, one.meeting.gap_out),
                "after": _both(one.after_in, one.after_out),
                "residue": residue(plan, one),
            }
            for one in own.meetings
            if one.verdict == "cured"
        ],
    }


def _step(step: float, rate_hz: int) -> str:
    return f"{count_of(step)}, {1000 * seconds_from_frames(step, rate_hz):.3f} ms"


def count_of(step: float) -> str:
    """Write "1 frame", "4.8 frames"."""
    return "1 frame" if step == 1 else f"{step:g} frames"


def _both(inside: Gap, outside: Gap) -> str:
    return f"IN {_gap(inside)}, OUT {_gap(outside)} ms"


def residue(plan: Plan, one: Aligned) -> str:
    """Say what is left of a meeting with all loops IN, and where its first dip lies if anybody can hear it."""
    if one.residue_s is None:
        return ""
    text = f"{ms(one.residue_s)} ms, {frames(one.residue_s, rate_hz=plan.show.sample_rate)} frames"
    null = one.residue_null_hz
    if null is None or not math.isfinite(null) or null > _AUDIBLE_HZ or one.meeting.kind == "picture":
        return text
    return f"{text}, first dip at {hz(null)} Hz"


def csv_rows(plan: Plan, words: Wording) -> Iterator[tuple[Cell, ...]]:
    """Yield rows of the timing CSV: what to dial, and every meeting after it."""
    own, rate, blank = plan.alignment, plan.show.sample_rate, ("", "", "", "")
    for setting in own.settings:
        inside, outside = (
            (number(ms(seconds)), number(frames(seconds, rate_hz=rate))) for seconds in (setting.in_s, setting.out_s)
        )
        loops, remark = ", ".join(setting.wrong_out), f"now {ms(setting.was_s)} ms. {setting.undo}".strip()
        yield ("dial", setting.name, f"delay on this {setting.on}", loops, *inside, *outside, *blank, "", words(remark))
    for move in own.moves:
        yield ("set", move.strip, place_of_move(move), move.beside, "", "", "", "", *blank, "", words(move_words(move)))
    for one in own.meetings:
        inside, outside = (
            ("", "")
            if gap.verdict == "alone"
            else (number(ms(gap.low, gap.high)), number(frames(gap.low, gap.high, rate_hz=rate)))
            for gap in (one.after_in, one.after_out)
        )
        null = one.residue_null_hz
        dip: Cell = "" if null is None or not math.isfinite(null) else number(hz(null))
        says = (one.after_in.verdict, one.after_out.verdict)
        repairs = " ".join(f"{'Done' if repair.done else 'Or'}: {repair.words}." for repair in one.repairs)
        remark = f"{one.verdict}. {one.why} {repairs}".strip()
        places, loops = ", ".join(one.meeting.places), ", ".join(one.meeting.loops)
        head = ("after dialling", places, _what(one), loops)
        yield (*head, *inside, *outside, *says, dip, "", "", words(remark))
