"""Lists as a person uses them: the command in a process of its own, real files, edited as a spreadsheet saves them."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern" / "show.yaml"


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "sidetrip", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "COLUMNS": "200"},
    )


def document(*words: str | Path) -> Any:
    """Run with --json and return what it says."""
    done = run(*words, "--json")
    assert done.stderr == ""
    return json.loads(done.stdout)


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """Return a copy of the demo show with its lists written."""
    shutil.copy(DEMO, tmp_path / "show.yaml")
    done = run("lists", tmp_path)
    assert done.returncode == 0, done.stderr
    assert "wrote" in done.stdout
    return tmp_path


def _saved(path: Path, old: str, new: str, *, encoding: str = "utf-8-sig", separator: str = ",") -> None:
    """Change one place of a list and save it as another program would."""
    text = path.read_bytes().decode("utf-8-sig")
    assert old in text
    rows = list(csv.reader(io.StringIO(text.replace(old, new, 1), newline="")))
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerows(rows)
    path.write_bytes(out.getvalue().encode(encoding))


def test_lists_are_written_for_a_spreadsheet(show: Path) -> None:
    """UTF-8 with its mark, CRLF, no cell begins with a sign, pairs are no dates; a second run changes nothing."""
    before = {}
    for name, rows in (("inputs", 26), ("outputs", 7), ("requests", 7)):
        data = before[name] = (show / "lists" / f"{name}.csv").read_bytes()
        assert data.startswith(b"\xef\xbb\xbf")
        assert data.count(b"\r\n") == data.count(b"\n") == rows + 2
        cells = [cell for row in csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")) for cell in row]
        assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
    assert "stage 7 & 8" in before["inputs"].decode()
    assert run("lists", show).returncode == 0
    assert {name: (show / "lists" / f"{name}.csv").read_bytes() for name in before} == before


def test_an_edited_list_is_told_then_written(show: Path) -> None:
    """Saved as Windows-1252 with semicolons; told without --write, written with it, undone by copying."""
    lists = show / "lists"
    _saved(lists / "outputs.csv", "1.5 ms", '"2,5 ms"', encoding="cp1252", separator=";")
    told = run("lists", show, "--read", lists / "outputs.csv")
    assert told.returncode == 0
    for part in ("Sub stack", "Delay ms", "1.5 ms", "2.5 ms", "nothing was written"):
        assert part in told.stdout
    assert (show / "show.yaml").read_bytes() == DEMO.read_bytes()
    said = document("lists", show, "--read", lists / "outputs.csv", lists / "inputs.csv", "--write")
    (change,) = said["changes"]
    assert {key: change[key] for key in ("kind", "list", "row", "column", "was", "becomes", "line")} == {
        "kind": "changed",
        "list": "outputs",
        "row": "Sub stack",
        "column": "Delay ms",
        "was": "1.5 ms",
        "becomes": "2.5 ms",
        "line": 4,
    }
    old, new = DEMO.read_text("utf-8").splitlines(), (show / "show.yaml").read_text("utf-8").splitlines()
    (pair,) = [(one, two) for one, two in zip(old, new, strict=True) if one != two]
    assert pair[0].replace("delay_ms: 1.5", "delay_ms: 2.5") == pair[1]
    assert Path(said["undo"]).read_bytes() == DEMO.read_bytes()
    assert run("lists", show).returncode == 0, "a list that was read in may be written anew"
    assert document("lists", show, "--read", lists / "outputs.csv")["changes"] == []


def test_a_list_with_work_in_it_is_not_overwritten(show: Path) -> None:
    """An edited list that was not read in is left alone, and the message says how to read it."""
    path = show / "lists" / "inputs.csv"
    _saved(path, "Snare", "Snare top")
    edited = path.read_bytes()
    done = run("lists", show)
    assert (done.returncode, "--read" in done.stderr, path.read_bytes()) == (1, True, edited)
    assert document("lists", show)["stopped"]


def test_a_broken_list_gives_findings_with_lines(show: Path) -> None:
    """Exit code 1, file and line for each, nothing written; a workbook is refused with what to do."""
    path = show / "lists" / "inputs.csv"
    _saved(path, "7 & 8,Overheads", "17. Mrz,#NAME?")
    done = run("lists", show, "--read", path, "--write")
    assert done.returncode == 1
    assert "inputs.csv:9" in done.stdout
    assert "Traceback" not in done.stdout + done.stderr
    assert (show / "show.yaml").read_bytes() == DEMO.read_bytes()
    book = show / "list.xlsx"
    book.write_bytes(b"PK\x03\x04" + bytes(100))
    found = document("lists", show, "--read", book)["findings"]
    assert [(one["code"], "CSV" in one["remedy"]) for one in found] == [("file-unreadable", True)]


def test_dialects_and_order(show: Path) -> None:
    """Semicolons, a decimal comma and the order of the stage are asked for; the lists still read as unchanged."""
    options = ("--separator", "semicolon", "--decimal", "comma", "--order", "stage", "--out", show / "house")
    assert run("lists", show, *options).returncode == 0
    text = (show / "house" / "outputs.csv").read_bytes().decode("utf-8-sig")
    assert "Sub stack;Subs;local out 3;3,4 ms;1,5 ms;90 Hz" in text
    said = document("lists", show, "--read", *sorted((show / "house").glob("*.csv")))
    assert (said["changes"], said["possible"]) == ([], True)


def test_wrong_usage_exits_with_2(show: Path) -> None:
    """Words that are no choice, --write without --read, and two steps in one are usage."""
    assert run("lists", show, "--order", "alphabet").returncode == 2
    assert run("lists", show, "--write").returncode == 2
    assert run("lists", show, "--read", "a.csv", "--out", "x").returncode == 2
    assert run("lists", show, "inputs.csv").returncode == 2


def test_a_new_show_starts_from_a_list_in_any_encoding(tmp_path: Path) -> None:
    """An input list saved as UTF-16 with tabs, left and right in two rows, starts a show; what was joined is said."""
    path = tmp_path / "list.txt"
    path.write_bytes("Kanal\tName\n1\tBühne\n3\tKeys L\n4\tKeys R\n".encode("utf-16"))
    done = run("new", tmp_path / "new", "--desk", "32-strip theatre desk", "--inputs", path)
    assert done.returncode == 0, done.stderr
    assert "left and right of one input" in done.stdout
    assert "{ch: 3, name: Keys, port: stage 3-4" in (tmp_path / "new" / "show.yaml").read_text("utf-8")
