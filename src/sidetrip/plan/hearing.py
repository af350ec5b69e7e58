"""What one source sounds like at one place: the copies that arrive there, as they can be added up and listened to."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sidetrip.dsp.copies import Copy
from sidetrip.findings import Finding
from sidetrip.graph.arrivals import Arrival, State
from sidetrip.plan.planner import Plan
from sidetrip.units import gain_from_db


@dataclass(frozen=True, slots=True)
class CopyHeard:
    """One copy. words: its way. late_s: after the source, the middle of a range. level_db: None where nobody knows.

    spread_s: how wide the range is, infinite where a part is unknown; such a copy cannot be added up. below_hz,
    above_hz: the crossover under which a sub and over which the loudspeakers beside it play.
    """

    words: str
    late_s: float
    spread_s: float
    level_db: float | None
    inverted: bool
    below_hz: float | None = None
    above_hz: float | None = None

    @property
    def known(self) -> bool:
        """Tell whether its time is known, if only as a range."""
        return math.isfinite(self.spread_s)


@dataclass(frozen=True, slots=True)
class HeardAt:
    """All copies of a source at a place in one state, the earliest first."""

    source: str
    place: str
    state: str
    copies: tuple[CopyHeard, ...]

    @property
    def usable(self) -> tuple[CopyHeard, ...]:
        """The copies that can be added up."""
        return tuple(copy for copy in self.copies if copy.known)

    @property
    def mixed(self) -> tuple[Copy, ...]:
        """The copies as they are added up: after the first, beside the loudest; no level is as loud as that."""
        first = min((copy.late_s for copy in self.usable), default=0.0)
        loudest = max((copy.level_db for copy in self.usable if copy.level_db is not None), default=0.0)
        return tuple(
            Copy(
                copy.late_s - first,
                1.0 if copy.level_db is None else gain_from_db(copy.level_db - loudest),
                copy.inverted,
                copy.below_hz,
                copy.above_hz,
            )
            for copy in self.usable
        )


def asked_for(plan: Plan, words: str) -> tuple[str, str] | Finding:
    """Return source and place from SOURCE@PLACE, or what is wrong with it, with what there is."""
    source, sign, place = words.rpartition("@")
    reach = sorted({(row.source, row.place.name) for row in plan.arrivals.rows})
    if sign and (source, place) in reach:
        return source, place
    sources, places = sorted({own for own, _ in reach}), sorted({own for _, own in reach})
    where = "hear"
    if not sign:
        remedy = f"Write a source, @ and a place: {sources[0]}@{places[0]}" if reach else "The show has no way to hear"
        return Finding("name-unknown", where, "This names no source and place", words, remedy)
    if source not in sources:
        return Finding("name-unknown", where, "There is no such source", source, f"Name one of: {', '.join(sources)}")
    if place not in places:
        return Finding("name-unknown", where, "There is no such place", place, f"Name one of: {', '.join(places)}")
    there = sorted({own for own, at in reach if at == place})
    return Finding("name-unknown", where, f"{source} does not arrive at {place}", words, f"There: {', '.join(there)}")


def heard_at(plan: Plan, source: str, place: str, state: State) -> HeardAt:
    """Return what arrives of a source at a place in a state; silent ways are left out."""
    times = plan.arrivals.times(state)
    crossovers = {output.name: float(output.crossover_hz) for output in plan.show.outputs if output.crossover_hz}
    here = {row.output for row in plan.arrivals.rows if (row.source, row.place.name) == (source, place)}
    lowest = min((hertz for name, hertz in crossovers.items() if name in here), default=None)
    copies = []
    for index, row in enumerate(plan.arrivals.rows):
        if (row.source, row.place.name) != (source, place) or times.silent[index]:
            continue
        low, high = float(times.low[index]), float(times.high[index])
        middle = (low + high) / 2 if math.isfinite(high) else low
        below = crossovers.get(row.output or "")
        above = lowest if lowest and row.output and below is None and row.place.kind == "listener" else None
        copies.append(CopyHeard(_words(row), middle, high - low, row.level_db, row.inverted, below, above))
    return HeardAt(source, place, state.name, tuple(sorted(copies, key=lambda copy: (copy.late_s, copy.words))))


def _words(row: Arrival) -> str:
    if row.microphone is None:
        return f"through the air, from {row.output}" if row.output else "through the air"
    words = " → ".join(row.route) + (f" (loop {', '.join(row.loops)})" if row.loops else "")
    return f"{words}, by {row.output}" if row.output and row.place.kind == "listener" else words


def left_out(heard: Iterable[HeardAt]) -> Iterator[Finding]:
    """Say which copies cannot be added up, each once."""
    unknown = sorted({(own.source, own.place, copy.words) for own in heard for copy in own.copies if not copy.known})
    for source, place, words in unknown:
        what = "A copy is left out, because nobody knows when it comes"
        remedy = "Measure what is unknown on its way: `sidetrip plan` names it"
        yield Finding("delay-unknown", f"hear / {source}@{place}", what, words, remedy)


__all__ = ["CopyHeard", "HeardAt", "asked_for", "heard_at", "left_out"]
