"""sidetrip's frames and seconds against definitions and common figures (transport.toml)."""

import pytest

from checks.loader import Check, load
from sidetrip.plan.comb import whole_frame_residue
from sidetrip.units import (
    frames_from_seconds,
    ms_from_seconds,
    period_s,
    seconds_from_frames,
    seconds_from_ms,
)

CHECKS = load("transport")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


@_of("microframe")
def test_frames_in_a_usb_microframe(check: Check) -> None:
    """USB 2.0, high-speed microframe (the figure is from memory), times the rate."""
    t = check.one("microframe_s")
    check.assert_equal({"frames": [frames_from_seconds(t, rate_hz) for rate_hz in check.many("rate_hz")]})


@_of("buffer_time")
def test_time_of_a_buffer(check: Check) -> None:
    """Formula N/fs."""
    check.assert_equal({"time_ms": ms_from_seconds(period_s(int(check.one("frames")), check.one("rate_hz")))})


@_of("rate_change")
def test_a_lower_rate_makes_the_same_buffer_longer(check: Check) -> None:
    """Formula 48000/44100 = 160/147."""
    n = int(check.one("frames"))
    check.assert_equal({"factor": period_s(n, check.one("to_hz")) / period_s(n, check.one("from_hz"))})


@_of("illustration")
def test_illustrations_convert_both_ways(check: Check) -> None:
    """Common practice, no source: only the conversion of these figures is asserted."""
    rate_hz = check.one("rate_hz")
    frames = sum(frames_from_seconds(seconds_from_ms(ms), rate_hz) for ms in check.many("time_ms"))
    check.assert_equal({"frames": frames, "back_ms": ms_from_seconds(seconds_from_frames(frames, rate_hz))})


@_of("rescaled")
def test_a_loop_counted_in_frames_rescales_with_the_rate(check: Check) -> None:
    """Formula N/fs with the N of the illustration."""
    frames = frames_from_seconds(seconds_from_ms(check.one("time_ms")), check.one("from_hz"))
    check.assert_equal({"time_ms": [ms_from_seconds(seconds_from_frames(frames, to)) for to in check.many("to_hz")]})


@_of("whole_frames")
def test_whole_frame_compensation_leaves_a_harmless_residue(check: Check) -> None:
    """Formula t - n/fs, and the first null of two copies that far apart."""
    rate_hz, delay_s = check.one("rate_hz"), seconds_from_ms(check.one("delay_ms"))
    chosen = whole_frame_residue(delay_s, rate_hz)
    other_left_s = delay_s - seconds_from_frames(check.one("other_frames"), rate_hz)
    check.assert_equal(
        {
            "frames": chosen.frames,
            "residue_frames": frames_from_seconds(chosen.residue_s, rate_hz),
            "residue_us": chosen.residue_s * 1e6,
            "first_null_hz": chosen.first_null_hz,
            "other_left_frames": frames_from_seconds(other_left_s, rate_hz),
            "other_left_us": other_left_s * 1e6,
        }
    )
