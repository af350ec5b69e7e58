"""Where two arrivals of one source meet: how far apart, what it does, whether anybody will hear it.

Classes and limits
electrical        one microphone, two ways to one place: together within half a frame
two microphones   together when no further apart than their own distance makes them, within half a frame
two loudspeakers  together within 1 ms, and heard as one from 5 to 30 ms (Haas 1951 found fusion from 5 to 35 ms)
main and sub      together within 45° at the crossover, that is 1 / (8 · crossover)
ear and body      own voice through the head against own ears: limits of the show, judged in `ears`
picture           sound at most 45 ms early or 125 ms late (ITU-R BT.1359-1, detectability)
Arrivals more than 25 dB below the loudest of their source ripple less than 1 dB and are dropped.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from sidetrip.graph.arrivals import Arrival, Arrivals, State, Times
from sidetrip.graph.linemap import LineMap
from sidetrip.model.show import Show
from sidetrip.plan.comb import null_hz, ripple
from sidetrip.plan.compare import MAX_WAYS, Compared, by_place_and_source, keep
from sidetrip.plan.gap import (
    FUSED_FROM_S,
    FUSED_S,
    LOUDSPEAKERS_S,
    Gap,
    MeetingClass,
    Ways,
    sentence,
    with_untold,
)
from sidetrip.plan.meeting import Meeting, harm
from sidetrip.plan.pictures import find_pictures
from sidetrip.plan.spread import Part, bounds_of, deciding, figures_of, parts_of

ELECTRICAL_FRAMES = 0.5


@dataclass(frozen=True, slots=True)
class _Pair:
    kind: MeetingClass
    first: Arrival
    second: Arrival
    a: int
    b: int


_InOut = tuple[tuple[State, Times], tuple[State, Times]]


def find_meetings(
    show: Show, line_map: LineMap, arrivals: Arrivals, states: tuple[State, ...]
) -> tuple[tuple[Meeting, ...], Compared]:
    """Return every meeting, one for each cause, the worst first, and how much was compared for them."""
    all_in, all_out = states[0], State("all OUT", "all out", out=frozenset(arrivals.loops))
    times = (all_in, arrivals.times(all_in)), (all_out, arrivals.times(all_out))
    loops = {time.loop: time for time in line_map.loops}
    judged: dict[tuple[object, ...], _Judged] = {}
    left_out = 0
    for indices in by_place_and_source(line_map, arrivals):
        kept = keep(arrivals, indices, times[0][1])
        left_out += kept.cut
        for pair in _pairs(show, arrivals, kept.indices):
            same = _same(pair, kept.loudest_db)
            if same not in judged:
                figures = [
                    [figures_of(way, loops, state, arrivals.holding) for way in (pair.first, pair.second)]
                    for state, _ in times
                ]
                parts = [parts_of(*both) for both in figures]
                judged[same] = _Judged(pair, _judge(show, pair, times, parts, kept.loudest_db))
            judged[same].places.add(pair.first.place.name)
    clusters: defaultdict[tuple[object, ...], list[Meeting]] = defaultdict(list)
    for one in judged.values():
        clusters[_cause(one.pair, one.meeting)].append(replace(one.meeting, places=tuple(sorted(one.places))))
    found = [_merged(cluster) for _, cluster in sorted(clusters.items(), key=lambda item: repr(item[0]))]
    found += find_pictures(show, arrivals, loops, times)
    return tuple(sorted(found, key=harm)), Compared(left_out, MAX_WAYS)


@dataclass(slots=True)
class _Judged:
    pair: _Pair
    meeting: Meeting
    places: set[str] = field(default_factory=set)


def _pairs(show: Show, arrivals: Arrivals, indices: list[int]) -> Iterator[_Pair]:
    for number, a in enumerate(indices):
        for b in indices[number + 1 :]:
            first, second = arrivals.rows[a], arrivals.rows[b]
            kind = _class(show, first, second)
            if kind is not None:
                yield _Pair(kind, first, second, a, b)


def _same(pair: _Pair, loudest: float | None) -> tuple[object, ...]:
    """Return what two pairs share that part and join alike, beside equally loud others: one answer holds for both."""
    ways = (pair.first, pair.second)
    joined = _joined(*ways)
    levels = [way.level_db for way in ways if way.level_db is not None]
    below = round(loudest - max(levels), 3) if loudest is not None and levels else None
    if pair.first.place.kind == "listener" or not joined:
        return (pair.kind, pair.a, pair.b)
    ends = [
        next(n for n, edge in enumerate(way.edges) if edge.end.name == joined and edge.end.kind == "strip")
        for way in ways
    ]
    return (pair.kind, below, *(tuple(map(id, way.edges[: end + 1])) for way, end in zip(ways, ends, strict=True)))


def _class(show: Show, first: Arrival, second: Arrival) -> MeetingClass | None:
    """Return the class of a pair, None where another pair says the same."""
    if first.place.kind in ("output", "ear"):
        if first.microphone is None or second.microphone is None:
            return None  # own voice against own ears is judged by its delay, not as a comb
        return "electrical" if first.microphone == second.microphone else "two microphones"
    if first.output == second.output:
        return None  # met already at that output
    crossovers = {crossover_of(show, first), crossover_of(show, second)}
    if len(crossovers) == 1 or None not in crossovers:
        return "two loudspeakers"
    return "main and sub" if first.output and second.output else None  # a sub hardly carries what air alone brings


def crossover_of(show: Show, arrival: Arrival) -> float | None:
    """Return the crossover of the output an arrival came by, in Hz, None where it has none."""
    output = show.output(arrival.output) if arrival.output else None
    return output.crossover_hz if output else None


def ways_of(show: Show, first: Arrival, second: Arrival) -> Ways:
    """Return what the words need of two arrivals."""
    listener = first.place.kind == "listener"
    one, two = (
        (way.output or f"{way.source} itself") if listener else (way.microphone or way.source)
        for way in (first, second)
    )
    crossover = crossover_of(show, first) or crossover_of(show, second)
    return Ways(first.source, first.place.name, _joined(first, second), one, two, crossover)


def _natural(first: Arrival, second: Arrival) -> float:
    """Return what the air alone explains at two microphones, in seconds; nothing where a distance is unknown."""
    air = [next(edge.delay.typical for edge in way.edges if edge.end.kind == "microphone") for way in (first, second)]
    return 0.0 if air[0] is None or air[1] is None else air[1] - air[0]


def _judge(show: Show, pair: _Pair, times: _InOut, parts: list[tuple[Part, ...]], loudest: float | None) -> Meeting:
    first, second = pair.first, pair.second
    natural = _natural(first, second) if pair.kind == "two microphones" else 0.0
    limit = _limit(show, pair)
    gaps = [_gap(time, pair, own, limit) for (_, time), own in zip(times, parts, strict=True)]
    telling = 0 if gaps[0].verdict == "apart" or gaps[1].verdict != "apart" else 1
    if gaps[telling].verdict == "alone":
        telling = 1 - telling
    worst = gaps[telling]
    if worst.typical < 0 and math.isfinite(worst.typical):  # name the earlier arrival first
        first, second, natural = second, first, -natural
        gaps = [Gap(0.0 - gap.high, 0.0 - gap.low, gap.verdict) for gap in gaps]
        worst = gaps[telling]
    levels = (first.level_db, second.level_db)
    difference = None if levels[0] is None or levels[1] is None else levels[1] - levels[0]
    inverted = first.inverted != second.inverted
    combs = worst.verdict != "alone" and math.isfinite(worst.typical) and pair.kind != "picture"
    null = null_hz(worst.typical, 0, inverted=inverted) if combs and (worst.typical or inverted) else None
    depth = _depth(levels, loudest) if combs else None
    untold = next((own for gap, own in zip(gaps, parts, strict=True) if gap.verdict == "cannot tell"), None)
    decides = None if untold is None else deciding(untold)
    said = sentence(show.sample_rate, pair.kind, ways_of(show, first, second), gaps, null, depth, decides)
    return Meeting(
        pair.kind,
        _joined(first, second),
        (first.place.name,),
        (first.source,),
        _route(first),
        _route(second),
        tuple(sorted(set(first.loops) ^ set(second.loops))),
        gaps[0],
        gaps[1],
        natural,
        difference,
        inverted,
        null,
        depth,
        decides,
        with_untold(said, gaps, decides),
    )


def _depth(levels: tuple[float | None, float | None], loudest: float | None) -> float | None:
    """Return the ripple that the quieter of two arrivals leaves beside the loudest of its source, in dB."""
    if levels[0] is None or levels[1] is None:
        return None
    return ripple(
        min(levels[0], levels[1]) - max(levels[0], levels[1], -math.inf if loudest is None else loudest)
    ).ripple_db


def _limit(show: Show, pair: _Pair) -> float:
    if pair.kind in ("electrical", "two microphones"):
        return ELECTRICAL_FRAMES / show.sample_rate
    if pair.kind == "main and sub":
        crossover = crossover_of(show, pair.first) or crossover_of(show, pair.second)
        assert crossover is not None
        return 1 / (8 * crossover)
    return LOUDSPEAKERS_S


def _gap(times: Times, pair: _Pair, parts: tuple[Part, ...], limit: float) -> Gap:
    if times.silent[pair.a] or times.silent[pair.b]:
        return Gap(0.0, 0.0, "alone")
    low, high = bounds_of(parts)
    if not (math.isfinite(low) and math.isfinite(high)):
        return Gap(low, high, "cannot tell")
    # what two microphones hear through the air is their own; the rest is what the desk and its loops add
    least, most = bounds_of(part for part in parts if not (part.air and pair.kind == "two microphones"))
    near, far = (0.0 if least <= 0 <= most else min(abs(least), abs(most))), max(abs(least), abs(most))
    zones = [(0.0, limit * (1 + 1e-9))]
    if pair.kind == "two loudspeakers":
        zones.append((FUSED_FROM_S, FUSED_S))
    if any(start <= near and far <= end for start, end in zones) or _closer(pair, parts, low, high, limit):
        cancels = pair.kind == "electrical" and pair.first.inverted != pair.second.inverted
        return Gap(low, high, "apart" if cancels else "together")
    if any(near <= end and start <= far for start, end in zones):
        return Gap(low, high, "cannot tell")
    return Gap(low, high, "apart")


def _closer(pair: _Pair, parts: tuple[Part, ...], low: float, high: float, limit: float) -> bool:
    """Tell whether two microphones are surely no further apart, and in no other order, than the air makes them."""
    if pair.kind != "two microphones":
        return False
    air_low, air_high = bounds_of(part for part in parts if part.air)
    in_order = low * air_low >= 0 and high * air_high >= 0 and low * high >= 0 and air_low * air_high > 0
    return in_order and max(abs(low), abs(high)) <= min(abs(air_low), abs(air_high)) + limit


def _route(arrival: Arrival) -> str:
    if arrival.microphone is None:
        return "through the air"
    loops = f" (loop {', '.join(arrival.loops)})" if arrival.loops else ""
    return " → ".join(arrival.route) + loops


def _joined(first: Arrival, second: Arrival) -> str:
    """Return the strip where two ways join for good: the first of the tail they share."""
    if first.output != second.output:
        return ""
    joined = ""
    for one, other in zip(reversed(first.route), reversed(second.route), strict=False):
        if one != other:
            break
        joined = one
    return joined


def _before(arrival: Arrival, joined: str) -> str:
    """Return the strip from which an arrival comes to where the two ways join."""
    return next((one for one, following in pairwise(arrival.route) if following == joined), "")


def _cause(pair: _Pair, meeting: Meeting) -> tuple[object, ...]:
    """Return what makes the pair differ: where the two ways part, where they join, and the loops that only one has.

    Where air is part of it, distances differ: there one cause has one verdict too.
    """
    ways = (pair.first, pair.second)
    loops = sorted(tuple(sorted(set(way.loops) - set(other.loops))) for way, other in (ways, ways[::-1]))
    joined = _joined(*ways)
    verdicts = (meeting.gap_in.verdict, meeting.gap_out.verdict)
    if pair.kind == "two microphones":
        microphones = () if any(loops) else sorted(str(way.microphone) for way in ways)
        return (pair.kind, joined, *loops, *microphones, *verdicts)
    if pair.kind == "electrical":
        return (pair.kind, joined, *loops, *sorted(_before(way, joined) for way in ways))
    outputs = sorted(way.output or "air" for way in ways)
    through_air = pair.first.source if "air" in outputs else ""
    place = () if any(loops) else (pair.first.place.name,)
    return (pair.kind, *place, *loops, *outputs, through_air, *verdicts)


def _merged(cluster: list[Meeting]) -> Meeting:
    """Keep the worst meeting of one cause, with all sources it happens to and all places where it is heard."""
    ranked = sorted(cluster, key=harm)
    sources = tuple(dict.fromkeys(source for meeting in ranked for source in meeting.sources))
    places = tuple(sorted({place for meeting in ranked for place in meeting.places}))
    return replace(ranked[0], sources=sources, places=places)
