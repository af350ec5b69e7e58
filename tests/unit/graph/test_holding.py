"""Desks that hold copies back by themselves: summed by hand, state by state.

Frames of the plain desk at 48 kHz: stage to channel 30, channel to any mix 8, mix to mix 4, mix to jack 16. A loop
through the laptop takes 3 + 5 out, 300 there, 6 + 2 back: 316.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidetrip.graph.arrivals import Arrivals, State, standing_of
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from smallshows import (
    ALL_IN,
    FRAME_S,
    all_out,
    bounds_at,
    fixed,
    frames_at,
    insert_loop,
    mapped,
    plain_desk,
    show_from,
    theatre_desk,
)

SHOW = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main]}
  - {ch: 2, name: Drum, port: stage 2, group: Drums}
  - {ch: 3, name: Snare, port: stage 3, group: Drums}
mixes:
  - {name: Drums, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
"""
UNITS = {"laptop": fixed(300)}
VOICE = insert_loop("Voice", "aux out 1", "aux in 1", unit="laptop", card="1")
DRUM = insert_loop("Drum", "aux out 2", "aux in 2", unit="laptop", card="2")
DRUMS = insert_loop("Drums", "aux out 3", "aux in 3", unit="laptop", card="3")


def _desk(at: str = "main", holds: str = "[channel]", limit: str = "2048", external: str = '"yes"') -> Desk:
    line = f"{{at: {at}, holds: {holds}, limit_frames: {limit}, external_inserts: {external}}}"
    return plain_desk(tail=f"compensation: [{line}]")


def _map(desk: Desk, *loops: PlacedLoop, show: str = SHOW) -> tuple[LineMap, Arrivals]:
    return mapped(show_from(show, desk), desk, loops, UNITS)


def _pa(arrivals: Arrivals, state: State | None = None) -> dict[str, float]:
    return {name: round(frames_at(arrivals, name, "PA", state), 6) for name in ("Voice", "Drum", "Snare")}


def _out(*names: str) -> State:
    return State("some OUT", "loop out", out=frozenset(names))


# The desk by itself


def test_a_desk_that_holds_nothing_back_leaves_direct_paths_early() -> None:
    """Voice 30 + 8 + 16 = 54, Drum 30 + 8 + 4 + 16 = 58 frames."""
    line_map, arrivals = _map(plain_desk())
    assert line_map.holding is None
    assert _pa(arrivals) == {"Voice": 54, "Drum": 58, "Snare": 58}


def test_direct_paths_wait_for_the_groups() -> None:
    """8 + 4 through the group against 8: the voice waits 4 frames, and comes with the drums after 58."""
    _, arrivals = _map(_desk(external='"no"'))
    assert _pa(arrivals) == {"Voice": 58, "Drum": 58, "Snare": 58}


def test_only_the_kinds_that_are_held_wait() -> None:
    """Where returns are held and channels are not, the voice stays at 54."""
    _, arrivals = _map(_desk(holds="[return]", external='"no"'))
    assert _pa(arrivals) == {"Voice": 54, "Drum": 58, "Snare": 58}


def test_what_is_dialled_is_not_undone() -> None:
    """A delay of 1 ms = 48 frames on the voice comes on top: 58 + 48 = 106."""
    show = SHOW.replace("port: stage 1, to: [Main]", "port: stage 1, to: [Main], delay_ms: 1")
    _, arrivals = _map(_desk(external='"no"'), show=show)
    assert _pa(arrivals) == {"Voice": 106, "Drum": 58, "Snare": 58}


def test_the_longest_wait_has_a_limit() -> None:
    """At most 3 frames: 54 + 3 = 57, one frame short of the drums."""
    _, arrivals = _map(_desk(limit="3", external='"no"'))
    assert _pa(arrivals) == {"Voice": 57, "Drum": 58, "Snare": 58}


def test_an_unknown_limit_leaves_a_range() -> None:
    """Between not waiting at all and the 4 frames that would be needed."""
    line_map, arrivals = _map(_desk(limit="unknown", external='"no"'))
    assert bounds_at(arrivals, "Voice", "PA") == pytest.approx((54, 58))
    row = next(row for row in arrivals.rows if row.source == "Voice" and row.place.name == "PA")
    assert standing_of(line_map, row) == "unknown"


def test_the_desk_of_32_strips_keeps_its_own_figures() -> None:
    """It has the wait in its hops, and nothing is held on top: channel to main 8 = to the group 4 + from there 4."""
    desk = theatre_desk()
    line_map, arrivals = mapped(show_from(SHOW, desk), desk, [], UNITS)
    assert line_map.holding is None
    assert _pa(arrivals) == {"Voice": 60, "Drum": 60, "Snare": 60}


# Loops


def test_loops_that_are_not_counted_come_late() -> None:
    """A loop on the drum group: 58 + 316 = 374 for its members, the voice stays at 58."""
    _, arrivals = _map(_desk(external='"no"'), DRUMS)
    assert _pa(arrivals) == {"Voice": 58, "Drum": 374, "Snare": 374}
    assert _pa(arrivals, all_out(arrivals)) == {"Voice": 58, "Drum": 58, "Snare": 58}


def test_loops_that_are_counted_are_waited_for_while_they_are_in() -> None:
    """The voice waits 8 + 316 + 4 - 8 = 320 frames: 54 + 320 = 374; with the loop OUT 58 again."""
    _, arrivals = _map(_desk(), DRUMS)
    assert _pa(arrivals) == {"Voice": 374, "Drum": 374, "Snare": 374}
    assert _pa(arrivals, all_out(arrivals)) == {"Voice": 58, "Drum": 58, "Snare": 58}


def test_a_wait_beyond_the_limit_stops_there() -> None:
    """320 wanted, 100 can be had: 54 + 100 = 154, 220 frames before the drums."""
    _, arrivals = _map(_desk(limit="100"), DRUMS)
    assert _pa(arrivals)["Voice"] == 154
    assert _pa(arrivals, all_out(arrivals))["Voice"] == 58


def test_siblings_in_a_group_wait_where_the_group_holds_them() -> None:
    """A loop on Drum alone. At main the voice waits for it (374); Snare waits only if groups hold copies too."""
    _, arrivals = _map(_desk(), DRUM)
    assert _pa(arrivals) == {"Voice": 374, "Drum": 374, "Snare": 58}
    _, arrivals = _map(_desk(at="[group, main]"), DRUM)
    assert _pa(arrivals) == {"Voice": 374, "Drum": 374, "Snare": 374}


def test_a_group_waits_for_a_channel_where_it_is_held() -> None:
    """A loop on the voice: 54 + 316 = 370. The group's copy waits 316 + 8 - 12 = 312: 58 + 312 = 370."""
    _, arrivals = _map(_desk(holds="[channel, group]"), VOICE)
    assert _pa(arrivals) == {"Voice": 370, "Drum": 370, "Snare": 370}
    _, arrivals = _map(_desk(), VOICE)
    assert _pa(arrivals) == {"Voice": 370, "Drum": 58, "Snare": 58}, "the group is not held"


def test_every_state_has_waits_of_its_own() -> None:
    """Loops on Drum and Drums: 58 + 632 = 690 with both IN, 374 with either OUT, 58 with both OUT, voice and all."""
    _, arrivals = _map(_desk(at="[group, main]"), DRUM, DRUMS)
    for out, frames in (((), 690), (("Drum",), 374), (("Drums",), 374), (("Drum", "Drums"), 58)):
        assert set(_pa(arrivals, _out(*out)).values()) == {frames}, out


def test_a_copy_taken_before_the_insert_is_not_late_and_not_waited_for() -> None:
    """The matrix takes the drums before their loop: nothing waits there; 30 + 8 + 4 + 16 = 58 and 30 + 8 + 16 + 4."""
    show = SHOW.replace(
        "outputs:",
        "  - {name: Fill, kind: matrix, width: mono, from: {Drums: {tap: before insert}, Voice: {db: 0}}}\noutputs:\n"
        "  - {name: Lip, from: Fill, port: local out 3}",
    )
    _, arrivals = _map(_desk(at="[main, matrix]"), DRUMS, show=show)
    assert frames_at(arrivals, "Drum", "Lip") == pytest.approx(58)
    assert frames_at(arrivals, "Voice", "Lip") == pytest.approx(58)
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(374)


def test_whether_loops_are_counted_may_be_unknown() -> None:
    """Then the voice comes somewhere between 58 and 374 while the loop is IN, and at 58 while it is OUT."""
    _, arrivals = _map(_desk(external="unknown"), DRUMS)
    assert bounds_at(arrivals, "Voice", "PA") == pytest.approx((58, 374))
    assert bounds_at(arrivals, "Voice", "PA", all_out(arrivals)) == pytest.approx((58, 58))


def test_an_unknown_loop_leaves_its_siblings_unknown_while_it_is_in() -> None:
    """Nobody knows how long the desk would wait; up to its limit of 2048, so at most 54 + 2048; OUT they are known."""
    desk = _desk()
    loops, units = [DRUMS], {"laptop": fixed(float("inf"))}
    _, arrivals = mapped(show_from(SHOW, desk), desk, loops, units)
    low, high = bounds_at(arrivals, "Voice", "PA")
    assert low >= 58 - 1e-6 and high == pytest.approx(54 + 2048)
    assert bounds_at(arrivals, "Voice", "PA", all_out(arrivals)) == pytest.approx((58, 58))


def test_a_mix_on_a_ring_holds_nothing_back() -> None:
    """What feeds back has no time to wait for; the rest of the show is summed as ever."""
    show = SHOW.replace("mixes:", "mixes:\n  - {name: Echo, kind: aux, width: mono, from: [Main], to: [Main]}")
    line_map, _ = _map(_desk(), show=show)
    assert line_map.rings
    assert line_map.holding is not None and "Main" not in line_map.holding.entrances


# What is heard twice


def _meetings(desk: Desk, *loops: PlacedLoop, show: str) -> tuple[Meeting, ...]:
    own = show_from(show, desk)
    line_map, arrivals = mapped(own, desk, loops, UNITS)
    return find_meetings(own, line_map, arrivals, (ALL_IN, all_out(arrivals)))[0]


TWICE = SHOW.replace("port: stage 1, to: [Main]", "port: stage 1, to: [Main], group: Drums")


@pytest.mark.parametrize(
    ("desk", "loops", "verdicts", "frames"),
    [
        (plain_desk(), [], ("apart", "apart"), (4, 4)),
        (_desk(external='"no"'), [], ("together", "together"), (0, 0)),
        (_desk(external='"no"'), [DRUMS], ("apart", "together"), (316, 0)),
        (_desk(), [DRUMS], ("together", "together"), (0, 0)),
        (_desk(limit="100"), [DRUMS], ("apart", "together"), (220, 0)),
    ],
)
def test_what_is_held_back_decides_what_is_heard_twice(
    desk: Desk, loops: list[PlacedLoop], verdicts: tuple[str, str], frames: tuple[int, int]
) -> None:
    """The voice goes to the main directly and through the group: apart, or together, in each state by itself."""
    (meeting,) = (own for own in _meetings(desk, *loops, show=TWICE) if own.sources == ("Voice",))
    assert (meeting.gap_in.verdict, meeting.gap_out.verdict) == verdicts
    assert abs(meeting.gap_in.typical) / FRAME_S == pytest.approx(frames[0], abs=1e-6)
    assert abs(meeting.gap_out.typical) / FRAME_S == pytest.approx(frames[1], abs=1e-6)


def test_a_hop_that_is_a_range_cancels_where_the_desk_waits_by_it() -> None:
    """Channel to group takes 8 to 10, nobody knows which: the direct copy waits for just that, so they are together."""
    hops = """
  - {from: stage, to: channel, frames: 30}
  - {from: channel, to: group, frames: 8 to 10}
  - {from: channel, to: main, frames: 8}
  - {from: group, to: main, frames: 4}
  - {from: main, to: local out, frames: 16}
"""
    line = "compensation: [{at: main, holds: channel, limit_frames: 64, external_inserts: 'no'}]"
    (meeting,) = _meetings(plain_desk(hops=hops, tail=line), show=TWICE)
    assert (meeting.gap_in.verdict, meeting.gap_in.low, meeting.gap_in.high) == ("together", 0.0, 0.0)
    (meeting,) = _meetings(plain_desk(hops=hops), show=TWICE)
    assert meeting.gap_in.verdict == "apart"


# All together

WIDE = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]
inputs:
  - {ch: 1, name: A, port: stage 1, to: [Main, One]}
  - {ch: 2, name: B, port: stage 2, group: One}
  - {ch: 3, name: C, port: stage 3, group: Two, to: [Aux]}
mixes:
  - {name: One, kind: group, width: mono, to: [Two, Main]}
  - {name: Two, kind: group, width: mono, to: [Main]}
  - {name: Aux, kind: aux, width: mono, to: [Main]}
  - {name: Main, kind: main, width: mono}
outputs: [{name: PA, from: Main, port: local out 1}]
"""
STRIPS = ("A", "B", "C", "One", "Two", "Aux")


@settings(max_examples=60, deadline=None)
@given(st.sets(st.sampled_from(STRIPS)), st.sets(st.sampled_from(STRIPS)), st.integers(1, 900))
def test_where_everything_is_held_everything_arrives_at_once(placed: set[str], out: set[str], frames: int) -> None:
    """Loops anywhere, any of them OUT: at the PA every way of every source takes the longest of what the ways would
    take without holding back.
    """
    numbered = {strip: number for number, strip in enumerate(STRIPS, 1)}
    loops = [
        insert_loop(s, f"aux out {numbered[s]}", f"aux in {numbered[s]}", unit="laptop", card=str(numbered[s]))
        for s in sorted(placed)
    ]
    state, units = _out(*out), {"laptop": fixed(frames)}
    holding = _desk(at="[group, aux, main]", holds="[channel, group, aux]", limit="100000")
    bare = plain_desk()
    at_once = mapped(show_from(WIDE, holding), holding, loops, units)[1].times(state)
    apart = mapped(show_from(WIDE, bare), bare, loops, units)[1].times(state)
    assert len(at_once.low) == 7  # A by main, One, One and Two; B by One, One and Two; C by Two and Aux
    assert at_once.low == pytest.approx(at_once.high)
    assert at_once.low * 48000 == pytest.approx(apart.low.max() * 48000)
