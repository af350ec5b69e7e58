"""Makes the invented evidence of the demo show: one evening's block times of the laptop, in the compact form.

Run once, the file is kept with the demo: `.venv/bin/python tools/demo_evidence.py`.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import typer

from sidetrip.hold.evidence import Configuration
from sidetrip.hold.parts import Growing, above, bin_of, written

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "demo" / "tin-lantern" / "evidence"
STARTED = "2026-11-21T19:05:00"
HOURS = 2.75
_PAUSES_PER_HOUR = 70.0


def main() -> None:
    """Write the log."""
    own = Configuration("laptop", "invented system 1", "invented driver 1", "7c41e0d2", 64, 48000)
    draw, period = np.random.default_rng(1931), own.period_s
    blocks = int(HOURS * 3600 / period)
    lateness = np.abs(draw.normal(0, 0.006, blocks)) * period
    work = (0.31 + 0.01 * draw.standard_normal(blocks)) * period
    pauses = draw.poisson(_PAUSES_PER_HOUR * HOURS)
    at = draw.choice(blocks, pauses, replace=False)
    lateness[at] += draw.weibull(1.2, pauses) * 0.13 * period
    growing = Growing(own)
    growing.add(0, lateness, work, np.zeros(blocks, dtype=bool))
    coarse = (above(part, growing.floor_s) for part in growing.parts)
    FOLDER.mkdir(parents=True, exist_ok=True)
    lines = written(own, STARTED, coarse, growing.floor_s, bin_of(own), complete=True)
    name = f"laptop-20261121190500-64-48000-{own.fingerprint}.jsonl"
    (FOLDER / name).write_text("".join(lines), encoding="utf-8")
    typer.echo(f"wrote demo/tin-lantern/evidence/{name}")


if __name__ == "__main__":
    main()
