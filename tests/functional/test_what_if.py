"""`sidetrip plan` asked about another case: real processes on the demo show."""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import jsonschema
import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern" / "show.yaml"


def _run(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "sidetrip", "plan", str(DEMO), *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_a_loop_out_is_told_without_the_plan_which_stays_the_same() -> None:
    """What is asked, what it moves, and no more."""
    done = _run("--out", "Main")
    assert done.returncode == 0
    assert done.stdout.startswith("What if Main is OUT\n")
    assert "What loops add, ms" in done.stdout
    assert "Who goes out" not in done.stdout


def test_another_plan_is_told_and_then_printed() -> None:
    """A unit left at home: who stays in for it, then the whole plan."""
    done = _run("--without", "valve compressor")
    assert done.returncode == 0
    assert "Bass stays in." in done.stdout
    assert done.stdout.index("What if valve compressor is not there") < done.stdout.index("Who goes out")


@pytest.mark.parametrize("words", [("--out", "Nobody"), ("--without", "Moon")])
def test_a_name_that_is_not_there_is_a_finding(words: tuple[str, str]) -> None:
    """With those that are there, and no plan."""
    done = _run(*words)
    assert done.returncode == 1
    assert words[1] in done.stderr
    assert "Name one" in done.stderr
    assert done.stdout == ""


def test_json_has_the_difference_beside_the_plan() -> None:
    """Strict, by the published schema; without a question it is null."""
    schema = json.loads((ROOT / "docs" / "reference" / "plan.schema.json").read_text("utf-8"))
    document = json.loads(_run("--json", "--cue", "5").stdout)
    jsonschema.validate(document, schema)
    assert document["what_if"]["asked"] == "cue 5 is on"
    assert [own["name"] for own in document["what_if"]["moved"] if own["kind"] == "loop"] == ["Lamplighter"]
    assert json.loads(_run("--json").stdout)["what_if"] is None


def test_pictures_and_paper_live_in_one_folder(tmp_path: Path) -> None:
    """Drawing into the folder of the sheets leaves the sheets, and every picture is XML that says what it shows."""
    both = str(tmp_path / "out")
    assert _run("--paper", both).returncode == 0
    sheets = {path.name for path in (tmp_path / "out").glob("*.pdf")}
    assert sheets
    assert _run("--draw", both, "--ink", "print").returncode == 0
    assert {path.name for path in (tmp_path / "out").glob("*.pdf")} == sheets
    drawn = sorted((tmp_path / "out").glob("*.svg"))
    assert {path.name.partition("-")[0] for path in drawn} == {"comb", "time"}
    for path in drawn:
        assert ET.parse(path).getroot().find("{http://www.w3.org/2000/svg}desc") is not None
