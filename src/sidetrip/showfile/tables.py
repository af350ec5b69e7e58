"""Tables from spreadsheets: the input list that a new show starts from, and `read_table` for any other small table."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding, has_errors
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.showfile.listforms import INPUTS, Form
from sidetrip.showfile.listread import FoundList, ListRow, read_list
from sidetrip.showfile.listtable import SHOWN, Column, Table, TableRow, cut_list, find_table, read_table

_GROUP = next(field for field in INPUTS.fields if field.key == "group")
_START = Form(
    "inputs",
    "IN",
    "input",
    (
        *(field for field in INPUTS.fields if field.key in ("ch", "name", "port")),
        replace(_GROUP, column=replace(_GROUP.column, words=(*_GROUP.column.words, "to"))),
    ),
)


@dataclass(frozen=True, slots=True)
class ListedInput:
    """One row: strip number, name, port and group, as far as the list says them. line: in the list, from 1."""

    ch: int
    name: str
    port: Ports
    group: str | None
    line: int


def read_input_list(data: bytes | str, file: str, desk: Desk) -> tuple[tuple[ListedInput, ...], tuple[Finding, ...]]:
    """Read an input list. Returns its rows and notes on how it was understood and what was mended.

    Columns are found by their headings: a number and a name are needed, port and group are welcome. Rows without a
    port sit on the desk's first input ports, same number. Raises ShowUnreadable with every bad row and its line.
    """
    found = FoundList(_START, find_table(cut_list(data, file), _START.columns), None)
    read = read_list(found, (), desk, ids=None, names={})
    if has_errors(read.findings):
        raise ShowUnreadable([finding for finding in read.findings if finding.severity == "error"])
    rows = tuple(_listed(row, desk) for row in read.rows)
    return rows, (*read.findings, _understood(found.table, len(rows)))


def _listed(row: ListRow, desk: Desk) -> ListedInput:
    strip, port, group = row.values["ch"], row.values.get("port"), row.values.get("group")
    assert isinstance(strip, tuple)
    if not isinstance(port, Ports):
        first = next((own.name for own in desk.ports if own.direction == "in"), "stage")
        port = Ports(first, strip[0], strip[1])
    return ListedInput(strip[0], row.name, port, group if isinstance(group, str) else None, row.line)


def _understood(table: Table, count: int) -> Finding:
    pairs = [(key, head) for head, key in zip(table.headings, table.keys, strict=True) if key]
    order = [column.key for column in _START.columns]
    found = ", ".join(f"{key} in '{head}'" for key, head in sorted(pairs, key=lambda pair: order.index(pair[0])))
    unused = [heading for heading in table.own_headings if heading]
    inputs = "1 input" if count == 1 else f"{count} inputs"
    what = f"The input list was read as {inputs}, separated by '{SHOWN[table.separator]}'"
    values = found + (f"; not used: {', '.join(unused)}" if unused else "")
    return Finding("table-read", "input list", what, values, "Look it over in show.yaml", (), None, table.file)


__all__ = ["Column", "ListedInput", "Table", "TableRow", "read_input_list", "read_table"]
