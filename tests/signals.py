"""Test signals, and what comes back of them, for tests: made once, as small as the question allows.

Two ways to a return. `caught` turns the phases of whole periods in the spectrum, so that a delay is exact and costs
nothing; it is cyclic, without start or end. `recording` plays the whole signal through a rig.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.pairs import mean_spectrum, noise_power, sent
from sidetrip.dsp.testsignal import TestSignal, usual_levels_dbfs
from sidetrip.dsp.tones import Tones, make_tones, usual_period
from sidetrip.prove.measure import Capture, NotHeard, measure
from sidetrip.rig.network import Rig
from sidetrip.rig.run import run

RATE = 48_000
SHORT = 16_384
"""Frames of a period that is quick to make and to analyse: a third of a second."""

LONG = usual_period(RATE)
"""Frames of the period that a take has."""

Samples = NDArray[np.float32]


@cache
def tones_of(entries: int, period_frames: int = SHORT, seed: int = 1) -> Tones:
    """Return tones at 48 kHz, the same every time they are asked for."""
    return make_tones(entries, RATE, period_frames=period_frames, seed=seed)


def usual_tones(entries: int) -> Tones:
    """Return tones of the usual period, 65 536 frames."""
    return tones_of(entries, LONG)


@cache
def signal_of(entries: int, period_frames: int = SHORT, periods: int = 4, seed: int = 1) -> TestSignal:
    """Return a test signal at 48 kHz with the usual levels."""
    return TestSignal(tones_of(entries, period_frames, seed), usual_levels_dbfs(entries), periods, f"take {seed}")


@cache
def played(signal: TestSignal) -> Samples:
    """Return all channels of a signal, shape (frames, entries); not to be written to."""
    samples = np.concatenate(list(signal.blocks()))
    samples.flags.writeable = False
    return samples


@dataclass(frozen=True, slots=True)
class Copy:
    """One copy of an entry (counted from 1) in a catch: frames late, dB, polarity."""

    entry: int
    delay_frames: float = 0.0
    gain_db: float = 0.0
    inverted: bool = False


def caught(
    tones: Tones,
    catches: Sequence[Sequence[Copy]],
    *,
    rms: float = 1.0,
    noise_rms: float = 0.0,
    periods: int = 4,
    seed: int = 0,
) -> Samples:
    """Return whole periods of what catches hear, shape (catches, periods, frames): copies, and white noise added."""
    period = tones.period_frames
    turn = -2j * np.pi / period * np.arange(period // 2 + 1)
    chance = np.random.default_rng(seed)
    out = np.empty((len(catches), periods, period), dtype=np.float32)
    for number, copies in enumerate(catches):
        spectrum = np.zeros(period // 2 + 1, dtype=np.complex128)
        for copy in copies:
            gain = rms * 10 ** (copy.gain_db / 20) * (-1 if copy.inverted else 1)
            spectrum += gain * fft.rfft(tones.period(copy.entry)) * np.exp(turn * copy.delay_frames)
        out[number] = fft.irfft(spectrum, period)
        if noise_rms:
            out[number] += noise_rms * chance.standard_normal((periods, period), dtype=np.float32)
    return out


@dataclass(frozen=True, slots=True)
class Heard:
    """One entry in one catch, as the analysis of a response wants it; all arrays of shape (own bins,)."""

    h: NDArray[np.complex128]
    bins: NDArray[np.int64]
    weight: NDArray[np.float64]


def heard(periods: Samples, tones: Tones, entry: int, rms: float = 1.0) -> Heard:
    """Return what one catch, shape (periods, frames), shows of one entry."""
    spectrum = mean_spectrum(periods[None])
    bins, x = tones.bins(entry), sent(tones, entry, rms, 0)
    noise = noise_power(spectrum, tones)[0, bins - tones.first_bin]
    return Heard(spectrum[0, bins] / x, bins, np.abs(x) ** 2 / noise)


class Held:
    """A recording in memory, to be read as one from a file is."""

    def __init__(self, samples: Samples, rate_hz: int = RATE) -> None:
        self.samples, self.rate_hz = samples, rate_hz
        self.frames, self.channels = samples.shape

    def read(self, start: int, stop: int, tracks: Sequence[int] | None = None) -> Samples:
        """Return frames start to stop of some tracks, shape (frames, tracks)."""
        block = self.samples[start:stop]
        return block if tracks is None else block[:, list(tracks)]


def recording(rig: Rig, signal: TestSignal, seed: int = 1) -> Held:
    """Return what a rig's recorder holds after a signal was played through it."""
    recorded = run(rig, played(signal), seed)
    return Held(recorded.samples, recorded.rate_hz)


def with_noise(clean: Held, noise_dbfs: float, seed: int) -> Held:
    """Return a recording with white noise added to every track; dBFS of AES17, as the rig has it."""
    rms = 10 ** (noise_dbfs / 20) * math.sqrt(0.5)
    noise = np.random.default_rng(seed).standard_normal(clean.samples.shape, dtype=np.float32)
    return Held(clean.samples + np.float32(rms) * noise, clean.rate_hz)


def measured(held: Held, signal: TestSignal, reference: int | None = None) -> Capture:
    """Measure all tracks, and fail when the signal is not found."""
    capture = measure(held, signal, range(held.channels), reference)
    assert not isinstance(capture, NotHeard), capture
    return capture
