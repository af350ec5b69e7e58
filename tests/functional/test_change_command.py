"""`sidetrip change` as a person runs it: real processes, real files."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern" / "show.yaml"


def _run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "sidetrip", *words], capture_output=True, text=True, check=False)


def _other_night(folder: Path, *changes: tuple[str, str]) -> Path:
    """Write the demo with some of its text changed, without its takes, which are of the loops of the first night."""
    text = DEMO.read_text("utf-8")
    text = text[: text.index("# How the loops are proven")]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "show.yaml"
    path.write_text(text, "utf-8")
    return path


def test_another_night_is_said_in_words_and_in_json(tmp_path: Path) -> None:
    """The daughter sings in place of the narrator: by hand, five things differ, and all keep their own order."""
    change = ("{strip: Narrator,    chain: spoken word,  want: 6}", "{strip: Daughter, chain: spoken word, want: 6}")
    other = _other_night(tmp_path, change, ("[Lamplighter, Narrator]", "[Lamplighter, Daughter]"))
    done = _run("change", str(other), "--from", str(DEMO))
    assert done.returncode == 0, done.stderr
    assert "no fewer can do it" in done.stdout
    done = _run("change", str(other), "--from", str(DEMO), "--json")
    document = json.loads(done.stdout)
    assert (document["from"], document["to"], document["findings"]) == ("The Tin Lantern", "The Tin Lantern", [])
    found = document["change"]
    assert (found["changed"], found["steps_counted"], found["fewest"], found["out_for_the_time"]) == (6, 6, True, [])
    assert [(step["kind"], step["item"]) for step in found["steps"]] == [
        ("safety", "desk as found"),
        ("safety", "all outputs and ears"),
        ("out", "Narrator: INSERT key of the strip"),
        ("assign", "Narrator"),
        ("assign", "Daughter"),
        ("prove", "what is new: Daughter"),
        ("in", "Daughter: INSERT key of the strip"),
        ("key", "key 7"),
        ("key", "key 8"),
        ("open", "all outputs and ears"),
    ]


def test_the_same_show_is_nothing_to_do() -> None:
    """No step, exit code 0."""
    done = _run("change", str(DEMO), "--from", str(DEMO))
    assert done.returncode == 0
    assert "Nothing: the desk is patched as it has to be." in done.stdout


def test_two_desks_and_a_broken_show_are_findings(tmp_path: Path) -> None:
    """Exit code 1, what was found and what to do, and strict JSON all the same."""
    desk = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
    (tmp_path / "own.yaml").write_text(desk.replace("name: 32-strip theatre desk", "name: own desk"), "utf-8")
    other = _other_night(tmp_path, ("{type: 32-strip theatre desk}", "{type: own.yaml}"))
    done = _run("change", str(other), "--from", str(DEMO))
    assert done.returncode == 1
    assert "Undo the one plan, then patch the other" in " ".join(done.stderr.split())
    broken = _other_night(tmp_path, ("show: The Tin Lantern", "shoe: The Tin Lantern"))
    done = _run("change", str(broken), "--from", str(DEMO), "--json")
    assert done.returncode == 1
    document = json.loads(done.stdout)
    assert document["change"] is None and document["findings"]
