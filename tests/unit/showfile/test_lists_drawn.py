"""Lists damaged and edited at random: read and written as they say, or refused with a line, never anything else."""

from __future__ import annotations

import io
import json
import random
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from drawnshows import drawn
from listfiles import Cells, Lists
from sidetrip.errors import ShowUnreadable
from sidetrip.model.ports import Ports
from sidetrip.showfile.listforms import FORMS, shown_rows, value_text
from sidetrip.showfile.read import read_show
from sidetrip.showfile.tables import Column, read_table

TYPED = (
    *("", "-", "none", "tbc", "?", "x", "✓", "ja", "nein", "+48", "1-2", "1. Feb", "2-Jan", "01/02", "46024", "#REF!"),
    *("=A1", "'=A1", "+A", "@b", "1,5", "1.200", "1.200,5", "2 to 4 ms", "unknown", "must", "9", "3", "17", "2 & 3"),
    *("stage 5", "stage 5 & 6", "local out 7", "local out 7-8", "aux out 1", "Main", "Group 0", "In 1", "In 2", '"'),
    *("Main | Group 0", "insert", "output", "plain", "long", "laptop", "Bass L", "Bass R", "Keys L/R", "a, b", "a\nb"),
)


def _shapes(data: Any, shape: int) -> str:
    """Return a show as YAML in flow style over many lines, in one line, or in block style."""
    if shape == 0:
        return json.dumps(data, indent=1)
    if shape == 1:
        return json.dumps(data)
    out = io.StringIO()
    YAML().dump(data, out)
    return out.getvalue()


def _damage(draw: random.Random, cells: Cells) -> None:
    """Do one thing that people do to a list."""
    rows = range(2, len(cells))
    if not rows:
        return
    at = draw.choice(rows)
    deed = draw.randrange(8)
    if deed < 5:
        cells[at][draw.randrange(1, len(cells[at]))] = draw.choice(TYPED)
    elif deed == 5:
        cells.pop(at)
    elif deed == 6:
        cells.insert(at, ["", *cells[at][1:]])
    else:
        for row in cells[1:]:
            row.insert(at % 4, draw.choice(TYPED))


@given(st.integers(0, 10**9), st.integers(0, 2))
def test_an_edited_list_is_what_the_show_says_then_or_changes_nothing(seed: int, shape: int) -> None:
    """After writing, the show says what the list says, its lists read as unchanged, and undoing gives the old bytes."""
    draw = random.Random(seed)
    data = drawn(seed, unknowns=bool(seed % 2))
    data["desk"]["type"] = "32-strip theatre desk"
    lists = Lists(_shapes(data, shape))
    lists.write()
    for form in draw.sample(FORMS, draw.choice([1, 1, 2])):
        cells = lists.cells(form.section)
        for _ in range(draw.choice([1, 1, 2])):
            _damage(draw, cells)
        lists.put(form.section, cells)
    done = lists.read(write=True)
    errors = [finding for finding in done.findings if finding.severity == "error"]
    assert all(finding.line and finding.file and finding.what for finding in errors)
    if errors:
        assert not done.possible
        assert lists.text == lists.before
        return
    if done.undo:
        assert lists.store.read_text(done.undo) == lists.before
    else:
        assert lists.text == lists.before
    _says(lists, done.changes)
    lists.write()
    again = lists.read(write=True)
    assert again.changes == (), (done.changes, again.changes)


def _says(lists: Lists, changes: tuple[Any, ...]) -> None:
    """Hold each changed cell against the show as it is now."""
    reading = read_show(lists.text, "show.yaml")
    renamed = {one.was: one.becomes for one in changes if one.column in ("Name",) and one.kind == "changed"}
    for form in FORMS:
        rows = shown_rows(form, reading.show, reading.source)
        for one in changes:
            if one.section != form.section or one.kind != "changed":
                continue
            field = next(f for f in form.fields if f.heading == one.column)
            said = {value_text(field, row.values.get(field.key)) for row in rows}
            said |= {value_text(field, row.values.get(field.key), spelled=row.spelled.get(field.key)) for row in rows}
            assert renamed.get(one.becomes, one.becomes) in said | {one.becomes} & said, (one, said)
        ports = [row.values.get("port") for row in rows]
        assert all(isinstance(port, Ports) for port in ports if form.section != "requests")


@given(st.binary(max_size=80) | st.text(alphabet=st.sampled_from('strip;,name\t"\r\n=-1\ufeff\x00é〃'), max_size=80))
def test_any_bytes_are_a_table_or_refused(data: bytes | str) -> None:
    """Whatever is in a file, reading ends with a table or with findings that have a line."""
    columns = (Column("strip", ("strip",), needed=True), Column("name", ("name",), fill=True))
    for start in (b"", b"strip;name\n"):
        try:
            table = read_table(start + (data if isinstance(data, bytes) else data.encode()), "list.csv", columns)
        except ShowUnreadable as error:
            assert all(finding.line and finding.file for finding in error.findings)
        else:
            assert all(row.line > table.header_line for row in table.rows)
            assert all(finding.line for finding in table.findings)
