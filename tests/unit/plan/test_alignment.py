"""What to dial, by hand: every kind of repair once, its numbers, and why something is not cured.

Frames of the plain desk at 48 kHz: stage to channel 30, channel to any mix 8, mix to mix 4, mix to jack 16. A unit
takes 112 frames and the desk 16 on the way to it and back, so that a loop is 128 frames = 2.667 ms.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from sidetrip.graph.arrivals import states_of
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import UNKNOWN
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Figure, figure
from sidetrip.plan.alignment import Aligned, Alignment, align
from sidetrip.plan.alignment_remarks import alignment_findings
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.recovery import GroupKey
from smallshows import fixed, insert_loop, mapped, plain_desk, plan_from, show_from

DESK = plain_desk()
LAPTOP = "units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]\n"
WET = insert_loop("Wet", "aux out 1", "aux in 1", unit="laptop", card="1")
DRY = insert_loop("Dry", "aux out 2", "aux in 2", unit="laptop", card="2")
MAIN = insert_loop("Main", "aux out 3-4", "aux in 3-4", unit="laptop", card="3-4")


def parallel(
    *, db: object = 0, more: str = "", inputs: str = "[{ch: 1, name: Voice, port: stage 1, to: [Dry, Wet]}]"
) -> str:
    """Return a show with one voice by two ways into the main."""
    return f"""{LAPTOP}
inputs: {inputs}
mixes:
  - {{name: Dry, kind: group, width: mono}}
  - {{name: Wet, kind: group, width: mono}}
  - {{name: Main, kind: main, width: stereo, from: {{Dry: {{db: 0}}, Wet: {{db: {db}}}}}}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
{more}"""


SUBS = f"""{LAPTOP}
inputs: [{{ch: 1, name: Kick, port: stage 1, to: [Main]}}]
mixes:
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Subs, kind: matrix, width: mono, from: {{Main: {{db: 0, tap: before insert}}}}}}
outputs:
  - {{name: PA, from: Main, port: local out 1-2}}
  - {{name: Sub stack, from: Subs, port: local out 3, crossover_hz: 90}}
listeners: [{{name: row F, hears: {{PA: {{m: 9}}, Sub stack: {{m: 9}}}}}}]
"""


def aligned(
    text: str,
    loops: Iterable[PlacedLoop] = (),
    *,
    desk: Desk = DESK,
    time: UnitTime | None = None,
    spare: tuple[str, ...] = (),
    keys: tuple[GroupKey, ...] = (),
) -> Alignment:
    """Return what to dial for a show with loops placed by hand on a laptop of 112 frames."""
    show, placed = show_from(text, desk), tuple(loops)
    times = {"laptop": time or fixed(112)}
    line_map, arrivals = mapped(show, desk, placed, times)
    states = states_of(tuple(sorted(loop.name for loop in placed)), {}, {})
    meetings, _ = find_meetings(show, line_map, arrivals, states)
    return align(show, desk, placed, line_map, arrivals, states, meetings, times, spare, keys)


def with_lines(step: float | None, most_ms: float) -> Desk:
    """Return the plain desk with other delay lines. step: in frames, None for unknown."""
    known = Figure(standing="unknown") if step is None else figure(step)
    return DESK.model_copy(update={"delay_step_frames": known, "delay_max_ms": figure(most_ms)})


def without_lines(kind: str) -> Desk:
    """Return the plain desk without delay lines on strips of a kind."""
    strips = tuple(
        pool.model_copy(update={"order": tuple(stage for stage in pool.order if stage != "delay")})
        if kind in pool.kinds
        else pool
        for pool in DESK.strips
    )
    return DESK.model_copy(update={"strips": strips})


def dialled(found: Alignment) -> dict[str, float]:
    """Return the frames to dial by strip or output."""
    return {own.name: own.frames for own in found.settings}


def only(found: Alignment) -> Aligned:
    """Return the one meeting there is something to say of."""
    assert len(found.meetings) == 1, [own.meeting.sentence for own in found.meetings]
    return found.meetings[0]


def kinds(one: Aligned) -> list[tuple[str, bool]]:
    """Return the repairs of a meeting, best first, and whether the numbers count on them."""
    return [(repair.kind, repair.done) for repair in one.repairs]


# Every kind of repair


def test_a_dry_way_beside_a_loop_is_delayed_by_the_loop() -> None:
    """128 frames on Dry: together IN, 128 frames apart OUT, and it says what undoes it; inside the unit is better."""
    key = GroupKey(8, "ALL LOOPS OUT", ("Wet",), sure=True)
    found = aligned(parallel(), [WET], keys=(key,))
    (setting,) = found.settings
    assert (setting.on, setting.name, setting.frames, setting.steps) == ("strip", "Dry", 128, 128)
    assert setting.in_s * 1000 == pytest.approx(128 / 48)
    assert (setting.was_s, setting.out_s, setting.wrong_out) == (0, 0, ("Wet",))
    assert setting.undo == "With key 8, 'ALL LOOPS OUT', dial it back to 0.00 ms; a macro of the desk may do both"
    one = only(found)
    assert (one.verdict, one.after_in.verdict, one.after_out.verdict) == ("cured", "together", "apart")
    assert one.after_out.typical * 48000 == pytest.approx(-128)
    assert kinds(one) == [("inside the unit", False), ("blank loop", False), ("delay", True)]
    assert one.repairs[0].words.startswith("Un-assign Dry from Main")
    assert one.repairs[-1].words == "Strip Dry, delay: 0.00 → 2.67 ms"


def test_without_a_key_the_strip_is_named_that_makes_it_wrong() -> None:
    """No key takes the loop OUT: then it is said whose."""
    (setting,) = aligned(parallel(), [WET]).settings
    assert setting.undo == "When Wet is taken OUT, dial it back to 0.00 ms"


def test_a_spare_return_makes_a_blank_loop_and_nothing_is_dialled() -> None:
    """Dry goes out blank through the same unit: 128 frames too, together IN and OUT, at whatever buffer."""
    found = aligned(parallel(), [WET], spare=("aux in 2",))
    assert found.settings == ()
    (move,) = found.moves
    assert (move.kind, move.strip, move.beside, move.frames) == ("blank loop", "Dry", "Wet", 128)
    assert move.blank is not None and str(move.blank.unit_in) == "card out 2" and move.blank.chain is None
    one = only(found)
    assert (one.verdict, one.after_in.verdict, one.after_out.verdict) == ("cured", "together", "together")
    assert ("blank loop", True) in kinds(one)


def test_a_spare_port_of_another_kind_is_no_blank_loop() -> None:
    """The unit gives nothing back on local in: the delay line is left."""
    found = aligned(parallel(), [WET], spare=("local in 9",))
    assert (found.moves, dialled(found)) == ((), {"Dry": 128})


def test_a_sub_taken_before_the_insert_is_taken_behind_it() -> None:
    """128 frames too early at 90 Hz; behind the insert it is 4 + 0 frames off IN and OUT, and nothing is dialled."""
    found = aligned(SUBS, [MAIN])
    assert found.settings == ()
    (move,) = found.moves
    assert (move.kind, move.strip, move.mix, move.frames) == ("tap", "Main", "Subs", 128)
    one = only(found)
    assert (one.verdict, one.after_in.verdict, one.after_out.verdict) == ("cured", "together", "together")
    assert one.after_in.typical * 48000 == pytest.approx(one.after_out.typical * 48000)
    assert kinds(one)[0] == ("tap", True)


def test_ears_keep_their_early_tap() -> None:
    """A tap for ears is before the insert on purpose: it is never moved behind it."""
    text = SUBS.replace("kind: matrix, width: mono, from", "kind: aux, width: mono, for: Kick, listens: in-ear, from")
    found = aligned(text, [MAIN])
    assert found.moves == ()
    assert dialled(found).keys() <= {"Subs", "Sub stack"}


def test_two_loops_of_their_own_belong_on_one_key() -> None:
    """Equal loops on both ways are together IN and OUT, and 128 frames apart where one is OUT alone."""
    one = only(aligned(parallel(), [WET, DRY]))
    assert (one.verdict, kinds(one)) == ("left", [("bypass group", False)])
    assert one.repairs[0].words == "Put Dry and Wet on one key, so that they go OUT together"
    grouped = parallel(more="bypass_groups: {both: [Dry, Wet]}")
    assert aligned(grouped, [WET, DRY]).meetings == ()


def test_ears_that_hear_a_strip_twice_can_have_a_strip_of_their_own() -> None:
    """A second strip that stays dry: one more channel strip, and how many are free (160 less the one used)."""
    text = parallel().replace(
        "{name: Main, kind: main, width: stereo,", "{name: Main, kind: aux, for: Voice, width: mono,"
    )
    text = text.replace("outputs: [{name: PA, from: Main, port: local out 1-2}]", "")
    words = {own.kind: own.words for one in aligned(text, [WET]).meetings for own in one.repairs}
    assert words["double patch"].endswith(
        "Patch Voice to a second strip that stays dry, for Main alone: 1 more channel strip, 159 free"
    )


def test_opposite_polarity_is_no_matter_of_delay() -> None:
    """Nothing is dialled; the polarity is to be turned."""
    inputs = (
        "[{ch: 1, name: Voice, port: stage 1, to: [Dry]}, {ch: 2, name: Copy, port: stage 1, inverted: yes, to: [Wet]}]"
    )
    found = aligned(parallel(inputs=inputs), [WET])
    assert found.settings == ()
    assert [kinds(one) for one in found.meetings] == [[("polarity", False)]]
    assert "turn the polarity" in only(found).why


# Loudspeakers


def test_two_loudspeakers_are_brought_where_they_are_heard_as_one() -> None:
    """1.5 m are 209.8 frames of air less 4 of the desk; 5 ms, where both fuse, are 240: 35 frames are the least."""
    text = SUBS.replace(", crossover_hz: 90", "").replace("Sub stack: {m: 9}", "Sub stack: {m: 7.5}")
    found = aligned(text)
    assert sum(dialled(found).values()) == 35
    assert set(dialled(found)) <= {"Main", "PA"}
    one = only(found)
    assert (one.verdict, one.after_in.verdict, one.after_out.verdict) == ("cured", "together", "together")
    assert abs(one.after_in.typical) * 1000 == pytest.approx(5.016, abs=0.01)


def test_a_coarse_step_aligns_loudspeakers_never_two_ways_of_one_microphone() -> None:
    """0.1 ms is 4.8 frames: 128 is 26.67 steps; the nearest leaves 1.6 frames, 0.033 ms, first dip at 15 kHz."""
    found = aligned(parallel(), [WET], desk=with_lines(4.8, 500))
    assert found.settings == ()
    why = only(found).why
    assert "A step of 0.10 ms aligns loudspeakers, never two ways of one microphone" in why
    assert "the nearest step leaves 0.033 ms, first dip at 15000 Hz" in why
    text = SUBS.replace("crossover_hz: 90", "delay_ms: 3")
    coarse = aligned(text, desk=with_lines(4.8, 500))
    assert only(coarse).verdict == "cured"
    assert all(own.frames == pytest.approx(own.steps * 4.8) for own in coarse.settings)


# What is not cured, and why


def test_a_line_that_is_too_short_is_said_to_be() -> None:
    """1 ms is 48 frames; 128 are needed: a finding with both."""
    found = aligned(parallel(), [WET], desk=with_lines(1, 1))
    one = only(found)
    assert (one.verdict, found.settings) == ("left", ())
    assert "The delay lines are too short: it needs 2.66 ms more on Dry, and 1.00 ms are left there" in one.why
    assert one.lacking is not None and one.lacking.kind == "short"
    (finding,) = alignment_findings(show_from(parallel(), DESK), found)
    assert (finding.code, finding.values) == ("delay-line-short", "needs 2.66 ms more, 1.00 ms are left")


def test_a_desk_without_a_line_there_is_said_to_lack_it() -> None:
    """Groups without delay lines: nothing delays Dry alone."""
    found = aligned(parallel(), [WET], desk=without_lines("group"))
    one = only(found)
    assert one.lacking is not None and (one.lacking.kind, one.lacking.on) == ("missing", ("Dry",))
    assert "this desk has no delay line on Dry" in one.why
    assert [f.code for f in alignment_findings(show_from(parallel(), DESK), found)] == ["delay-line-missing"]


def test_nothing_is_dialled_on_an_unknown_time() -> None:
    """The round trip is unknown: measure it first."""
    found = aligned(parallel(), [WET], time=UnitTime(UNKNOWN, "nothing"))
    assert found.settings == ()
    assert found.measure_first == ("the round trip of laptop",)
    assert (only(found).verdict, only(found).why) == ("measure first", "Measure the round trip of laptop first.")


def test_nothing_is_dialled_with_an_unknown_step() -> None:
    """What the desk's delay lines can do is the first question."""
    found = aligned(parallel(), [WET], desk=with_lines(None, 500))
    assert found.settings == ()
    assert "the step of the desk's delay lines" in found.measure_first


def test_a_slight_meeting_is_not_worth_a_setting() -> None:
    """20 dB apart is 1.7 dB of ripple."""
    found = aligned(parallel(db=-20), [WET])
    assert found.settings == ()
    assert only(found).why == "It is slight, 1.7 dB of ripple, and not worth a setting."


def test_what_somebody_accepts_is_left_alone() -> None:
    """Accepted by name at its place: nothing is dialled for it."""
    text = parallel(more="accept: [{at: PA, loops: [Wet], by: front of house}]")
    found = aligned(text, [WET])
    assert (found.settings, only(found).verdict) == ((), "accepted")


def test_a_delay_dialled_for_the_other_state_is_found() -> None:
    """What the show has on Dry is 1 ms; 2.667 ms are right with the loop IN, and back to 1 ms is no cure OUT."""
    text = parallel().replace("{name: Dry, kind: group,", "{name: Dry, delay_ms: 1, kind: group,")
    found = aligned(text, [WET])
    assert dialled(found) == {"Dry": 128}
    (finding,) = alignment_findings(show_from(text, DESK), found)
    assert (finding.code, finding.where) == ("delay-differs", "mixes / Dry")
    assert finding.values == "1.00 ms, should be 2.67 ms"


def test_a_right_delay_is_left_as_it_is() -> None:
    """128 frames on Dry already: nothing to dial, and OUT is still wrong."""
    text = parallel().replace("{name: Dry,", f"{{delay_ms: {128 / 48}, name: Dry,")
    found = aligned(text, [WET])
    assert found.settings == ()
    assert only(found).why.startswith("It is together while the loops are IN; no setting is right in both states.")


def test_ears_on_the_limit_are_not_made_later() -> None:
    """The only line would make the singer's ears later than the show allows: the meeting stays."""
    ears = "{name: Ears, kind: aux, for: Voice, width: mono, listens: in-ear, from: {Dry: {db: 0}}}"
    text = parallel().replace("  - {name: Main,", f"  - {ears}\n  - {{name: Main,")
    assert dialled(aligned(text, [WET])) == {"Dry": 128}
    limited = aligned(text + "limits: {ear_total_ms: 2}\n", [WET])
    assert limited.settings == ()
    assert "makes ears late" in limited.meetings[0].why


# The worked example: one kick drum at one seat, two loops of 301 frames


KICK = f"""{LAPTOP}
inputs:
  - {{ch: 1, name: Kick mic, port: stage 1, group: Drums, hears: {{kick: {{m: 0}}}}}}
  - {{ch: 2, name: Bass line, port: stage 2, to: [Main]}}
mixes:
  - {{name: Drums, kind: group, width: mono, to: [Main]}}
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Subs, kind: aux, width: mono, from: {{WHO}}}}
outputs:
  - {{name: PA, from: Main, port: local out 1-2}}
  - {{name: Sub stack, from: Subs, port: local out 3, crossover_hz: 90}}
listeners: [{{name: seat, hears: {{PA: {{m: 9}}, Sub stack: {{m: 9}}}}}}]
"""
TWO_LOOPS = [
    insert_loop("Drums", "aux out 1", "aux in 1", unit="laptop", card="1"),
    insert_loop("Main", "aux out 3-4", "aux in 3-4", unit="laptop", card="3-4"),
]


@pytest.mark.parametrize(("who", "frames"), [("Kick mic", 2 * 301 + 4), ("Bass line", 301)])
def test_a_sub_fed_before_two_loops_needs_each_of_them(who: str, frames: int) -> None:
    """Kick passes both loops, 12.54 ms and the group's own 4 frames; bass one, 6.27 ms."""
    found = aligned(KICK.replace("WHO", f"{who}: {{db: 0}}"), TWO_LOOPS, time=fixed(301 - 16))
    assert sum(dialled(found).values()) == frames
    assert set(dialled(found)) <= {"Subs", "Sub stack"}
    assert frames / 48 == pytest.approx(12.54 + 4 / 48 if frames > 600 else 6.27, abs=0.005)


def test_no_one_delay_is_right_for_kick_and_bass() -> None:
    """One of the two stays apart, and it is said what it sounds like."""
    both = aligned(KICK.replace("WHO", "Kick mic: {db: 0}, Bass line: {db: 0}"), TWO_LOOPS, time=fixed(301 - 16))
    left = [one for one in both.meetings if one.verdict != "cured"]
    assert len(left) == 1 and len(both.settings) == 1
    assert "at 90 Hz" in left[0].why


# Odd shows


def test_mixes_without_sources_and_shows_without_loops_have_nothing_to_dial() -> None:
    """No traceback, no number."""
    body = "mixes: [{name: Main, kind: main, width: stereo}, {name: Empty, kind: group, width: mono, to: [Main]}]\n"
    found = plan_from(body + "outputs: [{name: PA, from: Main, port: local out 1-2}]", DESK).alignment
    assert (found.settings, found.moves, found.meetings, found.proven) == ((), (), (), True)
