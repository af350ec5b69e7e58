"""Whether late blocks come evenly: not more while the machine warms up, not in bursts, not like a clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_CUTS_S = (0.0, 900.0, 1800.0, 3600.0, 7200.0, 14400.0)
_FEWEST = 12
_DOUBT = 0.025
_BURSTS_S = (1.0, 5.0, 20.0, 60.0, 180.0)
_EVEN = 0.01
_A_WINDOW = 5
_REGULAR = 0.08
"""Rms of what is left of gaps beside whole intervals; 0.29 where they come as they like."""

_ENOUGH = 8


def warm_up_s(age_s: NDArray[np.float64], excess_s: NDArray[np.float64], lengths_s: Sequence[float]) -> float | None:
    """Return how much of the start of each log has to go; None when what is left still gets worse, or is too little.

    Late blocks are held against "as many and as high early as late": Laplace's test for their times, rank correlation
    for their heights. After a part that fails, as much again is left out.
    """
    for number, cut in enumerate(_CUTS_S):
        keep = age_s >= cut
        left = sum(max(length - cut, 0.0) for length in lengths_s)
        if left < max(cut, 60.0):
            return None
        if _worsens(_place(age_s[keep], lengths_s, cut), excess_s[keep]):
            continue
        if number == 0:
            return 0.0
        longer = _CUTS_S[min(number + 1, len(_CUTS_S) - 1)]
        return longer if sum(max(length - longer, 0.0) for length in lengths_s) >= longer else None
    return None


def _place(age_s: NDArray[np.float64], lengths_s: Sequence[float], cut_s: float) -> NDArray[np.float64]:
    """Return how much of all that was logged after the cut is younger than each age, 0 to 1."""
    spent = sum(np.clip(np.minimum(age_s, length) - cut_s, 0.0, None) for length in lengths_s)
    whole = sum(max(length - cut_s, 0.0) for length in lengths_s)
    return np.asarray(spent / whole)


def _worsens(place: NDArray[np.float64], excess_s: NDArray[np.float64]) -> bool:
    count = len(place)
    if count < _FEWEST:
        return False
    from scipy.stats import kendalltau, norm

    later = float(norm.sf((place.mean() - 0.5) * math.sqrt(12 * count)))
    higher = float(kendalltau(place, excess_s, alternative="greater").pvalue)
    return min(later, higher) < _DOUBT


def bursts_of(at_s: NDArray[np.float64], logged_s: float, apart_s: float) -> float | None:
    """Return how far apart late blocks have to be to count as separate: the first at which they come evenly.

    None when even bursts of minutes are not even (index of dispersion against chi-squared).
    """
    from scipy.stats import chi2

    for apart in _BURSTS_S:
        if apart < apart_s:
            continue
        starts = at_s[np.concatenate([[True], np.diff(at_s) >= apart])]
        windows = len(starts) // _A_WINDOW
        if windows < 4:
            return apart if apart == apart_s or len(starts) >= _FEWEST else None
        counts, _ = np.histogram(starts, bins=windows, range=(0.0, max(logged_s, float(starts.max()) + 1e-9)))
        if chi2.sf(((counts - counts.mean()) ** 2).sum() / counts.mean(), windows - 1) >= _EVEN:
            return apart
    return None


def clock_of(at_s: NDArray[np.float64]) -> float | None:
    """Return the interval in seconds at which late blocks come like a clock, None when they do not.

    Some of them may be missing: what counts is that all lie whole numbers of intervals apart.
    """
    if len(at_s) < _ENOUGH:
        return None
    gaps = np.diff(np.sort(at_s))
    interval = float(np.quantile(gaps, 0.1))
    if interval <= 0:
        return None
    for _ in range(4):
        whole = np.maximum(np.round(gaps / interval), 1)
        interval = float((gaps * whole).sum() / (whole**2).sum())
    off = gaps / interval - np.maximum(np.round(gaps / interval), 1)
    return interval if float(np.sqrt((off**2).mean())) < _REGULAR else None


__all__ = ["bursts_of", "clock_of", "warm_up_s"]
