"""Shows summed by hand: taps, delay lines, air, ears and wedges, shared microphones, double rate, unknown parts.

Frames as in test_build: stage to channel 30, channel to mix 8, mix to mix 4, mix to jack 16, a loop on the card 316.
"""

import math

import pytest

from sidetrip.graph.arrivals import Arrivals
from sidetrip.graph.linemap import PlacedLoop
from smallshows import all_out, bounds_at, fixed, frames_at, insert_loop, mapped, plain_desk, rows_at, show_from

DESK = plain_desk()
UNITS = {"laptop": fixed(300)}
LAPTOP = "units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]"
VOICE = insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3")


def _arrivals(text: str, *loops: PlacedLoop, more: str = "") -> Arrivals:
    return mapped(show_from(f"{LAPTOP}\n{text}\n{more}", DESK), DESK, loops, UNITS)[1]


# Taps


def _ears(tap: str, *loops: PlacedLoop) -> float:
    text = f"""
inputs: [{{ch: 1, name: Voice, port: stage 1, delay_ms: 1}}]
mixes: [{{name: Ears, kind: aux, width: mono, from: {{Voice: {{{tap}}}}}}}]
outputs: [{{name: Pack, from: Ears, port: local out 3}}]
"""
    return frames_at(_arrivals(text, *loops), "Voice", "Pack")


@pytest.mark.parametrize(
    ("tap", "without", "with_loop"),
    [
        ("tap: input", 54, 54),  # 30 + 8 + 16
        ("tap: before insert", 54, 54),
        ("tap: after insert", 54, 370),  # + 316
        ("tap: before delay", 54, 370),
        ("tap: after delay", 102, 418),  # + 48: 1 ms dialled on the strip
        ("tap: before fader", 102, 418),
        ("tap: after mute", 102, 418),
        ("", 102, 418),  # this desk takes aux sends before the fader
    ],
)
def test_a_send_is_as_late_as_what_lies_before_its_tap(tap: str, without: float, with_loop: float) -> None:
    """Only the loop and the delay line that stand before the tap in the strip's order count."""
    assert _ears(tap) == pytest.approx(without)
    assert _ears(tap, VOICE) == pytest.approx(with_loop)


def test_two_sends_of_one_strip_have_their_own_taps() -> None:
    """Ears before the insert stay at 54 while the main behind it is at 370."""
    text = """
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes:
  - {name: Ears, kind: aux, width: mono, from: {Voice: {tap: before insert}}}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: Pack, from: Ears, port: local out 3}, {name: PA, from: Main, port: local out 1-2}]
"""
    arrivals = _arrivals(text, VOICE)
    assert frames_at(arrivals, "Voice", "Pack") == pytest.approx(54)
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(370)


def test_a_send_spelled_out_and_a_group_are_one_send() -> None:
    """An input that names its mix and is named by it goes there once."""
    text = """
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo, from: {Voice: {db: -4}}}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    (row,) = rows_at(_arrivals(text), "Voice", "PA")
    assert row.level_db == -4


# Delays that are dialled, and devices


def test_dialled_delays_and_devices_add_up_where_they_stand() -> None:
    """3 ms wireless 144, 30, 1 ms on the strip 48, 8, 2 ms on the main 96, 16, 1.5 ms dialled 72, 2 ms amplifier 96."""
    text = """
inputs: [{ch: 1, name: Voice, port: stage 1, device_ms: 3, delay_ms: 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo, delay_ms: 2}]
outputs: [{name: PA, from: Main, port: local out 1-2, delay_ms: 1.5, device_ms: 2}]
"""
    arrivals = _arrivals(text)
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(144 + 30 + 48 + 8 + 96 + 16 + 72 + 96)
    (row,) = rows_at(arrivals, "Voice", "PA")
    kinds = {item.label: item.kind for item in row.items()}
    assert kinds["PA, delay dialled"] == "configured"
    assert sum(item.delay.low for item in row.items()) == pytest.approx(row.base.low)


def test_a_delay_on_a_strip_without_a_delay_line_is_an_error() -> None:
    """A return strip of this desk has none: the finding names the strip and the figure."""
    desk = plain_desk(more_ports="  - {name: tape in, direction: in, count: 2, jacks: yes, strip: return}")
    text = """
inputs: [{name: Tape, port: tape in 1, delay_ms: 5, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    line_map, _ = mapped(show_from(text, desk), desk)
    assert ("value-wrong", "inputs / Tape", "5 ms") in [(f.code, f.where, f.values) for f in line_map.findings]


# Air


@pytest.mark.parametrize(
    ("air", "ms"),
    [
        ("", 100.0),  # 34.32 m at 343.2 m/s, which ISO 9613-1 gives for 20 °C
        ("air: {temperature_c: 0}", 34.32 / 331.286 * 1000),  # 343.2 · √(273.15 / 293.15), same source
    ],
)
def test_distance_takes_the_time_of_sound_in_air(air: str, ms: float) -> None:
    """34.32 m to a microphone, at 20 °C unless the show says otherwise."""
    text = """
inputs: [{ch: 1, name: Far, port: stage 1, to: [Main], hears: {bell: {m: 34.32, db: -6}}}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    arrivals = _arrivals(text, more=air)
    assert frames_at(arrivals, "bell", "PA") == pytest.approx(ms * 48 + 54, rel=1e-6)
    assert rows_at(arrivals, "bell", "PA")[0].level_db == -6


def test_a_listener_hears_loudspeakers_and_sources_through_air() -> None:
    """Row at 17.16 m: PA 54 + 2400 frames, the bell itself 3.432 m away 480; levels add up along the way."""
    text = """
inputs: [{ch: 1, name: Near, port: stage 1, to: [Main], hears: {bell: {m: 0, db: -1}}}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
listeners: [{name: row, hears: {PA: {m: 17.16, db: -2}, bell: {m: 3.432, db: -10}}}]
"""
    arrivals = _arrivals(text)
    assert frames_at(arrivals, "bell", "row", via=["PA"]) == pytest.approx(2454)
    air = next(row for row in rows_at(arrivals, "bell", "row") if row.output is None)
    assert air.base.low * 48000 == pytest.approx(480)
    assert (air.level_db, air.microphone, air.route) == (-10, None, ())
    assert [row.level_db for row in rows_at(arrivals, "bell", "row") if row.output] == [-3]


def test_a_distance_that_is_a_range_gives_a_range() -> None:
    """3.432 to 6.864 m are 10 to 20 ms: 534 to 1014 frames."""
    text = """
inputs: [{ch: 1, name: Far, port: stage 1, to: [Main], hears: {bell: {m: 3.432 to 6.864}}}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    assert bounds_at(_arrivals(text), "bell", "PA") == pytest.approx((534, 1014))


def test_an_unknown_distance_keeps_what_is_known_and_no_number() -> None:
    """At least the desk's 54 frames, open above, and a finding that names the distance."""
    text = """
inputs: [{ch: 1, name: Far, port: stage 1, to: [Main], hears: {bell: {}}}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    line_map, arrivals = mapped(show_from(text, DESK), DESK)
    assert _open_bounds(arrivals) == (54, math.inf)
    assert [(f.code, f.where, f.what) for f in line_map.findings] == [
        ("delay-unknown", "inputs / Far", "The distance to bell is unknown")
    ]


def _open_bounds(arrivals: Arrivals) -> tuple[float, float]:
    times = arrivals.times(all_out(arrivals))
    assert len(times.low) == 1
    return round(float(times.low[0]) * 48000, 9), float(times.high[0])


# Ears and wedges


def test_a_wedge_is_as_far_as_it_stands() -> None:
    """30 + 8 + 16, amplifier 2 ms 96, 1.716 m of air 240 = 390 frames; the own voice is there at once."""
    text = """
inputs: [{ch: 1, name: Voice, port: stage 1, hears: {singer: {m: 0}}}]
mixes: [{name: Wedge, kind: aux, width: mono, for: singer, listens: wedge, m: 1.716, device_ms: 2, from: [Voice]}]
outputs: [{name: Floor, from: Wedge, port: local out 3}]
"""
    rows = {row.microphone: row for row in rows_at(_arrivals(text), "singer", "Wedge")}
    assert rows["Voice"].base.low * 48000 == pytest.approx(390)
    assert rows[None].base.low == 0


def test_ears_without_an_output_leave_by_the_first_jacks() -> None:
    """30 + 8 + 16 + 3.5 ms 168 = 222 frames."""
    text = """
inputs: [{ch: 1, name: Voice, port: stage 1, hears: {singer: {m: 0}}}]
mixes: [{name: Ears, kind: aux, width: mono, for: singer, listens: in-ear, device_ms: 3.5, from: [Voice]}]
"""
    assert frames_at(_arrivals(text), "singer", "Ears", via=["Voice"]) == pytest.approx(222)


# One microphone on two strips


DOUBLE = """
inputs:
  - {ch: 1, name: Voice, port: stage 1, device_ms: 3, to: [Main]}
  - {ch: 2, name: Dry voice, port: stage 1, hears: {singer: {m: 0.3432, db: -1}}}
mixes:
  - {name: Ears, kind: aux, width: mono, from: [Dry voice]}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: Pack, from: Ears, port: local out 3}, {name: PA, from: Main, port: local out 1-2}]
"""


def test_two_strips_on_one_port_share_their_microphone() -> None:
    """A distance or device beside one of them holds for both: 48 + 144 + 54 frames, and 316 more behind the loop."""
    arrivals = _arrivals(DOUBLE, VOICE)
    (ears,), (main,) = rows_at(arrivals, "singer", "Pack"), rows_at(arrivals, "singer", "PA")
    assert ears.microphone == main.microphone
    assert frames_at(arrivals, "singer", "Pack") == pytest.approx(246)
    assert frames_at(arrivals, "singer", "PA") == pytest.approx(246 + 316)
    assert {row.source for row in arrivals.rows} == {"singer"}


def test_a_strip_on_one_half_of_a_pair_shares_its_microphone_too() -> None:
    """A stereo strip on stage 1-2 and mono strips on 1 and on 2 hang on the same devices, whatever their names."""
    text = """
inputs:
  - {ch: 1, name: Pair, port: stage 1-2, to: [Main]}
  - {ch: 3, name: A left, port: stage 1, to: [Main]}
  - {ch: 4, name: Z right, port: stage 2, to: [Main], hears: {piano: {m: 1}}}
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    rows = _arrivals(text).rows
    assert {(row.source, row.microphone) for row in rows} == {("piano", "A left")}
    assert sorted(row.route[0] for row in rows) == ["A left", "Pair", "Z right"]


def test_devices_that_contradict_each_other_are_both_believed() -> None:
    """Two strips on one port with 3 and with 5 ms before them keep their own."""
    text = DOUBLE.replace("name: Dry voice, port: stage 1,", "name: Dry voice, port: stage 1, device_ms: 5,")
    arrivals = _arrivals(text)
    assert frames_at(arrivals, "singer", "Pack") - frames_at(arrivals, "singer", "PA") == pytest.approx(96)


# Double rate and a measured desk


def test_at_96_khz_the_desk_has_other_figures_and_air_does_not() -> None:
    """45 + 8 + 16 frames at 96 kHz, and 3.432 m are 960 of them: 1029."""
    hops = """
  - {from: stage, to: channel, frames: 30, frames_at_96000: 45}
  - {from: channel, to: main, frames: 8}
  - {from: main, to: local out, frames: 16}
"""
    text = """
inputs: [{ch: 1, name: Far, port: stage 1, to: [Main], hears: {bell: {m: 3.432}}}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    desk = plain_desk(hops=hops)
    _, arrivals = mapped(show_from(text, desk, rate=96000), desk)
    assert frames_at(arrivals, "bell", "PA", rate=96000) == pytest.approx(1029)
    _, arrivals = mapped(show_from(text, desk), desk)
    assert frames_at(arrivals, "bell", "PA") == pytest.approx(480 + 54)


def test_an_unknown_hop_leaves_every_way_over_it_without_a_number() -> None:
    """Main to local out is not given: the PA is open above 38 frames, and the finding names the hop."""
    desk = plain_desk(hops="[{from: stage, to: channel, frames: 30}, {from: channel, to: main, frames: 8}]")
    text = """
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    line_map, arrivals = mapped(show_from(text, desk), desk)
    assert _open_bounds(arrivals) == (38, math.inf)
    assert [finding.where for finding in line_map.findings] == ["desk / main to local out"]
