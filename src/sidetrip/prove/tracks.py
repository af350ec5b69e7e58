"""Each track of a capture: what it carries, whether it holds still, how clean it is."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.clock import at_signal_rate
from sidetrip.dsp.distortion import dirt_db
from sidetrip.dsp.locate import Located
from sidetrip.dsp.pairs import Pairs, SideBySide, find_pairs, mean_spectrum
from sidetrip.dsp.steady import Glitch, Stay, find_glitches, judge_stay, period_delays
from sidetrip.dsp.testsignal import TestSignal
from sidetrip.prove.capture import SINE_RMS, Capture, Clocks, Reader, Samples, Track

_FULL_SCALE = 0.9999


def read_tracks(
    reader: Reader,
    signal: TestSignal,
    clocks: Clocks,
    located: Located,
    tracks: Sequence[int],
    cuts: list[tuple[Samples, float] | None],
    plain: Sequence[Collection[int]] = (),
    side_by_side: SideBySide = map,
) -> Capture:
    """Read all tracks from their periods, (low, high), each with its offset; None for a level that is not there.

    plain: for each track the entries, from 0, that should reach it by one way.
    """
    periods = [None if cut is None else cut[0] for cut in cuts]
    low, high = (math.nan if cut is None else cut[1] for cut in cuts)
    spectra: list[NDArray[np.complex64] | None] = [None, None]
    pairs: list[Pairs | None] = [None, None]
    start_s = located.start * clocks.ratio / reader.rate_hz
    capture = Capture(signal, clocks, start_s, (), None, None, (None, None), (low, high))

    def look(level: int) -> None:
        own = periods[level]
        if own is not None:
            spectra[level] = mean_spectrum(own)
            pairs[level] = _pairs(spectra[level], capture, level, side_by_side)

    for level in (0, 1):
        look(level)
    stays = [_stay(capture, periods, pairs, number, plain[number] if plain else ()) for number in range(len(tracks))]
    glitches = [_glitches(periods, stay, number) for number, stay in enumerate(stays)]
    moved = [_straightened(periods, stays[number], glitches[number], number) for number in range(len(tracks))]
    if any(moved):
        for level in (0, 1):
            look(level)
    loud = periods[1] if periods[1] is not None else periods[0]
    assert loud is not None
    top = pairs[1] or pairs[0]
    assert top is not None
    found = tuple(
        replace(
            _track(reader, capture, located, tracks[number], loud[number], _strongest(top, number)),
            stay=stays[number],
            glitches=tuple(glitch for _, glitch in glitches[number]),
        )
        for number in range(len(tracks))
    )
    return replace(capture, tracks=found, low=pairs[0], high=pairs[1], spectra=(spectra[0], spectra[1]))


def _pairs(
    spectrum: NDArray[np.complex64] | None, capture: Capture, level: int, side_by_side: SideBySide = map
) -> Pairs:
    assert spectrum is not None
    return find_pairs(spectrum, capture.signal.tones, capture.rms(level), capture.offsets[level], side_by_side)


def _strongest(pairs: Pairs | None, number: int, among: Collection[int] = ()) -> int | None:
    """Return the strongest entry on a track, from 1: of those in `among` if there is one."""
    if pairs is None or not pairs.found[number].any():
        return None
    found = [entry for entry in np.flatnonzero(pairs.found[number]) if entry in among]
    heard = found or list(np.flatnonzero(pairs.found[number]))
    return int(max(heard, key=lambda entry: pairs.gain_db[number, entry])) + 1


def _stay(
    capture: Capture, periods: list[Samples | None], pairs: list[Pairs | None], number: int, plain: Collection[int]
) -> Stay:
    # two ways of one entry beat against each other, so that a tone's phase no longer tells time
    entry = (
        _strongest(pairs[1], number, plain) or _strongest(pairs[0], number, plain) or _smeared(capture, periods, number)
    )
    if entry is None:
        return Stay("unknown")
    at: list[float] = []
    delays: list[float] = []
    errors: list[float] = []
    tones = capture.signal.tones
    for level in (0, 1):
        own = periods[level]
        if own is None:
            continue
        first = next((delay for delay in delays if math.isfinite(delay)), math.nan)
        d, e = period_delays(own[number], tones, entry, capture.rms(level), capture.offsets[level], first)
        at += [capture.offsets[level] + place * tones.period_frames for place in range(own.shape[1])]
        delays += list(d)
        errors += list(e)
    return judge_stay(np.array(at, dtype=float), np.array(delays), np.array(errors))


def _smeared(capture: Capture, periods: list[Samples | None], number: int) -> int | None:
    """Return the strongest entry of a single period, for a track whose mean shows none because it moves."""
    for level in (1, 0):
        own = periods[level]
        if own is not None:
            one = _pairs(mean_spectrum(own[number : number + 1, :1]), capture, level)
            if (entry := _strongest(one, 0)) is not None:
                return entry
    return None


def _glitches(periods: list[Samples | None], stay: Stay, number: int) -> list[tuple[int, Glitch]]:
    """Return (level, glitch) for all glitches of a track that otherwise holds still."""
    if stay.motion != "still":
        return []
    return [
        (level, glitch) for level, own in enumerate(periods) if own is not None for glitch in find_glitches(own[number])
    ]


def _straightened(periods: list[Samples | None], stay: Stay, glitches: list[tuple[int, Glitch]], number: int) -> bool:
    """Put a track straight, in place: onto the signal's clock, or down to the periods that hold together."""
    if stay.motion == "drifting":
        for own in periods:
            if own is not None:
                _onto_clock(own, number, 1 + stay.ppm * 1e-6)
        return True
    if stay.motion != "jumping" and not glitches:
        return False
    jumps = {place for place, _ in stay.steps}
    before = 0
    for level, own in enumerate(periods):
        if own is None:
            continue
        count = own.shape[1]
        bad = {glitch.period for at, glitch in glitches if at == level}
        good = [place for place in range(count) if place not in bad]
        if jumps:  # of the runs between two jumps the longest, the periods with a jump in them left out
            good = [place for place in range(count) if not {before + place, before + place + 1} & jumps]
            runs = np.split(np.array(good, dtype=int), np.flatnonzero(np.diff(good) > 1) + 1) if good else []
            good = max((list(run) for run in runs), key=len, default=[])
        if good:
            own[number] = own[number][np.resize(np.array(good), count)]
        before += count
    return True


def _onto_clock(own: Samples, number: int, ratio: float) -> None:
    length = own.shape[1] * own.shape[2]
    even = at_signal_rate(own[number].reshape(-1), ratio)[:length]
    own[number].reshape(-1)[: len(even)] = even
    if len(even) < length:  # the last frames ran out: the tones go on, a period earlier
        tail = length - len(even)
        own[number].reshape(-1)[len(even) :] = even[-own.shape[2] : len(even) - own.shape[2] + tail]


def _track(reader: Reader, capture: Capture, located: Located, track: int, loud: Samples, entry: int | None) -> Track:
    peak = float(np.abs(loud).max())
    clipped = int((np.abs(loud) >= _FULL_SCALE).sum())
    distortion, noise = dirt_db(loud, capture.signal.tones)
    signal, ratio = capture.signal, capture.clocks.ratio
    end = located.start + signal.end - signal.together
    first = math.ceil((end + 0.4 * (signal.frames - signal.end)) * ratio)
    last = min(math.floor((end + 0.95 * (signal.frames - signal.end)) * ratio), reader.frames)
    idle = math.nan
    if last - first > reader.rate_hz // 5:
        quiet = reader.read(first, last, [track]).astype(np.float64)
        idle = _dbfs(math.sqrt(float((quiet**2).mean())) / SINE_RMS)
    return Track(entry, _dbfs(peak), clipped, idle, distortion, noise, Stay("unknown"), ())


def _dbfs(value: float) -> float:
    return 20 * math.log10(value) if value > 0 else -math.inf


__all__ = ["read_tracks"]
