"""The desk's own delays, looked up hop by hop; what is known about this desk goes before its type."""

from __future__ import annotations

from sidetrip.findings import Finding
from sidetrip.graph.span import UNKNOWN, Span, span_of
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.units import seconds_from_frames

_DOUBLE_RATE_HZ = 80_000


class Hops:
    """Looks hops up and remembers which are unknown."""

    def __init__(self, show: Show, desk: Desk) -> None:
        self._hops = (*show.desk.hops, *desk.hops)
        self._rate = show.sample_rate
        self._standing = desk.standing
        self._missing: set[tuple[str, str]] = set()
        self._known: dict[tuple[str, str], Span] = {}

    def __call__(self, start: str, end: str) -> Span:
        """Return the delay from one kind of place to another, UNKNOWN where the desk does not say."""
        if (start, end) in self._known:
            return self._known[start, end]
        for hop in self._hops:
            if start in hop.from_ and end in hop.to:
                figure = hop.frames
                if self._rate > _DOUBLE_RATE_HZ and hop.frames_at_96000 is not None:
                    figure = hop.frames_at_96000
                span = span_of(figure, seconds_from_frames(1.0, self._rate), self._standing)
                break
        else:
            span = UNKNOWN
        if not span.known:
            self._missing.add((start, end))
        self._known[start, end] = span
        return span

    def findings(self) -> list[Finding]:
        """Return one finding for each hop that was asked for and is unknown."""
        return [
            Finding(
                "delay-unknown",
                f"desk / {start} to {end}",
                f"The desk's delay from {start} to {end} is unknown",
                "",
                "Measure it, or give it under desk: {hops: [{from: ..., to: ..., frames: ...}]}",
                ("desk",),
            )
            for start, end in sorted(self._missing)
        ]
