"""A first visit: from an empty folder to a first plan, by keyboard; an input list as spreadsheets give it."""

from __future__ import annotations

import json
from collections.abc import Callable

from playwright.sync_api import Page, expect

from browser.conftest import Open
from browser.kit import NOBODY_THERE, REFUSED, Program, Visit, tab_to, wait_for

Started = Callable[..., Program]
DESK = "48-strip theatre desk"
DRAFT = ".sidetrip-draft.json"
GROUPS = ("Drums", "Band", "Voices", "Guests")


def choose_desk(page: Page, title: str) -> None:
    """Fill the first step with the keyboard, and go on."""
    tab_to(page, "#title")
    page.keyboard.type(title)
    tab_to(page, "[name=desk]")
    page.keyboard.press("Space")
    while page.evaluate("document.activeElement.value") != DESK:
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#inputs")).to_be_focused()


def step(page: Page, number: int) -> None:
    """Wait for a step of the four."""
    expect(page.locator("#start-steps [aria-current]")).to_contain_text(str(number))


def test_from_nothing_to_a_first_plan(started: Started, open_page: Open, visit: Visit) -> None:
    """Four steps typed by hand lead to a plan; the draft outlives a reload and a restart in the middle."""
    visit.allowed = (NOBODY_THERE, REFUSED)  # the new program first refuses the old one's token
    program = started()
    page = open_page(program)
    expect(page).to_have_url(f"{program.address}/start")
    choose_desk(page, "Harbour Lights")
    page.keyboard.type(
        "ch;name;port;group\n1;Kick;stage 1;Drums\n2;Snare;stage 2;Drums\n3;Keys;stage 3;-\n4;Lead;stage 4;"
    )
    draft = program.folder / DRAFT
    wait_for("the draft is kept", lambda: draft.exists() and "4;Lead" in json.loads(draft.read_text("utf-8"))["inputs"])
    page.keyboard.type("-")
    page.reload()  # at once: before the pause at which it is kept
    step(page, 2)
    expect(page.locator("#inputs")).to_have_value("ch;name;port;group\n1;Kick;stage 1;Drums\n2;Snare;stage 2;Drums\n"
                                                  "3;Keys;stage 3;-\n4;Lead;stage 4;-")  # fmt: skip
    tab_to(page, "#inputs")
    page.keyboard.press("Control+End")
    program.kill()
    page.keyboard.type("\n5;Second;stage 5;-")
    expect(page.locator("#gone")).to_be_visible()
    program.start()
    expect(page.locator("#gone")).to_be_hidden()
    wait_for("what was typed meanwhile is kept", lambda: "5;Second" in draft.read_text("utf-8"))
    tab_to(page, "#next")
    expect(page.locator("#understood-says")).to_have_text("5 inputs understood.")
    page.keyboard.press("Enter")
    step(page, 3)
    tab_to(page, "#add-mix")
    page.keyboard.press("Enter")
    page.keyboard.type("Lead ears")
    tab_to(page, ".mix-who")
    page.keyboard.type("lead")
    tab_to(page, ".mix-takes")
    page.keyboard.type("Lead, Keys")
    tab_to(page, "#next")
    page.keyboard.press("Enter")
    step(page, 4)
    tab_to(page, "[aria-label='want of Main']")
    page.keyboard.type("must")
    tab_to(page, "[aria-label='chain for Main']")
    page.keyboard.type("glue")
    tab_to(page, "[aria-label='want of Lead']")
    page.keyboard.type("9")
    tab_to(page, "[aria-label='chain for Lead']")
    page.keyboard.type("warmth")
    page.keyboard.press("Enter")
    expect(page.locator("#who-title")).to_have_text("Who goes out")
    expect(page.locator("h1")).to_have_text("Harbour Lights")
    for strip, want in (("Main", "must"), ("Lead", "9")):
        expect(page.locator(f'.rung[data-want="{want}"] .wanting[data-strip={strip}] .state')).to_have_text("going out")
    text = (program.folder / "harbour-lights" / "show.yaml").read_text("utf-8")
    assert "Second" in text
    assert "Lead ears" in text
    assert json.loads(draft.read_text("utf-8"))["show"] == ""


def test_forty_inputs_are_pasted_from_a_spreadsheet(started: Started, open_page: Open, visit: Visit) -> None:
    """Forty rows with a title above them: a bad row is told with its line, mended by hand, then all are understood."""
    visit.allowed = (REFUSED,)
    program = started()
    page = open_page(program)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    choose_desk(page, "Forty")
    rows = [f"{n}\tStrip {n}\tstage {n}\t{GROUPS[n % 4]}" for n in range(1, 41)]
    rows[16] = "17\tStrip 17\tstage 170\tBand"
    pasted = "\n".join(["Input list of the harbour stage\t\t\t", "Ch\tSource\tLine\tGroup", *rows])
    page.evaluate("(text) => navigator.clipboard.writeText(text)", pasted)
    page.keyboard.press("Control+V")
    expect(page.locator("#understood .findings li")).to_have_count(1)
    expect(page.locator("#understood .findings li")).to_contain_text("line 19")
    expect(page.locator("#understood .findings li")).to_contain_text("stage 170")
    page.keyboard.press("Control+Home")
    for _ in range(18):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("End")
    for _ in "0\tBand":
        page.keyboard.press("ArrowLeft")
    page.keyboard.press("Delete")
    tab_to(page, "#next")
    expect(page.locator("#understood-says")).to_have_text("40 inputs understood.")
    body = page.locator("#understood tbody tr")
    expect(body).to_have_count(40)
    assert [cell.strip() for cell in body.nth(16).locator("td").all_inner_texts()] == [
        "17",
        "Strip 17",
        "stage 17",
        "Band",
    ]
    page.keyboard.press("Enter")
    step(page, 3)
    tab_to(page, "#next")
    page.keyboard.press("Enter")
    step(page, 4)
    tab_to(page, "[aria-label='want of Voices']")
    page.keyboard.type("7")
    tab_to(page, "#next")
    page.keyboard.press("Enter")
    expect(page.locator("#says")).to_contain_text("what is done to Voices")
    expect(page.locator("[aria-label='chain for Voices']")).to_be_focused()
    page.keyboard.type("air")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Forty")
    expect(page.locator(".wanting[data-strip=Voices]")).to_be_visible()


def test_show_of_that_name_is_not_overwritten(started: Started, open_page: Open, visit: Visit) -> None:
    """A second show of one name is refused in words, and the first one stays as it was."""
    visit.allowed = (REFUSED,)
    program = started()
    (program.folder / "twice").mkdir()
    first = program.folder / "twice" / "show.yaml"
    first.write_text("# mine\n", "utf-8")
    page = open_page(program, "/start")
    choose_desk(page, "Twice")
    for number in (3, 4):
        page.locator("#next").click()
        step(page, number)
    page.locator("#next").click()
    expect(page.locator("#refused")).to_be_focused()
    expect(page.locator("#refused")).to_contain_text("Not done")
    assert first.read_text("utf-8") == "# mine\n"


def test_demo_and_shows_that_lie_here_are_opened(started: Started, open_page: Open) -> None:
    """The demo is copied beside the other shows, opened, and offered again at the next visit."""
    program = started()
    page = open_page(program)
    page.get_by_role("button", name="Look at the demo").click()
    expect(page.locator("h1")).to_have_text("The Tin Lantern")
    assert (program.folder / "tin-lantern" / "show.yaml").is_file()
    page.goto(f"{program.address}/start")
    page.get_by_role("button", name="Open The Tin Lantern").click()
    expect(page.locator("#who-title")).to_be_visible()
