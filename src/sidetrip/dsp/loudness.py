"""Programme loudness: K-weighting, blocks of 400 ms, two gates.

Source: ITU-R BS.1770-4, Annex 1. Its filters are given at 48 kHz; at other rates they are designed anew from the
analogue figures that give back the published coefficients to 14 digits.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

_BLOCK_S = 0.4
_STEP_S = 0.1
_ABSOLUTE_LUFS = -70.0
_RELATIVE_LU = -10.0
_OFFSET = -0.691

_SHELF_HZ, _SHELF_DB, _SHELF_Q, _SHELF_POWER = (
    1681.974450955533,
    3.999843853973347,
    0.7071752369554196,
    0.4996667741545416,
)
_HIGH_HZ, _HIGH_Q = 38.13547087602444, 0.5003270373238773


def k_weighting(rate_hz: int) -> NDArray[np.float64]:
    """Return the two stages of K-weighting as second-order sections, shape (2, 6): b0, b1, b2, 1, a1, a2."""
    k = math.tan(math.pi * _SHELF_HZ / rate_hz)
    high = 10 ** (_SHELF_DB / 20)
    band = high**_SHELF_POWER
    a0 = 1 + k / _SHELF_Q + k * k
    shelf = [
        (high + band * k / _SHELF_Q + k * k) / a0,
        2 * (k * k - high) / a0,
        (high - band * k / _SHELF_Q + k * k) / a0,
        1.0,
        2 * (k * k - 1) / a0,
        (1 - k / _SHELF_Q + k * k) / a0,
    ]
    k = math.tan(math.pi * _HIGH_HZ / rate_hz)
    a0 = 1 + k / _HIGH_Q + k * k
    return np.array([shelf, [1.0, -2.0, 1.0, 1.0, 2 * (k * k - 1) / a0, (1 - k / _HIGH_Q + k * k) / a0]])


def integrated_lufs(samples: NDArray[np.floating], rate_hz: int) -> float:
    """Return the gated loudness of a programme in LUFS, minus infinity where nothing is above the gates.

    samples: shape (frames,) or (frames, channels), up to three channels of weight 1 (left, right, centre); full scale
    is 1.0. Raises ValueError for more channels, whose weights nothing here knows.
    """
    from scipy.signal import sosfilt

    sound = np.asarray(samples, dtype=np.float64)
    sound = sound[:, None] if sound.ndim == 1 else sound
    if sound.shape[1] > 3:
        raise ValueError(f"Loudness is told of up to three channels, not of {sound.shape[1]}.")
    weighted = sosfilt(k_weighting(rate_hz), sound, axis=0)
    step = round(_STEP_S * rate_hz)
    steps = len(sound) // step
    blocks = steps - round(_BLOCK_S / _STEP_S) + 1
    if blocks < 1:
        return -math.inf
    each = (weighted[: steps * step] ** 2).reshape(steps, step, -1).mean(axis=1).sum(axis=1)
    many = round(_BLOCK_S / _STEP_S)
    power = np.convolve(each, np.full(many, 1 / many), "valid")
    loud = _lufs(power)
    kept = power[loud > _ABSOLUTE_LUFS]
    if not len(kept):
        return -math.inf
    kept = kept[_lufs(kept) > float(_lufs(kept.mean())) + _RELATIVE_LU]
    return float(_lufs(kept.mean()))


def _lufs(power: NDArray[np.float64] | np.float64) -> NDArray[np.float64]:
    with np.errstate(divide="ignore"):
        return np.asarray(_OFFSET + 10 * np.log10(power), dtype=np.float64)


__all__ = ["integrated_lufs", "k_weighting"]
