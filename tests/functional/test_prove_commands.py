"""`sidetrip signal`, `stand-in` and `prove`, end to end on the demo show."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from sidetrip.adapters.audio_files import AudioFiles

DEMO = Path(__file__).parent.parent.parent / "demo" / "tin-lantern" / "show.yaml"


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run the command in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "sidetrip", *words], cwd=cwd, capture_output=True, text=True, check=False, timeout=120
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo show, its test signal, and two recordings: one sound, one with a fault."""
    place = tmp_path_factory.mktemp("proving")
    (place / "show").mkdir()
    shutil.copy(DEMO, place / "show" / "show.yaml")
    assert run("signal", "show", "loops", cwd=place).returncode == 0
    assert run("stand-in", "show", "--out", "good.wav", cwd=place).returncode == 0
    assert run("stand-in", "show", "--fault", "inverted: Narrator", "--out", "bad.wav", cwd=place).returncode == 0
    return place


def test_the_signal_is_made_once_and_says_how_to_play_it(folder: Path) -> None:
    """Mutes first, then what to re-patch; a second run leaves the file as it is."""
    file = folder / "show" / "proofs" / "loops-test.wav"
    before = file.stat().st_mtime_ns
    done = run("signal", "show", cwd=folder)
    assert done.returncode == 0
    assert "Mute the PA at its amplifiers" in done.stdout
    assert "source of card out 17-24" in done.stdout
    assert "left as it is" in done.stdout
    assert file.stat().st_mtime_ns == before
    document = json.loads(run("signal", "show", "--json", cwd=folder).stdout)
    assert [row["port"] for row in document["signal"]["enter"]][:2] == ["stage 7", "stage 8"]


def test_a_sound_take_passes_and_a_broken_one_fails(folder: Path) -> None:
    """Exit code 0 and 1; the fault is named with what to do, and both proofs are kept."""
    good = run("prove", "show", "--recording", "good.wav", cwd=folder)
    assert good.returncode == 0, good.stdout + good.stderr
    assert "5 loop legs were asked: 5 pass." in good.stdout
    bad = run("prove", "show", "--recording", "bad.wav", "--paper", "paper", cwd=folder)
    assert bad.returncode == 1
    assert "It comes back inverted" in bad.stdout
    assert (folder / "paper" / "proof-sheet.pdf").is_file()
    kept = sorted((folder / "show" / "proofs").glob("loops-2*.json"))
    assert kept
    assert "Traceback" not in bad.stdout + bad.stderr


def test_json_is_strict_and_says_the_same(folder: Path) -> None:
    """The verdict of each leg, and no number that JSON does not know."""
    done = run("prove", "show", "--recording", "bad.wav", "--no-keep", "--json", cwd=folder)
    document = json.loads(done.stdout, parse_constant=pytest.fail)
    legs = {(leg["loop"], leg["side"]): leg for leg in document["proof"]["legs"]}
    assert legs["Narrator", ""]["delay_s"] == pytest.approx(349 / 48000, abs=1e-7)
    assert "proof-failed" in [finding["code"] for finding in document["findings"]]


def test_adopting_writes_what_was_measured_and_plans_again(folder: Path, tmp_path: Path) -> None:
    """Two lines of the show change; everything else stays, and the show still plans."""
    show = tmp_path / "show"
    shutil.copytree(folder / "show", show)
    before = (show / "show.yaml").read_text("utf-8").splitlines()
    done = run("prove", "show", "--recording", str(folder / "good.wav"), "--adopt", cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    after = (show / "show.yaml").read_text("utf-8").splitlines()
    changed = [line for line in after if line not in before]
    assert len(changed) == 2
    assert "{is: 331, standing: proven}" in changed[0]
    assert "standing: proven" in changed[1]
    assert "What adopting changed" in done.stdout
    assert run("plan", "show", cwd=tmp_path).returncode == 0


def test_the_recording_may_be_many_mono_files(folder: Path, tmp_path: Path) -> None:
    """A folder of one file a track is the same recording."""
    tracks = tmp_path / "tracks"
    tracks.mkdir()
    with AudioFiles().open([str(folder / "good.wav")]) as recording:
        samples = recording.read()
    for number in range(samples.shape[1]):
        AudioFiles().write_wave(str(tracks / f"Track {number + 1}.wav"), [samples[:, number : number + 1]], 48_000, 1)
    done = run("prove", "show", "--recording", str(tracks), "--no-keep", cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--recording", "lost.wav"), "lost.wav"),
        (("--recording", "show/show.yaml"), "no audio file"),
        (("--recording", "good.wav", "--take", "lops"), "loops"),
        (("--recording", "good.wav", "--signal", "good.wav"), "no test signal"),
        (("--recording", "show/proofs/loops-test.wav"), "tracks"),
    ],
    ids=["missing", "no sound", "no take", "no signal", "too few tracks"],
)
def test_what_cannot_be_proven_is_said_in_words(folder: Path, words: tuple[str, ...], said: str) -> None:
    """What was found, the values, what to do; exit code 1, nothing written, no traceback."""
    done = run("prove", "show", *words, cwd=folder)
    assert done.returncode == 1
    assert said in done.stderr
    assert "Nothing was proven" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_fault_that_is_none_is_refused_with_the_list(folder: Path) -> None:
    """The names of all faults, and nothing is written."""
    done = run("stand-in", "show", "--fault", "gremlins", "--out", "never.wav", cwd=folder)
    assert done.returncode == 1
    assert "shifted by one" in done.stderr
    assert not (folder / "never.wav").exists()
