"""How long it takes to tell which of 32 entries are in which of 32 returns, how late, how loud, and which way up.

One case: 32 entries and 32 returns at 48 kHz, four usual periods, each return with its own entry, crosstalk from its
neighbours and noise at -70 dBFS. Timed are the mean spectra and all 1024 pairs.

Peer: transforms every return once over the same frames, all four periods at once, and then, pair by pair, takes the
cross-spectrum at the entry's bins back to time, its peak, polarity and gain, and fits the phase. It gives the same
answers, and is held to them. In the detail there is also the naive way: the cross-correlation of every return with
every entry in time, by transforms of both; timed on a part of the pairs, and scaled to all.
"""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from statistics import median
from time import perf_counter

import numpy as np
from benchmarks.registry import Outcome, Spec
from numpy.typing import NDArray
from scipy import fft

from sidetrip.dsp.arrival import fit_delay, parabolic_peak
from sidetrip.dsp.pairs import CLOSE, EARLIEST, SURE, Pairs, find_pairs, mean_spectrum, noise_power, sent
from sidetrip.dsp.testsignal import usual_levels_dbfs
from sidetrip.dsp.tones import Tones, make_tones
from sidetrip.units import gain_from_db

RATE_HZ = 48_000
ENTRIES = 32
PERIODS = 4
NOISE_DBFS = -70.0
RUNS = 5
NAIVE_PAIRS = 32
MOST_FRAMES, MOST_DB = 0.01, 0.05

Cut = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Answers:
    """What both find, nan where nothing is above the floor; shape (returns, entries)."""

    delay_frames: NDArray[np.float64]
    gain_db: NDArray[np.float64]
    inverted: NDArray[np.bool_]


def level() -> float:
    """Return the rms of each entry."""
    return gain_from_db(usual_levels_dbfs(ENTRIES)[1]) * math.sqrt(0.5)


def case() -> tuple[Tones, Cut]:
    """Return the tones, and the returns cut to whole periods, shape (returns, periods, frames)."""
    tones = make_tones(ENTRIES, RATE_HZ)
    period = tones.period_frames
    chance = np.random.default_rng(1)
    spectra = [fft.rfft(tones.period(entry)) for entry in range(1, ENTRIES + 1)]
    turn = -2j * np.pi / period * np.arange(period // 2 + 1)
    delays, signs = chance.uniform(100, 2500, ENTRIES), chance.choice([-1.0, 1.0], ENTRIES)
    returns = np.empty((ENTRIES, PERIODS, period), dtype=np.float32)
    noise = gain_from_db(NOISE_DBFS) * math.sqrt(0.5)
    for number in range(ENTRIES):
        heard = np.zeros(period // 2 + 1, dtype=np.complex128)
        for entry in range(ENTRIES):
            apart = abs(number - entry)
            typical_db = {0: 0.0, 1: -55.0, 2: -68.0, 3: -80.0}.get(apart, -100.0)  # neighbours hear each other
            gain = gain_from_db(typical_db + chance.uniform(-5, 5)) * signs[entry] * level()
            heard += gain * spectra[entry] * np.exp(turn * (delays[entry] + 0.1 * apart))
        returns[number] = fft.irfft(heard, period)
        returns[number] += noise * chance.standard_normal((PERIODS, period), dtype=np.float32)
    return tones, returns


def own(tones: Tones, returns: Cut) -> Pairs:
    """Return what sidetrip finds, on two threads as a proof does it."""
    with ThreadPoolExecutor(2) as pool:
        return find_pairs(mean_spectrum(returns), tones, level(), 0, pool.map)


def peer(tones: Tones, returns: Cut) -> Answers:
    """Return what is found pair by pair, over all frames."""
    period, frames = tones.period_frames, PERIODS * tones.period_frames
    spectra = np.asarray(fft.rfft(returns.reshape(ENTRIES, frames), axis=1, workers=2), dtype=np.complex64)
    noise = noise_power(spectra[:, ::PERIODS] / np.float32(PERIODS), tones)
    shape = (ENTRIES, ENTRIES)
    answers = Answers(np.full(shape, np.nan), np.full(shape, np.nan), np.zeros(shape, dtype=bool))
    for entry in range(1, ENTRIES + 1):
        bins, x = tones.bins(entry), sent(tones, entry, level(), 0)
        for number in range(ENTRIES):
            h = spectra[number, bins * PERIODS] / (x * PERIODS)
            weight = np.abs(x) ** 2 / noise[number, bins - tones.first_bin]
            total = float(weight.sum())
            cross = np.zeros(frames // 2 + 1, dtype=np.complex64)
            cross[bins * PERIODS] = weight * h / total * (frames / 2)
            trace = np.abs(fft.irfft(cross, frames, workers=2)[:period])  # it repeats with the period
            at = int(trace.argmax())
            before, top, after = (float(trace[(at + side) % period]) for side in (-1, 0, 1))
            off, least = parabolic_peak(before, top, after), SURE / math.sqrt(2 * total)
            if top - (before - after) * off / 4 <= CLOSE * least:
                continue
            late = at - period if at > period - period // EARLIEST else at
            fit = fit_delay(h, bins, weight, period, late + off)
            if fit.gain >= least:
                where = number, entry - 1
                answers.delay_frames[where], answers.inverted[where] = fit.delay_frames, fit.inverted
                answers.gain_db[where] = 20 * math.log10(fit.gain)
    return answers


def naive_s(tones: Tones, returns: Cut) -> float:
    """Return the seconds that cross-correlation of all pairs in time would take."""
    frames = PERIODS * tones.period_frames
    sounds = [np.tile(tones.period(entry), PERIODS).astype(np.float32) for entry in range(1, NAIVE_PAIRS + 1)]
    size = fft.next_fast_len(2 * frames, real=True)
    start = perf_counter()
    for sound in sounds:
        heard, dry = (fft.rfft(each, size, workers=2) for each in (returns[0].reshape(-1), sound))
        np.abs(fft.irfft(heard * dry.conj(), size, workers=2)).argmax()
    return (perf_counter() - start) / NAIVE_PAIRS * ENTRIES**2


def agree(found: Pairs, other: Answers) -> None:
    """Raise unless both say the same of every pair."""
    if not np.array_equal(found.found, np.isfinite(other.gain_db)):
        raise RuntimeError("The two do not find the same pairs")
    both = found.found
    frames = float(np.abs(found.delay_frames - other.delay_frames)[both].max())
    decibels = float(np.abs(found.gain_db - other.gain_db)[both].max())
    if frames > MOST_FRAMES or decibels > MOST_DB or (found.inverted != other.inverted)[both].any():
        raise RuntimeError(f"The two differ by {frames:.4f} frames and {decibels:.3f} dB")


@cache
def timed() -> tuple[float, float, dict[str, object]]:
    """Return the median seconds of sidetrip and of the peer, timed by turns, and what else was seen."""
    tones, returns = case()
    agree(found := own(tones, returns), peer(tones, returns))
    own_s, peer_s = [], []
    for _ in range(RUNS):
        start = perf_counter()
        own(tones, returns)
        middle = perf_counter()
        peer(tones, returns)
        own_s.append(middle - start)
        peer_s.append(perf_counter() - middle)
    detail: dict[str, object] = {
        "entries": ENTRIES,
        "returns": ENTRIES,
        "pairs_found": int(found.found.sum()),
        "floor_db": round(float(np.median(found.floor_db)), 1),
        "seconds": [round(value, 4) for value in own_s],
        "peer_seconds": [round(value, 3) for value in peer_s],
        "naive_seconds_scaled": round(naive_s(tones, returns), 1),
        "naive_pairs_timed": NAIVE_PAIRS,
    }
    return median(own_s), median(peer_s), detail


def identify() -> Outcome:
    """Return the seconds that 1024 pairs take."""
    own_s, _, detail = timed()
    return Outcome(own_s, detail)


def identify_ratio() -> Outcome:
    """Return how many times as long the peer takes."""
    own_s, peer_s, detail = timed()
    return Outcome(peer_s / own_s, detail)


_PEER = "every return transformed once over all frames, then pair by pair"

SPECS = (
    Spec(name="identify", goal="<= 0.2", unit="s", peer=_PEER, run=identify),
    Spec(name="identify-ratio", goal=">= 8", unit="x", peer=_PEER, run=identify_ratio),
)
