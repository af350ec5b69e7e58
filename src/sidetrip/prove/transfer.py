"""Transfer: how late, which polarity, how loud, and what it does to sound."""

from __future__ import annotations

import math

from sidetrip.prove.asked import Asked
from sidetrip.prove.expect import Way
from sidetrip.prove.limits import DYNAMICS_DB
from sidetrip.prove.proof import Row
from sidetrip.prove.ways import expected_time


def delay(asked: Asked, way: Way) -> Row:
    """Ask how late the loop is, against the plan."""
    question, rate = "delay", asked.on.rate_hz
    low, high = expected_time(asked.on.plan, asked.loop, asked.on.flat)
    wanted = (low + (high if high is not None else low)) / 2 * rate
    if why := asked.spoilt.get(question):
        return asked.blind(question, why)
    if asked.time is None:
        return asked.blind(question, _no_time(asked, way))
    frames, error = asked.time.seconds * rate, asked.time.error * rate
    stay = asked.track.stay
    if stay.motion in ("drifting", "jumping"):
        return asked.blind(question, "it does not stay the same within the take; see clock and dropouts")
    if high is None:
        because = "The plan does not know it; this is the first figure"
        return asked.row(question, "look", because, frames, None, error, "frames", at="unit")
    off = max(low * rate - frames, frames - high * rate, 0.0)
    verdict = asked.limits.delay.judge(max(off - 3 * error, 0.0))
    if frames < -0.5:
        because = "It comes back earlier than it was sent: the patch is wrong"
        return asked.row(question, "fail", because, frames, wanted, error, "frames", at="unit")
    because = ""
    if verdict != "pass":
        because = f"{abs(frames - wanted):.2f} frames {'later' if frames > wanted else 'earlier'} than planned"
        with_chain = expected_time(asked.on.plan, asked.loop, flat=False)
        if asked.on.flat and with_chain[1] is not None and abs(frames - with_chain[0] * rate) <= 0.5 + 3 * error:
            verdict, because = "look", "A chain that is bypassed still holds its delay"
        elif not asked.on.passage(way).straight:
            verdict = "look" if off <= 1.0 else verdict
            because += "; a filter in the path bends it, so that no one figure is right"
    elif not asked.on.passage(way).straight:
        because = "A filter in the path bends it: a slope from 500 Hz to 8 kHz"
    return asked.row(question, verdict, because, frames, wanted, error, "frames", at="unit")


def _no_time(asked: Asked, way: Way) -> str:
    if asked.on.expected.take.state == "all OUT":
        return "the loops are OUT in this take"
    if asked.on.expected.reference is None:
        return "no reference in this take"
    if asked.on.reference() is None:
        return "the reference does not carry the test"
    if asked.on.ambiguous(way):
        return "two copies come back about as loud as each other, and either may be it"
    if len(way.loops) > 1:
        return f"it is only heard together with {', '.join(other for other in way.loops if other != asked.loop)}"
    return "a delay of the desk on the way is unknown"


def polarity(asked: Asked, way: Way) -> Row:
    """Ask whether it comes back inverted."""
    if why := asked.spoilt.get("polarity"):
        return asked.blind("polarity", why)
    found = asked.on.passage(way)
    _, dry, _ = asked.dry_gain(way)
    if found.inverted ^ dry ^ way.inverted:
        return asked.row("polarity", "fail", "It comes back inverted", -1, 1, None, "", at="unit")
    return asked.row("polarity", "pass", "", 1, 1, None, "")


def gain(asked: Asked, way: Way) -> Row:
    """Ask how loud it comes back, beside a dry copy."""
    if why := asked.spoilt.get("gain"):
        return asked.blind("gain", why)
    if way.level_db is None:
        return asked.blind("gain", "a pan or a send of unknown level lies on the way")
    found = asked.on.passage(way)
    dry, _, own = asked.dry_gain(way)
    gain = found.gain_db - dry
    off = abs(gain - way.level_db) - 3 * found.gain_error_db
    verdict = asked.limits.gain.judge(max(off, 0.0))
    because = ""
    if verdict != "pass":
        because = f"{abs(gain - way.level_db):.2f} dB {'louder' if gain > way.level_db else 'softer'} than sent"
        if not own:
            because += ", taken against another entry: set both preamps alike before believing it"
            verdict = "look" if off <= 20 else verdict
    return asked.row("gain", verdict, because, gain, way.level_db, found.gain_error_db, "dB", at="unit")


def dynamics(asked: Asked, way: Way) -> Row:
    """Ask whether the gain is another at another level."""
    if why := asked.spoilt.get("dynamics"):
        return asked.blind("dynamics", why)
    low, high = asked.on.capture.low, asked.on.capture.high
    if low is None or high is None:
        return asked.blind("dynamics", "only one of the two levels is in the recording")
    at = way.catch, way.entry
    if not low.found[at] and high.found[at]:
        if high.gain_db[at] > low.floor_db[at] + 6:
            because = "It comes back only when loud: a gate or an expander is in the chain"
            return asked.row("dynamics", "fail", because, at="unit")
        return asked.blind("dynamics", "the softer level is lost in noise")
    if not (low.found[at] and high.found[at]):
        return asked.blind("dynamics", "it is not heard at both levels")
    soft, loud = asked.on.passage(way, 0), asked.on.passage(way, 1)
    change = loud.gain_db - soft.gain_db
    error = math.hypot(soft.gain_error_db, loud.gain_error_db)
    verdict = DYNAMICS_DB.judge(max(abs(change) - 4 * error, 0.0))
    because = ""
    if verdict != "pass":
        step = asked.on.capture.signal.levels_dbfs[1] - asked.on.capture.signal.levels_dbfs[0]
        because = (
            f"{step:.0f} dB more going in give {step + change:.1f} dB more coming back: "
            f"{'a compressor, limiter, clipper or saturator' if change < 0 else 'a gate or an expander'} is on"
        )
    return asked.row("dynamics", verdict, because, change, 0.0, error, "dB", at="unit")


def response(asked: Asked, way: Way) -> Row:
    """Ask whether the response is flat, or what the chain declares."""
    if why := asked.spoilt.get("response"):
        return asked.blind("response", why)
    worst = asked.on.passage(way).deviation()
    if worst is None:
        return asked.blind("response", "too few tones were heard")
    off = max(abs(worst.level_db) - 4 * worst.error_db, 0.0)
    if worst.error_db > asked.limits.response.fair:
        return asked.blind("response", "too much noise")
    verdict = asked.limits.response.judge(off)
    because = ""
    if verdict != "pass":
        because = f"{worst.level_db:+.1f} dB at {worst.hz:.0f} Hz: a filter or equaliser is in the path"
    return asked.row("response", verdict, because, worst.level_db, 0.0, worst.error_db, "dB", at="unit")


__all__ = ["delay", "dynamics", "gain", "polarity", "response"]
