"""Which entry is in which catch: gain, polarity, delay and coherent crosstalk of all pairs, from one spectrum each.

Entries own their bins, so they do not disturb each other; what a catch shows on nobody's bins is its noise and
distortion, and sets the floor below which nothing is claimed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.arrival import fit_delay, parabolic_peaks
from sidetrip.dsp.tones import Tones

SURE = 6.7
"""A peak this many standard deviations high is there: by chance alone about once in 200 000 pairs (Rice's rate of
crossings, over all delays of the usual period)."""

CLOSE = 0.85
"""A peak between two frames reads up to this much too low before it is fitted."""

EARLIEST = 8
"""A copy may be early by one part in this of the period; the rest of the period is for late ones."""

_WORKERS = 2
_SMOOTH = 24
_AT_ONCE = 8  # so that what the workers hold stays in their caches


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """All arrays have shape (catches, entries); nan where nothing was found above the floor.

    delay_frames: later is positive; against the frame that the periods were cut at. error_frames: standard error.
    gain_db: out of what was sent. floor_db: what would have been found at this gain, as gain. noise_db: the noise
    and distortion of the catch, shape (catches,), as level beside one entry sent at 0 dB.
    """

    delay_frames: NDArray[np.float64]
    error_frames: NDArray[np.float64]
    gain_db: NDArray[np.float64]
    inverted: NDArray[np.bool_]
    floor_db: NDArray[np.float64]
    noise_db: NDArray[np.float64]

    @property
    def found(self) -> NDArray[np.bool_]:
        """Tell which pairs are there."""
        return np.isfinite(self.gain_db)


def mean_spectrum(periods: NDArray[np.float32]) -> NDArray[np.complex64]:
    """Return the spectrum of the mean period. periods: shape (catches, periods, frames)."""
    mean = periods[:, 0].copy()
    for number in range(1, periods.shape[1]):
        mean += periods[:, number]
    mean *= np.float32(1 / periods.shape[1])
    return np.asarray(fft.rfft(mean, axis=1, workers=_WORKERS), dtype=np.complex64)


def sent(tones: Tones, entry: int, rms: float, offset_frames: float) -> NDArray[np.complex128]:
    """Return what an entry sent, at its own bins, in a period cut `offset_frames` behind the start of its tones."""
    bins = tones.bins(entry)
    turn = np.exp(2j * np.pi / tones.period_frames * ((bins * float(offset_frames)) % tones.period_frames))
    size = tones.amplitude(entry) * rms * tones.period_frames / 2
    return np.asarray(tones.turns(entry) * turn * size, dtype=np.complex128)


def noise_power(spectrum: NDArray[np.complex64], tones: Tones) -> NDArray[np.float64]:
    """Return the power of noise and distortion in each bin of the band, shape (catches, band bins).

    Read on the bins that nobody owns, and smoothed over their neighbours.
    """
    free = tones.bins(0)
    power = np.abs(spectrum[:, free].astype(np.complex128)) ** 2
    width = min(_SMOOTH, max(len(free) // 8, 1))
    groups = max(len(free) // width, 1)
    used = groups * width
    level = power[:, :used].reshape(len(power), groups, width).mean(axis=2)
    # What is no noise but tones of something else leaves gaps: no part may count for far more than those around it.
    around = np.stack([np.convolve(np.pad(row, 4, mode="edge"), np.full(9, 1 / 9), "valid") for row in level])
    level = np.maximum(level, around / 2)
    where = free[:used].reshape(groups, width).mean(axis=1)
    band = tones.first_bin + np.arange(len(tones.owners))
    out = np.stack([np.interp(band, where, row) for row in level])
    return np.asarray(np.maximum(out, 1e-30), dtype=np.float64)


SideBySide = Callable[[Callable[[int], None], Iterable[int]], Iterable[None]]
"""Calls a function with each of some numbers, as map does; a map of threads makes use of all cores."""


def find_pairs(
    spectrum: NDArray[np.complex64], tones: Tones, rms: float, offset_frames: float, side_by_side: SideBySide = map
) -> Pairs:
    """Find every entry in every catch.

    spectrum: shape (catches, period / 2 + 1), of a period cut `offset_frames` behind the start of the tones.
    rms: of each entry as sent, 1.0 being the rms of a full-scale square. side_by_side: of the entries, two at a time.
    """
    period, catches, entries = tones.period_frames, len(spectrum), tones.entries
    noise = noise_power(spectrum, tones)
    shape = (catches, entries)
    delay, error, gain_db = (np.full(shape, np.nan) for _ in range(3))
    floor_db, inverted = np.full(shape, -np.inf), np.zeros(shape, dtype=bool)
    quiet = 1 / noise

    def find(entry: int, search: Search) -> None:
        bins, x = tones.bins(entry), sent(tones, entry, rms, offset_frames)
        h = spectrum.take(bins, axis=1) * (1 / x).astype(np.complex64)
        weight = quiet.take(bins - tones.first_bin, axis=1) * (x.real**2 + x.imag**2)
        least = SURE / np.sqrt(2 * weight.sum(axis=1))
        floor_db[:, entry - 1] = 20 * np.log10(least)
        near, height = search.peaks(h, bins, weight)
        for row in np.flatnonzero(height > CLOSE * least):
            fit = fit_delay(h[row], bins, weight[row], period, float(near[row]))
            if fit.gain >= least[row]:
                delay[row, entry - 1], error[row, entry - 1] = fit.delay_frames, fit.error_frames
                gain_db[row, entry - 1], inverted[row, entry - 1] = 20 * math.log10(fit.gain), fit.inverted

    def find_some(first: int) -> None:
        search = Search(period, workers=_WORKERS if side_by_side is map else 1)
        for entry in range(first, entries + 1, _WORKERS):
            find(entry, search)

    list(side_by_side(find_some, range(1, _WORKERS + 1)))
    level = np.sqrt(noise.sum(axis=1) * 2) / period
    noise_db = 20 * np.log10(np.maximum(level, 1e-12) / rms)
    return Pairs(delay, error, gain_db, inverted, floor_db, noise_db)


class Search:
    """Looks for the highest peak at all delays.

    All are tried, because no cheaper look at a pair tells a weak copy from none: where an entry has many tones, all
    of them together are lost in noise long before their sum in phase is.
    """

    def __init__(self, period: int, workers: int = _WORKERS) -> None:
        self.period, self.workers = period, workers
        # Made once: to set memory aside for every transform takes as long as the transforms.
        self._sparse = np.zeros((_AT_ONCE, period // 2 + 1), dtype=np.complex64)

    def peaks(
        self, h: NDArray[np.complexfloating], bins: NDArray[np.int64], weight: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return (the delay of the highest peak of each row, right to half a frame; its height as gain).

        h, weight: shape (rows, bins).
        """
        period, near, height = self.period, np.empty(len(h)), np.empty(len(h))
        share = (weight * (period / 2 / weight.sum(axis=1, keepdims=True))).astype(np.float32)
        for start in range(0, len(h), _AT_ONCE):
            some = slice(start, start + _AT_ONCE)
            rows = np.arange(len(h[some]))
            self._sparse[: len(rows), bins] = share[some] * h[some]
            trace = fft.irfft(self._sparse[: len(rows)], period, axis=1, workers=self.workers)
            high, low = trace.argmax(axis=1), trace.argmin(axis=1)
            at = np.where(trace[rows, high] >= -trace[rows, low], high, low)
            before, top, after = (np.abs(trace[rows, (at + side) % period].astype(np.float64)) for side in (-1, 0, 1))
            off = parabolic_peaks(before, top, after)
            near[some] = np.where(at > period - period // EARLIEST, at - period, at) + off
            height[some] = top - (before - after) * off / 4
        self._sparse[:, bins] = 0
        return near, height


__all__ = [
    "CLOSE",
    "EARLIEST",
    "SURE",
    "Pairs",
    "Search",
    "SideBySide",
    "find_pairs",
    "mean_spectrum",
    "noise_power",
    "sent",
]
