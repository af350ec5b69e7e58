"""The set of sheets, and their CSV."""

import csv
import io
import json
from pathlib import Path

import pytest

from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.paper import all_names, csv_text, sheets
from sidetrip.reports.sheet import Sheet, Stamp
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
SHOW = (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
DESK = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
STAMP = Stamp("The Tin Lantern", "7c1e4a9", "2026-11-25 18:42", "32-strip theatre desk", "show.yaml")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The plan of a show in which people chose names that spreadsheets would compute."""
    text = SHOW
    for name, trick in (
        ("Bass", "=SUM(A1:A9)"),
        ("Narrator", "+49 vox"),
        ("laptop", "@home"),
        ("Chorus 1", "-12 dB mic"),
    ):
        text = text.replace(name, json.dumps(trick))
    return make_plan(read_show(text, "show.yaml").show, read_desk(DESK, "desk.yaml"))


def rows_of(sheet: Sheet) -> list[list[str]]:
    """Read a sheet's CSV as a spreadsheet does."""
    return list(csv.reader(io.StringIO(csv_text(sheet), newline="")))


def one_cell(text: str | float) -> str:
    """Write one cell and read it back."""
    return rows_of(Sheet("x", "X", "x.typ", {}, ("a",), ((text,),)))[1][0]


def test_sheets_come_in_a_fixed_order(plan: Plan) -> None:
    """Patch, timing, recovery; each has a template of its name and data that JSON can carry."""
    printed = sheets(plan, STAMP)
    assert [sheet.name for sheet in printed] == ["patch-sheet", "timing-sheet", "recovery-card"]
    for sheet in printed:
        assert (ROOT / "src" / "sidetrip" / "reports" / "templates" / sheet.template).is_file()
        assert json.loads(json.dumps(sheet.data, allow_nan=False)) == sheet.data


def test_a_csv_is_one_that_spreadsheets_expect(plan: Plan) -> None:
    """Header first, every row as wide, lines end with CR and LF."""
    for sheet in sheets(plan, STAMP):
        rows = rows_of(sheet)
        assert tuple(rows[0]) == sheet.csv_header
        assert {len(row) for row in rows} == {len(sheet.csv_header)}
        assert csv_text(sheet).count("\r\n") == csv_text(sheet).count("\n") == len(rows)


def test_no_cell_is_a_formula(plan: Plan) -> None:
    """A cell that starts like a formula is a number of ours, or carries an apostrophe."""
    seen = set()
    for sheet in sheets(plan, STAMP):
        for row in rows_of(sheet)[1:]:
            for cell in row:
                if cell.startswith(("=", "+", "-", "@", "\t", "\r")):
                    float(cell)
                seen.add(cell)
    assert {"'=SUM(A1:A9)", "'+49 vox", "'@home"} <= seen
    assert any(cell.startswith("-") for cell in seen), "no number below zero was tried"


@pytest.mark.parametrize("trick", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", "\nx", " =1+1", "＝1+1", "-"])
def test_a_trick_is_disarmed(trick: str) -> None:
    """Whatever makes some spreadsheet compute is kept as text, letter for letter behind the apostrophe."""
    assert one_cell(trick) == f"'{trick}"


def test_numbers_stay_numbers() -> None:
    """A figure below zero is no formula."""
    assert one_cell(-3.2) == "-3.2"
    assert one_cell("Kick, in") == "Kick, in"


def test_no_pair_of_ports_is_a_date(plan: Plan) -> None:
    """No cell is two numbers with a hyphen or a slash between."""
    for sheet in sheets(plan, STAMP):
        for row in rows_of(sheet):
            assert not any(cell.replace("-", "/").replace("/", "").isdigit() and "/" in cell for cell in row)
            assert not any("aux in 1-2" in cell for cell in row)


def test_names_are_those_that_are_printed(plan: Plan) -> None:
    """Every strip, unit and place of every sheet is among the names that can be checked for letters."""
    names = set(all_names(plan))
    assert {loop.name for loop in plan.allocation.loops} <= names
    assert {place.name for place in plan.line_map.places} <= names
    assert {row.source for row in plan.arrivals.rows} <= names
    assert {unit.name for unit in plan.units} <= names
