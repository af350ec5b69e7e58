"""`sidetrip evidence` and `sidetrip hold` as a person runs them: real processes, real files, the demo show."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from blocklogs import csv_log
from sidetrip.adapters.this_system import LinuxSystem

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern"
SCHEMA = ROOT / "docs" / "reference" / "hold.schema.json"


def run(*words: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    environment = {**os.environ, "COLUMNS": "140"}
    return subprocess.run(
        [sys.executable, "-m", "sidetrip", *words], capture_output=True, text=True, check=False, env=environment
    )


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """Return a copy of the demo show with its evidence."""
    shutil.copytree(DEMO, tmp_path / "show", ignore=shutil.ignore_patterns("proofs"))
    return tmp_path / "show"


def test_the_demo_is_advised(show: Path) -> None:
    """64 frames, what that rests on, and what would make it surer."""
    done = run("hold", str(show))
    assert done.returncode == 0, done.stderr
    said = " ".join(done.stdout.split())
    assert "Set 64 frames at 48000 Hz: the largest that ears and the picture accept." in said
    assert "That it holds is assumed: by the tail of its late blocks up to" in said
    assert "2 h 45 min without an overrun allow up to 2.8 in a 2 h 30 min show" in said
    assert "more without an overrun would prove 1 a show by counting" in said


def test_the_json_keeps_to_the_published_schema(show: Path) -> None:
    """What is printed is what docs/reference says."""
    done = run("hold", str(show), "--json")
    document = json.loads(done.stdout)
    jsonschema.validate(document, json.loads(SCHEMA.read_text("utf-8")))
    (unit,) = document["units"]
    assert (unit["advised"], unit["largest_accepted"]) == (64, 64)
    assert unit["evidence"][0]["logged_s"] == pytest.approx(2.75 * 3600)


def test_another_rate_and_this_computer(show: Path) -> None:
    """96 kHz halves the period; --here adds the list with what this computer says."""
    done = run("hold", str(show), "--rate", "96000", "--here")
    assert done.returncode == 0, done.stderr
    assert "laptop at 96000 Hz" in done.stdout
    assert "Before the show, on the computer" in done.stdout


def test_evidence_is_added_kept_and_adds_up(show: Path, tmp_path: Path) -> None:
    """A CSV of the same configuration adds to the hours; of another it starts again, and both are said."""
    kept = next((show / "evidence").iterdir())
    head = json.loads(kept.read_text("utf-8").splitlines()[0])
    rows = csv_log(["12,410,0"] * 9000)
    same = [
        line.replace("system 1", head["system"]).replace("driver 1", head["driver"]).replace("4f1a", head["session"])
        for line in rows
    ]
    (tmp_path / "night.csv").write_text("\n".join(same).replace("2026-11-20", "2026-11-22") + "\n", "utf-8")
    done = run("evidence", str(show), "--add", str(tmp_path / "night.csv"), "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    (tally,) = document["evidence"]["tallies"]
    assert tally["logs"] == 2
    assert tally["logged_s"] == pytest.approx(2.75 * 3600 + 9000 * 64 / 48000)
    (tmp_path / "later.csv").write_text("\n".join(rows).replace("2026-11-20", "2026-11-23") + "\n", "utf-8")
    done = run("evidence", str(show), "--add", str(tmp_path / "later.csv"))
    assert done.returncode == 0, done.stderr
    assert "so that earlier hours no longer count" in " ".join(done.stdout.split())
    assert len(list((show / "evidence").iterdir())) == 3
    again = run("evidence", str(show), "--add", str(tmp_path / "later.csv"))
    assert again.returncode == 1
    assert "already there" in " ".join(again.stderr.split())


def test_a_damaged_log_is_refused_with_its_line(show: Path, tmp_path: Path) -> None:
    """File and line, no traceback, nothing written."""
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"\x00\xff\n\n")
    done = run("evidence", str(show), "--add", str(bad))
    assert done.returncode == 1
    assert "bad.csv:1" in "".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert len(list((show / "evidence").iterdir())) == 1
    missing = run("evidence", str(show), "--add", str(tmp_path / "none.csv"), "--json")
    assert missing.returncode == 1
    assert json.loads(missing.stdout)["findings"][0]["code"] == "file-missing"


def test_the_sheet_is_printed(show: Path, tmp_path: Path) -> None:
    """A PDF and a CSV in the folder that was named; somebody else's file is left alone."""
    done = run("hold", str(show), "--paper", str(tmp_path / "paper"))
    assert done.returncode == 0, done.stderr
    assert sorted(path.name for path in (tmp_path / "paper").glob("c*")) == ["computer-sheet.csv", "computer-sheet.pdf"]
    assert (tmp_path / "paper" / "computer-sheet.pdf").read_bytes().startswith(b"%PDF")
    (tmp_path / "paper" / "computer-sheet.csv").write_text("mine", "utf-8")
    assert run("hold", str(show), "--paper", str(tmp_path / "paper")).returncode == 1
    assert (tmp_path / "paper" / "computer-sheet.csv").read_text("utf-8") == "mine"


def test_a_show_with_errors_is_not_advised(tmp_path: Path) -> None:
    """What cannot be planned cannot be advised; the findings say why, in words and as JSON."""
    (tmp_path / "show.yaml").write_text("sidetrip: 1\n", "utf-8")
    assert run("hold", str(tmp_path)).returncode == 1
    document = json.loads(run("hold", str(tmp_path), "--json").stdout)
    assert document["show"] is None and document["findings"]


def _tree(root: Path, **files: str) -> LinuxSystem:
    for name, text in files.items():
        path = root / name.replace("__", "/")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    return LinuxSystem(root)


def test_what_a_linux_computer_says_of_itself(tmp_path: Path) -> None:
    """Read from its own files: governor, mains, battery, radios, cameras, swap, heat; each judged plainly."""
    system = _tree(
        tmp_path,
        sys__devices__system__cpu__cpu0__cpufreq__scaling_governor="performance\n",
        sys__devices__system__cpu__cpu1__cpufreq__scaling_governor="powersave\n",
        sys__class__power_supply__AC__type="Mains\n",
        sys__class__power_supply__AC__online="1\n",
        sys__class__power_supply__BAT0__type="Battery\n",
        sys__class__power_supply__BAT0__energy_full="30000000\n",
        sys__class__power_supply__BAT0__energy_full_design="50000000\n",
        sys__class__power_supply__BAT0__capacity="98\n",
        sys__class__rfkill__rfkill0__soft="1\n",
        sys__class__video4linux__video0__name="camera\n",
        sys__class__thermal__thermal_zone0__temp="91000\n",
        proc__meminfo="MemTotal: 1 kB\nSwapTotal: 2048 kB\nSwapFree: 1024 kB\n",
    )
    seen = {one.key: (one.value, one.fine) for one in system.look()}
    assert seen["governor"] == ("set to performance, powersave", False)
    assert seen["mains"] == ("plugged in", True)
    assert seen["battery"] == ("holds 60% of what it did when new, 98 % full", False)
    assert seen["wireless"] == ("0 of 1 radios on", True)
    assert seen["cameras"] == ("1 found", False)
    assert seen["swap"] == ("1 MiB swapped out", False)
    assert seen["heat"] == ("91 °C at its hottest", False)
    assert "free" in seen["disk"][0]


def test_what_is_not_there_is_not_said(tmp_path: Path) -> None:
    """Without the files nothing is claimed, and broken ones are passed over."""
    system = _tree(tmp_path, proc__meminfo="SwapTotal: lots\n", sys__class__thermal__thermal_zone0__temp="hot")
    assert {one.key for one in system.look()} <= {"disk", "cameras"}
