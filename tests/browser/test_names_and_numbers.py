"""Shows that are out of the ordinary: names that a browser could take for its own, and 500 inputs."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from browser.conftest import Open
from browser.kit import PARTS, PHONE, Program, ready, show_part, wait_for, wide
from showtext import DESK_TEXT, DESK_TYPE, desk_with

Started = Callable[..., Program]

HOSTILE = (
    "<script>window.ran = 1</script>",
    "\"><img src=x onerror='window.ran = 2'>",
    "' onfocus='window.ran = 3' autofocus '",
    "&lt;b&gt; &amp; {{ 7 * 7 }} ${7 * 7}",
    "\u202eeniL thgiR",
    "🥁 трубы 太鼓 עוד",
    "a/b?c#d%2e../..",
    "Long" + " and longer" * 18,
    "W" * 150,
)


def quoted(name: str) -> str:
    """Return a name as YAML: JSON strings are YAML."""
    return json.dumps(name, ensure_ascii=False)


def hostile_show() -> str:
    """Return a show in which everything that has a name has one of these."""
    inputs = "".join(
        f"  - {{ch: {n}, name: {quoted(name)}, port: stage {n}, to: [{quoted('M ' + HOSTILE[0])}], "
        f"hears: {{{quoted('s ' + name)}: {{m: 0.1, db: 0}}, {quoted('all ' + HOSTILE[0])}: {{m: {n}, db: -3}}}}}}\n"
        for n, name in enumerate(HOSTILE, 1)
    )
    requests = "".join(
        f"  - {{strip: {quoted(name)}, chain: {quoted('c ' + name)}, want: {9 - n}}}\n"
        for n, name in enumerate(HOSTILE)
    )
    chains = "".join(f"  {quoted('c ' + name)}: []\n" for name in HOSTILE)
    main, output = quoted("M " + HOSTILE[0]), quoted("o " + HOSTILE[1])
    return (
        f"sidetrip: 1\nshow: {quoted('Show ' + HOSTILE[0])}\nsample_rate: 48000\ndesk: {{type: {DESK_TYPE}}}\n"
        f"units:\n  - {{name: {quoted('u ' + HOSTILE[1])}, kind: computer, connects: card, aligns: per chain, "
        "buffer: 64, measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}\n"
        f"inputs:\n{inputs}mixes:\n  - {{name: {main}, kind: main, width: stereo}}\n"
        f"outputs:\n  - {{name: {output}, from: {main}, port: local out 1-2}}\n"
        f"listeners:\n  - {{name: {quoted('l ' + HOSTILE[0])}, hears: {{{output}: {{m: 9, db: 0}}}}}}\n"
        f"requests:\n{requests}chains:\n{chains}"
    )


def in_folder(folder: Path, name: str, text: str) -> Path:
    """Write a show into a folder of its own."""
    show = folder / name
    show.mkdir()
    (show / "show.yaml").write_text(text, "utf-8")
    return show


def test_hostile_names_are_only_ever_text(started: Started, open_page: Open, tmp_path: Path) -> None:
    """Names that hold markup, quotes, entities or turned text are shown letter by letter, and nothing of them runs."""
    program = started(in_folder(tmp_path, "hostile", hostile_show()))
    page = open_page(program)
    expect(page.locator("h1")).to_have_text(f"Show {HOSTILE[0]}")
    shown = page.locator(".wanting .strip").all_text_contents()
    assert sorted(shown) == sorted(HOSTILE)
    assert page.locator(".wanting").evaluate_all("(all) => all.map((own) => own.dataset.strip)") == shown
    show_part(page, "when")
    page.locator("#map[data-moved]").wait_for()
    lanes = page.locator("#map svg").evaluate("(own) => own.textContent")
    assert f"s {HOSTILE[0]}"[:12] in lanes
    for button in page.get_by_role("button", name="Show the comb").all()[:2]:
        button.click()
    expect(page.locator(".shown img").first).not_to_have_js_property("naturalWidth", 0)
    show_part(page, "paper")
    page.locator("[data-preview]").first.click()
    expect(page.locator(".pages img").first).not_to_have_js_property("naturalWidth", 0)
    show_part(page, "who")
    for name in HOSTILE[:3]:
        own = page.locator(".wanting").filter(has=page.get_by_text(name, exact=True))
        want = own.get_attribute("data-want")
        own.locator(".handle").focus()
        page.keyboard.press("ArrowDown")
        expect(own).not_to_have_attribute("data-want", str(want))
        expect(own.locator(".handle")).to_be_focused()
    page.locator("#else").get_by_role("button").click()
    expect(page.locator("#else button")).to_have_count(0)
    assert page.evaluate("window.ran") is None
    assert page.locator("img[src=x], .part script, [onfocus], [onerror]").count() == 0
    for size in ((1280, 900), PHONE):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        for part in PARTS:
            show_part(page, part)
            assert wide(page) == 0, (part, size)
    page.goto(f"{program.address}/start")
    expect(page.get_by_role("button", name=f"Open Show {HOSTILE[0]}")).to_be_visible()
    assert page.evaluate("window.ran") is None


def large_desk() -> str:
    """Return the shipped desk with 500 channels and as many stage ports."""
    text = desk_with("kinds: [channel]\n    legs: 32", "kinds: [channel]\n    legs: 500")
    assert text != DESK_TEXT
    for old, new in (("name: stage, direction: in, count: 32", "name: stage, direction: in, count: 500"),):
        assert old in text
        text = text.replace(old, new)
    return text.replace("name: 32-strip theatre desk", "name: hall desk")


def large_show() -> str:
    """Return a show of 500 inputs in ten groups, of which sixteen strips want out."""
    inputs = "".join(
        f"  - {{ch: {n}, name: Strip {n}, port: stage {n}, group: Group {n % 10}}}\n" for n in range(1, 501)
    )
    mixes = "".join(f"  - {{name: Group {n}, kind: group, width: mono, to: [Main]}}\n" for n in range(10))
    wants = "".join(f"  - {{strip: Strip {n * 30}, chain: thin, want: {1 + n % 9}}}\n" for n in range(1, 17))
    return (
        "sidetrip: 1\nshow: Five hundred\nsample_rate: 48000\ndesk: {type: ./desk.yaml}\n"
        "units:\n  - {name: laptop, kind: computer, connects: card, aligns: unknown, buffer: 64, "
        "measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}\n"
        f"inputs:\n{inputs}mixes:\n{mixes}  - {{name: Main, kind: main, width: stereo}}\n"
        "outputs:\n  - {name: PA, from: Main, port: local out 1-2}\n"
        f"requests:\n{wants}chains:\n  thin: []\n"
    )


@pytest.fixture(scope="module")
def large(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    """Return a program on a show of 500 inputs."""
    folder = tmp_path_factory.mktemp("large")
    show = in_folder(folder, "large", large_show())
    (show / "desk.yaml").write_text(large_desk(), "utf-8")
    program = Program(folder, show)
    program.start()
    program.settle()
    yield program
    program.stop()


def test_five_hundred_inputs_are_usable(large: Program, open_page: Open) -> None:
    """A show of 500 inputs opens, shows its parts, moves its picture and takes a change."""
    page = open_page(large)
    expect(page.locator(".wanting")).to_have_count(16)
    for part in PARTS:
        show_part(page, part)
        expect(page.locator(f"#{part} h2")).to_be_visible()
    show_part(page, "when")
    page.locator("#map[data-moved]").wait_for()
    assert page.locator("#map svg").evaluate("(own) => own.textContent").count("Strip ") >= 490
    page.locator("#buffer").focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#otherwise")).to_be_visible()
    show_part(page, "who")
    own = page.locator('.wanting[data-strip="Strip 30"]')
    expect(own).to_have_attribute("data-want", "2")
    own.locator(".handle").focus()
    page.keyboard.press("ArrowUp")
    expect(own).to_have_attribute("data-want", "3")
    expect(own.locator(".handle")).to_be_focused()


def test_long_work_is_found_again_and_stopped(large: Program, open_page: Open) -> None:
    """Questions for the house say how far they are; a reload in the middle finds them; Stop stops them."""
    page = open_page(large)
    place = page.locator("#questions")
    place.get_by_role("button", name="Work them out").click()
    expect(place.locator("progress")).to_be_visible()
    page.reload()
    ready(page)
    expect(place.locator("progress")).to_be_visible()
    job = large.work("questions")
    assert job is not None
    assert job["state"] == "running"
    wait_for("it says how much there is", lambda: (large.work("questions") or {})["of"] > 1)
    place.get_by_role("button", name="Stop").click()
    expect(place).to_contain_text("Stopped, as you asked")
    assert (large.work("questions") or {})["state"] == "stopped"
    place.get_by_role("button", name="Try again").click()
    expect(place.locator("progress")).to_be_visible()
    place.get_by_role("button", name="Stop").click()
    expect(place).to_contain_text("Stopped, as you asked")
