"""Where the signal lies in a recording that was started anywhere."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sidetrip.dsp.locate import locate
from signals import RATE, Samples, played, signal_of, tones_of

SIGNAL = signal_of(3)
PERIOD = SIGNAL.tones.period_frames


def _one(entry: int = 2, noise: float = 0.0, seed: int = 0) -> Samples:
    sound = played(SIGNAL)[:, entry - 1]
    return sound + np.float32(noise) * np.random.default_rng(seed).standard_normal(len(sound), dtype=np.float32)


@pytest.mark.parametrize("entry", [1, 2, 3])
@pytest.mark.parametrize("silence", [0, 1, 12_345, 200_000])
def test_the_start_is_found_to_the_frame(entry: int, silence: int) -> None:
    """However long the recording ran before, and whichever entry it holds."""
    found = locate(np.concatenate([np.zeros(silence, dtype=np.float32), _one(entry)]), SIGNAL)
    assert found is not None
    assert (found.start, found.entry) == (silence + SIGNAL.together, entry)
    assert found.misfit < 0.05


def test_an_inverted_and_quiet_copy_is_found() -> None:
    """Polarity and gain do not matter."""
    found = locate(_one() * np.float32(-0.01), SIGNAL)
    assert found is not None
    assert found.start == SIGNAL.together


@pytest.mark.parametrize(
    "cut",
    [0, SIGNAL.together // 3, SIGNAL.together - 20_000, SIGNAL.together + 100, SIGNAL.sections[0].start + PERIOD // 3],
    ids=["before the slate", "in the slates", "in the last ramp", "just behind the start", "in the low level"],
)
def test_a_recording_may_begin_anywhere(cut: int) -> None:
    """Begun in slates, ramps or the low level, the start is still told, before the recording or in it."""
    found = locate(_one()[cut:], SIGNAL)
    assert found is not None
    assert found.start == SIGNAL.together - cut


@pytest.mark.parametrize("periods", [-3, -1, 0, 1, 3])
def test_a_recording_may_end_early(periods: int) -> None:
    """Stopped in the low level or in the high one, what is there still tells which period is which."""
    found = locate(_one()[: SIGNAL.sections[1].start + periods * PERIOD + PERIOD // 3], SIGNAL)
    assert found is not None
    assert found.start == SIGNAL.together


@pytest.mark.parametrize("cut", range(1, 14))
def test_a_place_is_right_or_not_told(cut: int) -> None:
    """Begun and ended anywhere, the true place is given or none: a stretch of one level tells nothing."""
    for stop in range(cut + 2, 16):
        first = SIGNAL.together + cut * PERIOD - 2 * PERIOD - 777
        found = locate(_one(noise=1e-4)[first : SIGNAL.together + stop * PERIOD - 2 * PERIOD + 500], SIGNAL)
        assert found is None or found.start == SIGNAL.together - first, f"up to {stop}"


def test_a_limiter_that_levels_both_out_hides_nothing() -> None:
    """Where the low level comes back as loud as the high one, the ends still tell the place."""
    sound = _one().copy()
    step = SIGNAL.sections[1].start - PERIOD
    sound[SIGNAL.together : step] *= 4
    found = locate(sound, SIGNAL)
    assert found is not None
    assert found.start == SIGNAL.together


@pytest.mark.parametrize("slip", range(1, 11))
def test_frames_lost_on_the_way_do_not_move_the_place(slip: int) -> None:
    """Where 64 frames were lost, the place is right by the tones before that, or by those behind."""
    sound = np.delete(_one(), np.arange(SIGNAL.together + slip * PERIOD, SIGNAL.together + slip * PERIOD + 64))
    found = locate(sound, SIGNAL)
    assert found is not None
    assert found.start in (SIGNAL.together, SIGNAL.together - 64)


def test_the_start_is_found_at_0_db() -> None:
    """In noise as strong as the high level, the start is right in 20 of 20 draws."""
    level = 10 ** (SIGNAL.levels_dbfs[1] / 20) * math.sqrt(0.5)
    for seed in range(20):
        found = locate(_one(noise=level, seed=seed), SIGNAL)
        assert found is not None, f"seed {seed}"
        assert (found.start, found.entry) == (SIGNAL.together, 2), f"seed {seed}"


def test_a_mix_of_all_entries_is_found_by_one_of_them() -> None:
    """A track that carries every entry tells the start as well."""
    found = locate(played(SIGNAL).sum(axis=1), SIGNAL)
    assert found is not None
    assert found.start == SIGNAL.together


def _elsewhere() -> dict[str, Samples]:
    chance = np.random.default_rng(4)
    now = np.arange(10 * RATE) / RATE
    notes = sum(np.sin(2 * np.pi * 110 * 2 ** (k / 12) * now + k) * (np.sin(0.7 * k * now) > 0) for k in (0, 3, 7, 12))
    beat = np.tile(chance.standard_normal(PERIOD), len(now) // PERIOD)
    other = played(signal_of(3, seed=2))[:, 0]
    sounds = {
        "silence": np.zeros(10 * RATE),
        "noise": chance.standard_normal(10 * RATE) * 0.1,
        "music": notes * 0.1,
        "a loop as long as the period": beat * 0.1,
        "another test": other,
        "no time at all": np.zeros(0),
        "less than two periods": played(SIGNAL)[: PERIOD + 99, 0],
    }
    return {name: np.asarray(sound, dtype=np.float32) for name, sound in sounds.items()}


_ELSEWHERE = _elsewhere()


@pytest.mark.parametrize("sound", _ELSEWHERE.values(), ids=_ELSEWHERE)
def test_the_signal_is_not_found_where_it_is_not(sound: Samples) -> None:
    """Silence, noise, music, something else that repeats in step and another test are not taken for it."""
    assert locate(sound, SIGNAL) is None


def test_tones_that_go_on_at_one_level_are_not_the_test() -> None:
    """The right tones without the step between two levels, as from a loop of one period, are refused."""
    forever = np.tile(tones_of(3).period(1) * 0.05, 60).astype(np.float32)
    assert locate(forever, SIGNAL) is None
