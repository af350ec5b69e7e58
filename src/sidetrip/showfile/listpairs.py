"""Left and right of one input in two rows, or in one row with one number: joined where that is sure, and said so."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from sidetrip.model.base import folded
from sidetrip.model.ports import Ports
from sidetrip.showfile.listcells import Context, says_name, says_strip
from sidetrip.showfile.listforms import ShownRow
from sidetrip.showfile.listtable import TableRow
from sidetrip.showfile.listvalues import CellWrong, port_run
from sidetrip.showfile.listwords import guarded, is_none, is_unknown

_SIDE = re.compile(r"(.*\S)[ ._-]*[ ._(-](l|r|left|right|li|re|links|rechts)\)?", re.IGNORECASE)
_BOTH = re.compile(r"(.*\S)\s+\(?(?:l\s?[/+&]\s?r|lr|left\s?[/+&]\s?right|links\s?[/+&]\s?rechts)\)?", re.IGNORECASE)


def join_sides(context: Context, rows: Sequence[TableRow], shown: Sequence[ShownRow]) -> tuple[TableRow, ...]:
    """Return the rows with left and right of one stereo input as one row.

    Two rows are joined when they follow each other, end in L and R (or left and right), sit on neighbouring strips,
    odd first, and ports, say the same else, and neither is an input of the show by its own name.
    """
    names = {row.name for row in shown}
    strips = {number for row in rows if (pair := says_strip(context, row)) for number in range(pair[0], pair[1] + 1)}
    made: list[TableRow] = []
    skip = False
    for row, after in pairwise((*rows, None)):
        assert row is not None
        if skip:
            skip = False
            continue
        joined = _joined(context, row, after, names) if after is not None else None
        skip = joined is not None
        made.append(joined or _widened(context, row, names, strips))
    return tuple(made)


def _joined(context: Context, row: TableRow, after: TableRow, names: set[str]) -> TableRow | None:
    left, right = folded(says_name(context, row)), folded(says_name(context, after))
    one, two = _SIDE.fullmatch(left), _SIDE.fullmatch(right)
    first, second = says_strip(context, row), says_strip(context, after)
    if one is None or two is None or one[1].lower() != two[1].lower() or names & {left, right}:
        return None
    if one[2][0].lower() != "l" or two[2][0].lower() != "r" or first is None or second is None:
        return None
    if first[0] != first[1] or first[0] % 2 == 0 or second != (first[0] + 1, first[0] + 1):
        return None
    try:
        ports = _ports(context, row, first[0]), _ports(context, after, second[0])
    except CellWrong:
        return None
    if ports[1] != Ports(ports[0].group, ports[0].first + 1, ports[0].first + 1):
        return None
    rest = [key for key in row.cells if key not in ("row", "ch", "name", "port")]
    differ = [key for key in rest if row.cells[key] != after.cells[key]]
    differ += [head for head, a, b in zip(context.table.own_headings, row.own, after.own, strict=True) if a != b]
    if differ:
        values = f"lines {row.line} and {after.line} differ in {', '.join(differ)}"
        what = "Two rows are left and right of one input and say different things"
        remedy = "Say the same in both, or name them so that they are two inputs"
        context.wrong(what, values, remedy, after.line, context.table.heading("name"))
    pair = Ports(ports[0].group, ports[0].first, ports[0].first + 1)
    what, remedy = "Two rows were read as left and right of one input", "Name them otherwise if they are two inputs"
    context.mended(what, f"'{left}' and '{right}' are '{one[1]}', {pair}", remedy, row.line)
    new = {"ch": f"{first[0]} & {second[0]}", "name": guarded(one[1]), "port": str(pair)}
    return TableRow(row.line, {**row.cells, **new}, row.own)


def _ports(context: Context, row: TableRow, strip: int) -> Ports:
    group = next((group.name for group in context.desk.ports if group.direction == "in"), None)
    text = row.cells.get("port", "")
    if group is not None and (is_none(text) or is_unknown(text)):
        return Ports(group, strip, strip)
    ports = port_run(text, group, 1, lambda taken: None)
    if len(ports) != 1:
        raise CellWrong("more than one port", "")
    return ports


def _widened(context: Context, row: TableRow, names: set[str], strips: set[int]) -> TableRow:
    """Return a row that says L/R and gives one strip and one port as the pair that it must be."""
    name, strip = folded(says_name(context, row)), says_strip(context, row)
    if name in names or _BOTH.fullmatch(name) is None or strip is None or strip[0] != strip[1]:
        return row
    try:
        ports = _ports(context, row, strip[0])
    except CellWrong:
        return row  # a pair of ports says it already, or the cell is refused later
    if strip[0] % 2 == 0 or strip[0] + 1 in strips:
        values = f"'{name}' on strip {strip[0]}"
        what, remedy = "A row says L/R and gives one strip", "Write both strips, like 9 & 10"
        context.wrong(what, values, remedy, row.line, context.table.heading("ch"))
        return row
    pair = Ports(ports.group, ports.first, ports.first + 1)
    what, remedy = "A row that says L/R was read as a pair", "Write both strips and both ports"
    context.mended(what, f"strips {strip[0]} & {strip[0] + 1}, {pair}", remedy, row.line)
    return TableRow(row.line, {**row.cells, "ch": f"{strip[0]} & {strip[0] + 1}", "port": str(pair)}, row.own)
