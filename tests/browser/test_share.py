"""Others in the network look on, each by a code of their own; they change nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

from browser.kit import (
    CHROMIUM,
    PATIENCE_MS,
    REFUSED,
    Program,
    Visit,
    axe_findings,
    browser_words,
    demo_in,
    ready,
    show_part,
    wait_for,
)
from sidetrip.web.launch import addresses

Started = Callable[..., Program]


def code_of(program: Program) -> str:
    """Return the newest code that was printed."""
    found = wait_for("a code is printed", lambda: re.findall(r"[Cc]ode.*: (\w{4} \w{4})", program.says))
    return str(found[-1])


def test_others_look_on_by_a_code_and_change_nothing(started: Started, visit: Visit, tmp_path: Path) -> None:
    """From another address the page asks for its code, shows all parts, and offers nothing that changes the show."""
    if CHROMIUM is None:
        pytest.skip("chromium is not on this machine: apt-get install chromium")
    outside = addresses()
    if not outside:
        pytest.skip("this machine has no address but the loopback's")
    program = started(demo_in(tmp_path), "--share")
    program.settle()
    visit.allowed = (REFUSED,)
    home = f"http://{outside[0]}:{program.port}"
    visit.home = (home,)
    before = program.file.read_bytes()
    with sync_playwright() as own:
        browser = own.chromium.launch(executable_path=CHROMIUM, args=browser_words(outside[0]))
        context = browser.new_context()
        context.set_default_timeout(PATIENCE_MS)
        visit.follow(context)
        page = context.new_page()
        page.goto(f"{home}/")
        expect(page).to_have_url(f"{home}/look")
        assert axe_findings(page) == []
        page.get_by_label("Code").fill("WRONG")
        page.keyboard.press("Enter")
        expect(page.locator(".lead")).to_contain_text("That was not the code")
        first = code_of(program)
        page.get_by_label("Code").fill(first.lower())
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text("The Tin Lantern")
        ready(page)
        expect(page.locator(".top")).to_contain_text("you look on")
        assert page.locator("body").get_attribute("data-token") == ""
        assert page.locator(".handle, [data-mend], #undo, [data-start], #set-buffer, button[data-tick]").count() == 0
        assert page.locator(".wanting").first.get_attribute("draggable") is None
        expect(page.locator(".step input").first).to_be_disabled()
        for part in ("when", "die", "paper", "who"):
            show_part(page, part)
        for path, body in (("/api/untick", "{}"), ("/api/undo", '{"revision": ""}'), ("/api/start/demo", "{}")):
            status = page.evaluate(
                "([path, body]) => fetch(path, {method: 'POST', body, headers: {'content-type': 'application/json'}})"
                ".then((own) => own.status)",
                [path, body],
            )
            assert status == 403, path
        assert page.evaluate("fetch('/api/state').then((own) => own.json()).then((own) => own.token)") == ""
        second = browser.new_context()
        other = second.new_page()
        other.goto(f"{home}/look")
        other.get_by_label("Code").fill(first)
        other.keyboard.press("Enter")
        expect(other.locator(".lead")).to_contain_text("That was not the code")  # each lets one in
        browser.close()
    assert program.file.read_bytes() == before
