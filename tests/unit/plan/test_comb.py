"""Combs: a second opinion in complex numbers, symmetries, limits and refusals."""

import cmath
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sidetrip.plan.comb import (
    Residue,
    Ripple,
    level_difference_for_ripple,
    magnitude_db,
    null_hz,
    peak_hz,
    ripple,
    whole_frame_residue,
)

spreads_s = st.floats(1e-6, 0.1)
differences_db = st.floats(-60, 60)
frequencies_hz = st.floats(0, 24000)
either_way = st.booleans()


@pytest.mark.parametrize("spread_s", [math.inf, -math.inf, math.nan])
def test_an_unknown_spread_is_refused(spread_s: float) -> None:
    """Nothing is guessed from a spread that is not known."""
    with pytest.raises(ValueError, match=rf"spread is not a finite number: {spread_s} s\. Give"):
        null_hz(spread_s)
    with pytest.raises(ValueError, match="spread is not a finite number"):
        peak_hz(spread_s)
    with pytest.raises(ValueError, match="spread is not a finite number"):
        magnitude_db(1000, spread_s, 0)


@pytest.mark.parametrize("frequency_hz", [-1, math.inf, math.nan])
def test_a_frequency_that_is_no_frequency_is_refused(frequency_hz: float) -> None:
    """Frequencies start at 0 Hz."""
    with pytest.raises(ValueError, match=rf"negative or not finite: {frequency_hz} Hz\. Give"):
        magnitude_db(frequency_hz, 0.001, 0)


@pytest.mark.parametrize("ripple_db", [-0.1, math.nan])
def test_a_ripple_that_is_no_size_is_refused(ripple_db: float) -> None:
    """Peak minus null is never negative."""
    with pytest.raises(ValueError, match=rf"not a size in dB: {ripple_db} dB\. Give"):
        level_difference_for_ripple(ripple_db)


def test_a_null_or_peak_before_the_first_is_refused() -> None:
    """Nulls count from 0, peaks from 0 at 0 Hz, and an inverted copy has no peak at 0 Hz."""
    with pytest.raises(ValueError, match=r"no such null: number -1\. Count from 0"):
        null_hz(0.001, k=-1)
    with pytest.raises(ValueError, match=r"no such peak: number -1\. Count from 0"):
        peak_hz(0.001, k=-1)
    with pytest.raises(ValueError, match=r"no such peak: number 0\. Count from 1"):
        peak_hz(0.001, k=0, inverted=True)


@given(frequencies_hz, spreads_s, differences_db, either_way)
def test_magnitude_is_that_of_two_phasors_added(f: float, t: float, difference_db: float, inv: bool) -> None:
    """The formula agrees with a plain complex sum, wherever that sum is not lost in rounding."""
    a = 10 ** (difference_db / 20) * (-1 if inv else 1)
    h = abs(1 + a * cmath.exp(-2j * math.pi * f * t))
    assume(h > 1e-6)
    assert magnitude_db(f, t, difference_db, inv) == pytest.approx(20 * math.log10(h), abs=1e-4)


@given(frequencies_hz, spreads_s, differences_db, either_way)
def test_which_copy_is_later_changes_no_magnitude(f: float, t: float, difference_db: float, inv: bool) -> None:
    """A negative spread makes the same comb."""
    assert magnitude_db(f, -t, difference_db, inv) == magnitude_db(f, t, difference_db, inv)
    assert null_hz(-t, inverted=inv) == null_hz(t, inverted=inv)
    assert peak_hz(-t, inverted=inv) == peak_hz(t, inverted=inv)


@given(frequencies_hz, spreads_s, differences_db, either_way)
def test_a_comb_stays_between_its_null_and_its_peak(f: float, t: float, difference_db: float, inv: bool) -> None:
    """Ripple bounds the magnitude at every frequency."""
    limits = ripple(difference_db)
    assert limits.null_db - 1e-9 <= magnitude_db(f, t, difference_db, inv) <= limits.peak_db + 1e-9


@given(st.integers(0, 20), st.floats(1e-4, 0.1), st.floats(-60, -0.1), either_way)
def test_nulls_and_peaks_are_where_they_are_said_to_be(k: int, t: float, difference_db: float, inv: bool) -> None:
    """The magnitude reaches the null and the peak of the ripple there."""
    limits = ripple(difference_db)
    assert magnitude_db(null_hz(t, k, inv), t, difference_db, inv) == pytest.approx(limits.null_db, abs=1e-6)
    assert magnitude_db(peak_hz(t, k + 1, inv), t, difference_db, inv) == pytest.approx(limits.peak_db, abs=1e-6)


@given(differences_db)
def test_a_louder_second_copy_makes_the_same_ripple(difference_db: float) -> None:
    """Only the size of the level difference counts for the ripple, though not for peak and null."""
    assert ripple(-difference_db).ripple_db == pytest.approx(ripple(difference_db).ripple_db, rel=1e-9)


@given(st.floats(0.001, 60))
def test_the_difference_for_a_ripple_makes_that_ripple(ripple_db: float) -> None:
    """The inverse undoes the ripple, with the second copy quieter."""
    difference_db = level_difference_for_ripple(ripple_db)
    assert difference_db < 0
    assert ripple(difference_db).ripple_db == pytest.approx(ripple_db, rel=1e-9)


def test_equal_copies_cancel_and_a_silent_one_does_nothing() -> None:
    """The ends of the scale: 0 dB apart, and infinitely far."""
    assert ripple(0) == Ripple(20 * math.log10(2), -math.inf, math.inf)
    assert ripple(-math.inf) == Ripple(0, 0, 0)
    assert level_difference_for_ripple(math.inf) == 0
    assert level_difference_for_ripple(0) == -math.inf


def test_copies_nearly_equal_keep_their_digits() -> None:
    """A billionth of a dB apart, the null is 1 - a to full precision."""
    assert ripple(-1e-9).null_db == pytest.approx(20 * math.log10(1e-9 * math.log(10) / 20), abs=1e-6)


def test_a_complete_null_is_minus_infinity() -> None:
    """In the null of equal copies nothing is left, rather than a rounding residue."""
    assert magnitude_db(500, 0.001, 0) == -math.inf
    assert magnitude_db(1000, 0.001, 0, inverted=True) == -math.inf
    assert magnitude_db(0, 0.001, 0, inverted=True) == -math.inf


def test_copies_in_time_have_no_null() -> None:
    """A spread of 0 puts nulls and peaks at inf, except what lies at 0 Hz by polarity."""
    assert null_hz(0) == math.inf
    assert null_hz(0, k=1, inverted=True) == math.inf
    assert peak_hz(0) == math.inf
    assert peak_hz(0, inverted=True) == math.inf
    assert peak_hz(0, k=0) == 0
    assert null_hz(0, inverted=True) == 0
    assert magnitude_db(1000, 0, -6) == pytest.approx(ripple(-6).peak_db)
    assert magnitude_db(1000, 0, 0, inverted=True) == -math.inf


@given(st.floats(-1, 1), st.sampled_from([44100.0, 48000.0, 96000.0]))
def test_frames_and_residue_make_up_the_delay(delay_s: float, rate_hz: float) -> None:
    """Wanted is given plus residue, and the residue is at most half a frame."""
    answer = whole_frame_residue(delay_s, rate_hz)
    assert answer.frames / rate_hz + answer.residue_s == pytest.approx(delay_s, abs=1e-15)
    assert abs(answer.residue_s) <= 0.5 / rate_hz + 1e-15
    assert answer.first_null_hz >= rate_hz * (1 - 1e-9)


def test_a_residue_is_positive_when_the_frames_fall_short() -> None:
    """Positive means that the compensation should have been later."""
    assert whole_frame_residue(10.2 / 48000, 48000).residue_s > 0
    assert whole_frame_residue(10.8 / 48000, 48000).residue_s < 0


def test_a_delay_in_whole_frames_leaves_nothing() -> None:
    """No residue, no null."""
    assert whole_frame_residue(64 / 48000, 48000) == Residue(64, 0.0, math.inf)
