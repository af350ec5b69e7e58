"""A proof for a terminal: the verdict first, a row for each loop leg, then only what does not pass, with what to do."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType

from sidetrip.prove.proof import LEVELS, LegProof, Proof, Row
from sidetrip.prove.remarks import REMEDIES, figures
from sidetrip.reports.sheet import MINUS, count, cut, frames, listed
from sidetrip.reports.summary import Block
from sidetrip.units import frames_from_seconds, ms_from_seconds

_ASKED = ("wiring", "transfer")
"""The levels that one take can tell."""

_LONGEST_REASON = 70
_BYPASSED = (
    "Do not adopt it: something reaches this return without its loop. Follow the row of stops, and take it again"
)
_SAME_FRAMES = 0.2

UNBLIND: Mapping[str, str] = MappingProxyType(
    {
        "no reference in this take": "Catch a dry copy of an entry, and name it as the take's reference",
        "the reference does not carry the test": "Check what feeds the reference's track, and take it again",
        "nothing comes back here": "Mend the return first, and take it again",
        "something else comes back here": "Mend the return first, and take it again",
        "its own send does not come back here": "Mend the return first, and take it again",
        "the delay jumps": "Mend the dropouts first, and take it again",
        "there are dropouts in the take": "Mend the dropouts first, and take it again",
        "the track does not hold still": "Mend the clock or the dropouts first, and take it again",
        "only one of the two levels is in the recording": "Record the whole of the test",
        "the recording ends before the silence behind the test": "Let the recorder run on to the end of the test",
        "the softer level is lost in noise": "Lower the noise or raise the test, and take it again",
        "too much noise": "Lower the noise or raise the test, and take it again",
        "the loops are OUT in this take": "Prove a take with the loops IN",
        "there is no proof with the loops IN, of the same catch, to compare with": "Prove a take with the loops IN",
        "its return is caught before the insert; catch a copy of the strip behind it": "Catch its strip",
    }
)
"""What to do about a reason for not telling. Others say themselves what it would take, or nothing helps."""


def proof_blocks(proof: Proof) -> tuple[Block, ...]:
    """Return the blocks in the order of the engineer's questions."""
    blocks = [_verdict(proof)]
    blocks += _wrong(proof)
    blocks += [_blind(proof), _levels(proof), _clock(proof), _changes(proof)]
    return tuple(block for block in blocks if block.answer)


def headline(proof: Proof) -> str:
    """Return the verdict in one sentence."""
    total = len(proof.legs)
    if not total:
        return "No loop was asked about in this take."
    number: Counter[str] = Counter(leg.verdict for leg in proof.legs)
    words = {
        "pass": ("passes", "pass"),
        "look": ("wants a look", "want a look"),
        "fail": ("fails", "fail"),
        "cannot tell": ("cannot be told", "cannot be told"),
    }
    told = [count(number[verdict], *each) for verdict, each in words.items() if number[verdict]]
    return f"{count(total, 'loop leg was', 'loop legs were')} asked: {', '.join(told)}."


def ms_words(leg: LegProof) -> str:
    """Return a leg's delay in ms, empty when it cannot be told."""
    return "" if leg.delay_s is None else signed(ms_from_seconds(leg.delay_s), 3)


def planned_words(leg: LegProof, rate_hz: int) -> str:
    """Return what the plan has in frames."""
    low, high = leg.expected_s
    return frames(low, math.inf if high is None else high, rate_hz=rate_hz)


def signed(value: float, decimals: int) -> str:
    """Write a figure with a true minus, and nothing that rounds to zero with any."""
    text = f"{abs(value):.{decimals}f}"
    return f"{MINUS}{text}" if value < 0 and float(text) else text


def worst_row(leg: LegProof) -> Row | None:
    """Return the row that decides a leg's verdict, None when all pass."""
    return next((row for row in leg.rows if row.level in _ASKED and row.verdict == leg.verdict != "pass"), None)


def wrong_rows(leg: LegProof) -> list[Row]:
    """Return what fails or wants a look, the worse first."""
    return sorted((row for row in leg.rows if row.verdict in ("fail", "look")), key=lambda row: row.verdict)


def remedy(proof: Proof, leg: LegProof, row: Row) -> str:
    """Return what to do about a row, with the names of the places where the proof knows them."""
    if row.question != "right return" or row.verdict != "fail":
        early = row.question == "delay" and row.measured is not None and row.measured < 0
        return _BYPASSED if early else REMEDIES.get(row.question, "Look at it")
    return _rewired(proof, leg, row)


def _rewired(proof: Proof, leg: LegProof, row: Row) -> str:
    places = {stop.kind: stop.name for stop in leg.stops}
    returns = {(other.loop, other.side): _place(other, "return") for other in proof.legs}
    here = _place(leg, "return")
    if row.at == "send":
        # That a gate may be closed is part of what was found.
        return f"On the way are send {places.get('send', '')}, cable, unit {places.get('unit', '')}, return {here}"
    if leg.heard == leg.loop and leg.side:
        other = returns.get((leg.loop, "left" if leg.side == "right" else "right"))
        return f"Swap the two sides at {listed(sorted({here, other or here}))}, and take it again"
    mutual = [other for other in proof.legs if other.loop == leg.heard != leg.loop and other.heard == leg.loop]
    alike = [other for other in mutual if other.side == leg.side] or mutual
    if len(alike) == 1:
        both = listed(sorted((here, _place(alike[0], "return"))))
        return f"Swap the two returns, {both}, or their two sends, and take it again"
    return f"Follow the row of stops to {here}, put each return where it belongs, and take it again"


def _place(leg: LegProof, kind: str) -> str:
    return next((stop.name for stop in leg.stops if stop.kind == kind), leg.port)


def sentence(proof: Proof, leg: LegProof, row: Row) -> str:
    """Return a row that does not pass in three parts: what was found, the values, what to do."""
    found, measured = row.because or "It is not as planned", figures(row).replace("-", MINUS)
    return f"{found}{f' ({measured})' if measured else ''}. {remedy(proof, leg, row)}."


def reasons(proof: Proof) -> list[tuple[str, str, str, str]]:
    """Return (loops, questions, why, what to do) of what cannot be told, each reason once."""
    found: dict[str, dict[str, list[str]]] = {}
    for leg in proof.legs:
        asked = [row for row in leg.rows if row.level in _ASKED and row.verdict == "cannot tell"]
        for why in dict.fromkeys(row.because for row in asked):
            questions = ", ".join(row.question for row in asked if row.because == why)
            found.setdefault(why, {}).setdefault(questions, []).append(leg.name)
    out = []
    for why, by_question in found.items():
        every = [name for names in by_question.values() for name in names]
        # The same reason may hide more of one loop than of another.
        told = "; ".join(f"{questions} of {_some(names, proof)}" for questions, names in by_question.items())
        out.append((_some(every, proof), told if len(by_question) > 1 else next(iter(by_question)), why, _undone(why)))
    unproven: dict[str, list[str]] = {}
    for loop, why in proof.unproven:
        unproven.setdefault(why, []).append(loop)
    catch = "Catch its return in this take, or make another take"
    return [*out, *((listed(loops), "everything", why, catch) for why, loops in unproven.items())]


def _undone(why: str) -> str:
    if why.startswith("that of "):
        return "Mend that one first, and take it again"
    return UNBLIND.get(why, "")


def _some(names: list[str], proof: Proof) -> str:
    return f"all {len(names)}" if len(names) == len(proof.legs) > 1 else ", ".join(names)


def _verdict(proof: Proof) -> Block:
    rows = tuple(
        (
            leg.name,
            ms_words(leg),
            "" if leg.delay_s is None else signed(frames_from_seconds(leg.delay_s, proof.rate_hz), 2),
            planned_words(leg, proof.rate_hz),
            _level(leg),
            _polarity(leg),
            _because(leg),
        )
        for leg in proof.legs
    )
    header = ("loop", "ms later", "frames", "planned", "dB", "polarity", "verdict")
    return Block("Is it right", headline(proof), header, rows)


def _level(leg: LegProof) -> str:
    row = leg.row("gain")
    return "" if row is None or row.measured is None else signed(row.measured, 2)


def _polarity(leg: LegProof) -> str:
    row = leg.row("polarity")
    return "" if row is None else {"pass": "kept", "fail": "inverted"}.get(row.verdict, row.verdict)


def _because(leg: LegProof) -> str:
    """Return the verdict and the first part of what decides it; the whole of it stands below."""
    row = worst_row(leg)
    if row is None:
        return leg.verdict
    first = row.because.partition(". ")[0].partition(": ")[0]
    return (
        f"{leg.verdict}, {row.question}: {cut(first, _LONGEST_REASON)}" if first else f"{leg.verdict}, {row.question}"
    )


def _wrong(proof: Proof) -> list[Block]:
    """Return a block for each leg that is not right; legs that say the same share one."""
    alike: dict[tuple[tuple[str, ...], ...], list[LegProof]] = {}
    for leg in proof.legs:
        rows = tuple((row.question, row.verdict, sentence(proof, leg, row)) for row in wrong_rows(leg))
        alike.setdefault(rows, []).append(leg)
    header = ("question", "verdict", "what was found, and what to do")
    return [Block(*_whose(proof, legs, len(rows)), header, rows) for rows, legs in alike.items() if rows]


def _whose(proof: Proof, legs: list[LegProof], wrong: int) -> tuple[str, str]:
    leg, these = legs[0], "this does not" if wrong == 1 else "these do not"
    if len(legs) > 1:
        return f"Loops {_some([one.name for one in legs], proof)}", f"The same of each; {these} pass:"
    passing = sum(row.verdict == "pass" for row in leg.rows)
    passes = count(passing, "question passes", "questions pass") if passing else "No question passes"
    answer = f"Due back on {_place(leg, 'return')}, recorded from {leg.port}. {passes}; {these}:"
    return f"Loop {leg.name}", answer


def _blind(proof: Proof) -> Block:
    told = reasons(proof)
    answer = "What this take does not tell, and why." if told else ""
    if any(do for *_, do in told):
        return Block("What cannot be told", answer, ("loop", "question", "because", "what to do"), tuple(told))
    rows = tuple(row[:3] for row in told)
    return Block("What cannot be told", answer, ("loop", "question", "because"), rows)


def _levels(proof: Proof) -> Block:
    alike: dict[tuple[str, ...], list[str]] = {}
    for leg in proof.legs:
        alike.setdefault(tuple(leg.level_verdict(level) for level in LEVELS), []).append(leg.name)
    rows = tuple((*verdicts, _some(names, proof)) for verdicts, names in alike.items())
    answer = "Endurance needs time, and escape needs hands: press the keys, pull the cable." if rows else ""
    return Block("How far each loop is proven", answer, (*LEVELS, "loops"), rows)


def clock_words(proof: Proof) -> str:
    """Return what is known of the recorder's clock."""
    if proof.clock_kind == "one":
        return "Player and recorder ran on one clock."
    if proof.clock_kind == "two":
        words = f"Two clocks: the recorder's is {abs(proof.clock_ppm):.2f} ppm"
        return f"{words} {'fast' if proof.clock_ppm > 0 else 'slow'} against the player's; it was taken out."
    return "The recording ran at another rate than its file says; it was put right before anything was read."


def reference_words(proof: Proof) -> str:
    """Return what delays were taken against."""
    if proof.reference is None:
        return "There is no reference, so that no delay is told: catch a dry copy of an entry and name it."
    return f"Delays are against {proof.reference}."


def _clock(proof: Proof) -> Block:
    errors = [leg.delay_error_s for leg in proof.legs if leg.delay_s is not None and leg.delay_error_s is not None]
    worst = f"{max(max(errors) * proof.rate_hz * 2, 0.001):.3f} frames" if errors else ""
    known = f" They are known to ± {worst}." if worst else ""
    answer = f"{clock_words(proof)} {reference_words(proof)}{known} {proof.tested_s:.0f} s of test were measured."
    return Block("How it was measured", answer)


def _changes(proof: Proof) -> Block:
    rows = tuple(
        (
            change.loop,
            ", ".join(signed(delay * proof.rate_hz, 1) for delay in change.delays_s),
            f"{change.spread_s * proof.rate_hz:.1f} frames, {ms_from_seconds(change.spread_s):.2f} ms",
        )
        for change in proof.changes
        if len(change.delays_s) > 1
    )
    moved = sum(change.spread_s * proof.rate_hz > _SAME_FRAMES for change in proof.changes)
    answer = (
        f"{moved} of {len(rows)} {'is' if moved == 1 else 'are'} not constant between openings of the device: "
        "no single figure holds."
        if moved
        else "The same at every proof of this take."
    )
    return Block("Since earlier proofs", answer if rows else "", ("loop", "frames, the latest last", "spread"), rows)


__all__ = [
    "UNBLIND",
    "clock_words",
    "headline",
    "ms_words",
    "planned_words",
    "proof_blocks",
    "reasons",
    "reference_words",
    "remedy",
    "sentence",
    "signed",
    "wrong_rows",
]
