"""Peaks over a threshold: a generalised Pareto tail, whether it fits at all, and the rate it allows further out.

A cause that has not happened yet is in no tail. Nor is the longest pause known: shapes below zero, which end at a
longest value, are tried for the fit but never for the bound.

Sources: J. Pickands, Annals of Statistics 3, 119-131, 1975; S. Coles, An Introduction to Statistical Modeling of
Extreme Values, Springer, 2001, chapter 4 (profile likelihood of a return level, here turned round to a rate).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidetrip.hold.counts import CONFIDENCE

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST = 25
"""Peaks below this say too little of their tail."""

_SHAPES = np.linspace(0.0, 1.0, 41)
_FLAT = 1e-9
_TRIES = 99


@dataclass(frozen=True, slots=True)
class Tail:
    """A fitted tail. scale_s: seconds. fits: the share of drawn tails of this very form that fit worse, 0 to 1."""

    peaks: int
    shape: float
    scale_s: float
    fits: float


def untied(excess_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return peaks with ties taken apart: a log that counts whole microseconds has them spread over the next one up.

    Drawn the same each time; what has no ties stays as it is.
    """
    steps = np.unique(np.round(excess_s, 9))  # sums of whole figures differ in their last bits
    if len(steps) < 2 or len(steps) > 0.9 * len(excess_s):
        return excess_s
    return excess_s + np.random.default_rng(len(excess_s)).uniform(size=len(excess_s)) * float(np.diff(steps).min())


def fit_tail(excess_s: NDArray[np.float64]) -> Tail:
    """Fit what peaks have over their threshold, in seconds, and try how well such a tail fits."""
    shapes, scales = _most_likely(excess_s[None, :])
    shape, scale = float(shapes[0]), float(scales[0])
    return Tail(len(excess_s), shape, scale, _fits(excess_s, shape, scale))


def rate_bound(
    excess_s: NDArray[np.float64], logged_s: float, beyond_s: float, confidence: float = CONFIDENCE
) -> float:
    """Return the largest rate, in events a second, of peaks `beyond_s` over the threshold that is still likely.

    Of all rates, scales and shapes (from 0 up) whose likelihood is near enough to the best for a one-sided bound of
    this confidence, the worst.
    """
    if beyond_s <= 0:
        raise ValueError(f"The limit lies below the threshold, by {-beyond_s} s. Count what is over it instead.")
    from scipy.stats import chi2, genpareto

    allowed = float(chi2.ppf(2 * confidence - 1, 1)) / 2
    scales = excess_s.mean() * np.geomspace(0.2, 2.5, 61)
    likely = log_likelihood(excess_s, _SHAPES[:, None], scales[None, :])
    left = allowed - (likely.max() - likely)
    inside = left >= 0
    far = genpareto.sf(beyond_s, _SHAPES[:, None], scale=scales[None, :])
    return float((_rates(len(excess_s), logged_s, np.maximum(left, 0.0)) * far)[inside].max())


def log_likelihood(
    excess_s: NDArray[np.float64], shape: NDArray[np.float64], scale_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the log-likelihood of generalised Pareto tails; shape and scale are broadcast, shapes from 0 up."""
    z = excess_s / np.broadcast_arrays(scale_s, shape)[0][..., None]
    form = np.maximum(np.broadcast_arrays(shape, scale_s)[0], _FLAT)
    return np.asarray(-len(excess_s) * np.log(scale_s) - (1 + 1 / form) * np.log1p(form[..., None] * z).sum(axis=-1))


def _rates(count: int, logged_s: float, left: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the largest rate of a Poisson count whose log-likelihood is at most `left` below the best."""
    ratio = np.geomspace(1.0, 4.0, 400)
    loss = count * (ratio - 1 - np.log(ratio))
    return np.asarray(np.interp(left, loss, ratio) * count / logged_s)


def _most_likely(rows: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return shape and scale of each row by one free figure, shape/scale, on a grid.

    S. D. Grimshaw, Technometrics 35, 185-191, 1993.
    """
    mean, middle, largest = rows.mean(axis=1), np.median(rows, axis=1), rows.max(axis=1)
    below, above = -np.geomspace(0.96, 0.02, 24), np.geomspace(0.01, 30.0, 40)
    ratio = np.concatenate([below[None, :] / largest[:, None], above[None, :] / middle[:, None]], axis=1)
    shape = np.log1p(ratio[:, :, None] * rows[:, None, :]).mean(axis=2)
    likely = np.where(shape > -0.5, -np.log(shape / ratio) - shape - 1, -np.inf)
    row, best = np.arange(len(rows)), likely.argmax(axis=1)
    flat = -np.log(mean) - 1 >= likely[row, best]
    return np.where(flat, 0.0, shape[row, best]), np.where(flat, mean, shape[row, best] / ratio[row, best])


def _distance(rows: NDArray[np.float64], shape: NDArray[np.float64], scale: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the Anderson-Darling distance of each row from its own tail."""
    z, form = np.sort(rows, axis=1) / scale[:, None], shape[:, None]
    bent = -np.log1p(np.maximum(form * z, _FLAT - 1)) / np.where(np.abs(form) < _FLAT, 1.0, form)
    log_over = np.clip(np.where(np.abs(form) < _FLAT, -z, bent), -700, -1e-12)
    weights = 2 * np.arange(1, rows.shape[1] + 1) - 1
    log_under = np.log(-np.expm1(log_over))
    return np.asarray(-rows.shape[1] - (weights * (log_under + log_over[:, ::-1])).mean(axis=1))


def _fits(excess: NDArray[np.float64], shape: float, scale: float) -> float:
    """Return the share of drawn tails of this form that lie further from their own fit; drawn the same each time."""
    draws = np.random.default_rng(len(excess)).uniform(size=(_TRIES, len(excess)))
    rows = -np.log(draws) * scale if abs(shape) < _FLAT else (draws**-shape - 1) * scale / shape
    own = _distance(excess[None, :], np.array([shape]), np.array([scale]))[0]
    return float((_distance(rows, *_most_likely(rows)) >= own).mean())


__all__ = ["FEWEST", "Tail", "fit_tail", "log_likelihood", "rate_bound", "untied"]
