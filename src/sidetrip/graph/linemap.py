"""The line map: what is connected to what, how late, how loud, and through which loop."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from sidetrip.findings import Finding
from sidetrip.graph.span import DelayKind, Span, total
from sidetrip.model.ports import Ports
from sidetrip.model.show import Way

if TYPE_CHECKING:
    from sidetrip.graph.holding import Holding

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
    take theirs from it too. held: a copy that the desk holds back for others; `delay` has what it waits while every
    loop is OUT in it, and the line map's holding knows the rest.
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
    held: bool = False


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

    strip: the strip, or the output for the way "output". send, returns: desk ports where it leaves and comes back; for
    the way in-line the ports of the input, and those that take their place as the strip's source.
    unit_in, unit_out: the unit's channels as port groups of the desk side (the same ports for hardware).
    back_on: for send-and-strip the input strip on which it comes back. blank: a strip that goes along because its
    block goes, with nothing on the way. from_cue, until_cue: between which cues it has its ports, where another loop
    has them before or after; None for the start and the end of the show.
    """

    name: str
    strip: str
    way: Way
    unit: str
    chain: str | None
    legs: int
    send: Ports
    returns: Ports
    unit_in: Ports
    unit_out: Ports
    back_on: str | None = None
    blank: bool = False
    from_cue: float | None = None
    until_cue: float | None = None

    def shares_time(self, other: PlacedLoop) -> bool:
        """Tell whether two loops have their ports at the same time."""
        ends = [
            (loop.from_cue or 0.0, math.inf if loop.until_cue is None else loop.until_cue) for loop in (self, other)
        ]
        return ends[0][0] < ends[1][1] and ends[1][0] < ends[0][1]


@dataclass(frozen=True, slots=True)
class LoopTime:
    """What a loop adds when it is IN, part by part. parallel: OUT, nothing comes back instead of the dry sound.

    tail: what comes back is a tail without the sound itself, so that it has no phase against it. chain: its name.
    """

    loop: str
    items: tuple[Item, ...]
    parallel: bool = False
    tail: bool = False
    chain: str | None = None

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
    holding: Holding | None = None

    def loop(self, name: str) -> LoopTime:
        """Return the time of a loop. Raises KeyError for an unknown name."""
        for time in self.loops:
            if time.loop == name:
                return time
        raise KeyError(name)
