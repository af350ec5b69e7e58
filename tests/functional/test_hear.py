"""`sidetrip hear`: real files out of the demo show, measured."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from sidetrip.dsp.loudness import integrated_lufs

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern" / "show.yaml"


def _run(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "sidetrip", "hear", str(DEMO), *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def click(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a recording of one click a second in noise that nobody hears, two tracks, the second silent."""
    path = tmp_path_factory.mktemp("hear") / "click.wav"
    sound = np.zeros((4 * 48_000, 1))
    sound[4_800::48_000] = 0.5
    soundfile.write(path, sound, 48_000, subtype="FLOAT")
    return path


def test_a_meeting_is_in_the_files_as_the_plan_has_it(click: Path, tmp_path: Path) -> None:
    """A click comes out once for each copy, as late as the command says, to a frame."""
    done = _run("daughter@Encoder", "--file", str(click), "--out", str(tmp_path / "hear"), "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)["hear"]
    assert [own["name"] for own in document["files"]][:2] == ["planned", "out"]
    for own in document["files"]:
        sound, rate = soundfile.read(own["path"])
        assert rate == 48_000
        first = min(copy["late_ms"] for copy in own["copies"])
        loudest = max(copy["level_db"] for copy in own["copies"])
        for copy in own["copies"]:
            at = 4_800 + (copy["late_ms"] - first) * 48
            heard = np.abs(sound[int(at) - 1 : int(at) + 3]).max()
            if copy["level_db"] > loudest - 20:
                assert heard > 0.02 * np.abs(sound).max(), copy


def test_all_files_are_equally_loud_and_none_peaks(tmp_path: Path) -> None:
    """Within a tenth of a LU, and 1 dB under full scale."""
    done = _run("lamplighter@Encoder", "--out", str(tmp_path), "--json")
    document = json.loads(done.stdout)["hear"]
    assert document["of"] == "a phrase of the program's own"
    assert len(document["files"]) >= 2
    for own in document["files"]:
        sound, rate = soundfile.read(own["path"])
        assert integrated_lufs(sound, rate) == pytest.approx(document["lufs"], abs=0.1)
        assert np.abs(sound).max() <= 10 ** (-0.99 / 20)


def test_a_name_that_is_not_there_is_told_with_those_that_are(tmp_path: Path) -> None:
    """A source, a place, and no sign between them."""
    for words, told in (("snar@row F", "snare"), ("snare@row Z", "row F"), ("snare", "@")):
        done = _run(words, "--out", str(tmp_path / "none"))
        assert done.returncode == 1
        assert told in " ".join(done.stderr.split())
    assert not (tmp_path / "none").exists()


def test_what_is_there_is_not_overwritten(tmp_path: Path) -> None:
    """A folder of somebody's own keeps its files."""
    assert _run("snare@PA", "--out", str(tmp_path)).returncode == 0
    again = _run("snare@PA", "--out", str(tmp_path))
    assert again.returncode == 1
    assert "snare-at-pa-planned.wav" in again.stderr.replace("\n", "")


def test_a_file_that_is_no_recording_is_a_finding(tmp_path: Path) -> None:
    """Three parts, no traceback."""
    bad = tmp_path / "bad.wav"
    bad.write_text("no sound")
    done = _run("snare@PA", "--file", str(bad), "--out", str(tmp_path / "out"))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "bad.wav" in done.stderr.replace("\n", "")


def test_a_silent_recording_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    """There is nothing to make as loud as the rest."""
    soundfile.write(tmp_path / "silent.wav", np.zeros(48_000), 48_000)
    done = _run("snare@PA", "--file", str(tmp_path / "silent.wav"), "--out", str(tmp_path / "out"))
    assert done.returncode == 1
    assert "silent" in done.stderr
    assert not (tmp_path / "out").exists()
