"""The pure packages touch nothing of the machine while they work: no file, socket, process or database."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from purity_driver import PURE, Answer

HERE = Path(__file__).parent
ROOT = HERE.parent
SHOW = ROOT / "demo" / "tin-lantern" / "show.yaml"
DESKS = ROOT / "src" / "sidetrip" / "desks"
# Python 3.11 raises no event when a thread is started.
THREAD = [("threading.Thread(target=int).start()", "_thread.start_")] if sys.version_info >= (3, 12) else []


@pytest.fixture(scope="module")
def answer() -> Answer:
    """What the driver says of the demo show and every desk that ships."""
    texts = {
        "show": SHOW.read_text("utf-8"),
        "desks": {path.name: path.read_text("utf-8") for path in sorted(DESKS.glob("*.yaml"))},
    }
    answer: Answer = json.loads(_python(str(HERE / "purity_driver.py"), text=json.dumps(texts)))
    return answer


def test_planning_touches_nothing_of_the_machine(answer: Answer) -> None:
    """A show goes in as text and a plan comes out, with no audit event of the kinds watched in between."""
    assert not answer["touched"], "\n".join(answer["touched"])


def test_every_pure_package_was_run(answer: Answer) -> None:
    """The driver calls into each of them: one that is never run would pass for nothing."""
    assert answer["reached"] == list(PURE)


@pytest.mark.parametrize(
    ("sin", "event"),
    [
        ("open(os.devnull)", "open"),
        ("pathlib.Path(os.devnull).read_bytes()", "open"),
        ("socket.socket().close()", "socket.__new__"),
        ("subprocess.run([sys.executable, '-c', ''])", "subprocess.Popen"),
        ("sqlite3.connect(':memory:')", "sqlite3.connect"),
        ("os.listdir()", "os.listdir"),
        *THREAD,
    ],
)
def test_the_hook_catches(sin: str, event: str) -> None:
    """Each kind of touch is seen and named: otherwise an empty answer would mean nothing."""
    touched = _touched_by(sin)
    assert any(touch.startswith(event) for touch in touched), touched


def test_the_hook_lets_arithmetic_pass() -> None:
    """What touches nothing is not blamed for what was touched before the hook was armed."""
    assert _touched_by("sum(range(9))") == []


def _touched_by(expression: str) -> list[str]:
    program = (
        "import json, os, pathlib, socket, sqlite3, subprocess, sys, threading\n"
        "from purity_driver import touched_by\n"
        "open(os.devnull).close()\n"
        f"print(json.dumps(touched_by(lambda: {expression})))\n"
    )
    touched: list[str] = json.loads(_python("-c", program))
    return touched


def _python(*arguments: str, text: str = "") -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        input=text,
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(HERE), "PYTHONUTF8": "1"},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout
