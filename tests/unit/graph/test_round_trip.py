"""Round trips: measured points first, then a line through them, and never a number out of one point."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.graph.round_trip import UnitTime, chain_time, chain_time_on, measured_buffers, unit_time
from sidetrip.graph.span import NOTHING, UNKNOWN, Span
from sidetrip.model.outboard import Unit
from sidetrip.model.show import Show
from smallshows import plain_desk, show_from

DESK = plain_desk()


def _show(units: str, chains: str = "{}") -> Show:
    return show_from(f"units: [{units}]\nchains: {chains}", DESK)


def _unit(measured: str = "", more: str = "", kind: str = "computer") -> Unit:
    return _show(f"{{name: box, kind: {kind}, connects: card, measured: [{measured}]{more}}}").units[0]


def _point(buffer: int, frames: object, rate: int = 48000) -> str:
    return f"{{buffer: {buffer}, rate: {rate}, round_trip_frames: {frames}}}"


def _points(*points: str) -> str:
    return ", ".join(points)


def _frames(time: UnitTime) -> tuple[float, float]:
    return round(time.span.low * 48000, 9), round(time.span.high * 48000, 9)


def test_a_measured_buffer_is_believed_before_the_line() -> None:
    """A point off the line of the others keeps its own figure at its own buffer."""
    unit = _unit(_points(_point(32, 267), _point(64, 400), _point(128, 459)))
    assert _frames(unit_time(unit, 64, 48000)) == (400, 400)
    assert unit_time(unit, 64, 48000).basis == "measured"
    assert unit_time(unit, 64, 48000).span.standing == "proven"


def test_a_buffer_between_comes_from_the_line() -> None:
    """267 at 32 and 459 at 128 lie on 203 + 2·B: 331 at 64, and no better than assumed."""
    time = unit_time(_unit(_points(_point(32, 267), _point(128, 459))), 64, 48000)
    assert _frames(time) == (331, 331)
    assert time.basis == "line"
    assert time.span.standing == "assumed"
    assert time.residual_frames is None, "two points always lie on a line"


@given(st.integers(0, 2000), st.integers(1, 4), st.lists(st.sampled_from([16, 32, 64, 128, 256, 512]), min_size=3))
def test_points_on_a_line_give_it_back(a: int, k: int, buffers: list[int]) -> None:
    """With frames = a + k·B at three or more buffers the residual is nothing and B = 1024 gives a + 1024·k."""
    distinct = sorted(set(buffers))
    if len(distinct) < 3:
        return
    unit = _unit(_points(*(_point(buffer, a + k * buffer) for buffer in distinct)))
    time = unit_time(unit, 1024, 48000)
    assert time.span.low * 48000 == pytest.approx(a + 1024 * k)
    assert time.residual_frames == pytest.approx(0, abs=1e-6)
    assert not time.uneven


def test_the_residual_says_that_something_is_not_modelled() -> None:
    """267, 331, 475 at 32, 64, 128: least squares 190.571 + 2.2232·B misses 331 by 1.857 frames, the most of the three.

    Worked by hand: mean B 224/3, mean frames 1073/3, k = 10 624/4 778.67, a = 357.667 - 74.667·k.
    """
    time = unit_time(_unit(_points(_point(32, 267), _point(64, 331), _point(128, 475))), 64, 48000)
    k = (32 * 267 + 64 * 331 + 128 * 475 - 224 * 1073 / 3) / (32**2 + 64**2 + 128**2 - 224**2 / 3)
    a = (1073 - k * 224) / 3
    worst = max(abs(frames - (a + k * buffer)) for buffer, frames in ((32, 267), (64, 331), (128, 475)))
    assert time.residual_frames == pytest.approx(worst)
    assert worst > 1
    assert time.uneven


def test_five_openings_give_a_range_and_no_mean() -> None:
    """1024, 1024, 1280, 1024, 768 at one buffer: 768 to 1280, 512 frames apart, 16 to 26.67 ms."""
    unit = _unit(_points(*(_point(256, frames) for frames in (1024, 1024, 1280, 1024, 768))))
    time = unit_time(unit, 256, 48000)
    assert _frames(time) == (768, 1280)
    assert time.spread_frames == 512
    assert time.span.low < time.span.high


def test_openings_that_differ_widen_the_line_too() -> None:
    """One buffer varies by 512 frames, so a buffer on the line through its middle is known to ±256 only."""
    unit = _unit(_points(_point(256, 768), _point(256, 1280), _point(512, 1536)))
    time = unit_time(unit, 384, 48000)
    assert _frames(time) == (1280 - 256, 1280 + 256)
    assert time.spread_frames == 512


@pytest.mark.parametrize("buffer", [32, 128])
def test_a_single_point_is_never_stretched(buffer: int) -> None:
    """One buffer measured says nothing of another."""
    time = unit_time(_unit(_point(64, 331)), buffer, 48000)
    assert time.span == UNKNOWN
    assert time.basis == "one point"


def test_nothing_measured_is_unknown() -> None:
    """No points, no number; nor from a point whose figure is unknown."""
    assert unit_time(_unit(), 64, 48000) == UnitTime(UNKNOWN, "nothing")
    assert unit_time(_unit(_point(64, "unknown")), 64, 48000) == UnitTime(UNKNOWN, "nothing")


def test_an_open_buffer_is_unknown() -> None:
    """Without a buffer two measured points give no time."""
    assert unit_time(_unit(_points(_point(32, 267), _point(64, 331))), None, 48000).span == UNKNOWN


def test_frames_of_another_rate_are_no_better_than_assumed() -> None:
    """331 frames measured at 44.1 kHz are used as 331 frames at 48 kHz, and it is said."""
    time = unit_time(_unit(_point(64, 331, rate=44100)), 64, 48000)
    assert _frames(time) == (331, 331)
    assert time.basis == "other rate"
    assert time.span.standing == "assumed"


def test_two_other_rates_are_never_mixed() -> None:
    """What differs between 44.1 and 96 kHz is no spread between openings: only the nearest rate counts."""
    unit = _unit(_points(_point(64, 331, rate=44100), _point(64, 420, rate=96000), _point(128, 470, rate=96000)))
    time = unit_time(unit, 64, 48000)
    assert _frames(time) == (331, 331)
    assert time.spread_frames == 0
    assert measured_buffers(unit, 48000) == (64,)
    assert measured_buffers(unit, 88200) == (64, 128)


def test_points_of_this_rate_silence_all_others() -> None:
    """A point at 96 kHz does not bend the line of the show's rate."""
    unit = _unit(_points(_point(32, 267), _point(128, 459), _point(64, 9999, rate=96000)))
    assert _frames(unit_time(unit, 64, 48000)) == (331, 331)


def test_a_figure_with_a_standing_of_its_own_keeps_it() -> None:
    """A measured figure that somebody marks as assumed is not proven."""
    unit = _unit(_point(64, "{is: 331, standing: assumed}"))
    assert unit_time(unit, 64, 48000).span.standing == "assumed"


def test_hardware_takes_its_delay_in_milliseconds() -> None:
    """1.5 ms are 72 frames at 48 kHz, with no buffer at all."""
    unit = _unit(kind="hardware", more=", delay_ms: 1.5")
    assert unit_time(unit, None, 48000) == UnitTime(Span(0.0015, 0.0015, "assumed"), "hardware")
    assert unit_time(_unit(kind="hardware"), None, 48000).span == UNKNOWN


# Chains


def test_a_chain_adds_frames_and_lookahead_of_all_its_processors() -> None:
    """48 frames, 64 frames and 2 ms are 48 + 64 + 96 = 208 frames at 48 kHz."""
    show = _show(
        "{name: box, kind: computer, connects: card}",
        "{c: [eq: {}, black box: {delay_frames: 48}, limiter: {lookahead_frames: 64}, gate: {lookahead_ms: 2}]}",
    )
    assert chain_time(show.chains["c"], 48000).low * 48000 == pytest.approx(208)
    assert chain_time(show.chains["c"], 96000).low * 96000 == pytest.approx(48 + 64 + 192)


def test_a_processor_that_may_look_ahead_and_does_not_say_is_unknown() -> None:
    """A pitch corrector without a declared delay makes the chain's time unknown."""
    show = _show("{name: box, kind: computer, connects: card}", "{c: [{pitch corrector: {}}, {eq: {}}]}")
    assert not chain_time(show.chains["c"], 48000).known


SHORT, LONG = Span(0.001, 0.001, "assumed"), Span(0.004, 0.004, "assumed")


def test_a_unit_that_aligns_makes_every_chain_as_late_as_the_slowest() -> None:
    """1 ms beside 4 ms takes 4 ms, and an empty chain too."""
    unit = _unit(more=", aligns: all")
    assert chain_time_on(unit, SHORT, [SHORT, LONG]) == LONG
    assert chain_time_on(unit, NOTHING, [SHORT, LONG]) == LONG


def test_a_unit_that_does_not_align_leaves_each_chain_its_own_time() -> None:
    """1 ms beside 4 ms takes 1 ms."""
    assert chain_time_on(_unit(more=", aligns: per chain"), SHORT, [SHORT, LONG]) == SHORT


def test_a_unit_of_which_it_is_unknown_gives_a_range() -> None:
    """1 ms beside 4 ms takes 1 to 4 ms; the slowest itself takes 4 ms for certain."""
    unit = _unit(more=", aligns: unknown")
    assert chain_time_on(unit, SHORT, [SHORT, LONG]) == Span(0.001, 0.004, "assumed")
    assert chain_time_on(unit, LONG, [SHORT, LONG]) == LONG


@pytest.mark.parametrize("aligns", ["all", "unknown"])
def test_an_unknown_chain_beside_it_makes_a_chain_unknown(aligns: str) -> None:
    """Where chains wait for the slowest, nobody is known to be earlier than one whose time is unknown."""
    span = chain_time_on(_unit(more=f", aligns: {aligns}"), SHORT, [SHORT, UNKNOWN])
    assert not span.known
    assert span.standing == "unknown"
    assert span.low == SHORT.low


def test_hardware_aligns_nothing() -> None:
    """A box on jacks has one chain, its own."""
    assert chain_time_on(_unit(kind="hardware", more=", aligns: all"), SHORT, [LONG]) == SHORT
