"""The recovery card's data: danger, keys, order, what changes."""

from dataclasses import replace
from pathlib import Path

import pytest

from sidetrip.graph.span import UNKNOWN
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.recovery_card import recovery_sheet
from sidetrip.reports.sheet import Stamp
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
SHOW = (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
DESK = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
STAMP = Stamp("The Tin Lantern", "7c1e4a9", "2026-11-25 18:42", "32-strip theatre desk", "show.yaml")
KEYS = 'group_key_takes_inserts: "yes"'


def planned(keys: str = KEYS) -> Plan:
    """Plan the demo show on the theatre desk, with another answer about its keys."""
    return make_plan(read_show(SHOW, "show.yaml").show, read_desk(DESK.replace(KEYS, keys), "desk.yaml"))


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo show's plan."""
    return planned()


def test_danger_comes_before_everything(plan: Plan) -> None:
    """Mute is the first thing to do when it roars."""
    assert recovery_sheet(plan, STAMP).data["danger"][0] == "MUTE the main outputs first"


def test_one_key_takes_all_out(plan: Plan) -> None:
    """The key is named by number and label, the other keys follow with their strips, nothing is left by hand."""
    data = recovery_sheet(plan, STAMP).data
    assert data["key"] == {"number": 8, "label": "ALL LOOPS OUT"}
    assert data["groups"] == [{"number": 7, "label": "VOICES OUT", "strips": ["Lamplighter", "Narrator"]}]
    assert data["by_hand"] == []


@pytest.mark.parametrize(
    ("keys", "standing"),
    [
        (KEYS, "assumed"),
        ('group_key_takes_inserts: {is: "yes", standing: proven}', "proven"),
        ("group_key_takes_inserts: unknown", "unknown"),
    ],
)
def test_the_card_says_how_sure_the_key_is(keys: str, standing: str) -> None:
    """Proven only where somebody proved it; an unanswered question is no yes."""
    assert recovery_sheet(planned(keys), STAMP).data["key_standing"] == standing


def test_without_keys_strips_are_taken_out_in_order() -> None:
    """A desk that has no such keys gets the strips in the order in which silence costs most."""
    plan = planned('group_key_takes_inserts: "no"')
    data = recovery_sheet(plan, STAMP).data
    assert data["key"] is None
    assert [one["strip"] for one in data["order"]] == [press.strip for press in plan.recovery.presses]


def test_what_the_key_does_not_take_is_named(plan: Plan) -> None:
    """A loop behind a mix hangs on another page: the card must not let it be forgotten."""
    output = replace(plan.recovery.presses[0], strip="PA", key="source of the output, routing page")
    changed = replace(plan, recovery=replace(plan.recovery, presses=(*plan.recovery.presses, output)))
    assert recovery_sheet(changed, STAMP).data["by_hand"] == [
        {"strip": "PA", "press": "source of the output, routing page"}
    ]


def test_what_changes_is_said(plan: Plan) -> None:
    """Each strip comes earlier by its loop, each unit says what dies with it, and an unknown time is called so."""
    data = recovery_sheet(plan, STAMP).data
    assert {"strip": "Main", "earlier": "8.27 ms"} in data["changes"]
    laptop, valve = data["units"]
    assert laptop["fates"] == [{"strips": ["Lamplighter", "Main", "Narrator"], "does": "are silent until OUT"}]
    assert valve["fates"] == [{"strips": ["Bass"], "does": "passes, unprocessed"}]
    vague = tuple(replace(press, delay=UNKNOWN) for press in plan.recovery.presses)
    data = recovery_sheet(replace(plan, recovery=replace(plan.recovery, presses=vague)), STAMP).data
    assert {one["earlier"] for one in data["changes"]} == {"an unknown time"}


def test_three_things_are_forbidden(plan: Plan) -> None:
    """Not touching it is part of the cure, and the words for comms are ready."""
    data = recovery_sheet(plan, STAMP).data
    assert len(data["do_not"]) == 3
    said = " ".join(data["do_not"])
    assert all(word in said for word in ("re-plug", "restart", "scene", "back IN", "faders up into silence"))
    assert data["say"] == "sound is on backup"
