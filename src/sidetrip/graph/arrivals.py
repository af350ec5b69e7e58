"""Every path from a source to a place, found once; the times of all states are one matrix product."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

from sidetrip.graph.linemap import Edge, Item, LineMap, LoopTime, Node, Place
from sidetrip.graph.rings import nodes_on_rings
from sidetrip.graph.span import Span, total, weakest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidetrip.graph.holding import Holding
    from sidetrip.model.figure import Standing

StateKind = Literal["all in", "all out", "loop out", "group out", "unit dead", "taken over", "cue"]

MAX_ARRIVALS = 200_000


@dataclass(frozen=True, slots=True)
class State:
    """Which loops are OUT, and which are dead (IN, but their unit gives nothing back). The rest is IN.

    instead: the unit that has taken over from one that died, with its own time in place of that one's.
    """

    name: str
    kind: StateKind
    out: frozenset[str] = frozenset()
    dead: frozenset[str] = frozenset()
    instead: str | None = None


@dataclass(frozen=True, slots=True)
class Arrival:
    """One path. `base` is its time with every loop OUT; each loop in `loops` adds its own when IN.

    route: the strips it passes, in order. microphone: the input through which it came into the desk, output: the last
    output it left the desk by; both None for sound through air alone.
    """

    source: str
    place: Place
    edges: tuple[Edge, ...]
    loops: tuple[str, ...]
    base: Span
    level_db: float | None
    inverted: bool
    route: tuple[str, ...]
    microphone: str | None
    output: str | None

    def items(self) -> tuple[Item, ...]:
        """The parts of `base` that take time, in order."""
        return tuple(Item(e.label, e.kind, e.delay) for e in self.edges if e.delay.high > 0)


@dataclass(frozen=True, slots=True)
class Arrivals:
    """All arrivals of a line map, and their times in any state. parallel: loops that are silent when they are OUT.

    holding: what the desk holds back by itself. held: how often each arrival passes each copy that can be held.
    instead: the same arrivals once a unit has taken over, by its name. loop_times: the loops part by part, in order.
    """

    rows: tuple[Arrival, ...]
    loops: tuple[str, ...]
    passes: NDArray[np.int16]
    bases: NDArray[np.float64]
    loop_bounds: NDArray[np.float64]
    complete: bool
    parallel: frozenset[str] = frozenset()
    holding: Holding | None = None
    held: NDArray[np.int16] | None = None
    instead: Mapping[str, Arrivals] = field(default_factory=dict)
    loop_times: tuple[LoopTime, ...] = ()

    def times(self, state: State) -> Times:
        """Return low and high times of every arrival in a state, in seconds, shape (arrivals,)."""
        if state.instead is not None and state.instead in self.instead:
            return self.instead[state.instead].times(replace(state, instead=None))
        active = np.array([loop not in state.out for loop in self.loops], dtype=bool)
        unknown = ~np.isfinite(self.loop_bounds[:, 1]) & active
        finite = np.where(np.isfinite(self.loop_bounds), self.loop_bounds, 0.0) * active[:, None]
        bounds = self.bases + self.passes @ finite
        longer = self.held_longer(state)
        if longer is not None:
            bounds = bounds + longer
        if unknown.any():
            bounds[(self.passes[:, unknown] > 0).any(axis=1), 1] = np.inf
        return Times(bounds[:, 0], bounds[:, 1], self.silent(state))

    def silent(self, state: State) -> NDArray[np.bool_]:
        """Tell of which arrivals nothing is heard in a state, shape (arrivals,)."""
        silent = (state.dead - state.out) | (state.out & self.parallel)
        columns = [number for number, loop in enumerate(self.loops) if loop in silent]
        if not columns:
            return np.zeros(len(self.rows), dtype=bool)
        return np.asarray((self.passes[:, columns] > 0).any(axis=1), dtype=bool)

    def held_longer(self, state: State) -> NDArray[np.float64] | None:
        """Return how much longer the desk holds each arrival back in a state than with every loop OUT.

        Low and high in seconds, shape (arrivals, 2); None where it holds nothing back.
        """
        if state.instead is not None and state.instead in self.instead:
            return self.instead[state.instead].held_longer(replace(state, instead=None))
        if self.holding is None or self.held is None or not self.holding.holds:
            return None
        more = np.array(self.holding.more(state.out & frozenset(self.loops)), dtype=float)
        longer = self.held.astype(float) @ np.where(np.isfinite(more), more, 0.0)
        longer[self.held @ ~np.isfinite(more[:, 1]) > 0, 1] = np.inf
        return longer


@dataclass(frozen=True, slots=True)
class Times:
    """Times of all arrivals in one state: `low` and `high` in seconds, `silent` where nothing arrives."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    silent: NDArray[np.bool_]

    @property
    def typical(self) -> NDArray[np.float64]:
        """The middle of each range, infinite where unknown."""
        return (self.low + self.high) / 2


def find_arrivals(line_map: LineMap, known: tuple[LineMap, Arrivals] | None = None) -> Arrivals:
    """Enumerate all paths from sources to places. Paths through a ring are left out.

    known: another line map with its arrivals. When only the times of loops differ, its paths are taken over.
    """
    if known is not None and _same_paths(known[0], line_map):
        return with_times(known[1], line_map)
    ringed = nodes_on_rings(line_map.rings, line_map.outgoing)
    by_node: defaultdict[Node, list[Place]] = defaultdict(list)
    for place in line_map.places:
        by_node[place.node].append(place)
    useful = _leading_to(set(by_node), line_map, ringed)
    rows: list[Arrival] = []
    sources = sorted({edge.start for edge in line_map.edges if edge.start.kind == "source"} & useful)
    for source in sources:
        _walk(source, line_map, useful, by_node, rows)
    rows.sort(key=lambda a: (a.source, a.place.kind, a.place.name, a.route, a.output or "", a.loops))
    loops = tuple(time.loop for time in line_map.loops)
    index = {loop: number for number, loop in enumerate(loops)}
    passes = np.zeros((len(rows), len(loops)), dtype=np.int16)
    for number, row in enumerate(rows):
        for loop in row.loops:
            passes[number, index[loop]] += 1
    complete = len(rows) < MAX_ARRIVALS
    parallel = frozenset(time.loop for time in line_map.loops if time.parallel)
    bases = np.array([(row.base.low, row.base.high) for row in rows], dtype=float).reshape(-1, 2)
    holding, held = line_map.holding, _held(line_map, rows)
    return Arrivals(
        tuple(rows),
        loops,
        passes,
        bases,
        _loop_bounds(line_map),
        complete,
        parallel,
        holding,
        held,
        loop_times=line_map.loops,
    )


def with_times(arrivals: Arrivals, line_map: LineMap) -> Arrivals:
    """Return the same arrivals with the times of loops in another line map, which has the same paths and loops."""
    bounds = _loop_bounds(line_map)
    return replace(arrivals, loop_bounds=bounds, holding=line_map.holding, loop_times=line_map.loops)


def _held(line_map: LineMap, rows: list[Arrival]) -> NDArray[np.int16] | None:
    """Count how often each arrival passes each copy that the desk can hold back; None where it holds none."""
    if line_map.holding is None:
        return None
    index = {(edge.start, edge.end): number for number, edge in enumerate(line_map.holding.holds)}
    held = np.zeros((len(rows), len(index)), dtype=np.int16)
    for number, row in enumerate(rows):
        for edge in row.edges:
            if edge.held:
                held[number, index[edge.start, edge.end]] += 1
    return held


def _same_paths(one: LineMap, other: LineMap) -> bool:
    named = [time.loop for time in one.loops] == [time.loop for time in other.loops]
    return named and one.edges == other.edges and one.places == other.places


def _loop_bounds(line_map: LineMap) -> NDArray[np.float64]:
    delays = [time.delay for time in line_map.loops]
    return np.array([(delay.low, delay.high) for delay in delays], dtype=float).reshape(-1, 2)


def _leading_to(targets: set[Node], line_map: LineMap, ringed: frozenset[Node]) -> set[Node]:
    incoming: defaultdict[Node, list[Node]] = defaultdict(list)
    for edge in line_map.edges:
        incoming[edge.end].append(edge.start)
    useful: set[Node] = set()
    waiting = list(targets)
    while waiting:
        node = waiting.pop()
        if node not in useful and node not in ringed:
            useful.add(node)
            waiting.extend(incoming[node])
    return useful


def _walk(
    source: Node, line_map: LineMap, useful: set[Node], places: dict[Node, list[Place]], rows: list[Arrival]
) -> None:
    stack: list[tuple[Node, tuple[Edge, ...]]] = [(source, ())]
    while stack and len(rows) < MAX_ARRIVALS:
        node, edges = stack.pop()
        if edges and node in places:
            rows.extend(_arrival(source.name, place, edges) for place in places[node])
        stack.extend((edge.end, (*edges, edge)) for edge in line_map.outgoing.get(node, ()) if edge.end in useful)


def _arrival(source: str, place: Place, edges: tuple[Edge, ...]) -> Arrival:
    levels = [edge.level_db for edge in edges]
    return Arrival(
        source,
        place,
        edges,
        tuple(edge.loop for edge in edges if edge.loop is not None),
        total(edge.delay for edge in edges),
        None if any(level is None for level in levels) else sum(level for level in levels if level is not None),
        sum(edge.inverted for edge in edges) % 2 == 1,
        tuple(dict.fromkeys(edge.end.name for edge in edges if edge.end.kind == "strip")),
        next((edge.end.name for edge in edges if edge.end.kind == "microphone"), None),
        next((edge.end.name for edge in reversed(edges) if edge.end.kind == "sounding"), None),
    )


def standing_of(line_map: LineMap, row: Arrival) -> Standing:
    """Return the standing of an arrival's time with the loops IN: the weakest of its parts."""
    parts = [row.base.standing, *(line_map.loop(loop).delay.standing for loop in row.loops)]
    if line_map.holding is not None:  # what it waits for is a part of it too
        parts += [own for edge in row.edges if edge.held for own in line_map.holding.standings(edge)]
    return weakest(parts)


def states_of(
    loops: Sequence[str],
    groups: dict[str, tuple[str, ...]],
    units: dict[str, tuple[str, ...]],
    blocks: Mapping[str, tuple[str, ...]] = MappingProxyType({}),
) -> tuple[State, ...]:
    """Return the states of a show: all IN, all OUT, each loop OUT, each group OUT, each unit dead.

    groups: loops of each bypass group. units: loops that fall silent when a unit dies with nothing pressed. blocks:
    loops that are OUT only all together, because their block has one source.
    """
    together = {loop for own in blocks.values() for loop in own}
    states = [State("all IN", "all in")]
    if loops:
        states.append(State("all OUT", "all out", out=frozenset(loops)))
    alone = [loop for loop in sorted(loops) if loop not in together]
    states += [State(f"{loop} OUT", "loop out", out=frozenset([loop])) for loop in alone]
    states += [State(f"{block} OUT", "group out", out=frozenset(own)) for block, own in sorted(blocks.items())]
    states += [State(f"{group} OUT", "group out", out=frozenset(own)) for group, own in sorted(groups.items()) if own]
    states += [State(f"{unit} dead", "unit dead", dead=frozenset(own)) for unit, own in sorted(units.items()) if own]
    return tuple(states)
