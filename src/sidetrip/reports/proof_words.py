"""A proof for a terminal: the verdict first, a row for each loop, then only what does not pass."""

from __future__ import annotations

from collections import Counter

from sidetrip.prove.proof import LEVELS, LegProof, Proof, Row
from sidetrip.prove.remarks import REMEDIES, figures
from sidetrip.reports.summary import Block
from sidetrip.units import ms_from_seconds

_MOST_LOOKS = 4


def proof_blocks(proof: Proof) -> tuple[Block, ...]:
    """Return the blocks in the order of the engineer's questions."""
    blocks = [_verdict(proof)]
    blocks += [_leg(leg) for leg in proof.legs if any(row.verdict in ("fail", "look") for row in leg.rows)]
    blocks += [_blind(proof), _levels(proof), _clock(proof)]
    if any(len(change.delays_s) > 1 for change in proof.changes):
        blocks.append(_changes(proof))
    return tuple(block for block in blocks if block.answer)


def headline(proof: Proof) -> str:
    """Return the verdict in one sentence."""
    count: Counter[str] = Counter(leg.verdict for leg in proof.legs)
    words = {"pass": "pass", "look": "want a look", "fail": "fail", "cannot tell": "cannot be told"}
    told = [f"{count[verdict]} {text}" for verdict, text in words.items() if count[verdict]]
    total = len(proof.legs)
    legs = "1 loop leg was" if total == 1 else f"{total} loop legs were"
    return f"{legs} asked: {', '.join(told)}." if total else "No loop was asked about in this take."


def delay_words(leg: LegProof, rate_hz: int) -> str:
    """Return a leg's delay in ms and frames with its error, or that it cannot be told."""
    if leg.delay_s is None:
        return "cannot tell"
    error = max((leg.delay_error_s or 0.0) * rate_hz * 2, 0.001)
    return f"{ms_from_seconds(leg.delay_s):.3f} ms, {leg.delay_s * rate_hz:.2f} ± {error:.3f} frames"


def planned_words(leg: LegProof, rate_hz: int) -> str:
    """Return what the plan has in frames."""
    low, high = leg.expected_s
    if high is None:
        return "unknown"
    first, last = f"{low * rate_hz:.1f}", f"{high * rate_hz:.1f}"
    return first if first == last else f"{first} to {last}"


def worst_row(leg: LegProof) -> Row | None:
    """Return the row that decides a leg's verdict, None when all pass."""
    asked = [row for row in leg.rows if row.level in ("wiring", "transfer")]
    return next((row for row in asked if row.verdict == leg.verdict and leg.verdict != "pass"), None)


def _verdict(proof: Proof) -> Block:
    rows = tuple(
        (leg.name, leg.verdict, delay_words(leg, proof.rate_hz), planned_words(leg, proof.rate_hz), _because(leg))
        for leg in proof.legs
    )
    return Block("Is it right", headline(proof), ("loop", "verdict", "later by", "planned", "because"), rows)


def _because(leg: LegProof) -> str:
    row = worst_row(leg)
    return "" if row is None else row.question


def _leg(leg: LegProof) -> Block:
    rows = [row for row in leg.rows if row.verdict == "fail"]
    rows += [row for row in leg.rows if row.verdict == "look"]
    passing = sum(row.verdict == "pass" for row in leg.rows)
    return Block(
        f"Loop {leg.name}",
        f"Back on {leg.stops[3].name}, recorded from {leg.port}. {passing} questions pass; these do not:",
        ("question", "verdict", "what was found, and what to do"),
        tuple((row.question, row.verdict, _sentence(row)) for row in rows),
    )


def _sentence(row: Row) -> str:
    measured = figures(row)
    found = row.because or "Not as planned"
    return f"{found}{f' ({measured})' if measured else ''}. {REMEDIES.get(row.question, 'Look at it')}."


def _blind(proof: Proof) -> Block:
    rows: dict[tuple[str, str], list[str]] = {}
    for leg in proof.legs:
        asked = [row for row in leg.rows if row.level in ("wiring", "transfer") and row.verdict == "cannot tell"]
        reasons = dict.fromkeys(row.because for row in asked)
        for why in reasons:
            questions = ", ".join(row.question for row in asked if row.because == why)
            rows.setdefault((why, questions), []).append(leg.name)
    told = [(", ".join(loops), questions, why) for (why, questions), loops in rows.items()]
    told += [(loop, "everything", why) for loop, why in proof.unproven]
    answer = "What this take does not tell, and why." if told else ""
    return Block("What cannot be told", answer, ("loop", "question", "because"), tuple(told))


def _levels(proof: Proof) -> Block:
    rows = tuple((leg.name, *(leg.level_verdict(level) for level in LEVELS)) for leg in proof.legs)
    answer = "Endurance needs time, and escape needs hands: press the keys, pull the cable." if rows else ""
    return Block("How far each loop is proven", answer, ("loop", *LEVELS), rows)


def clock_words(proof: Proof) -> str:
    """Return what is known of the recorder's clock."""
    if proof.clock_kind == "one":
        return "Player and recorder ran on one clock."
    if proof.clock_kind == "two":
        words = f"Two clocks: the recorder's is {abs(proof.clock_ppm):.2f} ppm"
        return f"{words} {'fast' if proof.clock_ppm > 0 else 'slow'} against the player's; it was taken out."
    return "The recording ran at another rate than its file says; it was put right before anything was read."


def _clock(proof: Proof) -> Block:
    reference = f"Delays are against {proof.reference}." if proof.reference else "There is no reference: no delays."
    answer = f"{clock_words(proof)} {reference} {proof.tested_s:.0f} s of test were measured."
    return Block("How it was measured", answer)


def _changes(proof: Proof) -> Block:
    rows = tuple(
        (
            change.loop,
            ", ".join(f"{delay * proof.rate_hz:.1f}" for delay in change.delays_s),
            f"{change.spread_s * proof.rate_hz:.1f} frames, {ms_from_seconds(change.spread_s):.2f} ms",
        )
        for change in proof.changes
    )
    moved = sum(change.spread_s * proof.rate_hz > 0.2 for change in proof.changes)
    answer = (
        f"{moved} of {len(rows)} are not constant between openings of the device: no single figure holds."
        if moved
        else "The same at every proof of this take."
    )
    return Block("Since earlier proofs", answer, ("loop", "frames, the latest last", "spread"), rows)


__all__ = ["clock_words", "delay_words", "headline", "planned_words", "proof_blocks", "worst_row"]
