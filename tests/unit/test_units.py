"""Conversions: what they refuse, that they undo each other, and which way their signs go."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip import units

seconds = st.floats(-1e4, 1e4)
levels_db = st.floats(-300, 300)
rates_hz = st.sampled_from([44100.0, 48000.0, 88200.0, 96000.0, 192000.0])

TIME_AT_A_RATE: list[Callable[[float, float], float]] = [
    units.seconds_from_frames,
    units.frames_from_seconds,
    units.whole_frames,
]


@pytest.mark.parametrize("convert", TIME_AT_A_RATE)
@pytest.mark.parametrize("rate_hz", [0, -48000, math.inf, math.nan])
def test_a_rate_that_is_no_rate_is_refused(convert: Callable[[float, float], float], rate_hz: float) -> None:
    """The message says what was found, shows the rate and says what to give."""
    with pytest.raises(ValueError, match=rf"sample rate is not a positive number: {rate_hz} Hz\. Give"):
        convert(1, rate_hz)


@pytest.mark.parametrize("convert", TIME_AT_A_RATE)
@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_an_unknown_time_is_refused(convert: Callable[[float, float], float], value: float) -> None:
    """Infinity and nan are not passed on as if they were times."""
    with pytest.raises(ValueError, match=rf"is not a finite number: {value}.*\. Give"):
        convert(value, 48000)


@pytest.mark.parametrize("convert", [units.ms_from_seconds, units.seconds_from_ms])
def test_an_unknown_time_is_refused_by_milliseconds(convert: Callable[[float], float]) -> None:
    """Infinity and nan are not passed on as if they were times."""
    with pytest.raises(ValueError, match=r"time is not a finite number: nan m?s"):
        convert(math.nan)


@pytest.mark.parametrize("buffer_frames", [0, -64])
def test_a_buffer_without_frames_is_refused(buffer_frames: int) -> None:
    """A period of no frames or fewer is a mistake, not a very fast buffer."""
    with pytest.raises(ValueError, match=rf"positive number of frames: {buffer_frames}\. Give"):
        units.period_s(buffer_frames, 48000)


@given(seconds, rates_hz)
def test_seconds_come_back_from_frames(time_s: float, rate_hz: float) -> None:
    """Frames and seconds undo each other to double precision."""
    back = units.seconds_from_frames(units.frames_from_seconds(time_s, rate_hz), rate_hz)
    assert back == pytest.approx(time_s, rel=1e-14)


@given(seconds)
def test_seconds_come_back_from_milliseconds(time_s: float) -> None:
    """Milliseconds and seconds undo each other to double precision, keeping the sign."""
    assert units.seconds_from_ms(units.ms_from_seconds(time_s)) == pytest.approx(time_s, rel=1e-14)


@given(st.integers(-(10**9), 10**9), rates_hz)
def test_whole_frames_survive_the_trip_through_seconds(frames: int, rate_hz: float) -> None:
    """A whole number of frames, written as seconds, is that same number again."""
    assert units.whole_frames(units.seconds_from_frames(frames, rate_hz), rate_hz) == frames


@given(seconds, rates_hz)
def test_rounding_moves_a_time_by_at_most_half_a_frame(time_s: float, rate_hz: float) -> None:
    """Whole frames are the nearest ones, and a delay and its opposite stay opposites."""
    frames = units.whole_frames(time_s, rate_hz)
    assert abs(frames - units.frames_from_seconds(time_s, rate_hz)) <= 0.5
    assert units.whole_frames(-time_s, rate_hz) == -frames


@pytest.mark.parametrize(
    ("frames", "whole"),
    [(0.5, 1), (-0.5, -1), (1.5, 2), (2.5, 3), (-2.5, -3), (0.49999999999999994, 0), (2.4, 2), (-2.6, -3)],
)
def test_half_a_frame_goes_away_from_zero(frames: float, whole: int) -> None:
    """Halves leave zero, and the largest number below a half does not count as one."""
    assert units.whole_frames(frames, 1.0) == whole


@pytest.mark.parametrize(
    "convert",
    [
        units.gain_from_db,
        units.volts_from_dbu,
        units.dbu_from_dbv,
        units.dbv_from_dbu,
        lambda level: units.dbfs_from_dbu(level, 18),
        lambda level: units.dbu_from_dbfs(level, 18),
        lambda level: units.power_sum_db([0, level]),
        lambda level: units.amplitude_sum_db([level]),
    ],
)
@pytest.mark.parametrize("level", [math.inf, math.nan])
def test_a_level_that_is_no_level_is_refused(convert: Callable[[float], float], level: float) -> None:
    """Silence is a level; infinite loudness and nan are not."""
    with pytest.raises(ValueError, match=rf"level is not a number below infinity: {level} dB.*\. Give"):
        convert(level)
    assert convert(-math.inf) <= 0


def test_a_level_too_high_to_be_a_gain_is_refused() -> None:
    """A figure that overflows is named as such, not as an arithmetic accident."""
    with pytest.raises(ValueError, match=r"too high to be a gain: 10000 dB\. Check"):
        units.gain_from_db(10000)


@pytest.mark.parametrize(
    ("convert", "what"),
    [(units.db_from_gain, "gain"), (units.dbu_from_volts, "voltage"), (units.dbfs_from_rms, "rms value")],
)
@pytest.mark.parametrize("value", [-1, math.inf, math.nan])
def test_a_negative_size_is_refused(convert: Callable[[float], float], what: str, value: float) -> None:
    """Gains, voltages and rms values are sizes; polarity is kept elsewhere."""
    with pytest.raises(ValueError, match=rf"The {what} is negative or not finite: {value}.*\. Give"):
        convert(value)


@pytest.mark.parametrize("full_scale_dbu", [math.inf, -math.inf, math.nan])
def test_an_unknown_full_scale_is_refused(full_scale_dbu: float) -> None:
    """Without a full-scale level there is no dBFS."""
    with pytest.raises(ValueError, match=f"full-scale level is not a finite number: {full_scale_dbu} dBu"):
        units.dbfs_from_dbu(0, full_scale_dbu)


@pytest.mark.parametrize("convert", [units.db_from_gain, units.dbu_from_volts, units.dbfs_from_rms])
def test_nothing_is_minus_infinity(convert: Callable[[float], float]) -> None:
    """No amplitude at all reads -inf."""
    assert convert(0) == -math.inf


def test_minus_infinity_is_nothing() -> None:
    """A level of -inf is no amplitude at all."""
    assert units.gain_from_db(-math.inf) == 0
    assert units.volts_from_dbu(-math.inf) == 0


@given(levels_db)
def test_levels_come_back(level: float) -> None:
    """Each pair of level conversions undoes itself to well under a billionth of a dB."""
    assert units.db_from_gain(units.gain_from_db(level)) == pytest.approx(level, abs=1e-10)
    assert units.dbu_from_volts(units.volts_from_dbu(level)) == pytest.approx(level, abs=1e-10)
    assert units.dbv_from_dbu(units.dbu_from_dbv(level)) == pytest.approx(level, abs=1e-10)
    assert units.dbu_from_dbfs(units.dbfs_from_dbu(level, 24), 24) == pytest.approx(level, abs=1e-10)


@given(levels_db, levels_db)
def test_a_louder_level_is_a_larger_gain(one: float, other: float) -> None:
    """Positive dB means louder."""
    quieter, louder = sorted((one, other))
    assert units.gain_from_db(quieter) <= units.gain_from_db(louder)
    assert units.gain_from_db(louder + 1) > units.gain_from_db(louder)


@given(st.lists(levels_db, min_size=1, max_size=8))
def test_sums_lie_between_the_loudest_and_all_identical(levels: list[float]) -> None:
    """Loudest, then power sum, then amplitude sum, whatever the levels."""
    power_db, amplitude_db = units.power_sum_db(levels), units.amplitude_sum_db(levels)
    assert max(levels) <= power_db <= amplitude_db + 1e-9
    assert amplitude_db <= max(levels) + 20 * math.log10(len(levels)) + 1e-9


def test_silence_adds_nothing() -> None:
    """-inf leaves a sum as it is, and a sum of nothing is -inf."""
    assert units.power_sum_db([-20, -math.inf]) == -20
    assert units.amplitude_sum_db([-math.inf]) == -math.inf
    assert units.power_sum_db([]) == -math.inf


def test_very_loud_levels_do_not_overflow_a_sum() -> None:
    """Sums are counted from the loudest level."""
    assert units.power_sum_db([5000, 5000]) == pytest.approx(5003.0103, abs=1e-4)


def test_a_hotter_converter_reads_the_same_volts_lower() -> None:
    """The higher the full-scale level, the lower the digital level."""
    assert units.dbfs_from_dbu(4, 24) < units.dbfs_from_dbu(4, 18)
