"""Lists as people really keep them, held against a show: what is sure is read and said, the rest refused by line."""

from __future__ import annotations

import pytest

from listfiles import Cells, Lists, told
from showtext import only, small
from sidetrip.findings import Finding

SHOW = small(
    inputs="[{name: Kick, ch: 1, port: stage 1, group: Drums}, {name: Snare, ch: 2, port: stage 2, group: Drums}, "
    "{name: '010', ch: 3, port: stage 3, to: [Main]}, {name: Keys, ch: 5, port: stage 5-6, to: [Main]}, "
    "{name: '=Vox', ch: 7, port: stage 7, to: [Main], device_ms: 3.0}]",
    mixes="[{name: Main, kind: main, width: stereo}, {name: Drums, kind: group, width: stereo, to: [Main]}]",
)


def _lists(text: str | bytes, section: str = "inputs") -> Lists:
    lists = Lists(SHOW)
    lists.put(section, text)
    return lists


def _errors(lists: Lists, section: str = "inputs") -> list[Finding]:
    done = lists.read(section, write=True)
    assert lists.text == lists.before
    assert not done.possible
    return [finding for finding in done.findings if finding.severity == "error"]


ROWS = "1;Kick;stage 1;Drums\n2;Snare;stage 2;Drums\n3;'010;stage 3;-\n5 & 6;Keys;stage 5 & 6;-\n7;'=Vox;stage 7;-\n"


def test_a_plain_list_without_our_line_is_matched_by_what_it_says() -> None:
    """A list of one's own with three columns changes nothing that it does not say."""
    lists = _lists("ch;name;port;group\n" + ROWS)
    done = lists.read("inputs", write=True)
    assert (done.changes, done.possible, lists.text) == ((), True, SHOW)


def test_a_german_list_with_commas_and_windows_letters() -> None:
    """Kanal, Quelle, Gruppe and Gerät ms; 2,67 is 2.67; what was guessed and which columns were taken is said."""
    text = (
        "Eingänge;Laterne;;;;\n;;;;;\nKanal;Quelle;Anschluss;Gruppe;Gerät (ms);Stativ\n"
        "1;Kick;1;Drums;;klein\n2;Snare;2;Drums;2,67;\n3;'010;3;keine;0,0;\n5/6;Keys;5/6;keine;;\n"
        "7;'=Vox;7;keine;tbc;groß\n"
    )
    lists = _lists(text.encode("cp1252"))
    done = lists.read("inputs", write=True)
    assert done.possible, done.findings
    assert told(done) == [
        ("Kick", "Stativ", "", "klein"),
        ("Snare", "Gerät (ms)", "", "2.67 ms"),
        ("010", "Gerät (ms)", "", "0 ms"),
        ("=Vox", "Gerät (ms)", "3.0 ms", "unknown"),
        ("=Vox", "Stativ", "", "groß"),
    ]
    assert "Windows-1252" in only(done.findings, "table-mended").what
    assert only(done.findings, "table-kept").values == "Stativ"
    assert "device_ms in 'Gerät (ms)'" in only(done.findings, "table-read").values


def test_own_columns_and_their_order_come_back_in_the_next_list() -> None:
    """Headings, order, titles and cells of one's own stand in the next list where they were; ours that were missing
    are added, and a changed cell of one's own is told like any other."""
    rows = "klein;Kick;1;=A1;a\n;Snare;2;;b\n;'010;3;;\n;Keys;5;\"x\ny\";\n;'=Vox;7;;\n"
    text = f"Laterne\nStativ;Name;ch;Mic;Stativ\n{rows}"
    lists = _lists(text)
    assert lists.read("inputs", write=True).possible
    lists.write()
    cells = lists.cells("inputs")
    assert cells[1][0] == "Laterne"
    assert cells[2][:7] == ["Row", "Stativ", "Name", "ch", "Mic", "Stativ", "Port"]
    assert cells[3][:7] == ["IN-01", "klein", "Kick", "1", "'=A1", "a", "stage 1"]
    assert cells[6][:5] == ["IN-04", "", "Keys", "5 & 6", "x\ny"]
    cells[4][5] = "c"
    cells[3][2] = "Kick in"
    lists.put("inputs", cells)
    done = lists.read("inputs", write=True)
    assert [(one.kind, one.row, one.column, one.was, one.becomes) for one in done.changes] == [
        ("changed", "Kick", "Name", "Kick", "Kick in"),
        ("beside", "Snare", "Stativ #2", "b", "c"),
    ]
    lists.write()
    assert lists.cells("inputs")[3][:6] == ["IN-01", "klein", "Kick in", "1", "'=A1", "a"]
    assert lists.read(write=True).changes == ()


@pytest.mark.parametrize("cell", ["5. Jun", "6-May", "06.05.2026", "2026-05-06", "46148"])
def test_a_pair_that_became_a_date_changes_nothing(cell: str) -> None:
    """5-6, typed without the name of its ports, is undone in the strip and in the port, and said with its line."""
    lists = _lists("ch;name;port;group\n" + ROWS.replace("5 & 6;Keys;stage 5 & 6", f"{cell};Keys;{cell}"))
    done = lists.read("inputs", write=True)
    assert (done.changes, done.possible, lists.text) == ((), True, SHOW), done.findings
    mended = [finding for finding in done.findings if finding.code == "table-mended"]
    assert [(finding.line, cell in finding.values) for finding in mended] == [(5, True), (5, True)]


def test_lost_zeros_and_lost_guards_are_put_back_where_the_show_knows_them() -> None:
    """10 in place of 010, and =Vox without its apostrophe, are the names that the show has; the first is said."""
    lists = _lists("ch;name;port;group\n" + ROWS.replace("'010", "10").replace("'=Vox", "=Vox"))
    done = lists.read("inputs", write=True)
    assert (done.changes, done.possible) == ((), True)
    found = only(done.findings, "table-mended")
    assert (found.line, found.values) == (4, "'10' was taken for '010'")


def test_a_formula_where_a_name_should_be_is_refused() -> None:
    """A new cell that begins with = is no name; one that begins with + or @ is."""
    lists = _lists("ch;name;port;group\n" + ROWS.replace("Kick", "=B2").replace("Snare", "+48V OH"))
    (found,) = _errors(lists)
    assert (found.code, found.line, found.where, "formula" in found.what) == ("table-wrong", 2, "column name", True)


def test_left_and_right_in_two_rows_are_one_input() -> None:
    """Keys L and Keys R on neighbouring strips and ports are the stereo input of the show, and that is said."""
    two = "5;Keys L;stage 5;-\n6;Keys R;stage 6;-\n"
    lists = _lists("ch;name;port;group\n" + ROWS.replace("5 & 6;Keys;stage 5 & 6;-\n", two))
    done = lists.read("inputs", write=True)
    assert (done.changes, lists.text) == ((), SHOW)
    found = only(done.findings, "table-mended")
    assert (found.line, "'Keys', stage 5-6" in found.values) == (5, True)


def test_left_and_right_in_one_row_are_a_pair() -> None:
    """Pad L/R on strip 9 alone is strips 9 and 10 if they are free; on an even strip it is refused by line."""
    lists = _lists("ch;name;port;group\n" + ROWS + "9;Pad L/R;stage 9;Drums\n")
    done = lists.read("inputs", write=True)
    assert done.possible, done.findings
    assert "{ch: 9, name: Pad L/R, port: stage 9-10, group: Drums}" in lists.text
    lists = _lists("ch;name;port;group\n" + ROWS + "10;Pad L/R;stage 10;Drums\n")
    assert [(found.line, "L/R" in found.what) for found in _errors(lists)] == [(7, True)]


def test_two_inputs_of_the_show_that_end_in_l_and_r_stay_two() -> None:
    """Names that the show has are what they are."""
    show = small(
        inputs="[{name: Keys L, ch: 1, port: stage 1, to: [Main]}, {name: Keys R, ch: 2, port: stage 2, to: [Main]}]"
    )
    lists = Lists(show)
    lists.write()
    done = lists.read(write=True)
    assert (done.changes, [one.code for one in done.findings]) == ((), ["table-read"] * 3)


def test_two_rows_that_claim_one_strip_name_both_lines() -> None:
    """A copied row whose number was not changed is refused with the strip and both lines."""
    lists = _lists("ch;name;port;group\n7;Kick;stage 1;Drums\n2;Snare;stage 2;Drums\n7;'010;stage 3;-\n")
    found = next(one for one in _errors(lists) if "claimed" in one.what)
    assert (found.what, found.line, found.values) == (
        "Strip 7 is claimed twice",
        4,
        "'Kick' in line 2, '010' in line 4",
    )


def test_two_rows_of_one_name_or_one_id_name_both_lines() -> None:
    """A name, and a row id, stand once."""
    lists = _lists("ch;name;port;group\n1;Kick;stage 1;-\n2;Kick;stage 2;-\n")
    found = next(one for one in _errors(lists) if "name" in one.what)
    assert (found.line, found.values) == (3, "lines 2 and 3")
    lists = Lists(SHOW)
    lists.edit("inputs", lambda cells: cells.append(["IN-02", "9", "Copy", "stage 9", "Drums", "none", "", "", "no"]))
    found = next(one for one in _errors(lists) if "id" in one.what)
    assert (found.line, found.values) == (8, "IN-02 in line 4 and in line 8")


def test_merged_groups_of_a_show_are_filled_down_or_refused() -> None:
    """What a merged group cell left is the group above, said; a cleared cell among written ones is refused by line."""
    lists = _lists("ch;name;group\n1;Kick;Drums\n2;Snare;\n")
    done = lists.read("inputs")
    assert [(one.kind, one.row) for one in done.changes if one.kind == "changed"] == []
    assert only(done.findings, "table-mended").line == 3
    lists = _lists("ch;name;group\n1;Kick;Drums\n2;Snare;\n3;'010;-\n")
    assert [(one.line, one.where) for one in _errors(lists)] == [(3, "column group")]


def test_everything_wrong_is_told_at_once() -> None:
    """A list that is damaged in many places gives a finding for each, with its line and column, and changes nothing."""
    lists = Lists()

    def damage(cells: Cells) -> None:
        at = {name: n for n, name in enumerate(cells[1])}
        cells[2][at["Strip"]] = "17. Mrz"
        cells[3][at["Port"]] = "hall 2"
        cells[4][at["Device ms"]] = "1.200,5"
        cells[5][at["Inverted"]] = "✗"
        cells[6][at["Name"]] = ""
        cells[7][at["Group"]] = "#REF!"
        cells[8][at["Port"]] = "stage 40"
        cells[9][at["Strip"]] = "one"
        cells[10][at["Device ms"]] = "2. Jan"
        cells[12][at["Strip"]] = "14"
        cells[14][at["Row"]] = "IN-99"
        cells[15].append("too much")
        cells[16][at["Delay ms"]] = "soon"

    lists.edit("inputs", damage)
    lists.put("outputs", lists.raw("outputs").replace("local out 5,", "5. Mai,").encode())
    done = lists.read("inputs", "outputs", write=True)
    assert (done.possible, lists.text) == (False, lists.before)
    errors = [finding for finding in done.findings if finding.severity == "error"]
    assert all(finding.line and finding.file and finding.remedy for finding in errors)
    found = {(str(one.file)[6:9], one.line, one.where.removeprefix("column ")) for one in errors}
    assert found >= {
        ("inp", 3, "Strip"),
        ("inp", 4, "Port"),
        ("inp", 5, "Device ms"),
        ("inp", 6, "Inverted"),
        ("inp", 7, "Name"),
        ("inp", 8, "Group"),
        ("inp", 9, "Port"),
        ("inp", 10, "Strip"),
        ("inp", 11, "Device ms"),
        ("inp", 15, "Row"),
        ("inp", 16, "list"),
        ("inp", 17, "Delay ms"),
        ("out", 6, "Port"),
    }
    assert any(one.what == "Strip 14 is claimed twice" for one in errors)


@pytest.mark.parametrize(
    ("section", "text", "line", "part"),
    [
        ("requests", "strip;want\nKick;10\n", 2, "no want"),
        ("requests", "strip;want;way\nKick;5;round\n", 2, "no way out"),
        ("requests", "strip;want\n-;5\n", 2, "names no strip"),
        ("requests", "strip;want;send;return\nKick;5;aux out 1;\n", 2, "one port of two"),
        ("outputs", "name;from;port\nPA;Main;7\nRoom;Main;9\n", 3, "without the name of its group"),
        ("outputs", "name;from;port\nPA;Main;stage 1\n", 2, "no such output port"),
        ("outputs", "name;from;port\nPA;Main;-\n", 2, "names no port"),
        ("outputs", "name;from;port;delay\nPA;Main;local out 1-2;1.200\n", 2, "may be 1.200 or 1200"),
        ("inputs", "ch;name;inverted\n1;Kick;perhaps\n", 2, "neither yes nor no"),
        ("inputs", "ch;name;port\n-;Kick;stage 1\n", 2, "no strip number"),
    ],
)
def test_cells_that_cannot_be_meant_are_refused(section: str, text: str, line: int, part: str) -> None:
    """Wants over 9, ways that are none, half a pair of ports, bare output ports: each with its line."""
    assert (line, True) in {(one.line, part in one.what) for one in _errors(_lists(text, section), section)}


def test_a_list_that_is_none_of_the_three_says_what_is_missing() -> None:
    """The nearest heading is named; an empty list and a binary one are refused by name."""
    found = _errors(_lists("Chanel;Nmae\n1;Kick\n"))
    assert [(one.line, one.file, "'Chanel' may be meant" in one.remedy) for one in found] == [
        (1, "lists/inputs.csv", True)
    ]
    assert [one.code for one in _errors(_lists(b""))] == ["file-empty"]
    assert [one.code for one in _errors(_lists(b"PK\x03\x04"))] == ["file-unreadable"]
    assert [one.code for one in _errors(_lists(b"x" * 1_000_001))] == ["file-too-large"]
    done = Lists(SHOW).read(files=["lost.csv"])
    assert [(one.code, one.values) for one in done.findings] == [("file-missing", "lost.csv")]


def test_two_lists_of_one_kind_are_refused() -> None:
    """Which of them would count is not guessed."""
    lists = Lists(SHOW)
    lists.write()
    done = lists.read(files=["lists/inputs.csv", "lists/inputs.csv"], write=True)
    assert "Two files are lists of inputs" in only(done.findings, "table-wrong").what


def test_a_proven_figure_is_not_changed_by_a_list() -> None:
    """A figure with its date and state would no longer be proven; the show itself is the place to change it."""
    show = SHOW.replace("device_ms: 3.0", "device_ms: {is: 3.0, standing: proven, when: 2026-11-20}")
    lists = Lists(show)
    lists.edit("inputs", lambda cells: cells[6].__setitem__(6, "4 ms"))
    (found,) = _errors(lists)
    assert (found.code, found.line) == ("table-refused", 7)


def test_cells_of_rows_that_are_gone_are_kept_and_said() -> None:
    """When a row was taken out of the show by hand, its own cells stay beside the show, and the next list says so."""
    lists = _lists("ch;name;Mic\n1;Kick;big\n2;Snare;small\n3;'010;\n5;Keys;\n7;'=Vox;\n")
    assert lists.read("inputs", write=True).possible
    lists.store.put("show.yaml", SHOW.replace("name: Snare", "name: Snare top").encode())
    written = lists.write()
    assert only(written.findings, "table-kept").values == "Snare"
    lists.store.put("show.yaml", SHOW.encode())
    lists.write()
    at = lists.cells("inputs")[1].index("Mic")
    assert lists.cells("inputs")[3][at] == "small"


def test_rows_in_an_order_of_their_own_are_said_and_not_sorted() -> None:
    """The show keeps its order whatever order a list has; an order that is neither desk nor stage is said."""
    rows = ROWS.splitlines()
    lists = _lists("ch;name;port;group\n" + "\n".join([rows[2], rows[0], rows[4], rows[1], rows[3]]) + "\n")
    done = lists.read("inputs", write=True)
    assert (done.changes, lists.text) == ((), SHOW)
    assert "an order of their own" in " ".join(one.what for one in done.findings)
    done = _lists("ch;name;port;group\n" + ROWS).read("inputs")
    assert "an order of their own" not in " ".join(one.what for one in done.findings)
