"""The advice in words: what is claimed, how surely, and that zero is never nothing."""

from __future__ import annotations

import json

import jsonschema
import pytest

from blocklogs import configuration, pauses, quiet_log
from fakes.clock import StoppedClock
from fakes.desks import DesksInMemory
from fakes.evidence_files import EvidenceInMemory
from fakes.press import PressInMemory
from fakes.show_folder import ShowFolderInMemory
from showtext import DEMO_TEXT, DESK_TEXT, DESK_TYPE
from sidetrip.application.evidence_ports import Seen
from sidetrip.application.holding import Held, hold
from sidetrip.hold.advice import advise
from sidetrip.hold.evidence import BlockLog
from sidetrip.hold.overruns import judge
from sidetrip.hold.remarks import bound_words, hours_words
from sidetrip.reports.check_list import check_blocks, stages
from sidetrip.reports.computer_sheet import computer_sheet
from sidetrip.reports.hold_json import hold_schema, hold_text
from sidetrip.reports.hold_printing import print_hold
from sidetrip.reports.hold_words import hold_blocks, length_words, overruns_sentence
from sidetrip.reports.sheet import Stamp

STAMP = Stamp("The Tin Lantern", "abc1234", "2026-11-20 19:30", "a desk", "show.yaml")


def _held(*logs: BlockLog, text: str = DEMO_TEXT) -> Held:
    store = ShowFolderInMemory({"show.yaml": text})
    held = hold(store, DesksInMemory({DESK_TYPE: DESK_TEXT}), EvidenceInMemory(store), "show.yaml")
    advice = advise(held.planned.plan, logs)
    return Held(held.planned, advice, logs, advice.findings)


def _said(held: Held) -> str:
    return " ".join(
        f"{block.heading} {block.answer} {' '.join(map(' '.join, block.rows))}" for block in hold_blocks(held.advice)
    )


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (1 / 6, "10 min without an overrun allow up to 54 in a 3 h show"),
        (1, "1 h without an overrun allow up to 9 in a 3 h show"),
        (3, "3 h without an overrun allow up to 3 in a 3 h show"),
        (9, "9 h without an overrun allow up to 1 in a 3 h show"),
    ],
)
def test_clean_hours_are_said_as_what_they_allow(hours: float, words: str) -> None:
    """Never "no overruns": always how many a show may still have."""
    assert overruns_sentence(judge([quiet_log(hours)], 64, 48000, 3 * 3600.0), 3 * 3600.0).startswith(words)


def test_overruns_are_counted_aloud() -> None:
    """Two in an hour are said as two, with the bound that they leave."""
    found = judge([quiet_log(1, pauses(2, 0.003))], 64, 48000, 3600.0)
    assert overruns_sentence(found, 3600.0) == "1 h with 2 overruns allow up to 6.3 in a 1 h show."


@pytest.mark.parametrize(
    ("bound", "words"),
    [(53.92, "54"), (0.7489, "0.75"), (2.7234, "2.8"), (0.01231, "0.013"), (1.0, "1"), (1234.2, "1,235")],
)
def test_a_bound_is_rounded_up(bound: float, words: str) -> None:
    """What is said is never less than what was found."""
    assert bound_words(bound) == words
    assert float(words.replace(",", "")) >= bound


@pytest.mark.parametrize(("hours", "words"), [(0.1, "6 min"), (4.71, "4.8 h"), (596.1, "597 h")])
def test_hours_are_said_as_one_would_plan_them(hours: float, words: str) -> None:
    """Minutes, hours, and whole hours where they are many; rounded up."""
    assert hours_words(hours) == words


@pytest.mark.parametrize(("seconds", "words"), [(600, "10 min"), (9000, "2 h 30 min"), (10800, "3 h"), (30, "30 s")])
def test_lengths_are_said_plainly(seconds: float, words: str) -> None:
    """Hours and minutes."""
    assert length_words(seconds) == words


def test_no_evidence_is_said_first() -> None:
    """A buffer is advised from what ears accept, and that nobody knows whether it holds."""
    said = _said(_held())
    assert "Set 64 frames at 48000 Hz: the largest that ears and the picture accept" in said
    assert "Whether it holds is unknown" in said
    assert "k is 2.00 buffers" in said
    assert "residual 0.0 frames" in said


def test_the_standing_is_said() -> None:
    """Ten clean hours prove it by counting, one does not show it, and overruns that come back say that it fails."""
    assert "That it holds is proven" in _said(_held(quiet_log(10)))
    assert "Whether it holds is not shown" in _said(_held(quiet_log(1)))
    failing = _said(_held(quiet_log(10, pauses(40, 0.003, over_s=36000))))
    assert "It does not hold: 10 h with 40 overruns" in failing
    assert "No buffer both holds and is accepted" in failing


def test_openings_that_differ_are_said_with_every_value() -> None:
    """Five values, their spread in frames and ms, and no mean."""
    points = ", ".join(
        f"{{buffer: 64, rate: 48000, round_trip_frames: {frames}}}" for frames in (1024, 1024, 1280, 1024, 768)
    )
    start, end = DEMO_TEXT.index("    measured:"), DEMO_TEXT.index("  - {name: valve")
    said = _said(_held(text=f"{DEMO_TEXT[:start]}    measured: [{points}]\n{DEMO_TEXT[end:]}"))
    assert "64: 1024, 1024, 1280, 1024, 768 (not constant between openings, spread 512 frames, 10.67 ms)" in said
    assert "a line needs three buffers" in said


def test_the_json_keeps_to_its_schema() -> None:
    """With and without evidence, and with nothing at all; no number that JSON has not."""
    for held in (_held(), _held(quiet_log(3)), _held(quiet_log(10, pauses(300, 0.007, over_s=36000)))):
        document = json.loads(hold_text(held, held.findings))
        jsonschema.validate(document, hold_schema())
        assert document["units"][0]["advised"] == 64
    jsonschema.validate(json.loads(hold_text(None, ())), hold_schema())


def test_the_sheet_carries_advice_picture_and_list() -> None:
    """Its data are JSON, its rows one a buffer, its picture drawn where there is evidence."""
    held = _held(quiet_log(3))
    sheet = computer_sheet(held, (Seen("mains", "plugged in", True),), STAMP)
    (unit,) = sheet.data["units"]
    assert unit["advised"] == 64
    assert unit["picture"].startswith("<svg")
    assert len(sheet.csv_rows) == len(held.advice.units[0].candidates)
    assert all(len(row) == len(sheet.csv_header) for row in sheet.csv_rows)
    json.dumps(sheet.data, allow_nan=False)
    assert "plugged in, fine" in json.dumps(sheet.data)
    assert computer_sheet(_held(), (), STAMP).data["units"][0]["picture"] is None


def test_the_sheet_is_written_beside_the_others() -> None:
    """A PDF and a CSV, and a name that cannot be drawn is said."""
    store = ShowFolderInMemory({})
    written, findings = print_hold(store, PressInMemory(), StoppedClock(), _held(quiet_log(1)), (), "paper")
    assert [path.rpartition("/")[2] for path in written] == ["computer-sheet.csv", "computer-sheet.pdf"]
    assert findings == ()
    odd = _held(text=DEMO_TEXT.replace("show: The Tin Lantern", "show: 太鼓"))
    _, findings = print_hold(ShowFolderInMemory({}), PressInMemory(), StoppedClock(), odd, (), "paper")
    assert [finding.code for finding in findings] == ["glyph-missing"]


def test_the_check_list_runs_towards_the_show() -> None:
    """Seven stages; what this system says stands at its line, the rest is to be looked at."""
    held = _held(quiet_log(1, of=configuration(64)))
    own = held.advice.units[0]
    when = [stage["when"] for stage in stages(own, ())]
    assert when[0] == "7 days before" and when[-1] == "after" and len(when) == 7
    (block,) = check_blocks(held.advice, (Seen("mains", "not plugged in", False), Seen("swap", "0 MiB", None)))
    rows = {what: said for _, what, said in block.rows}
    assert rows["It runs on mains"] == "not plugged in, look"
    assert rows["Rate 48000 Hz as on the desk, buffer 64 frames"] == "look"
    assert block.answer.startswith("2 of ")
