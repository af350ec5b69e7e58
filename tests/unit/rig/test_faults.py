"""The table of faults: each is heard at its smallest size; random rigs say truly what is wrong with them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sidetrip.rig.boxes import Clipper, Compressor, Gate
from sidetrip.rig.faults import COPY_FRAMES, FAULTS, Sent, clean, draw, table
from sidetrip.rig.network import LoopSpec, Recorder, straight
from sidetrip.rig.run import run, ways

RATE_HZ = 48_000
SHORT = Sent(peak_dbfs=-18.0, from_s=0.2, until_s=0.4)
SEEDS = range(200)


def _names() -> list[str]:
    return sorted(FAULTS)


@pytest.mark.parametrize("name", _names())
def test_a_fault_is_heard_at_its_smallest(name: str) -> None:
    """The recording differs from the sound rig's in the loop that is named, or everywhere, and elsewhere in nothing."""
    fault = table(SHORT)[name]
    rig = straight(RATE_HZ, [LoopSpec(300), LoopSpec(400), LoopSpec(500)])
    sent = 0.03 * np.random.default_rng(2).standard_normal((RATE_HZ // 2, 3))
    sent *= 10 ** (-18 / 20) / np.max(np.abs(sent))
    planted = fault.plant(rig, None if fault.scope == "rig" else 1, fault.smallest, np.random.default_rng(1))
    good, bad = (run(each, sent, 1).samples for each in (rig, planted))
    if bad.shape[1] == 3:
        assert name == "no reference"
        return
    frames = min(len(good), len(bad))
    level_db = 20 * np.log10(np.std((bad[:frames] - good[:frames]).astype(np.float64), axis=0) / np.std(good) + 1e-9)
    differs = (level_db > -65).tolist()
    if fault.scope == "loop":
        assert differs == [False, True, False, False]
    elif name == "swapped":
        assert sum(differs) == 2
    elif name == "crosstalk":
        assert sum(differs) == 1
        assert not differs[1]
    else:
        assert differs[:3] == [True, True, True]


@pytest.mark.parametrize(
    ("name", "smallest", "unit"),
    [
        ("late by frames", 2, "frames"),
        ("gain off", 0.5, "dB"),
        ("crosstalk", -60, "dB"),
        ("compressor left on", 2, "ratio"),
        ("saturator left on", 12, "dB"),
        ("clipper", 6, "dB below the peak"),
        ("eq left on", 3, "dB"),
        ("doubled", -20, "dB"),
        ("leak with insert out", -60, "dB"),
        ("other clock on one unit", 20, "ppm"),
        ("frames lost", 64, "frames"),
        ("frames repeated", 64, "frames"),
    ],
)
def test_the_smallest_sizes_are_published(name: str, smallest: float, unit: str) -> None:
    """They are a promise, and do not move unnoticed."""
    assert (FAULTS[name].smallest, FAULTS[name].unit) == (smallest, unit)


def test_levels_are_taken_from_the_signal() -> None:
    """Clipper and gate stand where the peak of the send is, the compressor at its fixed threshold."""
    faults = table(Sent(peak_dbfs=-10.0))
    rig, rng = straight(RATE_HZ, [LoopSpec(300)]), np.random.default_rng(1)
    made = {name: faults[name].plant(rig, 0, 6, rng).boxes[0].processors[0] for name in ("clipper", "gate closed")}
    assert made == {"clipper": Clipper(-16), "gate closed": Gate(-4)}
    assert faults["compressor left on"].plant(rig, 0, 2, rng).boxes[0].processors == (Compressor(-30, 2),)


def test_a_recorder_that_says_44100_runs_at_48000() -> None:
    """The two common rates are mistaken for each other either way."""
    for header_hz, true_hz in ((48_000, 44_100), (44_100, 48_000)):
        rig = straight(header_hz, [LoopSpec(300)], recorder=Recorder(header_hz))
        fault = FAULTS["recorder at another rate"]
        assert fault.plant(rig, None, fault.smallest, np.random.default_rng(1)).recorder.true_rate_hz == true_hz


def test_a_fault_of_a_loop_needs_one() -> None:
    """Without a loop there is nothing to plant it in."""
    with pytest.raises(ValueError, match="inverted needs a loop"):
        FAULTS["inverted"].plant(straight(RATE_HZ, [LoopSpec(300)]), None, 1, np.random.default_rng(1))


def test_a_draw_is_the_same_every_time() -> None:
    """A seed says it all, and the sound rig is that of `clean`."""
    for seed in range(20):
        drawn = draw(seed)
        assert drawn == draw(seed)
        assert clean(seed).rig == drawn.meant == clean(seed).meant
        assert clean(seed).planted == ()


def test_drawn_rigs_are_within_their_limits() -> None:
    """Loops, delays, gains, noise, clocks and starts are in the ranges that are promised, and use them."""
    rigs = [clean(seed).rig for seed in SEEDS]
    boxes = [box for rig in rigs for box in rig.boxes]
    assert {len(rig.boxes) for rig in rigs} == set(range(2, 9))
    assert all(200 <= box.delay_frames <= 1500 for box in boxes)
    assert 0.25 < np.mean([box.delay_frames % 1 > 0 for box in boxes]) < 0.42
    assert all(-6 <= box.gain_db <= 6 for box in boxes)
    noises = [rig.catches[0].noise_dbfs for rig in rigs]
    assert 0.4 < np.mean([level is None for level in noises]) < 0.6
    assert all(-110 <= level <= -70 for level in noises if level is not None)
    assert 0.5 < np.mean([rig.recorder.ppm == 0 for rig in rigs]) < 0.7
    assert all(abs(rig.recorder.ppm) <= 60 for rig in rigs)
    assert all(-3 * RATE_HZ <= rig.recorder.start_frames <= 0 for rig in rigs)
    assert [len(clean(seed, loops=5, rate_hz=44_100).rig.boxes) for seed in range(3)] == [5, 5, 5]


def test_drawn_faults_are_at_least_the_smallest() -> None:
    """Every kind is drawn, none below what must be found, about three in ten rigs without any."""
    drawn = [draw(seed) for seed in SEEDS]
    counts = [len(each.planted) for each in drawn]
    assert set(counts) == {0, 1, 2}
    assert 0.2 < np.mean([count == 0 for count in counts]) < 0.4
    kinds = {planted.kind for each in drawn for planted in each.planted}
    assert kinds == set(FAULTS)
    for each in drawn:
        assert (each.rig == each.meant) == (not each.planted)
        for planted in each.planted:
            assert FAULTS[planted.kind].smallest <= planted.size <= FAULTS[planted.kind].largest
            assert len(planted.loops) == {"loop": 1, "pair": 2, "rig": 0}[FAULTS[planted.kind].scope]


def test_two_faults_do_not_hide_each_other() -> None:
    """They are in different loops, of different kinds, and never in a loop that is no longer caught."""
    for seed in range(1000):
        drawn = draw(seed)
        loops = [loop for planted in drawn.planted for loop in planted.loops]
        kinds = [planted.kind for planted in drawn.planted]
        assert len(set(loops)) == len(loops)
        assert len(set(kinds)) == len(kinds)
        assert "shifted by one" not in kinds or len(drawn.rig.boxes) - 1 not in loops


def test_the_same_faults_without_the_rest_make_the_ways_known() -> None:
    """A doubled return has two ways, at least as far apart as promised and at the drawn level."""
    seeds = [seed for seed in range(400) if any(planted.kind == "doubled" for planted in draw(seed).planted)]
    assert seeds
    for seed in seeds:
        drawn = draw(seed)
        (planted,) = (each for each in drawn.planted if each.kind == "doubled")
        first, second = (way for way in ways(drawn.rig) if way.boxes == planted.loops and not way.inverted)
        assert COPY_FRAMES[0] <= second.delay_frames - first.delay_frames <= COPY_FRAMES[1]
        assert math.isclose(second.gain_db - first.gain_db, planted.size)


def test_a_drawn_rig_can_be_played() -> None:
    """A few of them, with a short signal: one track for every catch, and nothing that is no number."""
    for seed in range(8):
        rig = draw(seed, loops=2, sent=SHORT).rig
        rig = replace(rig, recorder=replace(rig.recorder, start_frames=-100.0))
        sent = 0.1 * np.random.default_rng(seed).standard_normal((RATE_HZ // 2, 2))
        out = run(rig, sent, seed).samples
        assert out.shape[1] == len(rig.catches)
        assert np.isfinite(out).all()
