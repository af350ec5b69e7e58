"""Any small table: found below titles, cut by its separator, merged cells and ditto marks written out, all said."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from showtext import codes, only
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import has_errors
from sidetrip.showfile.tables import Column, Table, read_table

ANSWERS = (Column("question", ("question", "frage"), needed=True), Column("answer", ("answer", "antwort"), needed=True))
STRIPS = (
    Column("strip", ("strip", "kanal"), needed=True),
    Column("name", ("name",), exact=True),
    Column("group", ("group", "gruppe"), fill=True),
    Column("ms", ("latency ms", "latency_ms"), needed=False),
)


def _column(table: Table, key: str) -> list[str]:
    return [row.cells[key] for row in table.rows]


def _wrong_lines(text: str) -> list[int | None]:
    table = read_table(text, "list.csv", STRIPS)
    return [finding.line for finding in table.findings if finding.code == "table-wrong"]


def test_a_mark_before_the_first_heading_is_no_part_of_it() -> None:
    """Saved as UTF-8 with its mark, the first heading is still strip, and there are two rows."""
    table = read_table(b"\xef\xbb\xbfstrip,name\r\n1,Kick\r\n2,Snare\r\n", "list.csv", STRIPS)
    assert (table.headings[0], table.keys, len(table.rows)) == ("strip", ("strip", "name"), 2)


def test_merged_cells_are_filled_down_and_said() -> None:
    """Drums, empty, empty, Vox, empty: every row has its group, and lines 3, 4 and 6 are named."""
    table = read_table("strip;group\n1;Drums\n2;\n3;\n4;Vox\n5;\n", "list.csv", STRIPS)
    assert _column(table, "group") == ["Drums", "Drums", "Drums", "Vox", "Vox"]
    found = only(table.findings, "table-mended")
    assert ([part in found.values for part in ("3: Drums", "4: Drums", "6: Vox")], found.line) == ([True] * 3, 3)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("strip;group\n1;Drums\n2;Drums\n3;\n4;Vox\n", [4]),
        ("strip;group\n1;Drums\n2;\n3;-\n", [3]),
        ("strip;group\n1;\n2;Drums\n3;\n", [2, 4]),
        ("strip;group\n1;\n2;\n", []),
    ],
)
def test_blanks_that_may_mean_none_are_refused(text: str, lines: list[int]) -> None:
    """Where a group is written out or "-" stands, a blank is not what a merged cell left: never silently no group."""
    assert _wrong_lines(text) == lines


def test_ditto_marks_are_written_out_and_said() -> None:
    """As above means the cell above; not in names, and not in the first row."""
    table = read_table('strip;group\n1;Drums\n2;""""\n3;dito\n', "list.csv", STRIPS)
    assert _column(table, "group") == ["Drums"] * 3
    assert only(table.findings, "table-mended").values == "lines 3, 4"
    assert _wrong_lines('strip;name;group\n1;Kick;""""\n2;"""";-\n') == [3, 2]


def test_titles_blank_rows_and_own_columns() -> None:
    """What stands above is kept, blank rows are passed over, columns that nobody asked for keep place and cells."""
    text = '\ufeffsep=;\nTin Lantern;pit\n;;\nMic;Kanal;"Two\nlines";\nbig;7;"a\nb";\n;;;\n;8;;\n'
    table = read_table(text, "list.csv", STRIPS)
    assert (table.separator, table.header_line, table.own_headings) == (";", 4, ("Mic", "Two lines"))
    assert [(row.line, row.own) for row in table.rows] == [(6, ("big", "a\nb")), (9, ("", ""))]
    assert table.above[1] == ("Tin Lantern", "pit")
    assert not has_errors(table.findings)


def test_a_misspelt_heading_is_refused_with_the_good_word() -> None:
    """latencey_ms and Gruop are named with their line and the nearest word; they never count as not there."""
    table = read_table("strip;latencey_ms;Gruop\n1;2;x\n", "list.csv", STRIPS)
    found = [finding for finding in table.findings if finding.code == "table-wrong"]
    assert [(f.line, f.values) for f in found] == [(1, "latencey_ms"), (1, "Gruop")]
    assert ["latency ms" in found[0].remedy, "group" in found[1].remedy] == [True, True]


def test_missing_headings_name_the_nearest() -> None:
    """Without a needed heading there is no table; what may be meant for it is said."""
    with pytest.raises(ShowUnreadable) as caught:
        read_table("title\nQuestoin;Antwort\nIs it loud?;yes\n", "list.csv", ANSWERS)
    found = only(caught.value.findings, "table-wrong")
    assert (found.line, "'Questoin' may be meant for 'question'" in found.remedy) == (2, True)


def test_answers_of_the_house_are_read_by_the_same_function() -> None:
    """A table of questions and answers with title, semicolons, commas in quotes and Windows letters."""
    data = 'Das Haus;\r\n\r\nFrage;Antwort;Wer\r\nWer schaltet?;"Müller, Technik";x\r\nStrom?;tbc;\r\n'.encode("cp1252")
    table = read_table(data, "answers.csv", ANSWERS)
    assert [(row.cells["question"], row.cells["answer"]) for row in table.rows] == [
        ("Wer schaltet?", "Müller, Technik"),
        ("Strom?", "tbc"),
    ]
    assert codes(table.findings) == ["table-mended"]


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("strip,name\n1,Bass, DI\n2,Kick\n", [2]),
        ("strip,name\n1,#NAME?\n2,#######\n", [2, 3]),
        ("strip,name,Name\n1,a,b\n", [1]),
        ("strip,name\n1,Ki\x1bck\n", [2]),
    ],
)
def test_rows_that_slipped_are_refused_by_line(text: str, lines: list[int]) -> None:
    """A comma without quotes, errors of a spreadsheet, a doubled heading, a control character: each with its line."""
    assert _wrong_lines(text) == lines


@pytest.mark.parametrize("text", ['strip,name\n1,"Kick\n2,Snare\n', 'strip,name\n1,"Kick" in\n'])
def test_quotation_marks_that_do_not_fit_are_refused(text: str) -> None:
    """One that is never closed would swallow the rest; text behind one that is closed belongs nowhere."""
    with pytest.raises(ShowUnreadable) as caught:
        read_table(text, "list.csv", STRIPS)
    assert only(caught.value.findings, "table-wrong").line == 2


def test_quoted_cells_follow_the_written_rules() -> None:
    """Commas, line breaks and doubled quotation marks inside quotes, as RFC 4180 section 2 has them."""
    table = read_table('strip,name\r\n1,"b CRLF\r\nbb"\r\n2,"a ""b"", c"\r\n', "list.csv", STRIPS)
    assert _column(table, "name") == ["b CRLF bb", 'a "b", c']
    assert [row.line for row in table.rows] == [2, 4]


def test_the_example_in_the_docs_runs() -> None:
    """The code in the page on lists gives the answers that it promises."""
    page = (Path(__file__).parents[3] / "docs" / "lists.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    names: dict[str, object] = {}
    exec(code, names)
    assert names["answers"] == [(2, "Who switches?", "the house")]
