"""A desk file held against itself: every contradiction is named, with its line in the desk file."""

from __future__ import annotations

import re

import pytest

from showtext import DESK_TEXT, DESK_TYPE, codes, desk, desk_line, findings_of, looped, only, small
from sidetrip.findings import Finding
from sidetrip.showfile.check_desk import check_desk, tap_position
from sidetrip.showfile.read import place, read_desk
from sidetrip.showfile.syntax import parse


def _checked(old: str, new: str) -> tuple[Finding, ...]:
    assert old in DESK_TEXT
    text = DESK_TEXT.replace(old, new, 1)
    return place(check_desk(read_desk(text, "desk.yaml")), parse(text, "desk.yaml"))


def test_the_shipped_desk_is_consistent() -> None:
    """Nothing contradicts itself in it."""
    assert check_desk(desk()) == []


@pytest.mark.parametrize(
    ("old", "new", "what", "above"),
    [
        ("kinds: [return], legs: 10", "kinds: [return, aux], legs: 10", "'aux' stands in two pools", -1),
        ("order: [trim, gate, eq, insert,", "order: [trim, gate, eq,", "The insert point stands in one place only", 2),
        ("order: [trim, eq, fader, mute]}", "order: [trim, eq, insert, mute]}", "The insert point stands in one", 0),
        ("order: [trim, gate,", "order: [trim, trim,", "A stage stands twice in the order", 0),
        ("main: after mute", "main: after lunch", "No strip has a tap 'after lunch'", 0),
        ("aux: before fader", "aux: fader", "No strip has a tap 'fader'", 0),
        ("legs: 10, order", "legs: 7, order", "'aux in' feeds strips that are not there", -20),
        ("strip: return", "strip: main", "'aux in' feeds strips that are not there", 0),
        ("name: local in,", "name: stage,", "'stage' stands twice", 0),
        ("name: stick player", "name: main", "'main' is a kind of strip too", 0),
        ("name: stick player", "name: insert", "'insert' is a kind of strip too", 0),
        ("name: stick player", "name: Stick", "No port can be written with the name 'Stick'", 0),
        ("name: stick player", "name: stick 2", "No port can be written with the name 'stick 2'", 0),
        ("name: stick player", "name: caf\u00e9", "No port can be written with the name 'caf\u00e9'", 0),
        ("- {feeds: channel 25-32", "- {feeds: channel 25-33", "The block runs past the strips", 0),
        ("- {feeds: channel 25-32", "- {feeds: channel 24-31", "Two blocks feed the same ports", 0),
        ("covers: aux in 1-2", "covers: aux in 9-10", "A choice covers ports outside its block", 0),
        ("covers: aux in 1-2", "covers: card in 1-2", "A choice covers ports outside its block", 0),
        ("covers: aux in 1-2", "covers: aux in 1-4", "Source and covered ports differ in number", 0),
        ("return: local in 29-32", "return: local in 29-31", "Sends and returns do not match one to one", 0),
        ("return: local in 29-32", "return: local in 28-31", "Sends and returns do not match one to one", 0),
        ("send: local out 13-16", "send: aux out 5-8", "Two carriers share ports", 0),
        ("- {send: aux out 1-8", "- {send: stick player 1-2", "An out port is needed here", 0),
        ("out: card out, back", "out: card in, back", "An out port is needed here", 0),
        ("back: [local in]", "back: [local out]", "An in port is needed here", 0),
        ("from: insert, to: aux out", "from: inset, to: aux out", "'inset' is no strip kind and no port group", 0),
        ("  bypass sound:", "  bypas sound:", "'bypas sound' is no question asked of a desk", 0),
    ],
)
def test_a_contradiction_is_found_with_its_line(old: str, new: str, what: str, above: int) -> None:
    """Pools, orders, taps, ports, blocks, carriers, sockets, hops and facts are each held against the rest.

    above: how many lines above the changed one (below, if negative) the thing begins that contradicts itself.
    """
    found = [f for f in _checked(old, new) if f.code == "desk-inconsistent" and f.what.startswith(what)]
    assert [(f.line, f.file) for f in found[:1]] == [(desk_line(old) - above, "desk.yaml")], _checked(old, new)
    assert found[0].remedy


@pytest.mark.parametrize(
    ("old", "new", "values"),
    [
        ("choices: [stage 25-32,", "choices: [stage 26-33,", "stage 26-33, there are 32"),
        ("{feeds: card out 25-32", "{feeds: card out 26-33", "card out 26-33, there are 32"),
        ("- {send: aux out 1-8", "- {send: aux out 1-9", "aux out 1-9, there are 8"),
    ],
)
def test_ports_beyond_their_group_are_found(old: str, new: str, values: str) -> None:
    """Wherever a desk file names ports, they must be there."""
    assert values in [f.values for f in _checked(old, new) if f.code == "port-unknown"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("choices: [stage 25-32,", "choices: [stagge 25-32,"),
        ("{feeds: card out 25-32", "{feeds: card outt 25-32"),
        ("out: card out, back", "out: card outt, back"),
        ("out: [local out]", "out: [local outt]"),
    ],
)
def test_ports_of_no_group_get_the_nearest_name(old: str, new: str) -> None:
    """A misspelt group is named with the one that was probably meant."""
    found = [f for f in _checked(old, new) if f.code == "port-unknown"]
    assert found[0].remedy.startswith("Did you mean '")


def test_a_desk_without_output_jacks_is_no_desk() -> None:
    """Ears and loudspeakers need somewhere to be plugged in."""
    text = re.sub(r"(direction: out, count: [0-9]+, jacks): yes", r"\1: no", DESK_TEXT)
    found = only(check_desk(read_desk(text, "desk.yaml")), "desk-inconsistent")
    assert found.what == "The desk has no output with jacks"


def test_a_show_on_a_desk_that_contradicts_itself_is_not_planned() -> None:
    """The findings are those of the desk file, with its lines and not the show's."""
    found = findings_of(small(), desk_text=DESK_TEXT.replace("legs: 10, order", "legs: 9, order"))
    assert [(f.code, f.file, f.line) for f in found] == [("desk-inconsistent", "desk.yaml", desk_line("strip_from"))]


def test_a_desk_of_ones_own_is_read_from_beside_the_show() -> None:
    """A path in place of a type leads from the show's folder; a lost one is named at its line in the show."""
    text = small().replace(DESK_TYPE, "desks/own.yaml")
    assert codes(findings_of(text, files={"desks/own.yaml": DESK_TEXT})) == ["no-loops"]
    lost = only(findings_of(text), "desk-unknown")
    assert (lost.file, lost.line) == ("show.yaml", 4)
    assert "desks/own.yaml" in lost.values


@pytest.mark.parametrize("name", ['"own\\u2028.yaml"', '"' + "x" * 300 + '.yaml"', "..yaml", "''"])
def test_a_path_that_can_be_no_file_is_refused(name: str) -> None:
    """Whatever stands in place of a desk type ends in a finding."""
    assert codes(findings_of(small().replace(DESK_TYPE, name)))[0] in ("desk-unknown", "value-wrong", "file-unreadable")


def test_taps_count_the_stages_behind_them() -> None:
    """The input is behind none, before X behind those before X, after X behind X too; anything else is no tap."""
    order = ("trim", "insert", "fader")
    words = ("input", "before trim", "after trim", "before fader", "after fader", "fader", "before", "after mute", "")
    assert [tap_position(word, order) for word in words] == [0, 0, 1, 2, 3, None, None, None, None]


def test_unknown_figures_of_a_desk_are_carried_on() -> None:
    """A desk may say that a hop or a number of presses is unknown; the plan says what hangs on it."""
    text = DESK_TEXT.replace("to: aux out, frames: 4", "to: aux out, frames: unknown").replace(
        "  seconds: 3", "  seconds: unknown"
    )
    assert "delay-unknown" in codes(findings_of(looped(), desk_text=text))
