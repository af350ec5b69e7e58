"""What a desk holds back by itself: copies that wait at the entrance of a mix until the latest copy has come.

A desk counts from the moment at which its strips take their input: the hops behind it, and the loops on insert points
where it counts those. What is dialled by hand is never undone. How long a copy waits hangs on which loops are IN, so
the wait with every loop OUT is part of the copy's own delay, and the rest is added state by state.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sidetrip.graph.linemap import Edge, Item, LoopTime, Node
from sidetrip.graph.span import NOTHING, Span, span_of, total, weakest
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.units import seconds_from_frames

if TYPE_CHECKING:
    from sidetrip.model.figure import Standing

Signed = tuple[Item, int]
"""A figure, and how often it counts: negative where a copy passes it already."""


@dataclass(frozen=True, slots=True)
class Copy:
    """One copy that comes into a mix. edge: its hop. loop: the insert loop that it passes on its strip, if any."""

    edge: Edge
    strip: str
    loop: str | None
    held: bool


@dataclass(frozen=True, slots=True)
class Entrance:
    """Where copies come into a mix. counted: whether loops that are IN are counted there, None where unknown."""

    mix: str
    copies: tuple[Copy, ...]
    limit: Span
    counted: bool | None


@dataclass(frozen=True, slots=True)
class Holding:
    """All entrances of a show, and the loops as the desk counts them. holds: the copies that can be held, in order."""

    entrances: Mapping[str, Entrance]
    loops: Mapping[str, Item]
    holds: tuple[Edge, ...]
    _waits: dict[tuple[Node, Node, frozenset[str]], tuple[Signed, ...]] = field(
        default_factory=dict, compare=False, repr=False
    )
    _routes: dict[tuple[str, frozenset[str], bool], tuple[Item, ...]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def wait(self, edge: Edge, out: frozenset[str]) -> tuple[Signed, ...]:
        """Return what a copy waits for, figure by figure, with these loops OUT; nothing where it does not wait."""
        key = (edge.start, edge.end, out)
        if key not in self._waits:
            self._waits[key] = self._wait_anyhow(edge, out)
        return self._waits[key]

    def _wait_anyhow(self, edge: Edge, out: frozenset[str]) -> tuple[Signed, ...]:
        entrance = self.entrances[edge.end.name]
        copy = next(own for own in entrance.copies if own.edge.start == edge.start)
        if entrance.counted is not None:
            return self._wait(entrance, copy, out, counted=entrance.counted)
        without, counted = (self._wait(entrance, copy, out, counted=counted) for counted in (False, True))
        if without == counted:
            return without
        spans = [span_of_signed(without), span_of_signed(counted)]
        words = f"what {edge.label} waits at {entrance.mix}, which hangs on whether the desk counts inserts"
        low, high = min(span.low for span in spans), max(span.high for span in spans)
        return ((Item(words, "fixed", Span(low, high, "unknown"), words), 1),)

    def bare(self, edge: Edge) -> Edge:
        """Return the hop of a held copy, without what it waits."""
        entrance = self.entrances[edge.end.name]
        return next(own.edge for own in entrance.copies if own.edge.start == edge.start)

    def more(self, out: frozenset[str]) -> list[tuple[float, float]]:
        """Return, for each copy of `holds`, how much longer it waits than with every loop OUT: low, high in seconds."""
        found = []
        everything = frozenset(self.loops)
        for edge in self.holds:
            now, then = span_of_signed(self.wait(edge, out)), span_of_signed(self.wait(edge, everything))
            found.append((now.low - then.low, now.high - then.high if then.known else 0.0))
        return found

    def standings(self, edge: Edge) -> tuple[Standing, ...]:
        """Return the standing of every loop that a copy may wait for."""
        names, waiting = set[str](), [edge.end.name]
        while waiting:
            entrance = self.entrances.get(waiting.pop())
            for copy in entrance.copies if entrance is not None and entrance.counted is not False else ():
                names |= {copy.loop} if copy.loop is not None else set()
                waiting.append(copy.strip)
        return tuple(self.loops[name].delay.standing for name in sorted(names))

    def _wait(self, entrance: Entrance, copy: Copy, out: frozenset[str], *, counted: bool) -> tuple[Signed, ...]:
        own = self._route(copy, out, counted=counted)
        others = [self._route(other, out, counted=counted) for other in entrance.copies if other is not copy]
        latest = max(others, key=_lateness, default=own)
        left = Counter(item.cause for item in latest)
        left.subtract(item.cause for item in own)
        by_cause = {item.cause: item for item in (*own, *latest)}
        parts = tuple((by_cause[cause], times) for cause, times in left.items() if times)
        wait, limit = span_of_signed(parts), entrance.limit
        if wait.low >= 0 and wait.high <= limit.low:
            return parts
        low, high = max(0.0, min(wait.low, limit.low)), max(0.0, min(wait.high, limit.high))
        if high == 0.0:
            return ()  # it is the latest itself
        words = f"what {copy.edge.label} waits at {entrance.mix}"
        standing = weakest((wait.standing, limit.standing)) if wait.high > limit.low else wait.standing
        return ((Item(words, "fixed", Span(low, high, standing), words), 1),)

    def _latest(self, mix: str, out: frozenset[str], *, counted: bool) -> tuple[Item, ...]:
        """Return the figures of the latest copy that comes into a mix."""
        entrance, key = self.entrances.get(mix), (mix, out, counted)
        if entrance is None:
            return ()
        if key not in self._routes:
            routes = [self._route(copy, out, counted=counted) for copy in entrance.copies]
            self._routes[key] = max(routes, key=_lateness, default=())
        return self._routes[key]

    def _route(self, copy: Copy, out: frozenset[str], *, counted: bool) -> tuple[Item, ...]:
        """Return the figures of a copy from the moment at which the desk's strips take their input."""
        hop = Item(copy.edge.label, copy.edge.kind, copy.edge.delay, copy.edge.cause)
        before = self._latest(copy.strip, out, counted=counted)
        if copy.loop is not None and counted and copy.loop not in out:
            return (*before, self.loops[copy.loop], hop)
        return (*before, hop)


def _lateness(route: tuple[Item, ...]) -> tuple[float, float]:
    time = total(item.delay for item in route)
    return time.high, time.low


def span_of_signed(parts: Iterable[Signed]) -> Span:
    """Return the sum of signed figures, as far apart as their bounds allow."""
    added, taken = NOTHING, NOTHING
    for item, times in parts:
        for _ in range(abs(times)):
            added, taken = (added + item.delay, taken) if times > 0 else (added, taken + item.delay)
    return Span(added.low - taken.high, added.high - taken.low, weakest((added.standing, taken.standing)))


def find_holding(
    show: Show, desk: Desk, edges: Sequence[Edge], times: Iterable[LoopTime], ringed: frozenset[Node]
) -> Holding | None:
    """Return what the desk holds back in this show, None where its type compensates for nothing.

    edges: those of the line map, with the desk's bare hops. ringed: nodes on rings, which have no times.
    """
    if not desk.compensation:
        return None
    mixes = {mix.name for mix in show.mixes if mix.desk is None and Node("strip", mix.name) not in ringed}
    named = {time.loop: time for time in times}
    inserted = {edge.start: edge.loop for edge in edges if edge.loop is not None}
    copies: dict[str, list[Copy]] = {}
    for edge in edges:
        if not (edge.start.kind == edge.end.kind == "strip" and edge.end.name in mixes and edge.end.at == 0):
            continue
        if edge.start in ringed:
            continue
        line = next((own for own in desk.compensation if show.kind(edge.end.name) in own.at), None)
        pool = desk.pool(show.kind(edge.start.name))
        order = pool.order if pool is not None else ()
        behind = "insert" in order and edge.start.at > order.index("insert")
        loop = inserted.get(Node("strip", edge.start.name, order.index("insert"))) if behind else None
        held = line is not None and show.kind(edge.start.name) in line.holds
        copies.setdefault(edge.end.name, []).append(Copy(edge, edge.start.name, loop, held))
    entrances = {mix: _entrance(show, desk, mix, tuple(own)) for mix, own in sorted(copies.items())}
    counts = {
        name: Item(f"the desk's count of loop {name}", "measured", time.delay, f"the desk's count of loop {name}")
        for name, time in named.items()
    }
    holds = tuple(copy.edge for entrance in entrances.values() for copy in entrance.copies if copy.held)
    return Holding(entrances, counts, holds)


def _entrance(show: Show, desk: Desk, mix: str, copies: tuple[Copy, ...]) -> Entrance:
    line = next((own for own in desk.compensation if show.kind(mix) in own.at), None)
    if line is None:
        return Entrance(mix, copies, NOTHING, counted=None)
    limit = span_of(line.limit_frames, seconds_from_frames(1.0, show.sample_rate), desk.standing)
    counted = {"yes": True, "no": False}.get(line.external_inserts.answer)
    return Entrance(mix, copies, limit, counted)


def held_back(edges: Sequence[Edge], holding: Holding) -> tuple[Edge, ...]:
    """Return the edges with what each copy waits while every loop is OUT added to its hop, and marked as held."""
    everything = frozenset(holding.loops)
    places = {(edge.start, edge.end) for edge in holding.holds}
    return tuple(
        replace(edge, delay=edge.delay + span_of_signed(holding.wait(edge, everything)), held=True)
        if (edge.start, edge.end) in places
        else edge
        for edge in edges
    )


__all__ = ["Holding", "Signed", "find_holding", "held_back", "span_of_signed"]
