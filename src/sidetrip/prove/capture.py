"""What a capture says, as data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.pairs import Pairs
from sidetrip.dsp.steady import Glitch, Stay
from sidetrip.dsp.testsignal import TestSignal
from sidetrip.units import gain_from_db

Samples = NDArray[np.float32]
SINE_RMS = math.sqrt(0.5)


class Reader(Protocol):
    """A recording to read from. Samples have full scale at 1.0."""

    @property
    def rate_hz(self) -> int:
        """The sample rate."""

    @property
    def frames(self) -> int:
        """The length."""

    def read(self, start: int, stop: int, tracks: Sequence[int] | None = None) -> Samples:
        """Return frames start to stop of some tracks, shape (frames, tracks)."""


@dataclass(frozen=True, slots=True)
class Clocks:
    """The recorder's clock against the player's.

    ratio: recorded frames for each frame of the signal, by measurement. ppm: beyond what the file's own rate
    explains, 0 on one clock. kind: one clock, two that drift, or another rate than the file says.
    """

    kind: Literal["one", "two", "rate"]
    ratio: float
    ppm: float
    error_ppm: float


@dataclass(frozen=True, slots=True)
class Track:
    """What one track of the recording is like. Levels in dBFS; nan where nothing could be read.

    entry: the strongest in it, counting from 1, None when none is above the floor. idle_dbfs: rms in the silence
    behind the test. distortion_db, noise_db: at the high level, beside all that the track carries.
    """

    entry: int | None
    peak_dbfs: float
    clipped: int
    idle_dbfs: float
    distortion_db: float
    noise_db: float
    stay: Stay
    glitches: tuple[Glitch, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """All that one recording of a take says, track by track in the order asked for.

    start_s: where all entries begin together, in the recording. low, high: pairs at the two levels, None where that
    level is not in the recording. spectra: of the mean period at (low, high), shape (tracks, bins). rms: of an entry
    as sent. offsets: how far the measured periods of (low, high) lie behind the start of the tones, in frames; no
    whole number where the recording had to be put onto the signal's clock.
    """

    signal: TestSignal
    clocks: Clocks
    start_s: float
    tracks: tuple[Track, ...]
    low: Pairs | None
    high: Pairs | None
    spectra: tuple[NDArray[np.complex64] | None, NDArray[np.complex64] | None]
    offsets: tuple[float, float]

    def rms(self, level: int) -> float:
        """Return the rms of each entry as sent; level 0 is the low one."""
        return gain_from_db(self.signal.levels_dbfs[level]) * SINE_RMS


@dataclass(frozen=True, slots=True)
class NotHeard:
    """The test is not in the recording, or not enough of it. why: for people, values and what to do in it."""

    why: str
    values: str
    remedy: str


__all__ = ["SINE_RMS", "Capture", "Clocks", "NotHeard", "Reader", "Samples", "Track"]
