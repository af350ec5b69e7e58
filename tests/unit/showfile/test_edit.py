"""One field changed, one line changed: the rest of the text stays letter for letter."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import DEMO_TEXT, DESK_TEXT, HOSTILE_NAMES
from sidetrip.errors import ShowUnreadable
from sidetrip.showfile.edit import NoSuchField, set_field
from sidetrip.showfile.syntax import Path, forbidden, parse

ODD_TEXT = (
    "sidetrip:   1   # the version\r\n"
    "\r\n"
    "'show' : \"The Tin Lantern\"\r\n"
    '"sample_rate": 48000 # the rate\r\n'
    "desk: {type: x ,\r\n"
    "   hops : [ {from: a,to: b , frames: 3 } ]   }  # known better\r\n"
    "length:\r\n"
    "trade:    # nothing yet\r\n"
    "inputs:\r\n"
    "-   name:   Kick # in\r\n"
    "    ch:  01\r\n"
    "    hears: {kick: {m: 0.10,\r\n"
    "      db: -3}, room: {m: }}\r\n"
    "-   {name: Snare, ch: 2,port: 'stage 2'}   # second\r\n"
    "\r\n"
    "never: [ Talk , 'Click' ,\r\n"
    "  808 ]\r\n"
    "keep:\r\n"
    "  -\r\n"
    "    ports: aux in 7-8\r\n"
    "    for: interval"
)
"""Windows line ends, spaces everywhere, mappings over two lines, empty values, no line end at the end."""


def _scalars(data: Any, path: Path = ()) -> list[Path]:
    if isinstance(data, dict):
        return [found for key, value in data.items() for found in _scalars(value, (*path, key))]
    if isinstance(data, tuple):
        return [found for index, value in enumerate(data) for found in _scalars(value, (*path, index))]
    return [path]


def _spelled(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _spelled(value) for key, value in data.items()}
    if isinstance(data, tuple):
        return [_spelled(value) for value in data]
    return (type(data).__name__, getattr(data, "written", data))


def _set(data: Any, path: Path, value: Any) -> Any:
    """Return plain data with one value set, made without the code under test."""
    if not path:
        return value
    if isinstance(data, dict):
        return {**data, path[0]: _set(data.get(path[0]), path[1:], value)}
    return [_set(item, path[1:], value) if index == path[0] else item for index, item in enumerate(data)]


def _sections(text: str) -> list[str]:
    """Return a text cut into its top-level keys, and long lists into their rows: each piece is a text of its own."""
    pieces: list[str] = []
    for section in re.split(r"(?m)^(?=[a-z])", text):
        key, *rows = re.split(r"(?m)^(?=  - )", section)
        pieces += [key + row for row in rows] if rows else [key]
    return [piece for piece in pieces if piece[0] != "#"]


def _check_all(text: str, every: int = 1) -> None:
    """Set each value in turn, words and numbers by turns, and look at what became of the text."""
    before = parse(text, "show.yaml").data
    for count, path in enumerate(_scalars(before)[::every]):
        value = ("zz: #1", 777, 2.25)[count % 3]
        edited = set_field(text, path, value)
        old, new = text.splitlines(keepends=True), edited.splitlines(keepends=True)
        assert len(old) == len(new), path
        assert sum(one != other for one, other in zip(old, new, strict=True)) == 1, path
        spelled = ("str", value) if isinstance(value, str) else (f"Written{type(value).__name__.title()}", str(value))
        assert _spelled(parse(edited, "show.yaml").data) == _set(_spelled(before), path, spelled), path


def test_setting_any_value_of_the_demo_changes_one_line() -> None:
    """Every value of every row is set in turn: one line differs, one value is new, the rest reads as before."""
    for section in _sections(DEMO_TEXT):
        _check_all(section)


def test_values_are_set_in_the_whole_demo_too() -> None:
    """The same in the whole file, for every twentieth value."""
    _check_all(DEMO_TEXT, every=20)


def test_odd_spacing_stays_as_it_is() -> None:
    """Windows line ends, mappings over two lines, quoted keys, empty values: every value changes one line."""
    _check_all(ODD_TEXT)


def test_values_of_a_desk_can_be_set() -> None:
    """The same holds for a desk file, of which every tenth value is tried."""
    _check_all(DESK_TEXT, every=10)


@pytest.mark.parametrize(
    ("text", "path", "edited"),
    [
        ("a: 1\n", ("b",), "a: 1\nb: 2\n"),
        ("a: 1", ("b",), "a: 1\nb: 2"),
        ("a: 1\r\n", ("b",), "a: 1\r\nb: 2\r\n"),
        ("a: 1 # c\n# end\n", ("b",), "a: 1 # c\nb: 2\n# end\n"),
        ("a:\n  c: 1\nd: 1\n", ("a", "b"), "a:\n  c: 1\n  b: 2\nd: 1\n"),
        ("a:\n  c:\n    d: 1\ne: 1\n", ("a", "b"), "a:\n  c:\n    d: 1\n  b: 2\ne: 1\n"),
        ("a:\n- c: 1\n- c: 2\n", ("a", 0, "b"), "a:\n- c: 1\n  b: 2\n- c: 2\n"),
        ("a:\n  c: |\n    text\n    more\nd: 1\n", ("a", "b"), "a:\n  c: |\n    text\n    more\n  b: 2\nd: 1\n"),
        ("a:\n  c:\nd: 1\n", ("a", "b"), "a:\n  c:\n  b: 2\nd: 1\n"),
        ("a: {}\n", ("a", "b"), "a: {b: 2}\n"),
        ("a: { }\n", ("a", "b"), "a: {b: 2 }\n"),
        ("a: {c: 1}\n", ("a", "b"), "a: {c: 1, b: 2}\n"),
        ("a: {c: 1,}\n", ("a", "b"), "a: {c: 1, b: 2,}\n"),
        ("a: {c: }\n", ("a", "b"), "a: {c: , b: 2}\n"),
        ("a: {c: [1, 2]}\n", ("a", "b"), "a: {c: [1, 2], b: 2}\n"),
        ("a: {c: 1 # one\n }\n", ("a", "b"), "a: {c: 1, b: 2 # one\n }\n"),
        ("a: {# one\n }\n", ("a", "b"), "a: {b: 2 # one\n }\n"),
        ("{}", ("b",), "{b: 2}"),
        ("a: 1\n...\n", ("b",), "a: 1\nb: 2\n...\n"),
        ("a:\n", ("a",), "a: 2\n"),
        ("a: # c\nd: 1\n", ("a",), "a: 2 # c\nd: 1\n"),
        ("{a: , c: 1}\n", ("a",), "{a: 2 , c: 1}\n"),
        ("{a, c: 1}\n", ("a",), "{a: 2, c: 1}\n"),
        ("- 1\n-\n", (1,), "- 1\n- 2\n"),
        ("a: >\n  long\n  text\n\nc: 1\n", ("a",), "a: 2\n\nc: 1\n"),
        ("a: one\n  two\nc: 1\n", ("a",), "a: 2\nc: 1\n"),
        ("a: 'one\n  two' # c\n", ("a",), "a: 2 # c\n"),
        ("caf\u00e9: 1\n", ("cafe\u0301",), "caf\u00e9: 2\n"),
    ],
)
def test_values_and_keys_go_where_they_belong(text: str, path: Path, edited: str) -> None:
    """Empty values are filled, long ones replaced, and new keys stand last in their mapping, comments left alone."""
    assert set_field(text, path, 2) == edited


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("a: [1, 2]\n", ("a",)),
        ("a: {b: 1}\n", ("a",)),
        ("a: [1, 2]\n", ("a", 2)),
        ("a: [1, 2]\n", ("a", "b")),
        ("a:\n  - 1\n", ("a", "b")),
        ("a: 1\n", ("a", "b")),
        ("a:\n", ("a", "b")),
        ("a: 1\n", ("b", "c")),
        ("a: 1\n", (0,)),
        ("a: 1\n", ()),
        ("a:\r  b: 1\rc: 1\r", ("a", "d")),
    ],
)
def test_what_cannot_be_set_is_refused(text: str, path: Path) -> None:
    """Lists and mappings are not replaced, and no path is made up; the error names the path."""
    with pytest.raises(NoSuchField):
        set_field(text, path, 2)


def test_text_that_does_not_parse_is_not_edited() -> None:
    """A broken text is refused with its findings."""
    with pytest.raises(ShowUnreadable):
        set_field("a: [\n", ("a",), 2)


@pytest.mark.parametrize("value", [float("inf"), float("nan"), True, "\x00", "a\x1b[2J", "\x7f", "\ud800"])
def test_a_value_that_no_show_can_hold_is_refused(value: Any) -> None:
    """Neither infinities nor control characters are written into a file that could not be read again."""
    with pytest.raises(ValueError, match="show"):
        set_field("a: 1\n", ("a",), value)


@pytest.mark.parametrize("value", [0, -1, 10**17, 1e22, 1e-7, -0.0, 0.1])
def test_numbers_come_back_as_they_are(value: float) -> None:
    """Large and small numbers are written so that they read as the same number."""
    assert parse(set_field("a: x\n", ("a",), value), "show.yaml").data == {"a": value}


_HOSTILE = [*HOSTILE_NAMES, "", "|", "Vox ", " Vox", "\u00a0a", "a\u3000", "a\nb", "a\tb", "\u2028", "\u0085", "\ufeff"]


@pytest.mark.parametrize("text", ["a: 1\n", "x: {a: 1, b: 2}\n", "- 1\n- 2\n", "a:\n", "a: '1' # c\n", "[a, b]"])
def test_words_that_need_quotes_come_back_as_typed(text: str) -> None:
    """Names that YAML would read as something else survive being written and read, wherever they stand."""
    path = _scalars(parse(text, "show.yaml").data)[0]
    for value in _HOSTILE:
        data = parse(set_field(text, path, value), "show.yaml").data
        for part in path:
            data = data[part]
        assert (data, type(data)) == (value, str)


def test_a_key_that_needs_quotes_gets_them() -> None:
    """A new key may be any word, such as the name of a strip."""
    for key in ("NO", "808", "a: b", "#1"):
        assert parse(set_field("a: {}\n", ("a", key), "x"), "show.yaml").data == {"a": {key: "x"}}


@given(st.text(max_size=30), st.sampled_from(["a: 1 # c\n", "x: {a: 1, b: 2}\n", "a:\n", "a:\r\n  - b\r\n"]))
def test_any_text_survives(value: str, text: str) -> None:
    """Whatever is typed into a field is read back letter for letter, or refused before anything is changed."""
    path = _scalars(parse(text, "show.yaml").data)[0]
    try:
        edited = set_field(text, path, value)
    except ValueError:
        assert forbidden(value)
        return
    data = parse(edited, "show.yaml").data
    for part in path:
        data = data[part]
    assert data == value
