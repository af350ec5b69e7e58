"""Logs of block times as text: the compact form, or CSV with a head. What is damaged is said and left out."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from sidetrip.findings import Finding
from sidetrip.hold.evidence import BlockLog, Configuration
from sidetrip.hold.parts import BINS, FORMAT, Growing, Part, bin_of, joined

_HEAD = ("unit", "system", "driver", "session", "buffer", "rate", "started")
_FORM = f"Write '# key: value' lines for {', '.join(_HEAD)}, then the row lateness_us,work_us,missed and the blocks"
_LONGEST_S = 3600.0
_TOO_MANY = 0.1
"""A log of which more than this share is damaged is not used."""


@dataclass(frozen=True, slots=True)
class Read:
    """What came of a file. log: None when nothing of it can be used. parts, floor_s: to write it down compactly."""

    log: BlockLog | None
    parts: tuple[Part, ...]
    floor_s: float
    findings: tuple[Finding, ...]


class _Refused(Exception):
    def __init__(self, what: str, values: str, remedy: str, line: int) -> None:
        self.finding = ("evidence-unreadable", "evidence", what, values, remedy, line)
        super().__init__(what)


def read_log(lines: Iterable[str], file: str) -> Read:
    """Read a log in either form. lines: with or without their ends."""
    numbered = enumerate(lines, 1)
    try:
        number, first = next(((at, text) for at, text in numbered if text.strip()), (1, ""))
        if not first.strip():
            raise _Refused("The log is empty", "", _FORM, 1)
        if first.lstrip("\ufeff").lstrip().startswith("{"):
            return _compact(first, numbered, file)
        return _csv(number, first, numbered, file)
    except _Refused as error:
        code, where, what, values, remedy, line = error.finding
        return Read(None, (), 0.0, (Finding(code, where, what, values, remedy, (), line, file),))


def _configuration(said: dict[str, Any], line: int) -> tuple[Configuration, str]:
    missing = [key for key in _HEAD if str(said.get(key, "")).strip() == ""]
    if missing:
        raise _Refused("The log does not say what it is of", f"missing: {', '.join(missing)}", _FORM, line)
    numbers = []
    for key, low, high in (("buffer", 1, 65536), ("rate", 8000, 768000)):
        try:
            number = int(str(said[key]))
        except ValueError:
            number = 0
        if not low <= number <= high:
            raise _Refused(f"The {key} is no whole number that can be", f"{said[key]}", "Write the one that ran", line)
        numbers.append(number)
    try:
        datetime.fromisoformat(str(said["started"]).strip())
    except ValueError as error:
        remedy = "Write it like 2026-11-20T19:30:00"
        raise _Refused("The time of the start cannot be read", f"{said['started']}", remedy, line) from error
    words = [str(said[key]).strip() for key in ("unit", "system", "driver", "session")]
    return Configuration(words[0], words[1], words[2], words[3], *numbers), str(said["started"]).strip()


# The compact form


def _compact(first: str, numbered: Iterator[tuple[int, str]], file: str) -> Read:
    head = _object(first)
    if head is None or head.get("sidetrip evidence") != FORMAT:
        said = "no JSON" if head is None else f"format {head.get('sidetrip evidence')}"
        raise _Refused("The file is no evidence of this program", f"{said}, not {FORMAT}", _FORM, 1)
    configuration, started = _configuration(head, 1)
    bin_s, floor_s = (_seconds(head.get(key)) for key in ("bin_us", "late_over_us"))
    if bin_s is None or floor_s is None or bin_s <= 0:
        raise _Refused("The head lacks its bins", "bin_us, late_over_us", "Take the log again", 1)
    parts: list[Part] = []
    bad: list[int] = []
    lost: list[str] = []
    end: dict[str, Any] | None = None
    due = 0
    for number, text in numbered:
        if not text.strip():
            continue
        row = _object(text)
        if row is not None and row.get("end") is True:
            end = row
            continue
        part = _part(row) if row is not None and end is None else None
        if part is None or part.start < due:
            bad.append(number)
            continue
        if part.start > due:
            lost.append(f"{due} to {part.start - 1}")
        due = part.start + part.blocks
        parts.append(part)
    blocks = sum(part.blocks for part in parts)
    findings = [*_damaged(bad, len(bad) + len(parts), file)]
    if blocks == 0:
        raise _Refused("No block of the log can be read", f"{len(bad)} damaged lines", "Take the log again", 2)
    if end is None:
        what = "The log stops without its end: whoever wrote it may have been cut off, or the computer died"
        values = f"{blocks * configuration.period_s / 3600:.2f} h before it"
        remedy = "Find out why; what is there is used"
        findings.append(Finding("evidence-partial", "evidence", what, values, remedy, (), None, file))
    elif end.get("blocks") != blocks or lost:
        values = f"{blocks} of {end.get('blocks')} blocks" + (f"; missing: {', '.join(lost[:3])}" if lost else "")
        what = "Blocks are missing in the log; what happened there is not known"
        findings.append(Finding("evidence-partial", "evidence", what, values, "Take the log again", (), None, file))
    log = joined(configuration, started, parts, floor_s, bin_s, complete=end is not None, file=file)
    return Read(None if _useless(bad, len(parts)) else log, tuple(parts), floor_s, tuple(findings))


def _object(text: str) -> dict[str, Any] | None:
    try:
        said = json.loads(text.lstrip("\ufeff"))
    except (ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) else None


def _seconds(us: object) -> float | None:
    if isinstance(us, bool) or not isinstance(us, int | float) or not math.isfinite(us):
        return None
    return us / 1e6 if abs(us) <= _LONGEST_S * 1e6 else None


def _part(said: dict[str, Any]) -> Part | None:
    """Return the part on a line, None when it is damaged: the counts of its bins have to add up to its blocks."""
    start, blocks, mean = _count(said.get("from")), _count(said.get("blocks")), _seconds(said.get("work_us"))
    finish, late = said.get("finish"), said.get("late")
    if start is None or not blocks or mean is None or mean < 0:
        return None
    if not isinstance(finish, dict) or not isinstance(late, list):
        return None
    try:
        bins = np.array([int(key) for key in finish], dtype=np.int64)
        own = np.array(list(finish.values()), dtype=np.int64)
        wide = [len(row) for row in late]
        rows = np.array([row[:3] for row in late], dtype=np.float64).reshape(-1, 3)
    except (TypeError, ValueError, OverflowError):
        return None
    if len(bins) == 0 or bins.min() < 0 or bins.max() >= BINS or own.min() < 0 or own.sum() != blocks:
        return None
    at = rows[:, 0].astype(np.int64)
    inside = bool(np.all(np.isfinite(rows))) and bool(np.all(np.abs(rows[:, 1:]) <= _LONGEST_S * 1e6))
    if not inside or np.any(np.diff(at) <= 0) or np.any(rows[:, 2] < 0):
        return None
    if len(at) and not (start <= at[0] and at[-1] < start + blocks):
        return None
    counts = np.zeros(BINS, dtype=np.int64)
    counts[bins] = own
    missed = np.array([width > 3 for width in wide], dtype=bool)
    return Part(start, blocks, mean * blocks, counts, at, rows[:, 1] / 1e6, rows[:, 2] / 1e6, missed)


def _count(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**53 else None


# CSV


_AT_ONCE = 200_000


def _csv(number: int, first: str, numbered: Iterator[tuple[int, str]], file: str) -> Read:
    said: dict[str, Any] = {}
    text = first.lstrip("\ufeff")
    while text.lstrip().startswith("#") or not text.strip():
        key, colon, value = text.strip().lstrip("#").partition(":")
        if colon:
            said[key.strip().lower()] = value.strip()
        number, text = next(numbered, (number, ""))
        if not text:
            raise _Refused("The log has no row with the names of its columns", "", _FORM, number)
    configuration, started = _configuration(said, 1)
    split = next((one for one in ";\t," if one in text), ",")
    names = [name.strip().lower() for name in text.split(split)]
    if "lateness_us" not in names or "work_us" not in names:
        values = f"found: {', '.join(names)[:80]}"
        raise _Refused("The columns lateness_us and work_us are not both there", values, _FORM, number)
    places = [names.index("lateness_us"), names.index("work_us"), names.index("missed") if "missed" in names else -1]
    growing, at = Growing(configuration), 0
    bad: list[int] = []
    waiting: list[tuple[int, str]] = []
    for line in numbered:
        if line[1].strip():
            waiting.append(line)
        if len(waiting) >= _AT_ONCE:
            at = _rows(waiting, split, len(names), places, growing, bad, at)
            waiting = []
    at = _rows(waiting, split, len(names), places, growing, bad, at)
    if at == 0:
        raise _Refused("The log has no block that can be read", f"{len(bad)} damaged lines", _FORM, number + 1)
    parts = tuple(growing.parts)
    log = joined(configuration, started, parts, growing.floor_s, bin_of(configuration), complete=True, file=file)
    return Read(None if _useless(bad, at) else log, parts, growing.floor_s, tuple(_damaged(bad, at + len(bad), file)))


def _rows(
    lines: list[tuple[int, str]],
    split: str,
    wide: int,
    places: list[int],
    growing: Growing,
    bad: list[int],
    at: int,
) -> int:
    """Add lines to the log, all at once where they are sound, else one by one. Returns the number of the next block."""
    if not lines:
        return at
    try:
        table = np.array([text.split(split) for _, text in lines], dtype=np.float64).reshape(len(lines), wide)
    except ValueError:
        table = np.array([_row(text, split, wide) for _, text in lines])
    lateness, work = table[:, places[0]] / 1e6, table[:, places[1]] / 1e6
    flags = table[:, places[2]] if places[2] >= 0 else np.zeros(len(table))
    sound = np.isfinite(table).all(axis=1) & (np.abs(lateness) <= _LONGEST_S) & (work >= 0) & (work <= _LONGEST_S)
    sound &= (flags == 0) | (flags == 1)
    bad += [number for (number, _), fine in zip(lines, sound, strict=True) if not fine]
    growing.add(at, lateness[sound], work[sound], flags[sound] == 1)
    return at + int(sound.sum())


def _row(text: str, split: str, wide: int) -> list[float]:
    try:
        row = [float(cell) for cell in text.split(split)]
    except ValueError:
        row = []
    return row if len(row) == wide else [math.nan] * wide


def _useless(bad: list[int], good: int) -> bool:
    return len(bad) > _TOO_MANY * (len(bad) + good)


def _damaged(bad: list[int], lines: int, file: str) -> Iterator[Finding]:
    if not bad:
        return
    values = f"{len(bad)} of {lines} lines, the first on line {bad[0]}"
    if len(bad) > _TOO_MANY * lines:
        what, remedy = "Too much of the log is damaged to use it", "Take the log again"
        yield Finding("evidence-unreadable", "evidence", what, values, remedy, (), bad[0], file)
        return
    what = "Lines of the log are damaged and were left out; a miss may hide there"
    yield Finding("evidence-damaged", "evidence", what, values, "Take the log again", (), bad[0], file)


__all__ = ["Read", "read_log"]
