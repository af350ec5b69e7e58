"""The only place that converts: frames and seconds, dB and gain, dBu, dBV, volts and dBFS.

Time is seconds inside sidetrip, milliseconds only on paper. Level is dB. Positive time means later, positive
dB means louder. A gain is linear, not negative, and says nothing about polarity. Every conversion is exact
but for double rounding (relative 1e-15), unless its docstring says otherwise.

Sources: dBu is dB re the voltage of 1 mW in 600 ohm, sqrt(0.6) V; dBV is dB re 1 V (both are definitions).
dBFS follows AES17: a sine whose peak reaches digital full scale reads 0 dBFS.
"""

import math
from collections.abc import Iterable

DBU_REFERENCE_V = math.sqrt(0.6)
"""Volts rms at 0 dBu: 1 mW in 600 ohm."""

_DBV_IN_DBU = -20 * math.log10(DBU_REFERENCE_V)  # 0 dBV is +2.2185 dBu


# Time


def seconds_from_frames(frames: float, rate_hz: float) -> float:
    """Duration in seconds of a number of frames (fractions and negatives allowed) at `rate_hz`."""
    return _finite(frames, "number of frames", "") / _positive_rate(rate_hz)


def frames_from_seconds(seconds: float, rate_hz: float) -> float:
    """Frames, not rounded, that pass in `seconds` at `rate_hz`; negative for a negative time."""
    return _finite(seconds, "time", " s") * _positive_rate(rate_hz)


def whole_frames(seconds: float, rate_hz: float) -> int:
    """Nearest whole number of frames to a time; an exact half goes away from zero.

    Off by at most half a frame. 2.5 frames give 3 and -2.5 give -3: a delay and its opposite stay opposites.
    """
    frames = frames_from_seconds(seconds, rate_hz)
    size = abs(frames)
    whole = math.floor(size)
    if size - whole >= 0.5:  # not floor(size + 0.5): that sum rounds 0.49999999999999994 up to 1
        whole += 1
    return -whole if frames < 0 else whole


def period_s(buffer_frames: int, rate_hz: float) -> float:
    """Seconds of one buffer period: one way, one buffer, without converters or any safety buffer."""
    if buffer_frames <= 0:
        raise ValueError(f"The buffer is not a positive number of frames: {buffer_frames}. Give the size that is set.")
    return seconds_from_frames(buffer_frames, rate_hz)


def ms_from_seconds(seconds: float) -> float:
    """Milliseconds from seconds, for paper and messages."""
    return _finite(seconds, "time", " s") * 1000


def seconds_from_ms(milliseconds: float) -> float:
    """Seconds from the milliseconds a person wrote."""
    return _finite(milliseconds, "time", " ms") / 1000


# Level


def gain_from_db(level_db: float) -> float:
    """Linear amplitude gain of a level in dB; -inf dB is 0."""
    try:
        return float(10 ** (_level(level_db, "dB") / 20))
    except OverflowError as error:
        raise ValueError(
            f"The level is too high to be a gain: {level_db:g} dB. Check the figure it comes from."
        ) from error


def db_from_gain(gain: float) -> float:
    """Level in dB of a linear amplitude gain; 0 is -inf dB. Polarity is kept elsewhere: no negative gains."""
    if not 0 <= gain < math.inf:  # also catches nan
        raise ValueError(f"The gain is negative or not finite: {gain:g}. Give its size, and state polarity separately.")
    return 20 * math.log10(gain) if gain > 0 else -math.inf


def power_sum_db(levels_db: Iterable[float]) -> float:
    """Level in dB of uncorrelated signals together: 10*log10(sum of 10^(L/10)). Of none at all: -inf."""
    return _sum_db(levels_db, decade_db=10)


def amplitude_sum_db(levels_db: Iterable[float]) -> float:
    """Level in dB of identical, aligned signals together: 20*log10(sum of 10^(L/20)). Of none: -inf."""
    return _sum_db(levels_db, decade_db=20)


# Analogue and digital level


def volts_from_dbu(level_dbu: float) -> float:
    """Volts rms of a level in dBu; -inf dBu is 0 V."""
    return DBU_REFERENCE_V * gain_from_db(level_dbu)


def dbu_from_volts(volts_rms: float) -> float:
    """Level in dBu of a voltage in volts rms; 0 V is -inf dBu."""
    if not 0 <= volts_rms < math.inf:
        raise ValueError(f"The voltage is negative or not finite: {volts_rms:g} V. Give volts rms, zero or more.")
    return db_from_gain(volts_rms / DBU_REFERENCE_V)


def dbu_from_dbv(level_dbv: float) -> float:
    """Level in dBu of a level in dBV: 2.2185 dB more."""
    return _level(level_dbv, "dBV") + _DBV_IN_DBU


def dbv_from_dbu(level_dbu: float) -> float:
    """Level in dBV of a level in dBu: 2.2185 dB less."""
    return _level(level_dbu, "dBu") - _DBV_IN_DBU


def dbfs_from_dbu(level_dbu: float, full_scale_dbu: float) -> float:
    """Digital level in dBFS of an analogue level, through a converter whose 0 dBFS is `full_scale_dbu`."""
    return _level(level_dbu, "dBu") - _finite(full_scale_dbu, "full-scale level", " dBu")


def dbu_from_dbfs(level_dbfs: float, full_scale_dbu: float) -> float:
    """Analogue level in dBu of a digital level, through a converter whose 0 dBFS is `full_scale_dbu`."""
    return _level(level_dbfs, "dBFS") + _finite(full_scale_dbu, "full-scale level", " dBu")


def dbfs_from_rms(rms: float) -> float:
    """Level in dBFS (AES17) of an rms value relative to a full-scale peak of 1.0.

    A full-scale sine has an rms of 1/sqrt(2) and reads 0 dBFS, so a full-scale square reads +3.0103 dBFS.
    """
    if not 0 <= rms < math.inf:
        raise ValueError(
            f"The rms value is negative or not finite: {rms:g}. Give the rms of samples in which 1.0 is full scale."
        )
    return db_from_gain(rms * math.sqrt(2))


# Checks


def _sum_db(levels_db: Iterable[float], decade_db: float) -> float:
    levels = [_level(level, "dB") for level in levels_db]
    loudest = max(levels, default=-math.inf)
    if loudest == -math.inf:
        return loudest
    # Counted from the loudest, so that no term can overflow.
    total = math.fsum(10 ** ((level - loudest) / decade_db) for level in levels)
    return loudest + decade_db * math.log10(total)


def _finite(value: float, what: str, unit: str) -> float:
    if not math.isfinite(value):
        raise ValueError(f"The {what} is not a finite number: {value}{unit}. Give a number, or mark it unknown.")
    return value


def _level(level: float, unit: str) -> float:
    if math.isnan(level) or level == math.inf:
        raise ValueError(
            f"The level is not a number below infinity: {level} {unit}. Give a number, or -inf for silence."
        )
    return level


def _positive_rate(rate_hz: float) -> float:
    if not 0 < rate_hz < math.inf:
        raise ValueError(
            f"The sample rate is not a positive number: {rate_hz} Hz. Give the running rate, such as 48000."
        )
    return rate_hz
