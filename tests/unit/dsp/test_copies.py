"""Copies of a sound added up, against closed forms; the phrase; loudness of what has none."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidetrip.dsp.copies import Copy, add_copies, crossover_half
from sidetrip.dsp.loudness import integrated_lufs
from sidetrip.dsp.phrase import PEAK, phrase

RATE = 48_000


def test_whole_frames_move_by_whole_frames() -> None:
    """A click comes out where it belongs, at its level and polarity, and nowhere else."""
    click = np.zeros(100)
    click[10] = 1.0
    out = add_copies(click, RATE, [Copy(0.0, 1.0), Copy(37 / RATE, 0.5, inverted=True)])
    assert len(out) == 137
    expected = np.zeros(137)
    expected[10], expected[47] = 1.0, -0.5
    np.testing.assert_allclose(out, expected, atol=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 0.02), st.floats(0.05, 1.0), st.booleans(), st.floats(50, 18_000))
def test_two_copies_of_a_tone_are_a_comb(late_s: float, gain: float, inverted: bool, hertz: float) -> None:
    """The level of a tone follows |1 ± g exp(-j 2 pi f t)|, delays of parts of a frame included."""
    t = np.arange(RATE // 2) / RATE
    window = np.sin(np.pi * np.arange(len(t)) / len(t)) ** 2
    tone = window * np.sin(2 * np.pi * hertz * t)
    out = add_copies(tone, RATE, [Copy(0.0, 1.0), Copy(late_s, gain, inverted=inverted)])
    sign = -1 if inverted else 1
    exact = tone_at = np.zeros(len(out))
    tone_at[: len(tone)] = tone
    delayed = np.interp(np.arange(len(out)) / RATE - late_s, t, window, left=0, right=0)
    exact = tone_at + sign * gain * delayed * np.sin(2 * np.pi * hertz * (np.arange(len(out)) / RATE - late_s))
    np.testing.assert_allclose(out, exact, atol=2e-3)


def test_the_halves_of_a_crossover_add_up_flat() -> None:
    """Fourth-order Linkwitz-Riley: both 6 dB down at the crossover, and together flat in level."""
    hertz = np.geomspace(10, 20_000, 400)
    low = crossover_half(hertz, 90.0)
    high = low * (hertz / 90.0) ** 4
    np.testing.assert_allclose(np.abs(low + high), 1.0, atol=1e-12)
    assert 20 * math.log10(abs(crossover_half(np.array([90.0]), 90.0)[0])) == pytest.approx(-6.0206, abs=1e-4)


def test_a_sub_and_a_main_that_arrive_together_are_as_loud_as_one() -> None:
    """Split and added up again, noise has lost nothing but its phase."""
    sound = np.random.default_rng(3).standard_normal(RATE)
    both = add_copies(sound, RATE, [Copy(0.0, 1.0, below_hz=90.0), Copy(0.0, 1.0, above_hz=90.0)])
    assert np.sqrt((both**2).mean()) == pytest.approx(np.sqrt((sound**2).mean()), rel=2e-3)


def test_a_copy_before_its_sound_is_refused() -> None:
    """Time counts from the earliest."""
    with pytest.raises(ValueError, match="before its sound"):
        add_copies(np.zeros(10), RATE, [Copy(-1e-3, 1.0)])


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_the_phrase_is_the_same_each_time_and_not_too_loud(rate_hz: int) -> None:
    """Eight seconds, its peak at half of full scale, and loud enough to be told."""
    one, other = phrase(rate_hz), phrase(rate_hz)
    np.testing.assert_array_equal(one, other)
    assert len(one) == 8 * rate_hz
    assert np.abs(one).max() == pytest.approx(PEAK)
    assert -30 < integrated_lufs(one, rate_hz) < -15


def test_what_is_silent_or_too_short_has_no_loudness() -> None:
    """Silence, what is under the absolute gate, and less than one block."""
    assert integrated_lufs(np.zeros(RATE), RATE) == -math.inf
    assert integrated_lufs(np.full(RATE, 1e-5), RATE) == -math.inf
    assert integrated_lufs(np.ones(RATE // 10), RATE) == -math.inf


def test_more_than_three_channels_are_refused() -> None:
    """Nobody says which of them are surrounds."""
    with pytest.raises(ValueError, match="three channels"):
        integrated_lufs(np.zeros((RATE, 4)), RATE)
