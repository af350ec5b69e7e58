"""What a path does to sound beside being late: level and phase by band, against what is expected of it.

A filter bends the phase, so that its "delay" depends on where it is read. What is declared is taken out first; where
more than 5 degrees are left, the delay is the slope of the phase from 500 Hz to 8 kHz, told together with the group
delay at 1 kHz.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.arrival import Fit, fit_delay, fit_slope
from sidetrip.dsp.pairs import EARLIEST

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

STRAIGHT_DEG = 5.0
SLOPE_HZ = (500.0, 8000.0)
_BAND_STEPS = 3
_LEAST_BINS = 6
_SURE, _SURE_NEAR = 6.5, 5.0
_RANGES_FRAMES = (24.0, 96.0, 384.0, 1536.0)
"""Where second copies are looked for: from each to the next, and from the last on. One nearer than the first is a
filter's doing as well as a copy's, and is told as a response."""


@dataclass(frozen=True, slots=True)
class Band:
    """A third of an octave, or more where the tones are sparse: what is left beside the expected, and its error."""

    hz: float
    level_db: float
    phase_deg: float
    error_db: float


@dataclass(frozen=True, slots=True)
class Passage:
    """One entry's way to one catch.

    delay_frames, error_frames: later is positive. straight: whether the phase is a line to within 5 degrees; if not,
    the delay is a slope. group_frames: group delay at 1 kHz, None when straight. gain_db: over 500 Hz to 8 kHz.
    bands: what is left beside the expected response, level relative to the gain.
    """

    delay_frames: float
    error_frames: float
    gain_db: float
    gain_error_db: float
    inverted: bool
    straight: bool
    group_frames: float | None
    bands: tuple[Band, ...]

    def deviation(self, low_hz: float = 20.0, high_hz: float = 20_000.0) -> Band | None:
        """Return the band that deviates most in level beyond its own error."""
        inside = [band for band in self.bands if low_hz <= band.hz <= high_hz]
        return max(inside, key=lambda band: abs(band.level_db) - 3 * band.error_db, default=None)


def passage(
    h: Complex, bins: NDArray[np.int64], weight: Real, period: int, rate_hz: int, near_frames: float, expected: Complex
) -> Passage:
    """Read delay, gain, polarity and response of a pair that was found.

    h, bins, weight: shape (bins,). near_frames: the delay found before. expected: the declared response at the bins,
    without any whole delay, 1 where nothing is declared.
    """
    size = np.maximum(np.abs(expected), 1e-3)
    h, weight = h / (expected / np.abs(expected) * size), weight * size**2
    hz = np.asarray(bins * (rate_hz / period), dtype=np.float64)
    angle = np.asarray(2 * np.pi / period * bins, dtype=np.float64)
    fit = fit_delay(h, bins, weight, period, near_frames)
    middle = (hz >= SLOPE_HZ[0]) & (hz <= SLOPE_HZ[1])
    turned = h * np.exp(1j * angle * fit.delay_frames) * (-1 if fit.inverted else 1)
    gain = math.sqrt(max(_power(turned[middle], weight[middle]), 1e-24))
    level_error = 8.686 / math.sqrt(2 * float(weight[middle].sum())) / gain
    bands = _bands(turned / gain, hz, weight * gain**2)
    bent = [
        b
        for b in bands
        if 100 <= b.hz <= 16_000 and abs(b.phase_deg) > STRAIGHT_DEG + 4 * math.degrees(b.error_db / 8.686)
    ]
    gain_db = 20 * math.log10(gain)
    if not bent:
        return Passage(fit.delay_frames, fit.error_frames, gain_db, level_error, fit.inverted, True, None, bands)
    delay, error, group = _slope(fit, turned[middle] / gain, angle[middle], hz[middle], weight[middle] * gain**2)
    turned = h * np.exp(1j * angle * delay) * (-1 if fit.inverted else 1)
    bands = _bands(turned / gain, hz, weight * gain**2)
    return Passage(delay, error, gain_db, level_error, fit.inverted, False, group, bands)


def _slope(fit: Fit, turned: Complex, angle: Real, hz: Real, weight: Real) -> tuple[float, float, float]:
    phase = np.unwrap(np.angle(_smoothed(turned, weight, 5)))
    reliable = 2 * weight * np.abs(turned) ** 2
    line = fit_slope(phase, angle, reliable)
    octave = (hz > 700) & (hz < 1400)
    if octave.sum() < 4:
        return fit.delay_frames + line.delay_frames, line.error_frames, math.nan
    near = fit_slope(phase[octave], angle[octave], reliable[octave])
    group = fit.delay_frames + near.delay_frames
    return fit.delay_frames + line.delay_frames, line.error_frames, group


def _smoothed(values: Complex, weight: Real, width: int) -> Complex:
    window = np.ones(min(width, len(values)))
    return np.convolve(values * weight, window, "same") / np.convolve(weight, window, "same")


def _power(turned: Complex, weight: Real) -> float:
    """Return the mean power, what noise adds taken out."""
    return float((weight * np.abs(turned) ** 2).sum() - len(turned)) / float(weight.sum())


def _bands(turned: Complex, hz: Real, weight: Real) -> tuple[Band, ...]:
    out: list[Band] = []
    start = 0
    while start < len(hz):
        stop = max(int(np.searchsorted(hz, hz[start] * 2 ** (1 / _BAND_STEPS))), start + _LEAST_BINS)
        if len(hz) - stop < _LEAST_BINS:
            stop = len(hz)
        w, t = weight[start:stop], turned[start:stop]
        total = float(w.sum())
        mean = complex((w * t).sum()) / total
        level = max(_power(t, w), 1e-24)
        centre = math.sqrt(hz[start] * hz[stop - 1])
        phase = math.degrees(math.atan2(mean.imag, mean.real))
        error = 8.686 / math.sqrt(2 * total) / math.sqrt(level)
        out.append(Band(centre, 10 * math.log10(level), phase, error))
        start = stop
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Copy:
    """A second copy of the same entry: how much later than the first, and its level beside it."""

    later_frames: float
    level_db: float
    inverted: bool


def second_copy(
    h: Complex, bins: NDArray[np.int64], weight: Real, period: int, first: Passage, near_frames: float | None = None
) -> Copy | None:
    """Look for a second copy at least 24 frames from the first, None when there is none above the floor.

    near_frames: look only within 4 frames of this much later than the first; then the floor is lower.
    """
    best: tuple[float, Fit] | None = None
    for later in _RANGES_FRAMES if near_frames is None else (near_frames,):
        rest, chance = _rest(h, bins, weight, period, first, later)
        sparse = np.zeros(period // 2 + 1, dtype=np.complex128)
        sparse[bins] = weight * rest / float(weight.sum()) * (period / 2)
        trace = np.abs(fft.irfft(sparse, period)) / chance
        trace[~_looked_at(period, later, near=near_frames is not None)] = 0
        at = int(trace.argmax())
        if trace[at] < (_SURE if near_frames is None else _SURE_NEAR) or (best and trace[at] < best[0]):
            continue
        fit = fit_delay(rest, bins, weight, period, at if at < period // 2 else at - period)
        if _broad(rest, bins, weight, period, fit):
            best = float(trace[at]), fit
    if best is None:
        return None
    fit = best[1]
    gain = _beside(h, bins, weight, period, first, fit.delay_frames)
    level = 20 * math.log10(max(abs(gain), 1e-12)) - first.gain_db
    return Copy(fit.delay_frames, level, (gain < 0) != first.inverted)


def _looked_at(period: int, later: float, *, near: bool) -> NDArray[np.bool_]:
    """Return which frames of a trace are searched: 4 to either side, or from `later` to four times as late or early."""
    out = np.zeros(period, dtype=bool)
    if near:
        out[[(round(later) + side) % period for side in range(-4, 5)]] = True
        return out
    first, last = round(later), period if later == _RANGES_FRAMES[-1] else round(4 * later)
    out[first : min(last, period // 2)] = True
    out[max(period - last, period - period // EARLIEST) + 1 : period - first + 1] = True
    return out


def _broad(rest: Complex, bins: NDArray[np.int64], weight: Real, period: int, fit: Fit) -> bool:
    """Tell whether a copy is as loud in every part of the band, as a copy is and a filter's ringing is not."""
    turned = rest * np.exp(2j * np.pi / period * bins * fit.delay_frames) * (-1 if fit.inverted else 1)
    edges = np.searchsorted(bins, np.array([0.02, 0.1, 0.35, 1.1]) * bins[-1])
    for start, stop in pairwise(edges.tolist()):
        total = float(weight[start:stop].sum())
        part = float((weight[start:stop] * turned[start:stop].real).sum()) / total
        error = math.sqrt(float((weight[start:stop] ** 2 * np.abs(rest[start:stop]) ** 2).sum()) / 2) / total
        if part < 0.4 * fit.gain - 2 * error:
            return False
    return True


def _beside(
    h: Complex, bins: NDArray[np.int64], weight: Real, period: int, first: Passage, later_frames: float
) -> float:
    """Return the gain of a second copy, both fitted at once: on few tones the first one is heard at its time too."""
    total = float(weight.sum())
    turn = np.exp(2j * np.pi / period * bins * later_frames)
    turned = h * np.exp(2j * np.pi / period * bins * first.delay_frames)
    shared = float((weight * turn.real).sum()) / total
    here, there = float((weight * turned.real).sum()) / total, float((weight * (turned * turn).real).sum()) / total
    return (there - shared * here) / max(1 - shared**2, 1e-9)


def _straightened(values: Complex, bins: NDArray[np.int64], weight: Real, width: int) -> Complex:
    """Return each value as a line through it and its neighbours has it; they are not evenly spaced."""
    window = np.ones(min(width, len(values)))
    x = (bins - bins[0]) / float(bins[-1] - bins[0])
    w0, w1, w2 = (np.convolve(weight * x**power, window, "same") for power in range(3))
    v0, v1 = (np.convolve(values * weight * x**power, window, "same") for power in range(2))
    first, second, slope = w1 - x * w0, w2 - 2 * x * w1 + x**2 * w0, v1 - x * v0
    return np.asarray((second * v0 - first * slope) / (second * w0 - first**2), dtype=np.complex128)


def copy_floor_db(
    h: Complex,
    bins: NDArray[np.int64],
    weight: Real,
    period: int,
    first: Passage,
    near_frames: float | None = None,
) -> float:
    """Return the level beside the first that a second copy must have to be found, in dB.

    It is what noise, and what the first leaves behind when it is taken out, could make by chance. near_frames: as in
    `second_copy`.
    """
    places = _RANGES_FRAMES if near_frames is None else (near_frames,)
    chance = max(_rest(h, bins, weight, period, first, later)[1] for later in places)
    return 20 * math.log10((_SURE if near_frames is None else _SURE_NEAR) * chance) - first.gain_db


def _rest(
    h: Complex, bins: NDArray[np.int64], weight: Real, period: int, first: Passage, later_frames: float
) -> tuple[Complex, float]:
    """Return (what is left beside the first copy, on its time, and the standard deviation of its trace).

    The first is taken out as a line through neighbouring tones. A copy ripples over them: the line is laid over one
    whole ripple of a copy that comes `later_frames` later, so that nothing of that copy goes as well.
    """
    turned = h * np.exp(2j * np.pi / period * bins * first.delay_frames)
    apart = float(bins[-1] - bins[0]) / max(len(bins) - 1, 1)
    width = round(period / (max(abs(later_frames), 1.0) * apart))
    rest = turned - _straightened(turned, bins, weight, min(max(width, 3), max(len(bins) // 8, 3)) | 1)
    chance = math.sqrt(float((weight**2 * np.abs(rest) ** 2).sum()) / 2) / float(weight.sum())
    return rest, max(chance, 1e-15)


__all__ = ["Band", "Copy", "Passage", "copy_floor_db", "passage", "second_copy"]
