"""The patch sheet's data: all steps, all loops, the way back, who stays in."""

from dataclasses import replace
from pathlib import Path

import pytest

from sidetrip.findings import Finding
from sidetrip.plan.patching import undo_steps
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.patch_sheet import patch_sheet
from sidetrip.reports.sheet import Stamp
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
SHOW = (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
DESK = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
STAMP = Stamp("The Tin Lantern", "7c1e4a9", "2026-11-25 18:42", "32-strip theatre desk", "show.yaml")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo show's plan."""
    return make_plan(read_show(SHOW, "show.yaml").show, read_desk(DESK, "desk.yaml"))


def test_every_step_is_there_in_order(plan: Plan) -> None:
    """The phases together hold all steps of the plan, numbered as they are done."""
    steps = [step for phase in patch_sheet(plan, STAMP).data["phases"] for step in phase["steps"]]
    assert [step["number"] for step in steps] == [step.number for step in plan.steps]
    assert {step["lost"] for step in steps} >= {"jacks aux in 1 to 4", "tracks card out 25 to 32"}


def test_undo_runs_backwards(plan: Plan) -> None:
    """Undo names the steps that put something back, the last one first, and then what comes after all of them."""
    data = patch_sheet(plan, STAMP).data
    assert [step["number"] for step in data["undo"]] == [step.number for step in undo_steps(plan.steps)]
    assert [step["order"] for step in data["undo"]] == list(range(1, len(data["undo"]) + 1))
    assert [step["item"] for step in data["after"]][-1] == "desk as found"


def test_a_loop_is_a_row_of_stops(plan: Plan) -> None:
    """Each loop starts and ends at its strip, and only its unit is outside the desk."""
    loops = patch_sheet(plan, STAMP).data["loops"]
    assert [loop["name"] for loop in loops] == [loop.name for loop in plan.allocation.loops]
    for loop in loops:
        stops = loop["stops"]
        assert stops[0]["label"] == stops[-1]["label"] == loop["name"]
        assert [stop["outside"] for stop in stops] == [False, False, True, False, False]
    (main,) = (loop for loop in loops if loop["name"] == "Main")
    assert [stop["label"] for stop in main["stops"][1:4]] == ["aux out 1 & 2", "laptop", "aux in 1 & 2"]


def test_who_stays_in_is_told_why(plan: Plan) -> None:
    """Every refusal is named with its want, its reason, and what would change it."""
    refused = patch_sheet(plan, STAMP).data["refused"]
    strips = [one["strip"] for item in refused for one in item["strips"]]
    assert strips == [refusal.strip for refusal in plan.allocation.refusals]
    assert all(item["reason"] for item in refused)
    assert any(
        "aux in 7 & 8 did not stay for interval music and Interval moved to stick player 1 & 2" in item["changes"]
        for item in refused
    )


def test_the_card_s_long_lists_are_whole_here(plan: Plan) -> None:
    """Keys, the order by hand and what a dead unit does are on this sheet, to which the card refers."""
    ways = {way["what"]: way["does"] for way in patch_sheet(plan, STAMP).data["ways_out"]}
    assert ways["key 8"].startswith("ALL LOOPS OUT: Main")
    assert ways["by hand, in this order"].startswith("Main, Lamplighter, Narrator, Bass")
    assert ways["laptop dies"] == "silent until OUT: Lamplighter, Main, Narrator"


def test_errors_stand_first(plan: Plan) -> None:
    """A plan with an error says so on its sheet; warnings do not."""
    assert patch_sheet(plan, STAMP).data["errors"] == []
    ring = Finding("ring", "strips / Main", "Main feeds its own send", "", "Close the return strip")
    errors = patch_sheet(replace(plan, findings=(ring, *plan.findings)), STAMP).data["errors"]
    assert errors == ["strips / Main: Main feeds its own send. Close the return strip."]


def test_nothing_out_is_nothing_to_do() -> None:
    """A show without requests has a sheet that says that there is nothing to patch."""
    quiet = SHOW[: SHOW.index("requests:")] + SHOW[SHOW.index("keep:") :]
    plan = make_plan(read_show(quiet, "show.yaml").show, read_desk(DESK, "desk.yaml"))
    data = patch_sheet(plan, STAMP).data
    assert data["lead"] == "Nothing goes out. There is nothing to patch and nothing to undo."
    assert data["phases"] == data["undo"] == data["loops"] == []
