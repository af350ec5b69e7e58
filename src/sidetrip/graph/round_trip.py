"""How long a unit takes: measured points, a line through them, and the chain on top.

A round trip is a + k·B frames (B the buffer): measured points are believed first, then the line through them, and
a single point is never stretched to another buffer.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.span import UNKNOWN, Span, span_of, total, weakest
from sidetrip.model.figure import Standing
from sidetrip.model.outboard import Processor, RoundTrip, Unit
from sidetrip.units import seconds_from_frames, seconds_from_ms

Basis = Literal["measured", "line", "other rate", "one point", "nothing", "hardware"]

_UNEVEN_FRAMES = 1.0
"""A residual above this means that something unmodelled is in the path."""


@dataclass(frozen=True, slots=True)
class UnitTime:
    """A unit's own time with an empty chain.

    span: seconds. basis: where it comes from. residual_frames: the largest distance of a measured point from the
    line, None with fewer than three buffers. spread_frames: difference between openings at one buffer.
    """

    span: Span
    basis: Basis
    residual_frames: float | None = None
    spread_frames: float = 0.0

    @property
    def uneven(self) -> bool:
        """Tell whether the measured points miss one line by more than a frame."""
        return self.residual_frames is not None and self.residual_frames > _UNEVEN_FRAMES


def unit_time(unit: Unit, buffer_frames: int | None, rate_hz: int) -> UnitTime:
    """Return the unit's own time at a buffer (None for hardware) and sample rate."""
    if unit.kind == "hardware":
        return UnitTime(span_of(unit.delay_ms, seconds_from_ms(1.0)), "hardware")
    points = _believed(unit, rate_hz)
    by_buffer = _by_buffer(points)
    residual = _residual(by_buffer)
    low, high, basis = _frames(by_buffer, buffer_frames)
    if low is None or high is None:
        return UnitTime(UNKNOWN, basis, residual)
    standing: Standing = "assumed"
    if points[0].rate != rate_hz:
        basis = "other rate"
    elif basis == "measured":
        here = [point for point in points if point.buffer == buffer_frames]
        standing = weakest(point.round_trip_frames.standing or "proven" for point in here)
    openings = [by_buffer[buffer_frames]] if buffer_frames in by_buffer else list(by_buffer.values())
    spread = max(longest - shortest for shortest, longest in openings)
    span = Span(seconds_from_frames(low, rate_hz), seconds_from_frames(high, rate_hz), standing)
    return UnitTime(span, basis, residual, spread)


def measured_buffers(unit: Unit, rate_hz: int) -> tuple[int, ...]:
    """Return the buffers with a measured round trip, smallest first: at this rate, or else at the nearest."""
    return tuple(sorted({point.buffer for point in _believed(unit, rate_hz)}))


def _believed(unit: Unit, rate_hz: int) -> list[RoundTrip]:
    """Return the points with a figure at this rate, or else at the one rate nearest to it; rates are never mixed."""
    known = [point for point in unit.measured if point.round_trip_frames.known]
    nearest = min((point.rate for point in known), key=lambda rate: (abs(rate - rate_hz), rate), default=rate_hz)
    return [point for point in known if point.rate == nearest]


def _by_buffer(points: list[RoundTrip]) -> dict[int | None, tuple[float, float]]:
    lows: defaultdict[int | None, list[float]] = defaultdict(list)
    for point in points:
        figure = point.round_trip_frames
        if figure.low is not None and figure.high is not None:
            lows[point.buffer] += [figure.low, figure.high]
    return {buffer: (min(frames), max(frames)) for buffer, frames in lows.items()}


def _line(by_buffer: dict[int | None, tuple[float, float]]) -> tuple[float, float] | None:
    """Fit a + k·B by least squares; None with fewer than two buffers."""
    points = sorted((buffer, (low + high) / 2) for buffer, (low, high) in by_buffer.items() if buffer is not None)
    if len(points) < 2:
        return None
    mean_b = sum(b for b, _ in points) / len(points)
    mean_f = sum(f for _, f in points) / len(points)
    k = sum((b - mean_b) * (f - mean_f) for b, f in points) / sum((b - mean_b) ** 2 for b, _ in points)
    return mean_f - k * mean_b, k


def _residual(by_buffer: dict[int | None, tuple[float, float]]) -> float | None:
    line = _line(by_buffer)
    if line is None or len(by_buffer) < 3:
        return None
    a, k = line
    return max(abs((low + high) / 2 - (a + k * (buffer or 0))) for buffer, (low, high) in by_buffer.items())


def _frames(
    by_buffer: dict[int | None, tuple[float, float]], buffer_frames: int | None
) -> tuple[float | None, float | None, Basis]:
    if buffer_frames in by_buffer:
        low, high = by_buffer[buffer_frames]
        return low, high, "measured"
    line = _line(by_buffer)
    if line is None or buffer_frames is None:
        return None, None, "one point" if len(by_buffer) == 1 else "nothing"
    frames = line[0] + line[1] * buffer_frames
    either_way = max(high - low for low, high in by_buffer.values()) / 2  # openings differ at this buffer too
    return max(frames - either_way, 0.0), max(frames + either_way, 0.0), "line"


def chain_time(chain: tuple[Processor, ...], rate_hz: int) -> Span:
    """Return the delay that a chain declares: frames and look-ahead of all its processors."""
    return total(
        part
        for processor in chain
        for part in (
            span_of(processor.delay_frames, seconds_from_frames(1.0, rate_hz)),
            span_of(processor.lookahead_ms, seconds_from_ms(1.0)),
        )
    )


def chain_time_on(unit: Unit, own: Span, others: list[Span]) -> Span:
    """Return when a chain is ready on its unit, given the chains that share it.

    A unit that aligns its chains makes each as late as the slowest; where that is unknown, the span runs from the
    chain's own time to the slowest one's and its standing is unknown only if the two differ.
    """
    every = (own, *others)
    standing = weakest(span.standing for span in every)
    slowest = Span(max(span.low for span in every), max(span.high for span in every), standing)
    if unit.aligns == "per chain" or unit.kind == "hardware":
        return own
    if unit.aligns == "all" or slowest.high == own.low:
        return slowest
    return Span(own.low, slowest.high, "assumed" if slowest.known else "unknown")
