"""Bounds of counts: against scipy's own tests, and the promises that zero is not nothing."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, poisson

from sidetrip.hold.counts import (
    chance_of_any,
    clean_hours_for_count,
    hours_to_go,
    largest_chance,
    least_counted,
    most_counted,
    most_per_show,
    rule_of_three,
)


@given(st.integers(0, 300))
def test_a_count_is_just_possible_at_its_bound(seen: int) -> None:
    """At the bound a count as low as this has a chance of exactly 5 % (scipy's Poisson)."""
    assert poisson.cdf(seen, most_counted(seen)) == pytest.approx(0.05, rel=1e-6)


@given(st.integers(1, 300))
def test_a_count_is_just_possible_at_its_least(seen: int) -> None:
    """At the lower bound a count as high as this has a chance of exactly 5 % (scipy's Poisson); none has no lower."""
    assert poisson.sf(seen - 1, least_counted(seen)) == pytest.approx(0.05, rel=1e-6)
    assert least_counted(0) == 0


@pytest.mark.parametrize(("failed", "trials"), [(0, 40), (1, 40), (7, 40), (40, 40)])
def test_the_binomial_bound_is_clopper_and_pearsons(failed: int, trials: int) -> None:
    """The one-sided exact interval of scipy's binomial test."""
    known = binomtest(failed, trials, alternative="less").proportion_ci(0.95, method="exact").high
    assert largest_chance(failed, trials) == pytest.approx(known, rel=1e-9)


def test_nothing_logged_bounds_nothing() -> None:
    """No log is no evidence: the bound is infinite, and so is the rarest rate that can be seen."""
    assert most_per_show(0, 0.0, 3600.0) == math.inf
    assert rule_of_three(0) == math.inf


@given(st.floats(1.0, 1e6), st.floats(1.0, 1e5))
def test_zero_never_reads_as_no_risk(logged_s: float, show_s: float) -> None:
    """However long it ran clean, a show may have some."""
    assert most_per_show(0, logged_s, show_s) > 0
    assert chance_of_any(most_per_show(0, logged_s, show_s)) > 0


def test_the_hours_to_go_end_where_the_claim_holds() -> None:
    """After the clean hours that are still needed the count supports the claim, and not a minute before."""
    hours = hours_to_go(1, 2 * 3600.0, 3 * 3600.0, 1.0)
    assert most_per_show(1, (2 + hours) * 3600, 3 * 3600) == pytest.approx(1.0)
    assert most_per_show(1, (1.99 + hours) * 3600, 3 * 3600) > 1.0
    assert hours_to_go(0, 1e9, 3600.0, 1.0) == 0
    assert clean_hours_for_count(3, 1) == pytest.approx(3 * 2.9957, rel=1e-4)


@pytest.mark.parametrize(("failed", "trials"), [(-1, 5), (6, 5), (0, 0)])
def test_what_is_no_trial_is_refused(failed: int, trials: int) -> None:
    """Counts below nothing, above all, or of nothing."""
    with pytest.raises(ValueError, match="Give"):
        largest_chance(failed, trials)


def test_what_is_no_count_is_refused() -> None:
    """Counts below nothing have no bound."""
    with pytest.raises(ValueError, match="Give"):
        most_counted(-1)
