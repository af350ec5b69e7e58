"""How late a copy is: the slope of its phase over frequency, with the least error that its noise allows.

H is what came back over what was sent, at the bins that one entry owns; a copy late by d frames with gain g is
H = g * exp(-j 2 pi k d / P). Weights w are 1 / E|noise in H|^2. The fit is the maximum-likelihood one for white
noise in each bin, so its error reaches the Cramer-Rao bound.

Sources: Knapp & Carter, "The generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24(4),
1976; the bound of a delay with known polarity sums the squares of the angular frequencies.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fit:
    """One copy: frames late, the standard error of that, gain (linear, positive) and polarity."""

    delay_frames: float
    error_frames: float
    gain: float
    inverted: bool


def fit_delay(h: Complex, bins: NDArray[np.int64], weight: Real, period: int, near_frames: float) -> Fit:
    """Refine a delay that is right to half a frame.

    h, bins, weight: shape (bins,). near_frames: where to start. Its polarity is that of the copy found there.
    """
    angle = np.asarray(2 * np.pi / period * bins, dtype=np.float64)
    square, heard = angle * angle, weight * h
    delay = near_frames
    turned = heard * np.exp(1j * angle * delay)
    sign = -1.0 if turned.real.sum() < 0 else 1.0
    for _ in range(20):
        slope, bend = -sign * float(angle @ turned.imag), -sign * float(square @ turned.real)
        if bend >= 0:
            break
        step = min(max(-slope / bend, -0.5), 0.5)
        delay += step
        turned = heard * np.exp(1j * angle * delay)
        if abs(step) < 1e-4:  # the error that is left goes with the square of the step
            break
    gain = max(sign * float(turned.real.sum()) / float(weight.sum()), 1e-30)
    return Fit(delay, bound_frames(angle, weight, gain), gain, sign < 0)


def bound_frames(angle: Real, weight: Real, gain: float) -> float:
    """Return the least standard error, in frames, of a delay read at these bins (Cramer-Rao).

    angle: radians a frame. weight: 1 / E|noise in H|^2, each shape (bins,).
    """
    information = 2 * gain**2 * float((weight * angle**2).sum())
    return 1 / math.sqrt(information) if information > 0 else math.inf


def flat_bound_s(duration_s: float, snr: float, low_hz: float, high_hz: float) -> float:
    """Return the least standard error in seconds over a flat band, clean against one noisy channel.

    snr: power ratio in the band. sqrt(3 / (8 pi^2 T SNR (f2^3 - f1^3))), Knapp & Carter 1976.
    """
    return math.sqrt(3 / (8 * math.pi**2 * duration_s * snr * (high_hz**3 - low_hz**3)))


@dataclass(frozen=True, slots=True)
class Slope:
    """A line through phases: frames late, standard error, and the phase in radians where it meets 0 Hz."""

    delay_frames: float
    error_frames: float
    intercept: float


def fit_slope(phase: Real, angle: Real, weight: Real) -> Slope:
    """Fit a line through phases that do not wrap, all shape (bins,). weight: 1 / variance of each phase."""
    total = float(weight.sum())
    middle = float((weight * angle).sum()) / total
    level = float((weight * phase).sum()) / total
    spread = float((weight * (angle - middle) ** 2).sum())
    slope = float((weight * (angle - middle) * (phase - level)).sum()) / spread
    return Slope(-slope, 1 / math.sqrt(spread), level - slope * middle)


def parabolic_peak(before: float, top: float, after: float) -> float:
    """Return how far a peak lies behind its highest sample, in samples, by a parabola through three.

    Good to start from only: on noise that fills the whole band it is up to 0.12 sample short.
    """
    bend = before - 2 * top + after
    return 0.0 if bend == 0 else 0.5 * (before - after) / bend


def parabolic_peaks(before: Real, top: Real, after: Real) -> Real:
    """Return the same for many peaks at once, all of one shape."""
    bend = before - 2 * top + after
    return np.divide(0.5 * (before - after), bend, out=np.zeros_like(bend), where=bend != 0)


__all__ = [
    "Fit",
    "Slope",
    "bound_frames",
    "fit_delay",
    "fit_slope",
    "flat_bound_s",
    "parabolic_peak",
    "parabolic_peaks",
]
