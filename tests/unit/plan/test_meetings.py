"""One source by two ways into one mix: how far apart, what it does, what cancels, what decides, one entry a cause.

Frames of the plain desk at 48 kHz: stage to channel 30, channel to any mix 8, mix to mix 4, mix to jack 16. A unit
takes 112 frames and the desk 16 on the way to it and back, so that a loop is 128 frames = 2.667 ms.
"""

import math
from collections.abc import Iterable

import pytest

from sidetrip.graph.arrivals import State
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import UNKNOWN, Span
from sidetrip.model.desk import Desk
from sidetrip.plan.comb import null_hz, ripple
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from smallshows import ALL_IN, fixed, insert_loop, mapped, plain_desk, show_from

DESK = plain_desk()
LAPTOP = "units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]\n"


def parallel(db: object = 0) -> str:
    """Return a show with one voice by two ways into the main, the second of them so much louder."""
    return f"""{LAPTOP}
inputs: [{{ch: 1, name: Voice, port: stage 1, to: [Dry, Wet]}}]
mixes:
  - {{name: Dry, kind: group, width: mono}}
  - {{name: Wet, kind: group, width: mono}}
  - {{name: Main, kind: main, width: stereo, from: {{Dry: {{db: 0}}, Wet: {{db: {db}}}}}}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
"""


WET = insert_loop("Wet", "aux out 1", "aux in 1", unit="laptop", card="1")
DRY = insert_loop("Dry", "aux out 2", "aux in 2", unit="laptop", card="2")


def meetings(
    text: str,
    loops: Iterable[PlacedLoop] = (),
    time: UnitTime | None = None,
    *,
    state: State = ALL_IN,
    desk: Desk = DESK,
) -> tuple[Meeting, ...]:
    """Return the meetings of a show with loops placed by hand on a laptop of 112 frames."""
    show = show_from(text, desk)
    line_map, arrivals = mapped(show, desk, loops, {"laptop": time or fixed(112)})
    return find_meetings(show, line_map, arrivals, (state,))[0]


def frames(seconds: float) -> float:
    """Return frames at 48 kHz, rounded to a millionth."""
    return round(seconds * 48000, 6)


# Combs


def test_two_ways_128_frames_apart_comb() -> None:
    """2.667 ms apart, equally loud: complete dips at 187.5, 562.5 and 937.5 Hz; together when the loop is OUT."""
    (one,) = meetings(parallel(), [WET])
    assert (one.kind, one.joined, one.places, one.sources) == ("electrical", "Main", ("PA",), ("Voice",))
    assert one.gap_in.typical * 1000 == pytest.approx(2.6667, abs=1e-4)
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("apart", "together")
    assert frames(one.gap_out.typical) == 0
    assert one.first_null_hz == pytest.approx(187.5)
    assert [null_hz(one.gap_in.typical, k) for k in (1, 2)] == pytest.approx([562.5, 937.5])
    assert one.ripple_db == math.inf
    assert one.loops == ("Wet",)
    assert "2.67 ms apart while the loops are IN, together when all are OUT" in one.sentence
    assert "Hz, complete dips" in one.sentence


def test_six_decibels_apart_the_comb_is_shallower() -> None:
    """Peak +3.53 dB and null -6.04 dB: 20·log10 of 1 ± 10^(-6/20)."""
    (one,) = meetings(parallel(-6), [WET])
    assert one.level_difference_db == -6
    depth = ripple(one.level_difference_db)
    assert [depth.peak_db, depth.null_db] == pytest.approx([3.53, -6.04], abs=0.005)
    assert one.ripple_db == pytest.approx(depth.ripple_db)


def test_the_earlier_way_is_named_first() -> None:
    """A positive spread: second minus first, whichever of the two ways the loop is on."""
    for loop, late in ((WET, "Wet"), (DRY, "Dry")):
        (one,) = meetings(parallel(), [loop])
        assert frames(one.gap_in.typical) == 128
        assert one.second == f"Voice → {late} → Main (loop {late})"
        assert "loop" not in one.first


@pytest.mark.parametrize(("db", "met"), [(-25, 1), (-25.1, 0), (25, 1), (25.1, 0)])
def test_ways_more_than_25_decibels_apart_are_dropped(db: float, met: int) -> None:
    """They ripple less than 1 dB; exactly 25 dB still counts."""
    assert len(meetings(parallel(db), [WET])) == met
    assert ripple(-25).ripple_db == pytest.approx(0.98, abs=0.01)


def test_an_unknown_level_is_never_dropped() -> None:
    """Nobody knows how deep it is, but it is there, with its first dip."""
    (one,) = meetings(parallel("unknown"), [WET])
    assert (one.level_difference_db, one.ripple_db) == (None, None)
    assert one.first_null_hz == pytest.approx(187.5)


def test_half_a_frame_is_together_and_a_frame_is_not() -> None:
    """A dialled 0.01 ms is 0.48 frames, 0.02 ms is 0.96."""
    for ms, verdict in ((0.01, "together"), (0.02, "apart")):
        text = parallel().replace("{name: Wet,", f"{{delay_ms: {ms}, name: Wet,")
        assert meetings(text)[0].verdict == verdict


def test_a_delay_that_follows_no_bypass_is_wrong_when_the_loop_is_out() -> None:
    """2.667 ms dialled on the dry way: together IN, 128 frames apart OUT, and said so."""
    text = parallel().replace("{name: Dry,", f"{{delay_ms: {128 / 48}, name: Dry,")
    (one,) = meetings(text, [WET])
    assert (one.gap_in.verdict, one.gap_out.verdict, one.verdict) == ("together", "apart", "apart")
    assert frames(one.gap_out.typical) == 128, "of the way that is named second"
    assert one.second == "Voice → Dry → Main"
    assert "when all loops are OUT, together while they are IN" in one.sentence


def test_a_silent_way_leaves_the_other_alone() -> None:
    """With the unit dead only the dry way is heard: alone, and nothing combs."""
    dead = State("laptop dead", "unit dead", dead=frozenset(["Wet"]))
    (one,) = meetings(parallel(), [WET], state=dead)
    assert one.gap_in.verdict == "alone"
    assert one.gap_out.verdict == "together"
    assert one.verdict == "together"


# What cancels, and what decides


def test_a_figure_that_both_ways_pass_cancels() -> None:
    """The wireless before the strip is unknown, the amplifier a range, and the spread is known all the same."""
    text = parallel().replace("port: stage 1,", "port: stage 1, device_ms: unknown,")
    text = text.replace("port: local out 1-2", "port: local out 1-2, device_ms: 1 to 9")
    (one,) = meetings(text, [WET])
    assert frames(one.gap_in.low) == frames(one.gap_in.high) == 128


def test_a_hop_of_the_desk_that_both_ways_take_cancels() -> None:
    """The hops from channel to group and from group to main are unknown or a range, but the same for both."""
    hops = """
  - {from: stage, to: channel, frames: 30}
  - {from: channel, to: group, frames: unknown}
  - {from: group, to: main, frames: 3 to 9}
  - {from: main, to: local out, frames: 16}
  - {from: [insert, aux out, card in, aux in], to: [aux out, card out, aux in, insert], frames: 4}
"""
    (one,) = meetings(parallel(), [WET], desk=plain_desk(hops=hops))
    assert frames(one.gap_in.low) == frames(one.gap_in.high) == 128
    assert one.gap_out.verdict == "together"


@pytest.mark.parametrize("time", [UnitTime(UNKNOWN, "nothing"), UnitTime(Span(0.016, 0.0267, "proven"), "measured")])
def test_a_blank_loop_cures_whatever_the_round_trip_is(time: UnitTime) -> None:
    """Both ways go through one unit: together, also where its round trip is unknown or differs between openings."""
    (one,) = meetings(parallel(), [WET, DRY], time)
    assert (one.gap_in.low, one.gap_in.high, one.verdict) == (0, 0, "together")


def test_loops_on_two_units_do_not_cancel() -> None:
    """Two boxes of unknown time each: nobody can tell."""
    box = "{name: box, kind: hardware, out: local out 21, back: local in 21}"
    show = show_from(parallel().replace("aligns: per chain}]", f"aligns: per chain}}, {box}]"), DESK)
    other = insert_loop("Dry", "local out 21", "local in 21", unit="box")
    unknown = UnitTime(UNKNOWN, "nothing")
    line_map, arrivals = mapped(show, DESK, [WET, other], {"laptop": unknown, "box": unknown})
    (one,), _ = find_meetings(show, line_map, arrivals, (ALL_IN,))
    assert one.gap_in.verdict == "cannot tell"
    assert one.deciding in ("the round trip of laptop", "the round trip of box")


def test_the_figure_that_decides_is_named() -> None:
    """One way through a unit of unknown time: the round trip decides, not what both ways share."""
    text = parallel().replace("port: stage 1,", "port: stage 1, device_ms: unknown,")
    (one,) = meetings(text, [WET], UnitTime(UNKNOWN, "nothing"))
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("cannot tell", "together")
    assert one.deciding == "the round trip of laptop"
    assert one.sentence == "Whether Voice meets itself in Main cannot be told: it hangs on the round trip of laptop."
    assert (one.first_null_hz, one.ripple_db) == (None, None)


def test_a_range_decides_only_if_it_crosses_the_limit() -> None:
    """0 to 2 ms dialled cannot be told and names the delay; 1 to 2 ms is apart for certain."""
    for ms, verdict in (("0 to 2", "cannot tell"), ("1 to 2", "apart"), ("0 to 0.01", "together")):
        text = parallel().replace("{name: Wet,", f"{{delay_ms: {ms}, name: Wet,")
        (one,) = meetings(text)
        assert one.verdict == verdict
        assert one.deciding == ("delay" if verdict == "cannot tell" else None)


# Two microphones


def microphones(m: object) -> str:
    """Return a show with a drum before two microphones, the second so many metres away."""
    return f"""{LAPTOP}
inputs:
  - {{ch: 1, name: Near, port: stage 1, to: [Main], hears: {{drum: {{m: 0.3432, db: 0}}}}}}
  - {{ch: 2, name: Far, port: stage 2, to: [Main], hears: {{drum: {{m: {m}, db: -6}}}}}}
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
"""


NEAR = insert_loop("Near", "aux out 1", "aux in 1", unit="laptop", card="1")


def test_two_microphones_may_be_as_far_apart_as_they_stand() -> None:
    """0.3432 and 1.3728 m are 1 and 4 ms: 3 ms apart by nature, and together."""
    (one,) = meetings(microphones(1.3728))
    assert one.kind == "two microphones"
    assert one.natural_s == pytest.approx(0.003)
    assert one.gap_in.typical == pytest.approx(0.003)
    assert one.verdict == "together"
    assert one.level_difference_db == -6


def test_a_loop_on_one_of_two_microphones_pulls_them_apart() -> None:
    """The near one 416 frames later: 272 after the far one, where distance alone puts it 144 before."""
    (one,) = meetings(microphones(1.3728), [NEAR], fixed(400))
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("apart", "together")
    assert frames(one.gap_in.typical) == 416 - 144
    assert one.natural_s == pytest.approx(-0.003)
    assert (one.first, one.second) == ("Far → Main", "Near → Main (loop Near)")


def test_two_microphones_that_a_loop_brings_closer_are_together() -> None:
    """128 frames on the near one: 16 are left of the 144 that distance makes, in the same order."""
    (one,) = meetings(microphones(1.3728), [NEAR])
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("together", "together")
    assert frames(one.gap_in.typical) == 16


def test_one_loop_that_harms_one_source_and_not_another_is_two_entries() -> None:
    """The far microphone hears a bell 9 m off: its spread stays within its distance, the drum's does not."""
    text = microphones(1.3728).replace("{drum: {m: 0.3432, db: 0}}", "{drum: {m: 0.3432}, bell: {m: 0.3432}}")
    text = text.replace("{drum: {m: 1.3728, db: -6}}", "{drum: {m: 1.3728, db: -6}, bell: {m: 9, db: -6}}")
    found = {one.sources: one.gap_in.verdict for one in meetings(text, [NEAR], fixed(400))}
    assert found == {("drum",): "apart", ("bell",): "together"}


def test_a_distance_that_is_a_range_is_still_their_own() -> None:
    """1 to 2 m: the spread is a range, but what the desk adds to it is nothing."""
    (one,) = meetings(microphones("1 to 2"))
    assert one.verdict == "together"
    assert one.gap_in.low < one.natural_s < one.gap_in.high


def test_an_unknown_distance_cannot_be_told_and_is_named() -> None:
    """Nobody knows how far apart they stand."""
    (one,) = meetings(microphones("unknown"), [NEAR])
    assert one.verdict == "cannot tell"
    assert one.deciding == "air, drum to Far"
    assert one.natural_s == 0


# One entry a cause


def test_one_wrong_tap_is_one_entry_with_all_places_and_sources() -> None:
    """A matrix of main and group: both members of the group are heard twice there, at two zones; one meeting."""
    text = (
        LAPTOP
        + """
inputs:
  - {ch: 1, name: Anna, port: stage 1, group: Voices}
  - {ch: 2, name: Bert, port: stage 2, group: Voices}
mixes:
  - {name: Voices, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
  - {name: Feed, kind: matrix, width: mono, from: [Main, Voices]}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Hall, from: Feed, port: local out 3}
  - {name: Bar, from: Feed, port: local out 4}
"""
    )
    loop = insert_loop("Main", "aux out 1-2", "aux in 1-2", unit="laptop", card="1-2")
    (one,) = meetings(text, [loop])
    assert one.sources == ("Anna", "Bert")
    assert one.places == ("Bar", "Hall")
    assert one.joined == "Feed"
    assert frames(one.gap_in.typical) == 128 + 4


def test_the_same_pair_met_before_it_spreads_is_one_entry() -> None:
    """What joins in the main is heard at the main's loudspeakers and in everything behind it: one cause."""
    web = "  - {name: Web, kind: matrix, width: mono, from: [Main]}\n"
    text = parallel().replace("outputs: [", f"{web}outputs: [{{name: Net, from: Web, port: local out 5}}, ")
    (one,) = meetings(text, [WET])
    assert (one.joined, one.places) == ("Main", ("Net", "PA"))
