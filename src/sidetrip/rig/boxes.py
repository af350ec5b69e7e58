"""What a box does to sound: dynamics, distortion and equalisers, each a frozen class, and `processed` to hear them.

Levels are dBFS as AES17 has them: a sine whose peak is at full scale reads 0 dBFS, by its peak and by its rms. Times
of dynamics are ms. Every processor is settled on silence when the sound begins. Gains move linearly in dB on release
and by one pole on attack, because both can then be computed for a whole take at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d, uniform_filter1d
from scipy.signal import lfilter, sosfilt

from sidetrip.rig.recorder import Sound, delayed
from sidetrip.units import gain_from_db, seconds_from_ms

_RELEASE_DB = 10.0
"""Reduction that is given back in one release time."""

_RMS_WINDOW_S = 0.02
"""One whole period of 50 Hz: the level of any higher sine is then steady."""

_SILENCE = 1e-15  # keeps the level of silence a number


@dataclass(frozen=True, slots=True)
class Compressor:
    """Turns down what is above a threshold, by its level (rms over 20 ms).

    threshold_db: dBFS. ratio: dB in per dB out above it, 1 or more, sharp knee. attack_ms: until 63 % of a reduction
    is reached, after the level has risen. release_ms: until 10 dB of reduction are given back. makeup_db: always added.
    """

    threshold_db: float
    ratio: float
    attack_ms: float = 5.0
    release_ms: float = 100.0
    makeup_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Limiter:
    """Lets no peak above a ceiling.

    ceiling_db: dBFS of the peak. release_ms: until 10 dB of reduction are given back. lookahead_frames: the limiter
    turns down gradually over this time and is late by it.
    """

    ceiling_db: float
    release_ms: float = 100.0
    lookahead_frames: int = 0


@dataclass(frozen=True, slots=True)
class Gate:
    """Turns down what stays below a threshold, by its peaks.

    threshold_db: dBFS of a peak that opens it. range_db: how far it turns down when closed, positive dB.
    attack_ms: until 63 % of the range is opened. hold_ms: stays open after the last peak above the threshold.
    release_ms: then closes by the whole range in this time.
    """

    threshold_db: float
    range_db: float = 80.0
    attack_ms: float = 0.5
    hold_ms: float = 50.0
    release_ms: float = 100.0


@dataclass(frozen=True, slots=True)
class Saturator:
    """Bends the wave by tanh; drive_db: gain before the bend, taken back after it, so quiet sound passes unchanged.

    Not oversampled: harmonics above half the rate fold over.
    """

    drive_db: float


@dataclass(frozen=True, slots=True)
class Clipper:
    """Cuts every peak off at ceiling_db, dBFS of the peak. Not oversampled: harmonics above half the rate fold over."""

    ceiling_db: float


@dataclass(frozen=True, slots=True)
class Filter:
    """An equaliser; sos: second-order sections (b0, b1, b2, a0, a1, a2), made for the rate they run at."""

    sos: tuple[tuple[float, float, float, float, float, float], ...]


@dataclass(frozen=True, slots=True)
class DelayOnly:
    """Only takes time; frames: how much later, fractions allowed."""

    frames: float


Processor = Compressor | Limiter | Gate | Saturator | Clipper | Filter | DelayOnly


def bell(rate_hz: float, centre_hz: float, gain_db: float, q: float) -> Filter:
    """Return one bell of a parametric equaliser: gain_db at centre_hz, bandwidth centre_hz / q (Cookbook formulas)."""
    root = gain_from_db(gain_db / 2)
    angle = 2 * np.pi * centre_hz / rate_hz
    width = float(np.sin(angle)) / (2 * q)
    middle = -2 * float(np.cos(angle))
    over, under = width * root, width / root
    a0 = 1 + under
    return Filter((((1 + over) / a0, middle / a0, (1 - over) / a0, 1.0, middle / a0, (1 - under) / a0),))


def processor_delay_frames(processor: Processor) -> float:
    """Frames by which a processor is late whatever it does to the sound; an equaliser's phase is not counted."""
    if isinstance(processor, DelayOnly):
        return processor.frames
    return float(processor.lookahead_frames) if isinstance(processor, Limiter) else 0.0


def processed(sound: Sound, processor: Processor, rate_hz: float) -> Sound:
    """Return one signal after a processor: as long, and later by `processor_delay_frames`."""
    out: Sound
    match processor:
        case Compressor():
            out = sound * _gain(_compressor_db(sound, processor, rate_hz))
        case Limiter():
            reduction_db = _limiter_db(sound, processor, rate_hz)
            out = delayed(sound, processor.lookahead_frames) * _gain(-reduction_db)
        case Gate():
            out = sound * _gain(-_gate_db(sound, processor, rate_hz))
        case Saturator():
            drive = gain_from_db(processor.drive_db)
            out = np.tanh(sound * drive) / drive
        case Clipper():
            ceiling = gain_from_db(processor.ceiling_db)
            out = np.clip(sound, -ceiling, ceiling)
        case Filter():
            out = sosfilt(np.array(processor.sos), sound)
        case DelayOnly():
            out = delayed(sound, processor.frames)
    return out


def _compressor_db(sound: Sound, compressor: Compressor, rate_hz: float) -> Sound:
    window = max(round(_RMS_WINDOW_S * rate_hz), 1)
    # 2x: the mean square of a sine is half its peak squared.
    square = 2 * _mean_of_last(sound * sound, window)
    over_db = 10 * np.log10(np.maximum(square, _SILENCE)) - compressor.threshold_db
    wanted_db = np.maximum(over_db, 0.0) * (1 - 1 / compressor.ratio)
    reduction_db = _released(wanted_db, compressor.release_ms, rate_hz)
    return compressor.makeup_db - _eased(reduction_db, compressor.attack_ms, rate_hz)


def _limiter_db(sound: Sound, limiter: Limiter, rate_hz: float) -> Sound:
    window = limiter.lookahead_frames + 1
    wanted_db = np.maximum(20 * np.log10(np.maximum(np.abs(sound), _SILENCE)) - limiter.ceiling_db, 0.0)
    # Held for the look-ahead and then averaged over it: every term of the mean is enough for the peak that leaves now.
    held_db = maximum_filter1d(wanted_db, window, mode="constant", origin=(window - 1) // 2)
    return _mean_of_last(_released(held_db, limiter.release_ms, rate_hz), window)


def _gate_db(sound: Sound, gate: Gate, rate_hz: float) -> Sound:
    now = np.arange(len(sound), dtype=np.float64)
    closed_frames = (seconds_from_ms(gate.hold_ms) + seconds_from_ms(gate.release_ms)) * rate_hz
    peak = np.where(np.abs(sound) >= gain_from_db(gate.threshold_db), now, -closed_frames - 1)
    since = now - np.maximum.accumulate(peak)
    closing = since - seconds_from_ms(gate.hold_ms) * rate_hz
    release_frames = max(seconds_from_ms(gate.release_ms) * rate_hz, 1.0)
    return _eased(np.clip(closing / release_frames, 0, 1) * gate.range_db, gate.attack_ms, rate_hz)


def _released(wanted_db: Sound, release_ms: float, rate_hz: float) -> Sound:
    """Follow a rising reduction at once and give a falling one back at a steady rate."""
    slope_db = _RELEASE_DB / max(seconds_from_ms(release_ms) * rate_hz, 1.0)
    given_back = slope_db * np.arange(len(wanted_db))
    out: Sound = np.maximum.accumulate(wanted_db + given_back) - given_back
    return out


def _eased(moves_db: Sound, attack_ms: float, rate_hz: float) -> Sound:
    """Smooth by one pole that starts settled on the first value."""
    pole = float(np.exp(-1 / max(seconds_from_ms(attack_ms) * rate_hz, 1e-3)))
    eased, _ = lfilter([1 - pole], [1, -pole], moves_db, zi=moves_db[:1] * pole)
    out: Sound = eased
    return out


def _mean_of_last(sound: Sound, window: int) -> Sound:
    if window == 1:
        return sound
    out: Sound = uniform_filter1d(sound, window, mode="constant", origin=(window - 1) // 2)
    return out


def _gain(level_db: Sound) -> Sound:
    gain: Sound = np.exp(level_db * (np.log(10) / 20))
    return gain
