"""What is not a copy of what was sent: distortion, noise, coherence."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import fft

from sidetrip.dsp.distortion import (
    coherence_from_snr,
    coherence_left,
    dirt_db,
    magnitude_error,
    thd_db,
    thd_n_db,
)
from signals import Copy, Samples, caught, tones_of, usual_tones

TONES = tones_of(4)


def cubed(cubic: float, *, entries: int = 1, noise: float = 0.0, seed: int = 0) -> tuple[Samples, float]:
    """Return (four periods of a mix bent by x - c x^3, how far below it its distortion is in the band, in dB).

    The truth is read from what the bend adds: what of it follows the sound itself is gain, the rest is distortion.
    """
    copies = [Copy(entry) for entry in range(1, entries + 1)]
    clean = caught(TONES, [copies], rms=0.1, periods=1)[0, 0].astype(np.float64)
    bent = clean - cubic * clean**3
    added = bent - clean * float(bent @ clean) / float(clean @ clean)
    band = slice(TONES.first_bin, TONES.first_bin + len(TONES.owners))
    power = [float((np.abs(fft.rfft(each)[band]) ** 2).sum()) for each in (added, bent)]
    periods = np.tile(bent, (4, 1)) + noise * np.random.default_rng(seed).standard_normal((4, len(bent)))
    return periods.astype(np.float32), 10 * math.log10(power[0] / power[1])


@pytest.mark.parametrize("cubic", [0.05, 0.5, 2.0])
@pytest.mark.parametrize("entries", [1, 4])
def test_a_known_cubic_is_read_from_the_bins_of_nobody(cubic: float, entries: int) -> None:
    """The distortion of x - c x^3 comes out within 1 dB, for one entry in a catch or all of them."""
    periods, expected_db = cubed(cubic, entries=entries, noise=1e-6)
    assert dirt_db(periods, TONES)[0] == pytest.approx(expected_db, abs=1.0)


def test_a_soft_limit_is_read_in_noise() -> None:
    """A tanh that takes peaks of half its range is told within 1 dB in 10 of 10 draws, with noise 50 dB down."""
    clean = caught(TONES, [[Copy(2)]], rms=0.1, periods=1)[0, 0].astype(np.float64)
    bent = np.tanh(clean * 3) / 3
    added = bent - clean * float(bent @ clean) / float(clean @ clean)
    band = slice(TONES.first_bin, TONES.first_bin + len(TONES.owners))
    power = [float((np.abs(fft.rfft(each)[band]) ** 2).sum()) for each in (added, bent)]
    expected_db = 10 * math.log10(power[0] / power[1])
    for seed in range(10):
        noise = 3e-4 * np.random.default_rng(seed).standard_normal((4, len(bent)))
        distortion_db, _ = dirt_db((bent + noise).astype(np.float32), TONES)
        assert distortion_db == pytest.approx(expected_db, abs=1.0), f"seed {seed}"


@pytest.mark.parametrize("snr_db", [10.0, 40.0, 80.0])
def test_noise_is_told_and_no_distortion_is_made_up(snr_db: float) -> None:
    """White noise is read within 0.3 dB in the band of the tones, and clean paths show no distortion, in 30 draws."""
    in_band = 10 * math.log10(len(TONES.owners) / (TONES.period_frames / 2))
    for seed in range(30):
        periods = caught(TONES, [[Copy(1)]], rms=0.1, noise_rms=0.1 * 10 ** (-snr_db / 20), seed=seed)[0]
        distortion_db, noise_db = dirt_db(periods, TONES)
        beside = 10 * math.log10(1 + 10 ** (-snr_db / 10) / 8)  # a quarter of it stays in half of the carried bins
        assert noise_db == pytest.approx(in_band - snr_db - beside, abs=0.3), f"seed {seed}"
        assert distortion_db == -math.inf, f"seed {seed}: {distortion_db}"


def test_distortion_below_the_noise_is_not_claimed_loudly() -> None:
    """A bend far below the noise is either not told, or told within 4 dB, in 20 draws."""
    for seed in range(20):
        periods, expected_db = cubed(0.05, noise=3e-3, seed=seed)
        distortion_db, _ = dirt_db(periods, TONES)
        assert distortion_db == -math.inf or abs(distortion_db - expected_db) < 4, f"seed {seed}"


def test_silence_has_no_figures() -> None:
    """Where nothing is carried, nothing is told, and nothing is divided by."""
    assert all(math.isnan(each) for each in dirt_db(np.zeros((4, 16_384), dtype=np.float32), TONES))


def test_periods_that_are_equal_have_no_noise() -> None:
    """A catch without any noise says -inf."""
    one = caught(usual_tones(2), [[Copy(1)]], periods=1)[0]
    _, noise_db = dirt_db(np.repeat(one, 4, axis=0), usual_tones(2))
    assert noise_db == -math.inf


@given(st.lists(st.floats(-120, 0), min_size=1, max_size=10))
def test_harmonics_add_as_powers(levels: list[float]) -> None:
    """Total harmonic distortion is the root of the sum of squares, and above the highest by 10 log n at most."""
    total = thd_db(levels)
    assert total == pytest.approx(20 * math.log10(math.sqrt(sum(10 ** (level / 10) for level in levels))))
    assert max(levels) - 1e-9 <= total <= max(levels) + 10 * math.log10(len(levels)) + 1e-9


@given(st.floats(-120, 0), st.floats(-120, 0))
def test_distortion_and_noise_add_as_powers(distortion: float, noise: float) -> None:
    """THD+N is symmetric, and not below either part."""
    assert thd_n_db(distortion, noise) == pytest.approx(thd_n_db(noise, distortion))
    assert thd_n_db(distortion, noise) >= max(distortion, noise)


@given(st.floats(0, 1e6))
def test_coherence_lies_between_none_and_all(snr: float) -> None:
    """And rises with the signal."""
    assert 0 <= coherence_from_snr(snr) < 1 + 1e-12
    assert coherence_from_snr(snr * 2 + 1e-9) >= coherence_from_snr(snr)


@given(st.floats(0.01, 1.0), st.integers(1, 1000))
def test_more_averages_read_a_magnitude_better(coherence: float, averages: int) -> None:
    """Four times as many halve the error; at full coherence there is none."""
    error = magnitude_error(coherence, averages)
    assert magnitude_error(coherence, 4 * averages) == pytest.approx(error / 2)
    assert magnitude_error(1.0, averages) == 0.0


@pytest.mark.parametrize("window", ["rectangular", "hann"])
def test_a_delay_left_in_costs_coherence(window: str) -> None:
    """None is lost at 0, all at a whole window and beyond, early or late alike, and ever more in between."""
    name = "hann" if window == "hann" else "rectangular"
    left = [coherence_left(delay, 1024, "hann" if name == "hann" else "rectangular") for delay in range(0, 1100, 50)]
    assert left[0] == pytest.approx(1.0)
    assert left == sorted(left, reverse=True)
    assert left[-1] == 0.0
    assert coherence_left(-283, 1024, "hann") == coherence_left(283, 1024, "hann")
