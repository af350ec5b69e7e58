"""Items put at the end of lists, and mappings set as values: the lines around them stay letter for letter."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import DEMO_TEXT, HOSTILE_NAMES
from sidetrip.errors import ShowUnreadable
from sidetrip.showfile.edit import NoSuchField, Value, add_item, set_field
from sidetrip.showfile.syntax import Path, forbidden, parse

_POINT: Mapping[str, Any] = {
    "buffer": 64,
    "rate": 48000,
    "round_trip_frames": {"is": 331.25, "standing": "proven"},
    "when": "2026-11-25",
    "state": "take all, flat",
}
_POINT_TEXT = (
    '{buffer: 64, rate: 48000, round_trip_frames: {is: 331.25, standing: proven}, when: "2026-11-25", '
    'state: "take all, flat"}'
)


def _data(text: str) -> Any:
    return parse(text, "show.yaml").data


def _at(data: Any, path: Path) -> Any:
    for part in path:
        data = data[part]
    return data


def _plain(data: Any) -> Any:
    """Return data with lists as tuples, as a text reads, and every number with its type."""
    if isinstance(data, Mapping):
        return {key: _plain(value) for key, value in data.items()}
    if isinstance(data, tuple | list):
        return tuple(_plain(value) for value in data)
    return ("number", float(data)) if isinstance(data, int | float) else data


def _changed(old: str, new: str) -> tuple[list[str], list[str]]:
    """Return the lines that only the old text has and those that only the new one has, between what they share."""
    before, after = old.splitlines(keepends=True), new.splitlines(keepends=True)
    while before and after and before[0] == after[0]:
        before, after = before[1:], after[1:]
    while before and after and before[-1] == after[-1]:
        before, after = before[:-1], after[:-1]
    return before, after


# where an item goes


@pytest.mark.parametrize(
    ("text", "edited"),
    [
        ("a: [1]\n", "a: [1, 2]\n"),
        ("a: []\n", "a: [2]\n"),
        ("a: [ ]\n", "a: [2 ]\n"),
        ("a: [1, 3]", "a: [1, 3, 2]"),
        ("a: [1,]\n", "a: [1, 2,]\n"),
        ("a: ['x'  ] # c\n", "a: ['x', 2  ] # c\n"),
        ("a: [1,\n  3 # three\n  ]\nb: 1\n", "a: [1,\n  3, 2 # three\n  ]\nb: 1\n"),
        ("a: [# none\n  ]\n", "a: [2 # none\n  ]\n"),
        ("a: [{b: 1}, {b: }]\n", "a: [{b: 1}, {b: }, 2]\n"),
        ("a: [[1], [3]]\n", "a: [[1], [3], 2]\n"),
        ("x: {a: [1], b: 1}\n", "x: {a: [1, 2], b: 1}\n"),
        ("a: [1]\r\nb: 1\r\n", "a: [1, 2]\r\nb: 1\r\n"),
    ],
)
def test_an_item_of_a_flow_list_stands_behind_the_last(text: str, edited: str) -> None:
    """In brackets it follows a comma, or stands alone; spaces, comments and line ends stay."""
    path: Path = ("x", "a") if text[0] == "x" else ("a",)
    assert add_item(text, path, 2) == edited


@pytest.mark.parametrize(
    ("text", "edited"),
    [
        ("a:\n  - 1\n", "a:\n  - 1\n  - 2\n"),
        ("a:\n- 1", "a:\n- 1\n- 2"),
        ("a:\r\n  - 1\r\nb: 1\r\n", "a:\r\n  - 1\r\n  - 2\r\nb: 1\r\n"),
        ("a:\r\n  - 1", "a:\r\n  - 1\r\n  - 2"),
        ("a:\n  -   1 # one\n  # end\n\nb: 1\n", "a:\n  -   1 # one\n  -   2\n  # end\n\nb: 1\n"),
        ("a:\n  # first\n  - {b: 1}\n  # next\n", "a:\n  # first\n  - {b: 1}\n  - 2\n  # next\n"),
        ("a:\n  - b: 1\n    c: 1\nd: 1\n", "a:\n  - b: 1\n    c: 1\n  - 2\nd: 1\n"),
        ("a:\n  - b: 1\n    c:\n      - 1\n\n# d\nd: 1\n", "a:\n  - b: 1\n    c:\n      - 1\n  - 2\n\n# d\nd: 1\n"),
        ("a:\n  - b: 1\n    c: # none\n\nd: 1\n", "a:\n  - b: 1\n    c: # none\n  - 2\n\nd: 1\n"),
        ("a:\n  - b: [1,\n      3] # c\nd: 1\n", "a:\n  - b: [1,\n      3] # c\n  - 2\nd: 1\n"),
        ("a:\n  - one\n    two # c\nd: 1\n", "a:\n  - one\n    two # c\n  - 2\nd: 1\n"),
        ("a:\n  - |\n    text\n    more\nd: 1\n", "a:\n  - |\n    text\n    more\n  - 2\nd: 1\n"),
        ("a:\n  - b: >\n      text\n  # c\nd: 1\n", "a:\n  - b: >\n      text\n  - 2\n  # c\nd: 1\n"),
        ("a:\n  -\n", "a:\n  -\n  - 2\n"),
        ("a:\n  -\n    b: 1\n", "a:\n  -\n    b: 1\n  - 2\n"),
        ("a:\n  - # why\n    b: 1\n", "a:\n  - # why\n    b: 1\n  - 2\n"),
        ("a:\n- 1\n...\n", "a:\n- 1\n- 2\n...\n"),
    ],
)
def test_an_item_of_a_block_list_gets_a_line_of_its_own(text: str, edited: str) -> None:
    """It begins as the last item does, below all of that item and above the comments behind it."""
    assert add_item(text, ("a",), 2) == edited


@pytest.mark.parametrize(
    ("text", "path", "edited"),
    [
        ("b: 1\n", ("a",), "b: 1\na: [2]\n"),
        ("b: 1", ("a",), "b: 1\na: [2]"),
        ("a:\nb: 1\n", ("a",), "a: [2]\nb: 1\n"),
        ("a: # none yet\n", ("a",), "a: [2] # none yet\n"),
        ("a: ~\n", ("a",), "a: [2]\n"),
        ("x: {b: 1}\n", ("x", "a"), "x: {b: 1, a: [2]}\n"),
        ("x:\r\n  - b: 1\r\n  - b: 2\r\n", ("x", 0, "a"), "x:\r\n  - b: 1\r\n    a: [2]\r\n  - b: 2\r\n"),
        ("x:\n  - - 1\n", ("x", 0), "x:\n  - - 1\n    - 2\n"),
        ("x:\n  - a:\n      - 1\n    b: 1\n", ("x", 0, "a"), "x:\n  - a:\n      - 1\n      - 2\n    b: 1\n"),
        ("[]", (), "[2]"),
        ("- 1\n", (), "- 1\n- 2\n"),
    ],
)
def test_a_list_that_is_not_there_yet_is_begun(text: str, path: Path, edited: str) -> None:
    """A missing key gets a list of one item, an empty one too; lists within lists grow where they stand."""
    assert add_item(text, path, 2) == edited


def test_a_measured_point_is_added_to_the_demo_in_one_line() -> None:
    """The laptop of the demo, whose points stand in a block list under a comment, gets a fourth."""
    edited = add_item(DEMO_TEXT, ("units", 0, "measured"), _POINT)
    assert _changed(DEMO_TEXT, edited) == ([], [f"      - {_POINT_TEXT}\n"])
    assert _plain(_data(edited)["units"][0]["measured"][-1]) == _plain(_POINT)


def test_a_key_is_added_behind_a_list_in_the_middle_of_a_list() -> None:
    """A unit whose last key is a list of its own gets another key below that list, before the next unit."""
    edited = set_field(DEMO_TEXT, ("units", 0, "level"), "line")
    assert _changed(DEMO_TEXT, edited) == ([], ["    level: line\n"])
    assert _data(edited)["units"][0]["level"] == "line"
    text = "x:\n  - a:\n      b: 1\n\n  # c\n  - c: 2\n"
    assert set_field(text, ("x", 0, "z"), 1) == "x:\n  - a:\n      b: 1\n    z: 1\n\n  # c\n  - c: 2\n"


# mappings as values


@pytest.mark.parametrize(
    ("text", "path", "edited"),
    [
        ("a: 1 # c\n", ("a",), "a: {is: 2.5, standing: proven} # c\n"),
        ("a:\nb: 1\n", ("a",), "a: {is: 2.5, standing: proven}\nb: 1\n"),
        ("x: {a: 1, b: 1}\r\n", ("x", "a"), "x: {a: {is: 2.5, standing: proven}, b: 1}\r\n"),
        ("x: {b: 1}\n", ("x", "a"), "x: {b: 1, a: {is: 2.5, standing: proven}}\n"),
        ("x: {a, b: 1}\n", ("x", "a"), "x: {a: {is: 2.5, standing: proven}, b: 1}\n"),
        ("x:\n  - 'a'\n  - b", ("x", 1), "x:\n  - 'a'\n  - {is: 2.5, standing: proven}"),
        ("a: |\n  text\nb: 1\n", ("a",), "a: {is: 2.5, standing: proven}\nb: 1\n"),
    ],
)
def test_a_mapping_takes_the_place_of_one_value(text: str, path: Path, edited: str) -> None:
    """It is written in one line, where a scalar stood or a key was missing."""
    assert set_field(text, path, {"is": 2.5, "standing": "proven"}) == edited


def test_any_kind_of_mapping_will_do() -> None:
    """A mapping that cannot be changed, with another in it, is written like a plain one; an empty one is empty."""
    value = MappingProxyType({"is": MappingProxyType({"x": 1}), "none": {}})
    assert set_field("a: 1\n", ("a",), value) == "a: {is: {x: 1}, none: {}}\n"


def test_words_in_a_mapping_are_quoted_where_they_must_be() -> None:
    """Commas, quotes, brackets, umlauts and names that YAML takes for something else survive as keys and values."""
    for word in (*HOSTILE_NAMES, 'a "b", c', "[a]", "{a: b}", "Größe, flach", "it's", "a\\b", "", "a # b", "a: b"):
        value = {"is": word, "in": {"more": word}, **({word: 1} if word.strip() else {})}
        for text in ("a: 1\n", "x: {a: 1}\n", "a:\n  - 1\n"):
            path: Path = ("x", "a") if text[0] == "x" else ("a", 0) if "-" in text else ("a",)
            assert _plain(_at(_data(set_field(text, path, value)), path)) == _plain(value), (text, word)
        edited = add_item("a: [1]\nb: 1\n", ("a",), word)
        assert _data(edited)["a"][1] == word


# what is refused


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("a: 1\n", ("a",)),
        ("a: x\n", ("a",)),
        ("a: {b: 1}\n", ("a",)),
        ("a:\n  b: 1\n", ("a",)),
        ("a: 1\n", ("b", "c")),
        ("a: [1]\n", ("a", 0)),
        ("a: [1]\n", ("a", 1)),
        ("a: 1\n", (0,)),
        ("a: 1\n", ()),
        ("a:\r  - 1\rb: 1\r", ("a",)),
    ],
)
def test_only_lists_get_items(text: str, path: Path) -> None:
    """A scalar or a mapping gets none, and a path that leads nowhere is not made up."""
    with pytest.raises(NoSuchField):
        add_item(text, path, 2)


@pytest.mark.parametrize("path", [("a",), ("a", 0), ()])
def test_a_mapping_replaces_no_list_and_no_mapping(path: Path) -> None:
    """What would have to be rewritten is refused, whatever the new value is."""
    with pytest.raises(NoSuchField):
        set_field("a: [{b: 1}]\n", path, {"is": 1})


@pytest.mark.parametrize("value", [{"is": None}, {"is": [1]}, {"": 1}, {" is": 1}])
def test_a_mapping_that_would_not_read_as_it_is_is_refused(value: Mapping[str, Any]) -> None:
    """Lists, nothing, and keys that come back otherwise are not written."""
    with pytest.raises(NoSuchField):
        set_field("a: 1\n", ("a",), value)


@pytest.mark.parametrize("value", [float("nan"), True, "\x00", {"is": float("inf")}, {"x": {"y": "\x07"}}, {"\x00": 1}])
def test_a_value_that_no_show_can_hold_is_refused_in_lists_and_mappings(value: Value) -> None:
    """Deep inside a mapping too, and for keys as well as for values."""
    for edit in (add_item, set_field):
        with pytest.raises(ValueError, match="show"):
            edit("a: []\n", ("a",), value)


def test_text_that_does_not_parse_gets_no_item() -> None:
    """A broken text is refused with its findings."""
    with pytest.raises(ShowUnreadable):
        add_item("a: [\n", ("a",), 2)


# anything at all

_WORDS = st.text(max_size=12) | st.sampled_from(HOSTILE_NAMES)
_NUMBERS = st.integers(-(10**9), 10**9) | st.floats(allow_nan=False, allow_infinity=False)
_KEYS = st.text("abcäö, [:{\"'#-", min_size=1, max_size=6).filter(lambda key: key.strip() == key)
_VALUES: st.SearchStrategy[Any] = st.recursive(
    _WORDS | _NUMBERS, lambda inner: st.dictionaries(_KEYS, inner, max_size=3), max_leaves=4
)
_ITEMS = st.sampled_from(
    ("1", "x # c", "'a, b'", "{b: 1}", "{b: }", "[1, 2]", "[]", "b: 1\n{}  c: 2 # d", "b:\n{}    - 1", "one\n{}  two")
)
_TAILS = st.sampled_from(("", "\n", "\n\n# behind\n", "\nlast: 1\n", "\n  # in\n# out\nlast: {z: 1}", "\n...\n"))


@st.composite
def _lists(draw: st.DrawFn) -> tuple[str, Path]:
    """Return a text with a list in it and where that is: flow or block, at the top or within, with any line end."""
    items, tail = draw(st.lists(_ITEMS, max_size=3)), draw(_TAILS)
    inside = draw(st.booleans())
    head, lead = ("x:\n  - a:", "      ") if inside else ("a:", draw(st.sampled_from(("", "  "))))
    flat = all("\n" not in item and "#" not in item for item in items)
    if not items or (flat and draw(st.booleans())):
        text = f"{head} [{', '.join(items)}]{tail}"
    else:
        text = head + "".join(f"\n{lead}- {item.format(lead) if chr(10) in item else item}" for item in items) + tail
    text = f"# top\n{text}"
    return text.replace("\n", "\r\n") if draw(st.booleans()) else text, ("x", 0, "a") if inside else ("a",)


@given(_lists(), _VALUES)
def test_any_item_reads_back_and_nothing_else_changes(listed: tuple[str, Path], value: Any) -> None:
    """At most one line is new or another; all the rest reads as before, and the item as it was given."""
    text, path = listed
    try:
        edited = add_item(text, path, value)
    except ValueError:
        assert _holds_forbidden(value)
        return
    gone, new = _changed(text, edited)
    behind_the_last_line = not text.endswith("\n") and len(gone) == 1
    assert (len(gone), len(new)) in ((0, 1), (1, 1)) or (behind_the_last_line and len(new) == 2)
    before, after = _data(text), _data(edited)
    assert _plain(_at(after, path)) == (*_plain(_at(before, path)), _plain(value))
    shown = {key: item for key, item in after.items() if key != path[0]}
    assert _plain(shown) == _plain({key: item for key, item in before.items() if key != path[0]})


@given(_VALUES, st.sampled_from(["a: 1 # c\n", "x: {a: 1, b: 2}\n", "a:\n", "a:\r\n  - b\r\n", "a:\n  b: {c: [1]}"]))
def test_any_mapping_reads_back_as_it_was_set(value: Any, text: str) -> None:
    """Whatever mapping is set into a field comes back the same, in the one line that it is about."""
    path = _first(_data(text))
    try:
        edited = set_field(text, path, value)
    except ValueError:
        assert _holds_forbidden(value)
        return
    assert _plain(_at(_data(edited), path)) == _plain(value)
    assert [len(lines) for lines in _changed(text, edited)] in ([1, 1], [0, 0])


def _first(data: Any) -> Path:
    if isinstance(data, dict):
        key = next(iter(data))
        return (key, *_first(data[key]))
    return (0, *_first(data[0])) if isinstance(data, tuple) else ()


def _holds_forbidden(value: Any) -> bool:
    if isinstance(value, Mapping):
        return any(_holds_forbidden(part) for item in value.items() for part in item)
    return isinstance(value, str) and bool(forbidden(value))
