"""Round trips over the buffer: a + k·B through measured points, what rates change, and what a driver claims.

`a` holds what does not grow with the buffer: converters, the desk's hops, the bus. k counts buffers: 2 where one is
filled while the other is played, 3 where the host works one block ahead (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sidetrip.model.outboard import Reported, RoundTrip
from sidetrip.units import seconds_from_frames

USUAL_K = (2.0, 3.0)
NEEDED = 3
"""Buffers that a line needs: two make a line through anything, and nothing would say that they do not lie on it."""

_ABSURD_S = 2.0
_OFF_FRAMES = 1.0

Basis = Literal["measured", "line", "range", "other rate", "nothing"]


@dataclass(frozen=True, slots=True)
class Opened:
    """Every round trip at one buffer, in frames, in the order of the file: one for each opening of the device."""

    buffer: int
    frames: tuple[float, ...]
    low: float
    high: float

    @property
    def spread(self) -> float:
        """Frames between the shortest and the longest."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Fit:
    """What is measured at one rate. a_frames, k, residual_frames: None with fewer than three buffers.

    residual_frames: the largest distance of a buffer's middle from the line. spread_frames: the largest at one buffer.
    """

    rate: int
    opened: tuple[Opened, ...]
    a_frames: float | None
    k: float | None
    residual_frames: float | None
    spread_frames: float

    @property
    def even(self) -> bool:
        """Tell whether there is a line and every buffer lies on it to a frame."""
        return self.residual_frames is not None and self.residual_frames <= _OFF_FRAMES


@dataclass(frozen=True, slots=True)
class Trip:
    """A round trip at a buffer and rate, seconds; None where nothing is known. basis: where it comes from."""

    buffer: int
    rate: int
    low_s: float | None
    high_s: float | None
    basis: Basis


@dataclass(frozen=True, slots=True)
class Claim:
    """What a driver reports, frames, beside what was measured there. impossible: why it cannot be, or ""."""

    buffer: int
    rate: int
    frames: float
    measured: tuple[float, float] | None
    impossible: str


def fits(points: Iterable[RoundTrip]) -> tuple[Fit, ...]:
    """Return what was measured, a fit for each rate, lowest rate first."""
    known = [point for point in points if point.round_trip_frames.known]
    return tuple(_fit(rate, [p for p in known if p.rate == rate]) for rate in sorted({p.rate for p in known}))


def _fit(rate: int, points: Sequence[RoundTrip]) -> Fit:
    opened = []
    for buffer in sorted({point.buffer for point in points}):
        figures = [point.round_trip_frames for point in points if point.buffer == buffer]
        ends = [end for figure in figures for end in (figure.low, figure.high) if end is not None]
        frames = tuple((figure.low or 0.0) / 2 + (figure.high or 0.0) / 2 for figure in figures)
        opened.append(Opened(buffer, frames, min(ends), max(ends)))
    spread = max(one.spread for one in opened)
    if len(opened) < NEEDED:
        return Fit(rate, tuple(opened), None, None, None, spread)
    middles = [(one.buffer, (one.low + one.high) / 2) for one in opened]
    a, k = _line(middles)
    residual = max(abs(frames - a - k * buffer) for buffer, frames in middles)
    return Fit(rate, tuple(opened), a, k, residual, spread)


def _line(points: Sequence[tuple[int, float]]) -> tuple[float, float]:
    mean_b = sum(b for b, _ in points) / len(points)
    mean_f = sum(f for _, f in points) / len(points)
    k = sum((b - mean_b) * (f - mean_f) for b, f in points) / sum((b - mean_b) ** 2 for b, _ in points)
    return mean_f - k * mean_b, k


def trip(found: Sequence[Fit], buffer: int, rate: int) -> Trip:
    """Return the round trip at a buffer and rate: measured, else on a line of three buffers or more, else a range.

    Fewer buffers leave k open: the range runs from k of 2 to 3 through what was measured. Another rate leaves open
    how much of `a` is counted in frames and how much is time; two rates with lines of their own settle it.
    """
    own = next((fit for fit in found if fit.rate == rate), None)
    if own is not None:
        low, high, basis = _frames(own, buffer)
        return Trip(buffer, rate, seconds_from_frames(low, rate), seconds_from_frames(high, rate), basis)
    if not found:
        return Trip(buffer, rate, None, None, "nothing")
    parts = rate_parts(found)
    near = min(found, key=lambda fit: (abs(fit.rate - rate), fit.rate))
    low, high, _ = _frames(near, buffer)
    if parts is not None and near.k is not None:
        frames, seconds = parts
        either = near.spread_frames / 2
        middle = frames + seconds * rate + near.k * buffer
        low_s, high_s = (seconds_from_frames(max(end, 0.0), rate) for end in (middle - either, middle + either))
        return Trip(buffer, rate, low_s, high_s, "other rate")
    # All of it frames, or all but the buffers time.
    buffers = buffer * (near.k if near.k is not None else USUAL_K[0])
    ends = [seconds_from_frames(end, rate) for end in (low, high)]
    ends += [
        seconds_from_frames(max(end - buffers, 0.0), near.rate) + seconds_from_frames(min(buffers, end), rate)
        for end in (low, high)
    ]
    return Trip(buffer, rate, min(ends), max(ends), "other rate")


def _frames(fit: Fit, buffer: int) -> tuple[float, float, Basis]:
    own = next((one for one in fit.opened if one.buffer == buffer), None)
    if own is not None:
        return own.low, own.high, "measured"
    if fit.a_frames is not None and fit.k is not None:
        middle, either = fit.a_frames + fit.k * buffer, fit.spread_frames / 2 + (fit.residual_frames or 0.0)
        return max(middle - either, 0.0), max(middle + either, 0.0), "line"
    ends = [end + k * (buffer - one.buffer) for one in fit.opened for end in (one.low, one.high) for k in USUAL_K]
    if len(fit.opened) > 1:
        a, k = _line([(one.buffer, (one.low + one.high) / 2) for one in fit.opened])
        ends.append(a + k * buffer)
    return max(min(ends), 0.0), max(0.0, *ends), "range"


def rate_parts(found: Sequence[Fit]) -> tuple[float, float] | None:
    """Return the part of `a` that is counted in frames, and the part that is time in seconds.

    None where fewer than two rates have lines, or where they make no sense together (a part below zero).
    """
    lines = [(fit.rate, fit.a_frames) for fit in found if fit.a_frames is not None]
    if len(lines) < 2:
        return None
    frames, seconds = _line(lines)
    return (frames, seconds) if frames > -_OFF_FRAMES and seconds > -_OFF_FRAMES / lines[0][0] else None


def judge_reported(reported: Iterable[Reported], found: Sequence[Fit]) -> tuple[Claim, ...]:
    """Hold what a driver reports against what can be and what was measured; a claim never stands in for it."""
    claims = []
    for one in reported:
        low, high = one.frames.low, one.frames.high
        if low is None or high is None:
            continue
        fit = next((fit for fit in found if fit.rate == one.rate), None)
        own = next((at for at in fit.opened if at.buffer == one.buffer), None) if fit else None
        why = ""
        if high < one.buffer:
            why = f"below one buffer of {one.buffer}"
        elif high < 2 * one.buffer:
            why = f"below two buffers of {one.buffer}, one in and one out"
        elif low > _ABSURD_S * one.rate:
            why = f"over {_ABSURD_S:g} s: another unit, perhaps"
        claims.append(Claim(one.buffer, one.rate, (low + high) / 2, (own.low, own.high) if own else None, why))
    return tuple(claims)


__all__ = ["Claim", "Fit", "Opened", "Trip", "fits", "judge_reported", "rate_parts", "trip"]
