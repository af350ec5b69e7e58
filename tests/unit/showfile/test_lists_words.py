"""Cells: what spreadsheets do to pairs and names is undone where it is sure, guarded where it can be foreseen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import HOSTILE_NAMES
from sidetrip.model.ports import Ports
from sidetrip.showfile.listvalues import CellWrong, Decimal, decimal_of, figure, figure_text, port_run, strip_numbers
from sidetrip.showfile.listwords import as_date, gave_up, guarded, is_ditto, pair_in, unguarded, yes_or_no


@pytest.mark.parametrize(
    "cell",
    [
        "1. Feb",
        "01. Feb",
        "1. Feb.",
        "2-Jan",
        "02-Jan",
        "Jan 2",
        "2-Jan-26",
        "1. Februar 2026",
        "2026-01-02",
        "2026-02-01 00:00:00",
        "01.02.",
        "01.02.2026",
        "1/2/2026",
        "02.01.26",
        "46024",
        "46054.0",
    ],
)
def test_a_pair_that_became_a_date_is_undone(cell: str) -> None:
    """1-2 comes back from every form that spreadsheets show or save: only neighbours were ever typed as a pair."""
    numbers = as_date(cell)
    assert numbers is not None
    assert pair_in(numbers) == (1, 2)
    taken: list[str] = []
    assert strip_numbers(cell, taken.append) == (1, 2)
    assert taken == ["1 & 2"]
    assert port_run(cell, "stage", 1, taken.append) == Ports("stage", 1, 2)


@pytest.mark.parametrize(
    ("cell", "pair"), [("11. Dez", (11, 12)), ("8-Jul", (7, 8)), ("5. Mai", None), ("09.10.", (9, 10))]
)
def test_months_in_two_languages(cell: str, pair: tuple[int, int] | None) -> None:
    """German and English months are known; numbers that are no neighbours are no pair."""
    numbers = as_date(cell)
    assert numbers is not None
    assert pair_in(numbers) == pair


@pytest.mark.parametrize("cell", ["4-Jan", "Jan-32", "17. Mrz 2026", "2026-07-25", "46100"])
def test_a_date_that_cannot_be_undone_is_refused(cell: str) -> None:
    """1-4 or 17/3 may have been typed, or something else: nobody knows, so the cell is named."""
    with pytest.raises(CellWrong, match=r"date|strip number"):
        strip_numbers(cell, lambda taken: None)


@pytest.mark.parametrize(
    ("serial", "day", "month"), [("39448", 1, 1), ("36526", 1, 1), ("43831", 1, 1), ("45658", 1, 1)]
)
def test_serial_numbers_are_days(serial: str, day: int, month: int) -> None:
    """39448 is 1 January 2008: the worked value in the help of the spreadsheet's DATEVALUE and DATE functions.

    The others follow by adding whole years of 365 or 366 days.
    """
    assert as_date(serial) == (day, month)


@pytest.mark.parametrize("cell", ["7", "07", "7-8", "stage 1", "Kick", "1.5", "99999", "12345", "1/2", "Mai", ""])
def test_what_is_no_date(cell: str) -> None:
    """Numbers of strips, words and serial numbers far off the years of a show are none."""
    assert as_date(cell) is None


@pytest.mark.parametrize("name", ["DEC1", "SEPT2", "MARCH1", "OCT4", "2310009E13"])
def test_names_that_spreadsheets_are_known_to_change_are_guarded(name: str) -> None:
    """DEC1 and 2310009E13 are the examples of Zeeberg et al. 2004, BMC Bioinformatics 5:80; the others are alike."""
    assert guarded(name) == f"'{name}"


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r"])
def test_the_signs_of_formulas_are_guarded(sign: str) -> None:
    """The characters that OWASP's page on CSV injection lists, with and without a blank before them."""
    assert guarded(f"{sign}A1") == f"'{sign}A1"
    assert guarded(f" {sign}A1").startswith("'")


@given(st.text(alphabet="'=-+@\"#a1.Feb ", max_size=7) | st.sampled_from(HOSTILE_NAMES))
def test_a_guard_comes_off_as_it_went_on(text: str) -> None:
    """Any text is the same after guarding and taking the guard off, apostrophes of its own included."""
    assert unguarded(guarded(text)) == text
    assert not guarded(text).lstrip(" ").startswith(("=", "+", "-", "@"))


@pytest.mark.parametrize("text", ["'tis", "''", "'", "Kick", "O'Hara", "''x"])
def test_an_apostrophe_that_is_no_guard_stays(text: str) -> None:
    """Only an apostrophe before something that needs one is a guard."""
    assert unguarded(text) == (text if text != "''" else "''")


def test_ticks() -> None:
    """x, Y, a tick, ja and +48 are yes; nein, a dash and nothing are no; a cross may be either."""
    assert [yes_or_no(word) for word in ("x", "X", "Y", "✓", "ja", "+48", "+48V", "yes")] == [True] * 8
    assert [yes_or_no(word) for word in ("nein", "-", "", "no", "N", "–", "☐")] == [False] * 7
    assert [yes_or_no(word) for word in ("✗", "maybe", "2")] == [None] * 3


def test_as_above_and_errors_of_a_spreadsheet() -> None:
    """Ditto marks and the words a spreadsheet puts in place of a failed formula are known; names like #x are not."""
    assert all(is_ditto(mark) for mark in ('"', "''", "”", "〃", "dito", "ditto", '""'))
    assert not any(is_ditto(word) for word in ("", "Ditto piano", "'"))
    assert all(gave_up(word) for word in ("#NAME?", "#WERT!", "#REF!", "#######"))
    assert not any(gave_up(word) for word in ("#x", "#1", "##"))


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("2,67", None, 2.67),
        ("0,0", None, 0.0),
        ("2.67 ms", None, 2.67),
        ("−3", None, -3.0),
        ("12", None, 12.0),
        ("0,125", None, 0.125),
        ("1,200", "comma", 1.2),
        ("1.200", "point", 1.2),
        ("1.2000", None, 1.2),
    ],
)
def test_figures_with_either_mark(cell: str, decimal: Decimal | None, value: float) -> None:
    """2,67 is 2.67 and never 267; a unit may stand behind."""
    assert figure(cell, "ms", decimal) == (value, value)


@pytest.mark.parametrize(
    ("cell", "decimal"),
    [
        ("1.200,5", None),
        ("1.200,5", "comma"),
        ("1,200.5", None),
        ("1 200", None),
        ("1'200", None),
        ("1.200", None),
        ("1,200", None),
        ("1,200", "point"),
        ("1.200", "comma"),
        ("2. Jan", None),
        ("2 s", None),
        ("4 to 2", None),
        ("=A1*2", None),
        ("two", None),
        ("1 to 2 to 3", None),
    ],
)
def test_figures_that_may_be_two_things_are_refused(cell: str, decimal: Decimal | None) -> None:
    """Marks between thousands, three figures behind a lone mark, dates, formulas and other units: never a guess."""
    with pytest.raises(CellWrong):
        figure(cell, "ms", decimal)


def test_the_decimal_mark_of_a_list_is_found_where_it_is_sure() -> None:
    """One figure that can be read only one way decides for the others; two that disagree decide nothing."""
    assert decimal_of(["1.200", "2,5 ms", ""]) == "comma"
    assert decimal_of(["1.200", "0.125"]) == "point"
    assert decimal_of(["1.200", "3"]) is None
    assert decimal_of(["2.5", "2,5"]) is None


@given(st.floats(-9999, 9999).map(lambda value: round(value, 4)), st.sampled_from(["point", "comma"]))
def test_a_figure_comes_back_from_its_cell(value: float, decimal: Decimal) -> None:
    """What is written for a figure is read as the same number, without knowing which mark was meant."""
    text = figure_text(repr(value), "ms", decimal)
    if "e" in repr(value):
        return
    assert not text.startswith(("-", "+"))
    assert figure(text, "ms", None) == (value, value)
