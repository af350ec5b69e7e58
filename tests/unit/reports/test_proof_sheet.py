"""The proof sheet as it leaves the press, read back from the PDF, and its CSV."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

import proofs
from sidetrip import wiring
from sidetrip.prove.proof import Proof
from sidetrip.reports.paper import csv_text
from sidetrip.reports.proof_sheet import proof_sheet
from sidetrip.reports.sheet import Sheet, Stamp

ROOT = Path(__file__).parents[3]
STAMP = Stamp("The Tin Lantern", "7c1e4a9", "2026-11-25 18:42", "32-strip theatre desk", "show.yaml")

needs_poppler = pytest.mark.skipif(
    not (shutil.which("pdftotext") and shutil.which("pdfinfo")), reason="pdftotext is missing (package poppler-utils)"
)


def five() -> Proof:
    """Return a proof like the demo's: five legs, two kinds of unit, one loop inverted, one that moved."""
    bass = proofs.good_leg("Bass", 1, unit="valve compressor")
    bad = proofs.inverted(proofs.good_leg("Narrator", 4))
    legs = (bass, proofs.good_leg("Lamplighter", 3), *proofs.stereo(), bad)
    return replace(proofs.proof(*legs), changes=proofs.changed().changes[:1])


def many(count: int) -> Proof:
    """Return a proof of many legs, every one of them bent."""
    return proofs.proof(*(proofs.silent(proofs.good_leg(f"Loop {number}", number)) for number in range(1, count + 1)))


ALL = {
    "five": five(),
    "passing": proofs.proof(),
    "twelve": proofs.twelve(),
    "awkward": proofs.awkward(),
    "no reference": proofs.without_reference(),
    "many": many(40),
    "nothing": replace(proofs.proof(), legs=(), recording=(), buffers=()),
}


class Pages:
    """A printed sheet, read back."""

    def __init__(self, sheet: Sheet, folder: Path) -> None:
        self.file = folder / f"{sheet.name}.pdf"
        self.file.write_bytes(wiring.press().pdf(sheet.template, sheet.data))

    @property
    def count(self) -> int:
        """How many pages there are."""
        found = re.search(r"^Pages: +(\d+)$", self._said("pdfinfo", str(self.file)), re.MULTILINE)
        assert found
        return int(found[1])

    def text(self, page: int | None = None) -> str:
        """Return the words of a page, or of all, with single blanks between."""
        only = [] if page is None else ["-f", str(page), "-l", str(page)]
        return " ".join(self._said("pdftotext", "-raw", *only, str(self.file), "-").split())

    def boxes(self) -> list[tuple[float, float, float, float]]:
        """Return (left, top, width, height) in points of every word."""
        rows = [line.split("\t") for line in self._said("pdftotext", "-tsv", str(self.file), "-").splitlines()[1:]]
        return [tuple(float(cell) for cell in row[6:10]) for row in rows if row[0] == "5"]  # type: ignore[misc]

    @staticmethod
    def _said(*words: str) -> str:
        return subprocess.run(words, capture_output=True, check=True, encoding="utf-8").stdout


@needs_poppler
def test_five_legs_with_all_that_is_said_of_them_are_one_page(tmp_path: Path) -> None:
    """The verdict, the take, the picture, what to do, every figure, every change, and where to sign."""
    pages = Pages(proof_sheet(five(), STAMP), tmp_path)
    assert pages.count == 1
    words = pages.text()
    order = [
        "5 loop legs were asked: 4 pass, 1 fails.",
        "Take loops, all IN, processors flat, 2026-11-25 18:42. Recording loops-1.wav, 5 s of test at 48000 Hz",
        "Player and recorder ran on one clock. Delays are against card out 7.",
        "What does not pass",
        "It comes back inverted. Find the inverted cable, switch or processor, and turn one of them back.",
        "Every question",
        "Since earlier proofs",
        "1024.0, 1280.0, 768.0 512.0",
        "One take proves what it heard",
        "Looked at by",
    ]
    assert sorted(order, key=words.index) == order
    for said in ("laptop at 64 frames", "revision 7c1e4a9", "The Tin Lantern", "page 1/1", "strip again"):
        assert said in words


@needs_poppler
def test_every_question_stands_with_its_plan_and_its_limits(tmp_path: Path) -> None:
    """A computer's limits and a piece of hardware's are columns, each leg's figures and verdict another."""
    words = Pages(proof_sheet(five(), STAMP), tmp_path).text()
    for said in (
        "delay, frames ± 0.1 ± 0.2 349.00 pass 349.00 pass 349.00 pass 349.00 pass 349.00 pass",
        "planned 349 349 349 349 349",
        "measured in ms 7.271 7.271 7.271 7.271 7.271",
        "polarity kept kept pass pass pass pass fail",
        "idle noise, dBFS ≤ −100 ≤ −80 −111.9 pass",
        "sides, frames ± 0.1 ± 0.1 0.00 pass",
        "endurance cannot tell",
    ):
        assert said in words


@needs_poppler
@pytest.mark.parametrize("proof", ALL.values(), ids=ALL)
def test_every_page_says_what_it_belongs_to_and_nothing_leaves_it(proof: Proof, tmp_path: Path) -> None:
    """Head and foot stand on each page, and no word lies in the margins or off the paper."""
    pages = Pages(proof_sheet(proof, replace(STAMP, show=proof.show)), tmp_path)
    for number in range(1, pages.count + 1):
        words = pages.text(number)
        assert "Proof" in words
        assert f"page {number}/{pages.count}" in words
    assert all(left > 50 and left + wide < 595 - 50 and top + high < 842 for left, top, wide, high in pages.boxes())
    assert "Looked at by" in pages.text(pages.count)


@needs_poppler
def test_many_legs_take_more_pages_and_lose_nothing(tmp_path: Path) -> None:
    """Forty bent rows are drawn on several pages; each loop is in the picture and in the table."""
    proof = many(40)
    pages = Pages(proof_sheet(proof, STAMP), tmp_path)
    words = pages.text()
    assert pages.count > 3
    for leg in proof.legs:
        assert len(re.findall(rf"\b{leg.name}\b", words)) >= 4, leg.name


@needs_poppler
def test_what_could_not_be_told_is_told_with_why(tmp_path: Path) -> None:
    """The reason once, what would help, and the loops that the take does not ask about."""
    words = Pages(proof_sheet(proofs.without_reference(), STAMP), tmp_path).text()
    assert "What this take cannot tell" in words
    assert "No reference in this take. Catch a dry copy of an entry, and name it as the take's reference." in words
    assert "Keys and Violin everything Take 'loops' catches neither" in words
    assert "What does not pass" not in words


@needs_poppler
def test_names_are_printed_as_typed(tmp_path: Path) -> None:
    """Markup, long names and other scripts stand on the sheet letter for letter."""
    letters = Pages(proof_sheet(proofs.awkward(), STAMP), tmp_path).text().replace(" ", "")
    for name in proofs.AWKWARD[:4]:
        assert name.replace(" ", "") in letters


def test_the_data_is_what_json_can_carry_and_its_template_is_there() -> None:
    """Whatever the proof, the press can be given its data as text."""
    for proof in ALL.values():
        sheet = proof_sheet(proof, STAMP)
        assert json.loads(json.dumps(sheet.data, allow_nan=False)) == sheet.data
        assert (ROOT / "src" / "sidetrip" / "reports" / "templates" / sheet.template).is_file()


def test_the_csv_has_a_row_for_each_question_of_each_leg() -> None:
    """Measured, planned, limit and verdict; what to do only where something is to be done."""
    proof = five()
    rows = list(csv.DictReader(io.StringIO(csv_text(proof_sheet(proof, STAMP)), newline="")))
    assert len(rows) == sum(len(leg.rows) for leg in proof.legs)
    bass = next(row for row in rows if (row["loop"], row["question"]) == ("Bass", "delay"))
    assert (bass["measured"], bass["planned"], bass["passes within"], bass["verdict"]) == (
        "349.0",
        "349.0",
        "± 0.2",
        "pass",
    )
    todo = [row for row in rows if row["what to do"]]
    assert [(row["loop"], row["question"]) for row in todo] == [("Narrator", "polarity")]


def test_the_same_proof_prints_the_same_bytes() -> None:
    """Two prints can be compared by their files."""
    sheets = [proof_sheet(five(), STAMP) for _ in range(2)]
    first, second = (wiring.press().pdf(sheet.template, sheet.data) for sheet in sheets)
    assert first == second
