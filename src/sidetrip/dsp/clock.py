"""Two clocks: how fast a recording ran against the signal that was played, and how to undo it.

A ratio is recorded frames for each frame of the signal: 1.00005 when the recorder's clock is 50 ppm fast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.arrival import parabolic_peak

WIDEST_PPM = 1500.0
"""Clocks further apart than this are another rate, not drift."""

_RATES = (32_000, 44_100, 48_000, 88_200, 96_000)
_PULLED = (1000 / 1001, 1.0, 1001 / 1000)
_LEAST_HEIGHT = 8.0


@dataclass(frozen=True, slots=True)
class Speed:
    """What repeats in a recording. ratio: recorded frames for one of the signal. height: of the peak, in the
    standard deviations of what lies around it.
    """

    ratio: float
    height: float
    share: float


def known_ratios() -> tuple[float, ...]:
    """Return the ratios between the usual sample rates, and those pulled up or down by 1000/1001, each once."""
    found = {round(up / down * pull, 12) for up in _RATES for down in _RATES for pull in _PULLED}
    return tuple(sorted(ratio for ratio in found if 0.4 < ratio < 2.6))


def find_speed(samples: NDArray[np.float32], period: int, rate_hz: float) -> Speed | None:
    """Find how long the period of a test signal came out in a recording, None when nothing repeats.

    samples: shape (frames,). All usual ratios are tried, each within WIDEST_PPM: rate first, drift second.
    """
    longest = max(known_ratios()) * period * (1 + WIDEST_PPM * 1e-6) + 2
    if len(samples) < period:
        return None
    size = fft.next_fast_len(int(len(samples) + min(longest, len(samples))), real=True)
    power = np.abs(fft.rfft(samples, size, workers=2)) ** 2
    low = int(60.0 / rate_hz * size)
    power[:low] = 0
    steps = max(len(power) // 512, 1)
    usual = np.repeat(np.add.reduceat(power, np.arange(0, len(power), steps)) / steps, steps)[: len(power)]
    whole = fft.irfft(np.minimum(power, 60 * usual), size, workers=2)  # a hum must not look like a period
    if not whole[0] > 0:
        return None
    found: list[Speed] = []
    for ratio in known_ratios():
        middle, reach = period * ratio, max(period * ratio * WIDEST_PPM * 1e-6, 4.0)
        first, last = math.ceil(middle - reach), math.floor(middle + reach)
        if last + 1 >= min(len(whole) // 2, len(samples)):
            continue
        at = first + int(whole[first : last + 1].argmax())
        away = np.concatenate([whole[max(at - 2000, 1) : at - 8], whole[at + 9 : at + 2000]])
        if not len(away):
            continue
        height, share = float(whole[at] / max(float(away.std()), 1e-30)), float(whole[at] / whole[0])
        if height > _LEAST_HEIGHT:
            exact = at + parabolic_peak(float(whole[at - 1]), float(whole[at]), float(whole[at + 1]))
            found.append(Speed(exact / period, height, share))
    # Twice the period repeats too, and even more when the period itself ends between two frames.
    enough = max((speed.share for speed in found), default=0.0) / 2
    return next((speed for speed in found if speed.share >= enough), None)


def at_signal_rate(samples: NDArray[np.float32], ratio: float) -> NDArray[np.float32]:
    """Return a recording as it would have been on the signal's clock. samples: (frames,) or (frames, channels)."""
    if ratio == 1.0:
        return samples
    import soxr

    return np.asarray(soxr.resample(samples, ratio, 1.0, quality="VHQ"), dtype=np.float32)


def slip_frames_per_minute(ppm: float, rate_hz: float) -> float:
    """Return how many frames one clock gains on another each minute; negative when it loses."""
    return ppm * 1e-6 * rate_hz * 60


def slip_s(ppm: float, margin_frames: float, rate_hz: float) -> float:
    """Return how long two clocks run until they are so many frames apart: one buffer, and then it clicks."""
    return margin_frames / abs(ppm * 1e-6 * rate_hz) if ppm else math.inf


__all__ = [
    "WIDEST_PPM",
    "Speed",
    "at_signal_rate",
    "find_speed",
    "known_ratios",
    "slip_frames_per_minute",
    "slip_s",
]
