"""The line map: what is connected to what, how late, how loud, and through which loop."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from sidetrip.findings import Finding
from sidetrip.graph.span import DelayKind, Span, total
from sidetrip.model.ports import Ports

NodeKind = Literal["source", "microphone", "port", "strip", "loop", "unit", "output", "sounding", "place"]
PlaceKind = Literal["output", "listener", "ear"]


@dataclass(frozen=True, slots=True, order=True)
class Node:
    """A point on the map. `at` counts the stages of a strip's order that lie behind it."""

    kind: NodeKind
    name: str
    at: int = 0

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Edge:
    """From one node to the next.

    level_db: gain, None where unknown. loop: the loop that this edge passes when it is IN; then `delay` is what is
    left when it is OUT, which is nothing. cause: the figure that the delay comes from, in words, where other edges
    take theirs from it too.
    """

    start: Node
    end: Node
    delay: Span
    kind: DelayKind
    label: str
    level_db: float | None = 0.0
    inverted: bool = False
    loop: str | None = None
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One part of a time, for the sheet that adds it up. cause: as for an edge."""

    label: str
    kind: DelayKind
    delay: Span
    cause: str = ""


@dataclass(frozen=True, slots=True)
class PlacedLoop:
    """A loop with its ports, as the allocation made it.

    strip: the strip, or the output for the way "output". send, returns: desk ports of the insert or output way.
    unit_in, unit_out: the unit's channels as port groups of the desk side (the same ports for hardware).
    """

    name: str
    strip: str
    way: Literal["insert", "output"]
    unit: str
    chain: str | None
    legs: int
    send: Ports
    returns: Ports
    unit_in: Ports
    unit_out: Ports


@dataclass(frozen=True, slots=True)
class LoopTime:
    """What a loop adds when it is IN, part by part."""

    loop: str
    items: tuple[Item, ...]

    @property
    def delay(self) -> Span:
        """The whole of it."""
        return total(item.delay for item in self.items)


@dataclass(frozen=True, slots=True)
class Place:
    """Where sound is judged: an output's loudspeaker or encoder, a listener, somebody's ears."""

    name: str
    kind: PlaceKind
    node: Node


@dataclass(frozen=True, slots=True)
class LineMap:
    """All of it. Rings are lists of names in the order of the signal; what lies on one has no times."""

    edges: tuple[Edge, ...]
    places: tuple[Place, ...]
    loops: tuple[LoopTime, ...]
    rings: tuple[tuple[Node, ...], ...]
    findings: tuple[Finding, ...]
    outgoing: dict[Node, tuple[Edge, ...]] = field(repr=False)

    def loop(self, name: str) -> LoopTime:
        """Return the time of a loop. Raises KeyError for an unknown name."""
        for time in self.loops:
            if time.loop == name:
                return time
        raise KeyError(name)
