"""sidetrip's combs against Everest & Pohlmann's handbook rules and the two-path formula (comb.toml)."""

import pytest

from checks.loader import Check, load
from sidetrip.graph.air import speed_of_sound
from sidetrip.plan.comb import level_difference_for_ripple, magnitude_db, null_hz, peak_hz, ripple
from sidetrip.units import db_from_gain, seconds_from_frames, seconds_from_ms

CHECKS = load("comb")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


@_of("null_and_spacing")
def test_nulls_and_peaks_lie_where_the_handbook_puts_them(check: Check) -> None:
    """Everest & Pohlmann, "Comb-Filter Effects": first null at 1/(2t), spacing 1/t."""
    t = seconds_from_ms(check.one("spread_ms"))
    check.assert_equal(
        {
            "first_null_hz": null_hz(t),
            "first_peak_hz": peak_hz(t),
            "second_null_hz": null_hz(t, k=1),
            "path_m": t * speed_of_sound(20),
        }
    )


@_of("ripple")
def test_ripple_follows_the_level_difference(check: Check) -> None:
    """Formula 20*log10(1±a), the curve that Everest & Pohlmann plot."""
    answer = ripple(check.one("level_difference_db"))
    check.assert_equal({"peak_db": answer.peak_db, "null_db": answer.null_db, "ripple_db": answer.ripple_db})


@_of("worked_example")
def test_the_handbooks_worked_example_comes_out(check: Check) -> None:
    """Everest & Pohlmann, chapter 10, "Estimating Comb-Filter Response"."""
    t = seconds_from_ms(check.one("spread_ms"))
    check.assert_equal(
        {
            "first_null_hz": null_hz(t),
            "null_spacing_hz": null_hz(t, k=1) - null_hz(t),
            "peak_spacing_hz": peak_hz(t, k=2) - peak_hz(t),
            "peak_db": magnitude_db(peak_hz(t), t, check.one("level_difference_db")),
        }
    )


@_of("three_to_one")
def test_three_times_the_distance_leaves_six_db_of_ripple(check: Check) -> None:
    """The 3:1 rule is common practice; its numbers are 20*log10(1/3) and the formula of the comb."""
    level_difference_db = db_from_gain(1 / check.one("distance_ratio"))
    answer = ripple(level_difference_db)
    check.assert_equal(
        {
            "level_difference_db": level_difference_db,
            "ripple_db": answer.ripple_db,
            "peak_db": answer.peak_db,
            "null_db": answer.null_db,
        }
    )


@_of("difference_for_ripple")
def test_level_difference_for_a_wanted_ripple(check: Check) -> None:
    """Formula a = (R-1)/(R+1), the two-path formula solved for the level."""
    check.assert_equal({"level_difference_db": [level_difference_for_ripple(r) for r in check.many("ripple_db")]})


@_of("inverted")
def test_inverting_one_copy_swaps_nulls_and_peaks(check: Check) -> None:
    """Formula H = 1 - a*exp(-j*2*pi*f*t)."""
    t, level_db = seconds_from_ms(check.one("spread_ms")), check.one("level_difference_db")
    nulls = [null_hz(t, k, inverted=True) for k in (0, 1, 2)]
    peaks = [peak_hz(t, k, inverted=True) for k in (1, 2)]
    check.assert_equal(
        {
            "nulls_hz": nulls,
            "peaks_hz": peaks,
            "nulls_db": [magnitude_db(f, t, level_db, inverted=True) for f in nulls],
            "peaks_db": [magnitude_db(f, t, level_db, inverted=True) for f in peaks],
        }
    )


@_of("misalignment")
def test_loss_from_a_small_misalignment(check: Check) -> None:
    """Formula 20*log10|cos(pi*f*t)|, relative to the aligned sum of two equal copies."""
    t = seconds_from_frames(check.one("frames"), check.one("rate_hz"))
    aligned_db = magnitude_db(0, t, 0)
    check.assert_equal(
        {
            "loss_db": [magnitude_db(f, t, 0) - aligned_db for f in check.many("frequency_hz")],
            "first_null_hz": null_hz(t),
        }
    )


@_of("critical_band")
def test_two_peaks_fall_into_one_critical_band(check: Check) -> None:
    """Everest & Pohlmann, "Comb Filters and Critical Bands": at 8 ms the comb is finer than hearing."""
    t = seconds_from_ms(check.one("spread_ms"))
    check.assert_equal({"peak_spacing_hz": peak_hz(t, k=2) - peak_hz(t), "path_ft": t * check.one("speed_ft_s")})


@_of("rule_of_thumb")
def test_rules_of_thumb_for_small_spreads(check: Check) -> None:
    """Formula arccos(x)/pi, for any spread: here 1 ms."""
    t = seconds_from_ms(1)
    losses = [magnitude_db(cycles / t, t, 0) - magnitude_db(0, t, 0) for cycles in check.many("cycles")]
    check.assert_equal({"loss_db": losses})
