"""The program is gone, comes back, or works long: what is on the screen stays of use, and nothing is lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import expect

from browser.conftest import Open
from browser.kit import NOBODY_THERE, PARTS, REFUSED, Program, Visit, demo_in, ready, show_part

Started = Callable[..., Program]


def test_card_works_with_the_program_gone_and_all_goes_on(
    started: Started, open_page: Open, visit: Visit, tmp_path: Path
) -> None:
    """Killed with the card open: ticks and parts still work; started again, the same page goes on without a reload."""
    visit.allowed = (NOBODY_THERE, REFUSED)
    program = started(demo_in(tmp_path))
    page = open_page(program)
    page.evaluate("window.sameDocument = true")
    first = page.locator(".step input").nth(0)
    first.check()
    expect(page.locator(".tally")).to_contain_text("1 of 23 steps done")
    show_part(page, "die")
    program.kill()
    expect(page.locator("#gone")).to_be_visible()
    ticks = page.locator("#die .ticks input")
    assert ticks.count() >= 3
    ticks.nth(0).check()
    ticks.nth(2).check()
    for part in PARTS:
        show_part(page, part)
        expect(page.locator(f"#{part} h2")).to_be_visible()
    page.locator("#gone a").click()
    expect(ticks.nth(0)).to_be_checked()
    expect(ticks.nth(1)).not_to_be_checked()
    show_part(page, "who")
    second = page.locator(".step input").nth(1)
    second.click()  # nobody can be told
    show_part(page, "die")
    program.start()
    expect(page.locator("#gone")).to_be_hidden()
    show_part(page, "who")
    expect(page.locator(".tally")).to_contain_text("2 of 23 steps done")
    expect(first).to_be_checked()
    expect(second).to_be_checked()
    page.locator(".wanting[data-strip=Stream] .handle").focus()
    page.keyboard.press("ArrowDown")
    expect(page.locator('.rung[data-want="7"] .wanting[data-strip=Stream]')).to_be_visible()
    show_part(page, "die")
    expect(ticks.nth(0)).to_be_checked()
    assert page.evaluate("window.sameDocument")
    page.reload()
    expect(ticks.nth(2)).to_be_checked()
    page.get_by_role("button", name="Take the ticks away").click()
    expect(ticks.nth(2)).not_to_be_checked()


def test_patch_steps_hold_their_order_and_outlive_a_restart(
    started: Started, open_page: Open, visit: Visit, tmp_path: Path
) -> None:
    """A step that is dangerous too early is refused; ticks outlive a restart; all can be taken away."""
    visit.allowed = (NOBODY_THERE, REFUSED)
    program = started(demo_in(tmp_path))
    page = open_page(program)
    late = page.locator(".step[value='17'] input")
    late.click()
    expect(page.locator("#refused")).to_contain_text("comes after steps")
    expect(late).not_to_be_checked()
    for number in (1, 2):
        expect(page.locator("#next-step")).to_contain_text(f"step {number} of 23")
        page.locator("#next-step").get_by_role("button", name="Done").click()
    expect(page.locator("#next-step")).to_contain_text("step 3 of 23")
    program.stop()
    program.start()
    page.goto(program.address)
    ready(page)
    expect(page.locator("#next-step")).to_contain_text("step 3 of 23")
    expect(page.locator(".step.done")).to_have_count(2)
    page.get_by_role("button", name="Begin again").click()
    expect(page.locator(".step.done")).to_have_count(2)  # once is not enough
    page.get_by_role("button", name="Press again: all ticks go").click()
    expect(page.locator("#next-step")).to_contain_text("step 1 of 23")
    expect(page.locator(".step.done")).to_have_count(0)
