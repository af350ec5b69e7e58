"""Clocks, scenes, jacks and what was accepted, held against the rest of the show."""

from __future__ import annotations

import pytest

from showtext import codes, desk, only, small
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import place, read_show


def _checked(**more: str) -> tuple[Finding, ...]:
    reading = read_show(small(**more), "show.yaml")
    return place(check_show(reading.show, desk()), reading.source)


def test_what_holds_together_is_let_pass() -> None:
    """A clock with a chain of devices, two scenes, a jack with something in it, and a meeting that is accepted."""
    found = _checked(
        clock="{leader: desk, devices: [{name: stage box, follows: desk}, {name: recorder, follows: stage box}]}",
        scenes="[{name: Act 1}, {name: Act 2, recalls: [inserts, sources], as_planned: yes}]",
        plugged="[{port: aux out 3, what: lobby feed}]",
        accept="[{at: PA, loops: Vox, by: system engineer}]",
    )
    assert codes(found) == []


@pytest.mark.parametrize(
    ("section", "text", "code", "words"),
    [
        ("clock", "{leader: desk, devices: [{name: a, follows: dekk}]}", "name-unknown", "Did you mean 'desk'?"),
        (
            "clock",
            "{leader: desk, devices: [{name: a, follows: desk}, {name: a, follows: desk}]}",
            "name-twice",
            "Keep",
        ),
        ("scenes", "[{name: Act 1}, {name: Act 1}]", "name-twice", "Rename"),
        ("plugged", "[{port: aux out 9, what: lobby feed}]", "port-unknown", "Choose from aux out 1 to 8"),
        ("plugged", "[{port: aux in 3, what: lobby feed}]", "port-unknown", "Choose another port"),
        ("plugged", "[{port: card out 3, what: lobby feed}]", "port-unknown", "Name a jack"),
        ("plugged", "[{port: local out 2, what: lobby feed}]", "port-two-writers", "Keep it in one of the two lists"),
        ("accept", "[{at: P A, loops: Vox, by: stage hand}]", "name-unknown", "Did you mean 'PA'?"),
        ("accept", "[{at: PA, loops: [Voxx], by: stage hand}]", "name-unknown", "Did you mean 'Vox'?"),
    ],
)
def test_what_does_not_hold_together_is_found_with_its_line(section: str, text: str, code: str, words: str) -> None:
    """A name that nothing carries, a name twice, a port that is not there or is taken: all in line 8, with a remedy."""
    for finding in (found for found in _checked(**{section: text}) if found.code == code):
        assert finding.line == 8
        assert words in finding.remedy
    assert code in codes(_checked(**{section: text}))


@pytest.mark.parametrize(
    ("section", "text"),
    [
        ("clock", "{devices: []}"),
        ("clock", "{leader: desk, devices: [{name: a}]}"),
        ("clock", "{leader: desk, devices: [{name: a, follows: desk, rate: 12}]}"),
        ("scenes", "[{name: Act 1, recalls: [faders]}]"),
        ("plugged", "[{port: aux out 3}]"),
        ("accept", "[{at: PA, loops: [Vox]}]"),
        ("chains", "{thin: [{eq: {protects: hats}}]}"),
        ("units", "[{name: laptop, kind: computer, connects: card, system_sound: loud}]"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_line(section: str, text: str) -> None:
    """A key that is missing, a word that means nothing: never a traceback."""
    with pytest.raises(ShowUnreadable) as raised:
        read_show(small(**{section: text}), "show.yaml")
    assert {finding.code for finding in raised.value.findings} == {"value-wrong"}
    assert {finding.line for finding in raised.value.findings} == {8}


def test_a_name_twice_is_named_at_each_of_them() -> None:
    """Three scenes of which two share a name: two findings."""
    found = _checked(scenes="[{name: Act 1}, {name: Act 2}, {name: Act 1}]")
    assert [finding.where for finding in found] == ["scenes / Act 1", "scenes / Act 1"]
    with pytest.raises(AssertionError):
        only(found, "name-twice")
