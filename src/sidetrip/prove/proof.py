"""A proof: measured facts against the plan, loop by loop, with what could not be told and why."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

Verdict = Literal["pass", "look", "fail", "cannot tell"]
Level = Literal["wiring", "transfer", "endurance", "escape"]
LEVELS: tuple[Level, ...] = ("wiring", "transfer", "endurance", "escape")
StopKind = Literal["strip", "send", "unit", "return", "strip again"]

_RANK: dict[Verdict, int] = {"fail": 0, "cannot tell": 1, "look": 2, "pass": 3}


@dataclass(frozen=True, slots=True)
class Row:
    """One question about one loop leg.

    measured, expected, error: in `unit`, None where there is no figure; error is one standard error. because: one
    sentence, without what the figures already say when the verdict is pass. at: the stop where a fault shows.
    """

    question: str
    level: Level
    verdict: Verdict
    measured: float | None
    expected: float | None
    error: float | None
    unit: str
    because: str
    at: StopKind = "return"


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of a loop, in the order that the signal passes it; fault: what bends out here, None when straight."""

    kind: StopKind
    name: str
    fault: str | None


@dataclass(frozen=True, slots=True)
class LegProof:
    """One leg of one loop.

    side: "" for mono, "left" or "right". delay_s, delay_error_s: of the whole loop as measured, None when it cannot
    be told. expected_s: bounds by the plan. heard: whose return it is by sound, None when unknown. chain: that it was
    used with, "" when flat.
    """

    loop: str
    side: str
    unit: str
    port: str
    stops: tuple[Stop, ...]
    rows: tuple[Row, ...]
    delay_s: float | None
    delay_error_s: float | None
    expected_s: tuple[float, float | None]
    heard: str | None
    chain: str = ""

    @property
    def name(self) -> str:
        """The loop and its side."""
        return f"{self.loop} {self.side}".strip()

    @property
    def verdict(self) -> Verdict:
        """The worst of what was asked in this take; what belongs to other takes does not count."""
        return worst(row.verdict for row in self.rows if row.level in ("wiring", "transfer"))

    def row(self, question: str) -> Row | None:
        """Return the row of a question."""
        return next((row for row in self.rows if row.question == question), None)

    def level_verdict(self, level: Level) -> Verdict:
        """Return the worst verdict of one level of proof."""
        return worst(row.verdict for row in self.rows if row.level == level)


@dataclass(frozen=True, slots=True)
class Heard:
    """One entry found on one track, as measured.

    delay_s: against the reference of the take, None without one. level_db: against the test as sent.
    """

    entry: str
    port: str
    carries: str
    delay_s: float | None
    delay_error_s: float
    level_db: float
    inverted: bool


@dataclass(frozen=True, slots=True)
class Change:
    """How a loop's delay was at every proof of the same take and settings, the latest last.

    delays_s: all of them; no mean is offered, since the next opening is none of them for certain.
    """

    loop: str
    when: tuple[str, ...]
    delays_s: tuple[float, ...]

    @property
    def spread_s(self) -> float:
        """The largest less the smallest."""
        return max(self.delays_s) - min(self.delays_s)


@dataclass(frozen=True, slots=True)
class Proof:
    """One take, proven.

    when: as ISO text. buffers: of each unit in frames, None for hardware. clock_ppm: the recorder's against the
    player's, with its standard error. speed: recorded rate over what its file says, where that is no drift, else None.
    tested_s: how long the measured periods last. heard: everything found above the floor on every track.
    """

    show: str
    take: str
    state: str
    processors: str
    when: str
    recording: tuple[str, ...]
    rate_hz: int
    buffers: tuple[tuple[str, int | None], ...]
    reference: str | None
    clock_kind: str
    clock_ppm: float
    clock_error_ppm: float
    start_s: float
    tested_s: float
    legs: tuple[LegProof, ...]
    unproven: tuple[tuple[str, str], ...]
    heard: tuple[Heard, ...]
    changes: tuple[Change, ...] = ()

    @property
    def moment_s(self) -> float:
        """When it was, as seconds, so that proofs from two time zones have an order; before all else if not told."""
        try:
            when = datetime.fromisoformat(self.when)
        except ValueError:
            return -math.inf
        return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()

    @property
    def verdict(self) -> Verdict:
        """The worst of all legs."""
        return worst(leg.verdict for leg in self.legs)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the worst verdict; "cannot tell" for none at all."""
    return min(verdicts, key=_RANK.__getitem__, default="cannot tell")


__all__ = ["LEVELS", "Change", "Heard", "LegProof", "Level", "Proof", "Row", "Stop", "StopKind", "Verdict", "worst"]
