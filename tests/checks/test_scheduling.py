"""sidetrip's buffer periods, bounds on misses and guessed round trips against formulae (scheduling.toml)."""

import math

import pytest

from checks.loader import Check, load
from sidetrip.hold.counts import (
    HOUR_S,
    chance_of_any,
    clean_hours_for_risk,
    largest_chance,
    most_counted,
    most_per_show,
    rule_of_three,
)
from sidetrip.hold.round_trip import fits, trip
from sidetrip.model.figure import figure
from sidetrip.model.outboard import RoundTrip
from sidetrip.units import ms_from_seconds, period_s

CHECKS = load("scheduling")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


@_of("period")
def test_period_of_a_buffer(check: Check) -> None:
    """Formula N/fs, printed to five decimals of a millisecond."""
    rate_hz = check.one("rate_hz")
    check.assert_equal({"period_ms": [ms_from_seconds(period_s(int(n), rate_hz)) for n in check.many("buffer_frames")]})


@_of("largest_chance")
def test_what_a_clean_run_leaves_open(check: Check) -> None:
    """Rule of three, Hanley and Lippman-Hand 1983, and the exact figure that it stands for."""
    trials = [int(n) for n in check.many("trials")]
    check.assert_equal(
        {"exact": [largest_chance(0, n) for n in trials], "rule_of_three": [rule_of_three(n) for n in trials]}
    )


@_of("clean_show")
def test_what_a_clean_show_leaves_open(check: Check) -> None:
    """Periods are t*fs/N; the chance of each to fail is below 1 - 0.05^(1/n)."""
    length = check.one("show_h") * HOUR_S
    periods = [length / period_s(int(n), check.one("rate_hz")) for n in check.many("buffer_frames")]
    check.assert_equal({"periods": periods, "chance": [largest_chance(0, round(n)) for n in periods]})


@_of("any_miss")
def test_the_chance_of_any_miss(check: Check) -> None:
    """Poisson, 1 - exp(-rate*t)."""
    cases = zip(check.many("per_hour"), check.many("show_h"), strict=True)
    check.assert_equal({"percent": [100 * chance_of_any(rate * hours) for rate, hours in cases]})


@_of("clean_hours")
def test_the_hours_that_a_claim_takes(check: Check) -> None:
    """2.9957 shows over -ln(1-p): a soak of one evening supports no such claim."""
    check.assert_equal({"hours": [clean_hours_for_risk(check.one("show_h"), risk) for risk in check.many("risk")]})


@_of("poisson_bound")
def test_the_bound_of_a_count(check: Check) -> None:
    """Garwood 1936."""
    check.assert_equal({"bound": [most_counted(int(seen)) for seen in check.many("seen")]})


@_of("clean_log")
def test_what_clean_hours_allow(check: Check) -> None:
    """Ten clean minutes allow up to 54 misses in a 3 h show, nine hours one."""
    show_s = check.one("show_h") * HOUR_S
    bounds = [most_per_show(0, hours * HOUR_S, show_s) for hours in check.many("logged_h")]
    check.assert_equal({"whole": [math.ceil(bound) for bound in bounds]})


@_of("clean_services")
def test_what_clean_services_allow(check: Check) -> None:
    """Four services of an hour and a half without a miss: up to 0.75 in the next."""
    bound = most_per_show(0, check.one("logged_h") * HOUR_S, check.one("show_h") * HOUR_S)
    check.assert_equal({"per_show": bound})


@_of("round_trip_guessed")
def test_one_measured_round_trip_leaves_the_rest_open(check: Check) -> None:
    """Common practice, no source: the range of a round trip known at one buffer runs from k = 2 to k = 3."""
    rate = int(check.one("rate_hz"))
    at, frames = int(check.one("measured_at")), check.one("measured_ms") * check.one("rate_hz") / 1000
    found = fits([RoundTrip(buffer=at, rate=rate, round_trip_frames=figure(frames))])
    buffers = [int(buffer) for buffer in check.many("buffer_frames")]
    trips = [trip(found, buffer, rate) for buffer in buffers]
    ends = [(one.low_s or 0.0, one.high_s or 0.0) for one in trips]
    two = [low for low, _ in ends]
    three = [high for _, high in ends]
    two[0], three[0] = three[0], two[0]  # below the measured buffer more buffers mean less of the rest
    length = check.one("show_h") * HOUR_S
    check.assert_equal(
        {
            "period_ms": [ms_from_seconds(period_s(buffer, rate)) for buffer in buffers],
            "millions": [length / period_s(buffer, rate) / 1e6 for buffer in buffers],
            "two_ms": [ms_from_seconds(seconds) for seconds in two],
            "three_ms": [ms_from_seconds(seconds) for seconds in three],
        }
    )
