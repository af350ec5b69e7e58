"""What a proof says aloud: one finding for each row that does not pass, with what to do."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from sidetrip.findings import Finding
from sidetrip.plan.planner import Plan
from sidetrip.prove.capture import Capture
from sidetrip.prove.expect import Expected
from sidetrip.prove.proof import LegProof, Proof, Row

REMEDIES: Mapping[str, str] = MappingProxyType(
    {
        "right return": "Follow the row of stops from the strip on, put the return where it belongs, and take it again",
        "other loops": "Look for a send or a return that is patched twice, or for a unit that mixes its channels",
        "delay": "Check the buffer and the chain; if it repeats, adopt it with --adopt",
        "polarity": "Find the inverted cable, switch or processor, and turn one of them back",
        "gain": "Set trims, faders and the unit's gains to 0 dB, and take it again",
        "dynamics": "Bypass every processor of the chain in the unit, and take it again",
        "response": "Bypass every equaliser and filter on the way, in the strip too, and take it again",
        "distortion": "Turn the hottest stage down, bypass what is meant to distort, and take it again",
        "twice": "Close the other way: an open return strip, a unit that monitors its input, a send patched twice",
        "clock": "Make the unit follow the desk's clock",
        "dropouts": "Raise the buffer or calm the computer, check the clock, and take it again",
        "idle noise": "Look for gain that is not needed, a hum, or an open microphone",
        "sides": "Give both sides the same chain, the same unit and the same kind of port",
        "sides level": "Set both sides to the same gain",
        "leak with OUT": "Close the return's own strip, or take its port off it",
        "dry path": "Check the strip's source, mute and fader",
        "IN less OUT": "Ask whether the desk makes up for inserts by itself, and correct the desk's file",
    }
)
"""What to do about a row, by its question."""

_BLIND = "Nothing to do, if it does not matter; else prove it another way"


def proof_findings(proof: Proof) -> list[Finding]:
    """Return a finding for every row of wiring and transfer that fails, wants a look or cannot be told."""
    out: list[Finding] = []
    for leg in proof.legs:
        blind: dict[str, list[str]] = {}
        for row in leg.rows:
            if row.level not in ("wiring", "transfer"):
                continue
            if row.verdict in ("fail", "look"):
                out.append(_finding(leg, row))
            elif row.verdict == "cannot tell":
                blind.setdefault(row.because, []).append(row.question)
        out += [
            Finding("proof-blind", f"loop {leg.name}", f"Cannot tell {', '.join(questions)}: {why}", "", _BLIND)
            for why, questions in blind.items()
        ]
    for loop, why in proof.unproven:
        remedy = "Catch its return in this take, or make another take"
        out.append(Finding("proof-blind", f"loop {loop}", "Nothing about this loop was asked", why, remedy))
    return out


def _finding(leg: LegProof, row: Row) -> Finding:
    code = "proof-failed" if row.verdict == "fail" else "proof-look"
    what = f"{row.question.capitalize()}: {row.because or 'not as planned'}"
    return Finding(code, f"loop {leg.name}", what, figures(row), REMEDIES[row.question])


def figures(row: Row) -> str:
    """Return a row's figures in words, empty when it has none."""
    if row.measured is None or not row.unit:
        return ""
    digits = 3 if row.unit == "frames" else 2
    text = f"measured {row.measured:.{digits}f}"
    if row.error:
        text += f" ± {max(row.error, 10**-digits):.{digits}f}"
    return text + (f", expected {row.expected:.{digits}f} {row.unit}" if row.expected is not None else f" {row.unit}")


def capture_findings(capture: Capture, expected: Expected) -> list[Finding]:
    """Return what the recording itself has to say: tracks that touch full scale."""
    return [
        Finding(
            "recording-clipped",
            f"track {catch.track + 1}",
            f"The recording of {catch.port} ({catch.words}) touches full scale",
            f"{track.clipped} samples",
            "Turn the recorder or the test down, and take it again",
        )
        for catch, track in zip(expected.catches, capture.tracks, strict=True)
        if track.clipped
    ]


def take_findings(plan: Plan, expected: Expected) -> list[Finding]:
    """Return what a take asks that this plan cannot answer: a return of no loop, ways too many to follow."""
    where = f"takes / {expected.take.name}"
    loops = {loop.strip for loop in plan.allocation.loops}
    out = [
        Finding(
            "take-wrong",
            where,
            f"'{catch.caught.return_}' has no loop in this plan, so nothing is expected on its return",
            str(catch.port),
            "Take this catch out, or ask for the loop",
        )
        for catch in expected.catches
        if catch.leg == 0 and catch.caught.return_ is not None and catch.caught.return_ not in loops
    ]
    if expected.cut:
        ports = ", ".join(str(expected.entries[entry].port) for entry in expected.cut)
        what = "There are too many ways through this show to follow them all; some of what comes back is not expected"
        out.append(Finding("take-wrong", where, what, f"entered at {ports}", "Make a take of fewer strips"))
    return out


__all__ = ["REMEDIES", "capture_findings", "figures", "proof_findings", "take_findings"]
