"""What can be read and reached by everybody: axe-core, keyboard, narrow screens, and what print leaves out.

axe-core's rules are those of the Web Content Accessibility Guidelines 2.2, A and AA, and its own good practice.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import Open
from browser.kit import LAPTOP, PARTS, PHONE, Program, axe_findings, show_part, tab_to, wide
from sidetrip.reports.draw.palette import PRINT

Started = Callable[..., Program]
SCREENS = {"dark": (LAPTOP, "page"), "dim": (LAPTOP, "dim"), "phone": (PHONE, "page")}
SAID = {
    "who": ["Who goes out", "Wants", "Stream", "Patch, and undo", "Undo:"],
    "when": ["When does it arrive", "Heard twice", "What to dial"],
    "die": ["If it dies", "ROAR or HOWL", "ALL LOOPS OUT"],
    "paper": ["Paper", "For the worst minute"],
}
CONTROLS = "button, .button, .questions, .tools, .handle, .skip, progress, #says, #gone, #elsewhere, input[type=range]"


def loaded(page: Page, picture: str) -> None:
    """Wait until a picture is there, not only its place."""
    expect(page.locator(picture).first).not_to_have_js_property("naturalWidth", 0)


@pytest.mark.parametrize("screen", SCREENS)
def test_axe_finds_nothing_in_any_part(demo: Program, open_page: Open, screen: str) -> None:
    """axe-core finds nothing in each part, with everything in it unfolded that can be."""
    size, ink = SCREENS[screen]
    page = open_page(demo, size=size, ink=ink)
    expect(page.locator("html")).to_have_attribute("data-ink", ink)
    for part in PARTS:
        show_part(page, part)
        page.evaluate("document.querySelectorAll('details').forEach((own) => (own.open = true))")
        if part == "when":
            page.locator("#map[data-moved]").wait_for()
            page.get_by_role("button", name="Show the comb").first.click()
            loaded(page, ".shown img")
        assert axe_findings(page) == [], part


def test_axe_finds_nothing_when_bars_and_answers_are_shown(demo: Program, open_page: Open) -> None:
    """Bars, refusals, what was worked out and what was said are as readable as the rest."""
    page = open_page(demo)
    page.locator("#else").get_by_role("button").click()
    page.locator("#questions").get_by_role("button").click()
    expect(page.locator("#else dl").first).to_be_visible()
    expect(page.locator(".question").first).to_be_visible()
    page.evaluate("for (const id of ['gone', 'elsewhere', 'refused']) document.getElementById(id).hidden = false")
    page.evaluate("document.getElementById('refused').textContent = 'Not done'")
    assert axe_findings(page) == []


@pytest.mark.parametrize("size", [LAPTOP, PHONE])
def test_axe_finds_nothing_on_the_first_pages(started: Started, open_page: Open, size: tuple[int, int]) -> None:
    """The first page in its four steps and the page that asks for the code are as readable as the rest."""
    program = started()
    page = open_page(program, "/start", size)
    page.locator("#title").fill("Quiet")
    page.locator("[name=desk]").first.check()
    for number in range(1, 5):
        expect(page.locator("#start-steps [aria-current]")).to_contain_text(str(number))
        if number == 2:
            page.locator("#inputs").fill("ch;name;port;group\n1;Kick;stage 1;Drums\n2;Voice;stage 2;Voices")
        if number == 3:
            page.locator("#add-mix").click()
        assert axe_findings(page) == [], number
        assert wide(page) == 0, number
        if number < 4:
            page.locator("#next").click()
    page.goto(f"{program.address}/look")
    expect(page.locator("h1")).to_have_text("Look on")
    assert axe_findings(page) == []


def test_everything_is_reached_by_keyboard(demo: Program, open_page: Open) -> None:
    """Skip link, row of questions, handles and ticks are reached by Tab, each with a focus that is seen."""
    page = open_page(demo)
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    expect(page.locator(".skip")).to_be_in_viewport()
    seen_focus(page)
    page.keyboard.press("Enter")
    expect(page.locator("#main")).to_be_focused()
    tab_to(page, "#next-step button, #next-step", most=3)
    for selector in (".handle", "[data-mend]", "summary", ".step input", ".scroll"):
        tab_to(page, selector)
        seen_focus(page)
    page.evaluate("document.activeElement.blur(); scrollTo(0, 0)")
    page.reload()
    for part in PARTS:
        tab_to(page, f'.questions a[href="#{part}"]')
        seen_focus(page)
    page.keyboard.press("Enter")
    expect(page.locator("#paper")).to_be_visible()
    expect(page.locator("#main")).to_be_focused()
    tab_to(page, "[data-preview]")
    page.keyboard.press("Enter")
    expect(page.locator(".pages img").first).to_be_visible()


def seen_focus(page: Page) -> None:
    """Hold that the focus is drawn, and that nothing that sticks to the window hides it."""
    drawn, covered = page.evaluate(
        """() => {
          const own = document.activeElement, box = own.getBoundingClientRect();
          const x = box.left + Math.min(8, box.width / 2), y = box.top + Math.min(8, box.height / 2);
          const top = document.elementFromPoint(x, y);
          const style = getComputedStyle(own);
          return [style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
                  !(top && (own.contains(top) || top.contains(own) || top.closest("label")?.contains(own)))];
        }"""
    )
    assert drawn, page.evaluate("document.activeElement.outerHTML")
    assert not covered, page.evaluate("document.activeElement.outerHTML")


def test_nothing_is_wider_than_a_narrow_screen(demo: Program, open_page: Open) -> None:
    """At 320 px the document never scrolls sideways, in any part (WCAG 2.2, 1.4.10 Reflow)."""
    page = open_page(demo, size=(320, 640))
    for part in PARTS:
        show_part(page, part)
        page.evaluate("document.querySelectorAll('details').forEach((own) => (own.open = true))")
        if part == "when":
            page.get_by_role("button", name="Show the comb").first.click()
            loaded(page, ".shown img")
        if part == "paper":
            page.locator("[data-preview]").first.click()
            loaded(page, ".pages img")
        assert wide(page) == 0, part


@pytest.mark.parametrize("part", PARTS)
def test_print_keeps_the_words_and_leaves_out_the_controls(
    demo: Program, open_page: Open, part: str, tmp_path: Path
) -> None:
    """Each part prints in black on white with its text, without anything that could only be pressed."""
    page = open_page(demo, f"/#{part}", ink="dim" if part == "die" else "page")
    if part == "when":
        page.locator("#map-on-paper svg").wait_for(state="attached")
    page.emulate_media(media="print")
    if part == "when":
        expect(page.locator("#map")).to_be_hidden()
        expect(page.locator("#map-on-paper svg")).to_be_visible()
        assert PRINT.ground in page.locator("#map-on-paper svg").evaluate("(own) => own.outerHTML")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    shown = page.locator(CONTROLS)
    assert shown.count() > 5
    assert [own.evaluate("(own) => own.outerHTML") for own in shown.all() if own.is_visible()] == []
    page.emulate_media()
    paper = tmp_path / "part.pdf"
    paper.write_bytes(page.pdf(format="A4"))
    assert paper.read_bytes().startswith(b"%PDF-")
    program = shutil.which("pdftotext")
    if program is None:
        pytest.skip("pdftotext is not on this machine: apt-get install poppler-utils")
    text = subprocess.run([program, "-layout", paper, "-"], capture_output=True, check=True).stdout.decode("utf-8")
    for words in SAID[part]:
        assert words.lower() in text.lower(), words
    for words in (
        "Copy as CSV",
        "Work it out",
        "Do this",
        "Show the comb",
        "Take the ticks away",
        "Show its pages",
        "Dim",
    ):
        assert words not in text, words
