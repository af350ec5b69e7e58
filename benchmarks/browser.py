"""The program serving a copy of the demo, and a real browser that looks at it: for benchmarks and for pictures."""

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from sidetrip.web.launch import free_socket

if TYPE_CHECKING:
    from playwright.sync_api import Page

DEMO = Path(__file__).parent.parent / "demo" / "tin-lantern" / "show.yaml"


@contextmanager
def opened() -> Iterator["tuple[Page, str]"]:
    """Yield a browser's page and the address of a program that serves the demo."""
    from playwright.sync_api import sync_playwright

    browser_file = shutil.which("chromium")
    if browser_file is None:
        raise RuntimeError("chromium is not installed (package chromium)")
    with free_socket(None, "127.0.0.1") as place:
        port = place.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        show = Path(folder) / "show"
        show.mkdir()
        shutil.copy(DEMO, show / "show.yaml")
        words = [sys.executable, "-m", "sidetrip", "page", str(show), "--no-browser", "--port", str(port)]
        program = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
        try:
            assert program.stdout is not None
            program.stdout.readline()
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=browser_file, args=["--no-sandbox"])
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                yield page, f"http://127.0.0.1:{port}/"
                browser.close()
        finally:
            program.terminate()
            program.wait(10)
