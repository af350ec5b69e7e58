"""Whether a delay stays: the same tones, period by period."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.arrival import fit_delay, fit_slope
from sidetrip.dsp.pairs import CLOSE, SURE, Search, noise_power, sent
from sidetrip.dsp.tones import Tones

Motion = Literal["still", "drifting", "jumping", "unknown"]

_STEP_FRAMES = 0.5
_AS_LOUD = 0.9
NEAREST_FRAMES = 24
"""Two copies closer than this are one arrival with a filter."""

_SURE_PPM = 0.05
"""Below this a drift is not told from the rounding of everything else."""


@dataclass(frozen=True, slots=True)
class Stay:
    """How a delay moved over the take.

    ppm: of drift, positive when the delay grows; 0 when still. error_ppm: its standard error. steps: (period, frames)
    for each jump between one measured period and the next, the number counting both levels on; positive is later.
    """

    motion: Motion
    ppm: float = 0.0
    error_ppm: float = 0.0
    steps: tuple[tuple[int, float], ...] = ()


def period_delays(
    periods: NDArray[np.float32],
    tones: Tones,
    entry: int,
    rms: float,
    offset_frames: float,
    first_frames: float = math.nan,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the delay of one entry in each period, and its standard error, both shape (periods,); nan if not heard.

    periods: shape (periods, period frames), each cut `offset_frames` behind the start of the tones.
    first_frames: its delay in periods before these, if there were any.
    """
    spectra = np.asarray(fft.rfft(periods, axis=1, workers=2), dtype=np.complex64)
    noise = noise_power(spectra, tones)
    bins, period = tones.bins(entry), tones.period_frames
    x = sent(tones, entry, rms, offset_frames)
    delays, errors = np.full(len(periods), np.nan), np.full(len(periods), np.nan)
    h = spectra[:, bins] / x
    weight = np.abs(x) ** 2 / noise[:, bins - tones.first_bin]
    least = SURE / np.sqrt(2 * weight.sum(axis=1))
    near, height = Search(period).peaks(h, bins, weight)
    for number in np.flatnonzero(height > CLOSE * least):
        fit = fit_delay(h[number], bins, weight[number], period, float(near[number]))
        if abs(fit.delay_frames - first_frames) >= NEAREST_FRAMES:
            # of two copies that are equally loud now one peaks and now the other, and neither has moved
            same = fit_delay(h[number], bins, weight[number], period, first_frames)
            fit = same if same.gain >= _AS_LOUD * fit.gain else fit
        if math.isnan(first_frames):
            first_frames = fit.delay_frames
        if fit.gain >= least[number]:
            delays[number], errors[number] = fit.delay_frames, fit.error_frames
    return delays, errors


def judge_stay(at_frames: NDArray[np.float64], delays: NDArray[np.float64], errors: NDArray[np.float64]) -> Stay:
    """Tell whether delays measured at these frames (all shape (periods,)) stand still, drift or jump.

    A drift is a straight line. Whatever moves and is no line has jumped: frames were lost, repeated or put in.
    """
    good = np.isfinite(delays) & np.isfinite(errors)
    if good.sum() < 3:
        return Stay("unknown")
    at, d, e = at_frames[good], delays[good], np.maximum(errors[good], 1e-4)
    line = fit_slope(d, at, 1 / e**2)
    ppm, error_ppm = -line.delay_frames * 1e6, line.error_frames * 1e6
    rest = d - (line.intercept + at * -line.delay_frames)
    middle = float(np.median(d))
    moves = np.diff(d)
    usual = np.median(moves)
    jumps = np.abs(moves - usual) > np.maximum(_STEP_FRAMES, 6 * np.hypot(e[1:], e[:-1]))
    if jumps.any() and np.abs(rest).max() > _STEP_FRAMES / 2:
        numbers = np.flatnonzero(good)[1:][jumps]
        return Stay("jumping", steps=tuple(zip(numbers.tolist(), (moves - usual)[jumps].tolist(), strict=True)))
    if abs(ppm) < max(_SURE_PPM, 5 * error_ppm) or np.abs(d - middle).max() < 5 * e.max():
        return Stay("still", error_ppm=error_ppm)
    return Stay("drifting", ppm, error_ppm)


@dataclass(frozen=True, slots=True)
class Glitch:
    """A stretch of one period that is not like the same stretch of the others.

    period: counting from 0. at, frames: where in it, and how long, both in frames.
    """

    period: int
    at: int
    frames: int


def find_glitches(periods: NDArray[np.float32]) -> tuple[Glitch, ...]:
    """Find holes, repeats and clicks: what differs from the median of all periods far more than noise does.

    periods: shape (periods, period frames), at least three.
    """
    count, frames = periods.shape
    if count < 3:
        return ()
    step = 32
    used = frames // step * step
    rest = periods[:, :used] - np.median(periods[:, :used], axis=0)
    power = (rest.astype(np.float64) ** 2).reshape(count, -1, step).mean(axis=2)
    carried = float((periods.astype(np.float64) ** 2).mean())
    # of all periods, not of each: half of one may be odd
    usual = max(float(np.median(np.median(power, axis=1))), 1e-30)
    odd = power > np.maximum(30 * usual, carried * 1e-3)
    out: list[Glitch] = []
    for number in range(count):
        where = np.flatnonzero(odd[number])
        if not len(where) or len(where) > used // step * 3 // 4:  # a period that is different all over has moved
            continue
        for run in np.split(where, np.flatnonzero(np.diff(where) > 4) + 1):
            out.append(Glitch(number, int(run[0]) * step, int(run[-1] - run[0] + 1) * step))
    return tuple(out)


__all__ = ["Glitch", "Motion", "Stay", "find_glitches", "judge_stay", "period_delays"]
