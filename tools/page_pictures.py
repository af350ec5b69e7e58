"""Makes the pictures of the page for the README's tour, and some to look at.

Run it as `.venv/bin/python -m tools.page_pictures`. In docs/tour: who goes out and when it arrives, on a laptop; the
card, dimmed, on a phone. In build/page: every part on a laptop and a phone, dark, dim and as it is printed.
"""

from __future__ import annotations

from pathlib import Path

from benchmarks.browser import opened

ROOT = Path(__file__).parent.parent
TOUR, LOOK = ROOT / "docs" / "tour", ROOT / "build" / "page"
LAPTOP, PHONE = (1280, 860), (390, 800)
PARTS = ("who", "when", "die", "paper")


def main() -> None:
    """Take the pictures."""
    LOOK.mkdir(parents=True, exist_ok=True)
    with opened() as (page, address):
        page.goto(address)
        page.wait_for_function("() => fetch('/api/state').then((a) => a.json()).then((told) => told.aligned)")
        for ink in ("page", "dim"):
            for name, size in (("laptop", LAPTOP), ("phone", PHONE)):
                page.set_viewport_size({"width": size[0], "height": size[1]})
                page.goto(address)
                page.evaluate("(ink) => localStorage.setItem('ink', ink)", ink)
                for part in PARTS:
                    page.goto(f"{address}#{part}")
                    page.reload()
                    page.wait_for_load_state("networkidle")
                    page.wait_for_timeout(700)
                    page.screenshot(path=LOOK / f"{part}-{name}-{ink}.png", full_page=True)
                    if (name, ink, part) in _TOUR:
                        page.screenshot(path=TOUR / f"page-{part}.png")
        page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
        page.emulate_media(media="print")
        for part in PARTS:
            page.goto(f"{address}#{part}")
            page.reload()
            page.wait_for_load_state("networkidle")
            page.pdf(path=LOOK / f"{part}.pdf", format="A4")
    print(f"wrote docs/tour/page-*.png and {len(list(LOOK.iterdir()))} files in build/page")  # noqa: T201


_TOUR = {("laptop", "page", "who"), ("laptop", "page", "when"), ("phone", "dim", "die")}

if __name__ == "__main__":
    main()
