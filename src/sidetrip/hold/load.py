"""What the chains of a unit take of it, at each buffer and rate, and what one more would do.

A chain's work goes with the frames: the same share of any buffer, and a share that grows with the rate. What a block
costs on top, whatever its size, is known only where two buffers were logged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sidetrip.hold.evidence import BlockLog, Tally
from sidetrip.model.outboard import Unit
from sidetrip.model.show import Show
from sidetrip.plan.planner import Plan

HEADROOM = 0.5
"""A steady load above this leaves a pause hardly any room; job practice, no source."""


@dataclass(frozen=True, slots=True)
class ChainLoad:
    """What a chain declares: its share of the unit at the show's rate. loops: who has it; legs count."""

    chain: str
    share: float
    loops: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """Measured work of a block: seconds on top of each, and the share of the period that grows with its frames.

    at_rate: of the share. base_s: 0 where one buffer alone was logged, and then the share holds for that buffer.
    """

    base_s: float
    share: float
    at_rate: int
    buffers: tuple[int, ...]


def chain_loads(plan: Plan, unit: str) -> tuple[ChainLoad, ...]:
    """Return the chains of the loops that a unit has by the plan, the heaviest first."""
    own: dict[str, list[str]] = {}
    for loop in plan.allocation.loops:
        if loop.unit == unit and loop.chain is not None:
            own.setdefault(loop.chain, []).append(loop.name)
    loads = [ChainLoad(name, declared(plan.show, name), tuple(sorted(loops))) for name, loops in own.items()]
    return tuple(sorted(loads, key=lambda one: (-one.share * len(one.loops), one.chain)))


def declared(show: Show, chain: str) -> float:
    """Return the share of a unit that a chain's processors declare together, at the show's rate."""
    return sum(processor.load for processor in show.chains[chain])


def total_share(loads: Sequence[ChainLoad]) -> float:
    """Return the share of all loops together."""
    return sum(one.share * len(one.loops) for one in loads)


def measured_work(tallies: Sequence[Tally]) -> Work | None:
    """Return what was measured at one rate: from two buffers up a line through their mean work, None without a log."""
    if not tallies:
        return None
    rate = tallies[0].configuration.rate
    points = [
        (tally.configuration.period_s, sum(log.work_s_mean * log.blocks for log in tally.logs) / max(tally.blocks, 1))
        for tally in tallies
        if tally.configuration.rate == rate
    ]
    buffers = tuple(tally.configuration.buffer for tally in tallies if tally.configuration.rate == rate)
    if len(points) < 2:
        ((period, work),) = points
        return Work(0.0, work / period, rate, buffers)
    mean_p = sum(period for period, _ in points) / len(points)
    mean_w = sum(work for _, work in points) / len(points)
    share = sum((p - mean_p) * (w - mean_w) for p, w in points) / sum((p - mean_p) ** 2 for p, _ in points)
    base = mean_w - share * mean_p
    return Work(base, share, rate, buffers) if base >= 0 and share >= 0 else Work(0.0, mean_w / mean_p, rate, buffers)


def share_at(work: Work, period_s: float, rate: int) -> float:
    """Return the share of a block that steady work takes at a period and rate."""
    return work.base_s / period_s + work.share * rate / work.at_rate


def heavier(log: BlockLog, more_s: float) -> BlockLog:
    """Return a log with so much more work in every block, in seconds; blocks below its floor stay out."""
    return replace(log, work_s=log.work_s + more_s, work_s_mean=log.work_s_mean + more_s, floor_s=log.floor_s + more_s)


def one_more(unit: Unit, share: float, now: float) -> tuple[float, bool]:
    """Return the share with one more chain of `share`, and whether the unit's load limit still allows it."""
    return now + share, now + share <= (unit.load_limit if unit.load_limit is not None else 1.0) + 1e-12


__all__ = [
    "HEADROOM",
    "ChainLoad",
    "Work",
    "chain_loads",
    "declared",
    "heavier",
    "measured_work",
    "one_more",
    "share_at",
    "total_share",
]
