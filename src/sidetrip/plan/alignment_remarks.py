"""What alignment says aloud: delay lines that are too short or not there, and delays that are dialled otherwise."""

from __future__ import annotations

import math

from sidetrip.findings import Finding
from sidetrip.model.show import Show
from sidetrip.plan.alignment_result import Alignment, Setting
from sidetrip.units import ms_from_seconds

_WHOLE = 1e-6  # so that a whole number a little low is not the one below


def alignment_findings(show: Show, alignment: Alignment) -> list[Finding]:
    """Return one finding for each setting that differs from the show, each lack of the desk, and what was cut."""
    found = [_differs(show, setting) for setting in alignment.settings if setting.was_s > 0]
    for one in alignment.meetings:
        lacking = one.lacking
        if lacking is None:
            continue
        where, on = f"heard at {', '.join(one.meeting.places)}", " or ".join(lacking.on)
        needs = f"needs {ms_from_seconds(lacking.needs_s):.2f} ms"
        if lacking.kind == "short":
            values = f"{needs} more, {ms_from_seconds(lacking.left_s):.2f} ms are left"
            remedy = _first(one.repairs[0].words if one.repairs else "Take the longer way shorter: a smaller buffer")
            found.append(Finding("delay-line-short", where, f"The delay line of {on} is too short", values, remedy))
        else:
            remedy = _first(one.repairs[0].words if one.repairs else "Use another way to this place")
            what = f"This desk has no delay line on {on}, which comes too early"
            found.append(Finding("delay-line-missing", where, what, needs, remedy))
    if not alignment.proven or alignment.left_out:
        told = [f"{alignment.left_out:,} left out"] if alignment.left_out else []
        told += [] if alignment.proven else [f"the search was cut short{_open(alignment)}"]
        values = "; ".join(told)
        remedy = "What is said of each meeting holds; a better setting may exist"
        found.append(Finding("paths-cut", "alignment", "Not all could be weighed for what to dial", values, remedy))
    return found


def _differs(show: Show, setting: Setting) -> Finding:
    section = "outputs" if setting.on == "output" else "inputs" if show.input(setting.name) is not None else "mixes"
    names = [item.name for item in getattr(show, section)]
    values = f"{ms_from_seconds(setting.was_s):.2f} ms, should be {ms_from_seconds(setting.in_s):.2f} ms"
    what = "The delay that is dialled here brings what meets apart"
    remedy = "Dial it as the timing sheet says, and write it here"
    where, path = f"{section} / {setting.name}", (section, names.index(setting.name), "delay_ms")
    return Finding("delay-differs", where, what, values, remedy, path)


def _open(alignment: Alignment) -> str:
    """Say how far the first aim that is not proven may be from the best."""
    if not alignment.open:
        return ""
    first = alignment.open[0]
    found, least = (math.floor(own + _WHOLE) for own in (first.found, first.least))
    return f": {first.aim}, {found:,} found, {least:,} at least"


def _first(words: str) -> str:
    return words.split(": ", 1)[0] if len(words) > 120 else words


__all__ = ["alignment_findings"]
