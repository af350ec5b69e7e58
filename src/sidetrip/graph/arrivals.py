"""Every path from a source to a place, found once; the times of all states are one matrix product."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from sidetrip.graph.linemap import Edge, Item, LineMap, Node, Place
from sidetrip.graph.rings import nodes_on_rings
from sidetrip.graph.span import Span, total

if TYPE_CHECKING:
    from numpy.typing import NDArray

StateKind = Literal["all in", "all out", "loop out", "group out", "unit dead"]

MAX_ARRIVALS = 200_000


@dataclass(frozen=True, slots=True)
class State:
    """Which loops are OUT, and which are dead (IN, but their unit gives nothing back). The rest is IN."""

    name: str
    kind: StateKind
    out: frozenset[str] = frozenset()
    dead: frozenset[str] = frozenset()


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
    """All arrivals of a line map, and their times in any state."""

    rows: tuple[Arrival, ...]
    loops: tuple[str, ...]
    passes: NDArray[np.int16]
    bases: NDArray[np.float64]
    loop_bounds: NDArray[np.float64]
    complete: bool

    def times(self, state: State) -> Times:
        """Return low and high times of every arrival in a state, in seconds, shape (arrivals,)."""
        active = np.array([loop not in state.out for loop in self.loops], dtype=bool)
        dead = np.array([loop in state.dead - state.out for loop in self.loops], dtype=bool)
        unknown = ~np.isfinite(self.loop_bounds[:, 1]) & active
        finite = np.where(np.isfinite(self.loop_bounds), self.loop_bounds, 0.0) * active[:, None]
        bounds = self.bases + self.passes @ finite
        bounds[self.passes @ unknown > 0, 1] = np.inf
        return Times(bounds[:, 0], bounds[:, 1], self.passes @ dead > 0)


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
        return replace(known[1], loop_bounds=_loop_bounds(line_map))
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
    bases = np.array([(row.base.low, row.base.high) for row in rows], dtype=float).reshape(-1, 2)
    return Arrivals(tuple(rows), loops, passes, bases, _loop_bounds(line_map), len(rows) < MAX_ARRIVALS)


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


def states_of(
    loops: Sequence[str], groups: dict[str, tuple[str, ...]], units: dict[str, tuple[str, ...]]
) -> tuple[State, ...]:
    """Return the states of a show: all IN, all OUT, each loop OUT, each group OUT, each unit dead.

    groups: loops of each bypass group. units: loops that fall silent when a unit dies with nothing pressed.
    """
    states = [State("all IN", "all in")]
    if loops:
        states.append(State("all OUT", "all out", out=frozenset(loops)))
    states += [State(f"{loop} OUT", "loop out", out=frozenset([loop])) for loop in sorted(loops)]
    states += [State(f"{group} OUT", "group out", out=frozenset(own)) for group, own in sorted(groups.items()) if own]
    states += [State(f"{unit} dead", "unit dead", dead=frozenset(own)) for unit, own in sorted(units.items()) if own]
    return tuple(states)
