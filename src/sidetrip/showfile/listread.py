"""An edited list to rows with values, each beside the row of the show that it is about."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.base import folded
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.showfile.listcells import Context, read_cell, says_name, says_strip
from sidetrip.showfile.listforms import FORMS, Form, ShownRow, Value
from sidetrip.showfile.listpairs import join_sides
from sidetrip.showfile.listtable import CutList, Table, TableRow, cut_list, find_table, no_headings, wrong
from sidetrip.showfile.listvalues import Decimal, decimal_of
from sidetrip.showfile.listwords import guarded

_STAMP = re.compile(r"sidetrip list: (inputs|outputs|requests)")
_STATE = re.compile(r"state ([0-9a-f]{10})")
_DECIMAL = re.compile(r"decimal (point|comma)")
_ID = re.compile(r"([A-Z]{2,3})-0*([0-9]{1,4})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Stamp:
    """What stands over a list that was written from a show: which list, and in which state."""

    section: str
    state: str
    decimal: Decimal | None


@dataclass(frozen=True, slots=True)
class ListRow:
    """A row of a list. old: the place of its row in the show, None for a new one. values: of the columns it has."""

    line: int
    old: int | None
    name: str
    values: Mapping[str, Value]
    own: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FoundList:
    """A list found in its file, not held against a show yet."""

    form: Form
    table: Table
    stamp: Stamp | None


@dataclass(frozen=True, slots=True)
class ReadList:
    """A list held against a show. findings: errors, what was mended, how it was understood."""

    found: FoundList
    rows: tuple[ListRow, ...]
    findings: tuple[Finding, ...] = field(default=())


def stamp_cells(form: Form, show: str, state: str, decimal: Decimal) -> tuple[str, ...]:
    """Return the row that stands over a list, so that it can be held against the state it was written from."""
    return f"sidetrip list: {form.section}", guarded(show), f"state {state}", f"decimal {decimal}"


def find_list(data: bytes | str, file: str) -> FoundList:
    """Find out which list a file is, and its table. Raises ShowUnreadable when it is none of the three."""
    cut = cut_list(data, file)
    stamp = _stamp(cut)
    if stamp is not None:
        form = next(form for form in FORMS if form.section == stamp.section)
        return FoundList(form, find_table(cut, form.columns), stamp)
    for form in FORMS:
        try:
            return FoundList(form, find_table(cut, form.columns), None)
        except ShowUnreadable:
            continue
    reasons = [no_headings(cut, form.columns) for form in FORMS]
    near = [reason for reason in reasons if reason.remedy.startswith("Correct")]
    raise ShowUnreadable([near[0] if near else reasons[-1]])


def _stamp(cut: CutList) -> Stamp | None:
    for _, rows in cut.cuts:
        for _, cells in rows[:5]:
            found = next((match for cell in cells if (match := _STAMP.fullmatch(cell.strip()))), None)
            if found:
                state = next((match[1] for cell in cells if (match := _STATE.fullmatch(cell.strip()))), "")
                mark = next((match[1] for cell in cells if (match := _DECIMAL.fullmatch(cell.strip()))), None)
                return Stamp(found[1], state, "comma" if mark == "comma" else "point" if mark == "point" else None)
    return None


def read_list(
    found: FoundList,
    shown: Sequence[ShownRow],
    desk: Desk,
    *,
    ids: Mapping[str, int] | None,
    decimal: Decimal | None = None,
    names: Mapping[str, Sequence[str]],
) -> ReadList:
    """Read the cells of a list, each beside what the show says there.

    ids: the place of each row id in the show, None when ids cannot be trusted. decimal: the mark in its figures, None
    to find out. names: what a column of names may name, for what a spreadsheet did to them. All problems are in the
    findings of the result.
    """
    form, table = found.form, found.table
    problems = list(table.findings)
    figures = [f.key for f in form.fields if f.kind == "figure"]
    cells = [row.cells[key] for row in table.rows for key in figures if key in row.cells]
    mark = decimal or decimal_of(cells) or (found.stamp.decimal if found.stamp else None)
    context = Context(form, table, desk, mark, names, problems)
    rows = join_sides(context, table.rows, shown) if form.section == "inputs" else table.rows
    olds = _matched(context, rows, shown, ids)
    read: list[ListRow] = []
    for row, old in zip(rows, olds, strict=True):
        before = None if old is None else shown[old]
        values: dict[str, Value] = {}
        bad = False
        for column in form.fields:
            if column.key in row.cells:
                ok, value = read_cell(context, row, column, before, values)
                values[column.key], bad = value, bad or not ok
        if not bad and not _widths_agree(context, row, values, before):
            continue
        name = values.get("strip" if form.section == "requests" else "name")
        if not bad:
            read.append(ListRow(row.line, old, str(name), values, row.own))
    _twice(context, read, shown)
    return ReadList(replace(found, table=replace(table, findings=())), tuple(read), tuple(problems))


def _widths_agree(context: Context, row: TableRow, values: dict[str, Value], before: ShownRow | None) -> bool:
    """Make a strip as wide as its ports; tell whether a pair of strips has a pair of ports."""
    strip, port = values.get("ch"), values.get("port", before.values.get("port") if before else None)
    if not isinstance(strip, tuple) or not isinstance(port, Ports):
        return True
    if strip[1] > strip[0] and len(port) == 1:
        what, remedy = "Strips and ports of a row differ in number", "Give a pair of strips a pair of ports"
        context.wrong(what, f"strips {strip[0]} & {strip[1]}, {port}", remedy, row.line, context.table.heading("ch"))
        return False
    values["ch"] = (strip[0], strip[0] + len(port) - 1)
    return True


def _matched(
    context: Context, rows: Sequence[TableRow], shown: Sequence[ShownRow], ids: Mapping[str, int] | None
) -> list[int | None]:
    """Return for each row the place of its row in the show: by id, else by all it says, its name, its number."""
    table = context.table
    olds: list[int | None] = [None] * len(rows)
    lines: dict[int, int] = {}
    for at, row in enumerate(rows if ids is not None else ()):
        said = row.cells.get("row", "").strip()
        match = _ID.fullmatch(said)
        if not said or said == "-":
            continue
        place = (ids or {}).get(f"{match[1].upper()}-{int(match[2])}") if match else None
        if place is None:
            what, remedy = "A row id that the list was not written with", "Empty the cell if the row is new"
            context.wrong(what, f"found '{said}'", remedy, row.line, table.heading("row"))
        elif place in lines:
            values = f"{said} in line {lines[place]} and in line {row.line}"
            what, remedy = "A row id stands twice", "Empty the cell in the row that is new"
            context.wrong(what, values, remedy, row.line, table.heading("row"))
        else:
            olds[at], lines[place] = place, row.line
    free = [one for one in shown if one.index not in lines]
    said_by = [(folded(says_name(context, row)), says_strip(context, row)) for row in rows]
    for rule in (_all, _by_name, _by_number):
        for at in range(len(rows)):
            if olds[at] is not None:
                continue
            hit = next((one for one in free if rule(one, *said_by[at])), None)
            if hit is not None:
                olds[at] = hit.index
                free.remove(hit)
    return olds


def _all(shown: ShownRow, name: str, number: Value) -> bool:
    return _by_name(shown, name, number) and (number is None or _by_number(shown, name, number))


def _by_name(shown: ShownRow, name: str, number: Value) -> bool:
    return shown.name == name


def _by_number(shown: ShownRow, name: str, number: Value) -> bool:
    own = shown.values.get("ch")
    return isinstance(number, tuple) and isinstance(own, tuple) and own[0] == number[0]


def _twice(context: Context, rows: Sequence[ListRow], shown: Sequence[ShownRow]) -> None:
    """Find strips and names that two rows claim, naming both lines."""
    form, table = context.form, context.table
    names: dict[str, ListRow] = {}
    strips: dict[int, ListRow] = {}
    for row in rows:
        if form.section != "requests":
            if row.name in names:
                values = f"lines {names[row.name].line} and {row.line}"
                remedy = "Give each a name of its own"
                context.wrong(f"Two rows carry the name '{row.name}'", values, remedy, row.line, table.heading("name"))
            names[row.name] = row
        claimed = row.values.get("ch")
        if isinstance(claimed, tuple):
            for number in range(claimed[0], claimed[1] + 1):
                if number in strips and strips[number] is not row:
                    other = strips[number]
                    values = f"'{other.name}' in line {other.line}, '{row.name}' in line {row.line}"
                    remedy = "Give each input a strip of its own"
                    context.wrong(f"Strip {number} is claimed twice", values, remedy, row.line, table.heading("ch"))
                strips[number] = row


__all__ = ["FoundList", "ListRow", "ReadList", "Stamp", "find_list", "read_list", "stamp_cells", "wrong"]
