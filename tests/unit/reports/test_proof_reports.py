"""A proof as JSON, in words, as a picture and on paper."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from proof_show import signal_for

from fakes.clock import StoppedClock
from proofs_heard import proof_of, stand_in
from sidetrip import wiring
from sidetrip.application.stand_in import broken, legs_of
from sidetrip.findings import Finding
from sidetrip.prove.proof import Change, LegProof, Proof, Row, Stop
from sidetrip.reports.draw.palette import PAGE, PRINT
from sidetrip.reports.draw.stops import stops_svg
from sidetrip.reports.proof_json import ProofJson, proof_schema
from sidetrip.reports.proof_sheet import proof_sheet
from sidetrip.reports.proof_words import headline, proof_blocks
from sidetrip.reports.sheet import Stamp

STAMP = Stamp("Proving ground", "abc1234", StoppedClock().now().strftime("%Y-%m-%d %H:%M"), "desk", "show.yaml")


@pytest.fixture(scope="module")
def proof() -> Proof:
    """Return a proof with one loop inverted and one silent, of two more that pass."""
    plan, expected, rig = stand_in(4)
    signal, _ = signal_for(4)
    faults = ["inverted: Strip 2", "nothing back: Strip 3"]
    return proof_of(plan, expected, broken(rig, legs_of(expected), faults, signal, 1))


def test_a_proof_comes_back_from_its_file_as_it_was(proof: Proof) -> None:
    """What is written is read again, equal in every figure."""
    finding = Finding("proof-failed", "loop Strip 2", "Polarity", "", "Turn it back")
    text = ProofJson().write(proof, [finding])
    assert ProofJson().read(text, "proof.json") == proof
    assert json.loads(text)["findings"][0]["code"] == "proof-failed"


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[]", "null", '{"sidetrip_proof": 1, "proof": null, "findings": []}', '{"sidetrip_proof": 2}', "NaN"],
)
def test_what_is_no_proof_is_refused_in_words(text: str) -> None:
    """Another file, or a proof of another version, is a ValueError that names the file."""
    with pytest.raises(ValueError, match=r"kept\.json"):
        ProofJson().read(text, "kept.json")


def test_the_file_is_described_by_its_schema(proof: Proof) -> None:
    """The published schema accepts what is written and refuses another version."""
    import jsonschema

    document = json.loads(ProofJson().write(proof, []))
    jsonschema.validate(document, proof_schema())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**document, "sidetrip_proof": 2}, proof_schema())


def test_the_words_say_the_verdict_first_and_only_what_does_not_pass(proof: Proof) -> None:
    """A count, a row for each loop, then blocks for the two that fail, with what to do."""
    blocks = proof_blocks(proof)
    assert headline(proof) == "4 loop legs were asked: 2 pass, 2 fail."
    assert [block.heading for block in blocks][1:3] == ["Loop Strip 2", "Loop Strip 3"]
    assert "inverted cable" in str(blocks[1].rows)
    assert "gate may be closed" in str(blocks[2].rows)
    told = next(block for block in blocks if block.heading == "What cannot be told")
    assert any("nothing comes back here" in row for row in told.rows)


def test_a_delay_that_changed_is_told_with_every_value(proof: Proof) -> None:
    """All values and the spread stand in one row, and no mean."""
    change = Change("Strip 1", ("a", "b", "c"), (1024 / 48000, 1280 / 48000, 768 / 48000))
    block = proof_blocks(replace(proof, changes=(change,)))[-1]
    assert block.rows == (("Strip 1", "1024.0, 1280.0, 768.0", "512.0 frames, 10.67 ms"),)
    assert "no single figure" in block.answer


@pytest.mark.parametrize("palette", [PAGE, PRINT], ids=["page", "print"])
def test_the_stops_are_a_picture_whose_fault_leaves_its_row(proof: Proof, palette: object) -> None:
    """Well-formed; five stops a loop; the fault's stop lies lower than the row and says what it is."""
    root = ElementTree.fromstring(stops_svg(proof.legs, palette))  # type: ignore[arg-type]
    space = "{http://www.w3.org/2000/svg}"
    assert len(root.findall(f"{space}circle")) + len(root.findall(f"{space}polygon")) == 5 * len(proof.legs)
    assert len(root.findall(f"{space}polygon")) == 2
    words = [text.text or "" for text in root.findall(f"{space}text")]
    assert "It comes back inverted" in words
    assert words.count("fail") == 2


def test_names_in_the_picture_are_escaped_and_cut() -> None:
    """A name with markup in it stays text, and one that is too long loses its middle."""
    name = "<Drums & 'Bass'> with a name that is far too long 17"
    stops = tuple(Stop(kind, name, None) for kind in ("strip", "send", "unit", "return", "strip again"))
    row = Row("polarity", "transfer", "pass", None, None, None, "", "")
    leg = LegProof(name, "", "laptop", "card out 1", stops, (row,), None, None, (0.0, None), None)
    text = stops_svg([leg], PRINT)
    assert ElementTree.fromstring(text) is not None
    assert "<Drums" not in text
    assert "…ng 17" in text


def test_the_sheet_has_every_row_in_its_table_and_prints(proof: Proof, tmp_path: Path) -> None:
    """The CSV holds each question of each loop; the PDF says what fails, what to do, and who looked."""
    sheet = proof_sheet(proof, STAMP)
    assert len(sheet.csv_rows) == sum(len(leg.rows) for leg in proof.legs)
    pdf = wiring.press().pdf(sheet.template, sheet.data)
    assert pdf.startswith(b"%PDF")
    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("pdftotext is missing")
    file = tmp_path / "proof.pdf"
    file.write_bytes(pdf)
    text = subprocess.run([reader, "-layout", str(file), "-"], capture_output=True, text=True, check=True).stdout
    flat = re.sub(r"\s+", " ", text)
    for words in ("2 pass, 2 fail", "It comes back inverted", "Looked at by", "What this take cannot tell"):
        assert words in flat
