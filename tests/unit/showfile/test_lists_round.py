"""Lists go out and come back: nothing changed changes nothing, one cell changes one line, and names are as typed."""

from __future__ import annotations

import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawnshows import drawn
from listfiles import Cells, Lists, told
from showtext import DEMO_TEXT, HOSTILE_NAMES, codes, only, small
from sidetrip.reports.list_csv import Dialect, Separator
from sidetrip.showfile.listvalues import Decimal

SIGNS = ("=", "+", "-", "@")


def _row(cells: Cells, name: str) -> list[str]:
    return next(row for row in cells if name in row)


def _set(cells: Cells, name: str, column: str, value: str) -> None:
    _row(cells, name)[cells[1].index(column)] = value


@pytest.mark.parametrize("separator", ["comma", "semicolon", "tab"])
@pytest.mark.parametrize("decimal", ["point", "comma"])
@pytest.mark.parametrize("order", ["desk", "stage"])
def test_the_demo_comes_back_as_it_was(separator: Separator, decimal: Decimal, order: str) -> None:
    """Whatever way its lists were written, reading them changes no byte of the show and no cell of a list."""
    lists = Lists(dialect=Dialect(separator, decimal, "stage" if order == "stage" else "desk"))
    lists.write()
    before = {section: lists.raw(section) for section in ("inputs", "outputs", "requests")}
    done = lists.read(write=True)
    assert (done.changes, codes(done.findings)) == ((), ["table-read"])
    assert lists.text == lists.before
    lists.write()
    assert {section: lists.raw(section) for section in before} == before


@given(st.integers(0, 10**6), st.booleans(), st.sampled_from(["point", "comma"]))
def test_drawn_shows_come_back_as_they_were(seed: int, unknowns: bool, decimal: Decimal) -> None:
    """Shows with ranges, unknown figures, pinned ways and delays come back byte by byte, and so do their lists."""
    data = drawn(seed, unknowns=unknowns)
    data["desk"]["type"] = "32-strip theatre desk"
    lists = Lists(json.dumps(data, indent=1), Dialect(decimal=decimal))
    lists.write()
    done = lists.read(write=True)
    assert done.possible
    assert done.changes == ()
    assert lists.text == lists.before


@given(st.lists(st.text(min_size=1, max_size=12), min_size=1, max_size=6, unique=True))
def test_any_name_comes_back_as_typed(names: list[str]) -> None:
    """Names of any characters that a show can hold are the same after a round trip, and begin no cell with a sign."""
    inputs: list[dict[str, object]] = []
    for name in dict.fromkeys((*names, *random.Random(len(names)).sample(HOSTILE_NAMES, 6))):
        inputs.append({"ch": len(inputs) + 1, "name": name, "port": f"stage {len(inputs) + 1}", "to": ["Main"]})
    lists = Lists(small(inputs=json.dumps(inputs, ensure_ascii=True)))
    try:
        lists.write()
    except Exception as error:
        codes_found = codes(getattr(error, "findings", ()))
        assert codes_found and set(codes_found) <= {"value-wrong", "yaml-broken"}, error
        return
    for row in lists.cells("inputs"):
        assert not [cell for cell in row if cell.lstrip(" \u00a0").startswith(SIGNS)]
    done = lists.read("inputs", write=True)
    named_twice = [one for one in done.findings if "carry the name" in one.what]
    assert done.possible or named_twice, done.findings
    assert done.changes == ()
    assert lists.text == lists.before


def test_names_that_mean_something_to_a_spreadsheet_are_kept() -> None:
    """Signs of formulas, scripts and 120 letters come back, and no cell begins with a sign. Invented names."""
    names = ['Bass <DI> & "Amp"', "+48V OH L", "=Main", "-10 Line", "@Talk", "<script>alert(1)</script>", "x" * 120]
    inputs = [{"ch": n, "name": name, "port": f"stage {n}", "to": ["Main"]} for n, name in enumerate(names, 1)]
    lists = Lists(small(inputs=json.dumps(inputs)))
    lists.write()
    cells = lists.cells("inputs")
    at = cells[1].index("Name")
    assert [row[at].removeprefix("'") for row in cells[2:]] == names
    assert not [cell for row in cells for cell in row if cell.startswith(SIGNS)]
    assert lists.read("inputs", write=True).changes == ()
    assert lists.text == lists.before


@pytest.mark.parametrize(
    ("section", "row", "column", "typed", "was", "becomes", "line_part"),
    [
        ("inputs", "Snare", "Group", "Band", "Drums", "Band", "group: Band"),
        ("inputs", "Snare", "Device ms", "1,5 ms", "", "1.5 ms", "device_ms: 1.5"),
        ("inputs", "Lamplighter", "Device ms", "2.75", "3.0 ms", "2.75 ms", "device_ms: 2.75,"),
        ("inputs", "Lamplighter", "Device ms", "tbc", "3.0 ms", "unknown", "device_ms: unknown"),
        ("inputs", "Lamplighter", "Device ms", "2 bis 4 ms", "3.0 ms", "2 to 4 ms", "device_ms: 2 to 4,"),
        ("inputs", "Hat", "Inverted", "✓", "no", "yes", "inverted: yes"),
        ("inputs", "Interval", "Port", "aux in 5/6", "aux in 7 & 8", "aux in 5 & 6", "port: aux in 5-6,"),
        ("inputs", "Click", "To", "Band ears | Lamp ears", "Band ears", "Band ears | Lamp ears", "[Band ears, Lamp"),
        ("outputs", "PA", "Port", "local out 17-18", "local out 1 & 2", "local out 17 & 18", "port: local out 17-18,"),
        ("outputs", "Sub stack", "Delay ms", "", "1.5 ms", "", "device_ms: 3.4, crossover_hz: 90}   # dialled with"),
        ("outputs", "Encoder", "Loudness LUFS", "-18", "–16 LUFS", "–18 LUFS", "loudness_target_lufs: -18}"),
        ("outputs", "Sub stack", "From", "Foyer", "Subs", "Foyer", "from: Foyer"),
        ("requests", "Drums", "Want", "8", "5", "8", "want: 8}"),
        ("requests", "Main", "Want", "1", "must", "1", "want: 1}"),
        ("requests", "Bass", "Unit", "laptop", "valve compressor", "laptop", "unit: laptop, want: 4}"),
    ],
)
def test_one_cell_changes_one_line(
    section: str, row: str, column: str, typed: str, was: str, becomes: str, line_part: str
) -> None:
    """A changed cell is told with row, column, was and becomes; it changes one line, comments and order stay."""
    lists = Lists()
    lists.edit(section, lambda cells: _set(cells, row, column, typed))
    looked = lists.read(section)
    assert lists.text == lists.before
    assert (looked.possible, looked.written) == (True, ())
    done = lists.read(section, write=True)
    assert done.changes == looked.changes
    assert told(done) == [(row, column, was, becomes)]
    (change,) = done.changes
    cells = lists.cells(section)
    assert change.line == next(n for n, one in enumerate(cells, 1) if row in one)
    ((_, after),) = lists.changed_lines()
    assert line_part in after


def test_the_show_as_it_was_is_kept_and_undoes_a_write() -> None:
    """Before a write the show is kept beside itself under a name that nothing had; copied back, all is as it was."""
    lists = Lists()
    lists.edit("requests", lambda cells: _set(cells, "Drums", "Want", "8"))
    done = lists.read("requests", write=True)
    assert done.undo == "show.before-lists-1.yaml"
    assert lists.store.read_text(done.undo) == lists.before
    lists.edit("requests", lambda cells: _set(cells, "Drums", "Want", "7"))
    assert lists.read("requests", write=True).undo == "show.before-lists-2.yaml"
    assert lists.store.read_text("show.before-lists-1.yaml") == lists.before


def test_rows_come_go_and_change_in_one_go() -> None:
    """A new row stands at the end of its list, a removed one takes its line along, nothing else moves."""
    lists = Lists()

    def change(cells: Cells) -> None:
        cells.remove(_row(cells, "Encoder"))
        cells.append(["", "Dressing room", "Foyer", "local out 17", "", "2,5 ms", "", "", ""])
        _set(cells, "PA", "Device ms", "2.5 ms")

    lists.edit("outputs", change)
    done = lists.read("outputs", write=True)
    assert [(one.kind, one.row) for one in done.changes] == [
        ("removed", "Encoder"),
        ("changed", "PA"),
        ("added", "Dressing room"),
    ]
    assert "picture_delay_ms: 120" in done.changes[0].was
    old, new = lists.before.splitlines(), lists.text.splitlines()
    assert [line for line in old if line not in new] == [
        line for line in old if "name: Encoder," in line or "name: PA," in line
    ]
    assert [line for line in new if line not in old] == [
        "  - {name: PA,        from: Main,      port: local out 1-2,   device_ms: 2.5}",
        "  - {name: Dressing room, from: Foyer, port: local out 17, delay_ms: 2.5}",
    ]
    lists.write()
    assert lists.read(write=True).changes == ()


def test_a_new_name_is_followed_where_the_show_names_it() -> None:
    """A renamed strip is renamed in mixes, requests, groups and takes too; each place is told with its line."""
    lists = Lists(DEMO_TEXT.replace("{control: osc}", "{control: osc, first: Lamplighter}"))
    lists.edit("inputs", lambda cells: _set(cells, "Lamplighter", "Name", "Lamp, lead"))
    done = lists.read("inputs", write=True)
    assert done.possible, done.findings
    followed = [one for one in done.changes if one.kind == "followed"]
    assert {(one.was, one.becomes) for one in followed} == {("Lamplighter", "Lamp, lead")}
    assert len(followed) == 7
    changed = {old for old, _ in lists.changed_lines()}
    assert len(changed) == 8
    left = [one for one in done.findings if one.code == "name-left"]
    assert ["recovery: {control" in lists.text.splitlines()[(one.line or 0) - 1] for one in left] == [True]
    lists.write()
    assert lists.read(write=True).changes == ()


def test_two_rows_cannot_swap_their_names() -> None:
    """What names them could not follow, so it is refused at the line."""
    lists = Lists()

    def swap(cells: Cells) -> None:
        _set(cells, "Snare", "Name", "?")
        _set(cells, "Hat", "Name", "Snare")
        _set(cells, "?", "Name", "Hat")

    lists.edit("inputs", swap)
    done = lists.read("inputs", write=True)
    assert not done.possible
    assert [one.code for one in done.findings if one.severity == "error"] == ["table-refused"] * 2
    assert lists.text == lists.before


def test_a_change_that_the_show_cannot_hold_is_refused_at_its_line() -> None:
    """A group that is not there, or a row that requests name, is refused before anything is written."""
    lists = Lists()
    lists.edit("inputs", lambda cells: _set(cells, "Snare", "Group", "Drumms"))
    done = lists.read("inputs", write=True)
    found = only(done.findings, "table-refused")
    assert (found.line, found.file, "'Drums'" in found.remedy) == (5, "lists/inputs.csv", True)
    lists = Lists()
    lists.edit("inputs", lambda cells: cells.remove(_row(cells, "Bass")))
    done = lists.read("inputs", write=True)
    assert not done.possible
    assert {one.code for one in done.findings} == {"table-refused", "table-read"}
    assert lists.text == lists.before


def test_a_list_of_another_state_is_refused() -> None:
    """When the show changed since a list was written, its rows may mean others; another list of it still reads."""
    lists = Lists()
    lists.edit("inputs", lambda cells: _set(cells, "Snare", "Delay ms", "1 ms"))
    lists.store.put("show.yaml", lists.before.replace("name: Hat,", "name: Hihat,").encode())
    done = lists.read("inputs", "outputs", write=True)
    found = only(done.findings, "table-stale")
    assert (found.file, found.line, done.possible) == ("lists/inputs.csv", 1, False)
    assert lists.read("outputs").possible


def test_a_list_can_be_edited_and_read_again_and_again() -> None:
    """Row ids of a list that was read in mean the same rows later, though rows went and came meanwhile."""
    lists = Lists()

    def first(cells: Cells) -> None:
        cells.remove(_row(cells, "Foyer PA"))
        cells.append(["", "Dressing room", "Foyer", "local out 17", "", "", "", "", ""])

    lists.edit("outputs", first)
    assert lists.read("outputs", write=True).possible
    cells = lists.cells("outputs")
    _set(cells, "Encoder", "Name", "Stream box")
    _set(cells, "Dressing room", "Delay ms", "3 ms")
    lists.put("outputs", cells)
    done = lists.read("outputs", write=True)
    assert told(done) == [("Encoder", "Name", "Encoder", "Stream box"), ("Dressing room", "Delay ms", "", "3 ms")]
    assert "{name: Stream box, from: Stream," in " ".join(lists.text.split())


def test_a_show_that_changes_while_it_is_written_is_left_alone() -> None:
    """The show is written only in place of the very bytes that were read."""
    from sidetrip.errors import ShowChanged

    lists = Lists()
    lists.edit("requests", lambda cells: _set(cells, "Drums", "Want", "8"))
    store, exchange = lists.store, lists.store.exchange

    def meanwhile(folder: str, files: object, were: object) -> tuple[str, ...]:
        store.put("show.yaml", (lists.before + "# a remark\n").encode())
        return exchange(folder, files, were)  # type: ignore[arg-type]

    store.exchange = meanwhile  # type: ignore[method-assign]
    with pytest.raises(ShowChanged):
        lists.read("requests", write=True)
    assert lists.text == lists.before + "# a remark\n"
    assert "show.before-lists-1.yaml" not in store.files


def test_a_list_saved_in_a_small_set_of_letters_comes_back() -> None:
    """Windows-1252 has no 太 and no drum: a question mark in their place is the name that the show has, and is said."""
    inputs = [
        {"ch": n, "name": name, "port": f"stage {n}", "to": ["Main"]} for n, name in enumerate(("太鼓", "Café"), 1)
    ]
    lists = Lists(
        small(inputs=json.dumps(inputs), outputs="[{name: PA, from: Main, port: local out 1-2, delay_ms: 1.5}]")
    )
    lists.write()
    for section in ("inputs", "outputs", "requests"):
        lists.put(section, lists.raw(section).encode("cp1252", "replace"))
    done = lists.read(write=True)
    assert (done.changes, done.possible, lists.text) == ((), True, lists.before)
    assert "'??' was taken for '太鼓'" in [one.values for one in done.findings]
