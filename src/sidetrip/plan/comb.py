"""What two copies of one signal do to each other when one is late: nulls, peaks and ripple.

The first copy is the reference, at 0 dB. The second comes `spread_s` seconds after it, at
`level_difference_db` dB (second minus first: -10 means that the second is 10 dB quieter), the right way up or
inverted:

    H(f) = 1 ± a*exp(-j*2*pi*f*t),   a = 10^(level difference/20),   minus when inverted

Positive spread means that the second copy is later. Which of the two is later changes no magnitude, so every
formula uses |t|. Levels are relative to the first copy alone, not to the aligned sum.

Source: the formula above; F. A. Everest & K. C. Pohlmann, Master Handbook of Acoustics, chapter "Comb-Filter
Effects", gives the same rules for null, spacing and depth. Exact for two copies with the same response; an
all-pass or an equaliser in one of them makes another curve.
"""

import math
from dataclasses import dataclass

from sidetrip.units import db_from_gain, gain_from_db, seconds_from_frames, whole_frames

_NEPER_PER_DB = math.log(10) / 20


@dataclass(frozen=True, slots=True)
class Ripple:
    """Depth of a comb: highest peak and deepest null, dB re the first copy alone, and peak minus null."""

    peak_db: float
    null_db: float
    ripple_db: float


@dataclass(frozen=True, slots=True)
class Residue:
    """What is left of a delay after compensation in whole frames.

    `residue_s` is wanted minus given, in seconds: positive when the frames fall short, at most half a frame
    either way. `first_null_hz` is where the two paths first cancel because of it, inf when nothing is left.
    """

    frames: int
    residue_s: float
    first_null_hz: float


def null_hz(spread_s: float, k: int = 0, inverted: bool = False) -> float:
    """Frequency in Hz of null number `k`, counted from 0 upwards: (2k+1)/(2|t|), inverted k/|t|.

    An inverted second copy has its null 0 at 0 Hz. Any other null of a spread of 0 lies at inf.
    """
    _counted_from(0, k, "null")
    t = _spread(spread_s)
    if inverted:
        return _per_second(k, t)
    return _per_second(k + 0.5, t)


def peak_hz(spread_s: float, k: int = 1, inverted: bool = False) -> float:
    """Frequency in Hz of peak number `k` above 0 Hz: k/|t|, inverted (2k-1)/(2|t|).

    Peak 0 is the one at 0 Hz; an inverted second copy has none there. All others of a spread of 0 lie at inf.
    """
    _counted_from(1 if inverted else 0, k, "peak")
    t = _spread(spread_s)
    if inverted:
        return _per_second(k - 0.5, t)
    return _per_second(k, t)


def ripple(level_difference_db: float) -> Ripple:
    """Depth of the comb of two copies `level_difference_db` apart, whatever their spread and polarity.

    Peak 20*log10(1+a), null 20*log10|1-a|. Equal copies cancel completely: null -inf, ripple inf.
    """
    a = gain_from_db(level_difference_db)
    one_minus_a = abs(math.expm1(level_difference_db * _NEPER_PER_DB))  # 1 - a would lose digits near 0 dB
    peak_db = db_from_gain(1 + a)
    null_db = db_from_gain(one_minus_a)
    return Ripple(peak_db, null_db, peak_db - null_db)


def magnitude_db(frequency_hz: float, spread_s: float, level_difference_db: float, inverted: bool = False) -> float:
    """Level of both copies together at one frequency, in dB re the first copy alone; -inf: complete null."""
    if not 0 <= frequency_hz < math.inf:
        raise ValueError(
            f"The frequency is negative or not finite: {frequency_hz} Hz. Give a frequency of 0 Hz or more."
        )
    a = gain_from_db(level_difference_db)
    one_minus_a = math.expm1(level_difference_db * _NEPER_PER_DB)
    cycles = frequency_hz * _spread(spread_s)
    # |H|^2 = (1-a)^2 + 4a*sin^2(pi*x), x in cycles from the nearest null: exactly 0 in the null itself.
    x = math.remainder(cycles if inverted else cycles - 0.5, 1.0)
    return db_from_gain(math.hypot(one_minus_a, 2 * math.sqrt(a) * math.sin(math.pi * x)))


def level_difference_for_ripple(ripple_db: float) -> float:
    """Level difference in dB, second copy quieter (0 or less), of a comb with `ripple_db` from null to peak.

    a = (R-1)/(R+1) with R = 10^(ripple/20). No ripple needs -inf. A second copy louder by as much
    makes the same ripple.
    """
    if not ripple_db >= 0:
        raise ValueError(f"The ripple is not a size in dB: {ripple_db} dB. Give peak minus null, 0 dB or more.")
    return db_from_gain(math.tanh(ripple_db * _NEPER_PER_DB / 2))  # tanh(r/2) = (e^r - 1)/(e^r + 1)


def whole_frame_residue(delay_s: float, rate_hz: float) -> Residue:
    """Nearest whole-frame compensation of a delay in seconds, and what it leaves at `rate_hz`."""
    frames = whole_frames(delay_s, rate_hz)
    residue_s = delay_s - seconds_from_frames(frames, rate_hz)
    return Residue(frames, residue_s, null_hz(residue_s))


def _per_second(cycles: float, t: float) -> float:
    if cycles == 0:
        return 0.0
    # A spread too small for its inverse to be a number has no null in any audible range either.
    return cycles / t if t > 0 else math.inf


def _spread(spread_s: float) -> float:
    if not math.isfinite(spread_s):
        raise ValueError(f"The spread is not a finite number: {spread_s} s. Give the seconds between the copies.")
    return abs(spread_s)


def _counted_from(first: int, k: int, what: str) -> None:
    if k < first:
        raise ValueError(f"There is no such {what}: number {k}. Count from {first} upwards.")
