"""Ways a loop breaks timing when one microphone reaches a place twice, each with its answer worked out by hand.

Notches (2k+1)/(2t) and their depth: F. A. Everest and K. C. Pohlmann, Master Handbook of Acoustics, "Comb-Filter
Effects". What cures what is common practice, no source.
"""

import math

import pytest

from catalogue.kit import LAPTOP, L, body, everywhere_together, frames, judged, loop, only, send_loop, verdicts
from sidetrip.graph.arrivals import State
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import Span
from sidetrip.plan.comb import null_hz
from sidetrip.plan.meeting_remarks import meeting_findings
from smallshows import fixed, insert_loop, plain_desk

VOX = "{ch: 1, name: Vox, port: stage 1, to: [%s]}"
DRY, WET = (f"{{name: {name}, kind: group, width: mono, to: [Main]}}" for name in ("Dry", "Wet"))


# A dry channel and its looped copy in one bus


def test_parallel_compression_outside_combs() -> None:
    """301 frames apart: nulls at 79.73 and 239.2 Hz, complete; OUT the two are one."""
    one = only(judged(body(VOX % "Dry, Wet", DRY, WET), loop("Wet")))
    assert (one.kind, verdicts(one)) == ("electrical", ("apart", "together"))
    assert frames(one.gap_in.typical) == L
    assert one.first_null_hz == pytest.approx(79.73, abs=0.005)
    assert null_hz(one.gap_in.typical, 1) == pytest.approx(239.20, abs=0.005)
    assert one.ripple_db == math.inf


def test_a_blank_loop_on_the_dry_side_cures_it_in_and_out() -> None:
    """Both through the same laptop: nothing between them, whatever its buffer."""
    text = body(VOX % "Dry, Wet", DRY, WET)
    for trip in (285, 1000):
        assert everywhere_together(judged(text, loop("Wet"), loop("Dry", 2), trip=trip))


def test_a_delay_on_the_dry_side_is_wrong_when_the_loop_is_out() -> None:
    """301 frames dialled: together IN, 301 apart OUT; and a step of 0.1 ms leaves 1.4 frames."""
    text = body(VOX % "Dry, Wet", DRY.replace("width", f"delay_ms: {L / 48}, width"), WET)
    assert verdicts(only(judged(text, loop("Wet")))) == ("together", "apart")
    rounded = body(VOX % "Dry, Wet", DRY.replace("width", "delay_ms: 6.3, width"), WET)
    one = only(judged(rounded, loop("Wet")))
    assert one.gap_in.verdict == "apart"
    assert frames(abs(one.gap_in.typical)) == pytest.approx(1.4)


def test_a_quiet_copy_is_told_and_not_warned_of() -> None:
    """15.5 dB below it ripples 2.9 dB as mixed, 6.1 dB when the send comes up by 6."""
    wet = "{name: Wet, kind: group, width: mono}"
    main = "{name: Main, kind: main, width: stereo, from: {Wet: {db: -15.5}, Dry: {db: 0}}}"
    one = only(judged(body(VOX % "Dry, Wet", DRY.replace(", to: [Main]", ""), wet, main), loop("Wet")))
    assert (one.verdict, one.slight) == ("apart", True)
    assert one.ripple_db == pytest.approx(2.94, abs=0.01)
    assert one.ripple_moved_db == pytest.approx(6.05, abs=0.005)
    assert "6.1 dB if a level moves by 6 dB" in one.sentence
    assert [finding.code for finding in meeting_findings((one,))] == ["heard-faintly"]


# Dry and wet inside one processor


def inside(dry: str) -> str:
    """Return a show whose chain mixes dry and wet behind a look-ahead of 64 frames."""
    settings = f"mix: 0.5, lookahead_frames: 64{dry}"
    return body(VOX % "Main", chains=f"{{squash: [{{compressor: {{{settings}}}}}]}}")


def test_a_mix_knob_whose_dry_side_does_not_wait_combs_at_its_look_ahead() -> None:
    """64 frames = 1.333 ms: first null 375 Hz, complete at half and half."""
    one = only(judged(inside(", dry: early"), loop("Vox", chain="squash")))
    assert (one.verdict, frames(one.gap_in.typical)) == ("apart", 64)
    assert one.first_null_hz == pytest.approx(375)
    assert one.ripple_db == math.inf
    (finding,) = meeting_findings((one,))
    assert "dry side waits" in finding.remedy


def test_a_mix_knob_that_waits_is_no_meeting_and_an_unknown_one_asks_for_a_null_test() -> None:
    """Aligned: nothing to say. Not said: cannot tell, and the test that decides is named."""
    assert judged(inside(", dry: aligned"), loop("Vox", chain="squash")) == ()
    one = only(judged(inside(""), loop("Vox", chain="squash")))
    assert one.verdict == "cannot tell"
    assert one.deciding is not None and "null test" in one.deciding


# Twice into one mix


def test_members_of_a_looped_group_that_also_go_to_the_main_comb() -> None:
    """The group is a loop and a hop of 4 frames later: 305. Un-assigned, they are heard once."""
    text = body("{ch: 1, name: Vox, port: stage 1, group: Wet, to: [Main]}", WET)
    one = only(judged(text, loop("Wet")))
    assert (one.verdict, frames(one.gap_in.typical)) == ("apart", L + 4)
    assert judged(text.replace(", to: [Main]}]", "}]", 1), loop("Wet")) == ()


def test_a_matrix_of_main_and_group_hears_the_group_early() -> None:
    """Main looped, group not: 301 frames and the hop through the main; from one family of taps nothing meets."""
    stream = "{name: Stream, kind: matrix, width: stereo, from: [Main, Wet]}"
    net = "{name: Net, from: Stream, port: local out 5-6}"
    text = body(VOX % "Wet", WET, stream, outputs=(net,))
    one = only(judged(text, loop("Main", legs=2)))
    assert (verdicts(one), frames(one.gap_in.typical), frames(one.gap_out.typical)) == (("apart", "apart"), L + 4, 4)
    assert judged(text.replace("[Main, Wet]", "[Main]"), loop("Main", legs=2)) == ()


def test_a_return_open_beside_its_insert_is_heard_twice() -> None:
    """What comes back on the port is also on a strip of its own: 20 frames in and 8 on, against 2 back to the insert.

    Laptop to aux in is 6 frames either way. Insert: 2, then 8 to the main. Strip: 20, then 8. 18 frames apart.
    """
    text = body(VOX % "Main" + ", {ch: 2, name: Return, port: aux in 1, to: [Main]}")
    found = judged(text, loop("Vox"))
    assert any(frames(abs(one.gap_in.typical)) == 18 and one.gap_in.verdict == "apart" for one in found)
    assert judged(text.replace("to: [Main]}]", "to: []}]"), loop("Vox")) == ()


# Effects


def effect(chain: str, tap: str = "before insert") -> str:
    """Return a voice with a send to an effect that comes back on a strip of its own."""
    fx = f"{{name: Fx, kind: aux, width: mono, from: {{Vox: {{db: 0, tap: {tap}}}}}}}"
    back = "{ch: 2, name: Fx back, port: aux in 1, to: [Main]}"
    return body(f"{VOX % 'Main'}, {back}", fx, chains=f"{{hall: [{chain}]}}")


def test_a_reverb_that_is_all_wet_does_no_harm_and_says_why() -> None:
    """Its tail has no fixed phase against the voice: L is only more pre-delay, and nothing is warned of."""
    one = only(judged(effect("{reverb: {delay_frames: 0}}"), send_loop("Fx", "Fx back", chain="hall")))
    assert (one.verdict, one.ripple_db, one.first_null_hz) == ("together", None, None)
    assert "tail" in one.harmless and "does not comb" in one.harmless
    assert [finding.code for finding in meeting_findings((one,))] == ["judged-harmless"]


def test_dry_sound_that_leaks_through_an_effect_combs() -> None:
    """Half dry: the leak is a copy of the voice, a mix, a loop and two hops later. All wet cures it."""
    one = only(judged(effect("{reverb: {delay_frames: 0, mix: 0.5}}"), send_loop("Fx", "Fx back", chain="hall")))
    assert (one.verdict, one.harmless, one.gap_out.verdict) == ("apart", "", "alone")
    # to the aux 8, aux to its jack 16, jack to card 5, laptop 285, card to jack 6, jack to channel 20
    assert frames(one.gap_in.typical) == 8 + 16 + 5 + 285 + 6 + 20


def test_a_reverb_as_an_insert_is_no_meeting() -> None:
    """Wet and dry leave it by one way: fine, whatever it takes."""
    text = body(VOX % "Main", chains="{hall: [{reverb: {delay_frames: 0, mix: 0.3}}]}")
    assert judged(text, loop("Vox", chain="hall")) == ()


def test_two_copies_of_one_tail_comb_like_any_other_sound() -> None:
    """The return goes to the looped group and to the main: both copies are one tail, 305 frames apart."""
    text = effect("{reverb: {delay_frames: 0}}").replace(
        "port: aux in 1, to: [Main]", "port: aux in 1, to: [Main, Wet]"
    )
    found = judged(
        text.replace("mixes: [", f"mixes: [{WET}, "), loop("Wet", 2), send_loop("Fx", "Fx back", chain="hall")
    )
    combs = [one for one in found if not one.harmless]
    one = only(combs)
    assert (one.verdict, frames(one.gap_in.typical)) == ("apart", L + 4)


# What the unit and the desk do


def test_a_round_trip_that_changes_at_every_opening_cannot_be_told() -> None:
    """285 to 301 frames: a delay dialled for the middle is off by 8; through a blank loop it does not matter."""
    trip = UnitTime(Span(285 / 48000, 301 / 48000, "proven"), "measured")
    dialled = body(VOX % "Dry, Wet", DRY.replace("width", f"delay_ms: {309 / 48}, width"), WET)
    one = only(judged(dialled, loop("Wet"), trip=trip))
    assert (one.gap_in.verdict, one.deciding) == ("cannot tell", "the round trip of laptop")
    assert everywhere_together(judged(body(VOX % "Dry, Wet", DRY, WET), loop("Wet"), loop("Dry", 2), trip=trip))


@pytest.mark.parametrize(("aligns", "apart"), [("per chain", 64), ("all", 0)])
def test_a_unit_that_aligns_its_chains_makes_all_as_late_as_the_slowest(aligns: str, apart: int) -> None:
    """A limiter of 64 frames in one of two loops: apart per chain, together where the unit aligns all."""
    text = body(
        VOX % "Dry, Wet",
        DRY,
        WET,
        units=LAPTOP.replace("per chain", aligns),
        chains="{flat: [], limit: [{limiter: {lookahead_frames: 64}}]}",
    )
    one = only(judged(text, loop("Wet", chain="limit"), loop("Dry", 2, chain="flat")))
    assert frames(one.gap_in.typical) == apart
    assert one.gap_in.verdict == ("apart" if apart else "together")


@pytest.mark.parametrize(("counted", "gap"), [('"yes"', ("together", "together")), ('"no"', ("apart", "together"))])
def test_a_desk_that_compensates_may_or_may_not_count_an_insert(counted: str, gap: tuple[str, str]) -> None:
    """It holds the dry group back by the loop where it counts inserts, and not where it does not."""
    tail = f"compensation: [{{at: [main], holds: [group], limit_frames: 600, external_inserts: {counted}}}]"
    desk = plain_desk(tail=tail)
    assert verdicts(only(judged(body(VOX % "Dry, Wet", DRY, WET), loop("Wet"), desk=desk))) == gap


def test_after_a_change_of_buffer_what_was_dialled_is_wrong() -> None:
    """Dialled for 285 frames and run at 349: 64 frames apart, first null at 375 Hz. A blank loop follows."""
    dialled = body(VOX % "Dry, Wet", DRY.replace("width", f"delay_ms: {L / 48}, width"), WET)
    assert only(judged(dialled, loop("Wet"))).gap_in.verdict == "together"
    one = only(judged(dialled, loop("Wet"), trip=349))
    assert (one.gap_in.verdict, frames(one.gap_in.typical)) == ("apart", 64)
    assert everywhere_together(judged(body(VOX % "Dry, Wet", DRY, WET), loop("Wet"), loop("Dry", 2), trip=349))


def test_loops_on_two_units_are_apart_by_the_difference() -> None:
    """A laptop, 301 frames in all, and a box of 100 with 3 there and 2 back: 196 apart. Both on one unit cures it."""
    units = LAPTOP.replace("}]", "}, {name: box, kind: hardware, out: local out 21, back: local in 21}]")
    text = body(VOX % "Dry, Wet", DRY, WET, units=units)
    box = insert_loop("Dry", "local out 21", "local in 21", unit="box")
    one = only(judged(text, loop("Wet"), box, more={"box": fixed(100)}))
    assert (one.gap_in.verdict, frames(one.gap_in.typical)) == ("apart", L - 105)
    assert everywhere_together(judged(text, loop("Wet"), loop("Dry", 2), more={"box": fixed(100)}))


def test_one_of_two_loops_taken_out_by_itself_is_said() -> None:
    """Together IN and together OUT, 301 frames apart with either OUT alone: one key for both."""
    states = [State(f"{name} OUT", "loop out", out=frozenset([name])) for name in ("Dry", "Wet")]
    one = only(judged(body(VOX % "Dry, Wet", DRY, WET), loop("Wet"), loop("Dry", 2), states=states))
    assert one.verdict == "together"
    assert one.apart_in == ("Dry OUT", "Wet OUT")
    assert one.gap_worst is not None and frames(abs(one.gap_worst.typical)) == L
    (finding,) = meeting_findings((one,))
    assert finding.code == "heard-twice-out"
    assert "Dry and Wet OUT together" in finding.remedy
    assert meeting_findings((one,), groups={"both": ("Dry", "Wet", "Main")}) == []
