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
from sidetrip.showfile.syntax import forbidden

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
    separator, table, header_at, columns = _understood(text, file)
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
    count = "1 input" if len(rows) == 1 else f"{len(rows)} inputs"
    what = f"The input list was read as {count}, separated by '{_SHOWN.get(separator, separator)}'"
    values = found + (f"; not used: {', '.join(unused)}" if unused else "")
    return tuple(rows), (
        Finding("table-read", "input list", what, values, "Look it over in show.yaml", (), None, file),
    )


_SHOWN = {"\t": "tab"}


def _understood(text: str, file: str) -> tuple[str, _Table, int, dict[str, int]]:
    """Return the separator under which a row has the headings, the table, that row's index and its columns."""
    sample = [line for line in text.splitlines() if line.strip()][:40]
    marks = sorted((";", "\t", ","), key=lambda mark: -sum(mark in line for line in sample))
    tables = [(mark, _rows(text, mark, file)) for mark in marks]
    for mark, table in tables:
        found = _header(table)
        if found is not None:
            return mark, table, *found
    cells = [cell for _, row in tables[0][1][:20] for cell in row if cell]
    values = f"found: {', '.join(cells)[:80]}" if cells else "the list is empty"
    what = "No row has headings for a channel number and a name"
    remedy = "Put a first row with headings such as: ch, name, port, group"
    raise ShowUnreadable([_wrong(what, values, remedy, 1, file)])


_Table = list[tuple[int, list[str]]]
"""Rows with the line they begin in."""


def _rows(text: str, separator: str, file: str) -> _Table:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: _Table = []
    start = 1
    try:
        for row in reader:
            rows.append((start, [" ".join(cell.split()) for cell in row]))
            start = reader.line_num + 1
    except csv.Error as error:
        remedy = "Look for a quotation mark that is never closed"
        raise ShowUnreadable([_wrong("The list cannot be cut into cells", str(error), remedy, start, file)]) from error
    return rows


def _header(table: _Table) -> tuple[int, dict[str, int]] | None:
    """Return the row that holds the headings, which titles may stand above, and the columns found."""
    for index, (_, cells) in enumerate(table[:20]):
        headings = [cell.lower().rstrip(".:") for cell in cells]
        columns: dict[str, int] = {}
        for key, words in _HEADINGS.items():
            at = next((headings.index(word) for word in words if word in headings), None)
            if at is not None and at not in columns.values():
                columns[key] = at
        if {"ch", "name"} <= set(columns):
            return index, columns
    return None


def _wrong(what: str, values: str, remedy: str, line: int, file: str) -> Finding:
    return Finding("table-wrong", "input list", what, values, remedy, line=line, file=file)


def _row(
    cells: list[str], columns: dict[str, int], desk: Desk, line: int, file: str, problems: list[Finding]
) -> ListedInput | None:
    def cell(key: str) -> str:
        position = columns.get(key, len(cells))
        return cells[position] if position < len(cells) else ""

    def bad(what: str, values: str, remedy: str) -> None:
        problems.append(_wrong(what, values, remedy, line, file))

    number = re.fullmatch(r"(?:ch\.?\s*)?([0-9]{1,3})(?:\s*[-/&]\s*([0-9]{1,3}))?", cell("ch"), re.IGNORECASE)
    if number is None:
        bad("A row has no strip number", f"found '{cell('ch')}'", "Write the number of the strip")
        return None
    ch, width = int(number[1]), 1 if number[2] is None else int(number[2]) - int(number[1]) + 1
    pool = desk.pool("channel")
    if width not in (1, 2):
        bad("A row is neither one strip nor a pair", f"found '{cell('ch')}'", "Write it like 9 or 9-10")
        return None
    if ch < 1 or pool is None or ch + width - 1 > pool.legs:
        values = f"found {cell('ch')}, the desk has {pool.legs if pool else 0}"
        bad("The desk has no such strip", values, "Correct the number, or take a larger desk")
        return None
    name, group = cell("name"), cell("group")
    if not name:
        bad("A row has no name", f"strip {ch}", "Name the input")
        return None
    if character := forbidden(name + group):
        bad("A name has a character that no show may hold", character, "Type the name anew")
        return None
    port = _port(cell("port"), ch, width, desk)
    if port is None:
        what = "A row names no port that can be read"
        bad(what, f"found '{cell('port')}'", "Write it like 'stage 9' or 'stage 9-10'")
        return None
    ports = desk.group(port.group)
    if ports is None or ports.direction != "in" or port.last > ports.count:
        inputs = ", ".join(f"{own.name} 1-{own.count}" for own in desk.ports if own.direction == "in")
        bad("The desk has no such input port", f"found '{port}'", f"Use one of: {inputs}")
        return None
    if len(port) > 2 or (width == 2 and len(port) == 1):
        values = f"strips {cell('ch')}, ports {port}"
        bad("Strips and ports of a row differ in number", values, "Give a pair of strips a pair of ports")
        return None
    return ListedInput(ch, name, port, None if group.lower() in _NONE else group, line)


def _port(text: str, ch: int, width: int, desk: Desk) -> Ports | None:
    first = next((group.name for group in desk.ports if group.direction == "in"), "stage")
    if text.lower() in _NONE:
        return Ports(first, ch, ch + width - 1)
    if re.fullmatch(r"[0-9]{1,3}", text) and int(text) > 0:
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
                problems.append(_wrong(f"Strip {ch} is claimed twice", values, remedy, row.line, file))
            seen[ch] = row
