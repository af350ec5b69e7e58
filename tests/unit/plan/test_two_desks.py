"""What a second desk makes of the plan: who hears which loop, whose hand moves what, one clock, limits and meetings."""

from __future__ import annotations

import json
import random

import pytest

from drawnshows import shuffled
from fakes.desks import DesksInMemory
from fakes.show_folder import ShowFolderInMemory
from showtext import DESK_TEXT, DESK_TYPE
from sidetrip.application.answering import house_questions, take_answers
from sidetrip.application.use_cases import Planned, plan
from sidetrip.findings import has_errors
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.two_desks import GAIN_CODES, other_mixes
from sidetrip.plan.unknowns import branches, questions
from sidetrip.reports.plan_json import plan_text
from sidetrip.reports.summary import summary
from sidetrip.units import ms_from_seconds
from smallshows import plain_desk
from twodesks import lantern, two_desks

DESK = plain_desk()
CLOCK = "clock: {leader: desk}"


def _plan(
    other: str = "through_ms: 1.2, split: analogue",
    ears: str = "[Singer]",
    more: str = "",
    *,
    inputs: str = "",
    mixes: str = "",
    outputs: str = "",
    way: str = "insert",
) -> Plan:
    """Plan a singer with a loop of 331 frames beside 5 of the desk, mixed for the ears on another desk."""
    body = f"""
        units: [{{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
          measured: [{{buffer: 64, rate: 48000, round_trip_frames: 331}}]}}]
        other_desks: [{{name: monitors, {other}}}]
        inputs:
          - {{name: Singer, ch: 1, port: stage 1, to: [Main], device_ms: 3.0,
             hears: {{singer: {{m: 0, db: 0}}}}{inputs}}}
        mixes:
          - {{name: Main, kind: main, width: stereo}}
          - {{name: Ears, desk: monitors, kind: aux, width: mono, for: singer, listens: in-ear, device_ms: 3.5,
             from: {ears}}}
        {mixes}
        outputs: [{{name: PA, from: Main, port: local out 1-2}}{outputs}]
        chains: {{thin: [{{eq: {{}}}}]}}
        requests: [{{strip: Singer, chain: thin, want: 5, way: {way}}}]
        {more}
    """
    return make_plan(two_desks(body, DESK, plain_desk()), DESK)


def _codes(plan: Plan) -> set[str]:
    return {finding.code for finding in plan.findings}


def test_ears_from_the_split_are_told_once_that_they_lack_the_loop() -> None:
    """One note names the ears; their time is 7.7 ms and nothing of it is added by the loop."""
    plan = _plan()
    (found,) = [finding for finding in plan.findings if finding.code == "loop-not-in-ears"]
    assert (found.where, found.what) == ("loop Singer", "The loop is heard in the room, but not in Ears")
    assert found.severity == "note"
    (ear,) = plan.ears
    assert ms_from_seconds(ear.in_s) == ms_from_seconds(ear.out_s) == pytest.approx(7.7)
    assert ear.added_s == 0


def test_ears_behind_a_tie_have_the_loop_and_its_time() -> None:
    """A tie behind the insert: 3.0 ms, 30 frames, the loop of 347, then 0.5, 1.2 and 3.5 ms."""
    plan = _plan("through_ms: 1.2, tie_ms: 0.5", "{Singer: {db: 0, tie: after insert}}")
    assert not _codes(plan) & {"loop-not-in-ears", *GAIN_CODES}
    (ear,) = plan.ears
    # insert to aux out 3, aux out to card 5, round trip 331, card to aux in 6, aux in to insert 2
    assert ms_from_seconds(ear.in_s) == pytest.approx(3.0 + (30 + 347) / 48 + 5.2)
    assert ms_from_seconds(ear.added_s) == pytest.approx(347 / 48)
    (mix,) = other_mixes(plan.show, plan.allocation.loops, plan.arrivals)
    assert (mix.ties, mix.loops, mix.spared) == (("Singer",), ("Singer",), ())


def test_ears_that_get_a_loop_by_a_group_do_not_lack_it() -> None:
    """Dry from the split, and once more in a group that a tie brings: the loop is in these ears."""
    group = "  - {name: Voices, kind: group, width: mono, from: [Singer], to: [Main]}"
    ears = "{Singer: {db: 0}, Voices: {db: 0, tie: after mute}}"
    plan = _plan("through_ms: 1.2, split: analogue, tie_ms: 0.5", ears, mixes=group)
    assert "loop-not-in-ears" not in _codes(plan)
    (mix,) = other_mixes(plan.show, plan.allocation.loops, plan.arrivals)
    assert (mix.split, mix.ties, mix.loops, mix.spared) == (("Singer",), ("Voices",), ("Singer",), ())


@pytest.mark.parametrize(
    ("other", "inputs", "code"),
    [
        ("split: analogue", "", None),
        ("split: analogue, gain: FOH, compensated: no", "", None),
        ("split: shared, gain: FOH, compensated: yes", "", None),
        ("split: shared, gain: FOH, compensated: no", "", "gain-moves-ears"),
        ("split: shared, gain: FOH", "", "gain-unknown"),
        ("split: shared, gain: monitors, compensated: no", "", "gain-moves-loop"),
        ("split: shared, gain: monitors, compensated: yes", "", None),
        ("split: shared, compensated: no", "", "gain-unknown"),
        ("split: shared, compensated: yes", "", None),
        ("gain: FOH, compensated: no", "", "gain-unknown"),
        ("split: shared, gain: FOH, compensated: no", ", split: analogue", None),
        ("split: analogue, gain: FOH, compensated: no", ", split: shared, gain: monitors", "gain-moves-loop"),
    ],
)
def test_a_hand_on_a_gain_moves_what_it_moves(other: str, inputs: str, code: str | None) -> None:
    """Preamps of its own: nothing. Shared: the owner's hand moves the other desk, unless that takes it back."""
    plan = _plan(f"through_ms: 1.2, {other}", inputs=inputs, more=CLOCK)
    assert _codes(plan) & set(GAIN_CODES) == ({code} if code else set())
    for finding in plan.findings:
        if finding.code in GAIN_CODES:
            assert "Singer" in finding.what
            assert ("Ears" in finding.what) == (code == "gain-moves-ears")


@pytest.mark.parametrize(("compensated", "gain"), [("yes", "monitors"), ("no", "monitors"), ("unknown", "monitors")])
def test_a_trim_behind_a_loop_in_line_comes_too_late(compensated: str, gain: str) -> None:
    """What FOH takes back with its trim has gone through the block already."""
    other = f"through_ms: 1.2, split: shared, gain: {gain}, compensated: {compensated}"
    plan = make_plan_in_line(other)
    assert [loop.way for loop in plan.allocation.loops if not loop.blank] == ["in-line"]
    assert _codes(plan) & set(GAIN_CODES) == {"gain-moves-loop"}


def make_plan_in_line(other: str) -> Plan:
    """Plan one vocal of the shipped desk in-line, with ears on another desk."""
    text = f"""sidetrip: 1
show: small
sample_rate: 48000
desk: {{type: {DESK_TYPE}}}
clock: {{leader: desk}}
other_desks: [{{name: monitors, {other}}}]
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{{buffer: 64, rate: 48000, round_trip_frames: 331}}]}}]
inputs: [{{name: Vox, ch: 1, port: stage 1, to: [Main]}}]
mixes:
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Ears, desk: monitors, kind: aux, width: mono, for: Vox, listens: in-ear, device_ms: 3, from: [Vox]}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{thin: [{{eq: {{}}}}]}}
requests: [{{strip: Vox, chain: thin, want: 5, way: in-line}}]
"""
    return _planned(text).plan


def _planned(text: str) -> Planned:
    return plan(ShowFolderInMemory({"show.yaml": text}), _desks(), "show.yaml")


def _desks() -> DesksInMemory:
    from importlib.resources import files

    rack = (files("sidetrip") / "desks" / "24-strip-rack.yaml").read_text("utf-8")
    return DesksInMemory({DESK_TYPE: DESK_TEXT, "24-strip rack desk": rack})


@pytest.mark.parametrize(
    ("other", "clock", "code"),
    [
        ("split: shared", "", "clock-unsaid"),
        ("split: shared", CLOCK, None),
        ("split: analogue", "", None),
        ("split: unknown", "", None),
        ("split: shared, converter_ms: 0.4", "", None),
        ("split: shared, sample_rate: 96000", CLOCK, "clock-rate"),
        ("split: analogue, sample_rate: 96000", CLOCK, None),
        ("split: shared, sample_rate: 96000, converter_ms: 0.4", CLOCK, None),
        ("split: shared", "clock: {leader: desk, devices: [{name: monitors, follows: itself}]}", "clock-leaders"),
        ("split: shared", "clock: {leader: monitors, devices: [{name: desk, follows: monitors}]}", None),
    ],
)
def test_desks_that_share_preamps_share_a_clock(other: str, clock: str, code: str | None) -> None:
    """Linked digitally: one leader and one rate, or a converter between. A split of the cable asks for neither."""
    found = _codes(_plan(f"through_ms: 1.2, gain: FOH, compensated: yes, {other}", more=clock))
    assert {own for own in found if own.startswith("clock")} == ({code} if code else set())


def test_a_limit_for_ears_counts_what_a_tie_brings_and_offers_the_tap() -> None:
    """Ears that accept 5 ms more refuse the loop behind a tie, and taking the tie before the insert would serve it."""
    ears, more = "{Singer: {db: 0, tie: after insert}}", "limits: {ear_added_ms: 5}"
    plan = _plan("through_ms: 1.2, tie_ms: 0.5", ears, more)
    (refusal,) = plan.allocation.refusals
    assert "Ears took it before insert" in refusal.would_fit_if
    assert not _plan("through_ms: 1.2, tie_ms: 0.5", ears.replace("after", "before"), more).allocation.refusals
    assert not _plan("through_ms: 1.2", "[Singer]", more).allocation.refusals


def test_room_and_wedge_meet_with_the_loop_in_between() -> None:
    """At row A the PA comes behind the loop, the wedge of the other desk does not: two loudspeakers, IN and OUT."""
    plan = _plan(
        "type: theirs.yaml, split: analogue",
        outputs=", {name: Wedge, from: Ears, port: monitors local out 1}",
        more="listeners: [{name: row A, hears: {PA: {m: 6, db: 0}, Wedge: {m: 6, db: -3}}}]",
    )
    (meeting,) = [own for own in plan.meetings if own.kind == "two loudspeakers"]
    assert meeting.places == ("row A",)
    assert abs(ms_from_seconds(meeting.gap_in.high)) == pytest.approx(347 / 48)
    # PA: stage 30, main 8, out 16; wedge: the same figures of the other desk's type
    assert meeting.gap_out.high == pytest.approx(0.0)
    assert meeting.loops == ("Singer",)


def test_an_unknown_converter_cannot_be_judged_and_is_named() -> None:
    """Split and tie meet in the ears; how far apart hangs on the rate converter, and the meeting says so."""
    other = "through_ms: 1.2, split: shared, gain: FOH, compensated: yes, converter_ms: unknown, tie_ms: 0.5"
    group = "  - {name: Voices, kind: group, width: mono, from: {Singer: {db: 0, tap: input}}, to: [Main]}"
    plan = _plan(other, "{Singer: {db: 0}, Voices: {db: 0, tie: input}}", CLOCK, mixes=group)
    (meeting,) = [own for own in plan.meetings if own.places == ("Ears",)]
    assert meeting.verdict == "cannot tell"
    assert meeting.deciding == "the rate converter of monitors"


def test_every_order_of_the_lists_gives_the_same_plan() -> None:
    """Desks, mixes, inputs and outputs in ten orders: the same bytes."""
    from sidetrip.showfile.read import read_show
    from sidetrip.showfile.syntax import parse

    data = parse(lantern(), "show.yaml").data
    first = plan_text(_planned(lantern()).plan, ())
    for seed in range(3):
        text = json.dumps(shuffled(_plain(data), random.Random(seed)))
        assert read_show(text, "show.yaml").show.other_desks
        assert plan_text(_planned(text).plan, ()) == first


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {str(key): _plain(own) for key, own in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(own) for own in value]
    if isinstance(value, float):
        return float(value)
    return int(value) if isinstance(value, int) and not isinstance(value, bool) else value


def test_the_house_is_asked_whose_gain_it_is() -> None:
    """What changes who moves whom is asked, the rest is not; an answer is taken into the file and settles it."""
    text = lantern().replace("gain: FOH, compensated: unknown", "gain: unknown, compensated: unknown")
    store = ShowFolderInMemory({"show.yaml": text})
    asked = {question.fact.id: question for question in house_questions(store, _desks(), "show.yaml").questions}
    assert {"monitors compensated", "monitors gain"} & set(asked)
    assert "monitors split" not in asked
    store.files["answers.csv"] = (
        b"id,answer,by,date\nmonitors gain,foh,the house,2026-11-24\nmonitors compensated,no,the house,2026-11-24\n"
    )
    taken = take_answers(store, _desks(), "show.yaml", "answers.csv", write=True)
    assert not has_errors(taken.findings)
    again = _planned(taken.text)
    assert "gain-moves-ears" in {finding.code for finding in again.findings}
    assert again.plan.show.other_desks[0].gain == "FOH"


def test_a_time_that_nobody_knows_is_asked_where_it_matters() -> None:
    """How late the monitor desk is makes the ears too late, or not; an analogue split asks nothing of a gain."""
    found = _plan("split: analogue", more="limits: {ear_total_ms: 12}")
    ids = [question.fact.id for question in questions(branches(found))]
    assert "monitors through" in ids
    assert not {"monitors gain", "monitors compensated", "monitors split"} & set(ids)


def test_the_lantern_with_a_monitor_desk() -> None:
    """The page's example: ears at 7.77 ms IN and OUT, so the buffer may be 128 frames, and one question is open."""
    planned = _planned(lantern())
    (unit,) = [unit for unit in planned.plan.units if unit.name == "laptop"]
    assert unit.buffer_frames == 128
    late = {ear.mix: ear for ear in planned.plan.ears if ear.source == "lamplighter"}
    # 3.0 ms wireless; stage 28, to aux 8, out 18 frames of the rack; 3.5 ms in-ears; 5 cm of air at 22 °C
    air = 0.05 / (331.3 * (1 + 22 / 273.15) ** 0.5) * 1000
    for mix in ("Lamp ears", "Band ears"):
        assert ms_from_seconds(late[mix].in_s) == pytest.approx(6.5 + 54 / 48 + air, abs=2e-3)
        assert late[mix].in_s == late[mix].out_s
    codes = {finding.code for finding in planned.findings}
    assert {"gain-unknown", "loop-not-in-ears"} <= codes
    assert not has_errors(planned.findings)


def test_paper_and_json_name_the_desk_and_the_loops() -> None:
    """The ear table has the desk, a table of its own who gets which loop; in JSON both stand with each sound."""
    made = _planned(lantern()).plan
    blocks = {block.heading: block for block in summary(made)}
    assert [row[2] for row in blocks["What do ears get"].rows] == ["monitors", "monitors"]
    rows = {row[0]: row for row in blocks["What does the other desk get"].rows}
    assert rows["Lamp ears"][1:] == ("monitors", "Guitar, Lamplighter, Violin", "none", "Lamplighter")
    assert rows["Band ears"][2].endswith("Click (tie), Talkback (tie)")
    ears = json.loads(plan_text(made, ()))["plan"]["ears"]
    assert {(ear["desk"], tuple(ear["loops"])) for ear in ears} == {("monitors", ())}
    back = (
        lantern()
        .replace("Lamp ears, desk: monitors,", "Lamp ears,")
        .replace("monitors local out 1-2", "local out 9-10")
    )
    own = json.loads(plan_text(_planned(back).plan, ()))
    assert {ear["desk"] for ear in own["plan"]["ears"]} == {None, "monitors"}
