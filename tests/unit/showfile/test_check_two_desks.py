"""A second desk held against the show: names, splits, ties, ports, room, and what is asked of it."""

from __future__ import annotations

import pytest

from showtext import DESK_TEXT, DESK_TYPE, codes, desk, findings_of, looped, only, small
from sidetrip.findings import Finding
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import place, read_desk, read_show
from sidetrip.showfile.syntax import Path

INPUTS = "[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Interval, port: stick player 1-2, to: [Main]}]"
MAIN = "{name: Main, kind: main, width: stereo}"


def _checked(
    ears: str, desks: str = "[{name: monitors, through_ms: 1}]", *, rack: str = "", **more: str
) -> list[Finding]:
    """Check a small show: inputs in line 5, mixes in 6, outputs in 7, other desks in 8. rack: their type."""
    text = small(**{"inputs": INPUTS, **more}, mixes=f"[{MAIN}, {ears}]")
    lines = text.splitlines()
    reading = read_show("\n".join([*lines[:7], f"other_desks: {desks}", *lines[7:]]), "show.yaml")
    show = reading.show
    if rack:
        own = read_desk(rack, "rack.yaml")
        show = show.model_copy(update={"other_desks": tuple(other.with_type(own) for other in show.other_desks)})
    return list(place(check_show(show, desk()), reading.source))


EARS = "{name: Ears, desk: monitors, kind: aux, width: mono, for: Vox, listens: in-ear, device_ms: 3, from: [Vox]}"


def test_what_holds_together_is_let_pass() -> None:
    """Two desks, a split and a tie, an output there, and the same show where its type was read."""
    ears = EARS.replace("[Vox]", "{Vox: {db: 0, tap: before fader}, Main: {db: -9, tie: after mute}}")
    outputs = "[{name: PA, from: Main, port: local out 1-2}, {name: Pack, from: Ears, port: monitors local out 1}]"
    desks = f"[{{name: monitors, type: {DESK_TYPE}, split: shared, gain: monitors, tie_ms: 0.5}}, {{name: stream}}]"
    for rack in ("", DESK_TEXT):
        assert codes(_checked(ears, desks, rack=rack, outputs=outputs)) == []


@pytest.mark.parametrize(
    ("desks", "code", "words"),
    [
        ("[{name: monitors}, {name: Monitors}]", "name-twice", "Rename all but one"),
        ("[{name: monitors}, {name: foh}]", "value-wrong", "Call it by a word without figures"),
        ("[{name: monitors}, {name: desk 2}]", "value-wrong", "Call it by a word without figures"),
        ("[{name: monitors, gain: monitor}]", "name-unknown", "Did you mean 'monitors'?"),
    ],
)
def test_a_desk_that_cannot_be_so_is_found_with_its_line(desks: str, code: str, words: str) -> None:
    """A name twice or of no use, and a gain that nobody has: in line 8, with a remedy."""
    found = [finding for finding in _checked(EARS, desks) if finding.code == code]
    assert found
    assert all(finding.line == 8 and words in finding.remedy for finding in found)


@pytest.mark.parametrize(
    ("ears", "code", "words"),
    [
        (EARS.replace("desk: monitors", "desk: monitor"), "name-unknown", "Did you mean 'monitors'?"),
        (EARS.replace("[Vox]", "[Main]"), "no-split", "Take it by a tie"),
        (EARS.replace("[Vox]", "[Interval]"), "no-split", "Take it by a tie"),
        (EARS.replace("[Vox]", "{Vox: {db: 0, tie: after inset}}"), "name-unknown", "after insert"),
        (EARS.replace("[Vox]", "{Vox: {db: 0, tap: before fader}}"), "name-unknown", "Name its type"),
        (EARS.replace("desk: monitors, ", "").replace("[Vox]", "{Vox: {db: 0, tie: input}}"), "value-wrong", "'tap'"),
    ],
)
def test_what_does_not_come_there_is_found_with_its_line(ears: str, code: str, words: str) -> None:
    """A desk nobody named, a mix or a player without a tie, a place that the strip lacks: in line 6, with a remedy."""
    found = only(_checked(ears), code)
    assert (found.line, words in found.remedy) == (6, True), found


@pytest.mark.parametrize(
    ("key", "code"), [("split: none", "no-split"), ("gain: monitor", "name-unknown"), ("gain: FOH", None)]
)
def test_an_input_says_how_it_is_split_for_itself(key: str, code: str | None) -> None:
    """An input on no split does not come there, and its gain is somebody's."""
    found = _checked(EARS, inputs=INPUTS.replace("to: [Main]", f"{key}, to: [Main]", 1))
    assert codes(found) == ([] if code is None else [code])


def test_a_split_without_another_desk_is_a_mistake() -> None:
    """Nobody shares the input."""
    found = findings_of(small(inputs=INPUTS.replace("to: [Main]", "split: shared, to: [Main]", 1)))
    assert only(found, "value-wrong").line == 5


def test_ports_of_the_other_desk_have_its_name_in_front() -> None:
    """A port of FOH, and one that the type lacks, are refused; two outputs of one port are two writers."""
    pa = "{name: PA, from: Main, port: local out 1-2}"
    desks = f"[{{name: monitors, type: {DESK_TYPE}}}]"

    def found(*ports: str) -> list[Finding]:
        packs = ", ".join(f"{{name: Pack {port}, from: Ears, port: {port}}}" for port in ports)
        return _checked(EARS, desks, rack=DESK_TEXT, outputs=f"[{pa}, {packs}]")

    assert "monitors local out 5" in only(found("local out 5"), "port-unknown").remedy
    assert "local out 1 to 20" in only(found("monitors local out 21"), "port-unknown").remedy
    assert codes(found("monitors local out 1")) == []  # local out 1 of FOH is another jack
    assert codes(found("monitors local out 1", "monitors local out 1-2")) == ["port-two-writers"]
    assert (
        only(_checked(EARS, outputs="[{name: PA, from: Main, port: monitors local out 1-2}]"), "port-unknown").line == 7
    )


def test_mixes_of_the_other_desk_take_no_room_at_foh() -> None:
    """Twenty stereo auxes do not fit one desk of twenty buses; half of them on each of two such desks do."""
    mixes = ", ".join(EARS.replace("Ears", f"Ears {n}").replace("mono", "stereo") for n in range(10))
    here = mixes.replace("Ears", "Here").replace("desk: monitors, ", "")
    desks = f"[{{name: monitors, type: {DESK_TYPE}}}]"
    assert codes(_checked(f"{mixes}, {here}", desks, rack=DESK_TEXT)) == []
    over = EARS.replace("Ears", "Too many")
    assert only(_checked(f"{mixes}, {over}", desks, rack=DESK_TEXT), "strip-missing").line == 8


@pytest.mark.parametrize(
    ("old", "new", "code", "values"),
    [
        ("legs: 32", "legs: 1", "strip-missing", "2 wanted, 1 there; a pair takes two"),
        ("rates: [44100, 48000]", "rates: [96000]", "value-wrong", "48000; 32-strip theatre desk runs at 96000"),
        ("name_length: 12", "name_length: 3", "name-long", "4 characters, the strip shows 3"),
        ("delay_max_ms: 500", "delay_max_ms: 1", "value-wrong", "2 ms, the delay lines of monitors hold 1 ms"),
        ("kinds: [group, aux]", "kinds: [group]", "strip-missing", "1 wanted, 0 there; a stereo mix takes two"),
    ],
)
def test_the_type_of_the_other_desk_is_held_against_what_it_mixes(old: str, new: str, code: str, values: str) -> None:
    """Channels, kinds of mixes, rate, names and delay lines of that desk count, not those of FOH."""
    ears = EARS.replace("[Vox]", "{Vox: {db: 0}, Keys: {db: 0}}").replace("device_ms", "delay_ms: 2, device_ms")
    inputs = INPUTS.replace("[", "[{name: Keys, ch: 2, port: stage 2, to: [Main]}, ", 1)
    assert old in DESK_TEXT
    rack = DESK_TEXT.replace(old, new, 1)
    found = _checked(ears, f"[{{name: monitors, type: {DESK_TYPE}}}]", rack=rack, inputs=inputs)
    assert only(found, code).values == values


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ({"requests": "[{strip: Ears, chain: thin, want: 5}]"}, "requests / Ears"),
        ({"requests": "[{strip: Vox, desk: monitors, chain: thin, want: 5}]"}, "requests / Vox"),
        ({"mixes": f"[{MAIN}, {EARS}, {{name: Sub, kind: matrix, width: mono, from: [Ears]}}]"}, "mixes / Sub"),
        (
            {"takes": "[{name: t, enter: [stage 1], catch: [{port: card out 1, strip: Ears, tap: input}]}]"},
            "takes / t",
        ),
    ],
)
def test_what_is_asked_of_the_other_desk_is_refused_in_words(more: dict[str, str], where: str) -> None:
    """A loop on a strip there, a mix from there, a take of it: refused, with what to do instead."""
    sections = {
        "mixes": f"[{MAIN}, {EARS}]",
        "requests": "[{strip: Vox, chain: thin, want: 5}]",
        "other_desks": "[{name: monitors, through_ms: 1}]",
        **more,
    }
    found = only(findings_of(looped(**sections)), "other-desk")
    assert found.where == where
    assert "monitors" in found.what
    assert found.remedy


def test_a_type_that_is_not_there_is_found_at_its_own_line() -> None:
    """The other desk's type is looked up like the show's own, and named with its line."""
    text = small(mixes=f"[{MAIN}, {EARS}]", other_desks="[{name: monitors, type: 32-strip theater desk}]")
    found = only(findings_of(text), "desk-unknown")
    assert found.line == 8
    assert DESK_TYPE in found.remedy


def test_no_finding_here_lacks_a_path() -> None:
    """Each finding about a second desk knows its place in the file."""
    paths: list[Path] = [finding.path for finding in _checked(EARS.replace("[Vox]", "[Main]"), "[{name: desk 2}]")]
    assert paths
    assert all(paths)
