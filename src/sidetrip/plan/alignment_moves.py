"""Repairs that follow a bypass: a tap taken behind the insert, and a blank loop for what goes beside.

Both are late when the loop is IN and early when it is OUT, like what they meet, so no number has to be dialled anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.arrivals import Arrival
from sidetrip.graph.hops import Hops
from sidetrip.graph.linemap import Edge, LineMap, Node, PlacedLoop
from sidetrip.graph.loop_times import LoopTimes
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import Span
from sidetrip.graph.taps import tap_of
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports, parse_ports
from sidetrip.model.show import Send, Show
from sidetrip.plan.alignment_lines import away
from sidetrip.plan.alignment_pairs import EXACT_FRAMES, Ends, Pair
from sidetrip.plan.protect import never_passed

AFTER_INSERT = "after insert"
_PRICES = {"tap": 1, "blank loop": 2}


@dataclass(frozen=True, slots=True)
class Move:
    """One such repair. strip: whose tap is moved, or what goes out blank. mix: what the tap feeds, empty otherwise.

    beside: the loop that it follows. frames: what it adds while that loop is IN. blank: the loop, where it is one.
    edge: the edge of the line map on which it takes effect.
    """

    kind: Literal["tap", "blank loop"]
    strip: str
    mix: str
    beside: str
    frames: float
    edge: Ends
    blank: PlacedLoop | None = None

    @property
    def price(self) -> int:
        """How many settings it counts as: a blank loop takes ports as well."""
        return _PRICES[self.kind]

    def passes(self, way: Arrival) -> int:
        """Count how often an arrival passes it."""
        return sum((edge.start, edge.end) == self.edge for edge in way.edges)


def move_edges(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...], line_map: LineMap) -> frozenset[Ends]:
    """Return every edge of the line map on which a move could take effect."""
    if line_map.holding is not None and line_map.holding.holds:
        return frozenset()
    looped = {loop.strip for loop in loops if loop.way == "insert"}
    found = set()
    for edge in line_map.edges:
        if edge.start.kind != "strip" or edge.end.kind != "strip" or edge.loop is not None:
            continue
        order = _order(show, desk, edge.start.name)
        at = order.index("insert") if "insert" in order else -1
        beside = edge.start.name == edge.end.name and edge.start.at == at
        before = edge.start.name in looped and _before(show, desk, edge, edge.start.name, at)
        if before or (beside and edge.start.name not in looped):
            found.add((edge.start, edge.end))
    return frozenset(found)


def find_moves(
    show: Show,
    desk: Desk,
    line_map: LineMap,
    loops: tuple[PlacedLoop, ...],
    spare: tuple[str, ...],
    unit_times: Mapping[str, UnitTime],
    pairs: Iterable[Pair],
) -> tuple[Move, ...]:
    """Return every move that could help one of these pairs, by name.

    spare: return ports that carry nothing. On a desk that holds copies back by itself there are none: how long a copy
    waits would change with every move.
    """
    if line_map.holding is not None and line_map.holding.holds:
        return ()
    apart = [pair for pair in pairs if pair.loops]
    seen: set[tuple[str, int]] = set()
    taps = {move.edge: move for pair in apart for move in _taps(show, desk, line_map, loops, pair, seen)}
    blanks = _blanks(show, desk, loops, spare, unit_times, apart)
    return tuple(sorted([*taps.values(), *blanks], key=lambda move: (move.kind, move.strip, move.mix)))


def _taps(
    show: Show,
    desk: Desk,
    line_map: LineMap,
    loops: tuple[PlacedLoop, ...],
    pair: Pair,
    seen: set[tuple[str, int]],
) -> Iterator[Move]:
    """Yield the taps that could help a pair. seen: loops and edges of pairs before it, each looked at once."""
    between = pair.loops
    for loop in loops:
        if loop.name not in between or loop.way != "insert":
            continue
        edges = [own for own in (*pair.first.edges, *pair.second.edges) if (loop.name, id(own)) not in seen]
        if not edges:
            continue
        seen |= {(loop.name, id(own)) for own in edges}
        frames = _frames(show, line_map.loop(loop.name).delay)
        behind = _order(show, desk, loop.strip).index("insert")
        for edge in edges:
            if frames is not None and _before(show, desk, edge, loop.strip, behind):
                yield Move("tap", loop.strip, edge.end.name, loop.name, frames, (edge.start, edge.end))


def _before(show: Show, desk: Desk, edge: Edge, strip: str, behind: int) -> bool:
    """Tell whether an edge is a send taken before the insert that may as well be taken behind it."""
    start, mix = edge.start, show.mix(edge.end.name)
    if (start.kind, start.name, edge.end.kind) != ("strip", strip, "strip") or edge.end.name == strip or mix is None:
        return False
    if start.at > behind or "delay" in _order(show, desk, strip)[start.at : behind]:
        return False
    return mix.for_ is None  # ears have their tap where it is to be early


def _blanks(
    show: Show,
    desk: Desk,
    loops: tuple[PlacedLoop, ...],
    spare: tuple[str, ...],
    unit_times: Mapping[str, UnitTime],
    pairs: list[Pair],
) -> list[Move]:
    free = [parse_ports(port) for port in spare]
    wanted = {
        (strip, sibling.name): sibling
        for pair in pairs
        if free
        for one, other in ((pair.first, pair.second), (pair.second, pair.first))
        for sibling in loops
        if sibling.name in other.loops and sibling.name not in one.loops and sibling.way == "insert"
        for strip in one.route
        if strip not in other.route
    }
    taken = {loop.strip for loop in loops if loop.way in ("insert", "in-line")}
    protected = never_passed(show, desk, ((strip, "insert") for strip, _ in wanted)) if wanted else {}
    found: dict[str, Move] = {}
    for (strip, _), sibling in sorted(wanted.items(), key=lambda own: own[0]):
        order = _order(show, desk, strip)
        if strip in found or strip in taken or "insert" not in order or (strip, "insert") in protected:
            continue
        blank = _placed(show, desk, strip, sibling, free)
        if blank is None:
            continue
        time = LoopTimes(show, (*loops, blank), unit_times, Hops(show, desk))(blank)
        frames = _frames(show, time.delay)
        if frames is None:
            continue
        free = [port for port in free if not port.overlaps(blank.returns)]
        at = order.index("insert")
        edge = Node("strip", strip, at), Node("strip", strip, at + 1)
        found[strip] = Move("blank loop", strip, "", sibling.name, frames, edge, blank)
    return list(found.values())


def _placed(show: Show, desk: Desk, strip: str, sibling: PlacedLoop, free: list[Ports]) -> PlacedLoop | None:
    """Place a blank loop on spare ports of the unit of its sibling, None where too few are left side by side."""
    legs = show.legs(strip)
    for port in sorted(free):
        first = port.first
        returns = Ports(port.group, first, first + legs - 1)
        odd = legs == 1 or desk.stereo == "any pair" or first % 2 == 1
        side_by_side = all(Ports(leg.group, leg.number, leg.number) in free for leg in returns.each)
        if port.group == sibling.returns.group and odd and side_by_side:
            by = first - sibling.returns.first
            send, unit_in, unit_out = (
                Ports(own.group, own.first + by, own.first + by + legs - 1)
                for own in (sibling.send, sibling.unit_in, sibling.unit_out)
            )
            if min(send.first, unit_in.first, unit_out.first) >= 1 and all(map(desk.has, (send, unit_in, unit_out))):
                return PlacedLoop(
                    strip, strip, "insert", sibling.unit, None, legs, send, returns, unit_in, unit_out, blank=True
                )
    return None


def moved_show(show: Show, desk: Desk, moves: Iterable[Move]) -> Show:
    """Return the show with the taps of these moves taken behind the insert."""
    mixes = {mix.name: mix for mix in show.mixes}
    for move in moves:
        if move.kind == "tap":
            mix = mixes[move.mix]
            send = mix.from_.get(move.strip, Send())
            sends = {**mix.from_, move.strip: send.model_copy(update={"tap": AFTER_INSERT})}
            mixes[move.mix] = mix.model_copy(update={"from_": sends})
            where = tap_of(desk, show.kind(move.strip), show.kind(move.mix), AFTER_INSERT)
            assert where == _order(show, desk, move.strip).index("insert") + 1
    return show.model_copy(update={"mixes": tuple(mixes[mix.name] for mix in show.mixes)})


def _order(show: Show, desk: Desk, strip: str) -> tuple[str, ...]:
    pool = None if away(show, strip) else desk.pool(show.kind(strip))
    return pool.order if pool is not None else ()


def _frames(show: Show, delay: Span) -> float | None:
    """Return a time in frames, None where it is a range or unknown: nothing is built on that."""
    exact = delay.known and (delay.high - delay.low) * show.sample_rate <= EXACT_FRAMES
    return round(delay.low * show.sample_rate, 6) if exact else None


__all__ = ["Move", "find_moves", "move_edges", "moved_show"]
