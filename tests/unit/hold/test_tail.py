"""The tail over a threshold: against scipy's own, and its bound against what was drawn."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import genpareto

from sidetrip.hold.overruns import TAIL_CONFIDENCE
from sidetrip.hold.tail import fit_tail, log_likelihood, rate_bound, untied


def _drawn(shape: float, count: int, seed: int = 3) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.asarray(genpareto.rvs(shape, scale=1e-3, size=count, random_state=np.random.default_rng(seed)))


@pytest.mark.parametrize("shape", [0.0, 0.15, 0.6])
def test_the_likelihood_is_scipys(shape: float) -> None:
    """The log-likelihood on a grid is the sum of scipy's log-densities."""
    excess = _drawn(0.2, 60)
    known = float(genpareto.logpdf(excess, shape, scale=1.3e-3).sum())
    assert log_likelihood(excess, np.array(shape), np.array(1.3e-3)) == pytest.approx(known, rel=1e-6)


@pytest.mark.parametrize("shape", [-0.2, 0.0, 0.25, 0.5])
def test_the_fit_is_about_scipys(shape: float) -> None:
    """Shape and scale come within a grid step of scipy's maximum likelihood."""
    excess = _drawn(shape, 400)
    found = fit_tail(excess)
    known_shape, _, known_scale = genpareto.fit(excess, floc=0)
    assert found.shape == pytest.approx(known_shape, abs=0.03)
    assert found.scale_s == pytest.approx(known_scale, rel=0.05)
    assert found.fits > 0.05


def test_whole_microseconds_are_no_other_tail() -> None:
    """A log that rounds to whole microseconds fits as well as one that does not; without ties nothing is changed."""
    fine = _drawn(0.1, 200) * 0.02
    coarse = np.floor(fine * 1e6) / 1e6
    assert fit_tail(coarse).fits < 0.05
    assert fit_tail(untied(coarse)).fits > 0.05
    assert (untied(coarse) >= coarse).all()
    assert untied(_drawn(0.1, 200)).tolist() == _drawn(0.1, 200).tolist()


def test_two_causes_do_not_pass_for_one_tail() -> None:
    """Short pauses and a lump of long ones of nearly one length fit no such tail."""
    excess = np.concatenate([_drawn(0.0, 150) * 0.2, 5e-3 + _drawn(0.0, 100, seed=4) * 0.05])
    assert fit_tail(excess).fits < 0.05


@pytest.mark.parametrize("shape", [0.0, 0.2])
def test_the_bound_covers_and_is_of_use(shape: float) -> None:
    """In 200 logs of 80 peaks the bound that advice asks for, of a rate that a log has one chance in ten to show, is
    below it in fewer than 7 of 100, and stays near."""
    far = float(genpareto.isf(0.1 / 80, shape, scale=1e-3))
    truth = 0.1 / 3600
    bounds = np.array([rate_bound(_drawn(shape, 80, seed), 3600.0, far, TAIL_CONFIDENCE) for seed in range(200)])
    assert (bounds >= truth).mean() >= 0.93
    assert np.median(bounds) <= 20 * truth


def test_a_bound_falls_with_the_distance() -> None:
    """Further out the bound is lower, and never nothing."""
    excess = _drawn(0.1, 100)
    bounds = [rate_bound(excess, 3600.0, beyond) for beyond in (1e-3, 5e-3, 2e-2, 1.0)]
    assert bounds == sorted(bounds, reverse=True)
    assert bounds[-1] > 0


def test_what_lies_below_the_threshold_is_counted_not_fitted() -> None:
    """No tail is asked about what it does not reach."""
    with pytest.raises(ValueError, match="Count"):
        rate_bound(_drawn(0.1, 50), 3600.0, -1e-3)
