"""How fast ten hours of evidence at 64 frames are read and judged; the peer only parses the same lines."""

import json
from statistics import median
from time import perf_counter

import numpy as np
from benchmarks.registry import Outcome, Spec

from sidetrip.hold.advice import BUFFERS, best_judgement
from sidetrip.hold.evidence import Configuration, Tally
from sidetrip.hold.parts import Growing, bin_of, written
from sidetrip.hold.read_log import read_log

HOURS = 10
RUNS = 5
_PAUSES = 20_000


def lines() -> list[str]:
    """Return the compact log: 27 million blocks, of which 20 000 are late by enough to be listed."""
    own = Configuration("computer", "invented", "invented", "bench", 64, 48000)
    draw, period = np.random.default_rng(64), own.period_s
    growing, hour = Growing(own), int(3600 / period)
    for number in range(HOURS):
        lateness = np.abs(draw.normal(0, 0.01, hour)) * period
        late = draw.choice(hour, _PAUSES // HOURS, replace=False)
        lateness[late] += (0.2 + draw.weibull(1.2, len(late)) * 0.04) * period
        work = (0.35 + 0.01 * draw.standard_normal(hour)) * period
        growing.add(number * hour, lateness, work, np.zeros(hour, dtype=bool))
    parts = growing.parts
    return list(written(own, "2026-11-20T19:30:00", parts, growing.floor_s, bin_of(own), complete=True))


def judge(text: list[str]) -> int:
    """Read the log and judge every buffer from its own up; returns how many got a bound."""
    log = read_log(text, "bench.jsonl").log
    assert log is not None
    tally = Tally(log.configuration, (log,))
    found = [best_judgement([tally], buffer, 48000, 3 * 3600.0) for buffer in BUFFERS if buffer >= 64]
    return sum(one is not None and one.per_show is not None for one in found)


def evidence() -> Outcome:
    """Time both by turns."""
    text = lines()
    judge(text[:2])  # loads what is loaded once
    own_s, peer_s, bounds = [], [], 0
    for _ in range(RUNS):
        start = perf_counter()
        bounds = judge(text)
        middle = perf_counter()
        for line in text:
            json.loads(line)
        own_s.append(middle - start)
        peer_s.append(perf_counter() - middle)
    detail = {
        "hours": HOURS,
        "bytes": sum(len(line) for line in text),
        "seconds": [round(value, 4) for value in own_s],
        "bounds": bounds,
        "peer_seconds": [round(value, 4) for value in peer_s],
        "ratio_to_peer": round(median(own_s) / median(peer_s), 2),
    }
    return Outcome(median(own_s), detail)


SPECS = (Spec(name="evidence", goal="<= 2", unit="s", peer="json.loads over the same lines", run=evidence),)
