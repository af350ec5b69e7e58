"""What is said about a list that was read: how it was understood, and in which order its rows stand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Show
from sidetrip.showfile.listforms import ShownRow
from sidetrip.showfile.listmemory import FILE
from sidetrip.showfile.listread import FoundList, ReadList
from sidetrip.showfile.listtable import SHOWN


def understood(found: FoundList, count: int) -> list[Finding]:
    """Return the note that says how a list was read."""
    table, form = found.table, found.form
    known = [f"{key} in '{head}'" for head, key in zip(table.headings, table.keys, strict=True) if key]
    values = ", ".join(known) if found.stamp is None else ""
    rows = "1 row" if count == 1 else f"{count} rows"
    what = f"The list was read as {form.section}, {rows}, separated by '{SHOWN[table.separator]}'"
    remedy = "Look the changes over before they are written"
    notes = [Finding("table-read", "list", what, values, remedy, (), table.header_line, table.file)]
    if table.own_headings:
        own = ", ".join(head or "one without a heading" for head in table.own_headings)
        what, remedy = (
            f"Columns that the show does not have are kept beside it in {FILE}",
            "The next list has them again",
        )
        notes.append(Finding("table-kept", "list", what, own, remedy, (), table.header_line, table.file))
    return notes


def order_notes(read: ReadList, shown: Sequence[ShownRow], desk: Desk) -> list[Finding]:
    """Return the note that rows stand in an order which the show does not have; it keeps its own."""
    rows = [shown[row.old] for row in read.rows if row.old is not None]
    groups = [group.name for group in desk.ports]

    def port(row: ShownRow) -> tuple[int, int]:
        run = row.values.get("port")
        return (groups.index(run.group), run.first) if isinstance(run, Ports) and run.group in groups else (99, 0)

    def strip(row: ShownRow) -> tuple[int, int]:
        pair = row.values.get("ch")
        return (0, pair[0]) if isinstance(pair, tuple) else (1, row.index)

    if any(rows == sorted(rows, key=key) for key in (lambda row: (0, row.index), port, strip)):
        return []
    table = read.found.table
    what, remedy = (
        "The rows stand in an order of their own",
        "The show keeps its order; the next list is by desk or stage",
    )
    first = next(a.name for a, b in pairwise(rows) if a.index > b.index)
    return [Finding("table-read", "list", what, f"first behind '{first}'", remedy, (), table.header_line, table.file)]


def names_for(show: Show, section: str) -> dict[str, tuple[str, ...]]:
    """Return what each column of names in a list may name, by its key."""
    mixes = tuple(mix.name for mix in show.mixes)
    if section == "inputs":
        return {"group": mixes, "to": mixes}
    if section == "outputs":
        return {"from": show.strips()}
    return {
        "strip": (*show.strips(), *(output.name for output in show.outputs)),
        "chain": tuple(show.chains),
        "unit": tuple(unit.name for unit in show.units),
        "back_on": tuple(item.name for item in show.inputs),
    }
