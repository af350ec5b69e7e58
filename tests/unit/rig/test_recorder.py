"""Sound between frames and on other clocks against analytic sines; slips, noise and rounding against counts."""

import numpy as np
import pytest
import soxr

from sidetrip.rig.recorder import Sound, delayed, edited, noise, read_at, rounded
from sidetrip.units import dbfs_from_rms

RATE_HZ = 48_000
EDGE = 200
"""Frames at either end where a sine that starts or stops rings."""


def _sine(frequency_hz: float, places: Sound, rate_hz: int = RATE_HZ) -> Sound:
    return np.asarray(np.sin(2 * np.pi * frequency_hz / rate_hz * places + 0.3))


def _error_db(got: Sound, wanted: Sound) -> float:
    return float(20 * np.log10(np.max(np.abs(got - wanted)[EDGE:-EDGE])))


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("frequency_hz", [20, 997, 10_000, 20_000])
@pytest.mark.parametrize("delay_frames", [0.5, 0.0001, 7.31, -123.456])
def test_a_delay_between_frames_is_that_of_the_sine(rate_hz: int, frequency_hz: float, delay_frames: float) -> None:
    """Every tone up to 20 kHz comes out within -120 dB of the sine that is so much later."""
    now = np.arange(4096.0)
    got = delayed(_sine(frequency_hz, now, rate_hz), delay_frames)
    assert _error_db(got, _sine(frequency_hz, now - delay_frames, rate_hz)) < -120


def test_a_ten_thousandth_of_a_frame_is_heard() -> None:
    """Two delays that differ by 1e-4 frames differ by the phase of 1e-4 frames, within a hundredth of it."""
    now = np.arange(4096.0)
    phases = []
    for delay_frames in (10.25, 10.2501):
        out = delayed(_sine(12_000, now), delay_frames)[EDGE:-EDGE]
        phases.append(np.angle(np.sum(out * np.exp(-2j * np.pi * 12_000 / RATE_HZ * now[EDGE:-EDGE]))))
    assert (phases[0] - phases[1]) / (2 * np.pi * 12_000 / RATE_HZ) == pytest.approx(1e-4, rel=0.01)


def test_whole_frames_move_samples_as_they_are() -> None:
    """Nothing is interpolated at whole frames, either way, and what is pushed out is gone."""
    sound = np.arange(1.0, 6.0)
    assert delayed(sound, 2).tolist() == [0, 0, 1, 2, 3]
    assert delayed(sound, -2).tolist() == [3, 4, 5, 0, 0]
    assert delayed(sound, 0).tolist() == sound.tolist()
    assert delayed(sound, 9).tolist() == [0] * 5


@pytest.mark.parametrize("step_frames", [1 + 60e-6, 1 - 60e-6, 48_000 / 44_100, 44_100 / 48_000])
@pytest.mark.parametrize("frequency_hz", [20, 997, 10_000, 20_000])
def test_another_clock_reads_the_sine_at_its_own_places(step_frames: float, frequency_hz: float) -> None:
    """Small and large ratios alike stay within -120 dB of the analytic sine up to 20 kHz."""
    places = 300.3 + step_frames * np.arange(30_000.0)
    sound = _sine(frequency_hz, np.arange(34_000.0))
    assert _error_db(read_at(sound, 300.3, step_frames, 30_000), _sine(frequency_hz, places)) < -120


def test_what_a_lower_rate_cannot_hold_is_gone() -> None:
    """A tone that would fold over at half the rate is below -120 dB, not at another pitch."""
    sound = _sine(15_000, np.arange(20_000.0))
    assert np.max(np.abs(read_at(sound, 300.0, 2.0, 9_000))) < 1e-6


def test_silence_is_outside() -> None:
    """Places before and behind the sound are read as silence, however far."""
    assert not read_at(np.ones(10), -1e6, 1.0001, 20).any()
    assert not read_at(np.ones(10), 1e6, 1.0001, 20).any()


def test_another_resampler_agrees() -> None:
    """Noise in the audible band comes out of the analysis' resampler within -90 dB of ours."""
    spectrum = np.fft.rfft(np.random.default_rng(1).standard_normal(48_000))
    spectrum[18_000:] = 0
    sound = np.fft.irfft(spectrum)
    ours = read_at(sound, 0.0, 48_000 / 44_100, 44_100)
    theirs = soxr.resample(sound, 48_000, 44_100, quality="VHQ")
    difference = (ours - theirs)[2000:-2000]
    assert 20 * np.log10(np.std(difference) / np.std(sound)) < -90


def test_lost_frames_are_missing_and_the_rest_is_early() -> None:
    """Exactly the named frames go, counted on the intact sound, in any order."""
    sound = np.arange(20.0)
    assert edited(sound, [(10, 3), (2, 2)], []).tolist() == [0, 1, 4, 5, 6, 7, 8, 9, *range(13, 20)]


def test_repeated_frames_are_the_block_before_in_place() -> None:
    """The block is heard twice, and what follows is where it was; at the end as much as there is room for."""
    assert edited(np.arange(8.0), [], [(4, 2)]).tolist() == [0, 1, 2, 3, 2, 3, 6, 7]
    assert edited(np.arange(8.0), [], [(7, 3)]).tolist() == [0, 1, 2, 3, 4, 5, 6, 4]


def test_slips_take_all_tracks_together() -> None:
    """Several tracks lose and repeat the same frames."""
    tracks = np.arange(12.0).reshape(6, 2)
    assert edited(tracks, [(4, 1)], [(2, 1)]).tolist() == [[0, 1], [2, 3], [2, 3], [6, 7], [10, 11]]


def test_a_slip_before_the_beginning_is_refused() -> None:
    """There is nothing to repeat or lose there."""
    with pytest.raises(ValueError, match="no 5 frames before frame 4"):
        edited(np.zeros(9), [], [(4, 5)])
    with pytest.raises(ValueError, match="before the sound begins"):
        edited(np.zeros(9), [(-1, 2)], [])


@pytest.mark.parametrize("level_dbfs", [-110.0, -70.0, -20.0])
def test_noise_has_its_level(level_dbfs: float) -> None:
    """Its rms reads so many dBFS, within 0.1 dB."""
    sound = noise(200_000, level_dbfs, np.random.default_rng(3))
    assert dbfs_from_rms(float(np.sqrt(np.mean(sound**2)))) == pytest.approx(level_dbfs, abs=0.1)


def test_bits_round_and_clip() -> None:
    """To the nearest step, and at full scale no further; without bits nothing is touched."""
    step = 2.0**-15
    sound = np.array([0.4 * step, 0.6 * step, -0.6 * step, 1.5, -1.5])
    assert rounded(sound, 16).tolist() == [0, step, -step, 1 - step, -1]
    assert rounded(np.array([2.0]), 24).tolist() == [1 - 2.0**-23]
    assert rounded(sound, None) is sound
