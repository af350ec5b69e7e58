"""`sidetrip why` and `sidetrip questions`, run as a person runs them."""

import csv
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "demo" / "tin-lantern"


def _run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "sidetrip", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False, cwd=ROOT)


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """Return a copy of the demo show."""
    folder = tmp_path / "show"
    folder.mkdir()
    shutil.copy(DEMO / "show.yaml", folder)
    return folder


def test_why_a_strip_goes_out() -> None:
    """Its ports, why these, what it displaces and what flips it."""
    done = _run("why", DEMO, "Lamplighter")
    assert done.returncode == 0, done.stderr
    for words in ("It goes out to laptop: send aux out 3, return aux in 3", "displaces", "it flips", "because"):
        assert words in done.stdout


def test_why_a_strip_stays_in_and_as_json() -> None:
    """The reason and the changes, in words and as strict JSON."""
    done = _run("why", DEMO, "stream")
    assert "It stays in: an odd-even pair of ports is needed" in done.stdout
    document = json.loads(_run("why", DEMO, "Stream", "--json").stdout)
    (request,) = document["requests"]
    assert request["goes_out"] is False
    assert request["would_fit_if"][0].endswith("Interval moved to stick player 1-2")
    assert set(request) == {
        "way", "want", "goes_out", "reason", "would_fit_if", "pair", "tried", "with_it", "flips",
    }  # fmt: skip


def test_a_strip_that_asks_for_nothing_and_one_that_is_not_there() -> None:
    """The first is said to ask for nothing; for the second the nearest name is offered, and the status is 1."""
    assert "It asks for nothing" in _run("why", DEMO, "Kick in").stdout
    done = _run("why", DEMO, "Streem")
    assert done.returncode == 1
    assert "There is" not in done.stdout
    assert "Did you mean 'Stream'?" in done.stderr
    document = json.loads(_run("why", DEMO, "Streem", "--json").stdout)
    assert [finding["code"] for finding in document["findings"]] == ["name-unknown"]


def test_questions_go_out_come_back_and_go_into_the_show(show: Path, tmp_path: Path) -> None:
    """Asked, answered in a list, first only looked at, then written: one line of the show changes, and it is known."""
    out = tmp_path / "house.csv"
    done = _run("questions", show, "--out", out)
    assert done.returncode == 0, done.stderr
    rows = list(csv.reader(out.read_text("utf-8").splitlines()))
    assert rows[0] == ["question id", "question", "why it matters", "answer", "by whom", "date"]
    assert 1 < len(rows) <= 13
    (key,) = [row for row in rows if row[0] == "one key"]
    key[3:] = ["no", "house engineer", "2026-11-20"]
    with out.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    before = (show / "show.yaml").read_text("utf-8")
    looked = _run("questions", show, "--answers", out)
    assert looked.returncode == 0, looked.stderr
    assert "no key takes loops OUT at once" in " ".join(looked.stdout.split())
    assert "add --write" in looked.stdout
    assert (show / "show.yaml").read_text("utf-8") == before
    written = _run("questions", show, "--answers", out, "--write", "--json")
    assert json.loads(written.stdout)["written"] is True
    after = (show / "show.yaml").read_text("utf-8")
    changed = [pair for pair in zip(before.splitlines(), after.splitlines(), strict=True) if pair[0] != pair[1]]
    assert len(changed) == 1
    assert "one key" not in _run("questions", show).stdout
    assert _run("check", show).returncode == 0


def test_a_list_that_cannot_be_taken_changes_nothing(show: Path, tmp_path: Path) -> None:
    """An answer without a name behind it is refused with its line, and the show stays as it is."""
    out = tmp_path / "house.csv"
    out.write_text("question id,answer,by whom,date\none key,no,,2026-11-20\n", "utf-8")
    before = (show / "show.yaml").read_text("utf-8")
    done = _run("questions", show, "--answers", out, "--write")
    assert done.returncode == 1
    assert f"{out}:2" in "".join(done.stderr.split())
    assert "Nothing was written." in done.stderr
    assert (show / "show.yaml").read_text("utf-8") == before


def test_questions_never_write_over_a_list(show: Path, tmp_path: Path) -> None:
    """A list that is there may hold answers: it is left alone, and the status is 1."""
    out = tmp_path / "house.csv"
    out.write_text("mine", "utf-8")
    done = _run("questions", show, "--out", out)
    assert done.returncode == 1
    assert out.read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("options", "words"),
    [(("--write",), "without --answers"), (("--out", "a.csv", "--answers", "b.csv"), "Leave one of them out")],
)
def test_options_that_do_not_go_together(options: tuple[str, ...], words: str) -> None:
    """Said, with status 2."""
    done = _run("questions", DEMO, *options)
    assert done.returncode == 2
    assert words in " ".join(done.stderr.split())


def test_the_plan_says_shortly_what_else_could_be() -> None:
    """Behind who stays in: the next best, what flips, and what one more would serve."""
    done = _run("plan", DEMO)
    words = " ".join(done.stdout.split())
    assert "What else could be" in words
    assert "next best Stream (8) goes out" in words
    assert "one more pair out and back to laptop serves Stream" in words
