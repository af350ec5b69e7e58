"""Play a signal through a rig: what its recorder then holds, and by which ways everything got there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sidetrip.rig.boxes import processed, processor_delay_frames
from sidetrip.rig.network import Box, Feed, Rig, Slip, Source
from sidetrip.rig.recorder import HALF_TAPS, Sound, delayed, edited, noise, read_at, rounded
from sidetrip.units import gain_from_db

_TAIL_S = 0.1
"""Recorded after the last sound has come back, for what rings on."""

_MARGIN_FRAMES = 2 * HALF_TAPS + 2  # the interpolator rings this far before and after a sound


@dataclass(frozen=True, slots=True)
class Way:
    """One way of an entry to a catch: through which boxes, how late (frames), how loud (dB) and in which polarity.

    What processors do to level is not in it, nor what clocks and slips do to time.
    """

    entry: int
    catch: int
    boxes: tuple[int, ...]
    delay_frames: float
    gain_db: float
    inverted: bool


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """What the recorder's file holds: samples (frames, catches) in which 1.0 is full scale, and the header's rate."""

    samples: npt.NDArray[np.float32]
    rate_hz: int


@dataclass(frozen=True, slots=True)
class _Span:
    """The frames that are computed: `frames` of them, the first `first` frames after the signal starts."""

    first: int
    frames: int


def ways(rig: Rig) -> tuple[Way, ...]:
    """Return every way of an entry to a catch, by catch, in the order of its feeds; a dead box ends a way."""
    through: dict[Source, list[Way]] = {
        ("entry", entry): [Way(entry, -1, (), 0.0, 0.0, False)] for entry in range(rig.entries)
    }
    for number in rig.order:
        box = rig.boxes[number]
        delay_frames = box.delay_frames + sum(map(processor_delay_frames, box.processors))
        through["box", number] = [
            Way(
                way.entry,
                -1,
                (*way.boxes, number),
                way.delay_frames + delay_frames,
                way.gain_db + box.gain_db,
                way.inverted != box.inverted,
            )
            for way in _after(box.feeds, through, -1)
            if not box.dead
        ]
    return tuple(way for number, catch in enumerate(rig.catches) for way in _after(catch.feeds, through, number))


def run(rig: Rig, sent: npt.ArrayLike, seed: int) -> Recorded:
    """Return the recording of a signal (frames, entries) that is played through a rig.

    All noise comes from `seed`. Each box and catch has its own, so that a change elsewhere leaves it as it is.
    """
    signal = np.asarray(sent, dtype=np.float64)
    if signal.ndim != 2 or signal.shape[1] != rig.entries:
        raise ValueError(f"The signal is {signal.shape}, not frames by {rig.entries} entries. Give one channel each.")
    recorder = rig.recorder
    true_rate_hz = recorder.rate_hz if recorder.true_rate_hz is None else recorder.true_rate_hz
    step_frames = rig.rate_hz / (true_rate_hz * (1 + recorder.ppm * 1e-6))
    end_frames = _end_frames(rig, len(signal))
    count = _file_frames(rig, end_frames, step_frames)
    span = _span(rig, max(end_frames, recorder.start_frames + count * step_frames))
    sounds = _sounds(rig, signal, span, seed)
    tracks = np.empty((count, len(rig.catches)))
    for number, catch in enumerate(rig.catches):
        track = _taken(_added(catch.feeds, sounds, span), recorder.start_frames - span.first, step_frames, count)
        if catch.noise_dbfs is not None:
            track = track + noise(count, catch.noise_dbfs, np.random.default_rng([seed, 1, number]))
        tracks[:, number] = track
    tracks = rounded(edited(tracks, recorder.lost, recorder.repeated), recorder.bits)
    return Recorded(tracks.astype(np.float32), recorder.rate_hz)


def _after(feeds: Sequence[Feed], through: dict[Source, list[Way]], catch: int) -> list[Way]:
    return [
        Way(
            way.entry,
            catch,
            way.boxes,
            way.delay_frames + feed.delay_frames,
            way.gain_db + feed.gain_db,
            way.inverted != feed.inverted,
        )
        for feed in feeds
        for way in through[feed.source]
    ]


def _end_frames(rig: Rig, sent_frames: int) -> float:
    """Frames after the signal starts at which everything has come back."""
    latest = sent_frames + max((way.delay_frames for way in ways(rig)), default=0.0)
    slowest = sum(max(-box.ppm, 0.0) for box in rig.boxes) * 1e-6
    return latest * (1 + slowest) + _TAIL_S * rig.rate_hz


def _file_frames(rig: Rig, end_frames: float, step_frames: float) -> int:
    """Frames that the recorder takes, with those that it then loses."""
    recorder = rig.recorder
    if recorder.length_frames is not None:
        return recorder.length_frames + _frames_lost(recorder.lost)
    if end_frames <= recorder.start_frames:
        raise ValueError(
            f"The recording starts {recorder.start_frames} frames after the signal, when all of it has come back. "
            "Start it earlier, or give its length."
        )
    return math.ceil((end_frames - recorder.start_frames) / step_frames)


def _span(rig: Rig, end_frames: float) -> _Span:
    feeds = [feed for fed in (rig.boxes, rig.catches) for place in fed for feed in place.feeds]
    delays_frames = [box.delay_frames for box in rig.boxes] + [feed.delay_frames for feed in feeds]
    early = sum(max(-delay_frames, 0.0) for delay_frames in delays_frames)
    lost = sum(_frames_lost(box.lost) for box in rig.boxes)
    first = math.floor(min(0.0, rig.recorder.start_frames) - early) - _MARGIN_FRAMES
    return _Span(first, math.ceil(end_frames) + lost + _MARGIN_FRAMES - first)


def _frames_lost(lost: Sequence[Slip]) -> int:
    return sum(frames for _, frames in lost)


def _sounds(rig: Rig, signal: Sound, span: _Span, seed: int) -> dict[Source, Sound]:
    """Return what comes out of every entry and every box."""
    sounds: dict[Source, Sound] = {}
    for entry in range(rig.entries):
        sound = np.zeros(span.frames)
        sound[-span.first : len(signal) - span.first] = signal[:, entry]
        sounds["entry", entry] = sound
    for number in rig.order:
        rng = np.random.default_rng([seed, 0, number])
        sounds["box", number] = _given_back(rig.boxes[number], sounds, span, rig.rate_hz, rng)
    return sounds


def _given_back(box: Box, sounds: dict[Source, Sound], span: _Span, rate_hz: float, rng: np.random.Generator) -> Sound:
    if box.dead:
        return np.zeros(span.frames)
    sound = _added(box.feeds, sounds, span)
    for processor in box.processors:
        sound = processed(sound, processor, rate_hz)
    gain = gain_from_db(box.gain_db) * (-1 if box.inverted else 1)
    if gain != 1:
        sound = sound * gain
    if box.ppm:
        pace = 1 + box.ppm * 1e-6
        # The clocks agree where the signal starts, which is -span.first frames into what is computed.
        sound = read_at(sound, span.first * pace - box.delay_frames - span.first, pace, span.frames)
    else:
        sound = delayed(sound, box.delay_frames)
    if box.noise_dbfs is not None:
        sound = sound + noise(span.frames, box.noise_dbfs, rng)
    slipped = edited(sound, _counted(box.lost, span), _counted(box.repeated, span))
    return np.pad(slipped, (0, span.frames - len(slipped)))


def _counted(slips: Sequence[Slip], span: _Span) -> list[Slip]:
    return [(at_frame - span.first, frames) for at_frame, frames in slips]


def _added(feeds: Sequence[Feed], sounds: dict[Source, Sound], span: _Span) -> Sound:
    """Return the sum of feeds; it may be the very signal that a box gave out, so it is never written to."""
    total: Sound | None = None
    for feed in feeds:
        sound = delayed(sounds[feed.source], feed.delay_frames)
        gain = gain_from_db(feed.gain_db) * (-1 if feed.inverted else 1)
        if gain != 1:
            sound = sound * gain
        total = sound if total is None else total + sound
    return np.zeros(span.frames) if total is None else total


def _taken(sound: Sound, first_frame: float, step_frames: float, count: int) -> Sound:
    """Return what the recorder takes of one signal, from first_frame on and every step_frames."""
    if step_frames != 1:
        return read_at(sound, first_frame, step_frames, count)
    whole = math.floor(first_frame)
    return delayed(sound, whole - first_frame)[whole : whole + count]
