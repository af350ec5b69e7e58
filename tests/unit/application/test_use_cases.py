"""The use cases over stores in memory: what they find has its line, what they write reads again."""

from __future__ import annotations

import pytest

from fakes.desks import DesksInMemory
from fakes.show_folder import ShowFolderInMemory
from showtext import DESK_TEXT, DESK_TYPE, codes, desk_line, findings_of, looped, only, small
from sidetrip.application.use_cases import load, load_desk, new_show, plan
from sidetrip.errors import NoPlan, ShowUnreadable, WouldOverwrite

_DESKS = DesksInMemory({DESK_TYPE: DESK_TEXT})


def _new(store: ShowFolderInMemory, folder: str, desk: str = DESK_TYPE, inputs: str | None = None) -> tuple[str, ...]:
    return new_show(store, _DESKS, folder, desk, inputs)[0]


def test_a_new_show_plans_at_once() -> None:
    """The folder that was written is read, checked and planned without an error."""
    store = ShowFolderInMemory({"list.csv": "ch,name,group\n1,Kick,Drums\n17,Lamplighter,\n"})
    assert _new(store, "lantern", inputs="list.csv") == ("lantern/show.yaml",)
    planned = plan(store, _DESKS, "lantern")
    assert codes(planned.findings) == ["no-loops"]
    assert [item.name for item in planned.plan.show.inputs] == ["Kick", "Lamplighter"]


@pytest.mark.parametrize("desk", ["own.yaml", "desks/own.yaml", "./desks/../own.yaml", "lantern/own.yaml"])
def test_a_new_show_on_a_desk_of_ones_own_finds_it_again(desk: str) -> None:
    """The desk file is beside the show afterwards, wherever it was, so that the folder plans and can be moved."""
    store = ShowFolderInMemory({desk: DESK_TEXT})
    _new(store, "lantern", desk)
    assert codes(plan(store, _DESKS, "lantern").findings) == ["no-loops", "no-reach"]
    moved = ShowFolderInMemory(
        {f"elsewhere/{name}": store.files[f"lantern/{name}"] for name in ("show.yaml", "own.yaml")}
    )
    assert codes(plan(moved, _DESKS, "elsewhere/show.yaml").findings) == ["no-loops", "no-reach"]


def test_another_desk_file_of_that_name_is_not_overwritten() -> None:
    """A file that is already beside the show and says something else stops everything."""
    store = ShowFolderInMemory({"own.yaml": DESK_TEXT, "lantern/own.yaml": "mine"})
    with pytest.raises(WouldOverwrite):
        _new(store, "lantern", "own.yaml")
    assert "lantern/show.yaml" not in store.files


@pytest.mark.parametrize(
    ("folder", "title"),
    [
        ("lantern", "lantern"),
        ("shows/The Tin Lantern/", "The Tin Lantern"),
        (".", "New show"),
        ("a/..", "New show"),
        ("/", "New show"),
        ("NO", "NO"),
        ("8", "8"),
        ('# 1: "it\'s"', '# 1: "it\'s"'),
        ("two\nlines", "two lines"),
        ("Bu\u0308hne", "B\u00fchne"),
    ],
)
def test_a_show_is_called_like_its_folder(folder: str, title: str) -> None:
    """Whatever the folder is called, the text reads; a folder without a name of its own gives none."""
    store = ShowFolderInMemory()
    (path,) = _new(store, folder)
    assert load(store, _DESKS, path).show.show == title


def test_a_new_show_does_not_overwrite_one() -> None:
    """A folder that holds a show is left alone."""
    store = ShowFolderInMemory({"lantern/show.yaml": "mine"})
    with pytest.raises(WouldOverwrite):
        _new(store, "lantern")
    assert store.files["lantern/show.yaml"] == b"mine"


def test_a_bad_list_writes_nothing() -> None:
    """Bad rows are named with the list's own lines, before any file is made."""
    store = ShowFolderInMemory({"list.csv": "ch,name\n33,Kick\n"})
    with pytest.raises(ShowUnreadable) as caught:
        _new(store, "lantern", inputs="list.csv")
    found = only(caught.value.findings, "table-wrong")
    assert (found.file, found.line) == ("list.csv", 2)
    assert set(store.files) == {"list.csv"}


def test_a_desk_that_is_not_there_is_named_with_the_nearest() -> None:
    """Without a show there is no line, but the remedy is the same."""
    with pytest.raises(ShowUnreadable) as caught:
        load_desk(ShowFolderInMemory(), _DESKS, "32 strip theatre desk")
    assert only(caught.value.findings, "desk-unknown").remedy == f"Did you mean '{DESK_TYPE}'?"


def test_a_broken_desk_file_is_named_with_its_own_lines() -> None:
    """A mistake in a desk file beside the show points into the desk file."""
    text = small().replace(DESK_TYPE, "own.yaml")
    found = findings_of(text, files={"own.yaml": DESK_TEXT.replace("name_length: 12", "name_length: no")})
    assert [(f.code, f.file, f.line) for f in found] == [("value-wrong", "own.yaml", desk_line("name_length"))]


def test_musts_that_conflict_are_named_at_their_line() -> None:
    """Where no plan can be made, the findings still know the file and the line of the first must."""
    store = ShowFolderInMemory(
        {"show.yaml": looped("\n  - {strip: Vox, chain: thin, want: must}", keep="[{ports: aux in 1-8, for: guests}]")}
    )
    with pytest.raises(NoPlan) as caught:
        plan(store, _DESKS, "show.yaml")
    found = only(caught.value.findings, "musts-conflict")
    assert (found.file, found.line) == ("show.yaml", 12)


def test_another_rate_is_held_against_the_desk() -> None:
    """Planning at a rate that the desk does not run at is refused, at the line of the rate."""
    store = ShowFolderInMemory({"show.yaml": small()})
    with pytest.raises(ShowUnreadable) as caught:
        plan(store, _DESKS, "show.yaml", rate_hz=96000)
    assert only(caught.value.findings, "value-wrong").line == 3
    assert plan(store, _DESKS, "show.yaml", rate_hz=44100).plan.show.sample_rate == 44100
