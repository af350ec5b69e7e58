"""Clean: distortion, second copies, clocks, dropouts and idle noise."""

from __future__ import annotations

import math

from sidetrip.prove.asked import Asked
from sidetrip.prove.expect import Way
from sidetrip.prove.limits import CROSSTALK, DRIFT_PPM
from sidetrip.prove.proof import Row, Verdict

_TWO_CLOCKS_DIRT_DB = -84.0
"""Putting a recording onto another clock leaves this much of it behind, so nothing below is claimed."""


def distortion(asked: Asked) -> Row:
    """Ask what of the track repeats with the test and is no copy of it."""
    if why := asked.spoilt.get("distortion"):
        return asked.blind("distortion", why)
    level, noise = asked.track.distortion_db, asked.track.noise_db
    if asked.track.stay.motion != "still" or math.isnan(level):
        return asked.blind("distortion", "the track does not hold still")
    if asked.track.glitches:
        return asked.blind("distortion", "there are dropouts in the take")
    tones, periods = asked.on.capture.signal.tones, asked.on.capture.signal.periods
    free = max(len(tones.bins(0)), 1)
    floor = noise + 10 * math.log10(4 * math.sqrt(2 / free) / periods) + 3
    if asked.on.capture.clocks.ratio != 1.0:
        floor = max(floor, _TWO_CLOCKS_DIRT_DB)
    if level <= floor:
        if floor > asked.limits.distortion.fair:
            return asked.blind("distortion", f"nothing below {floor:.0f} dB can be told from noise")
        because = "" if floor <= asked.limits.distortion.good else f"None above {floor:.0f} dB, where the noise begins"
        return asked.row("distortion", "pass", because)
    verdict = asked.limits.distortion.judge(level)
    because = "" if verdict == "pass" else "Something in the path bends the waveform"
    if verdict != "pass" and asked.track.clipped:
        because = f"The recording touches full scale {asked.track.clipped} times: turn the recorder down"
    return asked.row("distortion", verdict, because, level, None, None, "dB", at="unit")


def twice(asked: Asked, way: Way) -> Row:
    """Ask whether a second copy of the same entry arrives."""
    if why := asked.spoilt.get("twice"):
        return asked.blind("twice", why)
    if asked.track.stay.motion != "still":
        return asked.blind("twice", "the track does not hold still")
    copy = asked.on.copy(way)
    if copy is None or copy.level_db <= CROSSTALK.good:
        return asked.row("twice", "pass", "")
    side = "later" if copy.later_frames > 0 else "earlier"
    because = (
        f"A second copy comes {abs(copy.later_frames):.1f} frames {side}, "
        f"{copy.level_db:.0f} dB beside it: it takes two ways"
    )
    verdict: Verdict = "fail" if copy.level_db > -40 else "look"
    return asked.row("twice", verdict, because, copy.level_db, None, None, "dB", at="strip again")


def clock(asked: Asked) -> Row:
    """Ask whether the delay stays, or drifts because the unit has a clock of its own."""
    stay = asked.track.stay
    if asked.mixed and stay.motion != "still":
        return asked.blind("clock", "what is loudest here should arrive by several ways")
    if stay.motion == "unknown":
        return asked.blind("clock", "it is not heard often enough")
    if stay.motion == "jumping":
        return asked.blind("clock", "the delay jumps")
    if stay.motion == "still":
        return asked.row("clock", "pass", "", 0.0, 0.0, stay.error_ppm, "ppm")
    if asked.on.reference() is None:
        why = f"it drifts {stay.ppm:+.1f} ppm against the other tracks, and without a reference either may be it"
        return asked.blind("clock", why)
    verdict = DRIFT_PPM.judge(max(abs(stay.ppm) - 4 * stay.error_ppm, 0.0))
    each = stay.ppm * 1e-6 * asked.on.rate_hz * 60
    moves = "grows" if each > 0 else "shrinks"
    because = f"The unit runs on a clock of its own: the delay {moves} {abs(each):.1f} frames a minute"
    return asked.row("clock", verdict, because, stay.ppm, 0.0, stay.error_ppm, "ppm", at="unit")


def dropouts(asked: Asked) -> Row:
    """Ask whether frames were lost, put in or repeated within the take."""
    stay, glitches = asked.track.stay, asked.track.glitches
    if stay.motion == "still" and not glitches:
        return asked.row("dropouts", "pass", "", 0.0, 0.0, None, "")
    if asked.mixed and stay.motion != "still":
        return asked.blind("dropouts", "what is loudest here should arrive by several ways")
    if stay.motion not in ("still", "jumping"):
        return asked.blind("dropouts", "the track does not hold still")
    if asked.on.reference_slips():
        because = "Player or recorder lost or put in frames, on the reference too: record it again"
        return asked.row("dropouts", "look", because)
    if stay.motion == "jumping":
        jumps = ", ".join(f"{frames:+.0f}" for _, frames in stay.steps)
        what = "lost" if stay.steps[0][1] < 0 else "put in"
        because = f"Frames were {what} within the take: the delay jumped by {jumps} frames"
        return asked.row("dropouts", "fail", because, float(len(stay.steps)), 0.0, None, "", at="unit")
    first = glitches[0]
    because = f"A stretch of about {first.frames} frames is unlike all other periods: a hole, a repeat or a click"
    return asked.row("dropouts", "fail", because, float(len(glitches)), 0.0, None, "", at="unit")


def idle_noise(asked: Asked) -> Row:
    """Ask how loud the silence behind the test is."""
    if why := asked.spoilt.get("idle noise"):
        return asked.blind("idle noise", why)
    level = asked.track.idle_dbfs
    if math.isnan(level):
        return asked.blind("idle noise", "the recording ends before the silence behind the test")
    verdict = asked.limits.idle.judge(level)
    because = "" if verdict == "pass" else "It is not silent when nothing is sent"
    shown = level if math.isfinite(level) else None
    return asked.row("idle noise", verdict, because, shown, None, None, "dBFS", at="unit")


__all__ = ["clock", "distortion", "dropouts", "idle_noise", "twice"]
