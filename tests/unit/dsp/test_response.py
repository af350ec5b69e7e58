"""What a path does beside being late: declared filters taken out, others told, second copies found."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import sosfilt

from sidetrip.dsp.filters import biquad, response
from sidetrip.dsp.response import Passage, copy_floor_db, passage, second_copy
from sidetrip.dsp.tones import Tones
from signals import LONG, RATE, SHORT, Copy, Heard, Samples, caught, heard, tones_of, usual_tones

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

TONES = tones_of(4)
DELAY = 283.4

FILTERS = {
    "bell +6 dB at 1 kHz": [biquad("bell", 1000, RATE, q=1.0, db=6.0)],
    "bell -6 dB at 3 kHz": [biquad("bell", 3000, RATE, q=2.0, db=-6.0)],
    "bell +6 dB at 100 Hz": [biquad("bell", 100, RATE, q=1.4, db=6.0)],
    "low shelf +6 dB": [biquad("low shelf", 200, RATE, db=6.0)],
    "high shelf -6 dB": [biquad("high shelf", 6000, RATE, db=-6.0)],
    "low cut 100 Hz": [biquad("low cut", 100, RATE)],
    "a whole channel": [
        biquad("low cut", 100, RATE),
        biquad("bell", 400, RATE, q=1.5, db=-5.0),
        biquad("bell", 3500, RATE, q=1.0, db=4.0),
        biquad("high shelf", 8000, RATE, db=3.0),
    ],
}
IDS = list(FILTERS)


def filtered(sections: list[Array], *, snr_db: float = 40.0, seed: int = 0, tones: Tones = TONES) -> Samples:
    """Return four periods of entry 1 after a delay and filters that run in time, noise beside what was sent."""
    dry = caught(tones, [[Copy(1, DELAY)]], periods=5)[0].astype(np.float64)
    sound = sosfilt(np.array(sections), dry.ravel()).reshape(dry.shape)[1:] if sections else dry[1:]
    noise = 10 ** (-snr_db / 20) * np.random.default_rng(seed).standard_normal(sound.shape)
    return np.asarray(sound + noise, dtype=np.float32)


def read(pair: Heard, sections: list[Array] | None = None, delay: float = DELAY, period: int = SHORT) -> Passage:
    """Read a passage, with these filters declared."""
    hz = np.asarray(pair.bins * (RATE / period), dtype=np.float64)
    declared = response(np.array(sections), hz, RATE) if sections else np.ones(len(hz), dtype=np.complex128)
    return passage(pair.h, pair.bins, pair.weight, period, RATE, delay + 0.3, declared)


@pytest.mark.parametrize("name", IDS)
def test_a_declared_filter_is_taken_out(name: str) -> None:
    """At 40 dB signal to noise the delay is right to 0.05 frame and the path straight and flat, in 10 of 10 draws."""
    for seed in range(10):
        pair = heard(filtered(FILTERS[name], seed=seed), TONES, 1)
        found = read(pair, FILTERS[name])
        assert abs(found.delay_frames - DELAY) <= 0.05, f"seed {seed}"
        assert found.straight, f"seed {seed}"
        assert found.group_frames is None
        assert found.gain_db == pytest.approx(0.0, abs=0.02)
        worst = found.deviation(100, 16_000)
        assert worst is not None
        assert abs(worst.level_db) <= 0.1 + 4 * worst.error_db, f"seed {seed}"


@pytest.mark.parametrize("name", IDS)
def test_a_filter_that_nobody_declared_is_told(name: str) -> None:
    """The path is not straight, with the group delay beside the slope, or a band deviates by 1 dB and more."""
    found = read(heard(filtered(FILTERS[name]), TONES, 1))
    worst = found.deviation()
    assert worst is not None
    assert not found.straight or abs(worst.level_db) >= 1.0
    assert (found.group_frames is not None) == (not found.straight)
    if found.group_frames is not None:
        assert math.isfinite(found.group_frames)
    assert abs(found.delay_frames - DELAY) < 24  # what is told as delay is the path's, give or take the filter's own


def test_an_undeclared_bell_is_told_band_by_band() -> None:
    """Each band's level is what the filter does there, beside the gain over the middle."""
    sections = FILTERS["bell +6 dB at 1 kHz"]
    found = read(heard(filtered(sections), TONES, 1))
    assert not found.straight
    at = np.array([band.hz for band in found.bands])
    expected = 20 * np.log10(np.abs(response(np.array(sections), at, RATE)))
    levels = np.array([band.level_db for band in found.bands]) + found.gain_db
    assert np.abs(levels - expected)[at > 60].max() < 0.35  # a third of an octave is not one frequency
    worst = found.deviation()
    assert worst is not None
    assert 800 < worst.hz < 1300


def test_the_group_delay_of_a_bend_is_told_at_1_khz() -> None:
    """Through a low cut at 500 Hz it is the filter's own, worked out from its phase, to a frame and a half."""
    sections = [biquad("low cut", 500, RATE)]
    found = read(heard(filtered(sections), TONES, 1))
    assert not found.straight
    hz = np.linspace(700.0, 1400.0, 200)
    phase = np.unwrap(np.angle(response(np.array(sections), hz, RATE)))
    own = -np.polyfit(hz, phase, 1)[0] * RATE / (2 * np.pi)
    assert found.group_frames == pytest.approx(DELAY + own, abs=1.5)


@pytest.mark.parametrize("inverted", [False, True])
def test_a_flat_path_is_straight_and_flat(inverted: bool) -> None:
    """Delay, gain and polarity come out, every band is within 0.05 dB, and nothing is said to bend, in 15 draws."""
    for seed in range(15):
        copies = [Copy(2, 99.75, -8.0, inverted)]
        tones = usual_tones(2)
        pair = heard(caught(tones, [copies], noise_rms=4e-4, seed=seed)[0], tones, 2)
        found = read(pair, delay=99.75, period=tones.period_frames)
        assert found.straight, f"seed {seed}"
        assert found.delay_frames == pytest.approx(99.75, abs=1e-3)
        assert found.gain_db == pytest.approx(-8.0, abs=0.01)
        assert found.inverted is inverted
        assert max(abs(band.level_db) for band in found.bands) <= 0.05, f"seed {seed}"


def test_a_flat_path_in_noise_is_not_said_to_bend() -> None:
    """At 10 dB and at 0 dB noise is not told as phase, and bands differ by no more than their errors say."""
    for snr_db in (10, 0):
        for seed in range(15):
            found = read(heard(filtered([], snr_db=snr_db, seed=seed), TONES, 1))
            assert found.straight, f"{snr_db} dB, seed {seed}"
            assert abs(found.delay_frames - DELAY) < 5 * found.error_frames
            assert all(abs(band.level_db) < 5 * band.error_db + 0.05 for band in found.bands), f"seed {seed}"


def test_bands_cover_the_tones_without_a_gap() -> None:
    """Centres rise from the lowest tone to the highest, and are a third of an octave apart where tones are dense."""
    found = read(heard(filtered([]), TONES, 1))
    at = np.array([band.hz for band in found.bands])
    assert (np.diff(at) > 0).all()
    assert at[-1] > 15_000
    assert np.allclose(np.log2(at[-4:-1] / at[-5:-2]), 1 / 3, atol=0.02)


@pytest.mark.parametrize("later", [48, 97.3, 300, 777.7, 2000])
@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize(("entries", "frames"), [(4, SHORT), (1, SHORT), (2, LONG), (32, LONG)])
def test_a_second_copy_20_db_down_is_found(entries: int, frames: int, later: float, inverted: bool) -> None:
    """48 to 2000 frames later, its level is right to 1 dB and its time to a frame, and polarity beside the first."""
    tones = tones_of(entries, frames)
    period = tones.period_frames
    for seed in range(2):
        copies = [Copy(1, DELAY, -6.0, True), Copy(1, DELAY + later, -26.0, not inverted)]
        pair = heard(caught(tones, [copies], noise_rms=5e-3, seed=seed)[0], tones, 1)
        found = second_copy(pair.h, pair.bins, pair.weight, period, read(pair, period=period))
        assert found is not None, f"seed {seed}"
        assert found.later_frames == pytest.approx(later, abs=1.0), f"seed {seed}"
        assert found.level_db == pytest.approx(-20.0, abs=1.0), f"seed {seed}"
        assert found.inverted is inverted


def test_an_earlier_copy_is_found() -> None:
    """A weaker copy that came 400 frames before the first is told as earlier."""
    pair = heard(caught(TONES, [[Copy(1, DELAY), Copy(1, DELAY - 400, -20.0)]], noise_rms=1e-3)[0], TONES, 1)
    found = second_copy(pair.h, pair.bins, pair.weight, SHORT, read(pair))
    assert found is not None
    assert found.later_frames == pytest.approx(-400, abs=1.0)


@pytest.mark.parametrize(
    "name", ["none", "bell +6 dB at 1 kHz", "bell +6 dB at 100 Hz", "bell -6 dB at 3 kHz", "low cut 100 Hz"]
)
def test_no_second_copy_is_made_up(name: str) -> None:
    """On a clean path, and behind a filter that nobody declared, none is found in 30 draws and 6 of long periods."""
    for tones, draws in ((TONES, 30), (usual_tones(2), 3), (usual_tones(8), 3)):
        for seed in range(draws):
            pair = heard(filtered(FILTERS.get(name, []), seed=seed, tones=tones), tones, 1)
            first = read(pair, period=tones.period_frames)
            found = second_copy(pair.h, pair.bins, pair.weight, tones.period_frames, first)
            assert found is None, f"{tones.entries} entries, seed {seed}: {found}"


@pytest.mark.parametrize("snr_db", [40, 60])
@pytest.mark.parametrize("later", [64.0, 500.5])
def test_a_leak_60_db_down_is_found_where_it_is_expected(later: float, snr_db: float) -> None:
    """Where its time is known, a copy of -60 dB is found at 40 dB signal to noise and more, in 10 of 10 draws."""
    tones = usual_tones(2)
    for seed in range(10):
        copies = [Copy(1, 30.0), Copy(1, 30.0 + later, -60.0)]
        pair = heard(caught(tones, [copies], noise_rms=10 ** (-snr_db / 20), seed=seed)[0], tones, 1)
        first = read(pair, delay=30.0, period=tones.period_frames)
        found = second_copy(pair.h, pair.bins, pair.weight, tones.period_frames, first, near_frames=later)
        assert found is not None, f"seed {seed}"
        assert found.level_db == pytest.approx(-60.0, abs=1.5), f"seed {seed}"
        floor_db = copy_floor_db(pair.h, pair.bins, pair.weight, tones.period_frames, first, later)
        assert floor_db < -60.0


def test_no_leak_is_made_up_where_one_is_expected() -> None:
    """Looked for at a known time where there is none, nothing is found in 30 draws, and the floor is below -60 dB."""
    tones = usual_tones(2)
    for seed in range(30):
        pair = heard(caught(tones, [[Copy(1, 30.0)]], noise_rms=0.01, seed=seed)[0], tones, 1)
        first = read(pair, delay=30.0, period=tones.period_frames)
        assert second_copy(pair.h, pair.bins, pair.weight, tones.period_frames, first, near_frames=400.0) is None
        assert copy_floor_db(pair.h, pair.bins, pair.weight, tones.period_frames, first, 400.0) < -60.0


@given(st.floats(24.5, 3000), st.floats(-30, -12))
def test_a_second_copy_above_its_floor_is_found(later: float, level_db: float) -> None:
    """Anything 3 dB above the stated floor, at any time from 24 frames on, is found."""
    pair = heard(caught(TONES, [[Copy(1, 0.0), Copy(1, later, level_db)]], noise_rms=1e-3)[0], TONES, 1)
    first = read(pair, delay=0.0)
    floor_db = copy_floor_db(pair.h, pair.bins, pair.weight, SHORT, first)
    found = second_copy(pair.h, pair.bins, pair.weight, SHORT, first)
    assert found is not None or level_db < floor_db + 3
