"""One failing example for every finding that evidence and the advice on buffers can give."""

from __future__ import annotations

from collections.abc import Callable

from blocklogs import configuration, csv_log, pauses, quiet_log
from fakes.desks import DesksInMemory
from fakes.evidence_files import EvidenceInMemory
from fakes.show_folder import ShowFolderInMemory
from showtext import DESK_TEXT, DESK_TYPE, desk, looped
from sidetrip.application.holding import hold
from sidetrip.findings import Finding
from sidetrip.hold.advice import advise
from sidetrip.hold.evidence import BlockLog, add_up
from sidetrip.hold.read_log import read_log
from sidetrip.plan.planner import make_plan
from sidetrip.showfile.read import read_show

_EARS = (
    "[{name: Main, kind: main, width: stereo}, {name: Ears, kind: aux, width: mono, for: Vox, listens: in-ear, "
    "device_ms: 1, from: {Vox: {db: 0, tap: after insert}}}]"
)


def _read(*lines: str) -> tuple[Finding, ...]:
    return read_log(lines, "log.csv").findings


def _held() -> tuple[Finding, ...]:
    """Return the findings of a show without any evidence."""
    store = ShowFolderInMemory({"show.yaml": looped()})
    return hold(store, DesksInMemory({DESK_TYPE: DESK_TEXT}), EvidenceInMemory(store), "show.yaml").findings


def _advised(*logs: BlockLog, more: str = "") -> tuple[Finding, ...]:
    """Return the findings of a show whose ears accept 128 frames."""
    points = ", ".join(f"{{buffer: {b}, rate: 48000, round_trip_frames: {203 + 2 * b}}}" for b in (32, 64, 128))
    units = f"[{{name: laptop, kind: computer, connects: card, aligns: per chain, measured: [{points}]{more}}}]"
    text = looped(units=units, mixes=_EARS, limits="{ear_total_ms: 14}")
    return advise(make_plan(read_show(text, "show.yaml").show, desk()), logs).findings


def _changed() -> tuple[Finding, ...]:
    logs = [quiet_log(1), quiet_log(1, of=configuration(session="new"), started="2026-11-21T19:30:00")]
    return add_up(logs, "laptop")[1]


def _partial() -> tuple[Finding, ...]:
    from sidetrip.hold.parts import bin_of, written

    read = read_log(csv_log(["10,400,0"] * 100), "log.csv")
    own = configuration()
    lines = written(own, "2026-11-20T19:30:00", read.parts, read.floor_s, bin_of(own), complete=False)
    return read_log(lines, "log.jsonl").findings


EVIDENCE_CASES: dict[str, Callable[[], tuple[Finding, ...]]] = {
    "evidence-unreadable": lambda: _read("hello"),
    "evidence-damaged": lambda: _read(*csv_log(["10,400,0"] * 30), "what"),
    "evidence-partial": _partial,
    "evidence-none": _held,
    "evidence-starts-again": _changed,
    "evidence-twice": lambda: add_up([quiet_log(1), quiet_log(1)], "laptop")[1],
    "evidence-refused": lambda: _advised(quiet_log(1)),
    "not-held": lambda: _advised(quiet_log(1, of=configuration(128))),
    "window-empty": lambda: _advised(quiet_log(10, pauses(60, 0.007, over_s=36000))),
    "reported-impossible": lambda: _advised(more=", reported: [{buffer: 64, rate: 48000, frames: 0}]"),
}
