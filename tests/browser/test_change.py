"""What the page changes in the show file: a refusal repaired, a want moved, a buffer set, what it leaves alone."""

from __future__ import annotations

import difflib
import re

from playwright.sync_api import expect

from browser.conftest import Open
from browser.kit import REFUSED, Program, Visit, ready, show_part

STREAM = ".wanting[data-strip=Stream]"


def changed_lines(before: str, after: str) -> list[str]:
    """Return the lines that differ, with - and +."""
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return [line for line in lines if not line.startswith(("---", "+++", "@@"))]


def test_refused_request_is_served_in_one_press(demo: Program, open_page: Open) -> None:
    """Stream stays in, goes out after one press, and undo brings the file back byte for byte."""
    page = open_page(demo)
    before = demo.file.read_bytes()
    stream = page.locator(STREAM)
    expect(stream.locator(".state")).to_have_text("staying in")
    expect(page.locator("#undo")).to_be_hidden()
    stream.get_by_role("button", name="Do this").first.click()
    expect(stream.locator(".state")).to_have_text("going out")
    expect(stream.locator(".stop")).to_have_count(5)
    expect(page.locator("#says")).to_contain_text("Chorus, Stream now go out")
    after = demo.file.read_bytes()
    assert after != before
    assert b"# the pit" in after
    page.locator("#undo").click()
    expect(stream.locator(".state")).to_have_text("staying in")
    assert demo.file.read_bytes() == before
    expect(page.locator("#undo")).to_be_hidden()


def test_want_is_moved_by_keyboard(demo: Program, open_page: Open) -> None:
    """One press of the up key changes one line, keeps all comments, and leaves the focus on the strip's handle."""
    page = open_page(demo)
    before = demo.file.read_text("utf-8")
    page.locator(f"{STREAM} .handle").focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator('.rung[data-want="9"]').locator(STREAM)).to_be_visible()
    expect(page.locator(f"{STREAM} .handle")).to_be_focused()
    assert changed_lines(before, demo.file.read_text("utf-8")) == [
        "-  - {strip: Stream,      chain: stream,       want: 8}",
        "+  - {strip: Stream,      chain: stream,       want: 9}",
    ]
    page.keyboard.press("ArrowUp")
    expect(page.locator('.rung[data-want="must"]').locator(STREAM)).to_be_visible()
    expect(page.locator(f"{STREAM} .handle")).to_be_focused()
    assert len(changed_lines(before, demo.file.read_text("utf-8"))) == 2
    ready(page)  # shown anew, with what there is to dial
    expect(page.locator(f"{STREAM} .handle")).to_be_focused()


def test_want_is_moved_by_dragging(demo: Program, open_page: Open) -> None:
    """A strip dropped on another want is written with it, in one line."""
    page = open_page(demo, size=(1280, 1500))  # both ends in sight
    before = demo.file.read_text("utf-8")
    page.locator(STREAM).drag_to(page.locator('.rung[data-want="5"]'))
    expect(page.locator('.rung[data-want="5"]').locator(STREAM)).to_be_visible()
    assert [line.split("want: ")[1] for line in changed_lines(before, demo.file.read_text("utf-8"))] == ["8}", "5}"]
    expect(page.locator(".dragging, .lifted, .rung.over")).to_have_count(0)


def test_slider_moves_the_picture_and_is_set_in_the_show(demo: Program, open_page: Open) -> None:
    """The buffer's slider changes map and sentence, goes back to the plan, and is written when asked."""
    page = open_page(demo)
    show_part(page, "when")
    page.locator("#map[data-moved]").wait_for()  # drawn at the window's own width
    slider, lead, pictured = page.locator("#buffer"), page.locator("#when-lead"), page.locator("#map svg")
    was = lead.inner_text(), pictured.inner_html()
    expect(page.locator("#otherwise")).to_be_hidden()
    slider.focus()
    page.keyboard.press("ArrowRight")
    expect(slider).to_have_attribute("aria-valuetext", "128 frames")
    page.wait_for_function("(was) => document.querySelector('#map svg').innerHTML !== was", arg=was[1])
    shown = pictured.evaluate("(own) => own.textContent")
    assert re.search(r"loop \D*10\.9", shown)  # 8.27 ms, and 128 frames more at 48 kHz
    page.get_by_role("button", name="Back to the plan").click()
    page.wait_for_function("(was) => document.querySelector('#map svg').innerHTML === was", arg=was[1])
    assert lead.inner_text() == was[0]
    expect(page.locator("#otherwise")).to_be_hidden()
    page.locator("#buffer").focus()
    page.keyboard.press("ArrowRight")
    before = demo.file.read_text("utf-8")
    page.get_by_role("button", name="Set it in the show").click()
    expect(page.locator("#otherwise")).to_be_hidden()
    assert changed_lines(before, demo.file.read_text("utf-8")) == ["-    buffer: auto", "+    buffer: 128"]
    expect(page.locator("#buffer-says")).to_have_text("128 frames")


def test_what_was_opened_stays_open(demo: Program, open_page: Open) -> None:
    """A comb stays on the screen when the window changes, and goes when the slider makes it untrue."""
    page = open_page(demo, "/#when")
    page.locator("#map[data-moved]").wait_for()
    drawn = page.locator("#map").get_attribute("data-moved")
    page.get_by_role("button", name="Show the comb").first.click()
    comb = page.locator(".shown img").first
    expect(comb).not_to_have_js_property("naturalWidth", 0)
    page.set_viewport_size({"width": 1000, "height": 800})
    expect(page.locator("#map")).not_to_have_attribute("data-moved", str(drawn))
    page.locator("#place").select_option("balcony")
    expect(page.locator("#when-lead")).to_contain_text("At balcony")
    expect(comb).to_have_count(0)
    page.locator("#place").select_option("row F")
    expect(page.locator("#when-lead")).to_contain_text("At row F")


def test_edit_elsewhere_is_never_overwritten(demo: Program, open_page: Open, visit: Visit) -> None:
    """A press on an old page is refused, the other edit stays, the page offers what is there now, and then it works."""
    visit.allowed = (REFUSED,)
    page = open_page(demo)
    other = demo.file.read_text("utf-8").replace("show: The Tin Lantern", "show: The Tin Lantern, act two")
    demo.file.write_text(other, "utf-8")
    page.locator(f"{STREAM} .handle").focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#refused")).to_contain_text("changed elsewhere")
    expect(page.locator("#refused")).to_be_focused()
    assert demo.file.read_text("utf-8") == other
    expect(page.locator("#elsewhere")).to_be_visible()
    page.get_by_role("button", name="Show it as it is now").click()
    expect(page.locator("h1")).to_have_text("The Tin Lantern, act two")
    ready(page)
    expect(page.locator("#elsewhere")).to_be_hidden()
    page.locator(f"{STREAM} .handle").focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator('.rung[data-want="9"]').locator(STREAM)).to_be_visible()
    assert demo.file.read_text("utf-8") == other.replace("stream,       want: 8", "stream,       want: 9")


def test_undo_refuses_what_was_edited_since(demo: Program, open_page: Open, visit: Visit) -> None:
    """Undo after an edit elsewhere leaves the file alone and shows the lines that differ."""
    visit.allowed = (REFUSED,)
    page = open_page(demo)
    page.locator(f"{STREAM} .handle").focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#undo")).to_be_visible()
    other = demo.file.read_text("utf-8").replace("length: 2h30m", "length: 2h40m")
    demo.file.write_text(other, "utf-8")
    page.locator("#undo").click()
    expect(page.locator("#refused pre")).to_contain_text("+length: 2h40m")
    assert demo.file.read_text("utf-8") == other


def test_show_that_no_longer_reads_is_told_and_mended(demo: Program, open_page: Open) -> None:
    """A file broken elsewhere leads to a page that says where; once it is mended the plan is back by itself."""
    page = open_page(demo)
    good = demo.file.read_text("utf-8")
    demo.file.write_text(f"{good}requests: [\n", "utf-8")
    page.get_by_role("button", name="Show what is wrong with it").click()
    expect(page.locator(".findings .where").first).to_contain_text("line")
    demo.file.write_text(good, "utf-8")
    expect(page.locator("#who-title")).to_be_visible()
