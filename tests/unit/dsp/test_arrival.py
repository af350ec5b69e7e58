"""Delay from phase: exact without noise, and as near with noise as theory allows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.dsp.arrival import bound_frames, fit_delay, fit_slope, flat_bound_s, parabolic_peak

PERIOD = 4096
BINS = np.sort(np.random.default_rng(3).choice(np.arange(2, 1700), 400, replace=False))
ANGLE = 2 * np.pi / PERIOD * BINS


@given(st.floats(-500, 3500), st.floats(-0.5, 0.5), st.floats(-60, 20), st.booleans(), st.integers(0, 99))
def test_a_clean_copy_is_read_exactly(delay: float, off: float, gain_db: float, inverted: bool, seed: int) -> None:
    """From anywhere within half a frame, whatever the weights, delay, gain and polarity come out to rounding."""
    gain = 10 ** (gain_db / 20)
    h = gain * np.exp(-1j * ANGLE * delay) * (-1 if inverted else 1)
    weight = np.random.default_rng(seed).uniform(0.1, 10.0, len(BINS))
    fit = fit_delay(h, BINS, weight, PERIOD, delay + off)
    assert fit.delay_frames == pytest.approx(delay, abs=1e-6)
    assert fit.gain == pytest.approx(gain, rel=1e-6)
    assert fit.inverted is inverted


def test_the_error_that_a_fit_states_is_the_scatter_that_it_has() -> None:
    """Over 400 draws of noise the delays scatter by the stated standard error, to 10 %, and are not biased."""
    chance = np.random.default_rng(11)
    noise = 0.5 / np.sqrt(BINS / BINS.mean())
    weight = 1 / noise**2
    clean = 0.4 * np.exp(-1j * ANGLE * 100.3)
    errors, stated = [], []
    for _ in range(400):
        drawn = (chance.standard_normal(len(BINS)) + 1j * chance.standard_normal(len(BINS))) * noise / math.sqrt(2)
        fit = fit_delay(clean + drawn, BINS, weight, PERIOD, 100.0)
        errors.append(fit.delay_frames - 100.3)
        stated.append(fit.error_frames)
    scatter = float(np.std(errors))
    assert scatter == pytest.approx(float(np.mean(stated)), rel=0.1)
    assert abs(float(np.mean(errors))) < 3 * scatter / math.sqrt(400)


def test_a_fit_that_starts_elsewhere_ends_somewhere() -> None:
    """Started on noise, or many frames away, it still ends, with numbers."""
    chance = np.random.default_rng(5)
    for start in (0.0, 900.0, -3.0):
        noise = chance.standard_normal(len(BINS)) + 1j * chance.standard_normal(len(BINS))
        fit = fit_delay(noise, BINS, np.ones(len(BINS)), PERIOD, start)
        assert math.isfinite(fit.delay_frames)
        assert abs(fit.delay_frames - start) <= 10
        assert fit.gain > 0


@given(st.floats(0.001, 10.0), st.integers(0, 99))
def test_the_bound_is_the_fisher_information_turned_over(gain: float, seed: int) -> None:
    """For tones in white noise in time, summed sample by sample, the bound is the same."""
    chance = np.random.default_rng(seed)
    period, sigma = 256, 0.3
    bins = np.sort(chance.choice(np.arange(1, 120), 20, replace=False))
    amplitude, phase = chance.uniform(0.1, 1.0, 20), chance.uniform(0, 2 * np.pi, 20)
    angle = np.asarray(2 * np.pi / period * bins, dtype=np.float64)
    now = np.arange(period)[:, None]
    slope = (gain * amplitude * angle * np.sin(angle * now + phase)).sum(axis=1)  # of the sound over its delay
    expected = sigma / math.sqrt(float((slope**2).sum()))
    noise_in_bin = period * sigma**2  # E|N|^2 of a transform of white noise
    weight = (amplitude * period / 2) ** 2 / noise_in_bin
    assert bound_frames(angle, weight, gain) == pytest.approx(expected, rel=1e-9)


def test_the_bound_of_nothing_is_infinite() -> None:
    """No gain, no information."""
    assert bound_frames(ANGLE, np.ones(len(ANGLE)), 0.0) == math.inf


def test_the_flat_bound_is_the_bound_of_many_equal_tones() -> None:
    """A tone in every bin of a band gives what the formula for a flat band gives, to 0.1 %."""
    rate, snr = 48_000, 10.0
    bins = np.arange(300, 3401)  # of one second; the power ratio in each is that of the whole band
    angle = np.asarray(2 * np.pi / rate * bins, dtype=np.float64)
    least_s = bound_frames(angle, np.full(len(bins), snr), 1.0) / rate
    assert least_s == pytest.approx(flat_bound_s(1.0, snr, 300, 3400), rel=1e-3)


@given(st.floats(-3, 3), st.floats(-20, 20), st.integers(0, 99))
def test_a_line_through_phases_is_read_exactly(intercept: float, delay: float, seed: int) -> None:
    """Slope and where it meets 0 Hz, whatever the weights."""
    weight = np.random.default_rng(seed).uniform(0.1, 10.0, len(ANGLE))
    slope = fit_slope(intercept - ANGLE * delay, ANGLE, weight)
    assert slope.delay_frames == pytest.approx(delay, abs=1e-9)
    assert slope.intercept == pytest.approx(intercept, abs=1e-9)


def test_the_error_of_a_line_is_the_scatter_that_it_has() -> None:
    """Over 400 draws of phases of known variance, the slope scatters by its stated error, to 10 %."""
    chance = np.random.default_rng(2)
    sigma = chance.uniform(0.01, 0.3, len(ANGLE))
    lines = [fit_slope(sigma * chance.standard_normal(len(ANGLE)), ANGLE, 1 / sigma**2) for _ in range(400)]
    scatter = float(np.std([line.delay_frames for line in lines]))
    assert scatter == pytest.approx(lines[0].error_frames, rel=0.1)


@given(st.floats(-0.5, 0.5), st.floats(0.1, 100))
def test_a_parabola_gives_back_its_own_peak(at: float, bend: float) -> None:
    """Three samples of a parabola tell exactly where its top is."""
    before, top, after = (-bend * (x - at) ** 2 for x in (-1, 0, 1))
    assert parabolic_peak(before, top, after) == pytest.approx(at, abs=1e-9)


def test_three_equal_samples_have_no_peak() -> None:
    """A flat top is taken to be where its middle is."""
    assert parabolic_peak(1.0, 1.0, 1.0) == 0.0
