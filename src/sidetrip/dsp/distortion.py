"""Distortion and noise, and coherence: what is not a copy of what was sent."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.tones import Tones


def thd_db(harmonics_db: Iterable[float]) -> float:
    """Return total harmonic distortion relative to the fundamental from the levels of its harmonics, in dB."""
    return 10 * math.log10(sum(10 ** (level / 10) for level in harmonics_db))


def thd_n_db(distortion_db: float, noise_db: float) -> float:
    """Return distortion and noise together, both in dB below the signal: powers add (THD+N as in AES17)."""
    return thd_db((distortion_db, noise_db))


def coherence_from_snr(snr: float) -> float:
    """Return the coherence of what was sent with what came back under noise: SNR / (1 + SNR), a power ratio.

    Bendat & Piersol, Random Data, 4th ed., 2010, ch. 9. With noise on both sides, the square of it.
    """
    return snr / (1 + snr)


def magnitude_error(coherence: float, averages: float) -> float:
    """Return the relative standard error of a measured magnitude: sqrt(1 - g2) / (g sqrt(2 n)).

    coherence: g2. averages: n, independent ones. Bendat & Piersol, ch. 9.
    """
    return math.sqrt(1 - coherence) / math.sqrt(coherence * 2 * averages)


def coherence_left(delay_frames: float, window_frames: int, window: Literal["rectangular", "hann"]) -> float:
    """Return what coherence is left of 1 when a delay is not taken out before spectra are averaged.

    (1 - r)^2, or for Hann ((1 - r)(2/3 + cos(2 pi r)/3) + sin(2 pi r)/(2 pi))^2, r = delay / window. The effect:
    Seybert & Hamilton, J. Sound Vib. 60, 1978.
    """
    r = abs(delay_frames) / window_frames
    if r >= 1:
        return 0.0
    if window == "rectangular":
        return (1 - r) ** 2
    return ((1 - r) * (2 / 3 + math.cos(2 * math.pi * r) / 3) + math.sin(2 * math.pi * r) / (2 * math.pi)) ** 2


def dirt_db(periods: NDArray[np.float32], tones: Tones) -> tuple[float, float]:
    """Return (distortion, noise) of one catch in dB beside all that it carries, in the band of the tones.

    periods: shape (periods, period frames), at least two. Distortion repeats with the tones and falls on nobody's
    bins; noise differs from period to period. -inf where nothing of it is left.
    """
    count = len(periods)
    spectra = np.asarray(fft.rfft(periods.astype(np.float64), axis=1))
    band = slice(tones.first_bin, tones.first_bin + len(tones.owners))
    mean = spectra.mean(axis=0)[band]
    noise = np.abs(spectra[:, band] - mean).astype(np.float64) ** 2
    each = noise.sum(axis=0) / (count - 1)  # power of the noise in one period
    free = tones.owners == 0
    share = len(free) / max(int(free.sum()), 1)
    repeating = np.abs(mean[free]) ** 2
    distortion = (float(repeating.sum()) - float(each[free].sum()) / count) * share
    scatter = math.sqrt(2 / max(int(free.sum()), 1)) * 4 * float(each[free].sum()) / count * share
    carried = float((np.abs(mean[~free]) ** 2).sum())
    if carried <= 0:
        return math.nan, math.nan
    below = distortion if distortion > scatter else 0.0
    return _db(below / carried), _db(float(each.sum()) / carried)


def _db(power: float) -> float:
    return 10 * math.log10(power) if power > 0 else -math.inf


__all__ = [
    "coherence_from_snr",
    "coherence_left",
    "dirt_db",
    "magnitude_error",
    "thd_db",
    "thd_n_db",
]
