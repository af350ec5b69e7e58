"""What there is to listen to, as blocks for the terminal and as JSON."""

from __future__ import annotations

from typing import Any

from sidetrip.application.hearing import Listening
from sidetrip.plan.hearing import CopyHeard, HeardAt
from sidetrip.reports.summary import Block
from sidetrip.units import ms_from_seconds

_SAYS = {
    "planned": "as planned, all loops IN",
    "out": "all loops OUT",
    "dialled": "all loops IN, with what the plan says to dial",
}


def hear_blocks(found: Listening) -> tuple[Block, ...]:
    """Return one block for each file, with the copies in it."""
    blocks = []
    for own in found.renderings:
        first = min(copy.late_s for copy in own.heard.usable)
        rows = tuple(_row(copy, first) for copy in own.heard.copies)
        answer = f"{own.path}: {_SAYS[own.name]}, {own.gain_db:+.1f} dB to be as loud as the others."
        blocks.append(Block(own.name, answer, ("after first, ms", "level, dB", "way"), rows))
    for silent in found.silent:
        blocks.append(Block(silent.state, f"{found.source} does not arrive at {found.place} then: no file."))
    return tuple(blocks)


def _row(copy: CopyHeard, first_s: float) -> tuple[str, ...]:
    when = f"{ms_from_seconds(copy.late_s - first_s):.2f}" if copy.known else "unknown, left out"
    level = "not given" if copy.level_db is None else f"{copy.level_db:.1f}"
    words = copy.words + (", polarity turned" if copy.inverted else "")
    words += f", below {copy.below_hz:g} Hz" if copy.below_hz is not None else ""
    words += f", above {copy.above_hz:g} Hz" if copy.above_hz is not None else ""
    return when, level, words


def hear_doc(found: Listening) -> dict[str, Any]:
    """Return it for JSON."""
    return {
        "source": found.source,
        "place": found.place,
        "of": found.of,
        "rate_hz": found.rate_hz,
        "lufs": round(found.lufs, 3),
        "files": [
            {"name": own.name, "path": own.path, "gain_db": round(own.gain_db, 3), "copies": _copies(own.heard)}
            for own in found.renderings
        ],
        "silent": [own.state for own in found.silent],
    }


def _copies(heard: HeardAt) -> list[dict[str, Any]]:
    return [
        {
            "way": copy.words,
            "late_ms": round(ms_from_seconds(copy.late_s), 6) if copy.known else None,
            "spread_ms": round(ms_from_seconds(copy.spread_s), 6) if copy.known else None,
            "level_db": copy.level_db,
            "inverted": copy.inverted,
            "below_hz": copy.below_hz,
            "above_hz": copy.above_hz,
        }
        for copy in heard.copies
    ]


__all__ = ["hear_blocks", "hear_doc"]
