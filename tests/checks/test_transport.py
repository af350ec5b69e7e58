"""sidetrip's frames and seconds against definitions and common figures (transport.toml)."""

import pytest

from checks.loader import Check, load
from sidetrip.dsp.pcm import Encoding, data_rate
from sidetrip.plan.comb import whole_frame_residue
from sidetrip.units import (
    frames_from_seconds,
    ms_from_seconds,
    period_s,
    seconds_from_frames,
    seconds_from_ms,
)
from smallshows import frames_at, mapped, plain_desk, show_from

CHECKS = load("transport")
_HOPS = """
  - {from: stage, to: channel, frames: %s}
  - {from: channel, to: main, frames: 0}
  - {from: main, to: local out, frames: 0}
"""
_BITS = {24: Encoding.I24, 32: Encoding.I32}


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


def _hop_ms(frames: float, rate_hz: int) -> float:
    """Return how late a plan has a source that comes over one hop of so many frames."""
    desk = plain_desk(hops=_HOPS % frames)
    text = """
inputs: [{name: Vox, ch: 1, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    _, arrivals = mapped(show_from(text, desk, rate=rate_hz), desk)
    return ms_from_seconds(seconds_from_frames(frames_at(arrivals, "Vox", "PA", rate=rate_hz), rate_hz))


@_of("packet_hop")
def test_a_hop_over_a_network_takes_its_packet(check: Check) -> None:
    """AES67's packet times, as a plan has a hop that waits for one packet."""
    rate_hz = int(check.one("rate_hz"))
    check.assert_equal({"delay_ms": [_hop_ms(frames, rate_hz) for frames in check.many("frames")]})


@_of("packet_bytes")
def test_the_sound_of_a_packet(check: Check) -> None:
    """AES67: what fits one packet of 1 ms, by the bytes that one second of so many channels takes."""
    rows = zip(check.many("channels"), check.many("rate_hz"), strict=True)
    encoding, packet_s = _BITS[int(check.one("bits"))], check.one("packet_s")
    sizes = [data_rate(encoding, int(channels), int(rate_hz)) * packet_s for channels, rate_hz in rows]
    assert max(sizes) <= check.one("most_bytes")
    check.assert_equal({"payload_bytes": sizes})


@_of("stream_transit")
def test_a_stream_of_class_a_as_a_hop(check: Check) -> None:
    """IEEE 802.1BA: 2 ms at most, so a hop of 96 frames; its packets hold 6."""
    rate_hz = int(check.one("rate_hz"))
    hop = frames_from_seconds(seconds_from_ms(check.one("transit_ms")), rate_hz)
    packet = frames_from_seconds(check.one("packet_s"), rate_hz)
    check.assert_equal({"hop_frames": hop, "delay_ms": _hop_ms(hop, rate_hz), "packet_frames": packet})


@_of("channel_link")
def test_channels_on_a_coaxial_link(check: Check) -> None:
    """AES10: 32 bits for each channel and sample in 100 Mbit/s, and one frame each sample period."""
    rows = zip(check.many("channels"), check.many("rate_hz"), strict=True)
    encoding = _BITS[int(check.one("bits"))]
    bits = [8 * data_rate(encoding, int(channels), int(rate_hz)) for channels, rate_hz in rows]
    frame_us = period_s(1, check.many("rate_hz")[0]) * 1e6
    check.assert_equal({"mbit_s": [rate / 1e6 for rate in bits], "frame_us": frame_us})
