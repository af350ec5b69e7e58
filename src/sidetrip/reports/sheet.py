"""What every sheet is made of: data for its template, rows for its CSV, and numbers in one way of writing."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sidetrip.graph.span import Span
from sidetrip.model.ports import Ports
from sidetrip.plan.planner import Plan
from sidetrip.units import frames_from_seconds, ms_from_seconds

Cell = str | int | float
"""A cell of a CSV: text from people is guarded when it is written, numbers of ours stay numbers."""

UNKNOWN = "unknown"
MINUS = "−"


@dataclass(frozen=True, slots=True)
class Stamp:
    """What stands on every page. revision: a short hash of the show's text. printed: date and time as text."""

    show: str
    revision: str
    printed: str
    desk: str
    file: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One document. name: of its files, without ending. template: file name. data: for the template, JSON-able."""

    name: str
    title: str
    template: str
    data: Mapping[str, Any]
    csv_header: tuple[str, ...]
    csv_rows: tuple[tuple[Cell, ...], ...]


def make_sheet(
    name: str,
    title: str,
    stamp: Stamp,
    data: Mapping[str, Any],
    csv_header: tuple[str, ...],
    csv_rows: Iterable[tuple[Cell, ...]],
) -> Sheet:
    """Return a sheet with its title and stamp among the data; its template carries its name."""
    full = {"title": title, "stamp": asdict(stamp), **data}
    return Sheet(name, title, f"{name}.typ", full, csv_header, tuple(csv_rows))


def errors_in(plan: Plan) -> list[str]:
    """Return what speaks against using the plan at all, one sentence each, for the top of its sheets."""
    words = Wording(plan)
    return [words(f"{f.where}: {f.what}. {f.remedy}.") for f in plan.findings if f.severity == "error"]


# Numbers: text for paper, cells for CSV. Not finite means unknown.


def ms(low_s: float, high_s: float | None = None) -> str:
    """Milliseconds with two decimals; two bounds that differ make "2.00 to 4.00"."""
    return _range(low_s, low_s if high_s is None else high_s, lambda s: _fixed(ms_from_seconds(s), 2))


def span_ms(span: Span) -> str:
    """Milliseconds of a span."""
    return ms(span.low, span.high)


def frames(low_s: float, high_s: float | None = None, *, rate_hz: int) -> str:
    """Frames of a time: whole ones without decimals, others with one."""

    def one(seconds: float) -> str:
        count = frames_from_seconds(seconds, rate_hz)
        return _fixed(count, 0 if abs(count - round(count)) < 0.05 else 1)

    return _range(low_s, low_s if high_s is None else high_s, one)


def db(level_db: float | None) -> str:
    """Decibels with one decimal."""
    return UNKNOWN if level_db is None or not math.isfinite(level_db) else _fixed(level_db, 1)


def hz(frequency_hz: float | None) -> str:
    """Hertz without decimals."""
    return UNKNOWN if frequency_hz is None or not math.isfinite(frequency_hz) else _fixed(frequency_hz, 0)


def number(text: str) -> Cell:
    """Return a figure as a spreadsheet wants it: a number where it is one, otherwise the same words."""
    plain = text.replace(MINUS, "-")
    try:
        return float(plain) if "." in plain else int(plain)
    except ValueError:
        return text


def _fixed(value: float, decimals: int) -> str:
    text = f"{abs(value):.{decimals}f}"
    return f"{MINUS}{text}" if value < 0 and float(text) != 0 else text


def _range(low: float, high: float, one: Callable[[float], str]) -> str:
    if not (math.isfinite(low) and math.isfinite(high)):
        return UNKNOWN
    first, last = one(low), one(high)
    return first if first == last else f"{first} to {last}"


# Words


def ports(run: Ports) -> str:
    """Write ports so that no spreadsheet takes them for a date: "aux in 1 & 2", "card out 25 to 32"."""
    return f"{run.group} {_run(run.first, run.last)}"


def _run(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first} {'&' if last == first + 1 else 'to'} {last}"


class Wording:
    """Rewrites ports inside sentences of the plan as `ports` does, and leaves every name as somebody typed it."""

    def __init__(self, plan: Plan) -> None:
        groups = {group.name for group in plan.desk.ports}
        kinds = {f"{kind} strip" for pool in plan.desk.strips for kind in pool.kinds}
        kinds |= {kind for pool in plan.desk.strips for kind in pool.kinds}
        rows = _either(groups | kinds | {"RET"})
        # Names come first, so that a strip called "Vox aux in 1-2" is passed over whole.
        names = _either(name for name in names_in(plan) if "-" in name)
        self._pattern = re.compile(rf"(?P<name>{names})|(?P<row>\b(?:{rows})) (?P<first>\d+)-(?P<last>\d+)\b")

    def __call__(self, text: str) -> str:
        """Return the sentence with its ports rewritten."""
        return self._pattern.sub(_rewritten, text)


def _either(words: Iterable[str]) -> str:
    return "|".join(re.escape(word) for word in sorted(words, key=lambda word: (-len(word), word))) or r"(?!)"


def _rewritten(match: re.Match[str]) -> str:
    if match["name"] is not None:
        return match["name"]
    return f"{match['row']} {_run(int(match['first']), int(match['last']))}"


def names_in(plan: Plan) -> tuple[str, ...]:
    """Return every name that somebody typed and that can stand on a sheet, sorted."""
    show, desk = plan.show, plan.desk
    names = {show.show, desk.name, desk.bypass.key, desk.bypass.output_key, *show.sources(), *show.never}
    names |= {unit.name for unit in show.units} | {item.name for item in show.inputs}
    names |= {mix.name for mix in show.mixes} | {mix.for_ for mix in show.mixes if mix.for_ is not None}
    names |= {other.name for other in show.other_desks}
    names |= {output.name for output in show.outputs} | {listener.name for listener in show.listeners}
    names |= {request.chain for request in show.requests if request.chain is not None}
    names |= {keep.for_ for keep in show.keep} | {group.name for group in desk.ports}
    names |= set(show.bypass_groups) | {key.label for key in plan.recovery.keys}
    return tuple(sorted(names))


def cut(text: str, longest: int) -> str:
    """Shorten a name in its middle: what tells long names apart is often the number at their end."""
    if len(text) <= longest:
        return text
    tail = longest // 3
    return f"{text[: longest - tail - 1]}…{text[-tail:]}"


def count(number_of: int, one: str, many: str = "") -> str:
    """Write "1 strip", "2 strips"."""
    return f"{number_of} {one if number_of == 1 else many or one + 's'}"


def listed(words: Iterable[str]) -> str:
    """Join words with commas and a last "and"."""
    items = list(words)
    return " and ".join(items) if len(items) < 3 else f"{', '.join(items[:-1])} and {items[-1]}"
