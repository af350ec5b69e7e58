"""Overruns of a computer: how many the log has, how many a show may have, and whether the log can tell at all.

The rule: a block overruns when it finishes later than the next one is due (lateness plus work over one period), or
when the driver says that it was missed. Overruns less than a second apart are one: one interruption that is heard.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from sidetrip.hold.counts import CONFIDENCE, most_per_show, rule_of_three
from sidetrip.hold.evidence import BlockLog
from sidetrip.hold.steadiness import bursts_of, clock_of, warm_up_s
from sidetrip.hold.tail import FEWEST, Tail, fit_tail, rate_bound, untied
from sidetrip.units import period_s

if TYPE_CHECKING:
    from numpy.typing import NDArray

APART_S = 1.0
_FINER = 10.0
"""A tail may claim at most this much less than counting: what has not happened yet cannot be fitted."""

TAIL_CONFIDENCE = 0.975
"""Of the likelihood, for a bound that covers in 95 of 100: with few peaks it promises more than it keeps."""

_FITS = 0.10
_TARGETS = (400, 200, 100, 50, FEWEST)

How = Literal["counted", "fitted", "refused"]


@dataclass(frozen=True, slots=True)
class Overruns:
    """What evidence says of one buffer and rate. Times in seconds; counts are of interruptions, by the rule.

    of: buffer and rate that were logged; where they are others, only what it would have been like is said. used_s: of
    logged_s without what was left out for warm_up_s at the start of each log; seen, blocks (that overran), largest_s
    are of that part. per_show: the bound of this confidence, None when refused. counted_per_show: what counting alone
    cannot rule out; stands: whether even that can be trusted. because: why it is refused, or what to know about the
    bound. clock_s: the interval at which late blocks come, if they come like a clock. tail: the one that was used.
    """

    buffer: int
    rate: int
    of: tuple[int, int]
    logged_s: float
    used_s: float
    seen: int
    blocks: int
    largest_s: float
    how: How
    per_show: float | None
    counted_per_show: float
    rarest_per_show: float
    stands: bool = False
    because: str = ""
    warm_up_s: float = 0.0
    clock_s: float | None = None
    tail: Tail | None = None

    @property
    def carried(self) -> bool:
        """Tell whether it is carried over from another buffer or rate."""
        return self.of != (self.buffer, self.rate)

    @property
    def bound(self) -> float:
        """The least that can be claimed: infinite where nothing can."""
        counted = self.counted_per_show if self.stands else math.inf
        return counted if self.per_show is None else min(self.per_show, counted) if self.seen == 0 else self.per_show


@dataclass(frozen=True, slots=True)
class Late:
    """Late blocks of several logs. log: which it is in; age_s: time in its log; finish_s: after the block was due.

    missed: said by the driver. lengths_s: of the logs. limit_s: what a block may take.
    """

    log: NDArray[np.int64]
    age_s: NDArray[np.float64]
    finish_s: NDArray[np.float64]
    missed: NDArray[np.bool_]
    lengths_s: tuple[float, ...]
    limit_s: float

    @property
    def at_s(self) -> NDArray[np.float64]:
        """Time on one axis, log after log."""
        return np.asarray(self.age_s + np.cumsum([0.0, *self.lengths_s])[self.log])

    @property
    def over(self) -> NDArray[np.bool_]:
        """Which of them overran."""
        return (self.finish_s > self.limit_s) | self.missed

    def after(self, age_s: float) -> Late:
        """Return what is left without the beginning of every log."""
        keep = self.age_s >= age_s
        lengths = tuple(max(length - age_s, 0.0) for length in self.lengths_s)
        ages = self.age_s[keep] - age_s
        return Late(self.log[keep], ages, self.finish_s[keep], self.missed[keep], lengths, self.limit_s)


def late_at(logs: Sequence[BlockLog], buffer: int, rate: int) -> Late:
    """Return the late blocks of logs as they would be at a buffer and rate.

    How late the system starts a block is its own affair and stays as it was; the work grows with the frames of a block.
    A missed block whose own times do not tell why is missed at any buffer.
    """
    which, age, finish, missed = [], [], [], []
    for number, log in enumerate(logs):
        own = log.configuration
        same = (buffer, rate) == (own.buffer, own.rate)
        told = log.lateness_s + log.work_s > own.period_s
        which.append(np.full(len(log.late_at), number, dtype=np.int64))
        age.append(log.late_at * own.period_s)
        finish.append(log.lateness_s + log.work_s * (buffer / own.buffer))
        missed.append(log.missed if same else log.missed & ~told)
    lengths = tuple(log.logged_s for log in logs)
    return Late(
        np.concatenate(which),
        np.concatenate(age),
        np.concatenate(finish),
        np.concatenate(missed),
        lengths,
        period_s(buffer, rate),
    )


def interruptions(at_s: NDArray[np.float64], apart_s: float = APART_S) -> NDArray[np.int64]:
    """Return where each interruption begins among rising times."""
    if len(at_s) == 0:
        return np.empty(0, dtype=np.int64)
    return np.concatenate([[0], np.flatnonzero(np.diff(at_s) >= apart_s) + 1])


def judge(logs: Sequence[BlockLog], buffer: int, rate: int, show_s: float, confidence: float = CONFIDENCE) -> Overruns:
    """Return what the logs of one configuration say of a show of that length at a buffer and rate."""
    late = late_at(logs, buffer, rate)
    own = logs[0].configuration
    logged = sum(late.lengths_s)
    peaks = _peaks(late, _TARGETS[0])
    warm = warm_up_s(late.age_s[peaks.first], peaks.excess_s, late.lengths_s) if logged > 0 else 0.0
    if warm:
        late = late.after(warm)
    used, over = sum(late.lengths_s), late.at_s[late.over]
    seen = len(interruptions(over))
    first = Overruns(
        buffer,
        rate,
        (own.buffer, own.rate),
        logged,
        used,
        seen,
        len(over),
        float(late.finish_s.max(initial=0.0)),
        "refused",
        None,
        most_per_show(seen, used, show_s, confidence),
        rule_of_three(used) * show_s,
        warm_up_s=warm or 0.0,
        clock_s=clock_of(late.at_s[_peaks(late, _TARGETS[0]).first]),
    )
    if used <= 0:
        return replace(first, because="nothing was logged")
    if warm is None:
        because = "the later part of the log is worse than the earlier one: the computer is not warm yet"
        return replace(first, because=because)
    return _bounded(first, late, show_s, confidence)


def _bounded(first: Overruns, late: Late, show_s: float, confidence: float) -> Overruns:
    logged = sum(late.lengths_s)
    over = late.at_s[late.over]
    peaks = _peaks(late, _TARGETS[0])
    apart = bursts_of(late.at_s[peaks.over], logged, APART_S) if len(peaks.over) else APART_S
    if apart is None:
        return replace(first, because="late blocks come in bursts that this log is too short to average")
    first = replace(first, stands=True)
    each = _each(late.at_s[peaks.over], apart)
    if len(over):
        groups = len(interruptions(over, apart))
        each = max(each, len(interruptions(over)) / groups)
        return replace(first, how="counted", per_show=most_per_show(groups, logged, show_s, confidence) * each)
    counted = most_per_show(0, logged, show_s, confidence)
    bounds: list[tuple[float, Tail]] = []
    for target in _TARGETS:
        peaks = _peaks(late, target, apart)
        if len(peaks.excess_s) < FEWEST or late.limit_s <= peaks.threshold_s:
            continue
        excess = untied(peaks.excess_s)
        tail = fit_tail(excess)
        if tail.fits < _FITS or tail.shape > 1:
            continue
        rate = rate_bound(excess, logged, late.limit_s - peaks.threshold_s, TAIL_CONFIDENCE)
        bounds.append((rate * show_s * each, tail))
        if len(bounds) == 2:
            break
    if not bounds:
        few = len(peaks.excess_s) < FEWEST
        because = (
            f"there are fewer than {FEWEST} late blocks to draw a tail through"
            if few
            else "the late blocks follow no one tail: they have more causes than one"
        )
        return replace(first, because=because)
    bound, tail = max(bounds, key=lambda one: one[0])
    floor = counted / _FINER
    because = "no finer: what has not happened yet cannot be fitted" if bound < floor else ""
    return replace(first, how="fitted", per_show=min(max(bound, floor), counted), tail=tail, because=because)


def _each(at_s: NDArray[np.float64], apart_s: float) -> float:
    """Return how many interruptions there are in a burst, on average."""
    return len(interruptions(at_s)) / max(len(interruptions(at_s, apart_s)), 1)


@dataclass(frozen=True, slots=True)
class _Peaks:
    """over: which late blocks are over the threshold; first: the peak of each group of them; excess_s: over it."""

    over: NDArray[np.int64]
    first: NDArray[np.int64]
    excess_s: NDArray[np.float64]
    threshold_s: float


def _peaks(late: Late, target: int, apart_s: float = APART_S) -> _Peaks:
    """Return about so many peaks, over the highest threshold that gives them."""
    order = np.argsort(-late.finish_s, kind="stable")
    take = target
    while True:
        chosen = np.sort(order[:take])
        starts = interruptions(late.at_s[chosen], apart_s)
        if len(starts) >= target or take >= len(order):
            break
        take = min(max(take * 2, 1), len(order))
    if len(chosen) == 0:
        return _Peaks(chosen, chosen, np.empty(0), math.nan)
    lowest = late.finish_s[order[take]] if take < len(order) else late.finish_s[chosen].min() * (1 - 1e-6)
    groups = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(chosen))))
    by_height = np.lexsort((-late.finish_s[chosen], groups))
    first = chosen[by_height[starts]]
    return _Peaks(chosen, first, np.maximum(late.finish_s[first] - lowest, 1e-9), float(lowest))


__all__ = ["APART_S", "TAIL_CONFIDENCE", "Late", "Overruns", "interruptions", "judge", "late_at"]
