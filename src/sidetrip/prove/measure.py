"""One capture to facts: where the test lies in it, whose clock it ran on, and what each track carries.

The order matters. Rate and drift come before delay (50 ppm put no error into who is who, and frames into every
delay), and a track that runs on a clock of its own is put straight before its delay is read.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from sidetrip.dsp.clock import at_signal_rate, find_speed
from sidetrip.dsp.locate import Located, locate
from sidetrip.dsp.pairs import SideBySide
from sidetrip.dsp.steady import judge_stay, period_delays
from sidetrip.dsp.testsignal import TestSignal
from sidetrip.prove.capture import SINE_RMS, Capture, Clocks, NotHeard, Reader, Samples, Track
from sidetrip.prove.tracks import read_tracks
from sidetrip.units import gain_from_db

LONGEST_S = 1200
"""The test is looked for in this much of a recording."""

_MARGIN = 4096
_TRIES = 6
_ONE_CLOCK_PPM = 0.15


def measure(
    reader: Reader,
    signal: TestSignal,
    tracks: Sequence[int],
    reference: int | None = None,
    progress: Callable[[str], None] = lambda _: None,
    *,
    plain: Sequence[Collection[int]] = (),
    side_by_side: SideBySide = map,
) -> Capture | NotHeard:
    """Find the test in a recording and measure its tracks.

    tracks: numbers of tracks to measure, from 0. reference: position in `tracks` of the one that went round no loop.
    plain: for each track the entries, from 0, that reach it by one way: whether it holds still is told by these first.
    side_by_side: as in find_pairs.
    """
    progress("looking for the test")
    found = _find(reader, signal, tracks, _likely(reader, tracks, reference))
    if isinstance(found, NotHeard):
        return found
    by, clocks, located = found
    progress("measuring its clock")
    clocks, located = _refined(reader, signal, tracks[by], clocks, located)
    present = [_inside(reader, signal, clocks, located, level) for level in (0, 1)]
    if not any(present):
        return NotHeard(
            "Neither level of the test is whole in the recording",
            f"it begins at {located.start * clocks.ratio / reader.rate_hz:.2f} s",
            "Record from before the test to behind its end",
        )
    progress("reading the tracks")
    cuts = [
        _periods(reader, signal, clocks, located, level, tracks) if there else None
        for level, there in enumerate(present)
    ]
    progress("telling them apart")
    return read_tracks(reader, signal, clocks, located, tracks, cuts, plain, side_by_side)


def _likely(reader: Reader, tracks: Sequence[int], reference: int | None) -> list[int]:
    """Return positions in `tracks` to look for the test in: the reference, then the loudest."""
    stop = min(reader.frames, LONGEST_S * reader.rate_hz)
    power = np.zeros(len(tracks))
    for start in range(0, stop, reader.rate_hz * 4):
        block = reader.read(start, min(start + reader.rate_hz, stop), tracks)
        power += (block.astype(np.float64) ** 2).sum(axis=0)
    order = [int(number) for number in np.argsort(-power, kind="stable") if power[number] > 0]
    if reference is not None and power[reference] > 0:
        order = [reference, *(number for number in order if number != reference)]
    return order[:_TRIES]


def _find(
    reader: Reader, signal: TestSignal, tracks: Sequence[int], order: list[int]
) -> tuple[int, Clocks, Located] | NotHeard:
    if not order:
        return NotHeard("Every track that was looked at is silent", "", "Check which tracks were armed")
    stop = min(reader.frames, LONGEST_S * reader.rate_hz)
    nominal = reader.rate_hz / signal.rate_hz
    repeats = False
    for number in order:
        samples = reader.read(0, stop, [tracks[number]])[:, 0]
        speed = find_speed(samples, signal.tones.period_frames, reader.rate_hz)
        if speed is None:
            continue
        repeats = True
        ratio = nominal if abs(speed.ratio / nominal - 1) < 1e-6 else speed.ratio
        located = locate(at_signal_rate(samples, ratio), signal)
        if located is not None:
            return number, Clocks("one", ratio, (ratio / nominal - 1) * 1e6, math.inf), located
    if repeats:
        why = "Something repeats in the recording as the test would, but it is not this test"
        return NotHeard(why, f"period {signal.tones.period_frames} frames", "Name the file that was really played")
    values = f"looked through {stop / reader.rate_hz:.1f} s of {len(order)} tracks"
    return NotHeard("The test is not in the recording", values, "Check that it was played and which tracks were armed")


def _refined(
    reader: Reader, signal: TestSignal, track: int, clocks: Clocks, located: Located
) -> tuple[Clocks, Located]:
    """Read the clock from the delay of one entry, period by period, until nothing is left to correct."""
    nominal = reader.rate_hz / signal.rate_hz
    error_ppm = math.inf
    for _ in range(3):
        at, delays, errors = [], [], []
        for level in (0, 1):
            if not _inside(reader, signal, clocks, located, level):
                continue
            section = signal.sections[level]
            periods, offset = _periods(reader, signal, clocks, located, level, [track])
            rms = gain_from_db(section.level_dbfs) * SINE_RMS
            d, e = period_delays(periods[0], signal.tones, located.entry, rms, offset)
            at += [offset + number * signal.tones.period_frames for number in range(section.periods)]
            delays += list(d)
            errors += list(e)
        if not at:
            return clocks, located
        stay = judge_stay(np.array(at, dtype=float), np.array(delays), np.array(errors))
        error_ppm = stay.error_ppm or error_ppm
        if stay.motion != "drifting":
            break
        new = clocks.ratio * (1 + stay.ppm * 1e-6)
        whole = located.start * clocks.ratio / new
        clocks, located = replace(clocks, ratio=new), replace(located, start=round(whole))
    ppm = (clocks.ratio / nominal - 1) * 1e6
    near = max(_ONE_CLOCK_PPM, 4 * error_ppm if math.isfinite(error_ppm) else 0.0)
    if abs(ppm) < near:
        start = round(located.start * clocks.ratio / nominal)
        return Clocks("one", nominal, 0.0, error_ppm), replace(located, start=start)
    kind: Literal["two", "rate"] = "two" if abs(ppm) < 1500 else "rate"
    return Clocks(kind, clocks.ratio, ppm, error_ppm), located


def _span(signal: TestSignal, clocks: Clocks, located: Located, level: int) -> tuple[int, int]:
    """Return first and last frame of a level's measured periods in the recording, with a margin for resampling."""
    section = signal.sections[level]
    first = located.start + section.start - signal.together
    last = first + section.periods * signal.tones.period_frames
    margin = 0 if clocks.ratio == 1.0 else _MARGIN
    return math.floor((first - margin) * clocks.ratio), math.ceil((last + margin) * clocks.ratio)


def _inside(reader: Reader, signal: TestSignal, clocks: Clocks, located: Located, level: int) -> bool:
    first, last = _span(signal, clocks, located, level)
    margin = 0 if clocks.ratio == 1.0 else math.ceil(_MARGIN * clocks.ratio)
    return first + margin >= 0 and last - margin <= reader.frames


def _periods(
    reader: Reader, signal: TestSignal, clocks: Clocks, located: Located, level: int, tracks: Sequence[int]
) -> tuple[Samples, float]:
    """Return (the measured periods of a level on the signal's clock, their offset behind the start of the tones).

    Shape (tracks, periods, period frames). The offset takes up the part of a frame that resampling cannot.
    """
    section, period = signal.sections[level], signal.tones.period_frames
    first, last = _span(signal, clocks, located, level)
    start, stop = max(first, 0), min(last, reader.frames)
    raw = reader.read(start, stop, tracks)
    offset = section.start - signal.together
    begin = located.start + offset - start / clocks.ratio
    whole = math.floor(begin)
    out = np.empty((len(tracks), section.periods, period), dtype=np.float32)
    for number in range(len(tracks)):
        even = at_signal_rate(np.ascontiguousarray(raw[:, number]), clocks.ratio)
        piece = even[whole : whole + section.periods * period]
        out[number].reshape(-1)[: len(piece)] = piece
        out[number].reshape(-1)[len(piece) :] = 0
    return out, offset - (begin - whole)


__all__ = ["Capture", "Clocks", "NotHeard", "Reader", "Track", "measure"]
