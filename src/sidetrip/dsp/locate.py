"""Where a test signal lies in a recording that was started anywhere."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.pairs import find_pairs
from sidetrip.dsp.testsignal import TestSignal
from sidetrip.dsp.tones import Tones
from sidetrip.units import gain_from_db

_MOST_MISFIT = 0.25
"""Half a test, or tones that go on at one level, leave more."""

_LEAST_LEAD = 0.04
"""How much worse the next best place must fit: a stretch of one level could lie anywhere in it."""


@dataclass(frozen=True, slots=True)
class Located:
    """start: the frame in the recording, at the signal's rate, where all entries begin together (may be below 0).

    entry: the one that it was found by. misfit: 0 to 1, how unlike the signal's own levels the heard ones are.
    """

    start: int
    entry: int
    misfit: float


def locate(samples: NDArray[np.float32], signal: TestSignal) -> Located | None:
    """Find the signal in one channel at the signal's rate, shape (frames,). None when it is not there.

    First where the channel repeats itself most, then which entry that is and where its period starts, then which
    period is which by the signal's two levels.
    """
    period = signal.tones.period_frames
    at = _steadiest(samples, period)
    if at is None:
        return None
    mean = (samples[at : at + period] + samples[at + period : at + 2 * period]) * np.float32(0.5)
    spectrum = np.asarray(fft.rfft(mean[None]), dtype=np.complex64)
    pairs = find_pairs(spectrum, signal.tones, gain_from_db(signal.levels_dbfs[1]) * math.sqrt(0.5), 0)
    if not pairs.found.any():
        return None
    entry = int(np.nanargmax(pairs.gain_db[0] - pairs.floor_db[0])) + 1
    phase = (at + round(float(pairs.delay_frames[0, entry - 1]))) % period
    heard = _levels(samples, signal.tones, entry, phase)
    low = gain_from_db(signal.levels_dbfs[0] - signal.levels_dbfs[1])
    shapes = [_profile(signal, each) for each in (low, math.sqrt(low), 1.0)]  # as a limiter may give it back
    fits = sorted(
        (min(_misfit(heard, shape, first) for shape in shapes), first)
        for first in range(1 - len(shapes[0]), len(heard))
    )
    (misfit, first), *others = fits
    overlap = min(first + len(shapes[0]), len(heard)) - max(first, 0)
    if misfit > _MOST_MISFIT or overlap < 2 or (others and others[0][0] < misfit + _LEAST_LEAD):
        return None
    return Located(phase + first * period, entry, misfit)


def _steadiest(samples: NDArray[np.float32], period: int) -> int | None:
    if len(samples) < 2 * period:
        return None
    hop = max(period // 8, 1)
    product = samples[:-period].astype(np.float64) * samples[period:]
    blocks = np.add.reduceat(product, np.arange(0, len(product), hop))
    if len(blocks) < 9:
        return None
    runs = np.convolve(blocks[: len(product) // hop], np.ones(8), mode="valid")
    if not len(runs) or runs.max() <= 0:
        return None
    return min(int(runs.argmax()) * hop, len(samples) - 2 * period)


def _levels(samples: NDArray[np.float32], tones: Tones, entry: int, phase: int) -> NDArray[np.float64]:
    """Return the size of an entry in every whole period from `phase` on.

    Of either polarity, and wherever within a sixteenth of a period it comes: frames that are lost or repeated on the
    way must not make the rest of the test unheard.
    """
    period = tones.period_frames
    bins, near = tones.bins(entry), period // 16
    sizes = []
    for start in range(phase, len(samples) - period + 1, period):
        sparse = np.zeros(period // 2 + 1, dtype=np.complex64)
        sparse[bins] = fft.rfft(samples[start : start + period])[bins] / tones.turns(entry)
        trace = np.abs(fft.irfft(sparse, period))
        sizes.append(max(float(trace[:near].max()), float(trace[-near:].max())))
    return np.array(sizes)


def _profile(signal: TestSignal, low: float) -> NDArray[np.float64]:
    """Return how loud each period is from where all begin together, `low` and then 1."""
    period = signal.tones.period_frames
    curve = np.full(signal.end - signal.together, 1.0)
    curve[: signal.sections[1].start - period - signal.together] = low
    count = -(-len(curve) // period)
    padded = np.zeros(count * period)
    padded[: len(curve)] = curve
    return np.asarray(padded.reshape(count, period).mean(axis=1))


def _misfit(heard: NDArray[np.float64], expected: NDArray[np.float64], first: int) -> float:
    """Return what is left of the heard levels when the expected ones, from period `first` on, are taken out."""
    aligned = np.zeros(len(heard))
    start, stop = max(first, 0), min(first + len(expected), len(heard))
    aligned[start:stop] = expected[start - first : stop - first]
    rest = heard - float(heard @ aligned) / float(aligned @ aligned) * aligned
    return float(rest @ rest) / max(float(heard @ heard), 1e-30)


__all__ = ["Located", "locate"]
