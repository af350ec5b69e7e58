"""From pairs to loops: which way speaks for a loop, and how late the loop alone is by it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.pairs import Pairs, noise_power, sent
from sidetrip.dsp.response import Copy, Passage, copy_floor_db, passage, second_copy
from sidetrip.model.outboard import Processor
from sidetrip.plan.planner import Plan
from sidetrip.prove.declared import declared_response
from sidetrip.prove.expect import Expected, Way, loop_time
from sidetrip.prove.measure import Capture
from sidetrip.units import seconds_from_frames

_NEARLY_AS_LOUD_DB = -6.0
"""From here on either of two copies may be the loop: what a closed gate lets through, or a loop that is doubled."""


@dataclass(frozen=True, slots=True)
class LoopTimeHeard:
    """A loop's own time by measurement, in seconds, with one standard error. way: that it was read on."""

    seconds: float
    error: float
    way: Way


def best_pairs(capture: Capture) -> tuple[Pairs, int]:
    """Return the pairs at the loudest level there is, and which level that is."""
    if capture.high is not None:
        return capture.high, 1
    assert capture.low is not None, "a capture has at least one level"
    return capture.low, 0


def speaking_way(expected: Expected, pairs: Pairs, catch: int) -> Way | None:
    """Return the way to a catch that says most: the fewest other loops, then the strongest; None when none is heard."""
    heard = [way for way in expected.into(catch) if pairs.found[catch, way.entry]]
    ways = [way for way in heard if not by_several_ways(expected, way)] or heard
    return min(ways, key=lambda way: (len(way.loops), -pairs.gain_db[catch, way.entry], way.entry), default=None)


def by_several_ways(expected: Expected, way: Way) -> bool:
    """Tell whether a way's entry should reach its catch by other ways too: then no single one of them can be told."""
    return sum(other.entry == way.entry for other in expected.into(way.catch)) > 1


class Listening:
    """A capture with what was expected of it, asked pair by pair."""

    def __init__(self, plan: Plan, expected: Expected, capture: Capture) -> None:
        self.plan, self.expected, self.capture = plan, expected, capture
        self.pairs, self.level = best_pairs(capture)
        self.flat = expected.take.processors == "flat"
        self.rate_hz = capture.signal.rate_hz
        self._passages: dict[tuple[int, int, int], Passage] = {}
        self._copies: dict[tuple[int, int, float | None], Copy | None] = {}

    def passage(self, way: Way, level: int | None = None) -> Passage:
        """Return what a way does to its entry, with the declared chain taken out when processors are as used."""
        level = self.level if level is None else level
        key = way.entry, way.catch, level
        if key not in self._passages:
            h, bins, weight = self._pair(way, level)
            pairs = self.capture.high if level == 1 else self.capture.low
            assert pairs is not None
            near = float(pairs.delay_frames[way.catch, way.entry])
            tones = self.capture.signal.tones
            declared = np.ones(len(bins), dtype=np.complex128)
            if not self.flat:
                for loop in way.loops:
                    declared *= declared_response(self.chain(loop), tones.frequencies(way.entry + 1), self.rate_hz)
            self._passages[key] = passage(h, bins, weight, tones.period_frames, self.rate_hz, near, declared)
        return self._passages[key]

    def copy(self, way: Way, near_frames: float | None = None) -> Copy | None:
        """Return a second copy of the same entry beside the first, if there is one."""
        key = way.entry, way.catch, near_frames
        if key not in self._copies:
            h, bins, weight = self._pair(way, self.level)
            period = self.capture.signal.tones.period_frames
            self._copies[key] = second_copy(h, bins, weight, period, self.passage(way), near_frames)
        return self._copies[key]

    def ambiguous(self, way: Way) -> bool:
        """Tell whether a second copy is so loud that either may be the one that was meant."""
        copy = self.copy(way)
        return copy is not None and copy.level_db > _NEARLY_AS_LOUD_DB

    def copy_floor(self, way: Way, near_frames: float | None = None) -> float:
        """Return the level that a second copy must have to be found, in dB beside the first."""
        h, bins, weight = self._pair(way, self.level)
        return copy_floor_db(h, bins, weight, self.capture.signal.tones.period_frames, self.passage(way), near_frames)

    def chain(self, loop: str) -> tuple[Processor, ...]:
        """Return the processors that a loop's strip gets."""
        placed = next(one for one in self.plan.allocation.loops if one.name == loop)
        return self.plan.show.chains.get(placed.chain, ()) if placed.chain else ()

    def unit_kind(self, loop: str) -> str:
        """Return computer or hardware."""
        placed = next(one for one in self.plan.allocation.loops if one.name == loop)
        unit = self.plan.show.unit(placed.unit)
        assert unit is not None
        return unit.kind

    def reference(self) -> tuple[float, float] | None:
        """Return (delay, error) of the reference in frames, with the desk's own way to it taken out; None without."""
        where = self.expected.reference
        if where is None:
            return None
        entry, catch = where
        if not self.pairs.found[catch, entry] or self.capture.tracks[catch].stay.motion not in ("still", "unknown"):
            return None
        way = next(way for way in self.expected.into(catch) if way.entry == entry)
        base = way.base.typical
        if base is None:
            return None
        found = self.passage(way)
        return found.delay_frames - base * self.rate_hz, found.error_frames

    def reference_slips(self) -> bool:
        """Tell whether the reference itself lost, repeated or gained frames: then it was no loop's doing."""
        if self.expected.reference is None:
            return False
        track = self.capture.tracks[self.expected.reference[1]]
        return track.stay.motion == "jumping" or bool(track.glitches)

    def loop_times(self, right: frozenset[int]) -> dict[tuple[str, int], LoopTimeHeard]:
        """Return the measured time of every loop leg that can be told, by (loop, leg).

        right: the catches that carry what they should; the others tell nothing.
        A way with one loop tells it at once; with more, once the others are told. Empty without a reference.
        """
        reference = self.reference()
        told: dict[tuple[str, int], LoopTimeHeard] = {}
        if reference is None or self.expected.take.state == "all OUT":
            return told
        waiting = [catch for catch in self.expected.catches if catch.loop is not None and catch.number in right]
        while waiting:
            ready = [
                (catch, found)
                for catch in waiting
                if (found := self._told(catch.number, catch.loop or "", told, reference))
            ]
            if not ready:
                break
            for catch, found in ready:
                told[catch.loop or "", catch.leg] = found
            waiting = [catch for catch in waiting if (catch.loop or "", catch.leg) not in told]
        return told

    def _told(
        self,
        catch: int,
        loop: str,
        told: Mapping[tuple[str, int], LoopTimeHeard],
        reference: tuple[float, float],
    ) -> LoopTimeHeard | None:
        best: LoopTimeHeard | None = None
        for way in self.expected.into(catch):
            if loop not in way.loops or not self.pairs.found[catch, way.entry] or way.base.typical is None:
                continue
            if by_several_ways(self.expected, way):
                continue
            others = [self._other(other, told) for other in way.loops if other != loop]
            if any(other is None for other in others) or self.ambiguous(way):
                continue
            found = self.passage(way)
            frames = found.delay_frames - reference[0]
            seconds = seconds_from_frames(frames, self.rate_hz) - way.base.typical
            error = math.hypot(found.error_frames, reference[1]) / self.rate_hz
            for other in others:
                assert other is not None
                seconds, error = seconds - other.seconds, math.hypot(error, other.error)
            if best is None or (len(way.loops), error) < (len(best.way.loops), best.error):
                best = LoopTimeHeard(seconds, error, way)
        return best

    def _other(self, loop: str, told: Mapping[tuple[str, int], LoopTimeHeard]) -> LoopTimeHeard | None:
        return next((heard for (name, _), heard in told.items() if name == loop), None)

    def _pair(self, way: Way, level: int) -> tuple[NDArray[np.complex128], NDArray[np.int64], NDArray[np.float64]]:
        spectrum = self.capture.spectra[level]
        assert spectrum is not None
        tones = self.capture.signal.tones
        bins = tones.bins(way.entry + 1)
        x = sent(tones, way.entry + 1, self.capture.rms(level), self.capture.offsets[level])
        row = spectrum[way.catch : way.catch + 1]
        noise = noise_power(row, tones)[0, bins - tones.first_bin]
        return row[0, bins] / x, bins, np.abs(x) ** 2 / noise


def expected_time(plan: Plan, loop: str, flat: bool) -> tuple[float, float | None]:
    """Return the bounds of a loop's time by the plan in seconds, the upper one None where a part is unknown."""
    span = loop_time(plan, loop, flat)
    return span.low, span.high if span.known else None


__all__ = [
    "Listening",
    "LoopTimeHeard",
    "best_pairs",
    "by_several_ways",
    "expected_time",
    "speaking_way",
]
