"""Whose fault it is: what one loop does to sound is heard on every loop behind it, and must be said once."""

from __future__ import annotations

from dataclasses import replace

from sidetrip.prove.expect import Expected
from sidetrip.prove.proof import LegProof, Row

_PASSED_ON = ("distortion", "dropouts")


def blamed(legs: list[LegProof], expected: Expected) -> list[LegProof]:
    """Return the legs with every fault left where it arises, and named as another's where it only passes."""
    before = _before(expected)
    failing = {(leg.loop, row.question) for leg in legs for row in leg.rows if row.verdict == "fail"}
    return [replace(leg, rows=tuple(_row(row, leg, before, failing) for row in leg.rows)) for leg in legs]


def _before(expected: Expected) -> dict[str, set[str]]:
    """Return, for each caught loop, the loops that its sound may have passed already."""
    out: dict[str, set[str]] = {}
    for catch in expected.catches:
        if catch.loop is not None:
            passed = {loop for way in expected.into(catch.number) for loop in way.loops}
            out.setdefault(catch.loop, set()).update(passed - {catch.loop})
    return out


def _row(row: Row, leg: LegProof, before: dict[str, set[str]], failing: set[tuple[str, str]]) -> Row:
    earlier = sorted(before.get(leg.loop, ()))
    if row.verdict == "fail" and row.question in _PASSED_ON:
        culprits = [loop for loop in earlier if (loop, row.question) in failing]
        if culprits:
            return _blind(row, f"that of {', '.join(culprits)} passes here too")
    if row.question == "right return" and row.verdict == "look":
        culprits = [loop for loop in earlier if (loop, row.question) in failing]
        if culprits:
            return replace(row, because=f"{row.because}, as {', '.join(culprits)} fails")
    twice = leg.row("twice")
    if row.question == "response" and row.verdict != "pass" and twice is not None and twice.verdict == "fail":
        return _blind(row, "the second copy makes it ripple")
    return row


def _blind(row: Row, why: str) -> Row:
    return replace(row, verdict="cannot tell", measured=None, expected=None, error=None, because=why)


__all__ = ["blamed"]
