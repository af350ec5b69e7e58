"""The commands as a person runs them: real processes, real files, the demo show."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from ruamel.yaml import YAML

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern" / "show.yaml"
DESK = ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml"
SCHEMA = ROOT / "docs" / "reference" / "plan.schema.json"


def run(*words: str, cwd: Path | None = None, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "sidetrip", *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env={**os.environ, "COLUMNS": "100", **environment},
    )


def strict(text: str) -> Any:
    """Parse JSON as a strict reader does: no NaN, no Infinity, no doubled keys."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        assert len(dict(pairs)) == len(pairs)
        return dict(pairs)

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    return json.loads(text, object_pairs_hook=once, parse_constant=refuse)


@pytest.fixture(scope="module")
def demo_plan() -> dict[str, Any]:
    """Return the demo's plan as JSON."""
    done = run("plan", str(DEMO), "--json")
    assert done.returncode == 0, done.stderr
    document = strict(done.stdout)
    assert isinstance(document, dict)
    return document


def test_help_names_every_command() -> None:
    """The help lists the four commands and exits with 0."""
    done = run("--help")
    assert done.returncode == 0
    for command in ("new", "check", "plan", "desks"):
        assert f" {command} " in done.stdout


def test_wrong_usage_exits_with_2() -> None:
    """An unknown option or a missing argument is usage, not a finding."""
    assert run("plan", str(DEMO), "--no-such-option").returncode == 2
    assert run("plan").returncode == 2
    assert run("plan", str(DEMO), "--buffer", "0").returncode == 2


def test_plan_json_follows_its_schema(demo_plan: dict[str, Any]) -> None:
    """The published schema describes what is printed, with no key left over on either side."""
    schema = strict(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(demo_plan, schema)
    broken = {**demo_plan, "surprise": 1}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, schema)


def test_demo_shows_the_main_job(demo_plan: dict[str, Any]) -> None:
    """The demo serves the must, refuses two or more, keeps what must stay, and has steps, undo and recovery."""
    plan = demo_plan["plan"]
    out = {loop["strip"]: loop for loop in plan["loops"]}
    assert "Main" in out
    assert {unit["name"] for unit in plan["units"]} == {"laptop", "valve compressor"}
    assert {loop["unit"] for loop in plan["loops"]} == {"laptop", "valve compressor"}
    assert len(plan["refusals"]) >= 2
    assert all(refusal["reason"] for refusal in plan["refusals"])
    used = {loop["return"] for loop in plan["loops"]}
    assert not used & {"aux in 7", "aux in 8", "aux in 7-8"}
    assert plan["steps"] and plan["undo"] and plan["recovery"]["presses"]
    kinds = {meeting["kind"] for meeting in plan["meetings"] if meeting["all_in"]["verdict"] == "apart"}
    assert {"main and sub", "electrical", "picture"} <= kinds


def test_the_demos_main_loop_adds_up_by_hand(demo_plan: dict[str, Any]) -> None:
    """Main is late by 331 measured frames, 18 frames of desk hops and 48 declared by its chain: 397 at 48 kHz."""
    main = next(loop for loop in demo_plan["plan"]["loops"] if loop["strip"] == "Main")
    hops = 4 + 5 + 5 + 4  # insert to aux out, aux out to card out, card in to aux in, aux in to insert
    expected_ms = (331 + hops + 48) / 48
    assert main["delay"]["low_ms"] == pytest.approx(expected_ms, abs=1e-6)
    assert main["delay"]["standing"] == "assumed"  # the hops are: a total is as weak as its weakest part


def _shuffled(data: Any, draw: random.Random, key: str = "") -> None:
    """Shuffle every list in a show but the order of processors in a chain, which is the order of the signal."""
    if isinstance(data, dict):
        for name, value in data.items():
            if name != "chains":
                _shuffled(value, draw, name)
    elif isinstance(data, list):
        for value in data:
            _shuffled(value, draw, key)
        draw.shuffle(data)


def test_plan_json_is_the_same_bytes_whatever_the_order(tmp_path: Path) -> None:
    """Three runs with three hash seeds and every list of the file shuffled print the same bytes."""
    yaml = YAML()
    printed = set()
    for seed in range(3):
        data = yaml.load(DEMO)
        if seed:
            _shuffled(data, random.Random(seed))
        file = tmp_path / "show.yaml"
        with file.open("w", encoding="utf-8") as stream:
            yaml.dump(data, stream)
        done = run("plan", str(file), "--json", PYTHONHASHSEED=str(seed))
        assert done.returncode == 0, done.stderr
        printed.add(done.stdout)
    assert len(printed) == 1


def test_plan_loads_nothing_heavy_that_it_does_not_use() -> None:
    """Planning loads no scipy.signal, no numba, no web or audio library and no typesetter."""
    code = (
        "import sys\n"
        "sys.argv = ['sidetrip', 'plan', sys.argv[1], '--json']\n"
        "from sidetrip.cli.main import run\n"
        "try:\n    run()\n"
        "except SystemExit as end:\n    assert not end.code, end.code\n"
        "print('\\n'.join(sorted(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(DEMO)], capture_output=True, text=True, check=True)
    loaded = set(done.stderr.split())
    assert "scipy.optimize" in loaded  # so that the check can fail
    heavy = {"scipy.signal", "numba", "llvmlite", "fastapi", "starlette", "uvicorn", "jinja2", "soundfile", "soxr"}
    heavy |= {"sounddevice", "jack", "typst", "fontTools", "mido", "pythonosc"}
    assert not loaded & heavy


def test_help_loads_nothing_of_the_plan() -> None:
    """The help comes without the solver, the models or the YAML reader."""
    code = (
        "import sys\nsys.argv = ['sidetrip', '--help']\nfrom sidetrip.cli.main import run\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\nprint('\\n'.join(sys.modules), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not set(done.stderr.split()) & {"numpy", "scipy", "pydantic", "ruamel.yaml"}


def test_readable_summary_fits_eighty_columns() -> None:
    """The summary answers the engineer's questions and breaks no line beyond the terminal."""
    done = run("plan", str(DEMO), COLUMNS="80")
    assert done.returncode == 0
    for question in ("Who goes out", "Who stays in", "When does it arrive", "What is heard twice", "If it dies"):
        assert question in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


def test_buffer_and_rate_on_the_command_line_change_the_times(demo_plan: dict[str, Any]) -> None:
    """A larger buffer makes the loops later; a rate the desk lacks is a finding."""
    later = strict(run("plan", str(DEMO), "--json", "--buffer", "128").stdout)["plan"]
    delays = [
        next(loop["delay"]["low_ms"] for loop in plan["loops"] if loop["strip"] == "Main")
        for plan in (demo_plan["plan"], later)
    ]
    assert delays[1] - delays[0] == pytest.approx((459 - 331) / 48, abs=1e-6)
    slow = strict(run("plan", str(DEMO), "--json", "--rate", "44100").stdout)
    assert "rate-unlike" in {finding["code"] for finding in slow["findings"]}
    wrong = run("plan", str(DEMO), "--json", "--rate", "96000")
    assert wrong.returncode == 1
    assert strict(wrong.stdout)["plan"] is None


def _demo_with(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    text = DEMO.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file = tmp_path / "show.yaml"
    file.write_text(text, encoding="utf-8")
    return file


BAD: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "file-empty"),
    "only comments": (b"# nothing\n", "file-empty"),
    "binary": (bytes(range(256)), "file-unreadable"),
    "a list": (b"- 1\n- 2\n", "value-wrong"),
    "one word": (b"show\n", "value-wrong"),
    "no version": (b"show: x\n", "version-unknown"),
    "wrong types": (b"sidetrip: 1\nshow: x\nsample_rate: fast\ndesk: 7\n", "value-wrong"),
    "large": (b"# " + b"x" * 1_100_000, "file-too-large"),
}


@pytest.mark.parametrize("case", sorted(BAD))
def test_bad_files_give_a_finding_and_exit_1(case: str, tmp_path: Path) -> None:
    """A file that is no show gives a finding with what to do, exit code 1, no traceback and no paper."""
    content, code = BAD[case]
    file = tmp_path / "show.yaml"
    file.write_bytes(content)
    paper = tmp_path / "paper"
    done = run("plan", str(file), "--json", "--paper", str(paper))
    assert done.returncode == 1
    findings = strict(done.stdout)["findings"]
    assert code in {finding["code"] for finding in findings}
    assert all(finding["remedy"] for finding in findings)
    assert not paper.exists()
    words = run("plan", str(file))
    assert words.returncode == 1
    assert "Traceback" not in words.stderr + words.stdout
    assert str(file) in words.stderr.replace("\n", "")


def test_missing_file_and_folder_without_a_show(tmp_path: Path) -> None:
    """A path that leads nowhere is a finding that says how to start one."""
    for path in (tmp_path / "no.yaml", tmp_path):
        done = run("check", str(path))
        assert done.returncode == 1
        assert "sidetrip new" in done.stdout


def test_impossible_musts_name_the_set_that_conflicts(tmp_path: Path) -> None:
    """Musts that cannot be met together are named, with the keep that would have to go."""
    file = _demo_with(tmp_path, ("want: 8}", "want: must}"), ("want: 7}", "want: must}"))
    done = run("plan", str(file), "--json")
    assert done.returncode == 1
    (conflict,) = [f for f in strict(done.stdout)["findings"] if f["code"] == "musts-conflict"]
    assert all(f"'{strip}'" in conflict["what"] for strip in ("Main", "Stream", "Chorus"))
    assert "if aux in 7-8 did not stay for interval music" in conflict["what"]


def test_a_show_without_requests_plans_to_nothing(tmp_path: Path) -> None:
    """No loop asked for is a note, and the plan still tells when everything arrives."""
    text = DEMO.read_text(encoding="utf-8")
    start, end = text.index("requests:\n"), text.index("keep:\n")
    file = tmp_path / "show.yaml"
    file.write_text(text[:start] + "requests: []\n\n" + text[end:], encoding="utf-8")
    done = run("plan", str(file), "--json")
    assert done.returncode == 0
    document = strict(done.stdout)
    assert "no-loops" in {finding["code"] for finding in document["findings"]}
    assert document["plan"]["loops"] == [] and document["plan"]["arrivals"]


def test_a_desk_without_insert_points_refuses_every_insert(tmp_path: Path) -> None:
    """On a user's own desk file without insert points a want is refused with that reason, and a must conflicts."""
    text = DESK.read_text(encoding="utf-8").replace("name: 32-strip theatre desk", "name: my desk")
    lines = [line for line in text.splitlines() if not line.strip().startswith("insert: {send_alive")]
    own = "\n".join(lines).replace("gate, eq, insert, compressor", "gate, eq, compressor")
    own = own.replace("order: [insert, eq,", "order: [eq,")
    (tmp_path / "my-desk.yaml").write_text(own, encoding="utf-8")
    file = _demo_with(
        tmp_path,
        ("{type: 32-strip theatre desk}", "{type: my-desk.yaml}"),
        ("want: must}", "want: 9}"),
        (", tap: before insert", ""),
    )
    done = run("plan", str(file), "--json")
    assert done.returncode == 0, done.stdout
    plan = strict(done.stdout)["plan"]
    assert plan["loops"] == []
    assert all("no insert point" in refusal["reason"] for refusal in plan["refusals"])
    must = tmp_path / "must.yaml"
    must.write_text(file.read_text(encoding="utf-8").replace("chain: glue,         want: 9", "chain: glue, want: must"))
    done = run("plan", str(must))
    assert done.returncode == 1
    assert "no insert point" in " ".join(done.stderr.split())


def test_unknown_desk_offers_the_nearest() -> None:
    """A desk type that is not there is named, with the nearest that is."""
    done = run("desks", "32 strip theater desk")
    assert done.returncode == 1
    assert "32-strip theatre desk" in done.stderr


def test_desks_lists_and_shows_standing() -> None:
    """Desk types are listed, and one shows every figure with its standing."""
    listed = run("desks")
    assert listed.returncode == 0 and "32-strip theatre desk" in listed.stdout
    one = run("desks", "32-strip theatre desk")
    assert one.returncode == 0
    assert "assumed" in one.stdout and "unknown" in one.stdout
    document = strict(run("desks", "--json").stdout)
    assert "32-strip theatre desk" in {desk["name"] for desk in document["desks"]}


def test_a_users_own_desk_is_checked_the_same_way(tmp_path: Path) -> None:
    """A desk file that contradicts itself gives findings with its own file and line."""
    text = DESK.read_text(encoding="utf-8").replace("return: aux in 1-8", "return: aux in 1-7")
    (tmp_path / "my-desk.yaml").write_text(text, encoding="utf-8")
    file = _demo_with(tmp_path, ("{type: 32-strip theatre desk}", "{type: my-desk.yaml}"))
    done = run("check", str(file), "--json")
    assert done.returncode == 1
    (finding,) = strict(done.stdout)["findings"]
    assert finding["code"] == "desk-inconsistent" and finding["file"].endswith("my-desk.yaml")
    assert text.splitlines()[finding["line"] - 1].strip().startswith("- {send: aux out 1-8")


def test_check_says_every_finding_with_its_line(tmp_path: Path) -> None:
    """Check names file and line of each mistake, all in one run, and exits with 1."""
    file = _demo_with(tmp_path, ("group: Band}", "group: Bnad}"), ("want: 9}", "want: 19}"))
    done = run("check", str(file), "--json")
    assert done.returncode == 1  # a value out of range stops the reading; the names come after it
    (finding,) = strict(done.stdout)["findings"]
    assert finding["line"] == next(
        number for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1) if "want: 19" in line
    )
    file = _demo_with(tmp_path, ("group: Band}", "group: Bnad}"))
    findings = strict(run("check", str(file), "--json").stdout)["findings"]
    wrong = [finding for finding in findings if finding["code"] == "name-unknown"]
    assert len(wrong) == 2  # bass and keys are written that way
    assert all("Did you mean 'Band'?" in finding["remedy"] for finding in wrong)
    assert run("check", str(DEMO)).returncode == 0


def test_new_starts_a_show_that_plans(tmp_path: Path) -> None:
    """A new show from a spreadsheet's list checks and plans as it stands, and is never overwritten."""
    folder = tmp_path / "my show"
    words = ("new", str(folder), "--desk", "32-strip theatre desk", "--inputs", str(ROOT / "demo" / "input-list.csv"))
    done = run(*words)
    assert done.returncode == 0, done.stderr
    text = (folder / "show.yaml").read_text(encoding="utf-8")
    assert "name: Lamplighter" in text and "port: stage 10" in text and "group: Drums" in text
    assert run("check", str(folder)).returncode == 0
    plan = strict(run("plan", str(folder), "--json").stdout)
    assert "no-loops" in {finding["code"] for finding in plan["findings"]}
    again = run(*words)
    assert again.returncode == 1
    assert (folder / "show.yaml").read_text(encoding="utf-8") == text


def test_new_without_a_list_or_with_a_bad_one(tmp_path: Path) -> None:
    """Without a list the show is short and reads; a bad list writes nothing."""
    assert run("new", str(tmp_path / "a"), "--desk", "32-strip theatre desk").returncode == 0
    assert run("plan", str(tmp_path / "a")).returncode == 0
    (tmp_path / "list.csv").write_text("ch,name\n7,Violin\n7,Reeds\nx,Bass\n", encoding="utf-8")
    done = run("new", str(tmp_path / "b"), "--desk", "32-strip theatre desk", "--inputs", str(tmp_path / "list.csv"))
    assert done.returncode == 1
    assert "line 2" in done.stderr and "line 3" in done.stderr
    assert not (tmp_path / "b").exists()


def test_paper_is_written_whole_and_replaced(tmp_path: Path) -> None:
    """The sheets come as PDF and CSV; a second run replaces them; a stranger's file is not touched."""
    paper = tmp_path / "paper"
    assert run("plan", str(DEMO), "--paper", str(paper)).returncode == 0
    names = sorted(path.name for path in paper.iterdir() if not path.name.startswith("."))
    assert names == sorted(
        f"{stem}.{kind}" for stem in ("patch-sheet", "recovery-card", "timing-sheet") for kind in ("csv", "pdf")
    )
    assert all((paper / name).read_bytes().startswith(b"%PDF") for name in names if name.endswith(".pdf"))
    assert run("plan", str(DEMO), "--paper", str(paper)).returncode == 0
    other = tmp_path / "other"
    other.mkdir()
    (other / names[0]).write_text("mine", encoding="utf-8")
    done = run("plan", str(DEMO), "--paper", str(other))
    assert done.returncode == 1
    assert [path.name for path in other.iterdir()] == [names[0]]
    assert (other / names[0]).read_text(encoding="utf-8") == "mine"


def test_names_that_mean_something_to_the_reader_are_shown_as_typed(tmp_path: Path) -> None:
    """Signs, brackets, markup and formulas in names come out of summary and JSON as they went in."""
    names = ["Bass <DI> & Amp", "+48V OH L", "=Main", "-10 Line", "@Talk", "[bold]x[/bold]", "x" * 120]
    inputs = "\n".join(
        f"  - {{ch: {n}, name: {json.dumps(name)}, port: stage {n}, to: [Main]}}" for n, name in enumerate(names, 1)
    )
    requests = "\n".join(f"  - {{strip: {json.dumps(name)}, chain: c, want: 5}}" for name in names)
    file = tmp_path / "show.yaml"
    file.write_text(
        f"sidetrip: 1\nshow: names\nsample_rate: 48000\ndesk: {{type: 32-strip theatre desk}}\n"
        f"units: [{{name: u, kind: computer, connects: card, aligns: all, buffer: 64}}]\ninputs:\n{inputs}\n"
        "mixes: [{name: Main, kind: main, width: stereo}]\n"
        "outputs: [{name: PA, from: Main, port: local out 1-2}]\n"
        f"chains: {{c: []}}\nrequests:\n{requests}\n",
        encoding="utf-8",
    )
    done = run("plan", str(file), "--json")
    assert done.returncode == 0, done.stdout
    assert {loop["strip"] for loop in strict(done.stdout)["plan"]["loops"]} == set(names)
    words = run("plan", str(file), COLUMNS="200").stdout
    for name in names[:-1]:
        assert name in words


def test_a_copied_show_folder_needs_nothing_else(tmp_path: Path) -> None:
    """A show folder planned from elsewhere, by a relative path, gives the same plan."""
    shutil.copytree(DEMO.parent, tmp_path / "copy")
    assert run("plan", "copy", "--json", cwd=tmp_path).stdout == run("plan", str(DEMO), "--json").stdout
