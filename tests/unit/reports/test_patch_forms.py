"""The patch sheet's forms: as found and as left, what each step needs, minutes, scenes, and gaps."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from showtext import DEMO_TEXT, desk
from sidetrip.plan.judge import Danger
from sidetrip.plan.patching import StepGap, gap_findings, undo_steps
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.patch_sheet import patch_sheet
from sidetrip.reports.plan_json import plan_text
from sidetrip.reports.sheet import Stamp
from sidetrip.showfile.read import read_show

STAMP = Stamp("The Tin Lantern", "7c1e4a9", "2026-11-25 18:42", "32-strip theatre desk", "show.yaml")
SCENES = """
scenes:
  - {name: House evening, recalls: [inserts, sources]}
  - {name: Returns up, sets: {strips: {return 1-2: open}}}
  - {name: Walk-in}
"""


def _plan(more: str = "") -> Plan:
    return make_plan(read_show(DEMO_TEXT + more, "show.yaml").show, desk())


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo show's plan."""
    return _plan()


def test_every_item_that_comes_back_has_a_row_to_compare(plan: Plan) -> None:
    """As found and as left hold what undo puts back, in the order of the patch; what nobody knows is left to write."""
    data = patch_sheet(plan, STAMP).data
    rows = {row["item"]: row["found"] for row in data["as_found"]}
    assert [row["number"] for row in data["as_found"]] == sorted(step.number for step in undo_steps(plan.steps))
    assert rows["source of aux in 1 to 8"] == "jacks"
    assert rows["valve compressor"] == "unplugged"
    assert rows["Main"] == "no insert"
    assert rows["return strip 1 & 2"] == rows["channel strip 31"] == ""
    assert data["left"] == []


def test_the_lead_says_how_long_it_takes_and_that_one_may_stop(plan: Plan) -> None:
    """The minutes are an estimate and say so; each phase has its own."""
    data = patch_sheet(plan, STAMP).data
    assert "about 26 min (common practice, assumed)" in data["lead"]
    assert data["lead"].endswith("One may stop after any step, or undo from there.")
    minutes = [float(phase["minutes"].removeprefix("about ").removesuffix(" min")) for phase in data["phases"]]
    assert sum(minutes) == plan.patching.minutes


def test_a_step_says_which_must_come_before(plan: Plan) -> None:
    """In the words of the sheet, and in the JSON as numbers."""
    steps = {step["number"]: step for phase in patch_sheet(plan, STAMP).data["phases"] for step in phase["steps"]}
    assert steps[12]["needs"] == "not before step 5"
    assert steps[17]["needs"] == "not before steps 3, 9, 10 and 12"
    document = json.loads(plan_text(plan, ()))["plan"]
    assert document["steps"][16]["needs"] == [3, 9, 10, 12]
    assert document["patch_minutes"] == plan.patching.minutes == sum(step["minutes"] for step in document["steps"])


def test_scenes_are_a_table_when_there_are_any(plan: Plan) -> None:
    """What each would do, and what to exclude; nothing where the show names none."""
    assert patch_sheet(plan, STAMP).data["scenes"] == []
    scenes = {row["name"]: row for row in patch_sheet(_plan(SCENES), STAMP).data["scenes"]}
    assert scenes["Walk-in"]["keep_out"] == "nothing" and not scenes["Walk-in"]["bad"]
    assert scenes["House evening"]["verdict"] == "loop OUT"
    assert scenes["Returns up"]["verdict"] == "feeds back" and scenes["Returns up"]["bad"]
    assert scenes["Returns up"]["does"] == "feeds back through return strip 1, return strip 2"


def test_the_csv_holds_the_forms_too() -> None:
    """Rows of their own for what is as found and for scenes, as wide as the header."""
    sheet = patch_sheet(_plan(SCENES), STAMP)
    assert {row[0] for row in sheet.csv_rows} >= {"step", "as found", "undo", "scene"}
    assert {len(row) for row in sheet.csv_rows} == {len(sheet.csv_header)}


def test_outputs_that_stay_open_are_said_in_the_lead() -> None:
    """No step mutes them, and each loop is taken IN with care."""
    data = patch_sheet(_plan("\npatching: {outputs: open}\n"), STAMP).data
    assert "Outputs stay open: take each loop IN in a gap of the show, its fader down first." in data["lead"]
    assert data["outputs_open"] and not any(step["where"] == "outputs" for p in data["phases"] for step in p["steps"])


def test_a_gap_stands_above_the_steps(plan: Plan) -> None:
    """What no order avoids is said with its steps and minutes, and nobody is told to stop anywhere."""
    gap = StepGap(Danger("lost", "Interval"), 10, 12, 4.0)
    patching = replace(plan.patching, gaps=(gap,))
    made = replace(plan, patching=patching, findings=(*plan.findings, *gap_findings(plan.show, patching)))
    data = patch_sheet(made, STAMP).data
    (words,) = data["gaps"]
    assert words.startswith("steps 10 to 12, about 4 min: No order of the steps avoids that 'Interval'")
    assert "One may stop" not in data["lead"]
