"""A small table as people keep it in a spreadsheet: found in its file, cut into cells, headings known by many words.

`read_table` is for any list: give it the columns, get rows with lines. What was mended is said, what is uncertain is
refused by line, and columns that nobody asked for are kept with their place.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import pairwise

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.listtext import decode_list
from sidetrip.showfile.listwords import gave_up, is_ditto, is_none, unguarded
from sidetrip.showfile.syntax import forbidden

SHOWN = {"\t": "tab", ";": ";", ",": ","}
_HEADER_WITHIN = 20
_CLOSE = 0.8


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is asked for. words: its headings in lower case, the usual one first.

    needed: without it there is no table. fill: a blank below a value may be what is left of a merged cell.
    exact: its cells are names, where no word means "nothing" or "as above" unless it stands for itself.
    """

    key: str
    words: tuple[str, ...]
    needed: bool = False
    fill: bool = False
    exact: bool = False


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row. line: in the file, from 1. cells: of the columns asked for, by key. own: of all others, in order."""

    line: int
    cells: Mapping[str, str]
    own: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table that was found. above: the rows over its headings. keys: for each heading its column, None for others.

    findings: what is wrong with rows, what was mended, how it was understood; errors do not hide the other rows.
    """

    file: str
    separator: str
    above: tuple[tuple[str, ...], ...]
    header_line: int
    headings: tuple[str, ...]
    keys: tuple[str | None, ...]
    rows: tuple[TableRow, ...]
    findings: tuple[Finding, ...]

    @property
    def own_headings(self) -> tuple[str, ...]:
        """The headings that nobody asked for, in the order of `TableRow.own`."""
        return tuple(head for head, key in zip(self.headings, self.keys, strict=True) if key is None)

    def heading(self, key: str) -> str:
        """Return how the file itself calls a column; its key if it does not have it."""
        return next((head for head, own in zip(self.headings, self.keys, strict=True) if own == key), key)


Row = tuple[int, list[str]]
"""Cells with the line that they begin in."""


@dataclass(frozen=True, slots=True)
class CutList:
    """A list cut into cells by each separator that may be meant, the likeliest first."""

    file: str
    cuts: tuple[tuple[str, list[Row]], ...]
    findings: tuple[Finding, ...]


def read_table(data: bytes | str, file: str, columns: Sequence[Column]) -> Table:
    """Read a small CSV table of these columns, however it was exported.

    Raises ShowUnreadable when no table comes out of it: no text, no row with the headings that are needed (the
    nearest words are named). Everything else is in the table's findings, each with its line.
    """
    return find_table(cut_list(data, file), columns)


def cut_list(data: bytes | str, file: str) -> CutList:
    """Cut a list into cells. Raises ShowUnreadable when it is no text, or quotation marks do not close."""
    text, findings = decode_list(data, file) if isinstance(data, bytes) else (data.removeprefix("\ufeff"), ())
    sample = [line for line in text.splitlines() if line.strip()][:40]
    marks = sorted((";", "\t", ","), key=lambda mark: -sum(mark in line for line in sample))
    if sample and (said := re.fullmatch(r"\"?sep=([;,\t])\"?[;,\t]*", sample[0])):
        marks = [said[1]]
    cuts: list[tuple[str, list[Row]]] = []
    broken: ShowUnreadable | None = None
    for mark in marks:
        try:
            cuts.append((mark, _rows(text, mark, file)))
        except ShowUnreadable as error:
            broken = broken or error
    if broken is not None and (not cuts or marks[0] != cuts[0][0]):
        raise broken
    return CutList(file, tuple(cuts), findings)


def find_table(cut: CutList, columns: Sequence[Column]) -> Table:
    """Return the table of these columns. Raises ShowUnreadable when no row has the headings that are needed."""
    for mark, rows in cut.cuts:
        at = _header(rows, columns)
        if at is not None:
            return _table(cut, mark, rows, at, columns)
    raise ShowUnreadable([no_headings(cut, columns)])


def no_headings(cut: CutList, columns: Sequence[Column]) -> Finding:
    """Make the finding for a list without the headings: what is missing, and which cell may be meant for it."""
    needed = [column for column in columns if column.needed]
    best: tuple[int, int, list[str], int] | None = None
    for _, rows in cut.cuts:
        for line, cells in rows[:_HEADER_WITHIN]:
            found = _columns(cells, columns)
            have = sum(column.key in found for column in columns)
            close = sum(_near(column, cells) != "" for column in needed if column.key not in found)
            if best is None or (have, close) > best[:2]:
                best = (have, close, cells, line)
    cells, line = (best[2], best[3]) if best else ([], 1)
    near_top = [cell for _, rows in cut.cuts[:1] for _, row in rows[:_HEADER_WITHIN] for cell in row]
    filled = [_cell(cell) for cell in cells if cell.strip()] or [_cell(cell) for cell in near_top if cell.strip()]
    values = f"found: {', '.join(filled)[:80]}" if filled else "the list is empty"
    missing = [column for column in needed if column.key not in _columns(cells, columns)]
    hints = [f"'{near}' may be meant for '{column.words[0]}'" for column in missing if (near := _near(column, cells))]
    what = "No row has headings for " + " and ".join(column.words[0] for column in needed)
    shown = ", ".join(column.words[0] for column in columns if column.key != "row")
    remedy = f"Put a first row with headings such as: {shown}"
    if hints:
        remedy = f"Correct the headings: {', '.join(hints)}"
    return wrong(what, values, remedy, line if filled else 1, cut.file)


def wrong(what: str, values: str, remedy: str, line: int, file: str, column: str = "") -> Finding:
    """Make the finding for a row, or one cell of it, that cannot be read."""
    return Finding("table-wrong", f"column {column}" if column else "list", what, values, remedy, (), line, file)


def mended(what: str, values: str, remedy: str, line: int, file: str, column: str = "") -> Finding:
    """Make the finding for something that was put right while reading."""
    return Finding("table-mended", f"column {column}" if column else "list", what, values, remedy, (), line, file)


def plain_heading(text: str) -> str:
    """Return a heading as headings are compared: lower case, one blank, no unit brackets, no colon or full stop."""
    return " ".join(re.sub(r"[\[\](){}_]", " ", text).lower().replace("-", " ").split()).rstrip(".:*")


def _rows(text: str, separator: str, file: str) -> list[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[Row] = []
    start = 1
    try:
        for row in reader:
            rows.append((start, row))
            start = reader.line_num + 1
    except csv.Error as error:
        remedy = "Look for a quotation mark that is never closed, or for text behind one that is"
        raise ShowUnreadable([wrong("The list cannot be cut into cells", str(error), remedy, start, file)]) from error
    return rows


def _cell(text: str) -> str:
    """Return a cell with its line breaks as blanks and nothing around it; blanks inside stay as they are."""
    return re.sub(r"[ \t]*[\r\n\v\f\x85\u2028\u2029]+[ \t]*", " ", text.strip()).strip()


def _header(rows: list[Row], columns: Sequence[Column]) -> int | None:
    needed = {column.key for column in columns if column.needed}
    for index, (_, cells) in enumerate(rows[:_HEADER_WITHIN]):
        if needed <= set(_columns(cells, columns)):
            return index
    return None


def _columns(cells: Sequence[str], columns: Sequence[Column]) -> dict[str, int]:
    """Return where each column stands; of two headings that would do, the better word wins."""
    headings = [plain_heading(unguarded(cell)) for cell in cells]
    found: dict[str, int] = {}
    for column in columns:
        spots = (headings.index(word) for word in column.words if word in headings)
        at = next((spot for spot in spots if spot not in found.values()), None)
        if at is not None:
            found[column.key] = at
    return found


def _near(column: Column, cells: Sequence[str]) -> str:
    """Return the heading that is nearly one of this column's words."""
    for cell in cells:
        heading = plain_heading(cell)
        if len(heading) > 3 and get_close_matches(heading, column.words, n=1, cutoff=_CLOSE):
            return cell
    return ""


def _table(cut: CutList, mark: str, rows: list[Row], at: int, columns: Sequence[Column]) -> Table:
    line, headings = rows[at]
    file, places = cut.file, _columns(headings, columns)
    width = max(i + 1 for i, cell in enumerate(headings) if cell.strip())
    headings = [unguarded(_cell(cell)) for cell in headings[:width]]
    keys: list[str | None] = [next((key for key, place in places.items() if place == i), None) for i in range(width)]
    problems = list(cut.findings)
    problems += _headings_wrong(headings, keys, columns, line, file)
    made: list[TableRow] = []
    for start, cells in rows[at + 1 :]:
        if not any(not is_none(cell) for cell in cells):
            continue
        beyond = [_cell(cell) for cell in cells[width:] if cell.strip()]
        if beyond:
            values = f"found '{beyond[0]}' behind {width} columns"
            remedy = "Put text with a separator in it into quotation marks, or give the last column a heading"
            problems.append(wrong("A row has a cell beyond the last heading", values, remedy, start, file))
            continue
        raw = [*cells, *[""] * (width - len(cells))][:width]
        filled = [_cell(cell) for cell in raw]
        for index, cell in enumerate(filled):
            if character := forbidden(cell):
                what, remedy = "A cell has a character that no show may hold", "Type the cell anew"
                problems.append(wrong(what, character, remedy, start, file, headings[index]))
            if keys[index] is not None and gave_up(cell):
                what, remedy = "A spreadsheet put an error in place of the cell", "Type the cell anew"
                problems.append(wrong(what, f"found '{cell}'", remedy, start, file, headings[index]))
        own = tuple(unguarded(cell) for cell, key in zip(raw, keys, strict=True) if key is None)
        known = {key: filled[place] for key, place in places.items()}
        made.append(TableRow(start, known, own))
    above = tuple(tuple(cells) for _, cells in rows[:at])
    table = Table(file, mark, above, line, tuple(headings), tuple(keys), tuple(made), ())
    kept = _filled(table, columns, problems)
    return Table(file, mark, above, line, table.headings, table.keys, kept, tuple(problems))


def _headings_wrong(
    headings: list[str], keys: list[str | None], columns: Sequence[Column], line: int, file: str
) -> list[Finding]:
    """Find headings that stand twice, and headings that are nearly the one of a column that is not there."""
    found: list[Finding] = []
    absent = [column for column in columns if column.key not in keys]
    for index, heading in enumerate(headings):
        if keys[index] is not None:
            twice = [plain_heading(other) for other in headings].count(plain_heading(heading))
            if twice > 1:
                values, remedy = f"'{heading}', {twice} times", "Name the others otherwise; nobody knows which is meant"
                found.append(wrong("A heading stands more than once", values, remedy, line, file, heading))
            continue
        near = next((column for column in absent if _near(column, [heading])), None)
        if near is not None:
            remedy = f"Did you mean '{near.words[0]}'? If it is a column of your own, name it otherwise"
            found.append(wrong("A heading is nearly one that means something", heading, remedy, line, file, heading))
    return found


def _filled(table: Table, columns: Sequence[Column], problems: list[Finding]) -> tuple[TableRow, ...]:
    """Return the rows with "as above" and what merged cells left behind written out."""
    cells = [dict(row.cells) for row in table.rows]
    for column in columns:
        if column.key not in table.keys:
            continue
        _dittoes(table, column, cells, problems)
        if column.fill:
            _merged(table, column, cells, problems)
    return tuple(TableRow(row.line, new, row.own) for row, new in zip(table.rows, cells, strict=True))


def _dittoes(table: Table, column: Column, cells: list[dict[str, str]], problems: list[Finding]) -> None:
    heading, lines = table.heading(column.key), []
    for index, row in enumerate(table.rows):
        if not is_ditto(cells[index][column.key]):
            continue
        above = cells[index - 1][column.key] if index else ""
        if column.exact or not above:
            what, remedy = "A cell says 'as above' where that cannot be", "Write the cell out"
            problems.append(wrong(what, f"found {cells[index][column.key]}", remedy, row.line, table.file, heading))
            continue
        cells[index][column.key] = above
        lines.append(row.line)
    if lines:
        values = f"lines {', '.join(map(str, lines))}"
        what = "Cells that say 'as above' were written out"
        problems.append(mended(what, values, "Look them over", lines[0], table.file, heading))


def _merged(table: Table, column: Column, cells: list[dict[str, str]], problems: list[Finding]) -> None:
    """Fill blanks down where they can only be what merged cells left: no value stands twice in a row, none is "-"."""
    key, heading = column.key, table.heading(column.key)
    values = [row[key] for row in cells]
    blanks = [index for index, value in enumerate(values) if not value]
    if not blanks or len(blanks) == len(values):
        return
    repeated = any(one and one == two for one, two in pairwise(values))
    spelled = any(value and is_none(value) for value in values)
    if repeated or spelled or blanks[0] == 0:
        for index in blanks:
            what = "A blank cell may mean 'none' or be what is left of a merged cell"
            remedy = "Write '-' for none, or write the cell out"
            problems.append(wrong(what, "", remedy, table.rows[index].line, table.file, heading))
        return
    for index in blanks:
        cells[index][key] = cells[index - 1][key]
    shown = ", ".join(f"{table.rows[index].line}: {cells[index][key]}" for index in blanks)
    what, remedy = "Blanks below a value were taken for merged cells and filled down", "Write '-' where none is meant"
    problems.append(mended(what, f"lines {shown}", remedy, table.rows[blanks[0]].line, table.file, heading))
