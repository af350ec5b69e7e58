"""Edits that a list makes in the text of a show: in braces, over lines and in blocks, no line but their own."""

from __future__ import annotations

import pytest

from sidetrip.showfile.edit import NoSuchField
from sidetrip.showfile.listedit import Item, add_row, remove_key, remove_row, set_item, set_items
from sidetrip.showfile.listfollow import follow, still_named
from sidetrip.showfile.syntax import Path, parse

BLOCK = """\
inputs:   # from the pit
  # drums
  - name: Kick
    ch: 1      # left of the riser
    to:
      - Main
    port: stage 1
  - {name: Snare, ch: 2,
     to: [Main, Subs], port: stage 2}   # two lines
  # strings
  - ch: 3
    name: Violin

mixes: [{name: Main}, {name: Subs}, {name: Kick}]
"""


@pytest.mark.parametrize(
    ("path", "gone"),
    [
        (("inputs", 0, "ch"), "    ch: 1      # left of the riser\n"),
        (("inputs", 0, "port"), "    port: stage 1\n"),
        (("inputs", 0, "to"), "    to:\n      - Main\n"),
        (("inputs", 0, "name"), "Kick"),
        (("inputs", 1, "name"), "name: Snare, "),
        (("inputs", 1, "ch"), "ch: 2,\n     "),
        (("inputs", 1, "port"), ", port: stage 2"),
        (("inputs", 2, "ch"), "3"),
    ],
)
def test_a_key_is_taken_out_alone(path: Path, gone: str) -> None:
    """With its line in a block, with its comma in braces; beside a dash only its value goes."""
    edited = remove_key(BLOCK, path, "show.yaml")
    at = next(n for n in range(len(BLOCK)) if BLOCK[:n] + BLOCK[n + len(gone) :] == edited)
    assert BLOCK[at : at + len(gone)] != ""


@pytest.mark.parametrize(
    ("index", "gone"),
    [
        (0, BLOCK[BLOCK.index("  - name: Kick") : BLOCK.index("  - {name: Snare")]),
        (1, BLOCK[BLOCK.index("  - {name: Snare") : BLOCK.index("  # strings")]),
        (2, "  - ch: 3\n    name: Violin\n"),
    ],
)
def test_a_row_takes_its_lines_along_and_no_comment_of_others(index: int, gone: str) -> None:
    """What stands between rows stays."""
    assert remove_row(BLOCK, "inputs", index, "show.yaml") == BLOCK.replace(gone, "", 1)


@pytest.mark.parametrize(
    ("index", "left"),
    [(0, "[{name: Subs}, {name: Kick}]"), (1, "[{name: Main}, {name: Kick}]"), (2, "[{name: Main}, {name: Subs}]")],
)
def test_a_row_in_brackets_takes_its_comma_along(index: int, left: str) -> None:
    """First, middle and last."""
    assert remove_row(BLOCK, "mixes", index, "show.yaml").splitlines()[-1] == f"mixes: {left}"


def test_the_last_row_leaves_a_list_with_nothing_in_it() -> None:
    """A section without rows reads as one that is not there, and takes a row again."""
    text = "inputs:\n  - {name: Kick, ch: 1}\nmixes: [{name: Main}]\n"
    empty = remove_row(text, "inputs", 0, "show.yaml")
    assert empty == "inputs:\nmixes: [{name: Main}]\n"
    again = add_row(empty, "inputs", {"name": "Kick", "ch": 1, "to": ("Main", "a, b"), "inverted": True}, "show.yaml")
    assert again.splitlines()[0] == 'inputs: [{name: Kick, ch: 1, to: [Main, "a, b"], inverted: yes}]'
    assert remove_row(text, "mixes", 0, "show.yaml").splitlines()[-1] == "mixes: []"


@pytest.mark.parametrize(
    ("path", "value", "line"),
    [
        (("inputs", 1, "to"), ("Main",), "     to: [Main], port: stage 2}   # two lines"),
        (("inputs", 1, "to"), ("Subs", "{x}"), '     to: [Subs, "{x}"], port: stage 2}   # two lines'),
        (("inputs", 0, "ch"), 7, "    ch: 7      # left of the riser"),
        (("inputs", 1, "delay_ms"), "2 to 4", "     to: [Main, Subs], port: stage 2, delay_ms: 2 to 4}   # two lines"),
        (("inputs", 1, "name"), "no", '  - {name: "no", ch: 2,'),
        (("mixes", 0, "inverted"), True, "mixes: [{name: Main, inverted: yes}, {name: Subs}, {name: Kick}]"),
    ],
)
def test_one_step_and_many_steps_write_the_same(path: Path, value: Item, line: str) -> None:
    """A value that is set alone and one that is set with others come out alike, in one line."""
    alone = set_item(BLOCK, path, value, "show.yaml")
    together, done = set_items(BLOCK, {path: value, ("inputs", 2, "name"): "Viola"}, "show.yaml")
    assert (path in done, together) == (True, alone.replace("name: Violin", "name: Viola"))
    old, new = BLOCK.splitlines(), alone.splitlines()
    assert [two for one, two in zip(old, new, strict=True) if one != two] == [line]


def test_a_list_over_several_lines_is_left_to_a_person() -> None:
    """Rewriting it would lose its comments."""
    with pytest.raises(NoSuchField):
        set_item(BLOCK, ("inputs", 0, "to"), ("Subs",), "show.yaml")
    text, done = set_items(BLOCK, {("inputs", 0, "to"): ("Subs",), ("inputs", 0, "ch"): 9}, "show.yaml")
    assert (done, "ch: 9 " in text) == ((("inputs", 0, "ch"),), True)


def test_names_follow_as_keys_and_as_values() -> None:
    """Where checking finds a name that nothing carries any more, key or value, in a list or alone, it is renamed."""
    from sidetrip.findings import Finding

    text = (
        "mixes:\n  - {name: A, from: {Kick: {db: 0}, Snare: }, to: Kick}\n  - {name: B, from: [Kick, x]}\nnever: Kick\n"
    )
    paths: list[Path] = [
        ("mixes", 0, "from", "Kick"),
        ("mixes", 0, "to", "Kick"),
        ("mixes", 1, "from", "Kick"),
        ("mixes", 1, "from", "gone"),
        ("mixes", 7, "from"),
    ]
    found = [Finding("name-unknown", "mixes", "There is no strip", "", "", path) for path in paths[:4]]
    edited, followed = follow(text, "show.yaml", {"Kick": "Kick: in"}, found)
    assert edited == text.replace("Kick:", '"Kick: in":').replace("to: Kick", 'to: "Kick: in"').replace(
        "[Kick,", '["Kick: in",'
    )
    assert [(one.line, one.old, one.new) for one in followed] == [(n, "Kick", "Kick: in") for n in (2, 2, 3)]
    assert still_named(edited, "show.yaml", ["Kick"]) == {"Kick": [4]}
    assert parse(edited, "show.yaml").data["mixes"][0]["to"] == "Kick: in"
