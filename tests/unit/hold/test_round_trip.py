"""Round trips over the buffer: lines, openings, ranges, rates, and what a driver claims."""

from __future__ import annotations

import pytest

from sidetrip.hold.round_trip import fits, judge_reported, rate_parts, trip
from sidetrip.model.figure import figure
from sidetrip.model.outboard import Reported, RoundTrip


def _points(*points: tuple[int, float], rate: int = 48000) -> list[RoundTrip]:
    return [RoundTrip(buffer=buffer, rate=rate, round_trip_frames=figure(frames)) for buffer, frames in points]


def test_three_buffers_make_a_line() -> None:
    """267, 331, 459 frames are 203 + 2 B: k is said, nothing is left over, and 256 frames are 715."""
    (fit,) = fits(_points((32, 267), (64, 331), (128, 459)))
    assert fit.a_frames == pytest.approx(203)
    assert fit.k == pytest.approx(2)
    assert fit.residual_frames == pytest.approx(0, abs=1e-9)
    assert fit.even
    found = trip([fit], 256, 48000)
    assert found.basis == "line"
    assert found.low_s == found.high_s == pytest.approx(715 / 48000)


def test_a_buffer_off_the_line_is_said() -> None:
    """One point 30 frames off leaves more than a frame, and widens what the line gives."""
    (fit,) = fits(_points((32, 267), (64, 331), (128, 459), (256, 745)))
    assert not fit.even
    found = trip([fit], 512, 48000)
    assert found.high_s is not None and found.low_s is not None
    assert (found.high_s - found.low_s) * 48000 == pytest.approx(2 * (fit.residual_frames or 0))


def test_five_openings_stay_five() -> None:
    """1024, 1024, 1280, 1024, 768 at one buffer: all five, 512 frames apart, and a range in place of a mean."""
    (fit,) = fits(_points(*((256, frames) for frames in (1024, 1024, 1280, 1024, 768))))
    assert fit.opened[0].frames == (1024, 1024, 1280, 1024, 768)
    assert fit.spread_frames == 512
    assert fit.k is None
    found = trip([fit], 256, 48000)
    assert (found.low_s, found.high_s) == (768 / 48000, 1280 / 48000)


@pytest.mark.parametrize("points", [((64, 331),), ((64, 331), (128, 459))])
def test_fewer_than_three_buffers_give_a_range(points: tuple[tuple[int, float], ...]) -> None:
    """One or two buffers leave k open: from the shortest to the longest that 2 and 3 buffers make of them."""
    found = trip(fits(_points(*points)), 512, 48000)
    assert found.basis == "range"
    assert found.low_s is not None and found.high_s is not None
    ends = [frames + k * (512 - buffer) for buffer, frames in points for k in (2, 3)]
    assert found.low_s * 48000 == pytest.approx(min(ends))
    assert found.high_s * 48000 == pytest.approx(max(ends))


def test_nothing_measured_is_nothing() -> None:
    """Without a point there is no time at all."""
    assert trip([], 64, 48000).low_s is None


@pytest.mark.parametrize(("rate", "all_frames_ms"), [(44100, 6.4218), (96000, 2.95)])
def test_one_rate_leaves_open_what_another_changes(rate: int, all_frames_ms: float) -> None:
    """5.9 ms at 48 kHz and 32 frames: if all of it were frames, 6.42 ms at 44.1 and 2.95 ms at 96 kHz (formula
    283.2/fs); if all but the buffers were time, 5.9 ms less what the buffers change."""
    found = trip(fits(_points((32, 283.2))), 32, rate)
    assert found.basis == "other rate"
    ends = sorted((found.low_s or 0.0, found.high_s or 0.0))
    time_ms = 5.9 - 64 / 48 + 64 / (rate / 1000)
    assert ends == pytest.approx(sorted((all_frames_ms / 1000, time_ms / 1000)), abs=1e-6)


def test_two_rates_with_lines_tell_frames_from_time() -> None:
    """120 frames and 2 ms on top of two buffers, measured at 44.1 and 96 kHz, are found again at 48 kHz."""

    def at(rate: int) -> list[RoundTrip]:
        return _points(*((b, 120 + 0.002 * rate + 2 * b) for b in (64, 128, 256)), rate=rate)

    found = fits([*at(44100), *at(96000)])
    parts = rate_parts(found)
    assert parts is not None
    assert list(parts) == pytest.approx([120, 0.002])
    assert trip(found, 64, 48000).low_s == pytest.approx((120 + 128) / 48000 + 0.002)


def test_a_reported_zero_is_impossible() -> None:
    """0 ms in and out at 256 frames, 602 measured: the measured one is used, the reported one cannot be."""
    found = fits(_points((256, 602)))
    (claim,) = judge_reported([Reported(buffer=256, rate=48000, frames=figure(0))], found)
    assert "below one buffer" in claim.impossible
    assert claim.measured == (602, 602)
    used = trip(found, 256, 48000)
    assert used.low_s is not None
    assert used.low_s * 1000 == pytest.approx(12.542, abs=0.0005)


@pytest.mark.parametrize(
    ("frames", "words"),
    [(255, "below one buffer"), (511, "below two buffers"), (512, ""), (600, ""), (200_000, "another unit")],
)
def test_what_a_driver_can_report(frames: float, words: str) -> None:
    """Less than two buffers cannot be, nor more than two seconds; the rest is a claim."""
    (claim,) = judge_reported([Reported(buffer=256, rate=48000, frames=figure(frames))], [])
    assert (words in claim.impossible) and bool(words) == bool(claim.impossible)
    assert claim.measured is None
