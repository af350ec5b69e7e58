"""sidetrip's speeds of sound against ISO 9613-1 and Cramer 1993 (air.toml)."""

import pytest

from checks.loader import Check, load
from sidetrip.graph.air import air_delay_s, speed_of_sound, speed_of_sound_humid
from sidetrip.units import ms_from_seconds

CHECKS = load("air")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


@_of("speed")
def test_speed_from_temperature_follows_the_standard(check: Check) -> None:
    """ISO 9613-1:1993, Annex A, formula A.5."""
    check.assert_equal({"speed_m_s": [speed_of_sound(t) for t in check.many("temperature_c")]})


@_of("speed_humid")
def test_speed_with_humidity_follows_the_paper(check: Check) -> None:
    """O. Cramer, J. Acoust. Soc. Am. 93(5), 1993, equation 15 and table III."""
    t, p, x_c = (check.one(name) for name in ("temperature_c", "pressure_pa", "co2_mole_fraction"))
    check.assert_equal({"speed_m_s": [speed_of_sound_humid(t, h, p, x_c) for h in check.many("humidity_percent")]})


@_of("delay")
def test_delay_over_a_distance(check: Check) -> None:
    """Formula d/c with c from ISO 9613-1, Annex A."""
    delays = [air_delay_s(d, t) for d in check.many("distance_m") for t in check.many("temperature_c")]
    check.assert_equal({"delay_ms": [ms_from_seconds(delay) for delay in delays]})


@_of("delay_change")
def test_warmer_air_brings_the_sound_earlier(check: Check) -> None:
    """Formula d/c with c from ISO 9613-1, Annex A."""
    before, after = (air_delay_s(check.one("distance_m"), check.one(name)) for name in ("from_c", "to_c"))
    check.assert_equal({"change_ms": ms_from_seconds(after - before)})
