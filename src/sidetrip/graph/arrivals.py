"""Every path from a source to a place, found once; the times of all states are one matrix product."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sidetrip.graph.linemap import Edge, Item, LineMap, Node, Place
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
    """One path. `base` is its time with every loop OUT; each loop in `loops` adds its own when IN."""

    source: str
    place: Place
    edges: tuple[Edge, ...]
    loops: tuple[str, ...]
    base: Span
    level_db: float | None
    inverted: bool

    @property
    def microphone(self) -> str | None:
        """The input through which it came into the desk, None for sound through air alone."""
        return next((edge.end.name for edge in self.edges if edge.end.kind == "microphone"), None)

    @property
    def output(self) -> str | None:
        """The last output it left the desk by, None for sound through air alone."""
        return next((edge.end.name for edge in reversed(self.edges) if edge.end.kind == "sounding"), None)

    @property
    def route(self) -> tuple[str, ...]:
        """The strips it passes, in order."""
        return tuple(dict.fromkeys(edge.end.name for edge in self.edges if edge.end.kind == "strip"))

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
        dead = np.array([loop in state.dead for loop in self.loops], dtype=bool)
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


def find_arrivals(line_map: LineMap) -> Arrivals:
    """Enumerate all paths from sources to places. Paths through a ring are left out."""
    ringed = {node for ring in line_map.rings for node in ring}
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
    bounds = np.array([(t.delay.low, t.delay.high) for t in line_map.loops], dtype=float).reshape(-1, 2)
    return Arrivals(tuple(rows), loops, passes, bases, bounds, len(rows) < MAX_ARRIVALS)


def _leading_to(targets: set[Node], line_map: LineMap, ringed: set[Node]) -> set[Node]:
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
