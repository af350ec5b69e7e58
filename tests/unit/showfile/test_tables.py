"""Input lists from spreadsheets: however they were exported, read right or refused with the line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import desk, only
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.tables import ListedInput, read_input_list


def _rows(text: str) -> tuple[ListedInput, ...]:
    return read_input_list(text, "list.csv", desk())[0]


def _short(text: str) -> list[tuple[int, str, str, str | None]]:
    return [(row.ch, row.name, str(row.port), row.group) for row in _rows(text)]


def _wrong(text: str) -> tuple[Finding, ...]:
    with pytest.raises(ShowUnreadable) as caught:
        read_input_list(text, "list.csv", desk())
    return caught.value.findings


@pytest.mark.parametrize("mark", ["\ufeff", ""])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_marks_separators_and_line_ends_change_nothing(mark: str, separator: str, ending: str) -> None:
    """A list with a byte-order mark, semicolons, tabs or any line end is the same list."""
    text = "ch,name,port,group\n1,Kick,stage 1,Drums\n2,Snare,stage 2,Drums\n"
    text = mark + text.replace(",", separator).replace("\n", ending)
    assert _short(text) == [(1, "Kick", "stage 1", "Drums"), (2, "Snare", "stage 2", "Drums")]
    assert [row.line for row in _rows(text)] == [2, 3]


def test_titles_above_and_blank_rows_between_are_passed_over() -> None:
    """The headings are looked for below a title, and lines keep the numbers that the spreadsheet shows."""
    text = "sep=;\nThe Tin Lantern, Saturday;;\n;;\nCh.;Source;Line\n1;Kick;stage 1\n;;\n- ; ;\n7;Hat;stage 7\n\n"
    assert [(row.ch, row.name, row.line) for row in _rows(text)] == [(1, "Kick", 5), (7, "Hat", 8)]


def test_the_separator_is_the_one_that_finds_the_headings() -> None:
    """A title full of semicolons does not turn a list with commas into one with semicolons."""
    text = "a;b;c\nd;e;f\ng;h;i\nch,name\n1,Kick\n"
    assert _short(text) == [(1, "Kick", "stage 1", None)]


@pytest.mark.parametrize(
    ("headings", "found"),
    [
        ("ch,name", True),
        ("Channel,Instrument", True),
        ("No.,Source", True),
        ("#,Label:", True),
        ("STRIP,DESCRIPTION", True),
        ("a,b", False),
        ("ch,b", False),
    ],
)
def test_headings_are_found_by_many_words(headings: str, found: bool) -> None:
    """Common words in any case do; without a number and a name the list is refused and the remedy shows a row."""
    text = f"{headings}\n1,Kick\n"
    if found:
        assert _short(text) == [(1, "Kick", "stage 1", None)]
    else:
        finding = only(_wrong(text), "table-wrong")
        assert (finding.line, headings.split(",")[1] in finding.values) == (1, True)
        assert "strip, name, port, group" in finding.remedy


def test_the_better_word_wins_where_two_columns_would_do() -> None:
    """A column called name is the name, though a column called input stands before it."""
    assert _short("ch,input,name,port\n1,17,Kick,stage 1\n") == [(1, "Kick", "stage 1", None)]


def test_an_empty_list_says_so() -> None:
    """A file with nothing in it has no headings to be found."""
    for text in ("", "\n\n", ",,\n,,\n"):
        assert only(_wrong(text), "table-wrong").values == "the list is empty"


def test_a_number_that_stands_twice_names_both_lines() -> None:
    """Strip 7 in lines 2 and 4 is refused with both names and both lines."""
    found = only(_wrong("ch,name\n7,Kick\n8,Snare\n7,Hat\n"), "table-wrong")
    assert (found.line, found.what) == (4, "Strip 7 is claimed twice")
    assert found.values == "'Kick' in line 2, 'Hat' in line 4"


def test_a_pair_claims_both_its_strips() -> None:
    """A stereo row takes the strip behind it too, however it says that it is a pair."""
    for row in ("7-8,Keys", "7 & 8,Keys", "ch 7/8,Keys", "7,Keys,stage 7-8"):
        found = only(_wrong(f"ch,name,port\n{row}\n8,Hat,stage 8\n"), "table-wrong")
        assert (found.line, found.what) == (3, "Strip 8 is claimed twice")


def test_every_bad_row_is_named() -> None:
    """Six rows with mistakes are all named, one of them for both its cells."""
    text = "ch,name,port\nPIT,,\n1,,\n2,Kick,hall\n3,Snare,stage 33\n40,Hat,stage 4\n5,Tom,local out 5\n6,Oud,stage 6\n"
    assert [finding.line for finding in _wrong(text)] == [2, 2, 3, 4, 5, 6, 7]


@pytest.mark.parametrize(
    ("row", "part"),
    [
        ("0,Kick,", "no such strip"),
        ("33,Kick,", "no such strip"),
        ("32-33,Kick,", "no such strip"),
        ("9-3,Kick,", "neither one strip nor a pair"),
        ("1-4,Kick,", "neither one strip nor a pair"),
        ("9-8,Kick,", "neither one strip nor a pair"),
        ("1-2,Kick,stage 1", "differ in number"),
        ("1,Kick,stage 1-4", "differ in number"),
        ("1,Kick,stage 0", "no port that can be read"),
        ("1,Kick,0", "no port that can be read"),
        ("1,Kick,monitor 4", "no such input port"),
        ("1,Kick,aux out 1", "no such input port"),
        ("1,Ki\x1b[2Jck,", "no show may hold"),
        ("1,Ki\x00ck,", "no show may hold"),
        ("one,Kick,", "no strip number"),
        ("1000,Kick,", "no strip number"),
        ("1.5,Kick,", "no strip number"),
    ],
)
def test_a_row_that_no_desk_could_take_is_refused(row: str, part: str) -> None:
    """Numbers, widths, ports and names that cannot be are named in the list, before a show is written."""
    found = only(_wrong(f"ch,name,port\n{row}\n"), "table-wrong")
    assert (found.line, part in found.what) == (2, True), found
    assert found.remedy


@pytest.mark.parametrize(
    ("port", "read"),
    [
        ("", "stage 9-10"),
        ("-", "stage 9-10"),
        ("tbc", "stage 9-10"),
        ("17", "stage 17-18"),
        ("Stage 1 to 2", "stage 1-2"),
    ],
)
def test_a_port_may_be_left_out_or_shortened(port: str, read: str) -> None:
    """Without a port a row sits on the first ports of the desk, same number; a bare number counts there."""
    assert [str(row.port) for row in _rows(f"ch,name,port\n9-10,Keys,{port}\n")] == [read]


def test_quoted_cells_keep_their_commas_and_lose_their_line_breaks() -> None:
    """A comma in quotes is part of the name; a line break in a cell is a space, and lines are counted on."""
    rows = _rows('ch,name\n1,"Bass, DI"\n2,"Kick\nin"\n3,"The ""Oud"""\n')
    assert [(row.name, row.line) for row in rows] == [("Bass, DI", 2), ("Kick in", 3), ('The "Oud"', 5)]


def test_a_quotation_mark_that_is_never_closed_is_refused() -> None:
    """It would swallow the rest of the list into one cell."""
    text = 'ch,name\n1,"Kick\n' + "".join(f"{ch},in {ch}\n" for ch in range(2, 30)) + "x" * 140_000
    found = only(_wrong(text), "table-wrong")
    assert (found.line, "quotation mark" in found.remedy) == (2, True)


def test_how_a_list_was_understood_is_said() -> None:
    """The note names the columns that were used and those that were not."""
    notes = read_input_list("Ch;Source;Mic;Stand\n1;Kick;big;low\n", "list.csv", desk())[1]
    found = only(notes, "table-read")
    assert "1 input, separated by ';'" in found.what
    assert found.values == "ch in 'Ch', name in 'Source'; not used: Mic, Stand"


@given(st.text(alphabet=st.sampled_from('ch,name;\t"\n\r -/&19kK\u00e9\x00'), max_size=60))
def test_any_list_is_read_or_refused(text: str) -> None:
    """Whatever stands in a file, reading ends with rows or with findings that have a line."""
    for start in ("", "ch,name,port\n"):
        try:
            for row in _rows(start + text):
                assert 1 <= row.ch <= 32
                assert row.name
        except ShowUnreadable as error:
            assert all(finding.code == "table-wrong" and finding.line for finding in error.findings)
