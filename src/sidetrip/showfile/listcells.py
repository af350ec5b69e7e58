"""One cell of a list, read beside what the show says there, so that what a spreadsheet did to it can be seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

from sidetrip.findings import Finding
from sidetrip.model.base import folded
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Way
from sidetrip.showfile.listforms import Field, Form, ShownRow, Value, split_names
from sidetrip.showfile.listtable import Table, TableRow, mended, wrong
from sidetrip.showfile.listvalues import CellWrong, Decimal, Mend, figure, port_run, strip_numbers, want
from sidetrip.showfile.listwords import as_date, formula, is_none, is_unknown, unguarded, yes_or_no


@dataclass(frozen=True, slots=True)
class Context:
    """What reading a cell needs to know, and where its problems go."""

    form: Form
    table: Table
    desk: Desk
    decimal: Decimal | None
    names: Mapping[str, Sequence[str]]
    problems: list[Finding]

    def wrong(self, what: str, values: str, remedy: str, line: int, column: str = "") -> None:
        """Note an error."""
        self.problems.append(wrong(what, values, remedy, line, self.table.file, column))

    def mended(self, what: str, values: str, remedy: str, line: int, column: str = "") -> None:
        """Note what was put right."""
        self.problems.append(mended(what, values, remedy, line, self.table.file, column))


def says_name(context: Context, row: TableRow) -> str:
    """Return what a row is called, as it stands there."""
    return unguarded(row.cells.get("strip" if context.form.section == "requests" else "name", ""))


def says_strip(context: Context, row: TableRow) -> tuple[int, int] | None:
    """Return the strip of a row of inputs, None where there is none or it cannot be read."""
    if context.form.section != "inputs" or is_none(row.cells.get("ch", "")):
        return None
    try:
        return strip_numbers(row.cells["ch"], lambda taken: None)
    except CellWrong:
        return None


def read_cell(
    context: Context, row: TableRow, field: Field, old: ShownRow | None, values: Mapping[str, Value]
) -> tuple[bool, Value]:
    """Read one cell. Returns whether it could be, and what it means. values: what the row's earlier columns mean."""
    text, heading = row.cells[field.key], context.table.heading(field.key)
    before = old.values.get(field.key) if old is not None else None

    def mend(taken: str) -> None:
        what = "A spreadsheet changed this cell, and it was put right"
        context.mended(what, f"'{text}' was taken for '{taken}'", "Look it over", row.line, heading)

    try:
        value = _value(context, field, text, old, before, values, mend)
    except CellWrong as error:
        context.wrong(error.what, f"found '{text[:60]}'", error.remedy, row.line, heading)
        return False, None
    return True, value


def _value(
    context: Context,
    field: Field,
    text: str,
    old: ShownRow | None,
    before: Value,
    values: Mapping[str, Value],
    mend: Mend,
) -> Value:
    if field.kind in ("name", "ref"):
        return _name(context, field, text, before, mend)
    if field.kind == "refs":
        return _names(text, before)
    if field.kind == "strip":
        return _strip(context, text, old, mend)
    if field.kind == "port":
        return _port(context, field, text, before, values, mend)
    if field.kind == "figure":
        return None if is_none(text) else figure(text, field.unit, context.decimal) or "unknown"
    if field.kind == "want":
        return want(text)
    if field.kind == "way":
        return _way(text)
    answer = yes_or_no(text)
    if answer is None:
        raise CellWrong("A cell is neither yes nor no", "Write x, yes or ja; no, nein or '-'")
    return answer


def _name(context: Context, field: Field, text: str, before: Value, mend: Mend) -> Value:
    name = folded(unguarded(text))
    known = context.names.get(field.key, ())
    if isinstance(before, str) and before in (name, folded(text)):
        return before
    if name == text and field.kind == "ref" and is_none(text) and text not in known:
        if field.column.needed:
            raise CellWrong(f"A row names no {field.column.words[0]}", "Write it out")
        return None
    if not name or (name == text and field.kind == "name" and is_none(text)):
        raise CellWrong("A row has no name", "Name it")
    if name == text and formula(text):
        remedy = f"Write '{text} with an apostrophe before it if this is the name, else write the name"
        raise CellWrong("A cell begins as a formula does", remedy)
    if name == text and field.kind == "ref" and is_unknown(text) and text not in known:
        raise CellWrong("A cell says that it is not known yet", "Write '-' until it is")
    if name == text:
        whole = [before] if isinstance(before, str) else known if name not in known else []
        restored = [one for one in whole if _restores(name, str(one))]
        if len(restored) == 1:
            mend(restored[0])
            return restored[0]
    return name


def _restores(cell: str, name: str) -> bool:
    """Tell whether a spreadsheet makes this cell of that name: letters or zeros lost, an exponent, a date."""
    if cell == name:
        return False
    if "?" in cell and cell == name.encode("cp1252", "replace").decode("cp1252"):
        return True
    first, second = as_date(cell), as_date(name)
    if first is not None and (second is not None or any(letter in name for letter in "-/")):
        figures = [int(part) for part in name.replace("/", "-").split("-") if part.strip().isdecimal()]
        return sorted(first) == sorted(second or figures[:2])
    try:
        return float(cell.replace(",", ".")) == float(name.replace(",", "."))
    except ValueError:
        logic = {"wahr": "true", "falsch": "false"}
        low = cell.lower()
        return name.lower() in ("true", "false") and logic.get(low, low) == name.lower()


def _names(text: str, before: Value) -> Value:
    bare = unguarded(text)
    if bare == text and (is_none(text) or not text):
        return ()
    if formula(text) and bare == text:
        raise CellWrong("A cell begins as a formula does", "Write the names, with | between them")
    found = split_names(bare)
    if isinstance(before, tuple) and set(found) == set(before):
        return before
    return found


def _strip(context: Context, text: str, old: ShownRow | None, mend: Mend) -> Value:
    if is_none(text) and old is not None and old.values.get("ch") is None:
        return None
    first, last = strip_numbers(text, mend)
    pool = context.desk.pool("channel")
    if last - first not in (0, 1):
        raise CellWrong("A row is neither one strip nor a pair", "Write it like 9 or 9 & 10")
    if first < 1 or pool is None or last > pool.legs:
        remedy = f"Correct the number, or take a larger desk; this one has {pool.legs if pool else 0}"
        raise CellWrong("The desk has no such strip", remedy)
    return first, last


def _port(context: Context, field: Field, text: str, before: Value, values: Mapping[str, Value], mend: Mend) -> Value:
    direction = "in" if context.form.section == "inputs" or field.key == "return" else "out"
    strip = values.get("ch")
    width = strip[1] - strip[0] + 1 if isinstance(strip, tuple) else 1
    if isinstance(before, Ports):
        width = max(width, len(before)) if not isinstance(strip, tuple) else width
    first = next((group.name for group in context.desk.ports if group.direction == direction), None)
    group = before.group if isinstance(before, Ports) else first if context.form.section == "inputs" else None
    if is_none(text) or is_unknown(text):
        if context.form.section == "requests":
            return None
        if context.form.section == "inputs" and before is None and not isinstance(strip, tuple):
            return None  # the strip is refused already
        if context.form.section == "outputs" or before is not None or first is None or not isinstance(strip, tuple):
            raise CellWrong("A row names no port", "Write it like 'stage 9' or 'stage 9 & 10'")
        return Ports(first, strip[0], strip[0] + width - 1)
    ports = port_run(text, group, width, mend)
    own = context.desk.group(ports.group)
    if own is None or own.direction != direction or ports.last > own.count:
        there = ", ".join(f"{one.name} 1-{one.count}" for one in context.desk.ports if one.direction == direction)
        kind = "input" if direction == "in" else "output"
        raise CellWrong(f"The desk has no such {kind} port", f"Use one of: {there}")
    if isinstance(strip, tuple) and (len(ports) > 2 or (width == 2 and len(ports) == 1)):
        raise CellWrong("Strips and ports of a row differ in number", "Give a pair of strips a pair of ports")
    return ports


def _way(text: str) -> Value:
    word = text.strip().lower().replace("inline", "in-line")
    if is_none(text):
        return "insert"
    if word not in get_args(Way):
        raise CellWrong("A cell is no way out", f"Use one of: {', '.join(get_args(Way))}")
    return word
