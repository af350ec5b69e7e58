"""One browser a file, one program on the demo a file, and what every visit is held against at its end."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from browser.kit import CHROMIUM, DEMO, LAPTOP, PATIENCE_MS, Program, Visit, browser_words, demo_in, ready

Open = Callable[..., Page]
expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Return a browser for which no name but the loopback's leads anywhere."""
    if CHROMIUM is None:
        pytest.skip("chromium is not on this machine: apt-get install chromium")
    with sync_playwright() as started:
        own = started.chromium.launch(executable_path=CHROMIUM, args=browser_words())
        yield own
        own.close()


@pytest.fixture(scope="module")
def shared(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    """Return a program on a copy of the demo, for a whole file."""
    folder = tmp_path_factory.mktemp("shows")
    program = Program(folder, demo_in(folder))
    program.start()
    yield program
    program.stop()


@pytest.fixture
def demo(shared: Program) -> Program:
    """Return the program on the demo as it is shipped: without ticks, with nothing to undo, planned and dialled."""
    shared.restore(DEMO.read_text("utf-8"))
    shared.settle()
    return shared


@pytest.fixture
def started(tmp_path: Path) -> Iterator[Callable[..., Program]]:
    """Return a maker of programs of one's own; they are stopped at the end."""
    made: list[Program] = []

    def start(show: Path | None = None, *words: str) -> Program:
        program = Program(tmp_path, show, words)
        made.append(program)
        program.start()
        return program

    yield start
    for program in made:
        program.stop()


@pytest.fixture
def visit() -> Iterator[Visit]:
    """Return the record of what the browser does, judged at the end of the test."""
    own = Visit(())
    yield own
    own.judge()


@pytest.fixture
def open_page(browser: Browser, visit: Visit) -> Iterator[Open]:
    """Return an opener of the page at a size, with a clean browser profile each time."""
    contexts = []

    def start(program: Program, path: str = "/", size: tuple[int, int] = LAPTOP, *, ink: str = "page") -> Page:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, reduced_motion="reduce")
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        visit.home = (*visit.home, program.address)
        visit.follow(context)
        if ink != "page":
            context.add_init_script(f"if (location.protocol === 'http:') localStorage.setItem('ink', '{ink}')")
        page = context.new_page()
        page.goto(program.address + path)
        if program.show is not None and not path.startswith(("/start", "/look")):
            ready(page)
        return page

    yield start
    for context in contexts:
        context.close()
