"""What reaches ears and how late: which arrival counts, what loops add, and the limits of the show.

Frames of the plain desk at 48 kHz: stage to channel 30, channel to mix 8, mix to jack 16, so 54 and 1.125 ms; a loop of
the laptop adds 16 + 304 = 320 frames = 6.667 ms. In-ear sets take 3.5 ms, 168 frames.
"""

import math

import pytest

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import UNKNOWN
from sidetrip.plan.ears import EarDelay, beyond, find_ear_delays, judged, over_limits
from smallshows import ALL_IN, fixed, insert_loop, mapped, plain_desk, show_from

DESK = plain_desk()
VOICE = insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3")


def _show(sends: str, *, limits: str = "{}", hears: str = "{m: 0}", performer: str = "singer") -> str:
    return f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain}}]
inputs:
  - {{ch: 1, name: Voice, port: stage 1, group: Band, hears: {{singer: {hears}}}}}
  - {{ch: 2, name: Keys, port: stage 2, group: Band}}
mixes:
  - {{name: Band, kind: group, width: mono, to: [Main]}}
  - {{name: Ears, kind: aux, width: mono, for: {performer}, listens: in-ear, device_ms: 3.5, from: {{{sends}}}}}
  - {{name: Main, kind: main, width: stereo}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}, {{name: Pack, from: Ears, port: local out 3}}]
limits: {limits}
"""


def _delays(text: str, *loops: PlacedLoop, time: UnitTime | None = None) -> dict[str, EarDelay]:
    show = show_from(text, DESK)
    line_map, arrivals = mapped(show, DESK, loops, {"laptop": time or fixed(304)})
    return {delay.source: delay for delay in find_ear_delays(show, line_map, arrivals, (ALL_IN,))}


def _codes(text: str, *loops: PlacedLoop, time: UnitTime | None = None) -> list[str]:
    show = show_from(text, DESK)
    found = tuple(_delays(text, *loops, time=time).values())
    return [finding.values for finding in over_limits(show, found)]


def test_the_whole_way_and_what_loops_add_to_it() -> None:
    """Voice behind its insert: 54 + 168 + 320 frames IN, 222 OUT, so 11.29 and 4.625 ms with 6.667 added."""
    delay = _delays(_show("Voice: {tap: after insert}"), VOICE)["singer"]
    assert delay.in_s * 48000 == pytest.approx(542)
    assert delay.out_s * 48000 == pytest.approx(222)
    assert delay.added_s * 48000 == pytest.approx(320)
    assert (delay.mix, delay.performer, delay.own) == ("Ears", "singer", True)


def test_a_send_before_the_insert_adds_nothing() -> None:
    """IN and OUT are alike."""
    delay = _delays(_show("Voice: {tap: before insert}"), VOICE)["singer"]
    assert delay.in_s == delay.out_s == pytest.approx(222 / 48000)
    assert delay.added_s == 0


def test_what_comes_by_the_head_is_no_arrival_in_the_ear() -> None:
    """The own voice through the head is there at once and is not what the limit is about."""
    assert _delays(_show("Voice: {}"))["singer"].in_s > 0.001


def test_of_two_ways_that_are_equally_loud_the_latest_counts() -> None:
    """Voice dry and the band with the looped voice: the later one is what disturbs."""
    delay = _delays(_show("Voice: {tap: before insert}, Band: {tap: before insert}"), VOICE)["singer"]
    assert delay.added_s * 48000 == pytest.approx(320)


def test_a_way_far_below_the_loudest_does_not_make_ears_late() -> None:
    """The band 30 dB down does not count beside the dry voice."""
    delay = _delays(_show("Voice: {tap: before insert}, Band: {db: -30}"), VOICE)["singer"]
    assert delay.added_s == 0


@pytest.mark.parametrize("hears", ["{m: unknown}", "{}"])
def test_what_loops_add_is_known_where_the_whole_way_is_not(hears: str) -> None:
    """Nobody knows how far the singer stands from the microphone, but the loop adds 320 frames for certain."""
    delay = _delays(_show("Voice: {tap: after insert}", hears=hears), VOICE)["singer"]
    assert math.isinf(delay.in_s)
    assert delay.standing == "unknown"
    assert delay.added_s * 48000 == pytest.approx(320)


def test_an_unknown_round_trip_adds_an_unknown_time() -> None:
    """OUT is known, IN and what is added are not."""
    delay = _delays(_show("Voice: {tap: after insert}"), VOICE, time=UnitTime(UNKNOWN, "nothing"))["singer"]
    assert math.isfinite(delay.out_s)
    assert math.isinf(delay.in_s)
    assert math.isinf(delay.added_s)


def test_a_performers_own_sound_is_judged_alone() -> None:
    """The singer's mix is judged by the singer; a mix whose performer makes no sound of the show by all of it."""
    both = "Voice: {tap: after insert}, Keys: {}"
    show = show_from(_show(both), DESK)
    found = tuple(_delays(_show(both)).values())
    assert [delay.source for delay in judged(show, found)] == ["singer"]
    drummer = tuple(_delays(_show(both, performer="drummer")).values())
    assert sorted(delay.source for delay in judged(show, drummer)) == ["Keys", "singer"]


@pytest.mark.parametrize(
    ("limits", "values"),
    [
        ("{ear_total_ms: 11.3}", []),
        ("{ear_total_ms: 11.2}", ["11.29 ms in all, the show allows 11.2 ms"]),
        ("{ear_added_ms: 6.67}", []),
        ("{ear_added_ms: 6.6}", ["6.67 ms added by loops, the show allows 6.6 ms"]),
        ("{}", []),
    ],
)
def test_a_limit_of_the_show_is_held_against_the_worst(limits: str, values: list[str]) -> None:
    """Over the whole way or over what loops add: one finding each, with both figures."""
    assert _codes(_show("Voice: {tap: after insert}", limits=limits), VOICE) == values


def test_a_time_on_the_limit_is_within_it() -> None:
    """4.625 ms against 4.625 ms, whatever the sums of frames leave behind the comma."""
    assert _codes(_show("Voice: {tap: before insert}", limits="{ear_total_ms: 4.625}")) == []
    assert not beyond(0.1 + 0.2, 300)
    assert beyond(0.3001, 300)
    assert not beyond(math.inf, None)


def test_an_unknown_time_hides_no_known_one() -> None:
    """One source of a mix is unknown, another known and too late: the known one is still said."""
    text = _show("Voice: {tap: after insert}, Keys: {}", limits="{ear_total_ms: 4}", hears="{}", performer="drummer")
    assert _codes(text, VOICE) == ["4.62 ms in all, the show allows 4 ms"]
