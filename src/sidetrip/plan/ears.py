"""What reaches performers' ears, and how late, IN and OUT."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import Arrival, Arrivals, State, standing_of
from sidetrip.graph.linemap import LineMap
from sidetrip.model.figure import Standing
from sidetrip.model.show import Show
from sidetrip.plan.tolerance import instrument_of, rating_words
from sidetrip.units import ms_from_seconds, seconds_from_ms

_ROUNDING_S = 1e-9

HEARD_DB = 10.0
"""A copy further below the loudest colours little and does not make ears late; common practice, no source."""


@dataclass(frozen=True, slots=True)
class EarDelay:
    """The latest arrival of one source at somebody's ears that is heard. Times in seconds, infinite where unknown.

    own: whether it is the performer's own voice or instrument. added_s: what loops add to it.
    """

    mix: str
    performer: str
    source: str
    own: bool
    in_s: float
    out_s: float
    added_s: float
    standing: Standing


def find_ear_delays(
    show: Show, line_map: LineMap, arrivals: Arrivals, states: tuple[State, ...]
) -> tuple[EarDelay, ...]:
    """Return for each mix with a performer the latest arrival of every source within 10 dB of its loudest."""
    into, out = (
        arrivals.times(states[0]),
        arrivals.times(State("all OUT", "all out", out=frozenset(arrivals.loops))),
    )
    longer = arrivals.held_longer(states[0])
    found: defaultdict[tuple[str, str], list[tuple[float, EarDelay]]] = defaultdict(list)
    for index, row in enumerate(arrivals.rows):
        if row.place.kind != "ear" or row.microphone is None:
            continue
        mix = show.mix(row.place.name)
        assert mix is not None and mix.for_ is not None
        in_s, out_s = float(into.high[index]), float(out.high[index])
        added = sum(line_map.loop(loop).delay.high for loop in row.loops)  # known even where the way itself is not
        added += 0.0 if longer is None else float(longer[index, 1])
        standing = standing_of(line_map, row)
        delay = EarDelay(mix.name, mix.for_, row.source, row.source == mix.for_, in_s, out_s, added, standing)
        found[mix.name, row.source].append((math.inf if row.level_db is None else row.level_db, delay))
    return tuple(_latest(rows) for _, rows in sorted(found.items()))


def _latest(rows: list[tuple[float, EarDelay]]) -> EarDelay:
    """Return the latest of the arrivals that are heard beside the loudest."""
    loudest = max((level for level, _ in rows if math.isfinite(level)), default=math.inf)
    heard = [delay for level, delay in rows if level >= loudest - HEARD_DB]
    return max(heard, key=lambda delay: (delay.in_s, delay.added_s))


def heard_ways(show: Show, arrivals: Arrivals) -> tuple[tuple[str, str, Arrival], ...]:
    """Return (mix, source, arrival) of all that limits are about, whatever its time: judged as the delays are."""
    rows: defaultdict[tuple[str, str], list[Arrival]] = defaultdict(list)
    for row in arrivals.rows:
        if row.place.kind == "ear" and row.microphone is not None:
            rows[row.place.name, row.source].append(row)
    own = {mix for mix, source in rows if (found := show.mix(mix)) is not None and found.for_ == source}
    out: list[tuple[str, str, Arrival]] = []
    for (mix, source), ways in sorted(rows.items()):
        performer = show.mix(mix)
        if performer is None or (mix in own and performer.for_ != source):
            continue
        levels = [math.inf if way.level_db is None else way.level_db for way in ways]
        loudest = max((level for level in levels if math.isfinite(level)), default=math.inf)
        out += [(mix, source, way) for way, level in zip(ways, levels, strict=True) if level >= loudest - HEARD_DB]
    return tuple(out)


def rating_of(show: Show, delay: EarDelay) -> str:
    """Say how musicians rated such a delay of their own sound, nothing where no study has the instrument."""
    mix = show.mix(delay.mix)
    if not delay.own or mix is None or mix.listens is None:
        return ""
    return rating_words(instrument_of(delay.performer, *_strips_of(show, delay.source)), mix.listens, delay.in_s)


def _strips_of(show: Show, source: str) -> list[str]:
    """Return the names of the inputs that hear a source from nearby: the first that names it alone."""
    return [item.name for item in show.inputs if set(item.hears) == {source}][:1]


def judged(show: Show, delays: tuple[EarDelay, ...]) -> tuple[EarDelay, ...]:
    """Return the delays that limits are about: a performer's own sound where it is known, else all of the mix."""
    own = {delay.mix for delay in delays if delay.own}
    return tuple(delay for delay in delays if delay.own or delay.mix not in own)


def beyond(seconds: float, limit_ms: float | None) -> bool:
    """Tell whether a time is over a limit; not where there is none, nor for what sums leave of a time on the limit."""
    return limit_ms is not None and seconds > seconds_from_ms(limit_ms) + _ROUNDING_S


def over_limits(show: Show, delays: tuple[EarDelay, ...]) -> list[Finding]:
    """Return one finding for each mix whose judged delays are beyond the show's limits, naming the worst."""
    found = []
    limits = show.limits
    for mix in sorted({delay.mix for delay in delays}):
        mine = [delay for delay in judged(show, delays) if delay.mix == mix]
        totals = [(delay.in_s, delay.source, delay) for delay in mine if math.isfinite(delay.in_s)]
        addeds = [(delay.added_s, delay.source, delay) for delay in mine if math.isfinite(delay.added_s)]
        for limit_ms, known, what in (
            (limits.ear_total_ms, totals, "in all"),
            (limits.ear_added_ms, addeds, "added by loops"),
        ):
            if limit_ms is None or not known:
                continue
            seconds, _, delay = max(known, key=lambda entry: entry[:2])
            if beyond(seconds, limit_ms):
                values = f"{ms_from_seconds(seconds):.2f} ms {what}, the show allows {limit_ms:g} ms"
                remedy = "Take the send before the insert, or use a smaller buffer"
                words = f"{delay.source} reaches the ears of {delay.performer} too late"
                path = ("mixes", [item.name for item in show.mixes].index(mix))
                found.append(Finding("ear-late", f"mixes / {mix}", words, values, remedy, path))
    return found
