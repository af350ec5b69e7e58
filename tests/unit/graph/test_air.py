"""Sound in air: ranges that are enforced, and which way temperature, humidity and distance push."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.graph.air import air_delay_s, speed_of_sound, speed_of_sound_humid

temperatures_c = st.floats(-20, 50)
cramer_temperatures_c = st.floats(0, 30)
humidities_percent = st.floats(0, 100)


@pytest.mark.parametrize("temperature_c", [-20.1, 50.1, math.nan, 293.15])
def test_a_temperature_outside_the_standard_is_refused(temperature_c: float) -> None:
    """The message shows the temperature and repeats the range of ISO 9613-1."""
    with pytest.raises(ValueError, match=rf"{temperature_c} °C\. Give a temperature from -20 to \+50 °C\."):
        speed_of_sound(temperature_c)


@pytest.mark.parametrize("temperature_c", [-20, 50])
def test_the_ends_of_the_standards_range_are_inside(temperature_c: float) -> None:
    """-20 and +50 °C are allowed."""
    assert 318 < speed_of_sound(temperature_c) < 361


@pytest.mark.parametrize("temperature_c", [-0.1, 30.1, math.nan])
def test_a_temperature_outside_the_paper_is_refused(temperature_c: float) -> None:
    """The message shows the temperature and repeats the range of Cramer's formula."""
    with pytest.raises(ValueError, match=rf"{temperature_c} °C\. Give a temperature from 0 to 30 °C"):
        speed_of_sound_humid(temperature_c, 50)


@pytest.mark.parametrize("humidity_percent", [-1, 101, math.nan])
def test_a_humidity_that_is_no_percentage_is_refused(humidity_percent: float) -> None:
    """The message shows the humidity and repeats its range."""
    with pytest.raises(ValueError, match=rf"{humidity_percent} %\. Give a value from 0 to 100 %"):
        speed_of_sound_humid(20, humidity_percent)


@pytest.mark.parametrize("pressure_pa", [1013.25, 74_999, 102_001, math.nan])
def test_a_pressure_outside_the_paper_is_refused(pressure_pa: float) -> None:
    """Hectopascal are caught, and the message repeats the range."""
    with pytest.raises(ValueError, match=rf"{pressure_pa} Pa\. Give a pressure from 75000 to 102000 Pa"):
        speed_of_sound_humid(20, 50, pressure_pa)


@pytest.mark.parametrize("co2_mole_fraction", [-0.0001, 400, math.nan])
def test_a_co2_fraction_outside_the_paper_is_refused(co2_mole_fraction: float) -> None:
    """Parts per million are caught, and the message repeats the range."""
    with pytest.raises(ValueError, match=rf"{co2_mole_fraction}\. Give a fraction from 0 to 0\.01"):
        speed_of_sound_humid(20, 50, co2_mole_fraction=co2_mole_fraction)


@pytest.mark.parametrize("distance_m", [-1, math.inf, math.nan])
def test_a_distance_that_is_no_distance_is_refused(distance_m: float) -> None:
    """Nothing is guessed from a negative or unknown distance."""
    with pytest.raises(ValueError, match=rf"negative or not finite: {distance_m} m\. Give metres"):
        air_delay_s(distance_m, 20)


@given(temperatures_c, temperatures_c)
def test_warmer_air_is_not_slower(one_c: float, other_c: float) -> None:
    """The speed rises with the temperature."""
    colder, warmer = sorted((one_c, other_c))
    assert speed_of_sound(colder) <= speed_of_sound(warmer)


@given(cramer_temperatures_c, humidities_percent, humidities_percent)
def test_damper_air_is_not_slower(temperature_c: float, one_percent: float, other_percent: float) -> None:
    """The speed rises with the humidity."""
    drier, damper = sorted((one_percent, other_percent))
    assert speed_of_sound_humid(temperature_c, drier) <= speed_of_sound_humid(temperature_c, damper)


@given(cramer_temperatures_c, humidities_percent)
def test_the_simple_formula_is_slower_by_less_than_it_admits(temperature_c: float, humidity_percent: float) -> None:
    """At sea level it reads 0.04 to 0.71 % slower than the one with humidity."""
    ratio = speed_of_sound(temperature_c) / speed_of_sound_humid(temperature_c, humidity_percent)
    assert 0.0004 < 1 - ratio < 0.0071


@given(st.floats(0, 1000), temperatures_c)
def test_delay_times_speed_is_the_distance(distance_m: float, temperature_c: float) -> None:
    """A delay is positive and grows with the distance."""
    delay_s = air_delay_s(distance_m, temperature_c)
    assert delay_s * speed_of_sound(temperature_c) == pytest.approx(distance_m, rel=1e-12)


def test_a_humidity_chooses_the_humid_formula() -> None:
    """0 % is a humidity; None means that it is unknown."""
    assert air_delay_s(100, 20) == 100 / speed_of_sound(20)
    assert air_delay_s(100, 20, 0) == 100 / speed_of_sound_humid(20, 0)
    assert air_delay_s(100, 20, 60) == 100 / speed_of_sound_humid(20, 60)


def test_a_humidity_brings_the_papers_range_with_it() -> None:
    """At 40 °C only the formula without humidity answers."""
    assert air_delay_s(30, 40) == pytest.approx(0.084575, abs=1e-6)
    with pytest.raises(ValueError, match="leave the humidity out"):
        air_delay_s(30, 40, 50)
