"""Whole recordings: where sound lands, on which clock, with which noise, and that a seed says it all."""

from dataclasses import replace

import numpy as np
import pytest

from sidetrip.rig import network
from sidetrip.rig.boxes import Saturator
from sidetrip.rig.network import Box, Catch, Feed, LoopSpec, Recorder, Rig, straight
from sidetrip.rig.recorder import Sound
from sidetrip.rig.run import run
from sidetrip.units import dbfs_from_rms, gain_from_db

RATE_HZ = 48_000
CLICK_AT = 1000


def _click(entries: int = 1, frames: int = 4000) -> Sound:
    """One frame at a different place and level in each entry."""
    sent = np.zeros((frames, entries))
    for entry in range(entries):
        sent[CLICK_AT + 100 * entry, entry] = 0.5 / (1 + entry)
    return sent


def _tone(frequency_hz: float, seconds: float) -> Sound:
    now = np.arange(round(seconds * RATE_HZ))
    return np.asarray(0.5 * np.sin(2 * np.pi * frequency_hz / RATE_HZ * now)[:, None])


def _frequency_hz(sound: Sound, rate_hz: int) -> float:
    """Frequency of one tone, from the turn of its phase between two quarters of the sound."""
    quarter = len(sound) // 4
    window = np.hanning(quarter)
    now = np.arange(quarter)
    spectrum = np.abs(np.fft.rfft(sound[quarter : 2 * quarter] * window, 8 * quarter))
    guess = float(np.argmax(spectrum)) / (8 * quarter)
    for lag in (16, quarter // 64, quarter):  # wider and wider, so that whole turns are never in doubt
        first, second = (
            np.sum(sound[start : start + quarter] * window * np.exp(-2j * np.pi * guess * (now + start)))
            for start in (quarter, quarter + lag)
        )
        guess += float(np.angle(second / first)) / (2 * np.pi * lag)
    return guess * rate_hz


def _delay_frames(sound: Sound, frequency_hz: float, start: int, frames: int) -> float:
    """How late a sine is in a short stretch, within one of its periods."""
    now = np.arange(start, start + frames)
    turn = np.mean(
        sound[start : start + frames] * np.hanning(frames) * np.exp(-2j * np.pi * frequency_hz / RATE_HZ * now)
    )
    return float(-np.angle(turn * 1j) / (2 * np.pi * frequency_hz / RATE_HZ))


def test_every_click_lands_where_its_loop_puts_it() -> None:
    """Delay, level and polarity are exact at whole frames, the reference is the entry itself, all else is silence."""
    rig = straight(RATE_HZ, [LoopSpec(300, gain_db=-6), LoopSpec(500, inverted=True)])
    out = run(rig, _click(2), 1)
    assert out.rate_hz == RATE_HZ
    assert out.samples.dtype == np.float32
    assert [np.flatnonzero(track).tolist() for track in out.samples.T] == [[1300], [1600], [1000]]
    assert out.samples[1300, 0] == pytest.approx(0.5 * gain_from_db(-6))
    assert out.samples[1600, 1] == pytest.approx(-0.25)
    assert out.samples[1000, 2] == 0.5


def test_a_recording_lasts_until_all_is_back() -> None:
    """As long as the signal, the longest way and a tenth of a second."""
    rig = straight(RATE_HZ, [LoopSpec(300), LoopSpec(700)])
    assert len(run(rig, _click(2), 1).samples) == 4000 + 700 + 4800


@pytest.mark.parametrize("start_frames", [-2500, -1, 0, 600])
def test_a_recording_that_starts_elsewhere_is_moved(start_frames: int) -> None:
    """What is played lands so many frames earlier in the file; before the signal there is silence."""
    rig = straight(RATE_HZ, [LoopSpec(300)], recorder=Recorder(RATE_HZ, start_frames=start_frames))
    out = run(rig, _click(), 1).samples
    assert [np.flatnonzero(track).tolist() for track in out.T] == [[1300 - start_frames], [1000 - start_frames]]


def test_a_recording_may_start_between_frames() -> None:
    """Half a frame later, the sine is half a frame earlier."""
    rig = straight(RATE_HZ, [LoopSpec(0.25)], recorder=Recorder(RATE_HZ, start_frames=100.5))
    out = run(rig, _tone(1000, 0.5), 1).samples.astype(np.float64)
    now = np.arange(1000, 20_000) + 100.5
    assert out[1000:20_000, 0] == pytest.approx(0.5 * np.sin(2 * np.pi * 1000 / RATE_HZ * (now - 0.25)), abs=1e-6)


def test_a_recording_that_starts_too_late_is_refused() -> None:
    """There would be nothing in it, unless a length is asked for."""
    rig = straight(RATE_HZ, [LoopSpec(300)], recorder=Recorder(RATE_HZ, start_frames=20_000))
    with pytest.raises(ValueError, match="when all of it has come back"):
        run(rig, _click(), 1)
    longer = replace(rig, recorder=replace(rig.recorder, length_frames=50))
    assert not run(longer, _click(), 1).samples.any()


@pytest.mark.parametrize("lost", [(), ((1100, 64),)])
def test_a_file_has_the_length_that_is_asked_for(lost: tuple[network.Slip, ...]) -> None:
    """Shorter or longer than the signal, with frames lost or without."""
    for length_frames in (1500, 30_000):
        recorder = Recorder(RATE_HZ, length_frames=length_frames, lost=lost)
        assert len(run(straight(RATE_HZ, [LoopSpec(300)], recorder=recorder), _click(), 1).samples) == length_frames


@pytest.mark.parametrize("ppm", [60.0, -60.0])
def test_a_fast_unit_shrinks_its_delay(ppm: float) -> None:
    """Over 20 s the delay changes by -ppm millionths of the time, and the pitch rises by ppm."""
    rig = straight(RATE_HZ, [LoopSpec(480, ppm=ppm)], reference=False)
    out = run(rig, _tone(100, 20), 1).samples[:, 0].astype(np.float64)
    early, late = (_delay_frames(out, 100, start, 9600) for start in (9600, 19 * RATE_HZ))
    assert late - early == pytest.approx(-ppm * 1e-6 * (19 * RATE_HZ - 9600), abs=0.02)
    assert _frequency_hz(out, RATE_HZ) == pytest.approx(100 * (1 + ppm * 1e-6), rel=1e-8)


def test_a_units_clock_agrees_where_the_signal_starts() -> None:
    """The delay of a drifting unit is delay_frames at frame 0, wherever the recording starts."""
    for start_frames in (0, -7000):
        recorder = Recorder(RATE_HZ, start_frames=start_frames)
        rig = straight(RATE_HZ, [LoopSpec(480, ppm=50)], reference=False, recorder=recorder)
        out = run(rig, _tone(100, 2), 1).samples[-start_frames:, 0].astype(np.float64)
        middle = 4800 + 4800
        assert _delay_frames(out, 100, 4800, 9600) == pytest.approx(-50e-6 * middle, abs=0.005)


@pytest.mark.parametrize("ppm", [60.0, -60.0])
def test_a_fast_recorder_takes_more_frames(ppm: float) -> None:
    """All of it lasts longer by ppm and sounds lower by ppm, the reference too."""
    rig = straight(RATE_HZ, [LoopSpec(480)], recorder=Recorder(RATE_HZ, ppm=ppm))
    out = run(rig, _tone(1000, 10), 1).samples.astype(np.float64)
    assert len(out) == pytest.approx((10 * RATE_HZ + 480 + 4800) * (1 + ppm * 1e-6), abs=1)
    for track in out.T:
        assert _frequency_hz(track[: 10 * RATE_HZ - 2000], RATE_HZ) == pytest.approx(1000 / (1 + ppm * 1e-6), rel=1e-8)


def test_a_recorder_at_another_rate_plays_too_fast() -> None:
    """Run at 44.1 kHz under a header of 48 kHz, 1000 Hz becomes 1088.4 Hz, and all of it is shorter."""
    rig = straight(RATE_HZ, [LoopSpec(480)], recorder=Recorder(RATE_HZ, true_rate_hz=44_100))
    out = run(rig, _tone(1000, 4), 1)
    assert out.rate_hz == RATE_HZ
    assert len(out.samples) == pytest.approx((4 * RATE_HZ + 5280) * 147 / 160, abs=1)
    got_hz = _frequency_hz(out.samples[: 40 * 4096, 1].astype(np.float64), RATE_HZ)
    assert got_hz == pytest.approx(1000 * 160 / 147, rel=1e-7)
    assert round(got_hz, 1) == 1088.4


def test_a_recorder_with_a_true_header_keeps_the_pitch() -> None:
    """A file of 96 kHz of a rig at 48 kHz holds the same tone."""
    rig = straight(RATE_HZ, [LoopSpec(480)], recorder=Recorder(96_000))
    out = run(rig, _tone(1000, 2), 1)
    assert out.rate_hz == 96_000
    assert _frequency_hz(out.samples[: 4 * 40_000, 0].astype(np.float64), 96_000) == pytest.approx(1000, rel=1e-7)


@pytest.mark.parametrize("start_frames", [0, -3000])
def test_a_unit_loses_and_repeats_exact_frames(start_frames: int) -> None:
    """Counted from the start of the signal: what follows a loss is early, what follows a repeat is on time."""
    sent = np.arange(1.0, 4001.0)[:, None] / 8192
    rig = straight(RATE_HZ, [LoopSpec(0)], recorder=Recorder(RATE_HZ, start_frames=start_frames))
    box = replace(rig.boxes[0], lost=((2000, 64),), repeated=((1000, 64),))
    out = run(network.with_box(rig, 0, box), sent, 1).samples[-start_frames:]
    frames = np.rint(out[:4000, 0] * 8192).astype(int)
    wanted = np.arange(1, 4001)
    wanted[1000:1064] = np.arange(937, 1001)
    assert frames.tolist() == [*wanted[:2000], *wanted[2064:], *[0] * 64]
    assert np.array_equal(out[:4000, 1], sent[:, 0].astype(np.float32))


def test_a_recorder_loses_and_repeats_on_all_tracks() -> None:
    """Counted in the file; the reference jumps with the returns."""
    sent = np.arange(1.0, 4001.0)[:, None] / 8192
    recorder = Recorder(RATE_HZ, start_frames=-500, lost=((2500, 64),), repeated=((1500, 10),))
    out = run(straight(RATE_HZ, [LoopSpec(0)], recorder=recorder), sent, 1).samples
    assert len(out) == 500 + 4000 + 4800 - 64
    for track in out.T:
        frames = np.rint(track * 8192).astype(int)[500:]
        assert frames[995:1015].tolist() == [*range(996, 1001), *range(991, 1001), *range(1011, 1016)]
        assert frames[1998:2002].tolist() == [1999, 2000, 2065, 2066]


@pytest.mark.parametrize("level_dbfs", [-100.0, -70.0])
def test_catches_and_boxes_have_their_noise(level_dbfs: float) -> None:
    """Each alone within 0.1 dB, before the signal too, and of two tracks not the same."""
    silence = np.zeros((100_000, 2))
    recorder = Recorder(RATE_HZ, start_frames=-20_000)
    loops = [LoopSpec(300.5, noise_dbfs=level_dbfs)] * 2
    of_boxes = run(straight(RATE_HZ, loops, reference=False, recorder=recorder), silence, 1).samples
    quiet = [LoopSpec(300.5)] * 2
    of_catches = run(straight(RATE_HZ, quiet, noise_dbfs=level_dbfs, recorder=recorder), silence, 1).samples
    for track in (*of_boxes.T, *of_catches.T):
        assert dbfs_from_rms(float(np.std(track.astype(np.float64)))) == pytest.approx(level_dbfs, abs=0.1)
        assert dbfs_from_rms(float(np.std(track[:20_000].astype(np.float64)))) == pytest.approx(level_dbfs, abs=0.15)
    for tracks in (of_boxes, of_catches):
        first, second = tracks.T[:2].astype(np.float64)
        assert abs(np.mean(first * second)) < 0.02 * np.mean(first * first)


def test_a_seed_says_it_all() -> None:
    """The same seed gives the same bytes, another seed others, and a change in one loop leaves the noise elsewhere."""
    rig = straight(RATE_HZ, [LoopSpec(300.5, noise_dbfs=-80), LoopSpec(400)], noise_dbfs=-90)
    first, again, other = (run(rig, _click(2), seed).samples for seed in (7, 7, 8))
    assert first.tobytes() == again.tobytes()
    assert first.tobytes() != other.tobytes()
    changed = run(network.silent(rig, 0), _click(2), 7).samples
    assert np.array_equal(changed[:, 1:], first[:, 1:])


def test_a_dead_unit_gives_nothing() -> None:
    """Not even its noise; its track keeps its own."""
    rig = network.silent(straight(RATE_HZ, [LoopSpec(300, noise_dbfs=-40)]), 0)
    assert not run(rig, _click(), 1).samples[:, 0].any()


def test_boxes_are_played_in_the_order_of_their_feeds() -> None:
    """A chain that is written backwards bends the sound first and turns it down afterwards."""
    boxes = (
        Box("down", (Feed(("box", 1)),), delay_frames=7, gain_db=-20),
        Box("bend", (Feed(("entry", 0), gain_db=20),), delay_frames=5, processors=(Saturator(0),)),
    )
    rig = Rig(RATE_HZ, 1, boxes, (Catch("c", (Feed(("box", 0)),)),), Recorder(RATE_HZ))
    out = run(rig, _click(), 1).samples
    assert np.flatnonzero(out[:, 0]).tolist() == [1012]
    assert out[1012, 0] == pytest.approx(np.tanh(5) / 10)


def test_feeds_add_up() -> None:
    """Two copies of one entry cancel when one is inverted, and a box that is heard twice is not changed by it."""
    boxes = (Box("a", (Feed(("entry", 0)), Feed(("entry", 0), inverted=True, delay_frames=3))),)
    catches = (
        Catch("sum", (Feed(("entry", 0)), Feed(("entry", 0), inverted=True))),
        Catch("a", (Feed(("box", 0)),)),
        Catch("a later", (Feed(("box", 0), gain_db=-6, delay_frames=2),)),
        Catch("empty", ()),
    )
    out = run(Rig(RATE_HZ, 1, boxes, catches, Recorder(RATE_HZ)), _click(), 1).samples
    assert not out[:, 0].any()
    assert out[[1000, 1003], 1].tolist() == [0.5, -0.5]
    assert out[[1002, 1005], 2] == pytest.approx(np.array([0.5, -0.5]) * gain_from_db(-6))
    assert not out[:, 3].any()


def test_a_feed_may_come_early() -> None:
    """A negative delay is earlier, even before the signal starts."""
    catch = Catch("early", (Feed(("entry", 0), delay_frames=-1500),))
    out = run(Rig(RATE_HZ, 1, (), (catch,), Recorder(RATE_HZ, start_frames=-800)), _click(), 1).samples
    assert np.flatnonzero(out[:, 0]).tolist() == [300]


def test_bits_clip_and_round_the_file() -> None:
    """Above full scale is cut, and every sample is a step of 16 bits; without bits the file goes over."""
    sent = _tone(997, 0.1)
    rig = straight(RATE_HZ, [LoopSpec(3, gain_db=12)])
    assert np.max(run(rig, sent, 1).samples) > 1.9
    out = run(replace(rig, recorder=Recorder(RATE_HZ, bits=16)), sent, 1).samples.astype(np.float64)
    assert np.max(out) == 1 - 2.0**-15
    assert np.min(out) == -1
    assert np.array_equal(out * 2**15, np.rint(out * 2**15))


def test_a_signal_of_another_shape_is_refused() -> None:
    """There must be one channel for each entry."""
    with pytest.raises(ValueError, match=r"is \(4000, 2\), not frames by 1 entries"):
        run(straight(RATE_HZ, [LoopSpec(3)]), _click(2), 1)
