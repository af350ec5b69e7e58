"""Delay lines: where a desk has one, what is dialled there, and what can be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.arrivals import Arrival
from sidetrip.graph.linemap import Edge
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Figure
from sidetrip.model.show import Show
from sidetrip.units import frames_from_seconds, seconds_from_ms

Place = tuple[Literal["output", "strip"], str]
"""Where a delay is dialled: on a strip, or on an output."""


@dataclass(frozen=True, slots=True)
class Line:
    """One delay line. now: frames dialled in the show; open: whether it can be dialled, which a range forbids.

    step, most: of the desk, in frames and in steps.
    """

    place: Place
    now: float
    open: bool
    step: float
    most: int


@dataclass(frozen=True, slots=True)
class DeskLines:
    """What the desk says of its delay lines, in frames; None where it does not, and then the figure to find out."""

    step: float | None
    most: int | None
    missing: tuple[str, ...]

    @property
    def coarse(self) -> bool:
        """Tell whether a step is longer than a frame: that aligns loudspeakers, never two ways of one microphone."""
        return self.step is None or self.step > 1.0


def desk_lines(show: Show, desk: Desk) -> DeskLines:
    """Return the step and the longest delay of a desk's delay lines, the shortest where it says a range."""
    step, longest = _exact(desk.delay_step_frames), desk.delay_max_ms.low
    missing = ["the step of the desk's delay lines"] if step is None or step <= 0 else []
    missing += ["the longest delay of the desk's delay lines"] if longest is None else []
    if step is None or step <= 0 or longest is None:
        return DeskLines(step, None, tuple(missing))
    frames = frames_from_seconds(seconds_from_ms(longest), show.sample_rate)
    return DeskLines(step, math.floor(frames / step + 1e-9), ())


def lines_of(show: Show, desk: Desk, own: DeskLines) -> tuple[Line, ...]:
    """Return every delay line of the show's strips and outputs, by name."""
    found = []
    strips = [(item.name, item.delay_ms) for item in show.inputs] + [(mix.name, mix.delay_ms) for mix in show.mixes]
    given: list[tuple[Place, Figure | None]] = [
        (("strip", name), figure) for name, figure in strips if has_line(show, desk, name)
    ]
    given += [(("output", output.name), output.delay_ms) for output in show.outputs if not away(show, output.from_)]
    for place, figure in given:
        known = 0.0 if figure is None else _exact(figure)
        now = 0.0 if known is None else frames_from_seconds(seconds_from_ms(known), show.sample_rate)
        is_open = known is not None and own.most is not None
        found.append(Line(place, now, is_open, own.step or 1.0, own.most or 0))
    return tuple(sorted(found, key=lambda line: line.place))


def has_line(show: Show, desk: Desk, strip: str) -> bool:
    """Tell whether the desk has a delay line on this strip."""
    pool = None if away(show, strip) else desk.pool(show.kind(strip))
    return pool is not None and "delay" in pool.order


def place_of(show: Show, desk: Desk, edge: Edge) -> Place | None:
    """Return the delay line that an edge of the line map passes, None where it passes none."""
    if edge.end.kind == "output" and edge.end.at == 2:  # behind a loop on the jack
        output = show.output(edge.end.name)
        return None if output is not None and away(show, output.from_) else ("output", edge.end.name)
    if edge.start.kind == "strip" and edge.start.name == edge.end.name and edge.end.kind == "strip":
        pool = None if away(show, edge.start.name) else desk.pool(show.kind(edge.start.name))
        if pool is not None and edge.start.at < len(pool.order) and pool.order[edge.start.at] == "delay":
            return "strip", edge.start.name
    return None


class Passing:
    """Which delay lines arrivals pass; each edge is looked at once."""

    def __init__(self, show: Show, desk: Desk) -> None:
        self._show, self._desk = show, desk
        self._known: dict[int, Place | None] = {}
        self._kept: list[Edge] = []

    def place(self, edge: Edge) -> Place | None:
        """Return the delay line that an edge passes."""
        if id(edge) not in self._known:
            self._kept.append(edge)  # so that its id stays its own
            self._known[id(edge)] = place_of(self._show, self._desk, edge)
        return self._known[id(edge)]

    def places(self, way: Arrival) -> list[Place]:
        """Return the delay lines of an arrival, in order."""
        return [place for edge in way.edges if (place := self.place(edge)) is not None]


def away(show: Show, strip: str) -> bool:
    """Tell whether a strip is on another desk, which has delay lines of its own."""
    return show.desk_of(strip) is not None or strip not in show.strips()


def _exact(figure: Figure) -> float | None:
    return figure.low if figure.low is not None and figure.low == figure.high else None
