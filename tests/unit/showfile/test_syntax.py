"""The text of a show: words stay words, numbers stay numbers, and what YAML would hide is refused with its line."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import codes, desk_line, desk_with, findings_of, only, small
from sidetrip.adapters.show_folder import ShowFolder
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.limits import MAX_BYTES
from sidetrip.showfile.read import read_desk, read_show
from sidetrip.showfile.syntax import parse

_REFUSED = ("yaml-broken", "yaml-tab", "yaml-anchor", "yaml-deep", "key-twice", "file-empty", "file-too-large")


def _refused(text: str) -> tuple[Finding, ...]:
    with pytest.raises(ShowUnreadable) as caught:
        parse(text, "show.yaml")
    return caught.value.findings


@pytest.mark.parametrize("word", ["NO", "Off", "y", "on", "no", "yes", "true", "N", "FALSE"])
def test_words_that_look_like_truth_stay_names(word: str) -> None:
    """A strip may be called NO, Off, y or on, plain as it is typed."""
    show = read_show(small(inputs=f"[{{name: {word}, ch: 1, port: stage 1, to: [Main]}}]"), "show.yaml").show
    assert show.inputs[0].name == word


@pytest.mark.parametrize(
    ("word", "meant"),
    [("yes", True), ("on", True), ("true", True), ("no", False), ("off", False), ("False", False), ("ON", True)],
)
def test_a_yes_or_no_of_a_desk_takes_every_common_word(word: str, meant: bool) -> None:
    """Where a desk file asks for yes or no, on and off and true and false do as well."""
    desk = read_desk(desk_with("strip_open: yes", f"strip_open: {word}"), "desk.yaml")
    assert desk.ports[2].strip_open is meant


@pytest.mark.parametrize("word", ["y", "1", "ja", "maybe", "[yes]"])
def test_a_yes_or_no_is_not_guessed(word: str) -> None:
    """Any other word in its place is refused with its line."""
    with pytest.raises(ShowUnreadable) as caught:
        read_desk(desk_with("strip_open: yes", f"strip_open: {word}"), "desk.yaml")
    found = only(caught.value.findings, "value-wrong")
    assert found.line == desk_line("strip_open")
    assert "'strip_open' should be yes or no" in found.what


def test_leading_zeros_are_decimal() -> None:
    """Strips 08, 010 and 011 are 8, 10 and 11, never 8, 8 and 9."""
    rows = ", ".join(f"{{name: in {ch}, ch: {ch}, port: stage {int(ch)}, to: [Main]}}" for ch in ("08", "010", "011"))
    show = read_show(small(inputs=f"[{rows}]"), "show.yaml").show
    assert [item.ch for item in show.inputs] == [8, 10, 11]


@pytest.mark.parametrize(("typed", "name"), [("808", "808"), ("010", "010"), ("1e5", "1e5"), ("4.10", "4.10")])
def test_names_typed_as_numbers_keep_their_spelling(typed: str, name: str) -> None:
    """A strip may be called 808 or 010, and whatever points to it may be typed the same way."""
    text = small(inputs=f"[{{name: {typed}, ch: 1, port: stage 1, to: [Main]}}]", never=f"[{typed}]")
    show = read_show(text, "show.yaml").show
    assert (show.inputs[0].name, show.never) == (name, (name,))
    assert codes(findings_of(text)) == ["no-loops"]


def test_a_key_that_stands_twice_names_both_lines() -> None:
    """The last one does not win without a word: the key and both lines are named."""
    found = only(_refused("sample_rate: 48000\n\n\n\nsample_rate: 96000\n"), "key-twice")
    assert (found.line, found.values) == (5, "lines 1 and 5")
    assert "sample_rate" in found.what


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("a: 1\n'a': 2\n", "lines 1 and 2"),
        ("8: x\n'8': y\n", "lines 1 and 2"),
        ("a: {b: 1,\n  c: 2,\n  b: 3}\n", "lines 1 and 3"),
        ('"a ": 1\na: 2\n', "lines 1 and 2"),
        ("caf\u00e9: 1\ncafe\u0301: 2\n", "lines 1 and 2"),
    ],
)
def test_one_key_in_two_spellings_stands_twice(text: str, lines: str) -> None:
    """Quotes, spaces around a key and the way an accent is typed do not make another key of it."""
    assert only(_refused(text), "key-twice").values == lines


def test_every_repeat_is_named() -> None:
    """A key that stands three times, and another that stands twice, are three findings."""
    assert [found.line for found in _refused("a: 1\na: 2\nb: 1\na: 3\nb: 2\n")] == [2, 4, 5]


@pytest.mark.parametrize(
    "text",
    ["inputs:\n\t- {name: Vox}\n", "a:\n\tb: 1\n", "a: 1\n\tb: 2\n", "a:\n  -\tname: x\n", "a: 1\n\t\nb: 2\n"],
)
def test_a_tab_as_indentation_is_called_a_tab(text: str) -> None:
    """It is refused in line 2, in plain language that has the word tab in it."""
    found = only(_refused(text), "yaml-tab")
    assert found.line == 2
    assert "tab" in found.what.lower()


@pytest.mark.parametrize("text", ["ch: 8\t# eight\n", "ch:\t8\n"])
def test_a_tab_between_words_is_called_a_tab_too(text: str) -> None:
    """Before a comment or behind a colon a tab is refused the same way, or read as what it means."""
    try:
        assert parse(text, "show.yaml").data == {"ch": 8}
    except ShowUnreadable as error:
        assert (only(error.findings, "yaml-tab").line, codes(error.findings)) == (1, ["yaml-tab"])


def test_a_tab_is_not_blamed_for_another_mistake() -> None:
    """A line with a harmless tab and a missing bracket is not called a line with a tab."""
    assert codes(_refused("a: {b: 'x\ty', c: [}\n")) == ["yaml-broken"]


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("a: &x 1\n", "yaml-anchor", 1),
        ("a: 1\nb: *x\n", "yaml-anchor", 2),
        ("a: 1\nb:\n  - *Main\n", "yaml-anchor", 3),
        ("a: !!str 1\n", "yaml-anchor", 1),
        ("a: !local 1\n", "yaml-anchor", 1),
        ("a: !!python/object/apply:os.system [x]\n", "yaml-anchor", 1),
        ("a: 1\n---\nb: 2\n", "yaml-broken", 2),
        ("a: 1\n...\nb: 2\n", "yaml-broken", 3),
        ("---\n---\na: 1\n", "yaml-broken", 2),
        ("a: 1\nb: x\x1b[2J\n", "yaml-broken", 2),
        ("a: 1\nb: \x00\n", "yaml-broken", 2),
        ('a: 1\nb: "\\e[2J"\n', "yaml-broken", 2),
        ('a: 1\nb: "\\0"\n', "yaml-broken", 2),
        ('a: 1\nb: "\\ud800"\n', "yaml-broken", 2),
        ('a: 1\nb: "\\UFFFFFFFF"\n', "yaml-broken", 2),
        ("%YAML 1." + "9" * 5000 + "\n---\na: 1\n", "yaml-broken", 1),
        ("# nothing\n# at all\n", "file-empty", 1),
        ("", "file-empty", 1),
        ("~\n", "file-empty", 1),
        ("a: 1\n: 2\n", "yaml-broken", 2),
        ("a: 1\n? [b]\n: 2\n", "yaml-broken", 2),
        ("a: 1\nb: @talk\n", "yaml-broken", 2),
        ("a: [1, 2\nb: 3\n", "yaml-broken", 1),
        ("a: 1\nb: {c: 2\nd: 3\n", "yaml-broken", 2),
        ("a: 1\nb: 'open\n\n\nc: 3\n", "yaml-broken", 2),
        ("a: 1\n b: 2\n", "yaml-broken", 2),
    ],
)
def test_what_is_no_plain_yaml_is_refused_with_its_line(text: str, code: str, line: int) -> None:
    """Anchors, tags, second documents, control characters and broken text each have a code and the line to mend."""
    found = only(_refused(text), code)
    assert (found.line, found.file) == (line, "show.yaml")
    assert found.remedy


def test_a_quote_that_is_never_closed_is_looked_for_where_it_opens() -> None:
    """The parser notices at the end of the file; the line with the quotation mark is the one to mend."""
    found = only(_refused(small().replace("name: Vox", "name: 'Vox") + "never: []\n" * 1), "yaml-broken")
    assert found.line == 5
    assert "noticed in line" in found.values


def test_what_the_parser_cannot_start_with_is_put_in_quotes() -> None:
    """A name such as @talk is refused with the advice to quote it."""
    assert "quotes" in only(_refused("a: @talk\n"), "yaml-broken").remedy


def test_twenty_levels_are_read_and_one_more_is_not() -> None:
    """Nesting is counted before anything is built of it."""
    assert parse("[" * 20 + "]" * 20, "show.yaml").data
    assert codes(_refused("[" * 21 + "]" * 21)) == ["yaml-deep"]
    assert codes(_refused("".join(" " * level + "a:\n" for level in range(22)))) == ["yaml-deep"]
    assert codes(_refused("[" * 900_000)) == ["yaml-deep"]


def test_a_list_at_the_top_is_no_show() -> None:
    """A file that is a list, or one word, is refused as not made of keys and values."""
    for text in ("- sidetrip: 1\n", "sidetrip\n"):
        found = only(findings_of(text), "value-wrong")
        assert (found.line, "keys and values" in found.what) == (1, True)


@pytest.mark.parametrize(
    "typed", ["1e999", "-1e999", ".inf", ".nan", "9" * 400, "0x10", "1_000", "\u0663", "1e9", "99999999999999999999"]
)
def test_a_number_beyond_bounds_is_refused_where_a_number_is_needed(typed: str) -> None:
    """Nothing infinite, huge or in foreign figures passes as a sample rate or a delay."""
    found = findings_of(small().replace("48000", typed))
    assert (codes(found), found[0].line) == (["value-wrong"], 3)
    assert len(found[0].values) < 120
    delayed = f"[{{name: Vox, ch: 1, port: stage 1, to: [Main], delay_ms: {typed}}}]"
    found = findings_of(small(inputs=delayed))
    assert (codes(found), found[0].line) == (["value-wrong"], 5)


@pytest.mark.parametrize("size", [MAX_BYTES + 1, 5_000_000_000])
def test_a_file_over_a_megabyte_is_refused_by_its_size(
    tmp_path: Path, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is neither read nor parsed: even 5 GB, which no machine could hold, are refused with the size named."""
    path = tmp_path / "show.yaml"
    path.touch()
    os.truncate(path, size)
    reads: list[int] = []

    class Counted(io.FileIO):
        def read(self, size: int | None = -1, /) -> bytes:
            reads.append(-1 if size is None else size)
            return super().read(size)

    def opened(path: Path, mode: str) -> Counted:
        return Counted(path, mode)

    monkeypatch.setattr(Path, "open", opened)
    with pytest.raises(ShowUnreadable) as caught:
        ShowFolder().read_show(str(path))
    found = only(caught.value.findings, "file-too-large")
    assert f"{size:,} bytes" in found.values
    assert reads == []


def test_text_over_a_megabyte_is_refused_before_it_is_parsed() -> None:
    """The limit is in bytes, not letters, and holds for text that comes from anywhere."""
    assert codes(_refused("#" * (MAX_BYTES + 1))) == ["file-too-large"]
    assert codes(_refused("#" + "\u00e9" * (MAX_BYTES // 2))) == ["file-too-large"]
    assert parse("a: 1 #" + "x" * (MAX_BYTES - 6), "show.yaml").data == {"a": 1}


@pytest.mark.parametrize("mark", ["\ufeff", ""])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_byte_order_marks_and_line_ends_change_nothing(mark: str, ending: str) -> None:
    """A file from any editor reads the same, with the same lines."""
    text = mark + small(never="[Voks]").replace("\n", ending)
    found = only(findings_of(text), "name-unknown")
    assert found.line == 8


def test_lines_are_counted_as_editors_count_them() -> None:
    """A line separator inside a comment, which editors do not count, does not shift the lines behind it."""
    assert only(_refused("# a\u2028\n\na: 1\na: 2\n"), "key-twice").line == 4


def test_a_name_in_a_list_has_the_line_of_its_own() -> None:
    """In a list with one name a line, the finding points to the line of the wrong name."""
    text = small(mixes="\n  - name: Main\n    kind: main\n    width: stereo\n    from:\n      - Vox\n      - Voks\n")
    assert only(findings_of(text), "name-unknown").line == 12


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever is typed, parsing ends with data or with findings that have a line, never otherwise."""
    try:
        assert parse(text, "show.yaml").data is not None
    except ShowUnreadable as error:
        assert all(found.code in _REFUSED and found.line for found in error.findings)


@given(st.text(alphabet="ab:,[]{}-?&*!|>'\"%@`#\\ \n\t0.eUx~<=\r", max_size=40))
def test_any_heap_of_signs_is_read_or_refused(text: str) -> None:
    """The same with nothing but the characters that YAML gives a meaning."""
    try:
        parse(text, "show.yaml")
    except ShowUnreadable as error:
        assert all(found.code in _REFUSED and found.line for found in error.findings)
