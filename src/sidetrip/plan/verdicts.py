"""Pairs of arrivals judged in every state at once: together, apart, alone or cannot tell.

V[state, pair] is the place of the verdict in VERDICTS, which are in order of harm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.graph.arrivals import Arrivals, State
from sidetrip.graph.linemap import LineMap
from sidetrip.model.show import Show
from sidetrip.plan.compare import KINDS, Pairs
from sidetrip.plan.gap import FUSED_FROM_S, FUSED_S, LOUDSPEAKERS_S, Gap, Verdict
from sidetrip.plan.spreads import Bounds, Spreads

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]

VERDICTS: tuple[Verdict, ...] = ("alone", "together", "cannot tell", "apart")
ALONE, TOGETHER, UNTOLD, APART = range(4)

ELECTRICAL_FRAMES = 0.5

_ELECTRICAL, _MICROPHONES, _LOUDSPEAKERS, _SUB = range(len(KINDS))
_LONGEST_S = 10.0  # wider spreads count as this wide


def tails_of(show: Show, arrivals: Arrivals) -> Truths:
    """Tell which arrivals pass which units that give back a tail, where those are no loops; (arrivals, units)."""
    units = [unit.name for unit in show.units if unit.tail]
    tails = np.zeros((len(arrivals.rows), len(units)), dtype=bool)
    for number, row in enumerate(arrivals.rows if units else ()):
        passed = {edge.start.name for edge in row.edges if edge.start.kind == "unit"}
        tails[number] = [unit in passed for unit in units]
    return tails


@dataclass(frozen=True, slots=True)
class Judged:
    """Verdicts and spreads of pairs in states, shape (states, pairs). tailed: apart only by a tail without phase."""

    verdicts: NDArray[np.int8]
    low: Floats
    high: Floats
    tailed: Truths

    @property
    def wide(self) -> Floats:
        """How wide each spread is, its middle, at most 10 s; that also where it is unknown."""
        with np.errstate(invalid="ignore"):
            middle = np.abs(self.low + self.high) / 2
        return np.where(np.isfinite(middle), np.minimum(middle, _LONGEST_S), _LONGEST_S)

    def gap(self, state: int, pair: int, sign: int = 1) -> Gap:
        """Return one of them; sign -1: first minus second."""
        verdict = VERDICTS[int(self.verdicts[state, pair])]
        if verdict == "alone":
            return Gap(0.0, 0.0, "alone")
        low, high = float(self.low[state, pair]), float(self.high[state, pair])
        return Gap(low, high, verdict) if sign > 0 else Gap(0.0 - high, 0.0 - low, verdict)


def judge(
    line_map: LineMap, arrivals: Arrivals, pairs: Pairs, states: tuple[State, ...], rate_hz: int, tails: Truths
) -> Judged:
    """Judge pairs in states. tails: which arrivals pass a unit that gives back a tail for good, (arrivals, units)."""
    first, second = pairs.first, pairs.second
    rows = np.unique(np.concatenate([first, second]))
    spreads = Spreads(arrivals, line_map.loops, [int(row) for row in rows])
    base = spreads.base(first, second)
    limit = _limits(pairs, rate_hz)
    inverted = np.array([row.inverted for row in arrivals.rows], dtype=bool)
    cancels = (pairs.kind == _ELECTRICAL) & (inverted[first] != inverted[second])
    levels = np.array([row.level_db is not None for row in arrivals.rows], dtype=bool)
    untold = ~(levels[first] & levels[second])
    always = (tails[first] != tails[second]).any(axis=1)
    tailing = frozenset(time.loop for time in line_map.loops if time.tail)
    shape = (len(states), len(first))
    verdicts, tailed = np.zeros(shape, dtype=np.int8), np.zeros(shape, dtype=bool)
    low, high = np.zeros(shape), np.zeros(shape)
    all_in = _verdict(base, pairs, limit, cancels, untold)
    for number, state in enumerate(states):
        own = spreads.in_state(base, first, second, state)
        found = all_in if own is base else _verdict(own, pairs, limit, cancels, untold)
        tail = always | _told_apart(arrivals, first, second, tailing - state.out)
        tailed[number] = tail & (found > TOGETHER)
        silent = arrivals.silent(state)
        verdicts[number] = np.where(silent[first] | silent[second], ALONE, np.where(tail, TOGETHER, found))
        low[number], high[number] = own.low, own.high
    return Judged(verdicts, low, high, tailed)


def _told_apart(arrivals: Arrivals, first: NDArray[np.intp], second: NDArray[np.intp], loops: frozenset[str]) -> Truths:
    """Tell which pairs differ in whether they pass one of these loops."""
    columns = [number for number, loop in enumerate(arrivals.loops) if loop in loops]
    if not columns:
        return np.zeros(len(first), dtype=bool)
    passes = arrivals.passes[:, columns] > 0
    return np.asarray((passes[first] != passes[second]).any(axis=1), dtype=bool)


def _limits(pairs: Pairs, rate_hz: int) -> Floats:
    limit = np.full(len(pairs.first), LOUDSPEAKERS_S)
    limit[pairs.kind <= _MICROPHONES] = ELECTRICAL_FRAMES / rate_hz
    sub = pairs.kind == _SUB
    limit[sub] = 1 / (8 * pairs.crossover_hz[sub])
    return limit


def _verdict(own: Bounds, pairs: Pairs, limit: Floats, cancels: Truths, untold: Truths) -> NDArray[np.int8]:
    known = np.isfinite(own.low) & np.isfinite(own.high)
    microphones = pairs.kind == _MICROPHONES
    # what two microphones hear through the air is their own; the rest is what the desk and its loops add
    least, most = np.where(microphones, own.own_low, own.low), np.where(microphones, own.own_high, own.high)
    near = np.where((least <= 0) & (most >= 0), 0.0, np.minimum(np.abs(least), np.abs(most)))
    far = np.maximum(np.abs(least), np.abs(most))
    top = limit * (1 + 1e-9)
    fused = pairs.kind == _LOUDSPEAKERS
    inside = (far <= top) | (fused & (near >= FUSED_FROM_S) & (far <= FUSED_S))
    inside |= microphones & _closer(own, limit)
    touches = (near <= top) | (fused & (near <= FUSED_S) & (far >= FUSED_FROM_S))
    apart = np.where(untold, UNTOLD, APART)
    found = np.where(inside, np.where(cancels, apart, TOGETHER), np.where(touches, UNTOLD, apart))
    return np.where(known, found, UNTOLD).astype(np.int8)


def _closer(own: Bounds, limit: Floats) -> Truths:
    """Tell where two microphones are surely no further apart, and in no other order, than the air makes them."""
    with np.errstate(invalid="ignore"):
        in_order = (own.low * own.air_low >= 0) & (own.high * own.air_high >= 0)
        in_order &= (own.low * own.high >= 0) & (own.air_low * own.air_high > 0)
    far = np.maximum(np.abs(own.low), np.abs(own.high))
    return np.asarray(in_order & (far <= np.minimum(np.abs(own.air_low), np.abs(own.air_high)) + limit), dtype=bool)


__all__ = ["ALONE", "APART", "TOGETHER", "UNTOLD", "VERDICTS", "Judged", "judge"]
