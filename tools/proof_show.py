"""A show made for proving: up to eight loops, half of them hardware, every return and every dry copy caught.

The desk is the shipped one; delays of the boxes are drawn from a seed, a third of them no whole number of frames.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.testsignal import TestSignal, usual_levels_dbfs
from sidetrip.dsp.tones import make_tones
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

DESK = Path(__file__).parent.parent / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml"
MOST_BOXES = 4
PERIOD_FRAMES = 32_768
RATE_HZ = 48_000


@cache
def proof_plan(loops: int, seed: int = 1, reference: bool = True, dry_each: bool = True) -> tuple[Plan, Expected]:
    """Return the plan of a show with 1 to 8 loops and what its take should show; see `proof_text`."""
    show = read_show(proof_text(loops, seed, reference, dry_each), "proof.yaml").show
    desk = read_desk(DESK.read_text("utf-8"), str(DESK))
    wrong = [finding for finding in check_show(show, desk) if finding.severity == "error"]
    assert not wrong, wrong
    plan = make_plan(show, desk)
    assert len(plan.allocation.loops) == loops
    return plan, expect(plan, show.takes[0])


def proof_text(loops: int, seed: int, reference: bool, dry_each: bool = True) -> str:
    """Return the text of the show.

    dry_each: a dry copy of every entry first, then the returns; else the returns first, and the reference last.
    """
    chance = np.random.default_rng(seed)
    boxes = min(loops // 2, MOST_BOXES)
    lines = [
        "sidetrip: 1",
        "show: Proving ground",
        "sample_rate: 48000",
        "desk: {type: 32-strip theatre desk}",
        "units:",
        "  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, measured: "
        f"[{{buffer: 64, rate: 48000, round_trip_frames: {int(chance.integers(200, 1500))}}}]}}",
    ]
    for box in range(boxes):
        frames = float(chance.integers(200, 1500)) + (float(chance.random()) if chance.random() < 1 / 3 else 0.0)
        out, back = f"local out {13 + box}", f"local in {29 + box}"
        ms = f"{frames / 48:.9f}"
        lines.append(f"  - {{name: box {box + 1}, kind: hardware, out: {out}, back: {back}, delay_ms: {ms}}}")
    lines.append("inputs:")
    lines += [f"  - {{ch: {one}, name: Strip {one}, port: stage {one}, to: [Main]}}" for one in range(1, loops + 1)]
    lines += [
        "mixes: [{name: Main, kind: main, width: stereo}]",
        "outputs: [{name: PA, from: Main, port: local out 1-2}]",
    ]
    lines.append("requests:")
    for one in range(1, loops + 1):
        unit = f"box {one}" if one <= boxes else "laptop"
        lines.append(f"  - {{strip: Strip {one}, want: must, unit: {unit}}}")
    lines += ["takes:", "  - name: all", f"    enter: [stage 1-{loops}]", "    catch:"]
    dry = f"      - {{port: card out 1-{loops}, dry: stage 1-{loops}}}"
    returns = []
    for one in range(1, loops + 1):
        port = f"card out {12 + one}" if one <= boxes else f"card out {16 + one - boxes}"
        returns.append(f"      - {{port: {port}, return: Strip {one}}}")
    if dry_each:
        lines += [dry, *returns]
    else:
        lines += [*returns, *(["      - {port: card out 1, dry: stage 1}"] if reference else [])]
    if reference:
        lines.append("    reference: card out 1")
    return "\n".join([*lines, ""])


class InMemory:
    """A recording that is an array."""

    def __init__(self, samples: NDArray[np.float32], rate_hz: int) -> None:
        self.samples, self.rate_hz, self.frames = samples, rate_hz, len(samples)

    def read(self, start: int, stop: int, tracks: Sequence[int] | None = None) -> NDArray[np.float32]:
        """Return frames of some tracks."""
        part = self.samples[start:stop]
        return part if tracks is None else part[:, list(tracks)]


@cache
def signal_for(entries: int, rate_hz: int = RATE_HZ) -> tuple[TestSignal, NDArray[np.float32]]:
    """Return a test signal with short periods, and all of its samples, shape (frames, entries)."""
    tones = make_tones(entries, rate_hz, period_frames=PERIOD_FRAMES, seed=3)
    signal = TestSignal(tones, usual_levels_dbfs(entries), 4, "test")
    return signal, np.concatenate(list(signal.blocks()))
