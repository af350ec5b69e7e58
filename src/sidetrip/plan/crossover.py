"""What a crossover does with two sounds of which one is late: loss at the crossover, and within an octave of it.

Low and high side are ideal filters of one alignment and order n at frequency fc; a side that is late by t turns by
exp(-j*2*pi*f*t). Losses are in dB below the sum of the same two sides when both come at once, negative.

Sources: S. H. Linkwitz, "Active Crossover Networks for Noncoincident Drivers", J. Audio Eng. Soc. 24(1), 2-8, 1976, for
the cascaded alignments; Butterworth poles from any textbook. A show says no alignment, so plans assume the
Linkwitz-Riley one of fourth order, which is common practice, no source.
"""

from __future__ import annotations

import cmath
import math
from typing import Literal

from sidetrip.units import db_from_gain

Alignment = Literal["butterworth", "linkwitz-riley"]

_STEPS = 96  # of an octave, when looking for the deepest hole


def sides(alignment: Alignment, order: int, frequency_hz: float, crossover_hz: float) -> tuple[complex, complex]:
    """Return the responses of low and high side at one frequency. Raises ValueError for an order that is not theirs."""
    if order < 1 or (alignment == "linkwitz-riley" and order % 2):
        raise ValueError(
            f"There is no {alignment} crossover of order {order}. Give 1 or more, even for linkwitz-riley."
        )
    s = 1j * frequency_hz / crossover_hz
    each = order // 2 if alignment == "linkwitz-riley" else order
    poles = [cmath.exp(1j * math.pi * (2 * k + each + 1) / (2 * each)) for k in range(each)]
    low = 1 / math.prod((s - pole for pole in poles), start=1 + 0j)
    high = low * s**each
    return (low**2, high**2) if alignment == "linkwitz-riley" else (low, high)


def sum_db(
    alignment: Alignment,
    order: int,
    frequency_hz: float,
    crossover_hz: float,
    late_s: float = 0.0,
    *,
    inverted: bool = False,
) -> float:
    """Return low and high side together in dB at one frequency, the low side late by `late_s` seconds."""
    low, high = sides(alignment, order, frequency_hz, crossover_hz)
    turned = low * cmath.exp(-2j * math.pi * frequency_hz * late_s)
    gain = abs(turned - high if inverted else turned + high)
    return db_from_gain(gain) if gain > 1e-12 else -math.inf


def loss_db(late_s: float, crossover_hz: float) -> float:
    """Return what is lost at the crossover, where both sides are alike loud: 20*log10|cos(pi*f*t)|, 0 or below."""
    if not math.isfinite(late_s) or crossover_hz <= 0:
        raise ValueError(f"No loss can be told for {late_s} s at {crossover_hz} Hz. Give a time and a crossover.")
    x = math.remainder(crossover_hz * late_s - 0.5, 1.0)  # cycles from the nearest null, exactly 0 in it
    return db_from_gain(abs(math.sin(math.pi * x)))


def octave_loss_db(late_s: float, crossover_hz: float) -> float:
    """Return the worst loss from half an octave below the crossover to half an octave above, fourth order."""
    steps = (2 ** ((n - _STEPS / 2) / _STEPS) for n in range(_STEPS + 1))
    return min(
        sum_db("linkwitz-riley", 4, crossover_hz * step, crossover_hz, late_s)
        - sum_db("linkwitz-riley", 4, crossover_hz * step, crossover_hz)
        for step in steps
    )


def off_a_cycle(late_s: float, crossover_hz: float) -> bool:
    """Tell whether a spread looks right by its angle, within 45°, and is one or more whole cycles off."""
    cycles = abs(late_s) * crossover_hz
    return round(cycles) >= 1 and abs(cycles - round(cycles)) <= 1 / 8


__all__ = ["loss_db", "octave_loss_db", "off_a_cycle", "sides", "sum_db"]
