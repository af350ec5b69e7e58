"""Where two arrivals of one source meet: how far apart, what it does, whether anybody will hear it.

Classes and limits
electrical        one microphone, two ways to one place: together within half a frame
two microphones   together when no further apart than their own distance makes them, within half a frame
two loudspeakers  together within 1 ms; heard as one up to 30 ms (Haas 1951 found fusion from 5 to 35 ms)
main and sub      together within 45° at the crossover, that is 1 / (8 · crossover)
ear and body      own voice through the head against own ears: limits of the show, judged in `ears`
picture           sound at most 45 ms early or 125 ms late (ITU-R BT.1359-1, detectability)
Pairs more than 25 dB apart ripple less than 1 dB and are dropped.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from sidetrip.graph.arrivals import Arrival, Arrivals, State, Times
from sidetrip.graph.linemap import LineMap
from sidetrip.graph.span import total
from sidetrip.model.show import Show
from sidetrip.plan.comb import null_hz, ripple
from sidetrip.plan.gap import (
    FUSED_S,
    LOUDSPEAKERS_S,
    Gap,
    MeetingClass,
    Ways,
    sentence,
)
from sidetrip.plan.meeting import Meeting, harm
from sidetrip.plan.pictures import find_pictures

DROP_DB = 25.0
ELECTRICAL_FRAMES = 0.5


@dataclass(frozen=True, slots=True)
class _Pair:
    kind: MeetingClass
    first: Arrival
    second: Arrival
    a: int
    b: int


_InOut = tuple[tuple[State, Times], tuple[State, Times]]


def find_meetings(show: Show, line_map: LineMap, arrivals: Arrivals, states: tuple[State, ...]) -> tuple[Meeting, ...]:
    """Return every meeting, one for each cause, the worst first."""
    all_in, all_out = states[0], State("all OUT", "all out", out=frozenset(arrivals.loops))
    times = (all_in, arrivals.times(all_in)), (all_out, arrivals.times(all_out))
    rows: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
    skipped = {
        edge.start.name for edge in line_map.edges if edge.start.kind == "sounding" and _is_ear(line_map, edge.end.name)
    }
    for index, row in enumerate(arrivals.rows):
        if not (row.place.kind == "output" and row.place.name in skipped):
            rows[row.place.name, row.source].append(index)
    clusters: defaultdict[tuple[object, ...], list[Meeting]] = defaultdict(list)
    for indices in rows.values():
        for pair in _pairs(show, arrivals, indices):
            clusters[_cause(pair)].append(_judge(show, arrivals, pair, times))
    found = [_merged(cluster) for _, cluster in sorted(clusters.items(), key=lambda item: repr(item[0]))]
    found += find_pictures(show, arrivals, (times[0][1], times[1][1]))
    return tuple(sorted(found, key=harm))


def _is_ear(line_map: LineMap, name: str) -> bool:
    return any(place.kind == "ear" and place.name == name for place in line_map.places)


def _pairs(show: Show, arrivals: Arrivals, indices: list[int]) -> Iterator[_Pair]:
    if arrivals.rows[indices[0]].place.kind == "listener":
        indices = _loudest_by_output(arrivals, indices)
    for number, a in enumerate(indices):
        for b in indices[number + 1 :]:
            first, second = arrivals.rows[a], arrivals.rows[b]
            kind = _class(show, first, second)
            if kind is not None and not _far_apart(first, second):
                yield _Pair(kind, first, second, a, b)


def _loudest_by_output(arrivals: Arrivals, indices: list[int]) -> list[int]:
    """Keep one arrival for each loudspeaker and one through the air; what shares a loudspeaker met before it."""
    best: dict[str | None, int] = {}
    for index in indices:
        row = arrivals.rows[index]
        kept = best.setdefault(row.output, index)
        level, other = row.level_db, arrivals.rows[kept].level_db
        if level is not None and (other is None or level > other):
            best[row.output] = index
    return sorted(best.values())


def _far_apart(first: Arrival, second: Arrival) -> bool:
    return (
        first.level_db is not None and second.level_db is not None and abs(first.level_db - second.level_db) > DROP_DB
    )


def _class(show: Show, first: Arrival, second: Arrival) -> MeetingClass | None:
    """Return the class of a pair, None where another pair says the same."""
    if first.place.kind in ("output", "ear"):
        if first.microphone is None or second.microphone is None:
            return None  # own voice against own ears is judged by its delay, not as a comb
        return "electrical" if first.microphone == second.microphone else "two microphones"
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


def _natural(arrival: Arrival) -> float:
    """Return what the air alone explains at a microphone, in seconds."""
    return next((edge.delay.low for edge in arrival.edges if edge.end.kind == "microphone"), 0.0)


def _judge(show: Show, arrivals: Arrivals, pair: _Pair, times: _InOut) -> Meeting:
    first, second = pair.first, pair.second
    natural = _natural(second) - _natural(first) if pair.kind == "two microphones" else 0.0
    limit = _limit(show, pair)
    gaps = [_gap(arrivals, state, time, pair, natural, limit) for state, time in times]
    worst = gaps[0] if gaps[0].verdict == "apart" or gaps[1].verdict != "apart" else gaps[1]
    if worst.typical < 0 and math.isfinite(worst.typical):  # name the earlier arrival first
        first, second, natural = second, first, -natural
        gaps = [Gap(-gap.high, -gap.low, gap.verdict) for gap in gaps]
        worst = Gap(-worst.high, -worst.low, worst.verdict)
    levels = (first.level_db, second.level_db)
    difference = None if levels[0] is None or levels[1] is None else levels[1] - levels[0]
    inverted = first.inverted != second.inverted
    combs = worst.verdict != "alone" and math.isfinite(worst.typical) and pair.kind != "picture"
    null = null_hz(worst.typical, 0, inverted=inverted) if combs and worst.typical else None
    depth = ripple(difference).ripple_db if combs and difference is not None else None
    deciding = _deciding(first, second) if "cannot tell" in (gaps[0].verdict, gaps[1].verdict) else None
    words = sentence(show.sample_rate, pair.kind, ways_of(show, first, second), gaps, null, depth, deciding)
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
        deciding,
        words,
    )


def _limit(show: Show, pair: _Pair) -> float:
    if pair.kind in ("electrical", "two microphones"):
        return ELECTRICAL_FRAMES / show.sample_rate
    if pair.kind == "main and sub":
        crossover = crossover_of(show, pair.first) or crossover_of(show, pair.second)
        assert crossover is not None
        return 1 / (8 * crossover)
    return LOUDSPEAKERS_S


def _gap(arrivals: Arrivals, state: State, times: Times, pair: _Pair, natural: float, limit: float) -> Gap:
    if times.silent[pair.a] or times.silent[pair.b]:
        return Gap(0.0, 0.0, "alone")
    low, high = _bounds(arrivals, state, pair)
    if not (math.isfinite(low) and math.isfinite(high)):
        return Gap(low, high, "cannot tell")
    extra = (low - natural, high - natural)
    tolerance = limit * (1 + 1e-9)
    if max(abs(extra[0]), abs(extra[1])) <= tolerance or (pair.kind == "two loudspeakers" and _fused(low, high)):
        return Gap(low, high, "together")
    if min(abs(extra[0]), abs(extra[1])) <= tolerance or extra[0] < 0 < extra[1]:
        return Gap(low, high, "cannot tell")
    return Gap(low, high, "apart")


def _bounds(arrivals: Arrivals, state: State, pair: _Pair) -> tuple[float, float]:
    """Return second minus first, low and high, in a state: what both share cancels, known or not."""
    shared = set(map(id, pair.first.edges)) & set(map(id, pair.second.edges))
    first, second = (total(e.delay for e in way.edges if id(e) not in shared) for way in (pair.first, pair.second))
    low, high = second.low - first.high, second.high - first.low
    counts = arrivals.passes[pair.b] - arrivals.passes[pair.a]
    for loop, count, (shortest, longest) in zip(arrivals.loops, counts, arrivals.loop_bounds, strict=True):
        if count and loop not in state.out:
            ends = sorted((count * float(shortest), count * float(longest)))
            low, high = low + ends[0], high + ends[1]
    return low, high


def _fused(low: float, high: float) -> bool:
    """Tell whether two loudspeakers 5 to 30 ms apart are heard as one, from the earlier."""
    near, far = sorted((abs(low), abs(high)))
    return near >= 0.005 and far <= FUSED_S


def _deciding(first: Arrival, second: Arrival) -> str:
    """Name the figure that would decide: an unknown one, else the widest range."""
    edges = [edge for arrival in (first, second) for edge in arrival.edges]
    unknown = [edge.label for edge in edges if not edge.delay.known]
    if unknown:
        return unknown[0]
    loops = [loop for arrival in (first, second) for loop in arrival.loops]
    widest = max(edges, key=lambda edge: edge.delay.high - edge.delay.low)
    return widest.label if widest.delay.high > widest.delay.low else f"loop {loops[0]}" if loops else widest.label


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


def _cause(pair: _Pair) -> tuple[object, ...]:
    """Return what makes the pair differ: where the two ways part, where they join, and the loops that only one has."""
    ways = (pair.first, pair.second)
    loops = sorted(tuple(sorted(set(way.loops) - set(other.loops))) for way, other in (ways, ways[::-1]))
    joined = _joined(*ways)
    if pair.kind == "two microphones":
        microphones = () if any(loops) else sorted(str(way.microphone) for way in ways)
        return (pair.kind, joined, *loops, *microphones)
    if pair.kind == "electrical":
        return (pair.kind, joined, *loops, *sorted(way.route[-2:-1] for way in ways))
    outputs = sorted(way.output or "air" for way in ways)
    through_air = pair.first.source if "air" in outputs else ""
    return (pair.kind, pair.first.place.name, *loops, *outputs, through_air)


def _merged(cluster: list[Meeting]) -> Meeting:
    """Keep the worst meeting of one cause, with all sources it happens to and all places where it is heard."""
    ranked = sorted(cluster, key=harm)
    sources = tuple(dict.fromkeys(source for meeting in ranked for source in meeting.sources))
    places = tuple(sorted({place for meeting in ranked for place in meeting.places}))
    return replace(ranked[0], sources=sources, places=places)
