"""Interleaved multi-sines: whose bins, which phases, how peaky."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import fft

from sidetrip.dsp.tones import MOST_ENTRIES, crest_db, crests_db, make_tones, usual_period
from signals import RATE, tones_of, usual_tones


@pytest.mark.parametrize("entries", [2, 8])
def test_a_few_entries_have_a_crest_of_at_most_7_db(entries: int) -> None:
    """At the usual period and 48 kHz no entry's peak is more than 7 dB above its rms."""
    assert max(crests_db(usual_tones(entries))) <= 7.0


@pytest.mark.long
@pytest.mark.parametrize("entries", range(1, 9))
@pytest.mark.parametrize("seed", range(1, 6))
def test_a_few_entries_have_a_low_crest_whatever_the_seed(entries: int, seed: int) -> None:
    """Five deals of 1 to 8 entries all stay at or below 7 dB."""
    assert max(crests_db(make_tones(entries, RATE, seed=seed))) <= 7.0


def test_32_entries_have_a_crest_of_at_most_9_db() -> None:
    """With a 33rd of the bins each, no entry's peak is more than 9 dB above its rms."""
    assert max(crests_db(usual_tones(32))) <= 9.0


def test_crest_of_a_sine_and_a_square() -> None:
    """A sine has 3.01 dB, a square none."""
    turn = np.arange(4096) * (2 * np.pi / 4096 * 7)
    assert crest_db(np.sin(turn)) == pytest.approx(3.0103, abs=1e-3)
    assert crest_db(np.sign(np.sin(turn + 0.01))) == pytest.approx(0.0, abs=1e-9)


@given(st.integers(1, 5), st.integers(0, 1000))
def test_every_bin_of_the_band_has_one_owner_or_nobody(entries: int, seed: int) -> None:
    """Bins of all entries and nobody's are disjoint, together they are the band, and each has its fair share."""
    tones = make_tones(entries, RATE, period_frames=1024, seed=seed)
    dealt = [tones.bins(owner) for owner in range(entries + 1)]
    together = np.sort(np.concatenate(dealt))
    assert np.array_equal(together, tones.first_bin + np.arange(len(tones.owners)))
    sizes = [len(own) for own in dealt]
    assert max(sizes) - min(sizes) <= 1


def test_every_group_of_neighbours_serves_everybody_once() -> None:
    """Among entries + 1 neighbouring bins each entry has one and nobody has one, so that all cover the whole band."""
    tones = tones_of(6)
    whole = len(tones.owners) // 7 * 7
    groups = np.sort(tones.owners[:whole].reshape(-1, 7), axis=1)
    assert (groups == np.arange(7)).all()


def test_the_spacing_of_an_entrys_bins_is_not_fixed() -> None:
    """A fixed spacing would make delays ambiguous: each entry's bins have many distances."""
    tones = tones_of(4)
    for entry in range(1, 5):
        assert len(set(np.diff(tones.bins(entry)).tolist())) >= 7


def test_a_period_is_made_of_the_tabled_tones_and_nothing_else() -> None:
    """Rounded phases are the truth: the spectrum of a period has them exactly, equal amplitudes, and no other bin."""
    tones = tones_of(4)
    for entry in range(1, 5):
        bins = tones.bins(entry)
        spectrum = fft.rfft(tones.period(entry)) / (tones.period_frames / 2)
        expected = tones.amplitude(entry) * np.exp(2j * np.pi / 256 * tones.phases[bins - tones.first_bin])
        assert np.allclose(spectrum[bins], expected, rtol=0, atol=1e-12)
        spectrum[bins] = 0
        assert np.abs(spectrum).max() < 1e-13


def test_a_period_is_a_sum_of_cosines() -> None:
    """Worked out tone by tone in time, the period is the same, and its rms is 1."""
    tones = tones_of(3, 1024)
    now = np.arange(1024) * (2 * np.pi / 1024)
    phases = tones.phases[tones.bins(2) - tones.first_bin] * (2 * np.pi / 256)
    by_hand = sum(np.cos(now * bin_ + phase) for bin_, phase in zip(tones.bins(2), phases, strict=True))
    period = tones.period(2)
    assert np.allclose(period, by_hand * tones.amplitude(2), rtol=0, atol=1e-11)
    assert np.sqrt(np.mean(period**2)) == pytest.approx(1.0, abs=1e-12)


def test_tones_keep_to_the_band() -> None:
    """From 20 Hz to 20 kHz, or to 0.45 of a low rate."""
    tones = tones_of(2)
    assert tones.frequencies(1).min() >= 20.0
    assert 19_900 < max(tones.frequencies(1).max(), tones.frequencies(2).max()) <= 20_000
    slow = make_tones(1, 32_000, period_frames=4096)
    assert slow.frequencies(1).max() <= 0.45 * 32_000


def test_the_same_seed_deals_the_same() -> None:
    """Two makings agree to the last phase; another seed deals otherwise."""
    one, two = (make_tones(3, RATE, period_frames=2048, seed=5) for _ in range(2))
    other = make_tones(3, RATE, period_frames=2048, seed=6)
    assert np.array_equal(one.owners, two.owners)
    assert np.array_equal(one.phases, two.phases)
    assert not np.array_equal(one.owners, other.owners)


def test_progress_counts_the_entries() -> None:
    """It is called once for each entry that is done."""
    seen: list[int] = []
    make_tones(3, RATE, period_frames=1024, progress=seen.append)
    assert seen == [1, 2, 3]


@pytest.mark.parametrize("entries", [0, -1, MOST_ENTRIES + 1])
def test_too_many_or_no_entries_are_refused(entries: int) -> None:
    """1 to 64 entries, and in words."""
    with pytest.raises(ValueError, match="carries 1 to 64 entries"):
        make_tones(entries, RATE)


@pytest.mark.parametrize(("rate", "period"), [(44_100, 65_536), (48_000, 65_536), (96_000, 131_072)])
def test_the_usual_period_is_a_power_of_two_of_about_a_second(rate: int, period: int) -> None:
    """1.0 to 1.5 s at every usual rate."""
    assert usual_period(rate) == period
    assert 1.0 <= period / rate <= 1.5
