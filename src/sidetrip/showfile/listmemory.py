"""What a list holds that the show does not: columns of one's own, their order and cells, kept in a file beside it.

The file is JSON, `lists-kept.json` in the show's folder. It also knows which lists were written from which state of
the show, so that a row id still means its row after the list was read in.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.listdiff import ListChange
from sidetrip.showfile.listforms import Form, ShownRow
from sidetrip.showfile.listread import ListRow, ReadList
from sidetrip.showfile.listtable import Table
from sidetrip.showfile.listwords import unguarded

FILE = "lists-kept.json"
_STATES = 20
_FILES = 60
_VERSION = 1


@dataclass(frozen=True, slots=True)
class Written:
    """A state in which a list was written. now: the state that it stands for since. rows: row ids to places."""

    now: str
    rows: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class KeptList:
    """One list. columns: (key or None for one's own, heading), in order. cells: by row name and own column."""

    columns: tuple[tuple[str | None, str], ...] = ()
    above: tuple[tuple[str, ...], ...] = ()
    cells: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    written: Mapping[str, Written] = field(default_factory=dict)

    @property
    def own(self) -> tuple[str, ...]:
        """The names of one's own columns, in order; a heading that stands again gets a number."""
        return own_names([heading for key, heading in self.columns if key is None])


@dataclass(frozen=True, slots=True)
class Memory:
    """All that is kept. files: prints (SHA-256) of lists whose whole content is in the show or in here."""

    lists: Mapping[str, KeptList] = field(default_factory=dict)
    files: tuple[str, ...] = ()

    def of(self, section: str) -> KeptList:
        """Return what is kept of one list."""
        return self.lists.get(section, KeptList())

    def knows(self, print_of_file: str) -> bool:
        """Tell whether a file holds nothing that would be lost."""
        return print_of_file in self.files


def own_names(headings: Sequence[str]) -> tuple[str, ...]:
    """Return a name for each of one's own columns: its heading, with a number from the second time on."""
    names: list[str] = []
    for at, heading in enumerate(headings):
        again = headings[:at].count(heading)
        names.append(f"{heading} #{again + 1}" if again else heading)
    return tuple(names)


def read_memory(text: str, file: str) -> Memory:
    """Read what is kept. Raises ShowUnreadable when somebody changed it so that it cannot be read."""
    try:
        data = json.loads(text)
        if data["sidetrip_lists"] != _VERSION:
            raise ValueError("another version")
        lists = {str(section): _kept(one) for section, one in data["lists"].items()}
        return Memory(lists, tuple(str(one) for one in data["files"]))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        what = "The file that keeps the lists' own columns cannot be read"
        remedy = "Put back an older copy, or move it away; the columns in it are then no longer written"
        found = Finding("file-unreadable", "lists", what, f"{type(error).__name__}: {error}"[:120], remedy, (), 1, file)
        raise ShowUnreadable([found]) from error


def _kept(data: Mapping[str, Any]) -> KeptList:
    columns = tuple((None if key is None else str(key), str(heading)) for key, heading in data["columns"])
    cells = {str(row): {str(k): str(v) for k, v in own.items()} for row, own in data["cells"].items()}
    above = tuple(tuple(str(cell) for cell in row) for row in data["above"])
    written = {
        str(state): Written(str(one["now"]), {str(k): int(v) for k, v in one["rows"].items()})
        for state, one in data["written"].items()
    }
    return KeptList(columns, above, cells, written)


def memory_text(memory: Memory) -> str:
    """Return what is kept as text, the same for the same content."""
    lists = {
        section: {
            "columns": [list(column) for column in kept.columns],
            "above": [list(row) for row in kept.above],
            "cells": {row: dict(own) for row, own in sorted(kept.cells.items())},
            "written": {
                state: {"now": one.now, "rows": dict(one.rows)} for state, one in list(kept.written.items())[-_STATES:]
            },
        }
        for section, kept in sorted(memory.lists.items())
    }
    document = {"sidetrip_lists": _VERSION, "lists": lists, "files": list(memory.files[-_FILES:])}
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def with_file(memory: Memory, print_of_file: str) -> Memory:
    """Return the memory that knows one file more, the newest last."""
    return replace(memory, files=(*(one for one in memory.files if one != print_of_file), print_of_file))


def ids_of(kept: KeptList, form: Form, state: str, now: str, count: int) -> Mapping[str, int] | None:
    """Return what the row ids of a list mean today; None when the show changed since by another way.

    state: in which the list was written. now: today's state. count: how many rows the show has.
    """
    if state == now:
        return {_plain_id(form, index): index for index in range(count)}
    written = kept.written.get(state)
    return written.rows if written is not None and written.now == now else None


def _plain_id(form: Form, index: int) -> str:
    return f"{form.mark}-{index + 1}"


def row_keys(names: Sequence[str]) -> tuple[str, ...]:
    """Return under what name the cells of each row are kept: its own, with a number where it stands again."""
    return own_names(names)


def own_changes(read: ReadList, kept: KeptList, shown: Sequence[ShownRow]) -> tuple[ListChange, ...]:
    """Return what changed in columns that the show does not have, against what is kept."""
    table, section = read.found.table, read.found.form.section
    names, keys = own_names(table.own_headings), row_keys([row.name for row in shown])
    changes: list[ListChange] = []
    for row in read.rows:
        before = kept.cells.get(keys[row.old], {}) if row.old is not None else {}
        for name, cell in zip(names, row.own, strict=True):
            was = before.get(name, "")
            if was != cell:
                old = shown[row.old].name if row.old is not None else row.name
                changes.append(ListChange("beside", section, old, name, was, cell, row.line, table.file))
    return tuple(changes)


def remember(
    memory: Memory, read: ReadList, shown: Sequence[ShownRow], states: Mapping[str, str], after: Mapping[str, str]
) -> Memory:
    """Return the memory once a list is read in: its columns in its order, its cells, and what its row ids mean now.

    states, after: the state of each list before and after, by section.
    """
    form, table = read.found.form, read.found.table
    kept = memory.of(form.section)
    names = own_names(table.own_headings)
    places = _places(read)
    before, after_rows = row_keys([row.name for row in shown]), sorted(read.rows, key=lambda row: _place(row, places))
    # A row that the show lost in another way keeps its cells until somebody decides.
    cells = {row: own for row, own in kept.cells.items() if row not in before}
    for key, row in zip(row_keys([row.name for row in after_rows]), after_rows, strict=True):
        was = kept.cells.get(before[row.old], {}) if row.old is not None else {}
        filled = {name: cell for name, cell in zip(names, row.own, strict=True) if cell}
        own = {**{name: cell for name, cell in was.items() if name not in names}, **filled}
        cells.pop(key, None)
        if own:
            cells[key] = own
    columns, above = _columns(kept, table), _above(kept, table)
    written = dict(kept.written)
    now = states[form.section]
    written.setdefault(now, Written(now, {_plain_id(form, index): index for index in range(len(shown))}))
    for state, entry in written.items():
        if entry.now == now:
            moved = {key: places[index] for key, index in entry.rows.items() if index in places}
            written[state] = Written(after[form.section], moved)
    lists = {**memory.lists, form.section: KeptList(columns, above, cells, written)}
    return replace(memory, lists=lists)


def moved(memory: Memory, form: Form, count: int, before: str, after: str) -> Memory:
    """Return the memory once a list that was not read says something else, because names in it followed."""
    kept = memory.of(form.section)
    written = dict(kept.written)
    written.setdefault(before, Written(before, {_plain_id(form, index): index for index in range(count)}))
    for state, entry in written.items():
        if entry.now == before:
            written[state] = Written(after, entry.rows)
    return replace(memory, lists={**memory.lists, form.section: replace(kept, written=written)})


def _places(read: ReadList) -> dict[int, int]:
    """Return where each row of the show stands after rows were taken out."""
    return {old: at for at, old in enumerate(sorted(row.old for row in read.rows if row.old is not None))}


def _place(row: ListRow, places: Mapping[int, int]) -> tuple[int, int]:
    return (0, places[row.old]) if row.old is not None else (1, row.line)


def _columns(kept: KeptList, table: Table) -> tuple[tuple[str | None, str], ...]:
    """Return the columns of the list in its order; those of one's own that it lacks stand at the end."""
    columns = list(zip(table.keys, table.headings, strict=True))
    there = own_names(table.own_headings)
    lacking = [heading for heading, name in zip(_own_headings(kept), kept.own, strict=True) if name not in there]
    return (*columns, *((None, heading) for heading in lacking))


def _own_headings(kept: KeptList) -> list[str]:
    return [heading for key, heading in kept.columns if key is None]


def _above(kept: KeptList, table: Table) -> tuple[tuple[str, ...], ...]:
    """Return the titles above the headings, without our own line and without empty ones."""
    rows = [row for row in table.above if any(cell.strip() for cell in row)]
    ours = ("sidetrip list: ", "sep=")
    titles = tuple(
        tuple(unguarded(cell) for cell in row)
        for row in rows
        if not any(cell.strip('" ').startswith(ours) for cell in row)
    )
    return titles or (kept.above if not table.above else ())
