"""What an edited list changes in the show: cell by cell, with the edits of the text that would make it so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.ports import Ports
from sidetrip.showfile.edit import NoSuchField
from sidetrip.showfile.listedit import Item, add_row, remove_row, set_item, set_items
from sidetrip.showfile.listforms import Field, ShownRow, Value, number_text, value_text
from sidetrip.showfile.listread import ListRow, ReadList
from sidetrip.showfile.syntax import Path, Source

ChangeKind = Literal["changed", "added", "removed", "followed", "beside"]


@dataclass(frozen=True, slots=True)
class ListChange:
    """One change, as it is told before anything is written.

    row: the name that the show has for it, of a new row the list's. column: the heading in the list. line: in the
    list; of what follows a new name in the show. kind "beside": a cell of a column that the show does not have.
    """

    kind: ChangeKind
    section: str
    row: str
    column: str
    was: str
    becomes: str
    line: int | None
    file: str


@dataclass(frozen=True, slots=True)
class Edit:
    """One step: a key set (value None: taken out), or a whole row added or removed. line: in the list."""

    path: Path
    value: Item
    row: Mapping[str, Item] | None = None
    removes: bool = False
    line: int | None = None
    file: str = ""


@dataclass(frozen=True, slots=True)
class ListDiff:
    """All that a list changes. renamed: old names to new. places: for each row of the new show its line in the list."""

    changes: tuple[ListChange, ...]
    edits: tuple[Edit, ...]
    renamed: Mapping[str, str]
    places: Mapping[int, int]
    findings: tuple[Finding, ...]


def compare(read: ReadList, shown: Sequence[ShownRow], source: Source) -> ListDiff:
    """Hold a list against the show. Findings are what cannot be changed by a list."""
    form, table = read.found.form, read.found.table
    changes: list[ListChange] = []
    edits: list[Edit] = []
    problems: list[Finding] = []
    for row in read.rows:
        if row.old is not None:
            _changed(read, row, shown[row.old], source, changes, edits, problems)
    there = {row.old for row in read.rows}
    gone = [one for one in shown if one.index not in there]
    for one in reversed(gone):
        edits.append(Edit((form.section, one.index), None, removes=True, file=table.file))
    for one in gone:
        place = source.values[form.section, one.index]
        was = " ".join(source.text[place.start : place.end].split())
        changes.append(ListChange("removed", form.section, one.name, "", was, "", None, table.file))
    for row in read.rows:
        if row.old is None:
            _added(read, row, changes, edits, problems)
    renamed = {
        shown[row.old].name: row.name
        for row in read.rows
        if row.old is not None and form.section != "requests" and shown[row.old].name != row.name
    }
    for old, new in renamed.items():
        if any(one.name == new for one in shown):
            line = next(row.line for row in read.rows if row.name == new)
            what, values = "A row takes the name of another", f"'{old}' would be '{new}', which the show has already"
            remedy = "Do it in two steps, so that what names them can follow"
            problems.append(_refused(what, values, remedy, line, table.file))
    kept = [row for row in read.rows if row.old is not None]
    order = {row.old: at for at, row in enumerate(sorted(kept, key=lambda row: row.old or 0))}
    places = {order[row.old]: row.line for row in kept}
    fresh = [row for row in read.rows if row.old is None]
    places.update({len(kept) + at: row.line for at, row in enumerate(fresh)})
    return ListDiff(tuple(changes), tuple(edits), renamed, places, tuple(problems))


def apply(text: str, edits: Sequence[Edit], file: str) -> tuple[str, tuple[Finding, ...]]:
    """Return the text with all edits in it, and those that would have rewritten more than their own lines.

    Keys first, then rows away from the end on, then rows added, so that places stay what they were.
    """
    problems: list[Finding] = []
    sets = [edit for edit in edits if not edit.removes and edit.row is None]
    text, done = set_items(text, {edit.path: edit.value for edit in sets}, file)
    steps = [
        *(edit for edit in sets if edit.path not in done),
        *(edit for edit in edits if edit.removes),
        *(edit for edit in edits if edit.row is not None),
    ]
    for edit in steps:
        try:
            if edit.removes:
                text = remove_row(text, str(edit.path[0]), int(edit.path[1]), file)
            elif edit.row is not None:
                text = add_row(text, str(edit.path[0]), edit.row, file)
            else:
                text = set_item(text, edit.path, edit.value, file)
        except (NoSuchField, ShowUnreadable, ValueError, KeyError) as error:
            words = error.args[0] if isinstance(error, NoSuchField | ValueError) and error.args else str(error)
            what = "The show is written in a way that this change would rewrite"
            problems.append(_refused(what, str(words), f"Change it by hand in {file}", edit.line, edit.file))
    return text, tuple(problems)


def _refused(what: str, values: str, remedy: str, line: int | None, file: str) -> Finding:
    return Finding("table-refused", "list", what, values, remedy, (), line, file)


def _changed(
    read: ReadList,
    row: ListRow,
    old: ShownRow,
    source: Source,
    changes: list[ListChange],
    edits: list[Edit],
    problems: list[Finding],
) -> None:
    form, table = read.found.form, read.found.table
    raw = source.data[form.section][old.index]
    base: Path = (form.section, old.index)
    pinned = {
        field.path[1]: row.values.get(field.key, old.values.get(field.key))
        for field in form.fields
        if len(field.path) > 1
    }
    for field in form.fields:
        if field.key not in row.values or row.values[field.key] == old.values.get(field.key):
            continue
        value, before = row.values[field.key], old.values.get(field.key)
        was = value_text(field, before, spelled=old.spelled.get(field.key))
        becomes = value_text(field, value)
        changes.append(
            ListChange("changed", form.section, old.name, table.heading(field.key), was, becomes, row.line, table.file)
        )
        path = (*base, *field.path)
        if len(field.path) > 1:
            if None in pinned.values() and set(pinned.values()) != {None}:
                what, remedy = "A request insists on one port of two", "Give it a send and a return, or neither"
                problems.append(_refused(what, becomes or "nothing", remedy, row.line, table.file))
            elif "ports" not in raw or None in pinned.values():
                both = None if None in pinned.values() else {key: str(port) for key, port in pinned.items()}
                edit = Edit((*base, "ports"), both, line=row.line, file=table.file)
                edits += [] if edit in edits else [edit]
                continue
        elif isinstance(raw.get(field.path[0]), dict):
            if raw[field.path[0]].get("standing") == "proven" or value is None:
                what, remedy = "A list cannot change a figure that says how it is known", "Change it in the show itself"
                problems.append(_refused(what, f"{old.name}: {was}", remedy, row.line, table.file))
            path = (*path, "is")
        if field.kind == "strip" and isinstance(value, tuple) and isinstance(before, tuple) and value[0] == before[0]:
            continue  # as wide as its ports, which change too
        edits.append(Edit(path, _item(field, value), line=row.line, file=table.file))


def _added(read: ReadList, row: ListRow, changes: list[ListChange], edits: list[Edit], problems: list[Finding]) -> None:
    form, table = read.found.form, read.found.table
    item: dict[str, Any] = {}
    words: list[str] = []
    for field in form.fields:
        value = row.values.get(field.key)
        if value in (None, (), False) or (field.kind == "way" and value == "insert"):
            continue
        words.append(f"{table.heading(field.key)}: {value_text(field, value)}")
        if len(field.path) > 1:
            item.setdefault("ports", {})[field.path[1]] = _item(field, value)
        else:
            item[field.path[0]] = _item(field, value)
    if form.section == "inputs" and "port" not in item:
        what, remedy = "A new input has no port", "Give the list a column 'port'"
        problems.append(_refused(what, row.name, remedy, row.line, table.file))
    if len(item.get("ports", {1: 1, 2: 2})) != 2:
        what, remedy = "A request insists on one port of two", "Give it a send and a return, or neither"
        problems.append(_refused(what, row.name, remedy, row.line, table.file))
    changes.append(ListChange("added", form.section, row.name, "", "", "; ".join(words), row.line, table.file))
    edits.append(Edit((form.section,), None, item, line=row.line, file=table.file))


def _item(field: Field, value: Value) -> Item:
    if field.kind == "strip":
        return value[0] if isinstance(value, tuple) else None
    if isinstance(value, Ports):
        return str(value)
    if field.kind == "figure" and isinstance(value, tuple):
        low, high = value
        if low != high:
            return f"{number_text(low)} to {number_text(high)}"
        return int(low) if low == int(low) else float(low)
    if field.kind == "refs":
        return value if isinstance(value, tuple) and value else None
    if field.kind == "yes":
        return True if value else None
    assert value is None or isinstance(value, str | int)
    return value
