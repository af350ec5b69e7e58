"""Recordings that are mixed with each other, and recordings that are played back into the strips they came from.

A track from before a loop and one from behind it are apart by its time: a constant number of frames, to be shifted when
they are mixed. What was recorded behind a loop and is played through it again is processed twice, and twice as late.
Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import permutations, product

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import State
from sidetrip.graph.linemap import Edge, LineMap, Node
from sidetrip.graph.span import Span, total
from sidetrip.model.show import Show
from sidetrip.plan.side_chains import first_way, ways_between
from sidetrip.units import frames_from_seconds, ms_from_seconds

Way = tuple[Edge, ...]

_HALF_FRAME = 0.5


@dataclass(frozen=True, slots=True)
class Track:
    """What one output records of some inputs that come to it alike.

    loops: those they pass on the loudest way. in_s, out_s: how much later it is than the earliest of its set, in
    seconds, all loops IN and all OUT, low and high; infinite where unknown.
    """

    output: str
    inputs: tuple[str, ...]
    loops: tuple[str, ...]
    in_s: tuple[float, float]
    out_s: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Recording:
    """Outputs whose recordings are mixed with each other: the tracks of the set, the earliest with all loops IN first.

    Times count from the strips of the inputs: what air and devices take is on all of them.
    """

    name: str
    tracks: tuple[Track, ...]


@dataclass(frozen=True, slots=True)
class Replay:
    """An input into which the recording of an output is played, and the loops that the sound then passes twice."""

    input: str
    output: str
    loops: tuple[str, ...]
    delay: Span


def find_recordings(show: Show, line_map: LineMap) -> tuple[Recording, ...]:
    """Return the tracks of every set of outputs that are recorded together, and how much later than the earliest."""
    states = _states(line_map)
    found = []
    for name, outputs in sorted(show.recorded_together.items()):
        times: dict[tuple[str, tuple[str, ...], Span, Span], list[str]] = {}
        for output in sorted(set(outputs)):
            for item in sorted(show.inputs, key=lambda own: own.name):
                ways = _ways(line_map, item.name, output)
                if ways:
                    way = _loudest(line_map, ways, states[0])
                    inside, outside = (first_way(line_map, [way], state) for state in states)
                    loops = tuple(sorted(_passed([way])))
                    times.setdefault((output, loops, inside, outside), []).append(item.name)
        if times:
            found.append(Recording(name, _tracks(times)))
    return tuple(found)


def _loudest(line_map: LineMap, ways: list[Way], state: State) -> Way:
    """Return the loudest way; of equals the latest, and an unknown level counts as loud."""

    def rank(way: Way) -> tuple[float, float]:
        levels = [math.inf if edge.level_db is None else edge.level_db for edge in way]
        return sum(levels), first_way(line_map, [way], state).high

    return max(ways, key=rank)


def _tracks(times: dict[tuple[str, tuple[str, ...], Span, Span], list[str]]) -> tuple[Track, ...]:
    inside, outside = (_first(spans) for spans in ([own[2] for own in times], [own[3] for own in times]))
    tracks = [
        Track(output, tuple(inputs), loops, _later(into, inside), _later(out, outside))
        for (output, loops, into, out), inputs in times.items()
    ]
    return tuple(sorted(tracks, key=lambda own: (own.in_s[1], own.in_s[0], own.output, own.inputs)))


def _first(spans: list[Span]) -> Span:
    return min(spans, key=lambda span: (span.low, span.high))


def _later(span: Span, zero: Span) -> tuple[float, float]:
    if span == zero:
        return 0.0, 0.0
    if not (span.known and zero.known):
        return -math.inf, math.inf
    return span.low - zero.high, span.high - zero.low


def find_replays(show: Show, line_map: LineMap) -> tuple[Replay, ...]:
    """Return the inputs that play back what an output recorded, with the loops that are passed twice."""
    found = []
    ends = [place for place in line_map.places if place.kind in ("output", "ear")]
    for strip, output in sorted(show.replays.items()):
        recorded = _passed(way for item in show.inputs for way in _ways(line_map, item.name, output))
        played = _passed(way for end in ends for way in ways_between(line_map, Node("strip", strip), end.node))
        loops = tuple(sorted(recorded & played))
        found.append(Replay(strip, output, loops, total(line_map.loop(loop).delay for loop in loops)))
    return tuple(found)


def _ways(line_map: LineMap, strip: str, output: str) -> list[Way]:
    return [
        way
        for place in line_map.places
        if place.kind == "output" and place.name == output
        for way in ways_between(line_map, Node("strip", strip), place.node)
    ]


def _passed(ways: Iterable[Way]) -> set[str]:
    return {edge.loop for way in ways for edge in way if edge.loop is not None}


def _states(line_map: LineMap) -> tuple[State, State]:
    loops = frozenset(time.loop for time in line_map.loops)
    return State("all IN", "all in"), State("all OUT", "all out", out=loops)


def recording_findings(show: Show, recordings: tuple[Recording, ...]) -> list[Finding]:
    """Say of each set how far its last track is behind its first, where that is more than half a frame."""
    found = []
    for own in recordings:
        where, rate = f"recorded_together / {own.name}", show.sample_rate
        if not all(math.isfinite(end) for track in own.tracks for end in (*track.in_s, *track.out_s)):
            what = f"How far apart the recordings of {own.name} are cannot be told"
            found.append(Finding("meeting-untold", where, what, "", "Find out the unknown delay on one of their ways"))
            continue
        apart = [_worst(own, state) for state in (0, 1)]
        frames = [frames_from_seconds(seconds, rate) for seconds, _, _ in apart]
        if max(frames) <= _HALF_FRAME:
            continue
        state = 0 if frames[0] > _HALF_FRAME else 1
        seconds, last, first = apart[state]
        late = f"{frames[state]:.0f} frames ({ms_from_seconds(seconds):.2f} ms) after {first}"
        what = f"Of {own.name}, {last} records {late} with all loops {('IN', 'OUT')[state]}"
        values = f"{frames[1 - state]:.0f} frames at most with all {('OUT', 'IN')[state]}"
        remedy = (
            "Shift each by the frames on the timing sheet when they are mixed, or record all on one side of the loops"
        )
        found.append(Finding("recorded-apart", where, what, values, remedy, ("recorded_together", own.name)))
    return found


def _worst(own: Recording, state: int) -> tuple[float, str, str]:
    """Return how far two outputs are apart at most in a state (0 all IN, 1 all OUT), the later and the earlier one.

    By an input that both record; where they share none, by any.
    """
    times: dict[str, dict[str, float]] = {}
    for track in own.tracks:
        low, high = (track.in_s, track.out_s)[state]
        times.setdefault(track.output, {}).update(dict.fromkeys(track.inputs, (low + high) / 2))
    found = [(0.0, "", "")]
    for first, last in permutations(sorted(times), 2):
        shared = times[first].keys() & times[last].keys()
        pairs = [(name, name) for name in shared] or list(product(times[first], times[last]))
        found += [(times[last][b] - times[first][a], last, first) for a, b in pairs]
    return max(found, key=lambda one: (one[0], one[2], one[1]))


def replay_findings(show: Show, replays: tuple[Replay, ...]) -> list[Finding]:
    """Say which recordings pass a loop again that they were made behind, or who accepts it."""
    found = []
    for own in replays:
        if not own.loops:
            continue
        where, loops = f"replays / {own.input}", ", ".join(own.loops)
        plural = "s" if len(own.loops) > 1 else ""
        what = f"What {own.output} recorded passes loop{plural} {loops} again when it is played into {own.input}"
        by = [each.by for each in show.accept if each.at == own.output and set(own.loops) <= set(each.loops)]
        if by:
            remedy = "Nothing to do; take it off the list to be warned again"
            found.append(Finding("accepted", where, what, f"accepted by {', '.join(dict.fromkeys(by))}", remedy))
            continue
        values = "processed twice, and late by an unknown time twice"
        if own.delay.known:
            frames = 2 * frames_from_seconds((own.delay.low + own.delay.high) / 2, show.sample_rate)
            values = f"processed twice, and {frames:.0f} frames late instead of {frames / 2:.0f}"
        remedy = f"Record before the insert, or take {loops} OUT while it is played back; accept it where it is meant"
        found.append(Finding("replayed-twice", where, what, values, remedy, ("replays", own.input)))
    return found


__all__ = [
    "Recording",
    "Replay",
    "Track",
    "find_recordings",
    "find_replays",
    "recording_findings",
    "replay_findings",
]
