"""Still, drifting or jumping; and stretches of a period that are not like the others."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.dsp.steady import find_glitches, judge_stay, period_delays
from signals import Copy, Samples, caught, tones_of

PERIOD = 16_384
AT = np.arange(8.0) * PERIOD
ERRORS = np.full(8, 1e-3)


@given(st.floats(-1000, 1000), st.integers(0, 10_000), st.sampled_from([1e-4, 1e-3, 0.02]))
def test_delays_that_only_scatter_are_still(delay: float, seed: int, error: float) -> None:
    """Noise of the stated size is never called a drift or a jump."""
    delays = delay + error * np.random.default_rng(seed).standard_normal(8)
    stay = judge_stay(AT, delays, np.full(8, error))
    assert (stay.motion, stay.ppm, stay.steps) == ("still", 0.0, ())


@given(st.floats(1, 500), st.booleans(), st.floats(-500, 500), st.integers(0, 10_000))
def test_a_straight_line_is_a_drift(ppm: float, shrinks: bool, delay: float, seed: int) -> None:
    """A growing delay is positive, and the figure is within five of its stated errors."""
    ppm = -ppm if shrinks else ppm
    delays = delay + AT * ppm * 1e-6 + ERRORS * np.random.default_rng(seed).standard_normal(8)
    stay = judge_stay(AT, delays, ERRORS)
    assert stay.motion == "drifting"
    assert abs(stay.ppm - ppm) <= 5 * stay.error_ppm


@given(st.integers(1, 7), st.sampled_from([-512, -64, -3, 1, 16, 64, 2000]), st.floats(-80, 80))
def test_one_step_is_a_jump(period: int, frames: int, ppm: float) -> None:
    """Lost or added frames between two periods are told by place, size and sign, on a drifting clock as well."""
    delays = 300 + AT * ppm * 1e-6 + np.where(np.arange(8) >= period, frames, 0)
    stay = judge_stay(AT, delays, ERRORS)
    assert stay.motion == "jumping"
    assert [number for number, _ in stay.steps] == [period]
    assert stay.steps[0][1] == pytest.approx(frames, abs=0.01)


def test_two_steps_are_two_jumps() -> None:
    """Each is told, though the delay ends where it began."""
    stay = judge_stay(AT, 100 + np.array([0, 0, 64, 64, 64, 0, 0, 0.0]), ERRORS)
    assert stay.motion == "jumping"
    assert [number for number, _ in stay.steps] == [2, 5]
    assert [round(size) for _, size in stay.steps] == [64, -64]


@pytest.mark.parametrize("missing", [range(8), range(1, 8), range(2, 8)])
def test_too_little_is_unknown(missing: range) -> None:
    """With fewer than three periods heard nothing is said."""
    delays = np.full(8, 10.0)
    delays[list(missing)] = np.nan
    assert judge_stay(AT, delays, ERRORS).motion == "unknown"


def test_a_period_that_was_not_heard_is_passed_over() -> None:
    """A gap hides neither a drift nor a jump, and the jump keeps its number."""
    delays = 5 + AT * 50e-6
    delays[2] = np.nan
    assert judge_stay(AT, delays, ERRORS).ppm == pytest.approx(50, abs=0.1)
    delays = np.array([5, 5, np.nan, 5, 69, 69, 69, 69.0])
    assert judge_stay(AT, delays, ERRORS).steps[0][0] == 4


def test_each_period_tells_its_own_delay() -> None:
    """Periods that come at different times are read one by one, with an error that fits the noise."""
    tones = tones_of(2)
    late = [10.0, 10.5, 42.25, -3.0]
    periods = np.concatenate(
        [caught(tones, [[Copy(1, delay)]], noise_rms=0.1, periods=1, seed=n)[0] for n, delay in enumerate(late)]
    )
    delays, errors = period_delays(periods, tones, 1, 1.0, 0)
    assert np.abs(delays - late).max() < 5 * errors.max()
    assert errors.max() < 0.01


def test_a_period_without_the_entry_has_no_delay() -> None:
    """Noise, silence and another entry give no number."""
    tones = tones_of(2)
    noisy = caught(tones, [[]], noise_rms=0.1, periods=1)[0]
    other = caught(tones, [[Copy(2)]], noise_rms=0.1, periods=1)[0]
    delays, _ = period_delays(np.concatenate([noisy, noisy * 0, other]), tones, 1, 1.0, 0)
    assert np.isnan(delays).all()


def _four(noise: float, seed: int = 0) -> Samples:
    (periods,) = caught(tones_of(2), [[Copy(1, 100.0)]], rms=0.1, noise_rms=noise, periods=4, seed=seed)
    return np.asarray(periods)


@pytest.mark.parametrize("noise", [0.0, 1e-5, 1e-3, 0.03, 0.1])
def test_clean_periods_have_no_glitch(noise: float) -> None:
    """Noise from none to as strong as the tones is no glitch, in 10 draws each."""
    for seed in range(10):
        assert find_glitches(_four(noise, seed)) == (), f"seed {seed}"


@pytest.mark.parametrize("noise", [1e-5, 1e-3, 5e-3])
@pytest.mark.parametrize("frames", [32, 64, 512])
def test_a_hole_is_found_where_it_is(frames: int, noise: float) -> None:
    """Frames that were silenced in one period are told by period, place and length, to 64 frames."""
    periods = _four(noise)
    periods[2, 5000 : 5000 + frames] = 0
    (glitch,) = find_glitches(periods)
    assert glitch.period == 2
    assert abs(glitch.at - 5000) <= 32
    assert abs(glitch.frames - frames) <= 64


def test_a_block_played_twice_is_found() -> None:
    """64 frames heard again instead of what belongs there are one glitch of about that length."""
    periods = _four(1e-4)
    periods[0, 9000:9064] = periods[0, 8936:9000]
    (glitch,) = find_glitches(periods)
    assert (glitch.period, abs(glitch.at - 9000) <= 32) == (0, True)
    assert 32 <= glitch.frames <= 128


def test_two_glitches_are_two() -> None:
    """In one period or in two, each is told."""
    periods = _four(1e-4)
    periods[1, 1000:1064] = 0
    periods[1, 12_000:12_064] = 0
    periods[3, 3000:3064] = 0
    found = find_glitches(periods)
    assert [(glitch.period, round(glitch.at, -3)) for glitch in found] == [(1, 1000), (1, 12_000), (3, 3000)]


def test_fewer_than_three_periods_have_no_majority() -> None:
    """With two periods nothing tells which one is wrong."""
    periods = _four(1e-4)
    periods[1, 1000:1064] = 0
    assert find_glitches(periods[:2]) == ()


@pytest.mark.parametrize("share", [0.3, 0.48, 0.52, 0.6, 0.7])
def test_a_slip_within_a_period_is_a_glitch_however_much_of_it_is_odd(share: float) -> None:
    """Frames lost on the way through the last period leave all behind them odd, be it more than half of the period."""
    periods = _four(1e-4)
    at = round(periods.shape[1] * (1 - share))
    periods[3, at:] = np.roll(periods[3], -500)[at:]
    (glitch,) = find_glitches(periods)
    assert glitch.period == 3
    assert abs(glitch.at - at) <= 64
    assert glitch.frames >= 0.9 * share * periods.shape[1]
