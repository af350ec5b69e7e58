"""sidetrip's levels against the definitions of dBu and dBV, EBU R 68, SMPTE RP 155, AES17 (levels.toml)."""

import math

import pytest

from checks.loader import Check, load
from sidetrip.units import (
    amplitude_sum_db,
    dbfs_from_dbu,
    dbfs_from_rms,
    dbu_from_dbfs,
    dbu_from_dbv,
    dbu_from_volts,
    dbv_from_dbu,
    power_sum_db,
    volts_from_dbu,
)

CHECKS = load("levels")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


@_of("dbu_as_volts")
def test_dbu_as_volts_and_back(check: Check) -> None:
    """Definition: 0 dBu is the voltage of 1 mW in 600 ohm."""
    volts = [volts_from_dbu(level) for level in check.many("level_dbu")]
    check.assert_equal({"volts_rms": volts, "back_dbu": [dbu_from_volts(v) for v in volts]})


@_of("dbv_as_dbu")
def test_dbv_as_dbu_and_back(check: Check) -> None:
    """Definition: 0 dBV is 1 V."""
    levels_dbu = [dbu_from_dbv(level) for level in check.many("level_dbv")]
    check.assert_equal({"level_dbu": levels_dbu, "back_dbv": [dbv_from_dbu(level) for level in levels_dbu]})


@_of("dbv_as_volts")
def test_dbv_as_volts(check: Check) -> None:
    """Definition: 0 dBV is 1 V."""
    check.assert_equal({"volts_rms": volts_from_dbu(dbu_from_dbv(check.one("level_dbv")))})


@_of("dbu_dbv_gap")
def test_gap_between_professional_and_home_line_level(check: Check) -> None:
    """Definitions of dBu and dBV."""
    check.assert_equal({"gap_db": check.one("level_dbu") - dbu_from_dbv(check.one("level_dbv"))})


@_of("line_up")
def test_alignment_levels(check: Check) -> None:
    """EBU R 68 (-18 dBFS) and SMPTE RP 155 (-20 dBFS)."""
    full_scale_dbu = check.one("full_scale_dbu")
    level_dbfs = dbfs_from_dbu(check.one("level_dbu"), full_scale_dbu)
    check.assert_equal({"level_dbfs": level_dbfs, "back_dbu": dbu_from_dbfs(level_dbfs, full_scale_dbu)})


@_of("two_conventions")
def test_the_two_conventions_read_one_signal_six_db_apart(check: Check) -> None:
    """Formula: the difference between the two full-scale levels."""
    european, american = (dbfs_from_dbu(check.one("level_dbu"), fs) for fs in check.many("full_scale_dbu"))
    check.assert_equal({"apart_db": european - american})


@_of("full_scale_sine")
def test_a_full_scale_sine_reads_zero(check: Check) -> None:
    """AES17, definition of full-scale level: measured over one second of samples."""
    frames, cycles = int(check.one("rate_hz")), check.one("frequency_hz")
    squares = (math.sin(2 * math.pi * cycles * n / frames) ** 2 for n in range(frames))
    check.assert_equal({"level_dbfs": dbfs_from_rms(math.sqrt(math.fsum(squares) / frames))})


@_of("full_scale_square")
def test_a_full_scale_square_reads_three_db_more(check: Check) -> None:
    """AES17, definition of full-scale level."""
    check.assert_equal({"level_dbfs": dbfs_from_rms(check.one("rms"))})


@_of("equal_signals")
def test_sums_of_equal_signals(check: Check) -> None:
    """Formulas 10*log10(N) and 20*log10(N)."""
    counts = [int(count) for count in check.many("count")]
    check.assert_equal(
        {
            "uncorrelated_db": [power_sum_db([0.0] * count) for count in counts],
            "identical_db": [amplitude_sum_db([0.0] * count) for count in counts],
        }
    )


@_of("noise_floors")
def test_noise_floors_add_as_power(check: Check) -> None:
    """Formula 10*log10(sum of 10^(L/10))."""
    check.assert_equal({"sum_db": power_sum_db(check.many("levels_db"))})
