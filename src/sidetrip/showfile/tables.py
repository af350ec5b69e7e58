"""An input list from a spreadsheet: encodings, separators and headings as people have them."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports, parse_ports

_HEADINGS = {
    "ch": ("ch", "channel", "strip", "desk ch", "desk channel", "no", "nr", "#", "number"),
    "name": ("name", "source", "input", "instrument", "label", "description"),
    "port": ("port", "line", "jack", "socket", "patch", "stage", "stage box", "stagebox"),
    "group": ("group", "bus", "subgroup", "to"),
}
_NONE = {"", "-", "–", "none", "tbc", "n/a"}


@dataclass(frozen=True, slots=True)
class ListedInput:
    """One row: strip number, name, port and group, as far as the list says them. line: in the list, from 1."""

    ch: int
    name: str
    port: Ports
    group: str | None
    line: int


def read_input_list(text: str, file: str, desk: Desk) -> tuple[tuple[ListedInput, ...], tuple[Finding, ...]]:
    """Read an input list. Returns its rows and notes on how it was understood.

    Columns are found by their headings: a number and a name are needed, port and group are welcome. Rows without a
    port sit on the desk's first block source, same number. Raises ShowUnreadable with every bad row and its line.
    """
    text = text.removeprefix("\ufeff")
    separator = _separator(text)
    table = [(line, [cell.strip() for cell in row]) for line, row in _rows(text, separator)]
    header_at, columns = _header(table, file)
    rows: list[ListedInput] = []
    problems: list[Finding] = []
    for line, cells in table[header_at + 1 :]:
        if not any(cell.lower() not in _NONE for cell in cells):
            continue
        row = _row(cells, columns, desk, line, file, problems)
        if row is not None:
            rows.append(row)
    _twice(rows, file, problems)
    if problems:
        raise ShowUnreadable(problems)
    unused = [cell for index, cell in enumerate(table[header_at][1]) if cell and index not in columns.values()]
    found = ", ".join(f"{key} in '{table[header_at][1][index]}'" for key, index in columns.items())
    what = f"The input list was read as {len(rows)} inputs, separated by '{_SHOWN.get(separator, separator)}'"
    values = found + (f"; not used: {', '.join(unused)}" if unused else "")
    return tuple(rows), (
        Finding("table-read", "input list", what, values, "Look it over in show.yaml", (), None, file),
    )


_SHOWN = {"\t": "tab"}


def _rows(text: str, separator: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows = []
    start = 1
    for row in reader:
        rows.append((start, row))
        start = reader.line_num + 1
    return rows


def _separator(text: str) -> str:
    """Return the separator that cuts the most lines into the most alike rows."""
    sample = [line for line in text.splitlines() if line.strip()][:40]
    return max((";", "\t", ","), key=lambda mark: sum(1 for line in sample if line.count(mark) >= 1))


def _header(table: list[tuple[int, list[str]]], file: str) -> tuple[int, dict[str, int]]:
    """Return the row that holds the headings, which titles may stand above, and the columns found."""
    for index, (_, cells) in enumerate(table[:20]):
        columns: dict[str, int] = {}
        for key, words in _HEADINGS.items():
            for position, cell in enumerate(cells):
                if cell.lower().rstrip(".:") in words and position not in columns.values():
                    columns[key] = position
                    break
        if {"ch", "name"} <= set(columns):
            return index, columns
    what = "No row has headings for a channel number and a name"
    values = ", ".join(cell for _, cells in table[:1] for cell in cells if cell)[:80]
    remedy = "Put a first row with headings such as: ch, name, port, group"
    raise ShowUnreadable([Finding("table-wrong", "input list", what, f"found: {values}", remedy, line=1, file=file)])


def _row(
    cells: list[str], columns: dict[str, int], desk: Desk, line: int, file: str, problems: list[Finding]
) -> ListedInput | None:
    def cell(key: str) -> str:
        position = columns.get(key, len(cells))
        return cells[position] if position < len(cells) else ""

    def bad(what: str, values: str, remedy: str) -> None:
        problems.append(Finding("table-wrong", "input list", what, values, remedy, line=line, file=file))

    number = re.fullmatch(r"(?:ch\.?\s*)?(\d{1,3})(?:\s*[-/&]\s*(\d{1,3}))?", cell("ch"), re.IGNORECASE)
    if number is None:
        bad("A row has no strip number", f"found '{cell('ch')}'", "Write the number of the strip")
        return None
    ch, width = int(number[1]), 1 if number[2] is None else int(number[2]) - int(number[1]) + 1
    if not cell("name"):
        bad("A row has no name", f"strip {ch}", "Name the input")
        return None
    port = _port(cell("port"), ch, width, desk)
    if port is None:
        bad(
            "A row names no port that can be read",
            f"found '{cell('port')}'",
            "Write it like 'stage 9' or 'stage 9-10'",
        )
        return None
    group = cell("group")
    return ListedInput(ch, cell("name"), port, None if group.lower() in _NONE else group, line)


def _port(text: str, ch: int, width: int, desk: Desk) -> Ports | None:
    first = next((group.name for group in desk.ports if group.direction == "in"), "stage")
    if text.lower() in _NONE:
        return Ports(first, ch, ch + width - 1)
    if re.fullmatch(r"\d{1,3}", text):
        return Ports(first, int(text), int(text) + width - 1)
    try:
        return parse_ports(text)
    except ValueError:
        return None


def _twice(rows: list[ListedInput], file: str, problems: list[Finding]) -> None:
    seen: dict[int, ListedInput] = {}
    for row in rows:
        for ch in range(row.ch, row.ch + len(row.port)):
            if ch in seen:
                other = seen[ch]
                values = f"'{other.name}' in line {other.line}, '{row.name}' in line {row.line}"
                remedy = "Give each input a strip of its own"
                problems.append(
                    Finding(
                        "table-wrong",
                        "input list",
                        f"Strip {ch} is claimed twice",
                        values,
                        remedy,
                        line=row.line,
                        file=file,
                    )
                )
            seen[ch] = row
