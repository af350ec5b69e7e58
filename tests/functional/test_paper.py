"""The demo's paper as it leaves the press: real pages, read back from the PDF."""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sidetrip.adapters.press import TypstPress
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.recovery import Failure, GroupKey
from sidetrip.reports.paper import all_names, sheets
from sidetrip.reports.sheet import Sheet, Stamp
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[2]
SHOW = (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
DESK = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
PRESS = TypstPress(ROOT / "src" / "sidetrip" / "reports" / "templates")
CARD = 2
NO_CHARACTER = "\ufdd0"
"""Unicode promises never to give this one a meaning, so no font draws it."""

needs_poppler = pytest.mark.skipif(
    not (shutil.which("pdftotext") and shutil.which("pdfinfo")), reason="pdftotext is missing (package poppler-utils)"
)


def planned(show: str = SHOW, desk: str = DESK) -> Plan:
    """Plan a show on a desk, both given as text."""
    return make_plan(read_show(show, "show.yaml").show, read_desk(desk, "desk.yaml"))


def renamed(**names: str) -> str:
    """Return the demo show with other names; an underscore in a keyword stands for a space."""
    text = SHOW
    for name, other in names.items():
        text = text.replace(name.replace("_", " "), json.dumps(other))
    return text


def printed(plan: Plan) -> tuple[Sheet, ...]:
    """Return the sheets of a plan with a stamp of fixed content."""
    return sheets(plan, Stamp(plan.show.show, "7c1e4a9", "2026-11-25 18:42", plan.desk.name, "tin-lantern/show.yaml"))


class Pages:
    """A printed sheet, read back."""

    def __init__(self, sheet: Sheet, folder: Path) -> None:
        self.file = folder / f"{sheet.name}.pdf"
        self.file.write_bytes(PRESS.pdf(sheet.template, sheet.data))

    @property
    def count(self) -> int:
        """How many pages there are."""
        found = re.search(r"^Pages: +(\d+)$", self._said("pdfinfo", str(self.file)), re.MULTILINE)
        assert found
        return int(found[1])

    def text(self, page: int | None = None) -> str:
        """Return the words of a page, or of all, in the order in which they were set."""
        only = [] if page is None else ["-f", str(page), "-l", str(page)]
        return self._said("pdftotext", "-raw", *only, str(self.file), "-")

    def letters(self) -> str:
        """Return all words with no blanks between: names may break anywhere."""
        return "".join(self.text().split())

    def boxes(self) -> list[tuple[int, float, float, float, float]]:
        """Return (page, left, top, width, height) in points of every word."""
        rows = [line.split("\t") for line in self._said("pdftotext", "-tsv", str(self.file), "-").splitlines()[1:]]
        return [(int(r[1]), *(float(cell) for cell in r[6:10])) for r in rows if r[0] == "5"]  # type: ignore[misc]

    @staticmethod
    def _said(*words: str) -> str:
        return subprocess.run(words, capture_output=True, check=True, encoding="utf-8").stdout


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo show's plan."""
    return planned()


@needs_poppler
def test_every_page_says_what_it_belongs_to(plan: Plan, tmp_path: Path) -> None:
    """Show, revision, time of printing, desk, file and page x of y stand on each page of each sheet."""
    for sheet in printed(plan):
        pages = Pages(sheet, tmp_path)
        for number in range(1, pages.count + 1):
            words = " ".join(pages.text(number).split())
            for said in (sheet.title, "The Tin Lantern", "revision 7c1e4a9", "printed 2026-11-25 18:42"):
                assert said in words
            assert "desk 32-strip theatre desk" in words
            assert "file tin-lantern/show.yaml" in words
            assert f"page {number}/{pages.count}" in words


@needs_poppler
def test_the_patch_sheet_holds_every_step_and_loop(plan: Plan, tmp_path: Path) -> None:
    """What the plan says to do is on paper, word for word but for the way ports are written."""
    sheet = printed(plan)[0]
    pages = Pages(sheet, tmp_path)
    letters = pages.letters()
    for phase in sheet.data["phases"]:
        for step in phase["steps"]:
            assert _close(f"{step['number']}{step['where']}{step['item']}") in letters
            assert _close(step["becomes"]) in letters
    for step in sheet.data["undo"]:
        assert _close(f"{step['order']}{step['number']}{step['where']}{step['item']}{step['back']}") in letters
    for loop in plan.allocation.loops:
        assert _close(loop.name) in letters
    for refusal in plan.allocation.refusals:
        assert _close(refusal.strip) in letters


@needs_poppler
@pytest.mark.parametrize("desk", [DESK, DESK.replace('takes_inserts: "yes"', 'takes_inserts: "no"')])
def test_the_recovery_card_is_one_page(plan: Plan, desk: str, tmp_path: Path) -> None:
    """With a key for all loops and without, danger first."""
    pages = Pages(printed(planned(SHOW, desk))[CARD], tmp_path)
    assert pages.count == 1
    words = " ".join(pages.text().split())
    order = ["ROAR or HOWL", "MUTE the main outputs first", "NO SOUND or CRACKLE", "ONE STRIP WRONG", "DO NOT"]
    assert sorted(order, key=words.index) == order
    assert ("ALL LOOPS OUT" in words) == (desk == DESK)
    assert "sound is on backup" in words


@needs_poppler
@pytest.mark.parametrize("keyed", [True, False])
def test_the_recovery_card_stays_one_page_whatever_the_show(plan: Plan, keyed: bool, tmp_path: Path) -> None:
    """Eighty loops with long names on nine units: lists are cut and say how much is missing and where it is."""
    press = plan.recovery.presses[0]
    name = "Vocal headset of the upper choir on the far left of the balcony, second row, number"
    presses = tuple(replace(press, order=n, strip=f"{name} {n}") for n in range(1, 81))
    strips = tuple(press.strip for press in presses)
    keys = tuple(GroupKey(8 - n, f"GROUP {n} OUT", strips, sure=False) for n in range(8)) if keyed else ()
    failures = tuple(Failure(f"unit {n}", strips[:30], strips[30:40], strips[40:]) for n in range(9))
    full = replace(plan.recovery, presses=presses, keys=keys, failures=failures)
    pages = Pages(printed(replace(plan, recovery=full))[CARD], tmp_path)
    assert pages.count == 1
    words = " ".join(pages.text().split())
    assert re.search(r"\d+ more (strips )?\(see patch sheet\)", words)
    assert "DO NOT" in words
    assert "number 1" in words


@needs_poppler
def test_the_recovery_card_is_large(plan: Plan, tmp_path: Path) -> None:
    """Between the page's head and foot no line is set smaller than 18 points."""
    hard = planned(
        renamed(Narrator="Second understudy of the narrator, stage left", Bass="Bass under the balcony, left")
    )
    for one in (plan, hard):
        body = [box for box in Pages(printed(one)[CARD], tmp_path).boxes() if 75 < box[2] < 780]
        assert len(body) > 50
        assert min(height for *_, height in body) >= 18  # the height of a word's box is the size of its type


@needs_poppler
def test_names_are_printed_as_typed(tmp_path: Path) -> None:
    """Whatever means something to a typesetter, a browser or a spreadsheet is set letter for letter."""
    tricks = {
        "Narrator": '#image("x") *bold* <script>',
        "Bass": "=SUM(A1:A9) $x^2$ _i_ @ref",
        "laptop": "+49 <label> [brackets] #pagebreak() {",
        "glue": "~ -- --- ... 'quoted' \\ /* c */ // `raw`",
        "The_Tin_Lantern": "\"Double\" & 'single' #sys.inputs",
    }
    sheet, timing, card = (Pages(one, tmp_path) for one in printed(planned(renamed(**tricks))))
    for trick in tricks.values():
        assert _close(trick) in sheet.letters()
        assert _close(trick) in timing.letters() or trick == tricks["Narrator"]
    for name in ("Narrator", "Bass", "laptop"):
        assert _close(tricks[name]) in card.letters()


@needs_poppler
def test_long_names_stay_in_their_cells_and_keep_their_number(tmp_path: Path) -> None:
    """Names of 120 letters, with blanks and without, break inside their cells: nothing leaves the page's margins."""
    solid = "W" * 117 + "-42"
    spaced = ("Grosse Trommel links hinten unter dem Podest neben der Treppe und " * 2)[:116] + " 117"
    names = {
        "Narrator": solid,
        "Bass": spaced,
        "The_Tin_Lantern": spaced,
        "laptop": solid[:-1] + "7",
        "Sub_stack": solid[3:],
    }
    for sheet in printed(planned(renamed(**names))):
        pages = Pages(sheet, tmp_path)
        width = 595 if sheet.name == "recovery-card" else 842
        assert all(left > 50 and left + wide < width - 50 for _, left, _, wide, _ in pages.boxes())
        letters = pages.letters()
        assert "WWW-42" in letters
        assert "WWW-47" in letters
        assert "117" in letters
        if sheet.name == "recovery-card":
            assert pages.count == 1
        else:
            assert solid in letters
            assert _close(spaced) in letters


def test_the_same_plan_prints_the_same_bytes(plan: Plan) -> None:
    """Two runs of the press differ in nothing, so that a revision can be compared by its file."""
    for sheet in printed(plan):
        first, second = (TypstPress(PRESS._templates).pdf(sheet.template, sheet.data) for _ in range(2))
        assert first.startswith(b"%PDF")
        assert first == second


def test_a_page_can_be_a_picture(plan: Plan) -> None:
    """The press gives one PNG a page."""
    card = printed(plan)[CARD]
    pictures = PRESS.png(card.template, card.data, 30)
    assert len(pictures) == 1
    assert pictures[0].startswith(b"\x89PNG")


def test_what_no_font_draws_is_reported(plan: Plan) -> None:
    """A name with a character that no font has is named with that character; the demo's own names are fine."""
    name = f"Gu{NO_CHARACTER}zheng {NO_CHARACTER}"
    assert PRESS.undrawable([name, "Lamplighter", "Ærø – ½ → Ω"]) == {name: NO_CHARACTER}
    assert PRESS.undrawable(all_names(plan)) == {}
    odd = planned(SHOW.replace("name: Violin", f'name: "{name}"'))
    assert PRESS.undrawable(all_names(odd)) == {name: NO_CHARACTER}
    assert all(PRESS.pdf(sheet.template, sheet.data) for sheet in printed(odd))


@pytest.mark.parametrize("errors", [0, 1])
def test_a_plan_with_errors_prints_another_card(plan: Plan, errors: int) -> None:
    """The templates take a plan with errors, which are said before anything else."""
    card = printed(plan)[CARD]
    data: dict[str, Any] = {**card.data, "errors": errors}
    assert (PRESS.pdf(card.template, data) == PRESS.pdf(card.template, card.data)) == (errors == 0)


def _close(text: str) -> str:
    return "".join(text.split())
