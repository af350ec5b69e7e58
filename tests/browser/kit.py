"""The page as a person meets it: the real program in its own process, and a real browser that reaches nothing else.

What a visit leaves behind is held against three rules at its end: no error in the browser's console, none in the page's
own code, and no request that went anywhere but to the program.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import IO, Any
from urllib.error import URLError
from urllib.request import urlopen

from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Request, WebError

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "tin-lantern" / "show.yaml"
NOTES = ".sidetrip-page.json"
CHROMIUM = shutil.which("chromium")
PATIENCE_S = 30.0
PATIENCE_MS = PATIENCE_S * 1000
PHONE, LAPTOP = (360, 780), (1280, 900)
PARTS = ("who", "when", "die", "paper")

REFUSED = "the server responded with a status of 4"
"""What the browser itself writes into its console when the program refuses something."""
NOBODY_THERE = "net::ERR_"
"""What it writes when the program is gone."""


def browser_words(*reached: str) -> list[str]:
    """Return the words to start the browser with: every name and address but these leads nowhere."""
    excluded = "".join(f", EXCLUDE {address}" for address in ("127.0.0.1", *reached))
    return ["--no-sandbox", f"--host-resolver-rules=MAP * ~NOTFOUND{excluded}"]


def free_port() -> int:
    """Return a port that nobody listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait_for(what: str, true: Callable[[], Any]) -> Any:
    """Wait until something outside the browser is so, and return it."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        found = true()
        if found:
            return found
        time.sleep(0.03)
    raise AssertionError(f"not within {PATIENCE_S:g} s: {what}")


@dataclass(slots=True)
class Program:
    """`sidetrip page` in a process of its own. folder: where shows lie. show: the folder of the show, None for none."""

    folder: Path
    show: Path | None = None
    words: tuple[str, ...] = ()
    port: int = field(default_factory=free_port)
    _process: subprocess.Popen[bytes] | None = None
    _out: IO[bytes] | None = None

    @property
    def address(self) -> str:
        """Where the page is, without a slash at its end."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def file(self) -> Path:
        """The show file."""
        assert self.show is not None
        return self.show / "show.yaml"

    @property
    def says(self) -> str:
        """What it has printed so far."""
        return (self.folder / "printed.txt").read_text("utf-8")

    def start(self) -> None:
        """Start it, and wait until it answers."""
        shows = [] if self.show is None else [str(self.show)]
        words = ["page", *shows, "--folder", str(self.folder), "--no-browser", "--port", str(self.port), *self.words]
        self._out = (self.folder / "printed.txt").open("wb")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "sidetrip", *words],
            stdout=self._out,
            stderr=subprocess.STDOUT,
            cwd=self.folder,
            env={**os.environ, "COLUMNS": "200"},
        )
        wait_for("the program answers", self._answers)

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, self.says
        try:
            self.get("/api/state")
        except (URLError, OSError):
            return False
        return True

    def get(self, path: str) -> Any:
        """Return the JSON of an answer."""
        with urlopen(self.address + path, timeout=PATIENCE_S) as answer:
            return json.load(answer)

    def work(self, kind: str) -> dict[str, Any] | None:
        """Return the last long work of a kind, None where there was none."""
        return next((job for job in self.get("/api/jobs") if job["kind"] == kind), None)

    def settle(self) -> None:
        """Wait until what there is to dial is known: the page shows itself anew when it is."""
        with urlopen(f"{self.address}/", timeout=PATIENCE_S):  # whoever opens the page has it begun
            pass
        wait_for("what to dial is known", self._dialled)

    def _dialled(self) -> bool:
        job = self.work("dial")
        assert job is None or job["state"] in ("running", "done"), job
        return bool(self.get("/api/state")["aligned"])

    def stop(self) -> None:
        """Stop it as the machine does when it shuts down."""
        if self._process is not None:
            self._process.terminate()
        self._end()

    def kill(self) -> None:
        """Stop it without a word."""
        if self._process is not None:
            self._process.kill()
        self._end()

    def _end(self) -> None:
        if self._process is not None:
            self._process.wait(PATIENCE_S)
        if self._out is not None:
            self._out.close()
        self._process = self._out = None

    def restore(self, text: str) -> None:
        """Put a show back as it was, and forget ticks and undo."""
        assert self.show is not None
        (self.show / NOTES).unlink(missing_ok=True)
        if self.file.read_text("utf-8") != text:
            self.file.write_text(text, "utf-8")


def demo_in(folder: Path) -> Path:
    """Copy the demo into a folder of shows, and return its own folder."""
    show = folder / "tin-lantern"
    show.mkdir(parents=True)
    shutil.copy(DEMO, show / "show.yaml")
    return show


@dataclass
class Visit:
    """What a browser did during a test. allowed: parts of console errors that belong to what is tried."""

    home: tuple[str, ...]
    allowed: tuple[str, ...] = ()
    asked: list[str] = field(default_factory=list)
    _console: list[str] = field(default_factory=list)
    _errors: list[str] = field(default_factory=list)

    def follow(self, context: BrowserContext) -> None:
        """Write down what happens in a context from now on."""
        context.on("request", self._request)
        context.on("console", self._said)
        context.on("weberror", self._failed)

    def _request(self, request: Request) -> None:
        self.asked.append(request.url)

    def _said(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self._console.append(message.text)

    def _failed(self, error: WebError) -> None:
        self._errors.append(str(error.error))

    def judge(self) -> None:
        """Hold it all against the rules."""
        assert self._errors == []
        assert [text for text in self._console if not any(own in text for own in self.allowed)] == []
        assert self.asked, "no request was seen: the log is not what it should be"
        assert [url for url in self.asked if not url.startswith(tuple(f"{home}/" for home in self.home))] == []


def axe_findings(page: Page) -> list[str]:
    """Return what axe-core finds on a page as it is now: rule, place and why."""
    if not page.evaluate("'axe' in window"):
        page.evaluate((resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8"))
    found = page.evaluate(
        "axe.run(document, {resultTypes: ['violations'], rules: {'target-size': {enabled: true}}}).then((own) => "
        "own.violations.flatMap((rule) => rule.nodes.map((node) => "
        "`${rule.id}: ${node.target}: ${node.failureSummary}`)))"
    )
    assert isinstance(found, list)
    return [str(own) for own in found]


def tab_to(page: Page, selector: str, most: int = 200) -> int:
    """Press Tab until a place has the focus, as somebody without a mouse does; return how often."""
    for pressed in range(1, most + 1):
        page.keyboard.press("Tab")
        if page.evaluate("(own) => document.activeElement.matches(own)", selector):
            return pressed
    raise AssertionError(f"{selector} is not reached within {most} presses of Tab")


def wide(page: Page) -> int:
    """Return by how many pixels the document is wider than the window."""
    wider = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert isinstance(wider, int)
    return wider


def show_part(page: Page, part: str) -> None:
    """Go to a part by the row of questions."""
    page.locator(f'.questions a[href="#{part}"]').click()
    page.locator(f"#{part}").wait_for()


def ready(page: Page) -> Page:
    """Wait until the page's own code has set itself up, and what to dial is in it."""
    page.wait_for_selector("html.scripted")
    page.locator(".job[data-job=dial]").wait_for(state="detached")
    return page
