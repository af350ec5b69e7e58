"""What one of two arrivals passes and the other does not: the figures that their spread is made of.

A figure that both pass cancels, known or not: the same edge, the same hop of the desk, the round trip of one unit
whose loops both of them take.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sidetrip.graph.arrivals import Arrival, State
from sidetrip.graph.holding import Holding
from sidetrip.graph.linemap import LoopTime
from sidetrip.graph.span import NOTHING, Span

_FEMTOSECOND = 15  # decimals of a second


@dataclass(frozen=True, slots=True)
class Part:
    """A figure with how often the second arrival passes it more than the first; `air` before a microphone."""

    label: str
    times: int
    span: Span
    air: bool

    @property
    def bounds(self) -> tuple[float, float]:
        """What it adds to the spread, low and high, in seconds."""
        low, high = self.times * self.span.low, self.times * self.span.high
        return min(low, high), max(low, high)


Figures = tuple[tuple[object, str, Span, bool, int], ...]
"""What an arrival passes, in order: which figure, its name, its time, whether it is air before a microphone, how often.

A copy that the desk holds back waits for the figures of another: those count too, and its own the other way.
"""


def figures_of(way: Arrival, loops: Mapping[str, LoopTime], state: State, holding: Holding | None = None) -> Figures:
    """Return the figures of an arrival in a state that take any time. holding: what the desk holds back by itself."""
    found: list[tuple[object, str, Span, bool, int]] = []
    for edge in way.edges:
        if edge.loop is not None and edge.loop not in state.out:
            for number, item in enumerate(loops[edge.loop].items):
                own = f"{item.label}, loop {edge.loop}"
                found.append((item.cause or (edge.loop, number), item.cause or own, item.delay, False, 1))
        elif edge.held and holding is not None:
            bare, out = holding.bare(edge), state.out & frozenset(loops)
            found.append((bare.cause, bare.cause, bare.delay, False, 1))
            found += [(item.cause, item.cause, item.delay, False, times) for item, times in holding.wait(edge, out)]
        elif edge.delay is not NOTHING:
            air = edge.kind == "acoustic" and edge.end.kind == "microphone"
            found.append((edge.cause or id(edge), edge.cause or edge.label, edge.delay, air, 1))
    return tuple(found)


def parts_of(first: Figures, second: Figures) -> tuple[Part, ...]:
    """Return the parts of second minus first, in the order in which they are passed."""
    times: dict[object, int] = {}
    for sign, figures in ((-1, first), (1, second)):
        for key, _, _, _, count in figures:
            times[key] = times.get(key, 0) + sign * count
    left = {key: (label, span, air) for key, label, span, air, _ in (*second, *first) if times[key]}
    order = dict.fromkeys(key for key, *_ in (*first, *second) if times[key])
    return tuple(Part(left[key][0], times[key], left[key][1], left[key][2]) for key in order)


def bounds_of(parts: Iterable[Part]) -> tuple[float, float]:
    """Return the sum of all parts, low and high; infinite where one is unknown.

    Rounded to a femtosecond, so that what is alike compares as alike and nothing has a dip at 10^18 Hz.
    """
    ends = [part.bounds for part in parts]
    low, high = math.fsum(low for low, _ in ends), math.fsum(high for _, high in ends)
    return round(low, _FEMTOSECOND) + 0.0, round(high, _FEMTOSECOND) + 0.0


def deciding(parts: Iterable[Part]) -> str | None:
    """Name the figure that would decide: the first unknown one, else the one with the widest range."""
    found = list(parts)
    unknown = [part.label for part in found if not part.span.known]
    if unknown:
        return unknown[0]
    widest = max(found, key=lambda part: part.bounds[1] - part.bounds[0], default=None)
    return widest.label if widest is not None else None
