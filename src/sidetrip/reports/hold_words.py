"""The advice on buffer and rate in plain words: what to set, how sure that is, what would make it surer."""

from __future__ import annotations

import math

from sidetrip.hold.advice import Advice, Candidate, UnitAdvice
from sidetrip.hold.counts import chance_of_any, clean_hours_for_risk
from sidetrip.hold.evidence import Tally
from sidetrip.hold.overruns import Overruns
from sidetrip.hold.remarks import bound_words, hours_words, objection_words
from sidetrip.hold.round_trip import Fit, Trip, rate_parts
from sidetrip.reports.sheet import count, listed
from sidetrip.reports.summary import Block
from sidetrip.units import ms_from_seconds, period_s, seconds_from_frames

RULE = (
    "A block overruns when lateness and work together are longer than its period, or when the driver says that it was "
    "missed; overruns less than a second apart count as one."
)
MARGIN = (
    "Margin asked for (common practice, no source): 99.9 % of blocks done in half the period, all in three quarters."
)


def hold_blocks(advice: Advice) -> list[Block]:
    """Return the blocks for a terminal: per computer its advice, its round trip, its evidence, its load."""
    blocks = []
    for own in advice.units:
        blocks += [_window(own), _trips(own), _evidence(own), _load(own)]
    blocks += [_window(own) for own in advice.elsewhere]
    if not advice.units:
        blocks.append(Block("Nothing to advise", "No computer has a loop in this plan.", (), ()))
    return blocks


# What to set


def headline(own: UnitAdvice) -> str:
    """Say what to set."""
    best = own.at(own.advised)
    if best is None:
        first = own.candidates[0].objections
        why = objection_words(first[0]) if first else "nothing is known of it"
        return f"No buffer is accepted at {own.rate} Hz: already at {own.candidates[0].buffer} frames, {why}."
    why = f"the largest that {_asked(own)}"
    if own.empty:
        against = "; ".join(objection_words(one) for one in own.give_up[:2])
        return (
            f"No buffer both holds and is accepted. {own.advised} frames is {why}, but {own.smallest} is the smallest "
            f"shown to hold. To give up for it: {against}."
        )
    given = f" It is set to {own.fixed} in the show." if own.fixed not in (None, own.advised) else ""
    return f"Set {best.buffer} frames at {own.rate} Hz: {why}.{given}"


def _asked(own: UnitAdvice) -> str:
    asked = [*(["ears"] if own.reach.ears else []), *(["the picture"] if own.reach.pictures else [])]
    if not asked:
        return "is looked at, since nothing in the show limits it"
    return f"{listed(asked)} accept{'s' if asked == ['the picture'] else ''}"


def sureness(own: UnitAdvice) -> str:
    """Say how sure it is that the advised buffer holds."""
    best = own.at(own.advised)
    if best is None:
        return ""
    if best.overruns is None:
        return "Whether it holds is unknown: no evidence reaches it."
    found = best.overruns
    told = overruns_sentence(found, own.show_s)
    if best.fails:
        return f"It does not hold: {told} The show allows {own.allowed:g}."
    if best.holds == "unknown":
        return f"Whether it holds is not shown: {told} The show allows {own.allowed:g}."
    kind = {"proven": "That it holds is proven", "assumed": "That it holds is assumed"}[best.holds]
    carried = ", carried over from another buffer" if found.carried else ""
    return f"{kind}{carried}: {told} The show allows {own.allowed:g}."


def surer(own: UnitAdvice) -> str:
    """Say what would make it surer."""
    best = own.at(own.advised)
    if best is None:
        return ""
    parts = []
    if best.overruns is None or best.overruns.carried:
        parts.append(f"a log at {best.buffer} frames itself, under the full load of the show")
    if own.hours and not best.fails:
        parts.append(f"{hours_words(own.hours)} more without an overrun would prove {own.allowed:g} a show by counting")
    if best.trip.basis != "measured":
        parts.append(f"a round trip measured at {best.buffer} frames")
    risk = clean_hours_for_risk(own.show_s / 3600, 0.01)
    words = f"Surer by: {'; '.join(parts)}. " if parts else ""
    return f"{words}Less than 1 % risk of any overrun would take {hours_words(risk)} without one."


def overruns_sentence(found: Overruns, show_s: float) -> str:
    """Say what a log supports: "10 min without an overrun allow up to 54 in a 3 h show."."""
    show = f"a {length_words(show_s)} show"
    seen = "without an overrun" if found.seen == 0 else f"with {count(found.seen, 'overrun')}"
    logged = f"{length_words(found.used_s)} {seen}"
    counting = f"{logged} allow up to {bound_words(found.counted_per_show)} in {show}"
    if not found.stands:
        return f"{logged}, from which nothing follows: {found.because}."
    if found.how == "fitted" and found.per_show is not None:
        return (
            f"by the tail of its late blocks up to {bound_words(found.per_show)} in {show}; counting alone: {counting}."
        )
    if found.how == "refused":
        return f"{counting}, and no finer bound is given: {found.because}."
    if found.per_show is not None and found.per_show > found.counted_per_show * 1.01:
        return f"{logged}, in bursts, allow up to {bound_words(found.per_show)} in {show}."
    return f"{counting}."


def length_words(seconds: float) -> str:
    """Write a length: 10 min, 3 h, 2 h 30 min, 9.4 h."""
    minutes = seconds / 60
    if minutes < 60:
        return f"{minutes:.0f} min" if minutes >= 1 else f"{seconds:.0f} s"
    whole, rest = divmod(round(minutes), 60)
    if abs(minutes - round(minutes)) < 1e-6 and rest == 0:
        return f"{whole} h"
    return f"{whole} h {rest} min" if abs(minutes - round(minutes)) < 1e-6 else f"{minutes / 60:.1f} h"


def trip_words(trip: Trip) -> str:
    """Write a round trip in ms with where it is from: "6.90", "15.23 to 19.90 (k open)", "unknown"."""
    if trip.low_s is None:
        return "unknown"
    known = {"measured": "", "line": " (line)", "range": " (k open)"}
    return bare_trip(trip) + known.get(trip.basis, " (other rate)")


def bare_trip(trip: Trip) -> str:
    """Write a known round trip in ms: "6.90", "15.23 to 19.90"."""
    low, high = (f"{ms_from_seconds(end or 0.0):.2f}" for end in (trip.low_s, trip.high_s))
    return low if low == high else f"{low} to {high}"


def holds_words(one: Candidate) -> str:
    """Say whether a buffer holds: proven, assumed, unknown, or "no"."""
    return "no" if one.fails else one.holds


def accepted_words(one: Candidate) -> str:
    """Say whether ears and picture accept a buffer, and by how much the worst is over: "ears: 9.94 ms, limit 8"."""
    if one.accepted:
        return "accepted"
    worst = one.objections[0]
    figure = "unknown" if math.isinf(worst.seconds) else f"{ms_from_seconds(worst.seconds):.2f} ms"
    return f"{worst.kind}: {figure}, limit {ms_from_seconds(worst.limit_s):g}"


def _window(own: UnitAdvice) -> Block:
    rows = []
    for one in own.candidates:
        found = one.overruns
        mark = "set this" if one.buffer == own.advised and not own.empty else ""
        rows.append(
            (
                f"{one.buffer}",
                f"{ms_from_seconds(period_s(one.buffer, one.rate)):.3f}",
                trip_words(one.trip),
                "" if one.share is None else f"{one.share:.0%}",
                "" if found is None else f"{found.seen}{f' (of {found.of[0]})' if found.carried else ''}",
                bound_cell(found),
                holds_words(one),
                "; ".join(part for part in (mark, accepted_words(one)) if part),
            )
        )
    answer = " ".join(part for part in (headline(own), sureness(own), surer(own)) if part)
    head = ("frames", "period", "round trip ms", "load", "seen", "up to", "holds", "ears and picture")
    return Block(f"{own.unit} at {own.rate} Hz", answer, head, tuple(rows))


def bound_cell(found: Overruns | None) -> str:
    """Write a bound for a table: "0.31", "none" where the log tells nothing, "" without evidence."""
    if found is None:
        return ""
    return bound_words(found.bound) if math.isfinite(found.bound) else "none"


# Round trip


def fit_words(fit: Fit) -> str:
    """Say what was measured at one rate, and what line goes through it."""
    each = "; ".join(
        f"{one.buffer}: {', '.join(f'{frames:g}' for frames in one.frames)}"
        + (
            f" (not constant between openings, spread {one.spread:g} frames, {_ms(one.spread, fit.rate)} ms)"
            if one.spread
            else ""
        )
        for one in fit.opened
    )
    if fit.k is None or fit.a_frames is None:
        needed = "a line needs three buffers, so that other buffers are a range, with k from 2 to 3"
        return f"At {fit.rate} Hz, frames by buffer: {each}; {needed}."
    whole = abs(fit.k - round(fit.k)) < 0.02
    kind = {2: ", one filled while the other is played", 3: ", the host works one block ahead"}.get(round(fit.k), "")
    k = f"k is {fit.k:.2f} buffers{kind if whole else ', no whole number: something else grows with the buffer'}"
    even = "" if fit.even else "; more than a frame off the line means that something unmodelled is in the path"
    return (
        f"At {fit.rate} Hz, frames by buffer: {each}; a is {fit.a_frames:.1f} frames "
        f"({_ms(fit.a_frames, fit.rate)} ms), {k}, residual {fit.residual_frames:.1f} frames{even}."
    )


def _ms(frames: float, rate: int) -> str:
    return f"{ms_from_seconds(seconds_from_frames(frames, rate)):.2f}"


def scale_words(own: UnitAdvice) -> str:
    """Say what another rate changes, and how long the round trip is there at the advised buffer."""
    parts = rate_parts(own.fits)
    if parts is None:
        words = "At another rate the buffers scale with it; how much of a does is open until a line is measured there"
    else:
        frames, seconds = parts
        words = f"Of a, {frames:.0f} frames scale with the rate and {ms_from_seconds(seconds):.2f} ms do not"
    known = [one for one in own.elsewhere if one.low_s is not None]
    there = ", ".join(f"{bare_trip(one)} ms at {one.rate} Hz" for one in known)
    return f"{words}; {own.advised} frames: {there}." if there else f"{words}."


def wait_words(own: UnitAdvice) -> str:
    """Say what its chains wait for."""
    if not own.waits or all(seconds == 0 for _, seconds in own.waits):
        return "Its chains declare no delay."
    name, slowest = own.waits[0]
    if math.isinf(slowest):
        return f"How long the chain of {name} takes is unknown."
    if own.aligns == "all":
        return (
            f"It delays every chain to the slowest: all are {ms_from_seconds(slowest):.2f} ms late, as that of {name}."
        )
    return f"Its slowest chain is that of {name}, {ms_from_seconds(slowest):.2f} ms" + (
        "; the others do not wait for it."
        if own.aligns == "per chain"
        else "; whether the others wait for it is unknown."
    )


def claim_words(own: UnitAdvice) -> list[str]:
    """Say what the driver reports, apart from what was measured."""
    words = []
    for claim in own.claims:
        measured = "not measured"
        if claim.measured is not None:
            low, high = claim.measured
            measured = f"measured {low:g}{'' if low == high else f' to {high:g}'}"
        verdict = f"impossible, {claim.impossible}" if claim.impossible else "a claim"
        words.append(f"At {claim.buffer} frames the driver reports {claim.frames:g} ({verdict}); {measured}.")
    return words


def _trips(own: UnitAdvice) -> Block:
    lines = [fit_words(fit) for fit in own.fits] or ["No round trip was measured."]
    answer = " ".join([*lines, scale_words(own), wait_words(own), *claim_words(own)])
    return Block(f"{own.unit}: how long it takes", answer, (), ())


# Evidence


def tally_words(tally: Tally) -> str:
    """Say whose evidence it is, and how much."""
    own = tally.configuration
    logs = count(len(tally.logs), "log")
    return (
        f"{own.buffer} frames at {own.rate} Hz: {length_words(tally.logged_s)} in {logs}, "
        f"fingerprint {own.fingerprint} ({own.system}, {own.driver}, session {own.session})."
    )


def _evidence(own: UnitAdvice) -> Block:
    if not own.tallies:
        return Block(f"{own.unit}: evidence", "None. Silence in a log is no safety, and no log is less.", (), ())
    rows, notes = [], []
    for tally in own.tallies:
        period = tally.configuration.period_s
        middle, most, rare, rarest = _shares(tally)
        judged = _judged(own, tally)
        largest = judged.largest_s if judged is not None else math.nan
        margin = "kept" if rare <= 0.5 * period and largest <= 0.75 * period else "not kept"
        cells = (f"{share / period:.0%}" for share in (middle, most, rare, rarest, largest))
        rows.append((f"{tally.configuration.buffer}", length_words(tally.logged_s), *cells, margin))
        if judged is not None:
            notes += _notes(judged, own.show_s)
    answer = " ".join([*(tally_words(tally) for tally in own.tallies), RULE, MARGIN, *notes])
    head = ("frames", "logged", "half done by", "99 %", "99.9 %", "99.99 %", "longest", "margin")
    return Block(f"{own.unit}: evidence, finishing times as a share of the period", answer, head, tuple(rows))


def _shares(tally: Tally) -> tuple[float, ...]:
    each = [log.shares(0.5, 0.99, 0.999, 0.9999) for log in tally.logs]
    return tuple(max(column) for column in zip(*each, strict=True))


def _judged(own: UnitAdvice, tally: Tally) -> Overruns | None:
    if tally.configuration.rate != own.rate:
        return None
    one = own.at(tally.configuration.buffer)
    return one.overruns if one is not None else None


def _notes(found: Overruns, show_s: float) -> list[str]:
    rare = bound_words(found.rarest_per_show)
    notes = [
        f"At {found.buffer} frames nothing rarer than {rare} in a {length_words(show_s)} show can be seen in this log."
    ]
    if math.isfinite(found.bound):
        risk = math.ceil(chance_of_any(found.bound) * 100)
        notes.append(f"The chance of any overrun in a show is up to {min(risk, 100)} %.")
    if found.warm_up_s:
        notes.append(f"The first {length_words(found.warm_up_s)} of each log are left out: it was still warming up.")
    if found.clock_s is not None:
        notes.append(f"Late blocks come every {found.clock_s:.1f} s: a clock or a timer, not load.")
    if found.because and found.how == "fitted":
        notes.append(f"{found.because[0].upper()}{found.because[1:]}.")
    return notes


# Load


def _load(own: UnitAdvice) -> Block:
    rows = tuple((one.chain, f"{one.share:.1%}", listed(one.loops)) for one in own.loads)
    now, work = own.load_share, own.work
    declared = f"Its chains declare {now:.0%} of it together" if now else "Its chains declare no load"
    answer = f"{declared}; the same share at any buffer, and more at a higher rate."
    if work is not None:
        base = f", and {work.base_s * 1e6:.0f} µs on top of every block" if work.base_s else ""
        answer += (
            f" Measured at {listed(str(one) for one in work.buffers)} frames: {work.share:.0%} of the period{base}."
        )
    answer += f" {more_words(own)}"
    return Block(f"{own.unit}: load", answer, ("chain", "each", "loops"), rows)


def more_words(own: UnitAdvice) -> str:
    """Say what one more chain does."""
    more = own.more
    if more is None:
        return "Give processors a load, or log with and without one, to know what one more chain does."
    limit = "" if more.fits else ", over its load limit"
    words = f"One more chain like '{more.chain}' makes it {more.share:.0%}{limit}"
    if more.overruns is None:
        return f"{words}."
    seen, bound = count(more.overruns.seen, "overrun"), bound_cell(more.overruns)
    return f"{words}; this log would have had {seen}, and a show up to {bound}."


__all__ = ["RULE", "headline", "hold_blocks", "overruns_sentence", "sureness", "surer"]
