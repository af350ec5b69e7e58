"""From a recording to facts: clocks, delays, who is who, what moves, and no answer where there is none."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sidetrip.dsp.pairs import Pairs
from sidetrip.prove.measure import Capture, NotHeard, measure
from sidetrip.rig.network import Box, LoopSpec, Recorder, Rig, crosstalk, permuted, silent, straight, with_box
from signals import RATE, Held, Samples, measured, played, recording, signal_of, usual_tones, with_noise

SIGNAL = signal_of(4)
PERIOD = SIGNAL.tones.period_frames
REFERENCE = 4
LOOPS = (
    LoopSpec(300.25, gain_db=-3.0),
    LoopSpec(411.5, gain_db=0.0, inverted=True),
    LoopSpec(1037.0, gain_db=2.0),
    LoopSpec(64.875, gain_db=-6.0),
)
QUIET_DBFS = -100.0


def rig(recorder: Recorder | None = None, *, noise_dbfs: float | None = QUIET_DBFS) -> Rig:
    """Return four loops and a reference."""
    return straight(RATE, LOOPS, noise_dbfs=noise_dbfs, recorder=recorder)


def delays(pairs: Pairs) -> list[float]:
    """Return each loop's delay against the reference, in frames."""
    base = float(pairs.delay_frames[REFERENCE, 0])
    return [float(pairs.delay_frames[loop, loop]) - base for loop in range(len(LOOPS))]


def assert_right(pairs: Pairs | None, frames: float) -> None:
    """Fail unless delays, gains and polarities are those of LOOPS, and nobody is heard where he is not."""
    assert pairs is not None
    assert np.abs(np.array(delays(pairs)) - [loop.delay_frames for loop in LOOPS]).max() <= frames
    gains = [float(pairs.gain_db[loop, loop]) for loop in range(len(LOOPS))]
    assert gains == pytest.approx([loop.gain_db for loop in LOOPS], abs=0.2)
    assert [bool(pairs.inverted[loop, loop]) for loop in range(len(LOOPS))] == [loop.inverted for loop in LOOPS]
    assert pairs.found.sum() == len(LOOPS) + 1
    assert pairs.found[REFERENCE, 0]


@cache
def clean(recorder: Recorder) -> Held:
    """Return what a recorder holds of the straight rig without any noise."""
    return recording(rig(recorder, noise_dbfs=None), SIGNAL)


# Where the recording starts


@pytest.mark.parametrize("start", [-200_001, 0, 40_000, SIGNAL.together - 3000])
def test_a_recording_may_start_before_in_the_slates_or_in_a_ramp(start: int) -> None:
    """Everything is read, and where the test lies in the recording is told to a millisecond."""
    capture = measured(recording(rig(Recorder(RATE, start_frames=start)), SIGNAL), SIGNAL, REFERENCE)
    assert_right(capture.low, 0.001)
    assert_right(capture.high, 0.001)
    assert capture.start_s == pytest.approx((SIGNAL.together - start) / RATE, abs=1e-3)
    assert [track.entry for track in capture.tracks] == [1, 2, 3, 4, 1]


@pytest.mark.parametrize("part", [0.3, 1.5, 3.9, 5.1])
def test_begun_in_the_low_level_the_high_one_is_read(part: float) -> None:
    """A level that is not whole in the recording is left out, the other is read."""
    start = SIGNAL.together + PERIOD + part * PERIOD
    capture = measured(recording(rig(Recorder(RATE, start_frames=round(start))), SIGNAL), SIGNAL, REFERENCE)
    assert capture.low is None
    assert_right(capture.high, 0.001)


@pytest.mark.parametrize("part", [-0.5, 0.5, 2.0, 3.5])
def test_stopped_in_the_high_level_the_low_one_is_read(part: float) -> None:
    """A recording that was stopped too early still tells the low level; there is then no idle noise to tell."""
    length = SIGNAL.sections[1].start + round(part * PERIOD)
    capture = measured(recording(rig(Recorder(RATE, length_frames=length)), SIGNAL), SIGNAL, REFERENCE)
    assert capture.high is None
    assert_right(capture.low, 0.001)
    assert all(math.isnan(track.idle_dbfs) for track in capture.tracks)


@pytest.mark.parametrize(
    ("start", "length"),
    [
        (SIGNAL.together + 3 * PERIOD, 5 * PERIOD),
        (SIGNAL.together + 2 * PERIOD, 2 * PERIOD),
        (SIGNAL.together + 7 * PERIOD, 3 * PERIOD),
        (SIGNAL.together + 9 * PERIOD, 10 * PERIOD),
        (-500_000, 500_000 + SIGNAL.together),
        (0, SIGNAL.slot_frames),
        (0, 100),
    ],
)
def test_where_no_level_is_whole_nothing_is_told(start: int, length: int) -> None:
    """A piece of the test that holds neither level gives a reason and what to do, not a figure."""
    held = recording(rig(Recorder(RATE, start_frames=start, length_frames=length)), SIGNAL)
    found = measure(held, SIGNAL, range(5), REFERENCE)
    assert isinstance(found, NotHeard)
    assert found.why
    assert found.remedy


# What is not the test


def _other_sounds() -> dict[str, Samples]:
    chance = np.random.default_rng(4)
    now = np.arange(10 * RATE) / RATE
    notes = sum(np.sin(2 * np.pi * 110 * 2 ** (k / 12) * now + k) * (np.sin(0.7 * k * now) > 0) for k in (0, 3, 7, 12))
    beats = np.tile(chance.standard_normal(RATE // 2) * np.geomspace(1, 1e-3, RATE // 2), 20)
    step = np.tile(chance.standard_normal(PERIOD), 30) * np.repeat([0.25, 1.0], 15 * PERIOD)
    return {
        "silence": np.zeros((10 * RATE, 2)),
        "noise": chance.standard_normal((10 * RATE, 2)) * 0.1,
        "music": np.stack([notes * 0.1, beats * 0.1], axis=1),
        "something else of its period and levels": np.stack([step, step], axis=1) * 0.05,
        "another test": played(signal_of(4, seed=2)),
        "a test of other periods": played(signal_of(4, 8192)),
        "nothing": np.zeros((0, 2)),
    }


_OTHER_SOUNDS = _other_sounds()


@pytest.mark.parametrize("sound", _OTHER_SOUNDS.values(), ids=_OTHER_SOUNDS)
@pytest.mark.parametrize("reference", [None, 0])
def test_the_test_is_not_heard_where_it_is_not(sound: Samples, reference: int | None) -> None:
    """Silence, noise, music and other tests give a reason in words, never a wrong answer."""
    found = measure(Held(sound.astype(np.float32)), SIGNAL, range(sound.shape[1]), reference)
    assert isinstance(found, NotHeard)
    assert found.why
    assert found.remedy


def test_another_test_is_told_from_no_test_at_all() -> None:
    """What repeats like the test and is another one is said so, and what to do about it."""
    found = measure(Held(played(signal_of(4, seed=2))), SIGNAL, range(4))
    assert isinstance(found, NotHeard)
    assert "not this test" in found.why


# Clocks


@pytest.mark.parametrize("ppm", [-50.0, -5.0, 5.0, 50.0, 7.6, 30.5])
def test_two_clocks_are_told_apart_from_10_db_up(ppm: float) -> None:
    """Delay against the reference to 0.01 frame and drift to 0.1 ppm, in 3 draws at 10 dB and one at 40 dB.

    7.6 and 30.5 ppm make periods end half way between two frames. The ratio is that of the quietest track at the
    high level.
    """
    held = clean(Recorder(RATE, ppm=ppm, start_frames=-10_000))
    for seed, snr_db in enumerate((10, 10, 10, 40)):
        capture = measured(with_noise(held, SIGNAL.levels_dbfs[1] - 6.0 - snr_db, seed), SIGNAL, REFERENCE)
        assert capture.clocks.kind == "two", f"{snr_db} dB, seed {seed}"
        assert capture.clocks.ppm == pytest.approx(ppm, abs=0.1), f"{snr_db} dB, seed {seed}"
        assert_right(capture.high, 0.01)


def test_one_clock_comes_near_the_bound_end_to_end() -> None:
    """Through the whole of it at 40 dB, delays against a clean reference are right to 0.01 frame and scatter by at
    most 1.5 Cramer-Rao bounds over 30 draws, and one clock is called one.
    """
    held = clean(Recorder(RATE, start_frames=-10_000))
    tones, errors = SIGNAL.tones, []
    for seed in range(30):
        noisy = with_noise(held, SIGNAL.levels_dbfs[1] - 6.0 - 40, seed)
        noisy.samples[:, REFERENCE] = held.samples[:, REFERENCE]
        capture = measured(noisy, SIGNAL, REFERENCE)
        assert capture.clocks.kind == "one", f"seed {seed}"
        assert capture.high is not None
        errors.append(delays(capture.high)[3] - LOOPS[3].delay_frames)
    angle = 2 * np.pi * tones.bins(4) / PERIOD
    power = 10**4 / len(angle)  # of one tone, noise over all frequencies being 1
    least = 1 / math.sqrt(SIGNAL.periods * PERIOD * power * float((angle**2).sum()))
    assert math.sqrt(float(np.mean(np.square(errors)))) <= 1.5 * least
    assert max(map(abs, errors)) <= 0.01


def test_a_recorder_that_ran_at_another_rate_than_it_says_is_told() -> None:
    """44.1 kHz labelled as 48 and 48 kHz labelled as 44.1 are called a rate, 1.0884 apart, and delays are right."""
    slow = measured(recording(rig(Recorder(48_000, true_rate_hz=44_100)), SIGNAL), SIGNAL, REFERENCE)
    fast = measured(recording(rig(Recorder(44_100, true_rate_hz=48_000)), SIGNAL), SIGNAL, REFERENCE)
    assert (slow.clocks.kind, fast.clocks.kind) == ("rate", "rate")
    assert 1 / slow.clocks.ratio == pytest.approx(1.0884, abs=0.001)
    assert 1 + fast.clocks.ppm * 1e-6 == pytest.approx(1.0884, abs=0.001)
    for capture in (slow, fast):
        assert_right(capture.high, 0.01)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_a_file_of_another_rate_that_says_so_is_one_clock(rate: int) -> None:
    """Delays are in frames of the signal, and nothing is said of drift."""
    capture = measured(recording(rig(Recorder(rate, start_frames=-777)), SIGNAL), SIGNAL, REFERENCE)
    assert capture.clocks.kind == "one"
    assert capture.clocks.ppm == 0.0
    assert_right(capture.high, 0.005)


def test_another_rate_that_drifts_is_two_clocks() -> None:
    """A file of 96 kHz from a recorder 20 ppm fast is read as such."""
    capture = measured(recording(rig(Recorder(96_000, ppm=20)), SIGNAL), SIGNAL, REFERENCE)
    assert capture.clocks.kind == "two"
    assert capture.clocks.ppm == pytest.approx(20, abs=0.1)
    assert_right(capture.high, 0.005)


# Who is who


def test_who_is_who_at_0_db() -> None:
    """All loops are told apart in every order, noise as strong as the quietest return, in 20 of 20 draws."""
    held = clean(Recorder(RATE, start_frames=-3000))
    for seed in range(20):
        order = np.random.default_rng(seed).permutation(4)
        mixed = Held(held.samples[:, [*order, REFERENCE]])
        capture = measured(with_noise(mixed, SIGNAL.levels_dbfs[1] - 6.0, seed), SIGNAL, REFERENCE)
        assert [track.entry for track in capture.tracks[:4]] == (order + 1).tolist(), f"seed {seed}"


def test_tracks_are_asked_for_in_any_order() -> None:
    """Some tracks, in an order of one's own, come out in that order."""
    held = clean(Recorder(RATE))
    found = measure(held, SIGNAL, [4, 2, 0], 0)
    assert isinstance(found, Capture)
    assert [track.entry for track in found.tracks] == [1, 3, 1]


def test_returns_in_the_wrong_places_are_seen() -> None:
    """A rig patched in another order shows each entry where it comes out."""
    capture = measured(recording(permuted(rig(), [2, 0, 3, 1]), SIGNAL), SIGNAL, REFERENCE)
    assert [track.entry for track in capture.tracks] == [3, 1, 4, 2, 1]


def test_crosstalk_is_found_at_both_levels() -> None:
    """A copy of -60 dB beside a loop's own return is found at its own delay, with its level."""
    long = replace(signal_of(4), tones=usual_tones(4))
    capture = measured(recording(crosstalk(rig(), 0, 1, -57.0), long), long, REFERENCE)
    for pairs in (capture.low, capture.high):
        assert pairs is not None
        assert pairs.gain_db[1, 0] == pytest.approx(-60.0, abs=1.0)
        assert pairs.delay_frames[1, 0] == pytest.approx(pairs.delay_frames[0, 0], abs=0.2)
        assert pairs.found.sum() == 6


def test_a_dead_loop_is_silent() -> None:
    """A return without anything has no entry, and hides no other."""
    capture = measured(recording(silent(rig(), 2), SIGNAL), SIGNAL, REFERENCE)
    assert [track.entry for track in capture.tracks] == [1, 2, None, 4, 1]
    assert capture.tracks[2].stay.motion == "unknown"


def test_a_silent_reference_is_done_without() -> None:
    """When the reference was not armed the test is found by the loudest track."""
    held = clean(Recorder(RATE))
    samples = held.samples.copy()
    samples[:, REFERENCE] = 0
    capture = measured(Held(samples), SIGNAL, REFERENCE)
    assert [track.entry for track in capture.tracks] == [1, 2, 3, 4, None]
    assert capture.high is not None
    apart = float(capture.high.delay_frames[1, 1] - capture.high.delay_frames[0, 0])
    assert apart == pytest.approx(LOOPS[1].delay_frames - LOOPS[0].delay_frames, abs=0.001)


# What moves


def with_fault(loop: int, **fault: object) -> Rig:
    """Return the rig with something wrong in one loop."""
    quiet = rig(noise_dbfs=-90.0)
    box: Box = replace(quiet.boxes[loop], **fault)  # type: ignore[arg-type]
    return with_box(quiet, loop, box)


@pytest.mark.parametrize("ppm", [-50.0, -20.0, 20.0, 50.0])
def test_a_loop_on_its_own_clock_drifts(ppm: float) -> None:
    """Rate to 0.5 ppm, positive where the delay grows; the box is fast where it shrinks. The others stand still."""
    capture = measured(recording(with_fault(1, ppm=-ppm), SIGNAL), SIGNAL, REFERENCE)
    assert [track.stay.motion for track in capture.tracks] == ["still", "drifting", "still", "still", "still"]
    assert capture.tracks[1].stay.ppm == pytest.approx(ppm, abs=0.5)
    assert [track.entry for track in capture.tracks] == [1, 2, 3, 4, 1]
    assert capture.clocks.kind == "one"
    assert capture.high is not None
    assert capture.high.gain_db[1, 1] == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("part", [0.5, 1.5, 6.0, 8.3])
def test_lost_frames_are_a_jump(part: float) -> None:
    """64 frames lost in either level make the loop jump earlier by as many, and no other."""
    at = SIGNAL.sections[0].start + round(part * PERIOD)
    capture = measured(recording(with_fault(2, lost=((at, 64),)), SIGNAL), SIGNAL, REFERENCE)
    assert [track.stay.motion for track in capture.tracks] == ["still", "still", "jumping", "still", "still"]
    assert sum(size for _, size in capture.tracks[2].stay.steps) == pytest.approx(-64, abs=1)
    assert capture.tracks[2].entry == 3


@pytest.mark.parametrize("level", [0, 1])
def test_repeated_frames_are_a_glitch(level: int) -> None:
    """64 frames heard twice, what follows keeping its time, are found in their period and at their place."""
    at = SIGNAL.sections[level].start + 2 * PERIOD + 5000
    capture = measured(recording(with_fault(3, repeated=((at, 64),)), SIGNAL), SIGNAL, REFERENCE)
    assert [track.stay.motion for track in capture.tracks] == ["still"] * 5
    assert [len(track.glitches) for track in capture.tracks] == [0, 0, 0, 1, 0]
    (glitch,) = capture.tracks[3].glitches
    assert glitch.period == 2
    assert abs(glitch.at - 5000) <= 64


def test_a_recorder_that_lost_frames_makes_every_track_jump() -> None:
    """What all tracks lost at one moment is seen on all of them, and delays against the reference stay right."""
    at = SIGNAL.sections[1].start + round(1.5 * PERIOD)
    capture = measured(recording(rig(Recorder(RATE, lost=((at, 64),))), SIGNAL), SIGNAL, REFERENCE)
    assert {track.stay.motion for track in capture.tracks} == {"jumping"}
    assert_right(capture.low, 0.01)
    assert_right(capture.high, 0.01)


@pytest.mark.parametrize("noise_dbfs", [-120.0, -90.0, -60.0, -40.0])
@pytest.mark.parametrize("ppm", [0.0, 50.0])
def test_a_clean_run_has_no_glitch_no_jump_and_no_drift(noise_dbfs: float, ppm: float) -> None:
    """Under any noise, on one clock or two, nothing is made up in 3 draws."""
    held = clean(Recorder(RATE, ppm=ppm, start_frames=-10_000))
    for seed in range(3):
        capture = measured(with_noise(held, noise_dbfs, seed), SIGNAL, REFERENCE)
        assert [track.stay.motion for track in capture.tracks] == ["still"] * 5, f"seed {seed}"
        assert not any(track.glitches for track in capture.tracks), f"seed {seed}"
        assert all(track.clipped == 0 for track in capture.tracks)


# The tracks themselves


def test_noise_and_peaks_are_told_by_track() -> None:
    """Idle noise to half a dB, and the peak of the high level."""
    held = with_noise(clean(Recorder(RATE)), -70.0, 5)
    capture = measured(held, SIGNAL, REFERENCE)
    for number, track in enumerate(capture.tracks):
        assert track.idle_dbfs == pytest.approx(-70.0, abs=0.5)
        peak = float(np.abs(held.samples[:, number]).max())
        assert track.peak_dbfs == pytest.approx(20 * math.log10(peak), abs=0.5)


def test_clipped_samples_are_counted() -> None:
    """A track recorded too hot says how often it reached full scale."""
    held = clean(Recorder(RATE))
    hot = Held(np.clip(held.samples * np.float32(12), -1, 1))
    capture = measured(hot, SIGNAL, REFERENCE)
    loud = slice(SIGNAL.sections[1].start, SIGNAL.sections[1].start + SIGNAL.periods * PERIOD)
    assert capture.tracks[2].clipped == pytest.approx(int((np.abs(hot.samples[loud, 2]) >= 1).sum()), rel=0.05)
    assert capture.tracks[2].clipped > 100
    assert capture.tracks[3].clipped == 0
    assert capture.tracks[2].distortion_db > -40


def test_progress_tells_what_is_done() -> None:
    """Each step is named once, in order."""
    steps: list[str] = []
    measure(clean(Recorder(RATE)), SIGNAL, range(5), REFERENCE, steps.append)
    assert steps == ["looking for the test", "measuring its clock", "reading the tracks", "telling them apart"]
