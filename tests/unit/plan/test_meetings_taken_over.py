"""Meetings once a unit that stands in has taken over: judged with its round trip, and said of which state.

Loops take 16 frames of desk on either socket (3 and 5 there, 6 and 2 back), and 331 frames in the laptop: 347. The unit
that stands in takes 459: 475 in all, 128 more, that is 2.6667 ms, with a first null at 48000 / 256 = 187.5 Hz.
"""

import itertools
import json
import math

import numpy as np
import pytest

from catalogue.kit import frames
from sidetrip.model.desk import Desk
from sidetrip.plan.comb import null_hz
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.planner import Plan
from sidetrip.plan.spread import bounds_of, figures_of, parts_of
from sidetrip.plan.spreads import Spreads
from sidetrip.reports.plan_json import plan_text
from sidetrip.reports.sheet import Stamp
from sidetrip.reports.timing_sheet import timing_sheet
from smallshows import plain_desk, plan_from
from stand_in_shows import LAPTOP, spare, stand_in_show, two_sockets

TAKEN = "laptop dead, spare in"
MORE = 459 - 331
LOOP = 331 + 16
TABLET = LAPTOP.replace("name: laptop", "name: tablet").replace("connects: card", "connects: tab")
WET = "{strip: Wet, chain: c, unit: laptop, want: 5}"
STAMP = Stamp("small", "0", "2026-11-25 18:42", "plain desk", "show.yaml")
HOLDING = plain_desk(tail='compensation: [{at: [main], holds: [group], limit_frames: 400, external_inserts: "yes"}]')


def planned(
    *units: str, requests: str, dry: str = "", picture: str = "", device_ms: float = 0, desk: Desk | None = None
) -> Plan:
    """Plan a voice that goes to the main by two groups, Dry and Wet."""
    text = stand_in_show(
        *units,
        requests=[requests],
        inputs=f"{{name: Vox, ch: 1, port: stage 11, device_ms: {device_ms}, to: [Dry, Wet]}}",
    )
    groups = (
        f"{{name: Dry, kind: group, width: mono, to: [Main]{dry}}}, {{name: Wet, kind: group, width: mono, to: [Main]}}"
    )
    text = text.replace("mixes: [", f"mixes: [{groups}, ").replace("local out 1-2}", f"local out 1-2{picture}}}")
    return plan_from(text, desk or two_sockets())


def electrical(plan: Plan) -> Meeting:
    """Return what happens to the voice in the main."""
    (found,) = [one for one in plan.meetings if one.kind == "electrical"]
    return found


def codes(plan: Plan) -> list[str]:
    """Return the codes of what is said of meetings."""
    return [own.code for own in plan.findings if own.code.startswith("heard-") or own.code == "picture-off"]


@pytest.mark.parametrize(("switch", "socket"), [("by strip", "tab"), ("by block", "tab"), ("by box", "card")])
def test_a_delay_that_fits_one_unit_is_off_by_the_difference_once_the_other_is_in(switch: str, socket: str) -> None:
    """Dialled 347 frames: together IN, 347 apart OUT, 128 apart once the spare is in, however it is changed over."""
    plan = planned(LAPTOP, spare(switch, socket), requests=WET, dry=f", delay_ms: {LOOP / 48}")
    one = electrical(plan)
    ((state, gap),) = one.taken_over
    assert (state, gap.verdict, one.gap_in.verdict, one.gap_out.verdict) == (TAKEN, "apart", "together", "apart")
    assert [frames(abs(own.typical)) for own in (one.gap_in, gap, one.gap_out)] == [0, MORE, LOOP]
    assert null_hz(abs(gap.typical)) == pytest.approx(187.5)
    assert TAKEN in one.apart_in and "all IN" not in one.apart_in


def test_both_behind_loops_of_one_unit_stay_together_when_it_is_replaced() -> None:
    """A blank loop follows: 475 frames on either side, and nothing is said of it."""
    plan = planned(LAPTOP, spare("by box", "card"), requests=f"{WET}, {WET.replace('Wet', 'Dry')}")
    one = electrical(plan)
    ((_, gap),) = one.taken_over
    assert (gap.verdict, frames(gap.typical), TAKEN in one.apart_in) == ("together", 0, False)
    assert "heard-twice-stand-in" not in codes(plan)


def two_units(frames_of_spare: int | str = 459) -> Plan:
    """Plan the two groups through two computers that are alike, of which one has another to stand in for it."""
    requests = f"{WET}, {WET.replace('Wet', 'Dry').replace('laptop', 'tablet')}"
    return planned(LAPTOP, TABLET, spare("by box", "card", frames=frames_of_spare), requests=requests)


def test_what_is_apart_only_once_a_unit_has_taken_over_is_told_with_the_state() -> None:
    """Two computers of 331 frames: together IN and OUT; the spare in for one of them 128 frames, 2.67 ms apart."""
    plan = two_units()
    one = electrical(plan)
    ((_, gap),) = one.taken_over
    assert (one.verdict, gap.verdict, frames(abs(gap.typical))) == ("together", "apart", MORE)
    assert one.apart_taken_over == ((TAKEN, gap),)
    assert (one.worst_state, one.gap_worst is not None) == ("Dry OUT", True), "347 frames by itself"
    (finding,) = [own for own in plan.findings if own.code == "heard-twice-stand-in"]
    assert finding.what == f"With {TAKEN} Vox is heard twice in Main, 2.67 ms apart"
    assert "one buffer" in finding.remedy
    (by_itself,) = [own for own in plan.findings if own.code == "heard-twice-out"]
    assert TAKEN not in by_itself.what + by_itself.values


def test_a_unit_that_takes_as_long_changes_nothing_and_an_unknown_one_cannot_be_told() -> None:
    """331 frames: together as before. Unknown: no figure is made up, and the change in time is told elsewhere."""
    same = electrical(two_units(331))
    assert [(gap.verdict, frames(gap.typical)) for _, gap in same.taken_over] == [("together", 0)]
    unknown = two_units("unknown")
    ((_, gap),) = electrical(unknown).taken_over
    assert (gap.verdict, math.isfinite(gap.high)) == ("cannot tell", False)
    assert "stand-in-time" in [own.code for own in unknown.findings]
    assert "heard-twice-stand-in" not in codes(unknown)


def test_a_desk_that_counts_inserts_holds_the_dry_copy_back_for_the_other_unit_too() -> None:
    """Counted, it waits 347 for the laptop and at most 400 for the spare: 0 and 75 apart. Not counted: 347 and 475."""
    for counted, inside, gap_frames in (("yes", 0, 75), ("no", LOOP, 475)):
        line = HOLDING.compensation[0]
        answer = line.external_inserts.model_copy(update={"answer": counted})
        held = (line.model_copy(update={"external_inserts": answer}),)
        desk = two_sockets().model_copy(update={"compensation": held})
        one = electrical(planned(LAPTOP, spare("by box", "card"), requests=WET, desk=desk))
        ((_, gap),) = one.taken_over
        assert [frames(abs(own.typical)) for own in (one.gap_in, gap)] == [inside, gap_frames]


def test_sound_and_picture_are_judged_with_the_other_unit_too() -> None:
    """44.5 ms early with the laptop, 47.17 with a spare that is 128 frames quicker: viewers notice from 45 on."""
    # stage to channel 30, to group 8, to main 16, to jack 16: 70 frames, and the loop
    requests = f"{WET}, {WET.replace('Wet', 'Dry')}"
    picture_ms = 44.5 + (70 + LOOP) / 48
    quick = spare("by box", "card", frames=331 - MORE)
    plan = planned(LAPTOP, quick, requests=requests, picture=f", picture_delay_ms: {picture_ms}")
    (picture,) = [one for one in plan.meetings if one.kind == "picture"]
    ((state, gap),) = picture.taken_over
    assert (state, picture.gap_in.verdict, gap.verdict) == (TAKEN, "together", "apart")
    assert gap.typical * 1000 == pytest.approx(44.5 + MORE / 48)


def test_sound_too_late_only_with_the_other_unit_is_told() -> None:
    """124 ms after the picture with the laptop and less when OUT, 126.7 with the spare: viewers notice from 125 on."""
    requests = f"{WET}, {WET.replace('Wet', 'Dry')}"
    slow = spare("by box", "card", frames=331 + MORE)
    late = planned(LAPTOP, slow, requests=requests, picture=", picture_delay_ms: 0", device_ms=124 - (70 + LOOP) / 48)
    (picture,) = [one for one in late.meetings if one.kind == "picture"]
    ((_, gap),) = picture.taken_over
    assert (picture.verdict, gap.verdict) == ("together", "apart")
    (finding,) = [own for own in late.findings if own.code == "heard-twice-stand-in"]
    assert finding.what == f"With {TAKEN} sound reaches PA {124 + MORE / 48:.1f} ms after its picture"


def test_the_timing_sheet_the_spreadsheet_and_the_json_say_it() -> None:
    """One line beside the meeting, with ms and frames; the sheet lists it though it is together IN and OUT."""
    plan = two_units()
    sheet = timing_sheet(plan, STAMP)
    (row,) = sheet.data["meetings"]
    assert row["taken_over"] == [f"With {TAKEN}: apart, 2.67 ms, 128 frames."]
    assert (row["in"]["verdict"], row["out"]["verdict"]) == ("together", "together")
    assert f"With {TAKEN}: apart 1 more." in sheet.data["lead"]
    (csv,) = [own for own in sheet.csv_rows if str(own[0]).startswith("heard twice")]
    assert f"With {TAKEN}: apart" in str(csv[-1])
    (doc,) = json.loads(plan_text(plan, plan.findings))["plan"]["meetings"]
    (taken,) = doc["taken_over"]
    assert (taken["state"], taken["spread"]["verdict"]) == (TAKEN, "apart")
    assert abs(taken["spread"]["low_ms"]) == pytest.approx(MORE / 48)


@pytest.mark.parametrize(
    "desk", [two_sockets(), two_sockets().model_copy(update={"compensation": HOLDING.compensation})]
)
def test_arrays_add_up_what_single_pairs_add_up_with_the_other_units_figures(desk: Desk) -> None:
    """Every pair in every state, the one in which the spare is in among them, figure by figure."""
    plan = planned(LAPTOP, spare(), requests=f"{WET}, {{strip: Main, chain: c, unit: laptop, want: 4}}", desk=desk)
    arrivals = plan.arrivals
    pairs = list(itertools.combinations(range(len(arrivals.rows)), 2))
    first, second = (np.array(side) for side in zip(*pairs, strict=True))
    spreads = Spreads(arrivals, plan.line_map.loops, range(len(arrivals.rows)))
    base = spreads.base(first, second)
    (state,) = [own for own in plan.states if own.kind == "taken over"]
    other = arrivals.instead["spare"]
    found = spreads.in_state(base, first, second, state)
    loops = {own.loop: own for own in other.loop_times}
    for number, pair in enumerate(pairs):
        parts = parts_of(*(figures_of(arrivals.rows[row], loops, state, other.holding) for row in pair))
        assert [found.low[number], found.high[number]] == pytest.approx(list(bounds_of(parts)), abs=2e-15)
    assert not np.allclose(found.low, base.low)
