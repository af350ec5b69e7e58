"""Invented logs of block times for tests: a few late blocks in hours of quiet ones."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from sidetrip.hold.evidence import BlockLog, Configuration

STARTED = "2026-11-20T19:30:00"


def configuration(
    buffer: int = 64, rate: int = 48000, *, unit: str = "laptop", session: str = "4f1a", driver: str = "d1"
) -> Configuration:
    """Return a configuration."""
    return Configuration(unit, "system", driver, session, buffer, rate)


def quiet_log(
    hours: float,
    late: Iterable[tuple[float, float]] = (),
    *,
    of: Configuration | None = None,
    load: float = 0.35,
    missed: Iterable[float] = (),
    started: str = STARTED,
    file: str = "",
) -> BlockLog:
    """Return a log of so many hours. late: (second, pause in s) of late blocks; missed: seconds of missed ones."""
    own = of or configuration()
    period = own.period_s
    blocks = round(hours * 3600 / period)
    rows = sorted([(at, pause, False) for at, pause in late] + [(at, 0.0, True) for at in missed])
    at = np.array([int(second / period) for second, _, _ in rows], dtype=np.int64)
    lateness = np.array([pause for _, pause, _ in rows], dtype=float)
    counts = np.zeros(800, dtype=np.int64)
    counts[int(load * 200)] = blocks - len(rows)
    for pause in lateness:
        counts[min(int((pause / period + load) * 200), 799)] += 1
    return BlockLog(
        own,
        started,
        blocks,
        at,
        lateness,
        np.full(len(rows), load * period),
        np.array([gone for _, _, gone in rows], dtype=bool),
        period / 2,
        counts,
        period / 200,
        load * period,
        file=file,
    )


def pauses(count: int, seconds: float, *, over_s: float = 3600.0, seed: int = 1) -> list[tuple[float, float]]:
    """Return pauses of one length at random times at least two seconds apart."""
    spots = np.random.default_rng(seed).choice(int(over_s / 2) - 1, count, replace=False)
    return [(float(spot) * 2 + 0.5, seconds) for spot in np.sort(spots)]


CSV_HEAD = """# unit: laptop
# system: system 1
# driver: driver 1
# session: 4f1a
# buffer: 64
# rate: 48000
# started: 2026-11-20T19:30:00
lateness_us,work_us,missed
"""


def csv_log(rows: Iterable[str]) -> list[str]:
    """Return a CSV log of these rows as lines."""
    return [*CSV_HEAD.splitlines(), *rows]
