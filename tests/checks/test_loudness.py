"""sidetrip's loudness against ITU-R BS.1770-4 and EBU Tech 3341 (loudness.toml)."""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import sosfreqz

from checks.loader import Check, load
from sidetrip.dsp.loudness import integrated_lufs, k_weighting

CHECKS = load("loudness")
RATE = 48_000


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


def _tone(hertz: float, levels_dbfs: Sequence[float], seconds: Sequence[float]) -> NDArray[np.float64]:
    """Return a tone whose phase goes on where its level changes, its peak at these levels."""
    gains = [
        np.full(round(RATE * length), 10 ** (level / 20)) for level, length in zip(levels_dbfs, seconds, strict=True)
    ]
    gain = np.concatenate(gains)
    return np.asarray(gain * np.sin(2 * np.pi * hertz / RATE * np.arange(len(gain))))


def _stereo(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([sound, sound], axis=1)


@_of("k_weighting")
def test_k_weighting_has_the_published_coefficients(check: Check) -> None:
    """ITU-R BS.1770-4, Annex 1, and the same filters at 44.1 kHz."""
    shelf, high_pass = k_weighting(round(check.one("rate_hz"))).tolist()
    check.assert_equal({"shelf": shelf, "high_pass": high_pass})


@_of("k_gain")
def test_k_weighting_weighs_as_published(check: Check) -> None:
    """Response of the standard's coefficients."""
    _, h = sosfreqz(k_weighting(RATE), check.many("hertz"), fs=RATE)
    check.assert_equal({"gain_db": (20 * np.log10(np.abs(h))).tolist()})


@_of("calibration")
def test_a_full_scale_tone_reads_what_the_standard_says(check: Check) -> None:
    """ITU-R BS.1770-4: 997 Hz at full scale in one channel reads -3.01."""
    tone = _tone(check.one("hertz"), [0.0], [check.one("seconds")])
    check.assert_equal({"one_lufs": integrated_lufs(tone, RATE), "two_lufs": integrated_lufs(_stereo(tone), RATE)})


@_of("wanted_reading")
def test_tones_of_many_pitches_read_alike(check: Check) -> None:
    """ITU-R BS.2217's frequencies at levels that undo the weighting."""
    pairs = zip(check.many("hertz"), check.many("level_dbfs"), strict=True)
    found = [integrated_lufs(_stereo(_tone(hertz, [level], [20.0])), RATE) for hertz, level in pairs]
    check.assert_equal({"lufs": found})


@_of("minimum_requirement")
def test_the_minimum_requirement_signals(check: Check) -> None:
    """EBU Tech 3341, signals 1 to 5, made here: 1 kHz on both sides."""
    tone = _tone(1000.0, check.many("level_dbfs"), check.many("seconds"))
    check.assert_equal({"lufs": integrated_lufs(_stereo(tone), RATE)})
