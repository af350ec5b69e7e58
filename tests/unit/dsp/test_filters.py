"""Second-order filters: what they do at the frequencies that engineers name, and that they run."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import sosfilt, sosfreqz

from sidetrip.dsp.filters import BUTTERWORTH_Q, SHAPES, Shape, biquad, response
from signals import RATE

HZ = st.floats(20, 20_000)
Q = st.floats(0.1, 20)
DB = st.floats(-18, 18)


def level_db(section: np.ndarray[tuple[int, ...], np.dtype[np.float64]], hz: float) -> float:
    """Return the level of one section at one frequency."""
    return float(20 * np.log10(np.abs(response(section[None], np.array([hz]), RATE)))[0])


@given(HZ, Q, DB)
def test_a_bell_has_its_gain_at_its_centre_and_none_far_off(hz: float, q: float, db: float) -> None:
    """What is dialled is read at the centre; 0 Hz and half the rate stay at 0 dB."""
    section = biquad("bell", hz, RATE, q=q, db=db)
    assert level_db(section, hz) == pytest.approx(db, abs=1e-6)
    assert level_db(section, 0.0) == pytest.approx(0.0, abs=1e-4)
    assert level_db(section, RATE / 2) == pytest.approx(0.0, abs=1e-4)


@given(HZ, DB)
def test_a_shelf_has_half_its_gain_at_its_midpoint_and_all_of_it_beyond(hz: float, db: float) -> None:
    """Low shelves at 0 Hz, high shelves at half the rate; the other end stays at 0 dB."""
    low, high = (biquad(shape, hz, RATE, db=db) for shape in ("low shelf", "high shelf"))
    assert level_db(low, hz) == pytest.approx(db / 2, abs=1e-6)
    assert level_db(high, hz) == pytest.approx(db / 2, abs=1e-6)
    assert level_db(low, 0.0) == pytest.approx(db, abs=1e-3)
    assert level_db(low, RATE / 2) == pytest.approx(0.0, abs=1e-3)
    assert level_db(high, 0.0) == pytest.approx(0.0, abs=1e-3)
    assert level_db(high, RATE / 2) == pytest.approx(db, abs=1e-3)


@given(HZ, Q)
def test_a_cut_has_its_q_at_its_corner(hz: float, q: float) -> None:
    """The level at the corner is q, 3.01 dB down for Butterworth, and the far side is untouched."""
    for shape, through in (("low cut", RATE / 2), ("high cut", 0.0)):
        section = biquad("low cut" if shape == "low cut" else "high cut", hz, RATE, q=q)
        assert level_db(section, hz) == pytest.approx(20 * np.log10(q), abs=1e-6)
        assert level_db(section, through) == pytest.approx(0.0, abs=1e-4)
    assert level_db(biquad("low cut", hz, RATE), hz) == pytest.approx(20 * np.log10(BUTTERWORTH_Q), abs=1e-6)


@given(st.sampled_from(SHAPES), HZ, Q, DB)
def test_every_filter_is_stable(shape: Shape, hz: float, q: float, db: float) -> None:
    """Both poles lie inside the unit circle, and the coefficients are as scipy wants them."""
    section = biquad(shape, hz, RATE, q=q, db=db)
    assert section.shape == (6,)
    assert section[3] == 1.0
    assert np.abs(np.roots(section[3:])).max() < 1


@given(st.lists(st.tuples(st.sampled_from(SHAPES), HZ, Q, DB), min_size=1, max_size=5))
def test_the_response_is_what_scipy_reads_from_the_sections(
    dialled: list[tuple[Shape, float, float, float]],
) -> None:
    """Several sections multiply, in level and phase."""
    sections = np.array([biquad(shape, hz, RATE, q=q, db=db) for shape, hz, q, db in dialled])
    at = np.geomspace(20.0, 20_000.0, 50)
    _, expected = sosfreqz(sections, worN=at, fs=RATE)
    assert np.allclose(response(sections, at, RATE), expected, rtol=1e-6, atol=1e-9)


def test_a_tone_that_runs_through_comes_out_as_the_response_says() -> None:
    """Run in time, a settled sine has the level and phase of the response."""
    section = biquad("high shelf", 5000, RATE, db=-9.0)
    now = np.arange(RATE) * (2 * np.pi * 3000 / RATE)
    out = sosfilt(section[None], np.cos(now))[RATE // 2 :]
    expected = response(section[None], np.array([3000.0]), RATE)[0]
    assert np.allclose(out, np.real(expected * np.exp(1j * now[RATE // 2 :])), atol=1e-9)


def test_no_sections_change_nothing() -> None:
    """An empty chain has a response of 1."""
    assert (response(np.zeros((0, 6)), np.array([100.0, 1000.0]), RATE) == 1).all()


@pytest.mark.parametrize(
    ("hz", "q"), [(0, 1), (-100, 1), (24_000, 1), (1e6, 1), (float("nan"), 1), (100, 0), (100, -1)]
)
def test_a_filter_that_cannot_be_is_refused_in_words(hz: float, q: float) -> None:
    """A frequency outside 0 to half the rate, or a q that is not above 0, names what is allowed."""
    with pytest.raises(ValueError, match="A filter needs a frequency between 0 and 24000 Hz and a q above 0"):
        biquad("bell", hz, RATE, q=q, db=3)
