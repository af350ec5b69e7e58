"""Two clocks: how fast a recording ran, and the recording put onto the signal's clock."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sidetrip.dsp.clock import (
    at_signal_rate,
    find_speed,
    known_ratios,
    slip_frames_per_minute,
    slip_s,
)
from signals import RATE, Copy, Samples, caught, tones_of

PERIOD = 8192


def _repeating(ratio: float, noise: float = 0.0, count: int = 8) -> Samples:
    """Return a sound that repeats every PERIOD * ratio frames, made of sines: exact at any ratio."""
    chance = np.random.default_rng(8)
    now = np.arange(int(count * PERIOD * ratio)) / (PERIOD * ratio)
    bins = np.sort(chance.choice(np.arange(20, 3000), 60, replace=False))
    sound = sum(np.cos(2 * np.pi * (bin_ * now + chance.random())) for bin_ in bins)
    return np.asarray(0.02 * sound + noise * chance.standard_normal(len(now)), dtype=np.float32)


@pytest.mark.parametrize("ppm", [-1200.0, -50.0, -5.0, 0.0, 5.0, 50.0, 1200.0])
@pytest.mark.parametrize("rates", [(48_000, 48_000), (48_000, 44_100), (48_000, 96_000), (44_100, 48_000)])
def test_speed_is_found_at_every_rate_with_drift(rates: tuple[int, int], ppm: float) -> None:
    """Period and rate of the signal, another rate of the recorder and drift up to 1200 ppm: the ratio to 20 ppm."""
    ratio = rates[1] / rates[0] * (1 + ppm * 1e-6)
    speed = find_speed(_repeating(ratio, 0.02), PERIOD, rates[1])
    assert speed is not None
    assert speed.ratio == pytest.approx(ratio, rel=20e-6)


@pytest.mark.parametrize("half", [0.5, 1.5, 10.5])
def test_a_period_that_ends_between_two_frames_is_not_taken_for_twice_its_length(half: float) -> None:
    """Where drift makes the period end half way between frames, twice the period repeats better, but is not it."""
    ratio = 1 + half / PERIOD
    speed = find_speed(_repeating(ratio, count=20), PERIOD, RATE)
    assert speed is not None
    assert speed.ratio == pytest.approx(ratio, rel=20e-6)


def test_noise_does_not_repeat() -> None:
    """In 20 stretches of noise no period is found."""
    for seed in range(20):
        noise = np.random.default_rng(seed).standard_normal(6 * PERIOD).astype(np.float32)
        assert find_speed(noise, PERIOD, RATE) is None, f"seed {seed}"


def test_hum_is_no_period() -> None:
    """A strong hum with its harmonics does not look like a test signal, nor hide one."""
    now = np.arange(8 * PERIOD) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * k * now + k) / k for k in range(1, 60)) * 0.1
    noise = 1e-3 * np.random.default_rng(1).standard_normal(len(now))
    assert find_speed((hum + noise).astype(np.float32), PERIOD, RATE) is None
    speed = find_speed((hum + _repeating(1.0)).astype(np.float32), PERIOD, RATE)
    assert speed is not None
    assert speed.ratio == pytest.approx(1.0, abs=20e-6)


@pytest.mark.parametrize("frames", [0, 1, 100, PERIOD, PERIOD + 5])
def test_a_recording_shorter_than_its_period_repeats_nothing(frames: int) -> None:
    """Too little to tell is no speed, and no error."""
    assert find_speed(_repeating(1.0)[:frames], PERIOD, RATE) is None


def test_silence_repeats_nothing() -> None:
    """Digital silence has no period."""
    assert find_speed(np.zeros(6 * PERIOD, dtype=np.float32), PERIOD, RATE) is None


def test_known_ratios_hold_the_usual_pairs_of_rates() -> None:
    """44.1 in 48 and back, doubles and halves, and pulled by 1000/1001; each once, in order."""
    ratios = known_ratios()
    for wanted in (1.0, 44.1 / 48, 48 / 44.1, 2.0, 0.5, 1000 / 1001, 48 / 44.1 * 1001 / 1000):
        assert min(abs(ratio - wanted) for ratio in ratios) < 1e-9
    assert list(ratios) == sorted(set(ratios))


@pytest.mark.parametrize("ratio", [1.00005, 0.99995, 44_100 / 48_000, 48_000 / 44_100, 2.00002])
def test_a_recording_is_put_back_onto_the_signals_clock(ratio: float) -> None:
    """A chord recorded at another speed comes back as it was, within -75 dB, away from the ends."""
    hz = np.array([50.0, 997.0, 7001.0, 15_013.0, 18_500.0])
    phase = np.arange(5.0)

    def chord(seconds: np.ndarray[tuple[int], np.dtype[np.float64]]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.asarray(np.cos(2 * np.pi * np.outer(seconds, hz) + phase).sum(axis=1) / 10)

    recorded = chord(np.arange(int(RATE * ratio)) / (RATE * ratio)).astype(np.float32)
    back = at_signal_rate(recorded, ratio)
    assert abs(len(back) - RATE) <= 1
    inside = slice(2000, RATE - 2000)
    error = back[inside] - chord(np.arange(RATE)[inside] / RATE)
    assert 20 * math.log10(float(np.sqrt(np.mean(error**2))) / 0.158) < -75


def test_one_clock_changes_nothing() -> None:
    """At a ratio of 1 the samples are the same ones."""
    samples = caught(tones_of(1, 4096), [[Copy(1)]])[0]
    assert at_signal_rate(samples, 1.0) is samples


def test_several_channels_are_put_back_together() -> None:
    """Two channels at once come out as each alone."""
    one, two = _repeating(1.00005), _repeating(1.00005)[::-1].copy()
    both = at_signal_rate(np.stack([one, two], axis=1), 1.00005)
    assert np.allclose(both[:, 0], at_signal_rate(one, 1.00005), atol=1e-6)
    assert np.allclose(both[:, 1], at_signal_rate(two, 1.00005), atol=1e-6)


def test_slip_of_two_clocks() -> None:
    """50 ppm apart at 48 kHz one buffer of 64 frames is used up in 26.7 s; equal clocks never slip."""
    assert slip_s(50, 64, RATE) == pytest.approx(64 / 2.4)
    assert slip_s(-50, 64, RATE) == slip_s(50, 64, RATE)
    assert slip_s(0, 64, RATE) == math.inf
    assert slip_frames_per_minute(50, RATE) == pytest.approx(144)
    assert slip_frames_per_minute(-50, RATE) == pytest.approx(-144)
