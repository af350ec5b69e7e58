"""Strips that play together and are not heard together: feel, not a comb, for they share no source.

A loop on the drums alone puts them behind bass and tracks that the same players follow. Below 3 ms nobody feels it
(common practice, no source; it is a metre of air).
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import State
from sidetrip.graph.linemap import LineMap, Node
from sidetrip.graph.span import Span
from sidetrip.model.show import Show
from sidetrip.plan.gap import Gap
from sidetrip.plan.side_chains import first_way, ways_between
from sidetrip.units import ms_from_seconds

FELT_S = 0.003


@dataclass(frozen=True, slots=True)
class Lag:
    """The last of some strips behind the first of them, at all places where it is the same.

    last, first: by name, as with all loops IN, or OUT where only that is apart. loops: those that only one has.
    """

    together: str
    last: str
    first: str
    places: tuple[str, ...]
    gap_in: Gap
    gap_out: Gap
    loops: tuple[str, ...]


def find_lags(show: Show, line_map: LineMap) -> tuple[Lag, ...]:
    """Return for each set of strips that play together how far apart two of them are heard at an output."""
    all_out = State("all OUT", "all out", out=frozenset(time.loop for time in line_map.loops))
    states = State("all IN", "all in"), all_out
    found: defaultdict[tuple[str, str, str, Gap, Gap, tuple[str, ...]], set[str]] = defaultdict(set)
    for name, members in sorted(show.plays_together.items()):
        for place in line_map.places:
            if place.kind != "output":
                continue
            ways = {own: list(ways_between(line_map, Node("strip", own), place.node)) for own in sorted(set(members))}
            heard = {own: some for own, some in ways.items() if some}
            if len(heard) < 2:
                continue
            times = [{own: first_way(line_map, some, state) for own, some in heard.items()} for state in states]
            pairs = [_ends(own) for own in times]
            gaps = [_gap(own[last], own[first]) for own, (last, first) in zip(times, pairs, strict=True)]
            telling = 1 if gaps[0].verdict == "together" and gaps[1].verdict == "apart" else 0
            last, first = pairs[telling]
            both = [_gap(own[last], own[first]) for own in times]
            passed = [{edge.loop for way in heard[own] for edge in way if edge.loop} for own in (last, first)]
            loops = tuple(sorted(passed[0] ^ passed[1]))
            found[name, last, first, both[0], both[1], loops].add(place.name)
    return tuple(
        Lag(name, last, first, tuple(sorted(places)), inside, outside, loops)
        for (name, last, first, inside, outside, loops), places in sorted(found.items(), key=lambda own: own[0][:3])
    )


def _ends(times: dict[str, Span]) -> tuple[str, str]:
    """Return the last and the first, of equals the first by name."""
    last = max(sorted(times), key=lambda own: (times[own].high, times[own].low))
    return last, min(sorted(times), key=lambda own: (times[own].low, times[own].high))


def _gap(last: Span, first: Span) -> Gap:
    if not (last.known and first.known):
        return Gap(-math.inf, math.inf, "cannot tell")
    low, high = last.low - first.high, last.high - first.low
    limit = FELT_S * (1 + 1e-9)
    if max(abs(low), abs(high)) <= limit:
        return Gap(low, high, "together")
    near = 0.0 if low <= 0 <= high else min(abs(low), abs(high))
    return Gap(low, high, "cannot tell" if near <= limit else "apart")


def lag_findings(lags: tuple[Lag, ...]) -> list[Finding]:
    """Say which strips that play together are heard apart."""
    found = []
    for lag in lags:
        where = f"heard at {', '.join(lag.places)}"
        verdicts = lag.gap_in.verdict, lag.gap_out.verdict
        if "apart" in verdicts:
            gap, when = (lag.gap_in, "IN") if verdicts[0] == "apart" else (lag.gap_out, "OUT")
            ms = f"{ms_from_seconds(gap.typical):.2f} ms"
            what = f"Of {lag.together}, {lag.last} comes {ms} after {lag.first} with all loops {when}"
            many = len(lag.loops) > 1
            loops = f"loop{'s' if many else ''} {', '.join(lag.loops)}" if lag.loops else ""
            drop = "drop one of the loops" if many else "drop the loop"
            remedy = f"Send all of {lag.together} through loops as late, delay the others, or {drop}"
            found.append(Finding("plays-apart", where, what, loops, remedy))
        elif "cannot tell" in verdicts:
            what = f"Whether {lag.last} and {lag.first} of {lag.together} are heard together cannot be told"
            found.append(Finding("meeting-untold", where, what, "", "Find out the unknown delay on one of their ways"))
    return found


__all__ = ["FELT_S", "Lag", "find_lags", "lag_findings"]
