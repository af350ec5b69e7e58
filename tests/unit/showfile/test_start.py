"""A new show: whatever the inputs are called, the text reads back as what went in, and plans."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import DESK_TYPE, HOSTILE_NAMES, codes, desk, findings_of
from sidetrip.errors import ShowUnreadable
from sidetrip.model.base import folded
from sidetrip.model.ports import Ports
from sidetrip.showfile.read import read_show
from sidetrip.showfile.start import scalar, show_text
from sidetrip.showfile.syntax import forbidden, parse
from sidetrip.showfile.tables import ListedInput, read_input_list

_ROWS = (
    ListedInput(1, "Kick", Ports("stage", 1, 1), "Drums", 2),
    ListedInput(3, "Keys", Ports("stage", 3, 4), None, 3),
)


def _named(*names: str, group: str | None = None) -> list[ListedInput]:
    return [ListedInput(ch, name, Ports("stage", ch, ch), group, ch) for ch, name in enumerate(names, 1)]


def test_a_new_show_plans() -> None:
    """With inputs or without, the text reads, checks and plans without an error or a warning but for what is empty."""
    assert codes(findings_of(show_text("The Tin Lantern", DESK_TYPE, desk(), _ROWS))) == ["no-loops"]
    assert codes(findings_of(show_text("The Tin Lantern", DESK_TYPE, desk(), ()))) == ["no-loops", "no-reach"]


def test_a_new_show_has_what_the_list_said() -> None:
    """Strips, names, ports and groups are those of the rows; a row without a group goes to the main mix."""
    show = read_show(show_text("The Tin Lantern", DESK_TYPE, desk(), _ROWS), "show.yaml").show
    assert show.show == "The Tin Lantern"
    assert [(item.ch, item.name, str(item.port), item.group, item.to) for item in show.inputs] == [
        (1, "Kick", "stage 1", "Drums", ()),
        (3, "Keys", "stage 3-4", None, ("Main",)),
    ]
    assert [(mix.name, mix.kind, mix.to) for mix in show.mixes] == [("Drums", "group", ("Main",)), ("Main", "main", ())]


def test_an_input_called_main_does_not_meet_the_main_mix() -> None:
    """The mix takes another name where an input has its own."""
    assert codes(findings_of(show_text("x", DESK_TYPE, desk(), _named("Main", "Kick")))) == ["no-loops"]


@pytest.mark.parametrize("name", [*HOSTILE_NAMES, "U\u0308bersicht", "x" * 120])
def test_a_name_comes_back_as_typed(name: str) -> None:
    """As the name of an input, of its group and of the show, plain words and signs of YAML alike."""
    text = show_text(name, DESK_TYPE, desk(), _named(name, group=f"{name} bus"))
    show = read_show(text, "show.yaml").show
    typed = folded(name)
    assert (show.show, show.inputs[0].name, show.inputs[0].group, show.mixes[0].name) == (
        typed,
        typed,
        f"{typed} bus",
        f"{typed} bus",
    )


@given(st.lists(st.text(min_size=1, max_size=20), min_size=1, max_size=3))
def test_names_of_a_list_reach_the_show(names: list[str]) -> None:
    """Any names in a list are those in the show written from it, or the list is refused."""
    cells = ['"' + name.replace('"', '""') + '"' for name in names]
    text = "ch,name\n" + "".join(f"{ch},{cell}\n" for ch, cell in enumerate(cells, 1))
    try:
        rows, _ = read_input_list(text, "list.csv", desk())
    except ShowUnreadable:
        return
    show = read_show(show_text("x", DESK_TYPE, desk(), rows), "show.yaml").show
    assert [item.name for item in show.inputs] == [folded(" ".join(name.split())) for name in names]


@given(st.text(max_size=30))
def test_a_word_written_reads_back(word: str) -> None:
    """Quotes are put where they are needed, alone, in a list and in braces."""
    if not forbidden(word):
        for text in (f"a: {scalar(word)}", f"a: [{scalar(word)}, x]", f"{{a: {scalar(word)}, b: x}}"):
            data = parse(text, "show.yaml").data["a"]
            assert (data[0] if isinstance(data, tuple) else data) == word


def test_plain_words_stay_plain() -> None:
    """Nothing is quoted that reads as it stands: a show is there to be edited by hand."""
    for word in ("Kick in", "OH L/R", "Vox (spare)", "stage 9-10", "Keys+", "B.O.B."):
        assert scalar(word) == word
