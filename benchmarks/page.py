"""How soon the page answers, in a real browser on this machine: opened, after a change, and under the slider.

The program serves a copy of the demo; the browser is the system's, headless. A slider move counts from the key press
until the frame after the new time map was put in place, as the page itself sees it.
"""

import time
from functools import cache
from statistics import median

from benchmarks.browser import opened
from benchmarks.registry import Outcome, Spec

OPENED, CHANGES, MOVES = 9, 12, 50

_MOVE = """
([position]) => new Promise((done) => {
  const map = document.getElementById("map");
  const slider = document.getElementById("buffer");
  const start = performance.now();
  const watcher = new MutationObserver(() => {
    watcher.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - start)));
  });
  watcher.observe(map, { childList: true });
  slider.value = position;
  slider.dispatchEvent(new Event("input", { bubbles: true }));
})
"""


@cache
def _measured() -> dict[str, list[float]]:
    """Return the milliseconds of every opening, change and move."""
    found: dict[str, list[float]] = {"open": [], "change": [], "move": []}
    with opened() as (page, address):
        page.goto(address)
        page.wait_for_function("() => fetch('/api/state').then((a) => a.json()).then((told) => told.aligned)")
        for _ in range(OPENED):
            start = time.perf_counter()
            page.goto(address, wait_until="load")
            page.click(".questions a[href='#when']")
            page.wait_for_selector("#map svg", state="visible")
            found["open"].append((time.perf_counter() - start) * 1000)
        page.wait_for_timeout(2000)
        stops = len(str(page.get_attribute("#buffer", "data-stops")).split())
        for move in range(MOVES):
            found["move"].append(float(page.evaluate(_MOVE, [move % stops])))
        page.wait_for_timeout(1000)
        for change in range(CHANGES):
            told = page.evaluate(_CHANGE, str(3 + change % 3))
            found["change"].append(float(told))
            page.wait_for_timeout(1500)  # what to dial is worked out beside; a person would wait longer
    return found


_CHANGE = """
async (want) => {
  const state = await (await fetch("/api/state")).json();
  const start = performance.now();
  const answer = await fetch("/api/want", { method: "POST",
    headers: { "content-type": "application/json", "x-sidetrip-token": state.token },
    body: JSON.stringify({ strip: "Drums", way: "insert", want, revision: state.revision }) });
  if (!answer.ok) throw new Error(await answer.text());
  await answer.json();
  return performance.now() - start;
}
"""


def _outcome(name: str, share: float) -> Outcome:
    """Return the value below which this share of the runs lies."""
    runs = sorted(_measured()[name])
    value = median(runs) if share == 0.5 else runs[min(round(share * len(runs)), len(runs) - 1)]
    return Outcome(value, {"runs": len(runs), "median_ms": round(median(runs), 1), "worst_ms": round(runs[-1], 1)})


_PEER = "none: chromium, headless, on this machine"

SPECS = (
    Spec(name="page-open", goal="<= 1000", unit="ms", peer=_PEER, run=lambda: _outcome("open", 0.5)),
    Spec(name="page-change", goal="<= 300", unit="ms", peer=_PEER, run=lambda: _outcome("change", 0.5)),
    Spec(name="page-slider", goal="<= 100", unit="ms", peer=_PEER, run=lambda: _outcome("move", 0.95)),
)
