"""What reaches performers' ears, and how late, IN and OUT."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import Arrivals, State
from sidetrip.graph.linemap import LineMap
from sidetrip.graph.span import weakest
from sidetrip.model.figure import Standing
from sidetrip.model.show import Show
from sidetrip.units import ms_from_seconds


@dataclass(frozen=True, slots=True)
class EarDelay:
    """The loudest arrival of one source at somebody's ears. Times in seconds, infinite where unknown.

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
    """Return for each mix with a performer the loudest arrival of every source in it; of equals, the latest."""
    into, out = (
        arrivals.times(states[0]),
        arrivals.times(State("all OUT", "all out", out=frozenset(arrivals.loops))),
    )
    loudest: dict[tuple[str, str], tuple[tuple[float, float], EarDelay]] = {}
    for index, row in enumerate(arrivals.rows):
        if row.place.kind != "ear" or row.microphone is None:
            continue
        mix = show.mix(row.place.name)
        assert mix is not None and mix.for_ is not None
        in_s, out_s = float(into.high[index]), float(out.high[index])
        added = in_s - out_s if math.isfinite(in_s) and math.isfinite(out_s) else math.inf if row.loops else 0.0
        standing = weakest([row.base.standing, *(line_map.loop(loop).delay.standing for loop in row.loops)])
        delay = EarDelay(mix.name, mix.for_, row.source, row.source == mix.for_, in_s, out_s, added, standing)
        key, rank = (mix.name, row.source), (math.inf if row.level_db is None else row.level_db, in_s)
        if key not in loudest or loudest[key][0] < rank:
            loudest[key] = (rank, delay)
    return tuple(delay for _, (_, delay) in sorted(loudest.items(), key=lambda item: item[0]))


def judged(show: Show, delays: tuple[EarDelay, ...]) -> tuple[EarDelay, ...]:
    """Return the delays that limits are about: a performer's own sound where it is known, else all of the mix."""
    own = {delay.mix for delay in delays if delay.own}
    return tuple(delay for delay in delays if delay.own or delay.mix not in own)


def over_limits(show: Show, delays: tuple[EarDelay, ...]) -> list[Finding]:
    """Return one finding for each mix whose judged delays are beyond the show's limits, naming the worst."""
    found = []
    limits = show.limits
    for mix in sorted({delay.mix for delay in delays}):
        mine = [delay for delay in judged(show, delays) if delay.mix == mix]
        worst = max(mine, key=lambda delay: (delay.in_s, delay.source))
        added = max(mine, key=lambda delay: (delay.added_s, delay.source))
        for limit_ms, seconds, delay, what in (
            (limits.ear_total_ms, worst.in_s, worst, "in all"),
            (limits.ear_added_ms, added.added_s, added, "added by loops"),
        ):
            if limit_ms is not None and math.isfinite(seconds) and ms_from_seconds(seconds) > limit_ms:
                values = f"{ms_from_seconds(seconds):.2f} ms {what}, the show allows {limit_ms:g} ms"
                remedy = "Take the send before the insert, use a smaller buffer, or give ears a dry strip of their own"
                words = f"{delay.source} reaches the ears of {delay.performer} too late"
                path = ("mixes", [item.name for item in show.mixes].index(mix))
                found.append(Finding("ear-late", f"mixes / {mix}", words, values, remedy, path))
    return found
