"""Evidence: what a computer's blocks did under one frozen configuration, and which logs of it add up."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.findings import Finding
from sidetrip.units import period_s

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, order=True)
class Configuration:
    """What must not change for hours to add up. session: a hash of the host's session, plugs and all."""

    unit: str
    system: str
    driver: str
    session: str
    buffer: int
    rate: int

    @property
    def frozen(self) -> tuple[str, str, str, str]:
        """What is the same at every buffer and rate."""
        return self.unit, self.system, self.driver, self.session

    @property
    def period_s(self) -> float:
        """Seconds from block to block; each block's deadline."""
        return period_s(self.buffer, self.rate)

    @property
    def fingerprint(self) -> str:
        """Twelve letters and figures that change with any part."""
        parts = "\n".join((*self.frozen, str(self.buffer), str(self.rate)))
        return hashlib.sha256(parts.encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True)
class BlockLog:
    """One log. Times in seconds.

    blocks: how many were logged. late_at: their number in the log, rising, of all that finished later than `floor_s`
    after they were due, or were missed; lateness_s, work_s, missed: of these, each of shape (late,). counts: of
    finishing times of all blocks, in bins of `bin_s` from 0 up. work_s_mean: of all. complete: it has its end mark.
    """

    configuration: Configuration
    started: str
    blocks: int
    late_at: NDArray[np.int64]
    lateness_s: NDArray[np.float64]
    work_s: NDArray[np.float64]
    missed: NDArray[np.bool_]
    floor_s: float
    counts: NDArray[np.int64]
    bin_s: float
    work_s_mean: float
    complete: bool = True
    file: str = ""

    @property
    def logged_s(self) -> float:
        """Seconds that were logged."""
        return self.blocks * self.configuration.period_s

    @property
    def began(self) -> datetime:
        """When it was started; a time without a zone counts as it stands."""
        return datetime.fromisoformat(self.started).replace(tzinfo=None)

    def shares(self, *shares: float) -> tuple[float, ...]:
        """Return the finishing times in seconds below which these shares of all blocks lie, to the top of a bin."""
        climb = np.cumsum(self.counts)
        return tuple(float((np.searchsorted(climb, share * climb[-1]) + 1) * self.bin_s) for share in shares)


@dataclass(frozen=True, slots=True)
class Tally:
    """Logs of one configuration that add up, in order of their start."""

    configuration: Configuration
    logs: tuple[BlockLog, ...]

    @property
    def logged_s(self) -> float:
        """Seconds of all."""
        return sum(log.logged_s for log in self.logs)

    @property
    def blocks(self) -> int:
        """Blocks of all."""
        return sum(log.blocks for log in self.logs)


def add_up(logs: Iterable[BlockLog], unit: str) -> tuple[tuple[Tally, ...], tuple[Finding, ...]]:
    """Return a unit's tallies of the configuration that it has now, by rate and buffer, and what no longer counts.

    The latest log says what it has now; from the last log of anything else on, hours start again. Buffers and rates
    have tallies of their own. A log that is there twice counts once.
    """
    own = sorted((log for log in logs if log.configuration.unit == unit), key=lambda log: (log.began, log.file))
    findings: list[Finding] = []
    kept: list[BlockLog] = []
    for log in own:
        twin = next((one for one in kept if _same(one, log)), None)
        if twin is not None:
            findings.append(_twice(log, twin))
        else:
            kept.append(log)
    now = kept[-1].configuration.frozen if kept else ()
    last_other = max((n for n, log in enumerate(kept) if log.configuration.frozen != now), default=-1)
    if last_other >= 0:
        findings.append(_starts_again(kept[: last_other + 1], kept[last_other + 1 :], unit))
    by: dict[Configuration, list[BlockLog]] = {}
    for log in kept[last_other + 1 :]:
        by.setdefault(log.configuration, []).append(log)
    tallies = sorted(by.items(), key=lambda item: (item[0].rate, item[0].buffer))
    return tuple(Tally(configuration, tuple(mine)) for configuration, mine in tallies), tuple(findings)


def _same(one: BlockLog, other: BlockLog) -> bool:
    return (one.configuration, one.started, one.blocks) == (other.configuration, other.started, other.blocks)


def _twice(log: BlockLog, twin: BlockLog) -> Finding:
    values = f"{log.file or 'one log'} and {twin.file or 'another'}, started {log.started}"
    where = f"evidence / {log.configuration.unit}"
    return Finding("evidence-twice", where, "One log is there twice and counts once", values, "Take one of them away")


def _starts_again(before: Sequence[BlockLog], after: Sequence[BlockLog], unit: str) -> Finding:
    names = ("unit", "system", "driver", "session")
    old, new = before[-1].configuration.frozen, after[0].configuration.frozen
    changed = ", ".join(
        f"{name} from {one} to {two}" for name, one, two in zip(names, old, new, strict=True) if one != two
    )
    hours = sum(log.logged_s for log in before) / 3600
    what = "The configuration changed, so that earlier hours no longer count"
    remedy = "Freeze the computer until the last show, or soak it again after every change"
    return Finding("evidence-starts-again", f"evidence / {unit}", what, f"{changed}; {hours:.1f} h set aside", remedy)


__all__ = ["BlockLog", "Configuration", "Tally", "add_up"]
