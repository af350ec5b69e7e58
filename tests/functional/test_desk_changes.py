"""`sidetrip desks TYPE --for SHOW` as a person runs it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

SHOW = """sidetrip: 1
show: The Tin Lantern, first reading
sample_rate: 48000
desk: {type: 32-strip theatre desk}
units: [{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}]
inputs: [{ch: 1, name: Lamp, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {thin: [{eq: {}}]}
requests: [{strip: Lamp, chain: thin, want: 8}]
"""


def _run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-m", "sidetrip", "desks", *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env={**os.environ, "COLUMNS": "120"},
    )


def test_what_changes_is_said_in_words_and_as_json(tmp_path: Path) -> None:
    """From aux 1 to insert jack 1: both name the ports of before and after."""
    said = _run(tmp_path, "48-strip theatre desk", "--for", "show.yaml")
    assert said.returncode == 0, said.stdout + said.stderr
    assert "from the 32-strip theatre desk to the 48-strip theatre desk" in said.stdout
    document = json.loads(_run(tmp_path, "48-strip theatre desk", "--for", "show.yaml", "--json").stdout)
    (ports,) = (change for change in document["changes"] if change["kind"] == "ports")
    assert ports == {
        "kind": "ports",
        "what": "loop Lamp",
        "was": "send aux out 1, return aux in 1",
        "becomes": "send insert out 1, return insert in 1",
    }


def test_the_same_desk_changes_nothing(tmp_path: Path) -> None:
    """And says so."""
    said = _run(tmp_path, "32-strip theatre desk", "--for", "show.yaml")
    assert said.returncode == 0 and "Nothing changes." in said.stdout


def test_what_does_not_fit_there_is_an_error_with_its_line(tmp_path: Path) -> None:
    """The rack has a network where the show connects to a card."""
    said = _run(tmp_path, "24-strip rack desk", "--for", "show.yaml")
    assert said.returncode == 1
    assert "show.yaml:5" in said.stderr and "cannot be planned on '24-strip rack desk'" in said.stderr


def test_a_desk_must_be_named(tmp_path: Path) -> None:
    """Without a type there is nothing to compare with; a type that is none is named with the nearest."""
    assert _run(tmp_path, "--for", "show.yaml").returncode == 2
    lost = _run(tmp_path, "48-strip theater desk", "--for", "show.yaml")
    assert lost.returncode == 1 and "48-strip theatre desk" in lost.stdout + lost.stderr
