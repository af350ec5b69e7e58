"""A time with its bounds and its standing; a sum is as weak as its weakest part."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from sidetrip.model.figure import Figure, Standing

_WEAKNESS: dict[Standing, int] = {"proven": 0, "assumed": 1, "unknown": 2}

DelayKind = Literal["fixed", "configured", "measured", "acoustic", "buffer", "chain"]


@dataclass(frozen=True, slots=True)
class Span:
    """Seconds from `low` to `high`; `high` is infinite where a part is unknown, and `low` holds what is known."""

    low: float
    high: float
    standing: Standing

    @property
    def known(self) -> bool:
        """Tell whether every part is known, if only as a range."""
        return math.isfinite(self.high)

    @property
    def typical(self) -> float | None:
        """The middle of the range in seconds, None when a part is unknown."""
        return (self.low + self.high) / 2 if self.known else None

    def __add__(self, other: Span) -> Span:
        same = self.standing == other.standing
        standing = self.standing if same else weakest((self.standing, other.standing))
        return Span(self.low + other.low, self.high + other.high, standing)

    def __neg__(self) -> Span:
        """Return the span to add where a path leaves this one out; unknown stays unknown, and takes back its low."""
        return Span(-self.high, -self.low, self.standing) if self.known else Span(-self.low, math.inf, self.standing)


NOTHING = Span(0.0, 0.0, "proven")
UNKNOWN = Span(0.0, math.inf, "unknown")


def weakest(standings: Iterable[Standing]) -> Standing:
    """Return the weakest standing, proven for none."""
    return max(standings, key=_WEAKNESS.__getitem__, default="proven")


def total(spans: Iterable[Span]) -> Span:
    """Add spans up."""
    result = NOTHING
    for span in spans:
        if span is not NOTHING:  # most stages of a strip
            result = result + span
    return result


def span_of(figure: Figure | None, seconds_per_unit: float, standing: Standing = "assumed") -> Span:
    """Turn a figure into seconds; None and unknown become UNKNOWN. `standing` is the file's own."""
    if figure is None or figure.low is None or figure.high is None:
        return UNKNOWN
    return Span(figure.low * seconds_per_unit, figure.high * seconds_per_unit, figure.standing or standing)
