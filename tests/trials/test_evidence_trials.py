"""Invented logs whose true rate of overruns is known: bounds cover, are of use, and are not refused too often."""

from __future__ import annotations

import pytest
from evidence_trials import KINDS, SHOW_S, Summary, attempt, make, summary

LOGS = 120


@pytest.fixture(scope="module")
def tried() -> dict[str, Summary]:
    """Return what came of the logs of each kind."""
    return {kind: summary(kind, [attempt(kind, seed) for seed in range(LOGS)]) for kind in KINDS}


@pytest.mark.parametrize("kind", ["independent", "clustered"])
def test_few_logs_are_refused(tried: dict[str, Summary], kind: str) -> None:
    """At most one in five, where late blocks come on their own or in bursts."""
    assert tried[kind].refused <= 0.2 * LOGS


@pytest.mark.parametrize("kind", KINDS)
def test_bounds_cover(tried: dict[str, Summary], kind: str) -> None:
    """In at least 93 of 100 the bound is not below the truth, whatever the kind; and some are given at all."""
    assert tried[kind].advised >= 0.6 * LOGS
    assert tried[kind].covered >= 0.93 * tried[kind].advised


@pytest.mark.parametrize("kind", KINDS)
def test_bounds_are_of_use(tried: dict[str, Summary], kind: str) -> None:
    """The median bound is at most ten times the truth, those by a tail on their own too."""
    assert tried[kind].ratio <= 10
    assert tried[kind].fitted >= 0.1 * LOGS
    assert tried[kind].fitted_ratio <= 10


@pytest.mark.parametrize("kind", ["independent", "clustered", "periodic", "mixed"])
def test_the_truth_is_the_truth(kind: str) -> None:
    """Overruns counted in many logs of a kind are as many as their makers say, within a fifth: else nothing above
    would mean anything."""
    said = seen = 0.0
    for seed in range(1000, 1060):
        made, found = make(kind, seed), attempt(kind, seed).overruns
        if found.warm_up_s == 0:  # else only a part of it was counted
            said += made.per_show / SHOW_S * made.log.logged_s
            seen += found.seen
    assert seen == pytest.approx(said, rel=0.2)
