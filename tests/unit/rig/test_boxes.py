"""What processors do to sines, against their laws: gain over level, harmonics, ceilings, times."""

import numpy as np
import pytest
from scipy.signal import freqz_sos

from sidetrip.rig.boxes import (
    Clipper,
    Compressor,
    DelayOnly,
    Filter,
    Gate,
    Limiter,
    Processor,
    Saturator,
    bell,
    processed,
    processor_delay_frames,
)
from sidetrip.rig.recorder import Sound
from sidetrip.units import gain_from_db

RATE_HZ = 48_000


def _sine(level_dbfs: float, frequency_hz: float = 1000, seconds: float = 1.0) -> Sound:
    now = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return gain_from_db(level_dbfs) * np.sin(2 * np.pi * frequency_hz * now)


def _level_dbfs(sound: Sound, frequency_hz: float = 1000) -> float:
    """Level of one tone in the last half second."""
    last = sound[-RATE_HZ // 2 :]
    turns = np.exp(-2j * np.pi * frequency_hz / RATE_HZ * np.arange(len(last)))
    return float(20 * np.log10(2 * abs(np.mean(last * turns)) + 1e-30))


@pytest.mark.parametrize("frequency_hz", [50, 1000, 10_000])
@pytest.mark.parametrize("ratio", [2.0, 4.0, 20.0])
@pytest.mark.parametrize("level_dbfs", [-60.0, -36.0, -31.0, -24.0, -6.0])
def test_a_compressor_keeps_its_law(level_dbfs: float, ratio: float, frequency_hz: float) -> None:
    """A steady sine comes out by threshold, ratio and make-up, within 0.1 dB."""
    compressor = Compressor(-30, ratio, attack_ms=5, release_ms=100, makeup_db=3)
    wanted_dbfs = level_dbfs - max(level_dbfs + 30, 0) * (1 - 1 / ratio) + 3
    got = processed(_sine(level_dbfs, frequency_hz), compressor, RATE_HZ)
    assert _level_dbfs(got, frequency_hz) == pytest.approx(wanted_dbfs, abs=0.1)


def test_a_compressor_takes_its_time() -> None:
    """What gets louder is turned down within some attacks, and what gets softer comes back at 10 dB a release."""
    sound = np.concatenate([_sine(-10), _sine(-40)])
    gain_db = 20 * np.log10(
        np.abs(processed(sound, Compressor(-30, 2, attack_ms=5, release_ms=100), RATE_HZ)[12::24])
        / np.abs(sound[12::24])
    )
    at = [gain_db[round(seconds * 2000)] for seconds in (0.002, 0.06, 0.9, 1.08, 1.3)]
    assert at[0] > -3
    assert at[1:3] == pytest.approx([-10, -10], abs=0.2)
    assert at[3] == pytest.approx(-4, abs=2.5)  # the window of the detector holds for up to 20 ms
    assert at[4] == pytest.approx(0, abs=0.1)


def test_a_saturator_leaves_small_sound_alone() -> None:
    """At -80 dBFS the gain is 1 within a thousandth of a dB."""
    assert _level_dbfs(processed(_sine(-80), Saturator(12), RATE_HZ)) == pytest.approx(-80, abs=0.001)


@pytest.mark.parametrize("level_dbfs", [-36.0, -24.0, -12.0])
def test_a_saturator_adds_the_harmonics_of_tanh(level_dbfs: float) -> None:
    """First and third harmonic are the Fourier integrals of tanh within 0.01 dB; a small one is a^2 / 12."""
    out = processed(_sine(level_dbfs), Saturator(12), RATE_HZ)
    drive = gain_from_db(12.0)
    angle = (np.arange(100_000) + 0.5) * 2 * np.pi / 100_000
    wave = np.tanh(drive * gain_from_db(level_dbfs) * np.sin(angle)) / drive
    for order in (1, 3):
        integral = 2 * abs(np.mean(wave * np.sin(order * angle)))
        assert _level_dbfs(out, order * 1000) == pytest.approx(20 * np.log10(integral), abs=0.01)
    if level_dbfs == -36:
        small = (drive * gain_from_db(level_dbfs)) ** 2 / 12
        assert _level_dbfs(out, 3000) - _level_dbfs(out) == pytest.approx(20 * np.log10(small), abs=0.1)


def test_a_clipper_cuts_and_leaves_the_rest() -> None:
    """Peaks stop at the ceiling; what is below it is the very same samples."""
    sound = _sine(-6)
    out = processed(sound, Clipper(-12), RATE_HZ)
    ceiling = gain_from_db(-12.0)
    assert np.max(np.abs(out)) == pytest.approx(ceiling)
    below = np.abs(sound) < ceiling
    assert np.array_equal(out[below], sound[below])


@pytest.mark.parametrize("lookahead_frames", [0, 1, 48, 63])
def test_a_limiter_lets_nothing_over_its_ceiling(lookahead_frames: int) -> None:
    """Noise bursts and clicks stay below it, and what was below it is only delayed."""
    rng = np.random.default_rng(5)
    sound = rng.standard_normal(RATE_HZ) * np.repeat([0.001, 0.5, 0.001, 0.2], RATE_HZ // 4)
    sound[6000] = 0.9
    limiter = Limiter(-20, release_ms=20, lookahead_frames=lookahead_frames)
    out = processed(sound, limiter, RATE_HZ)
    assert np.max(np.abs(out)) <= gain_from_db(-20.0) * (1 + 1e-9)
    assert out[lookahead_frames:5000] == pytest.approx(sound[: 5000 - lookahead_frames])


def test_a_limiter_holds_a_sine_at_its_ceiling() -> None:
    """A steady sine above the ceiling comes out with its peak there, within 0.2 dB."""
    out = processed(_sine(-8), Limiter(-20, lookahead_frames=48), RATE_HZ)
    assert _level_dbfs(out) == pytest.approx(-20, abs=0.2)


def test_a_closed_gate_turns_down_by_its_range() -> None:
    """A sine below the threshold is range_db softer, one above it is untouched."""
    gate = Gate(-30, range_db=40)
    assert _level_dbfs(processed(_sine(-31), gate, RATE_HZ)) == pytest.approx(-71, abs=0.01)
    assert _level_dbfs(processed(_sine(-29), gate, RATE_HZ)) == pytest.approx(-29, abs=0.01)


def test_a_gate_holds_and_then_closes() -> None:
    """After the last loud peak it is open for the hold time, half closed after half the release, then closed."""
    sound = np.concatenate([_sine(-20), _sine(-40)])
    out = processed(sound, Gate(-30, range_db=60, attack_ms=0.5, hold_ms=50, release_ms=100), RATE_HZ)
    gain_db = 20 * np.log10(np.abs(out[12::24]) / np.abs(sound[12::24]))
    at = [gain_db[round(seconds * 2000)] for seconds in (0.5, 1.045, 1.1, 1.2)]
    assert at == pytest.approx([0, 0, -30, -60], abs=1)


@pytest.mark.parametrize("gain_db", [3.0, -9.0])
def test_a_bell_has_its_gain_where_it_is_set(gain_db: float) -> None:
    """The full gain at its centre, half of it in dB at the edges of its bandwidth, nothing far away."""
    sos = np.array(bell(RATE_HZ, 1000, gain_db, 1).sos)
    edge_hz = 1000 * (np.sqrt(1.25) + 0.5)
    _, response = freqz_sos(sos, [20.0, 1000.0, edge_hz, 23_000.0], fs=RATE_HZ)
    assert 20 * np.log10(np.abs(response)) == pytest.approx([0, gain_db, gain_db / 2, 0], abs=0.06)


def test_a_filter_is_heard() -> None:
    """A sine at the centre of a bell comes out louder by its gain."""
    assert _level_dbfs(processed(_sine(-20), bell(RATE_HZ, 1000, 6, 2), RATE_HZ)) == pytest.approx(-14, abs=0.001)


@pytest.mark.parametrize(
    ("processor", "frames"),
    [(DelayOnly(12.5), 12.5), (Limiter(0, lookahead_frames=64), 64.0), (Compressor(-30, 2), 0.0), (Saturator(12), 0.0)],
)
def test_a_processor_is_late_by_what_it_says(processor: Processor, frames: float) -> None:
    """The phase of a quiet sine shows exactly that delay."""
    assert processor_delay_frames(processor) == frames
    out = processed(_sine(-60), processor, RATE_HZ)[-RATE_HZ // 2 :]
    now = np.arange(RATE_HZ // 2, RATE_HZ)
    turned = np.angle(np.mean(out * np.exp(-2j * np.pi * 1000 / RATE_HZ * (now - frames))) * 1j)
    assert turned == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize(
    "processor",
    [
        Compressor(-30, 4),
        Limiter(-30, lookahead_frames=8),
        Gate(-30),
        Saturator(12),
        Clipper(-30),
        Filter(((1.0, 0.0, 0.0, 1.0, 0.0, 0.0),)),
        DelayOnly(0.5),
    ],
)
def test_silence_stays_silence(processor: Processor) -> None:
    """Of nothing comes nothing, as long as it was."""
    out = processed(np.zeros(1000), processor, RATE_HZ)
    assert out.shape == (1000,)
    assert not out.any()
