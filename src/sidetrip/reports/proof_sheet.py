"""The proof sheet: one row of stops for each loop, every question with its figures, what could not be told, and why."""

from __future__ import annotations

from sidetrip.prove.proof import LEVELS, LegProof, Proof, Row
from sidetrip.prove.remarks import REMEDIES
from sidetrip.reports.draw.palette import PRINT
from sidetrip.reports.draw.stops import stops_svg
from sidetrip.reports.proof_words import clock_words, delay_words, headline, planned_words
from sidetrip.reports.sheet import Cell, Sheet, Stamp, make_sheet

_HEADER = ("loop", "side", "question", "level", "verdict", "measured", "expected", "error", "unit", "because", "when")


def proof_sheet(proof: Proof, stamp: Stamp) -> Sheet:
    """Return the sheet of one proof."""
    buffers = ", ".join(f"{unit} at {frames} frames" for unit, frames in proof.buffers if frames is not None)
    told = f"Take {proof.take}, {proof.state}, processors {proof.processors}, {proof.when[:16].replace('T', ' ')}."
    data = {
        "errors": [],
        "lead": headline(proof),
        "told": f"{told} {proof.rate_hz} Hz{f', {buffers}' if buffers else ''}. {clock_words(proof)}",
        "reference": f"Delays are against {proof.reference}." if proof.reference else "No reference: no delay is told.",
        "recording": ", ".join(_last(path) for path in proof.recording),
        "stops": stops_svg(proof.legs, PRINT),
        "legs": [_leg(leg, proof.rate_hz) for leg in proof.legs],
        "bad": [_bad(leg, row) for leg in proof.legs for row in leg.rows if row.verdict in ("fail", "look")],
        "blind": _blind(proof),
        "changes": [
            {
                "loop": change.loop,
                "values": ", ".join(f"{delay * proof.rate_hz:.1f}" for delay in change.delays_s),
                "spread": f"{change.spread_s * proof.rate_hz:.1f}",
            }
            for change in proof.changes
        ],
    }
    return make_sheet("proof-sheet", "Proof", stamp, data, _HEADER, _rows(proof))


def _leg(leg: LegProof, rate_hz: int) -> dict[str, object]:
    return {
        "name": leg.name,
        "verdict": leg.verdict,
        "delay": delay_words(leg, rate_hz),
        "planned": planned_words(leg, rate_hz),
        "levels": [leg.level_verdict(level) for level in LEVELS],
    }


def _bad(leg: LegProof, row: Row) -> dict[str, str]:
    return {
        "name": leg.name,
        "question": row.question,
        "verdict": row.verdict,
        "because": f"{row.because or 'Not as planned'}. {REMEDIES.get(row.question, 'Look at it')}.",
        "measured": "" if row.measured is None or not row.unit else f"{row.measured:.2f} {row.unit}",
        "expected": "" if row.expected is None or not row.unit else f"{row.expected:.2f} {row.unit}",
    }


def _blind(proof: Proof) -> list[dict[str, str]]:
    out = [
        {"name": leg.name, "question": row.question, "because": row.because}
        for leg in proof.legs
        for row in leg.rows
        if row.verdict == "cannot tell" and row.level in ("wiring", "transfer")
    ]
    return [*out, *({"name": loop, "question": "everything", "because": why} for loop, why in proof.unproven)]


def _rows(proof: Proof) -> list[tuple[Cell, ...]]:
    return [
        (
            leg.loop,
            leg.side,
            row.question,
            row.level,
            row.verdict,
            *("" if value is None else round(value, 6) for value in (row.measured, row.expected, row.error)),
            row.unit,
            row.because,
            proof.when,
        )
        for leg in proof.legs
        for row in leg.rows
    ]


def _last(path: str) -> str:
    return path.rstrip("/").rpartition("/")[2]


__all__ = ["proof_sheet"]
