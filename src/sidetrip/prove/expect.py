"""What a take should show if the plan is true: every way from an entered port to a caught one."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.graph.holding import span_of_signed
from sidetrip.graph.hops import Hops
from sidetrip.graph.linemap import Edge, LineMap, Node, PlacedLoop
from sidetrip.graph.span import Span, total
from sidetrip.graph.taps import tap_of
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Show
from sidetrip.model.take import Caught, Take
from sidetrip.plan.planner import Plan

_MOST_STEPS = 40_000
"""Steps along the map for one entry; a show whose parts feed each other all round has more."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One channel of the test signal: the port where it enters."""

    number: int
    port: Ports


@dataclass(frozen=True, slots=True)
class Catch:
    """One track: the port it is caught at and what that carries. leg: of what is carried, from 0.

    loop: the loop whose return this is, or behind whose insert the strip's copy is taken; None for dry copies and
    for copies before it.
    """

    number: int
    track: int
    port: Ports
    caught: Caught
    leg: int
    loop: str | None

    @property
    def words(self) -> str:
        """Say what it carries."""
        return self.caught.words


@dataclass(frozen=True, slots=True)
class Way:
    """One way from an entry to a catch.

    loops: that it passes, in order, with the state of the take. base: the time of the rest. partly: the loop whose
    hop back into its strip is not part of it, because it is caught before. level_db: None where a level or a pan
    on the way is not known. inverted: by a switch on the way.
    """

    entry: int
    catch: int
    loops: tuple[str, ...]
    base: Span
    level_db: float | None
    inverted: bool


@dataclass(frozen=True, slots=True)
class Expected:
    """All of it. entries and catches are numbered from 0. reference: (entry, catch) of the dry one.

    cut: entries of which not every way was followed, because there are too many.
    """

    take: Take
    entries: tuple[Entry, ...]
    catches: tuple[Catch, ...]
    ways: tuple[Way, ...]
    reference: tuple[int, int] | None
    cut: tuple[int, ...] = ()

    @property
    def plain(self) -> tuple[frozenset[int], ...]:
        """For each catch the entries that reach it by one way only, numbered from 0."""
        out: list[frozenset[int]] = []
        for catch in self.catches:
            entries = [way.entry for way in self.into(catch.number)]
            out.append(frozenset(entry for entry in entries if entries.count(entry) == 1))
        return tuple(out)

    def into(self, catch: int) -> tuple[Way, ...]:
        """Return the ways that end at a catch."""
        return tuple(way for way in self.ways if way.catch == catch)

    def dry(self, entry: int) -> int | None:
        """Return the catch that carries a dry copy of an entry."""
        for way in self.ways:
            if way.entry == entry and self.catches[way.catch].caught.dry is not None:
                return way.catch
        return None


def expect(plan: Plan, take: Take) -> Expected:
    """Work out what a take should show. The take was checked against the show."""
    return _Ways(plan, take).all()


class _Ways:
    def __init__(self, plan: Plan, take: Take) -> None:
        self.show: Show = plan.show
        self.desk: Desk = plan.desk
        self.map: LineMap = plan.line_map
        self.take = take
        self.hop = Hops(plan.show, plan.desk)
        self.cut: set[int] = set()
        ranked = sorted(plan.allocation.loops, key=lambda loop: loop.way == "insert")  # what sits nearest to the strip
        self.loops: dict[str, PlacedLoop] = {loop.strip: loop for loop in ranked}
        beside = [loop for loop in ranked if loop.way == "send-and-strip"]
        self.beside = {loop.name for loop in beside}
        self.outside = {Node("loop", loop.name) for loop in beside} | {
            Node("port", loop.back_on or "") for loop in beside
        }
        self.entries = tuple(
            Entry(number, Ports(port.group, port.number, port.number))
            for number, port in enumerate(port for ports in take.enter for port in ports.each)
        )
        self.catches = tuple(
            Catch(number, track, port, caught, leg, self._behind(caught))
            for number, (track, port, caught, leg) in enumerate(take.tracks)
        )

    def all(self) -> Expected:
        ways: list[Way] = []
        for entry in self.entries:
            ways += self._dry(entry)
            for item in self.show.inputs:
                if item.port.overlaps(entry.port):
                    leg = entry.port.first - item.port.first if len(item.port) > 1 else None
                    into = next(
                        edge
                        for edge in self.map.edges
                        if edge.end in (Node("strip", item.name), Node("port", item.name, 1))
                        and edge.start.kind == "port"
                        and edge.start.at == 0
                    )
                    ways += self._walk(entry.number, into.end, into.delay, leg, into.inverted)
        return Expected(self.take, self.entries, self.catches, tuple(ways), self._reference(), tuple(sorted(self.cut)))

    def _behind(self, caught: Caught) -> str | None:
        if caught.return_ is not None:
            loop = self.loops.get(caught.return_)
            return loop.name if loop is not None else None
        if caught.strip is None or (loop := self.loops.get(caught.strip)) is None or loop.way != "insert":
            return None
        return loop.name if self._position(caught) > self._insert(caught.strip) else None

    def _position(self, caught: Caught) -> int:
        assert caught.strip is not None
        kind = self.show.kind(caught.strip)
        pool = self.desk.pool(kind)
        assert pool is not None
        return tap_of(self.desk, kind, kind, caught.tap) if caught.tap else len(pool.order)

    def _insert(self, strip: str) -> int:
        pool = self.desk.pool(self.show.kind(strip))
        return pool.order.index("insert") if pool is not None and "insert" in pool.order else -1

    def _dry(self, entry: Entry) -> list[Way]:
        out: list[Way] = []
        for catch in self.catches:
            dry = catch.caught.dry
            if dry is not None and dry.each[catch.leg] == entry.port.each[0]:
                hop = self.hop(entry.port.group, catch.port.group)
                out.append(Way(entry.number, catch.number, (), hop, 0.0, inverted=False))
        return out

    def _reference(self) -> tuple[int, int] | None:
        for catch in self.catches:
            if self.take.reference is None or catch.port != self.take.reference or catch.caught.dry is None:
                continue
            port = catch.caught.dry.each[catch.leg]
            for entry in self.entries:
                if entry.port.each[0] == port:
                    return entry.number, catch.number
        return None

    def _targets(self) -> dict[Node, list[Catch]]:
        """Return where on the map each catch listens: a strip's tap, or just before its loop's insert or output."""
        out: dict[Node, list[Catch]] = {}
        for catch in self.catches:
            caught = catch.caught
            if caught.strip is not None:
                out.setdefault(Node("strip", caught.strip, self._position(caught)), []).append(catch)
            elif caught.return_ is not None and (loop := self.loops.get(caught.return_)) is not None:
                out.setdefault(self._leaving(loop), []).append(catch)
        return out

    def _leaving(self, loop: PlacedLoop) -> Node:
        """Return the node just before a loop."""
        if loop.way == "output":
            return Node("output", loop.strip)
        if loop.way == "in-line":
            return Node("port", loop.strip, 1)
        if loop.way == "send-and-strip":
            return Node("loop", loop.name)
        return Node("strip", loop.strip, self._insert(loop.strip))

    def _walk(self, entry: int, start: Node, base: Span, leg: int | None, inverted: bool) -> list[Way]:
        targets = self._targets()
        out: list[Way] = []
        stack: list[tuple[Node, Span, int | None, tuple[str, ...], float | None, bool]] = [
            (start, base, leg, (), 0.0, inverted)
        ]
        steps = 0
        while stack:
            steps += 1
            if steps > _MOST_STEPS:
                self.cut.add(entry)
                break
            node, time, side, loops, level, turned = stack.pop()
            for catch in targets.get(node, ()):
                way = self._arrive(entry, catch, time, side, loops, level, turned)
                if way is not None:
                    out.append(way)
            for edge in self.map.outgoing.get(node, ()):
                if edge.end.kind not in ("strip", "output") and edge.end not in self.outside:
                    continue
                if edge.loop is not None and (edge.loop in loops or self._silent(edge.loop)):
                    continue
                next_side, pans = self._side(edge.start, edge.end, side)
                passed = (*loops, edge.loop) if edge.loop is not None else loops
                next_level = None if pans or level is None or edge.level_db is None else level + edge.level_db
                turn = turned != edge.inverted
                stack.append((edge.end, time + self._delay(edge), next_side, passed, next_level, turn))
        return out

    def _delay(self, edge: Edge) -> Span:
        """Return an edge's time in the state of the take: what the desk holds back hangs on the loops that are IN."""
        holding = self.map.holding
        if not edge.held or holding is None:
            return edge.delay
        out = frozenset(holding.loops) if self.take.state == "all OUT" else frozenset[str]()
        return holding.bare(edge).delay + span_of_signed(holding.wait(edge, out))

    def _silent(self, loop: str) -> bool:
        """Tell whether nothing passes here: what comes back beside the dry sound is muted when it is OUT."""
        return loop in self.beside and self.take.state == "all OUT"

    def _side(self, start: Node, end: Node, side: int | None) -> tuple[int | None, bool]:
        """Return which leg goes on, and whether a pan or a sum of legs makes the level unknown."""
        if start.name == end.name:
            return side, False
        here, there = self._legs(start), self._legs(end)
        if there == 1:
            return None, here > 1
        return side, here == 1

    def _legs(self, node: Node) -> int:
        return self.show.legs(node.name)

    def _arrive(
        self,
        entry: int,
        catch: Catch,
        time: Span,
        side: int | None,
        loops: tuple[str, ...],
        level: float | None,
        inverted: bool,
    ) -> Way | None:
        caught = catch.caught
        if side is not None and len(caught.port) > 1 and side != catch.leg:
            return None
        if caught.strip is not None:
            hop = self.hop(self.show.kind(caught.strip), catch.port.group)
            return Way(entry, catch.number, self._active(loops), time + hop, level, inverted)
        assert caught.return_ is not None
        loop = self.loops[caught.return_]
        if self.take.state == "all OUT" and not self._always_alive(loop):
            return None
        # the loop's own time holds its hop back into the desk; the copy for the recorder is taken before that
        extra = self.hop(loop.returns.group, catch.port.group)
        if loop.way != "send-and-strip":
            extra = extra + -self.hop(loop.returns.group, self._into(loop))
        return Way(entry, catch.number, (*self._active(loops), loop.name), time + extra, level, inverted)

    def _into(self, loop: PlacedLoop) -> str:
        """Return the kind of place where a loop comes back into the desk."""
        output = self.show.output(loop.strip) if loop.way == "output" else None
        if output is not None:
            return output.port.group
        return self.show.kind(loop.strip) if loop.way == "in-line" else "insert"

    def _always_alive(self, loop: PlacedLoop) -> bool:
        """Tell whether the send, and so the return port, goes on while the insert is OUT."""
        if loop.way != "insert":
            return True
        pool = self.desk.pool(self.show.kind(loop.strip))
        return pool is not None and pool.insert is not None and pool.insert.send_alive_when_out.answer == "yes"

    def _active(self, loops: tuple[str, ...]) -> tuple[str, ...]:
        return () if self.take.state == "all OUT" else loops


def time_of(plan: Plan, way: Way, flat: bool) -> Span:
    """Return the whole time of a way. flat: with every chain of processors out of it."""
    return way.base + total(loop_time(plan, loop, flat) for loop in way.loops)


def loop_time(plan: Plan, loop: str, flat: bool) -> Span:
    """Return a loop's time, with or without what its chain declares."""
    items = plan.line_map.loop(loop).items
    return total(item.delay for item in items if not (flat and item.kind == "chain"))


__all__ = ["Catch", "Entry", "Expected", "Way", "expect", "loop_time", "time_of"]
