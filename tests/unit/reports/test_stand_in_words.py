"""A unit that stands in, on the summary, the patch sheet, the recovery card and in JSON."""

from __future__ import annotations

import json

import pytest

from sidetrip.plan.planner import Plan
from sidetrip.reports.patch_sheet import patch_sheet
from sidetrip.reports.plan_json import plan_text
from sidetrip.reports.recovery_card import recovery_sheet
from sidetrip.reports.sheet import Stamp
from sidetrip.reports.stand_in_words import effort, later
from sidetrip.reports.summary import summary
from smallshows import plan_from
from stand_in_shows import LAPTOP, spare, stand_in_show, two_sockets

STAMP = Stamp("small", "7c1e4a9", "2026-11-25 18:42", "plain desk", "show.yaml")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Three strips through the laptop, each with a place for the spare."""
    return plan_from(stand_in_show(), two_sockets())


def test_the_summary_says_who_takes_over(plan: Plan) -> None:
    """A heading of its own with the effort, what changes and what it does not cure; none where nobody stands in."""
    (block,) = [block for block in summary(plan) if block.heading == "Who takes over"]
    words = "'spare' can take over from 'laptop', by strip: 12 presses, about 36 s, once its loops are OUT."
    assert block.answer == words
    rows = {row[0]: row[1] for row in block.rows}
    assert rows["spare in, what changes"].startswith(
        "A, B, Main: 2.67 ms (128 frames) later; the level step is unknown"
    )
    assert "a second failure: nothing stands in for 'spare'" in rows["spare does not cure"]
    alone = plan_from(stand_in_show(LAPTOP), two_sockets())
    assert "Who takes over" not in [block.heading for block in summary(alone)]


def test_the_patch_sheet_shows_the_strips_through_the_second_unit(plan: Plan) -> None:
    """One row of stops for each, and lines in the CSV that say from whom they are taken over."""
    sheet = patch_sheet(plan, STAMP)
    assert [row["stops"][2]["label"] for row in sheet.data["take_overs"]] == ["spare"] * 3
    assert [row["stops"][3]["label"] for row in sheet.data["take_overs"]] == ["aux in 7", "aux in 8", "aux in 3 & 4"]
    assert len([row for row in sheet.csv_rows if row[0] == "taken over"]) == 3


def test_the_card_has_one_line_for_it_and_says_not_before_the_break(plan: Plan) -> None:
    """OUT stays the first thing; how to take over fits one line."""
    (line,) = recovery_sheet(plan, STAMP).data["hand_overs"]
    assert line["title"] == "spare for laptop"
    assert (
        line["does"] == "at the next break, its loops OUT, 3 changes (12 presses, about 36 s); then IN, one at a time"
    )
    assert line["later"] == "A, B, Main: 2.67 ms (128 frames) later"


def test_json_has_the_second_places_and_a_state_of_their_own(plan: Plan) -> None:
    """Ports, effort and the difference for each loop; and in the state every arrival is later by as much."""
    made = json.loads(plan_text(plan, plan.findings))["plan"]
    assert {unit["name"]: unit["stands_in_for"] for unit in made["units"]} == {"laptop": None, "spare": "laptop"}
    (found,) = made["recovery"]["hand_overs"]
    assert [(loop["loop"], loop["return"]) for loop in found["loops"]] == [
        ("A", "aux in 7"),
        ("B", "aux in 8"),
        ("Main", "aux in 3-4"),
    ]
    assert {loop["later"]["low_ms"] for loop in found["loops"]} == {2.666667}
    number = [state["instead"] for state in made["states"]].index("spare")
    assert made["states"][number]["name"] == "laptop dead, spare in"
    row = next(row for row in made["arrivals"] if row["source"] == "C" and row["place"] == "PA")
    assert row["low_ms"][number] - row["low_ms"][0] == pytest.approx(128 / 48, abs=2e-6)


@pytest.mark.parametrize(
    ("line", "time", "words"),
    [
        (spare(frames=331), "A, B, Main: at the same time", "12 presses, about 36 s"),
        (spare(frames=300), "A, B, Main: 0.65 ms (31 frames) earlier", "12 presses, about 36 s"),
        (spare(frames="unknown"), "A, B, Main: at another time, nobody knows by how much", "12 presses, about 36 s"),
        (spare(more=", switch_seconds: 1"), "A, B, Main: 2.67 ms (128 frames) later", "12 presses, 1 s as timed"),
        (spare("by box"), "A, B, C, Main: 2.67 ms (128 frames) later", "1 press, nobody knows how long"),
    ],
)
def test_times_and_effort_in_words(line: str, time: str, words: str) -> None:
    """Later, earlier, alike and unknown; timed, added up and unknown."""
    (own,) = plan_from(stand_in_show(LAPTOP, line), two_sockets()).recovery.hand_overs
    assert (later(own, 48000), effort(own)) == (time, words)
