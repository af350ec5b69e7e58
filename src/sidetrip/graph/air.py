"""How long sound takes through air.

Two speeds of sound: one from temperature alone, for the plan of a show, and one that also counts humidity,
for long throws. `air_delay_s` chooses between them by whether a humidity was given.

Sources: ISO 9613-1:1993, Annex A, formula A.5. O. Cramer, "The variation of the specific heat ratio and the
speed of sound in air with temperature, pressure, humidity, and CO2 concentration", J. Acoust. Soc. Am. 93(5),
2510-2516, 1993, equation 15 with table III, and equations A1 to A3 for the water vapour.
"""

import math

_KELVIN_AT_0_C = 273.15
_REFERENCE_C = 20.0
_REFERENCE_SPEED_M_S = 343.2


def speed_of_sound(temperature_c: float) -> float:
    """Speed of sound in m/s from the temperature in °C, -20 to +50 °C.

    Formula A.5 of ISO 9613-1: 343.2*sqrt(T/293.15), T in kelvin. It knows no humidity: at sea level it reads
    0.04 % (dry) to 0.7 % (saturated, 30 °C) slower than `speed_of_sound_humid`.
    """
    if not -20 <= temperature_c <= 50:
        raise ValueError(
            f"The air temperature is outside the range of ISO 9613-1: {temperature_c} °C. "
            "Give a temperature from -20 to +50 °C."
        )
    return _REFERENCE_SPEED_M_S * math.sqrt((temperature_c + _KELVIN_AT_0_C) / (_REFERENCE_C + _KELVIN_AT_0_C))


def speed_of_sound_humid(
    temperature_c: float,
    humidity_percent: float,
    pressure_pa: float = 101325.0,
    co2_mole_fraction: float = 0.0004,
) -> float:
    """Speed of sound in m/s from temperature (°C), relative humidity (%), pressure (Pa) and CO2 fraction.

    Cramer 1993. Valid for 0 to 30 °C, 75 to 102 kPa, 0 to 100 % humidity and up to 1 % of CO2, all enforced.
    The paper estimates its uncertainty at less than 300 ppm (0.1 m/s, or 0.09 ms over 100 m).
    """
    t, p, x_c = temperature_c, pressure_pa, co2_mole_fraction
    if not 0 <= t <= 30:
        raise ValueError(
            f"The air temperature is outside the range of Cramer's formula: {t} °C. "
            "Give a temperature from 0 to 30 °C, or leave the humidity out."
        )
    if not 0 <= humidity_percent <= 100:
        raise ValueError(
            f"The relative humidity is not a percentage: {humidity_percent} %. Give a value from 0 to 100 %."
        )
    if not 75_000 <= p <= 102_000:
        raise ValueError(
            f"The air pressure is outside the range of Cramer's formula: {p} Pa. "
            "Give a pressure from 75000 to 102000 Pa (not hPa), or leave the humidity out."
        )
    if not 0 <= x_c <= 0.01:
        raise ValueError(
            f"The CO2 mole fraction is outside the range of Cramer's formula: {x_c}. "
            "Give a fraction from 0 to 0.01 (400 ppm is 0.0004)."
        )

    x_w = _water_mole_fraction(t, humidity_percent, p)
    return (
        331.5024 + 0.603055 * t - 0.000528 * t**2
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * x_w
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * x_c
        - 2.835149 * x_w**2 - 2.15e-13 * p**2 + 29.179762 * x_c**2 + 0.000486 * x_w * p * x_c
    )  # fmt: skip


def air_delay_s(distance_m: float, temperature_c: float, humidity_percent: float | None = None) -> float:
    """Seconds that sound takes over `distance_m` metres of still air; positive, later with distance.

    Without a humidity the speed is that of `speed_of_sound`, with one that of `speed_of_sound_humid` at sea
    level (101 325 Pa). Wind and temperature layers are not counted: 1 m/s of wind along the path changes the
    delay by about 0.3 %.
    """
    if not 0 <= distance_m < math.inf:
        raise ValueError(
            f"The distance is negative or not finite: {distance_m} m. Give metres from source to listener."
        )
    if humidity_percent is None:
        return distance_m / speed_of_sound(temperature_c)
    return distance_m / speed_of_sound_humid(temperature_c, humidity_percent)


def _water_mole_fraction(t: float, humidity_percent: float, p: float) -> float:
    """Mole fraction of water vapour, Cramer's equations A1 to A3; within range it stays below his 0.06."""
    t_k = t + _KELVIN_AT_0_C
    f = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    p_sv = math.exp(1.2811805e-5 * t_k**2 - 1.9509874e-2 * t_k + 34.04926034 - 6.3536311e3 / t_k)
    return humidity_percent / 100 * f * p_sv / p
