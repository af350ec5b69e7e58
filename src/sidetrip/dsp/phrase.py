"""A short phrase of drum, bass and a voice-like tone, made up by the program: something to hear a comb on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BEAT_S = 0.5
BEATS = 16
PEAK = 0.5


def phrase(rate_hz: int, seed: int = 1) -> NDArray[np.float64]:
    """Return the phrase, shape (frames,), 8 s, its peak at half of full scale; the same each time."""
    chance = np.random.default_rng(seed)
    frames = round(BEAT_S * BEATS * rate_hz)
    out = np.zeros(frames)
    for beat in range(BEATS):
        at = beat * BEAT_S
        _lay(out, rate_hz, at, _kick(rate_hz) if beat % 4 in (0, 3) else 0.6 * _snare(rate_hz, chance))
        for half in (0.0, 0.5):
            _lay(out, rate_hz, at + half * BEAT_S, 0.15 * _hat(rate_hz, chance))
        _lay(out, rate_hz, at, 0.5 * _pluck(rate_hz, (55.0, 55.0, 65.41, 49.0)[beat // 4], chance))
        if beat % 2:
            _lay(out, rate_hz, at - 0.1, 0.35 * _vowel(rate_hz, (196.0, 220.0, 261.63, 220.0)[beat // 4]))
    return np.asarray(out * (PEAK / np.abs(out).max()))


def _lay(out: NDArray[np.float64], rate_hz: int, at_s: float, sound: NDArray[np.float64]) -> None:
    start = round(at_s * rate_hz)
    length = min(len(sound), len(out) - start)
    out[start : start + length] += sound[:length]


def _time(rate_hz: int, seconds: float) -> NDArray[np.float64]:
    return np.arange(round(seconds * rate_hz)) / rate_hz


def _kick(rate_hz: int) -> NDArray[np.float64]:
    t = _time(rate_hz, 0.3)
    return np.asarray(np.sin(2 * np.pi * (50 * t + 4 * (1 - np.exp(-t / 0.02)))) * np.exp(-t / 0.09))


def _snare(rate_hz: int, chance: np.random.Generator) -> NDArray[np.float64]:
    t = _time(rate_hz, 0.25)
    noise = chance.standard_normal(len(t)) * np.exp(-t / 0.06)
    return np.asarray(0.4 * noise + 0.5 * np.sin(2 * np.pi * 185 * t) * np.exp(-t / 0.05))


def _hat(rate_hz: int, chance: np.random.Generator) -> NDArray[np.float64]:
    t = _time(rate_hz, 0.06)
    return np.asarray(np.diff(chance.standard_normal(len(t)), prepend=0.0) * np.exp(-t / 0.015))


def _pluck(rate_hz: int, pitch_hz: float, chance: np.random.Generator) -> NDArray[np.float64]:
    """A plucked string: noise round a delay line with a mean of two in it (Karplus and Strong, 1983)."""
    from scipy.signal import lfilter

    period = max(round(rate_hz / pitch_hz), 2)
    burst = np.zeros(round(0.45 * rate_hz))
    burst[:period] = chance.uniform(-1, 1, period)
    feedback = np.zeros(period + 2)
    feedback[0], feedback[period], feedback[period + 1] = 1.0, -0.498, -0.498
    return np.asarray(lfilter([1.0], feedback, burst))


def _vowel(rate_hz: int, pitch_hz: float) -> NDArray[np.float64]:
    """Harmonics under three resonances, as in a sung 'ah'."""
    t = _time(rate_hz, 0.4)
    out = np.zeros(len(t))
    wobble = 0.02 * np.sin(2 * np.pi * 5.5 * t)
    for number in range(1, int(min(8000.0, 0.45 * rate_hz) / pitch_hz)):
        hertz = number * pitch_hz
        size = sum(gain / (1 + ((hertz - at) / wide) ** 2) for at, wide, gain in _RESONANCES)
        out += size / number**0.5 * np.sin(2 * np.pi * hertz * t + number * wobble)
    return np.asarray(out * np.sin(np.pi * t / t[-1]) ** 0.5)


_RESONANCES = ((730.0, 90.0, 1.0), (1090.0, 110.0, 0.6), (2440.0, 160.0, 0.25))


__all__ = ["phrase"]
