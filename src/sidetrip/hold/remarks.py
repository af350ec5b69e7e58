"""What the advice says aloud as findings: claims that cannot be, logs that tell nothing, empty windows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from sidetrip.findings import Finding
from sidetrip.units import ms_from_seconds

if TYPE_CHECKING:
    from sidetrip.hold.accept import Objection
    from sidetrip.hold.advice import UnitAdvice

_LONG_H = 24.0


def unit_remarks(own: UnitAdvice, path: tuple[str | int, ...]) -> list[Finding]:
    """Return the findings of one unit's advice."""
    return [*_claims(own, path), *_evidence(own, path), *_window(own, path)]


def _claims(own: UnitAdvice, path: tuple[str | int, ...]) -> Iterator[Finding]:
    for claim in own.claims:
        if claim.impossible:
            values = f"{claim.frames:g} frames at buffer {claim.buffer} and {claim.rate} Hz"
            if claim.measured is not None:
                values += f", measured {claim.measured[0]:g}"
            what = f"The driver reports a latency that cannot be, {claim.impossible}"
            remedy = "Measure the round trip; what is reported is not used"
            where = f"units / {own.unit}"
            yield Finding("reported-impossible", where, what, values, remedy, (*path, "reported"))


def _evidence(own: UnitAdvice, path: tuple[str | int, ...]) -> Iterator[Finding]:
    where = f"units / {own.unit}"
    if not own.tallies:
        what = "There is no evidence of this computer, so nobody knows which buffer holds"
        remedy = "Log its block times under the full load of the show, and add them: sidetrip evidence SHOW --add FILE"
        yield Finding("evidence-none", where, what, "", remedy, path)
        return
    for one in own.candidates:
        found = one.overruns
        if found is None or found.carried or found.how != "refused":
            continue
        values = f"{found.used_s / 3600:.1f} h at {one.buffer} frames and {one.rate} Hz, {found.seen} overruns in it"
        what = f"The log gives no {'finer bound than counting' if found.stands else 'bound'}: {found.because}"
        yield Finding("evidence-refused", where, what, values, "Log longer, warm and under the full load", path)


def _window(own: UnitAdvice, path: tuple[str | int, ...]) -> Iterator[Finding]:
    where = f"units / {own.unit}"
    if own.empty:
        against = "; ".join(objection_words(one) for one in own.give_up[:3])
        values = f"smallest that holds: {own.smallest} frames, largest that is accepted: {own.largest or 'none'}"
        what = f"No buffer at {own.rate} Hz both holds and is accepted"
        remedy = f"Give up a limit ({against}), take work off the computer, or accept more overruns"
        yield Finding("window-empty", where, what, values, remedy, path)
        return
    best = own.at(own.advised)
    if best is None or best.holds != "unknown" or not own.tallies:
        return
    found = best.overruns
    if found is None:
        values = f"{best.buffer} frames at {best.rate} Hz"
    else:
        bound = f"up to {bound_words(found.bound)} in a show" if math.isfinite(found.bound) else "no bound at all"
        values = f"{best.buffer} frames at {best.rate} Hz: {bound}, allowed {own.allowed:g}"
    clean = "" if own.hours is None else f"; {hours_words(own.hours)} of clean log would show it"
    remedy = f"Log it at this buffer{clean}"
    what = f"The largest buffer that is accepted {'does not hold' if best.fails else 'is not shown to hold'}"
    if best.fails:
        remedy = "Take work off the computer, find what makes it pause, or give up a limit for a larger buffer"
    yield Finding("not-held", where, what, values, remedy, path)


def objection_words(one: Objection) -> str:
    """Say what a limit stands against: "Lamplighter in the ears of lamplighter, in all: 21.30 ms, limit 16 ms"."""
    if one.kind == "picture" and not math.isinf(one.seconds):
        return f"{one.what}: {ms_from_seconds(one.seconds):.1f} ms, at most {ms_from_seconds(one.limit_s):g} ms"
    limit = f"limit {ms_from_seconds(one.limit_s):g} ms"
    return f"{one.what}: {'unknown' if math.isinf(one.seconds) else f'{ms_from_seconds(one.seconds):.2f} ms'}, {limit}"


def bound_words(bound: float) -> str:
    """Write a bound rounded up, so that it stays one: 54, 0.75, 0.012."""
    if bound >= 10 or bound == math.ceil(bound):
        return f"{math.ceil(bound - 1e-9):,}"
    digits = 1 if bound >= 1 else 1 - math.floor(math.log10(bound))
    scale = 10.0**digits
    return f"{math.ceil(bound * scale - 1e-9) / scale:.{digits}f}".rstrip("0").rstrip(".")


def hours_words(hours: float) -> str:
    """Write hours as a person would plan them: minutes, hours, or days where they are many."""
    if hours < 1:
        return f"{math.ceil(hours * 60)} min"
    return f"{math.ceil(hours * 10) / 10:g} h" if hours < _LONG_H else f"{math.ceil(hours):,} h"


__all__ = ["bound_words", "hours_words", "objection_words", "unit_remarks"]
