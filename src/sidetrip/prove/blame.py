"""Whose fault it is: what one loop does to sound is heard on every loop behind it, and must be said once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sidetrip.prove.expect import Expected
from sidetrip.prove.proof import LegProof, Row

_OF_THE_TRACK = ("distortion", "clock", "dropouts")
"""Told by all that a track carries: what any loop before may have done."""

_OF_THE_WAY = ("polarity", "gain", "dynamics", "response", "twice")
"""Told by one way: what the other loops on it may have done."""


def blamed(legs: list[LegProof], expected: Expected, through: Mapping[str, tuple[str, ...]]) -> list[LegProof]:
    """Return the legs with every fault left where it arises, and named as another's where it only passes.

    through: the loops on the way that each leg was told by, by the leg's name.
    """
    before = _before(expected)
    failing = {(leg.loop, row.question) for leg in legs for row in leg.rows if row.verdict == "fail"}
    return [
        replace(leg, rows=tuple(_row(row, leg, before, through.get(leg.name, ()), failing) for row in leg.rows))
        for leg in legs
    ]


def _before(expected: Expected) -> dict[str, set[str]]:
    """Return, for each caught loop, the loops that its sound may have passed already."""
    out: dict[str, set[str]] = {}
    for catch in expected.catches:
        if catch.loop is not None:
            passed = {loop for way in expected.into(catch.number) for loop in way.loops}
            out.setdefault(catch.loop, set()).update(passed - {catch.loop})
    return out


def _row(
    row: Row,
    leg: LegProof,
    before: dict[str, set[str]],
    through: tuple[str, ...],
    failing: set[tuple[str, str]],
) -> Row:
    earlier = sorted(before.get(leg.loop, ()))
    passed = {**dict.fromkeys(_OF_THE_TRACK, earlier), **dict.fromkeys(_OF_THE_WAY, sorted({*through} - {leg.loop}))}
    if row.verdict in ("fail", "look") and row.question in passed:
        culprits = [loop for loop in passed[row.question] if (loop, row.question) in failing]
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
