"""The lists of a show as CSV that a spreadsheet can open and save without changing anything."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sidetrip.model.ports import Ports
from sidetrip.showfile.listforms import ROW, Form, ShownRow, cell, state_of
from sidetrip.showfile.listmemory import KeptList, own_names, row_keys
from sidetrip.showfile.listread import stamp_cells
from sidetrip.showfile.listvalues import Decimal
from sidetrip.showfile.listwords import guarded

Order = Literal["desk", "stage"]
Separator = Literal["comma", "semicolon", "tab"]

SEPARATORS: dict[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t"}


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a list is written. separator: between cells. decimal: mark in figures. order: of the rows."""

    separator: Separator = "comma"
    decimal: Decimal = "point"
    order: Order = "desk"


def list_csv(
    form: Form, show: str, rows: Sequence[ShownRow], kept: KeptList, groups: Sequence[str], dialect: Dialect
) -> bytes:
    """Return one list as UTF-8 with its mark and CRLF: our line, titles that were there, headings, rows.

    rows: in the order of the show. kept: columns of people's own go back where they were. groups: the desk's port
    groups in order, for rows in the order of the stage.
    """
    columns = _columns(form, kept)
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=SEPARATORS[dialect.separator], lineterminator="\r\n")
    writer.writerow(stamp_cells(form, show, state_of(form, rows), dialect.decimal))
    for title in kept.above:
        writer.writerow([guarded(one) for one in title])
    names = iter(own_names([heading for key, heading in columns if key is None]))
    own = [next(names) if key is None else "" for key, _ in columns]
    writer.writerow([guarded(heading) for _, heading in columns])
    fields = {field.key: field for field in form.fields}
    keys = row_keys([row.name for row in rows])
    for row in ordered_rows(form, rows, groups, dialect.order):
        cells = []
        for (key, _), name in zip(columns, own, strict=True):
            if key is None:
                cells.append(guarded(kept.cells.get(keys[row.index], {}).get(name, "")))
            elif key == ROW.key:
                cells.append(form.row_id(row.index))
            else:
                value, spelled = row.values.get(key), row.spelled.get(key)
                cells.append(cell(fields[key], value, decimal=dialect.decimal, spelled=spelled))
        writer.writerow(cells)
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8")


def ordered_rows(form: Form, rows: Sequence[ShownRow], groups: Sequence[str], order: Order) -> list[ShownRow]:
    """Return rows by strip for the desk, or by port for the stage; what has neither keeps its place behind."""

    def key(row: ShownRow) -> tuple[int, int, int]:
        port, strip = row.values.get("port"), row.values.get("ch")
        if order == "stage" and isinstance(port, Ports):
            return groups.index(port.group) if port.group in groups else len(groups), port.first, row.index
        if order == "desk" and isinstance(strip, tuple):
            return 0, strip[0], row.index
        return len(groups) + 1, 0, row.index

    return sorted(rows, key=key)


def _columns(form: Form, kept: KeptList) -> list[tuple[str | None, str]]:
    """Return the columns as they were kept, with what is missing of ours: the row id first, the rest at the end."""
    there = {key for key, _ in kept.columns}
    mine: list[tuple[str | None, str]] = [(ROW.key, "Row"), *((field.key, field.heading) for field in form.fields)]
    first = [column for column in mine[:1] if column[0] not in there]
    known = {key for key, _ in mine}
    middle = [column for column in kept.columns if column[0] is None or column[0] in known]
    return [*first, *middle, *(column for column in mine[1:] if column[0] not in there)]
