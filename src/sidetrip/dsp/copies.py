"""Copies of one sound, each late, louder or softer, or upside down, added up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Copy:
    """One arrival. late_s: seconds, 0 or more. gain: linear, positive. inverted: of the other polarity.

    below_hz, above_hz: the crossover under which or over which its loudspeaker plays, None for all of it.
    """

    late_s: float
    gain: float
    inverted: bool = False
    below_hz: float | None = None
    above_hz: float | None = None


def add_copies(sound: NDArray[np.floating], rate_hz: int, copies: Sequence[Copy]) -> NDArray[np.float64]:
    """Return the sum of copies of a sound, shape (frames + the latest delay,), delays right to a part of a frame.

    sound: shape (frames,). The delay is a turn of phase over the whole sound, followed by as much silence as the latest
    copy needs: no filter colours it. Raises ValueError for a copy that comes before its sound.
    """
    from scipy import fft

    if any(copy.late_s < 0 for copy in copies):
        raise ValueError("A copy cannot come before its sound; count from the earliest.")
    latest = max((copy.late_s for copy in copies), default=0.0)
    frames = len(sound) + int(np.ceil(latest * rate_hz))
    size = fft.next_fast_len(frames + 64, real=True)
    spectrum = fft.rfft(np.asarray(sound, dtype=np.float64), size)
    total = response(np.arange(len(spectrum), dtype=np.float64) * (rate_hz / size), copies)
    return np.asarray(fft.irfft(spectrum * total, size)[:frames], dtype=np.float64)


def response(hertz: NDArray[np.float64], copies: Sequence[Copy]) -> NDArray[np.complex128]:
    """Return what the sum of copies does to a sound at these frequencies, shape (frequencies,)."""
    total = np.zeros(len(hertz), dtype=np.complex128)
    for copy in copies:
        gain = -copy.gain if copy.inverted else copy.gain
        way = gain * np.exp(-2j * np.pi * hertz * copy.late_s)
        if copy.below_hz is not None:
            way *= crossover_half(hertz, copy.below_hz)
        if copy.above_hz is not None:
            way *= crossover_half(hertz, copy.above_hz) * (hertz / copy.above_hz) ** 4
        total += way
    return total


def crossover_half(hertz: NDArray[np.float64], crossover_hz: float) -> NDArray[np.complex128]:
    """Return the lower half of a Linkwitz-Riley crossover of the fourth order; times (f/fc)^4 it is the upper half.

    Both halves together are flat. Source: S. Linkwitz, J. Audio Eng. Soc. 24(1), 2-8, 1976.
    """
    s = 1j * hertz / crossover_hz
    return np.asarray(1 / (1 + np.sqrt(2.0) * s + s * s) ** 2, dtype=np.complex128)


__all__ = ["Copy", "add_copies", "crossover_half", "response"]
