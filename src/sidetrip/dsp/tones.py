"""Interleaved multi-sines: many sends sound at once, and each owns frequencies that no other has.

The grid is the set of frequencies that fit a whole number of times into one period. Each group of entries + 1
neighbouring bins is dealt out at random, one bin to each entry and one to nobody, so that every entry covers the
whole band and no fixed spacing makes a delay ambiguous. What turns up on nobody's bins is noise or distortion.

Phases are made by clipping and keeping only the phases (after Van der Ouderaa, Schoukens & Renneboog, "Peak factor
minimization using a time-frequency domain swapping algorithm", IEEE Trans. Instrum. Meas. 37, 1988), then rounded
to 256 steps: the rounded ones are the truth, and travel with the signal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import fft

MOST_ENTRIES = 64
_STEPS = 256
_ROUNDS = 300
_CLIP_DB = (5.0, 8.5)
"""Crest at which the first and the last round clip: found by trial to end lowest for 1 to 32 entries."""


@dataclass(frozen=True, slots=True, eq=False)
class Tones:
    """One period of every entry, as a table.

    period_frames: even. first_bin: the grid bin that the tables start at. owners: shape (bins,), 1 to `entries`, 0
    where nobody's. phases: shape (bins,), of a cosine, in 256ths of a turn.
    """

    rate_hz: int
    period_frames: int
    entries: int
    first_bin: int
    owners: NDArray[np.uint8]
    phases: NDArray[np.uint8]
    _bins: dict[int, NDArray[np.int64]] = field(default_factory=dict, repr=False)

    def bins(self, entry: int) -> NDArray[np.int64]:
        """Return the grid bins that an entry owns, counting entries from 1; 0 gives the bins of nobody."""
        if entry not in self._bins:
            self._bins[entry] = self.first_bin + np.flatnonzero(self.owners == entry)
        return self._bins[entry]

    def turns(self, entry: int) -> NDArray[np.complex128]:
        """Return the unit phasors of an entry's tones, shape (own bins,)."""
        steps = self.phases[self.bins(entry) - self.first_bin]
        return np.asarray(np.exp(2j * np.pi / _STEPS * steps), dtype=np.complex128)

    def amplitude(self, entry: int) -> float:
        """Return the peak amplitude of each tone when the whole entry has an rms of 1."""
        return math.sqrt(2 / max(len(self.bins(entry)), 1))

    def period(self, entry: int) -> NDArray[np.float64]:
        """Return one period of an entry at an rms of 1, shape (period_frames,)."""
        return _sounding(self.turns(entry), self.bins(entry), self.period_frames)

    def frequencies(self, entry: int) -> NDArray[np.float64]:
        """Return the frequencies of an entry's tones in Hz."""
        return np.asarray(self.bins(entry) * (self.rate_hz / self.period_frames), dtype=np.float64)


def usual_period(rate_hz: int) -> int:
    """Return the period in frames that a rate gets: 1.0 to 1.5 s, a power of two."""
    return 1 << round(math.log2(rate_hz * 1.3))


def make_tones(
    entries: int,
    rate_hz: int,
    *,
    period_frames: int | None = None,
    band_hz: tuple[float, float] = (20.0, 20_000.0),
    seed: int = 1,
    progress: Callable[[int], None] | None = None,
) -> Tones:
    """Deal out the bins and find phases with a low crest factor, about 0.4 s an entry.

    band_hz: lowest and highest tone; the highest is held below 0.45 of the rate. progress: called with the number
    of entries done. Raises ValueError for a number of entries outside 1 to 64.
    """
    if not 1 <= entries <= MOST_ENTRIES:
        raise ValueError(f"A test signal carries 1 to {MOST_ENTRIES} entries, not {entries}.")
    period = period_frames or usual_period(rate_hz)
    first = math.ceil(band_hz[0] * period / rate_hz)
    last = math.floor(min(band_hz[1], 0.45 * rate_hz) * period / rate_hz)
    chance = np.random.default_rng(seed)
    groups = -(-(last - first + 1) // (entries + 1))
    dealt = chance.permuted(np.tile(np.arange(entries + 1, dtype=np.uint8), (groups, 1)), axis=1)
    owners = dealt.ravel()[: last - first + 1].copy()
    phases = np.zeros(len(owners), dtype=np.uint8)
    for entry in range(1, entries + 1):
        own = np.flatnonzero(owners == entry)
        phases[own] = _low_crest(first + own, period, chance)
        if progress is not None:
            progress(entry)
    return Tones(rate_hz, period, entries, first, owners, phases)


def crest_db(samples: NDArray[np.float64]) -> float:
    """Return the crest factor: the peak over the rms, in dB."""
    return 20 * math.log10(float(np.abs(samples).max()) / math.sqrt(float(np.mean(samples**2))))


def crests_db(tones: Tones) -> Iterator[float]:
    """Yield the crest factor of each entry, in order."""
    for entry in range(1, tones.entries + 1):
        yield crest_db(tones.period(entry))


def _low_crest(bins: NDArray[np.int64], period: int, chance: np.random.Generator) -> NDArray[np.uint8]:
    turns = np.exp(2j * np.pi * chance.random(len(bins)))
    best, lowest = turns, math.inf
    for round_ in range(_ROUNDS):
        x = _sounding(turns, bins, period)
        crest = crest_db(x)
        if crest < lowest:
            best, lowest = turns, crest
        ceiling_db = min(crest - 0.3, _CLIP_DB[0] + (_CLIP_DB[1] - _CLIP_DB[0]) * round_ / _ROUNDS)
        ceiling = 10 ** (ceiling_db / 20)
        back = fft.rfft(np.clip(x, -ceiling, ceiling))[bins]
        turns = back / np.maximum(np.abs(back), 1e-30)
    steps = np.round(np.angle(best) / (2 * np.pi) * _STEPS).astype(np.int64) % _STEPS
    return np.asarray(steps, dtype=np.uint8)


def _sounding(turns: NDArray[np.complex128], bins: NDArray[np.int64], period: int) -> NDArray[np.float64]:
    spectrum = np.zeros(period // 2 + 1, dtype=np.complex128)
    spectrum[bins] = turns * (period / 2 * math.sqrt(2 / max(len(bins), 1)))
    return np.asarray(fft.irfft(spectrum, period), dtype=np.float64)


__all__ = ["MOST_ENTRIES", "Tones", "crest_db", "crests_db", "make_tones", "usual_period"]
