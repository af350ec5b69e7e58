"""Second-order filters as engineers dial them, each design with its source.

Source of all shapes: R. Bristow-Johnson, Audio EQ Cookbook, W3C Working Group Note, 8 June 2021.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Shape = Literal["bell", "low shelf", "high shelf", "low cut", "high cut"]
SHAPES: tuple[Shape, ...] = ("bell", "low shelf", "high shelf", "low cut", "high cut")
BUTTERWORTH_Q = math.sqrt(0.5)


def biquad(
    shape: Shape, hz: float, rate_hz: float, *, q: float = BUTTERWORTH_Q, db: float = 0.0
) -> NDArray[np.float64]:
    """Return one section b0 b1 b2 1 a1 a2, shape (6,), for scipy's sosfilt.

    hz: centre, corner or shelf midpoint, below half the rate. q: of the Cookbook. db: of a bell or shelf.
    Raises ValueError for a frequency or q that no filter has.
    """
    if not 0 < hz < rate_hz / 2 or not q > 0:
        raise ValueError(
            f"A filter needs a frequency between 0 and {rate_hz / 2:g} Hz and a q above 0: {hz:g} Hz, q {q:g}."
        )
    w = 2 * math.pi * hz / rate_hz
    cos, alpha, a = math.cos(w), math.sin(w) / (2 * q), 10 ** (db / 40)
    root = 2 * math.sqrt(a) * alpha
    if shape == "bell":
        b = (1 + alpha * a, -2 * cos, 1 - alpha * a)
        d = (1 + alpha / a, -2 * cos, 1 - alpha / a)
    elif shape == "low shelf":
        b = (a * (a + 1 - (a - 1) * cos + root), 2 * a * (a - 1 - (a + 1) * cos), a * (a + 1 - (a - 1) * cos - root))
        d = (a + 1 + (a - 1) * cos + root, -2 * (a - 1 + (a + 1) * cos), a + 1 + (a - 1) * cos - root)
    elif shape == "high shelf":
        b = (a * (a + 1 + (a - 1) * cos + root), -2 * a * (a - 1 + (a + 1) * cos), a * (a + 1 + (a - 1) * cos - root))
        d = (a + 1 - (a - 1) * cos + root, 2 * (a - 1 - (a + 1) * cos), a + 1 - (a - 1) * cos - root)
    elif shape == "low cut":
        b = ((1 + cos) / 2, -(1 + cos), (1 + cos) / 2)
        d = (1 + alpha, -2 * cos, 1 - alpha)
    else:
        b = ((1 - cos) / 2, 1 - cos, (1 - cos) / 2)
        d = (1 + alpha, -2 * cos, 1 - alpha)
    return np.array([*b, *d]) / d[0]


def response(sections: NDArray[np.float64], hz: NDArray[np.float64], rate_hz: float) -> NDArray[np.complex128]:
    """Return the complex response of sections, shape (n, 6), at frequencies in Hz."""
    z = np.exp(-2j * np.pi * hz / rate_hz)
    out = np.ones(len(hz), dtype=np.complex128)
    for b0, b1, b2, _, a1, a2 in sections:
        out *= (b0 + b1 * z + b2 * z * z) / (1 + a1 * z + a2 * z * z)
    return out


__all__ = ["BUTTERWORTH_Q", "SHAPES", "Shape", "biquad", "response"]
