"""sidetrip's measuring core against published bounds, definitions and filter coefficients (measurement.toml)."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft
from scipy.optimize import brentq
from scipy.signal import max_len_seq

from checks.loader import Check, load
from sidetrip.dsp.arrival import fit_delay, flat_bound_s, parabolic_peak
from sidetrip.dsp.clock import slip_frames_per_minute, slip_s
from sidetrip.dsp.distortion import coherence_from_snr, coherence_left, magnitude_error, thd_db, thd_n_db
from sidetrip.dsp.filters import Shape, biquad, response
from sidetrip.dsp.testsignal import SLATE_ORDER, slate_burst
from sidetrip.units import db_from_gain, gain_from_db

CHECKS = load("measurement")
RATE = 48_000
_COEFFICIENTS: dict[str, Shape] = {
    "biquad_bell": "bell",
    "biquad_low_shelf": "low shelf",
    "biquad_high_shelf": "high shelf",
    "biquad_low_cut": "low cut",
    "biquad_high_cut": "high cut",
}
_LEVELS: dict[str, Shape] = {
    "level_bell": "bell",
    "level_low_shelf": "low shelf",
    "level_high_shelf": "high shelf",
    "level_low_cut": "low cut",
    "level_high_cut": "high cut",
}


def _of(*questions: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question in questions], ids=str)


@_of("mls")
def test_a_maximum_length_sequence_is_one(check: Check) -> None:
    """Golomb 1967; the order of the slate is answered by the slate's own burst."""
    sequences = [
        slate_burst() if order == SLATE_ORDER else max_len_seq(int(order))[0].astype(np.float64) * 2 - 1
        for order in check.many("order")
    ]
    powers = [np.abs(fft.fft(sequence)) ** 2 for sequence in sequences]
    traces = [fft.ifft(power).real for power in powers]
    for sequence, power, trace in zip(sequences, powers, traces, strict=True):
        assert set(sequence.tolist()) == {-1.0, 1.0}
        assert np.ptp(power[1:]) < 1e-4
        assert np.ptp(trace[1:]) < 1e-6
    check.assert_equal(
        {
            "frames": [len(sequence) for sequence in sequences],
            "seconds": [len(sequence) / check.one("rate_hz") for sequence in sequences],
            "of_one_kind": [max(int((s > 0).sum()), int((s < 0).sum())) for s in sequences],
            "top": [float(trace[0]) for trace in traces],
            "elsewhere": [float(trace[1:].mean()) for trace in traces],
            "bin_power": [float(power[1:].mean()) for power in powers],
        }
    )


def _read(offset: float, share_of_band: float) -> float:
    return parabolic_peak(*(float(np.sinc(share_of_band * (at - offset))) for at in (-1, 0, 1)))


@_of("parabola")
def test_what_a_parabola_reads(check: Check) -> None:
    """Formula of the parabola on sin(pi x)/(pi x)."""
    check.assert_equal({"read": _read(check.one("offset"), check.one("share_of_band"))})


@_of("parabola_bias")
def test_how_far_off_a_parabola_is_at_worst(check: Check) -> None:
    """Formula of the parabola, worst over all offsets: good to start from, and no answer."""
    offsets = np.linspace(0, 0.5, 2001)
    worst = [max(abs(_read(at, share) - at) for at in offsets.tolist()) for share in check.many("share_of_band")]
    check.assert_equal({"worst": worst})


@_of("delay_bound")
def test_the_least_error_of_a_delay(check: Check) -> None:
    """Knapp & Carter 1976, Cramer-Rao."""
    bound_s = flat_bound_s(
        check.one("duration_s"), 10 ** (check.one("snr_db") / 10), check.one("low_hz"), check.one("high_hz")
    )
    check.assert_equal({"bound_ns": bound_s * 1e9, "bound_frames": bound_s * check.one("rate_hz")})


@_of("delay_bound")
def test_the_estimator_reaches_the_least_error(check: Check) -> None:
    """Knapp & Carter 1976: over 600 draws of noise delays scatter by the bound, to 10 %."""
    rate, snr = int(check.one("rate_hz")), 10 ** (check.one("snr_db") / 10)
    bins = np.arange(int(check.one("low_hz")), int(check.one("high_hz")) + 1)[:: 1 + int(check.one("high_hz")) // 4000]
    share = len(bins) / (check.one("high_hz") - check.one("low_hz") + 1)  # fewer tones, each with more of the power
    weight = np.full(len(bins), snr / share)
    clean = np.exp(-2j * np.pi / rate * bins * 20.25)
    chance = np.random.default_rng(9)
    size = (600, len(bins))
    noise = (chance.standard_normal(size) + 1j * chance.standard_normal(size)) / np.sqrt(2 * weight)
    errors = [fit_delay(clean + drawn, bins, weight, rate, 20.0).delay_frames - 20.25 for drawn in noise]
    assert float(np.std(errors)) == pytest.approx(check.expect["bound_ns"][0] * 1e-9 * rate, rel=0.1)


@_of("coherence")
def test_coherence_under_noise(check: Check) -> None:
    """Bendat & Piersol, chapter 9."""
    one_side = [coherence_from_snr(10 ** (snr_db / 10)) for snr_db in check.many("snr_db")]
    check.assert_equal({"one_side": one_side, "both_sides": [each**2 for each in one_side]})


@_of("magnitude_error")
def test_random_error_of_a_magnitude(check: Check) -> None:
    """Bendat & Piersol, chapter 9."""
    cases = zip(check.many("coherence"), check.many("averages"), strict=True)
    errors = [magnitude_error(coherence, averages) for coherence, averages in cases]
    check.assert_equal({"error": errors, "error_db": [db_from_gain(1 + error) for error in errors]})


@_of("magnitude_error")
def test_random_error_of_a_magnitude_in_drawn_noise(check: Check) -> None:
    """Magnitudes averaged over drawn noise scatter as the formula says, to 12 %: it holds for small errors."""
    chance = np.random.default_rng(6)
    for coherence, averages in zip(check.many("coherence"), check.many("averages"), strict=True):
        size = (4000, int(averages))
        x, n = (chance.standard_normal(size) + 1j * chance.standard_normal(size) for _ in range(2))
        y = x + n * math.sqrt((1 - coherence) / coherence)
        magnitude = np.abs((y * x.conj()).sum(axis=1)) / (np.abs(x) ** 2).sum(axis=1)
        scatter = float(magnitude.std() / magnitude.mean())
        assert scatter == pytest.approx(magnitude_error(coherence, averages), rel=0.12)


@_of("coherence_left")
def test_coherence_that_a_delay_leaves(check: Check) -> None:
    """Formula; the effect is described by Seybert & Hamilton, J. Sound and Vibration 60(1), 1978."""
    delay, windows = check.one("delay_frames"), [int(frames) for frames in check.many("window_frames")]
    check.assert_equal(
        {
            "rectangular": [coherence_left(delay, frames, "rectangular") for frames in windows],
            "hann": [coherence_left(delay, frames, "hann") for frames in windows],
        }
    )


def _drawn_coherence(delay: int, frames: int, window: Literal["rectangular", "hann"]) -> float:
    chance = np.random.default_rng(frames)
    count = (1 << 20) // frames
    sound = chance.standard_normal(count * frames + delay)
    shape = np.ones(frames) if window == "rectangular" else np.hanning(frames + 1)[:-1]
    first, second = (sound[at : at + count * frames].reshape(count, frames) * shape for at in (delay, 0))
    x, y = fft.rfft(first, axis=1), fft.rfft(second, axis=1)
    both = np.abs((y * x.conj()).mean(axis=0)) ** 2
    return float((both / ((np.abs(x) ** 2).mean(axis=0) * (np.abs(y) ** 2).mean(axis=0))).mean())


@_of("coherence_left_in_noise")
def test_coherence_that_a_delay_leaves_in_drawn_noise(check: Check) -> None:
    """Spectra of drawn noise, averaged with the delay left in, lose what the formula says."""
    delay, windows = int(check.one("delay_frames")), [int(frames) for frames in check.many("window_frames")]
    check.assert_equal(
        {
            "rectangular": [_drawn_coherence(delay, frames, "rectangular") for frames in windows],
            "hann": [_drawn_coherence(delay, frames, "hann") for frames in windows],
        }
    )


@_of("thd")
def test_total_harmonic_distortion(check: Check) -> None:
    """Definition: root of the sum of squares."""
    total_db = thd_db(check.many("harmonics_db"))
    check.assert_equal({"thd_db": total_db, "thd_percent": 100 * gain_from_db(total_db)})


@_of("thd_n")
def test_distortion_and_noise(check: Check) -> None:
    """AES17: what is left beside the signal."""
    total_db = thd_n_db(check.one("distortion_db"), check.one("noise_db"))
    check.assert_equal({"thd_n_db": total_db, "thd_n_percent": 100 * gain_from_db(total_db)})


@_of("drift")
def test_what_a_clock_drifts_by(check: Check) -> None:
    """Formula ppm * 1e-6 * fs."""
    ppm, rate = check.one("ppm"), check.one("rate_hz")
    per_minute = slip_frames_per_minute(ppm, rate)
    check.assert_equal(
        {
            "frames_per_minute": per_minute,
            "one_frame_s": slip_s(ppm, 1, rate),
            "frames_in_two_hours": per_minute * 120,
            "ms_per_hour": per_minute * 60 / rate * 1000,
            "margin_s": slip_s(ppm, check.one("margin_frames"), rate),
        }
    )


@_of("drift_per_minute")
def test_what_other_clocks_drift_by(check: Check) -> None:
    """Formula ppm * 1e-6 * fs."""
    cases = zip(check.many("ppm"), check.many("rate_hz"), strict=True)
    check.assert_equal({"frames_per_minute": [slip_frames_per_minute(ppm, rate) for ppm, rate in cases]})


def _section(check: Check, shape: Shape, turn: int = 1) -> NDArray[np.float64]:
    return biquad(shape, check.one("hz"), RATE, q=check.one("q"), db=turn * check.one("db"))


def _levels(sections: list[NDArray[np.float64]], hz: tuple[float, ...]) -> list[float]:
    return [db_from_gain(float(abs(each))) for each in response(np.array(sections), np.array(hz), RATE)]


@_of(*_COEFFICIENTS)
def test_coefficients_of_the_cookbook(check: Check) -> None:
    """Audio EQ Cookbook, at 48 kHz, divided by a0."""
    section = _section(check, _COEFFICIENTS[check.question])
    check.assert_equal({"b": section[:3].tolist(), "a": section[4:].tolist()})
    assert section[3] == 1.0


@_of(*_LEVELS)
def test_levels_of_the_cookbooks_filters(check: Check) -> None:
    """Audio EQ Cookbook: what the coefficients do on the unit circle."""
    section = _section(check, _LEVELS[check.question])
    check.assert_equal({"level_db": _levels([section], check.many("at_hz"))})


@_of("bell_width")
def test_width_of_a_bell(check: Check) -> None:
    """Audio EQ Cookbook: between the points of half the gain in dB."""
    section, half_db = _section(check, "bell"), check.one("db") / 2

    def over(hz: float) -> float:
        return _levels([section], (hz,))[0] - half_db

    low, high = float(brentq(over, 100, check.one("hz"))), float(brentq(over, check.one("hz"), 10_000))
    check.assert_equal({"low_hz": low, "high_hz": high, "octaves": math.log2(high / low)})


@_of("boost_and_cut")
def test_a_cut_undoes_the_boost(check: Check) -> None:
    """Audio EQ Cookbook: numerator and denominator change places."""
    pair = [_section(check, "bell"), _section(check, "bell", -1)]
    check.assert_equal({"level_db": _levels(pair, check.many("at_hz"))})
