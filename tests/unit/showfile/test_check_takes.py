"""Takes held against the show and its desk: what cannot be played or caught is named, where it stands."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import DEMO_TEXT, codes, desk, findings_of, only, small
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import expect
from sidetrip.prove.patch import patch_for
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import place, read_show

_INPUTS = (
    "[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Keys, ch: 3, port: stage 3-4, to: [Main]}, "
    "{name: Talk, ch: 5, port: stage 5, to: [Main]}, {name: Evac mic, ch: 6, port: stage 6, to: [Main]}, "
    "{name: Pads, port: aux in 7-8, to: [Sub]}]"
)
_MIXES = "[{name: Main, kind: main, width: stereo}, {name: Sub, kind: group, width: mono, to: [Main]}]"
_REST = {
    "units": "[{name: box, kind: hardware, out: local out 13-14, back: local in 29-30, delay_ms: 1}]",
    "requests": "[{strip: Vox, unit: box, want: must}]",
    "never": "[Talk]",
}


def _show(takes: str) -> str:
    """Return a show whose takes begin with line 11, the first of them with its name in line 12."""
    return small(inputs=_INPUTS, mixes=_MIXES, **_REST, takes=f"\n{takes}")


def _take(
    *rows: str,
    name: str = "all",
    enter: str = "stage 1",
    more: str = "",
    catch: str = "{port: card out 1, dry: stage 1}",
) -> str:
    """Return a take in lines: its name, what enters, what is more, then each row of `catch`."""
    lines = [f"  - name: {name}", f"    enter: {enter}", *(f"    {line}" for line in more.split("; ") if line)]
    return "\n".join([*lines, "    catch:", *(f"      - {row}" for row in (catch, *rows) if row), ""])


def _found(takes: str) -> tuple[Finding, ...]:
    """Return what reading and checking a show with these takes finds about them."""
    text = _show(takes)
    try:
        reading = read_show(text, "show.yaml")
    except ShowUnreadable as error:
        return error.findings
    found = place(check_show(reading.show, desk()), reading.source)
    return tuple(finding for finding in found if finding.where.startswith("takes"))


def _lines(takes: str, code: str = "take-wrong") -> list[tuple[str, int | None]]:
    found = _found(takes)
    assert {finding.code for finding in found} <= {code}, [str(finding) for finding in found]
    return [(finding.what, finding.line) for finding in found]


# good takes


@pytest.mark.parametrize(
    "take",
    [
        _take(),
        _take(enter="[stage 1]", more="reference: card out 1"),
        _take("{port: card out 17, return: Vox}", more="recorder: card out 1-24; state: all OUT; processors: as used"),
        _take("{port: card out 3-4, dry: stage 3-4}", enter="[stage 3-4, stage 1]", more="reference: card out 4"),
        _take("{port: card out 3-4, dry: stage 3-4}", enter="[stage 1, stage 3, stage 4]"),
        _take("{port: two-track 1-2, strip: Main, tap: after insert}", "{port: local out 9-10, return: PA}"),
        _take("{port: local out 5, strip: Vox, tap: input}", "{port: local out 6, strip: Sub}"),
        _take("{port: two-track 1, strip: Vox, tap: before insert}", enter="[stage 1, aux in 7-8]"),
        _take() + _take(name="other"),
    ],
)
def test_a_take_that_can_be_played_gives_no_finding(take: str) -> None:
    """Dry copies, returns of strips and outputs, and copies of strips at any tap are all in order."""
    assert _found(take) == ()


def test_the_take_of_the_demo_is_in_order() -> None:
    """The Tin Lantern's take has nothing against it."""
    assert [finding for finding in findings_of(DEMO_TEXT) if finding.where.startswith("takes")] == []


# what enters


def test_two_takes_of_one_name_are_found() -> None:
    """The second is named, at its name."""
    assert _lines(_take() + _take()) == [("Two takes carry this name", 16)]


def test_a_port_that_is_entered_twice_is_found() -> None:
    """The second of two runs that share a port is named, in the line of what enters."""
    take = _take(enter="[stage 3-4, stage 1, stage 4]")
    assert _lines(take) == [("A port is entered twice", 13)]


def test_ports_where_nothing_is_connected_are_named_one_by_one() -> None:
    """An entry must reach a strip, every port of a run too."""
    (found,) = _found(_take(enter="[stage 1, stage 9-10]"))
    assert (found.what, found.values, found.line) == (
        "No input of the show is on these ports",
        "stage 9, stage 10",
        13,
    )
    assert only(_found(_take(enter="stage 1-3")), "take-wrong").values == "stage 2"


def test_what_must_never_go_round_is_not_tested_either() -> None:
    """Neither a strip under never nor anything that is a voice alarm by its name is entered."""
    assert _lines(_take(enter="[stage 1, stage 5]")) == [("'Talk' must not be sent round", 13)]
    assert _lines(_take(enter="[stage 1, stage 6]")) == [("'Evac mic' must not be sent round", 13)]


def test_more_entries_than_a_test_signal_holds_are_too_many() -> None:
    """65 ports are one too many; the finding names the take."""
    inputs = "".join(
        f"\n  - {{name: {group} {number}, port: {group} {number}, to: [Main]}}"
        for group in ("stage", "local in", "aux in")
        for number in range(1, 33)
    )
    for enter, wrong in (
        ("[stage 1-32, local in 1-32]", []),
        ("[stage 1-32, local in 1-32, aux in 1]", ["Too many entries for one test signal"]),
    ):
        reading = read_show(small(inputs=inputs, takes=f"\n{_take(enter=enter)}"), "show.yaml")
        found = place(check_show(reading.show, desk()), reading.source)
        about = [finding for finding in found if finding.where.startswith("takes")]
        assert [finding.what for finding in about] == wrong
        assert [finding.line for finding in about] == [reading.source.line(("takes", 0))] * len(wrong)


# ports and names


@pytest.mark.parametrize(
    ("take", "what", "line"),
    [
        (_take(enter="[stage 1, staje 3]"), "The desk has no ports 'staje'", 13),
        (_take(enter="[stage 1, stage 33]"), "The desk has no such port", 13),
        (_take(enter="[stage 1, card out 3]"), "A port that goes in is needed", 13),
        (_take("{port: card uit 3, return: Vox}"), "The desk has no ports 'card uit'", 16),
        (_take("{port: card out 33, return: Vox}"), "The desk has no such port", 16),
        (_take("{port: card in 3, return: Vox}"), "A port that goes out is needed", 16),
        (_take(catch="{port: card out 1, dry: stage 99}"), "The desk has no such port", 15),
        (_take(catch="{port: card out 1, dry: card out 1}"), "A port that goes in is needed", 15),
        (_take(more="recorder: card out 1-40"), "The desk has no such port", 14),
        (_take(more="recorder: card in 1-8"), "A port that goes out is needed", 14),
    ],
)
def test_ports_that_the_desk_does_not_have_are_found(take: str, what: str, line: int) -> None:
    """Entered, caught, copied and recorded ports must exist and go the right way."""
    found = only(_found(take), "port-unknown")
    assert (found.what, found.line) == (what, line)


@pytest.mark.parametrize(
    ("row", "what", "remedy"),
    [
        ("{port: card out 3, return: Voxx}", "There is no strip or output 'Voxx'", "Did you mean 'Vox'?"),
        ("{port: card out 3, return: box}", "There is no strip or output 'box'", "Did you mean 'Vox'?"),
        ("{port: card out 3, strip: PA}", "There is no strip 'PA'", "Did you mean 'Pads'?"),
        ("{port: card out 3, strip: Mian}", "There is no strip 'Mian'", "Did you mean 'Main'?"),
        ("{port: card out 3, strip: Vox, tap: after insrt}", "'Vox' has no tap 'after insrt'", "'after insert'"),
        ("{port: card out 3, strip: Vox, tap: insert}", "'Vox' has no tap 'insert'", "insert'"),
        ("{port: card out 3, strip: Sub, tap: after gate}", "'Sub' has no tap 'after gate'", "Did you mean"),
        ("{port: card out 3-4, strip: Pads, tap: after insert}", "'Pads' has no tap 'after insert'", "Did you mean"),
    ],
)
def test_names_that_nothing_carries_are_found_with_the_nearest(row: str, what: str, remedy: str) -> None:
    """Strips, outputs and taps are looked up, taps among those of the strip's own kind."""
    found = only(_found(_take(row)), "name-unknown")
    assert (found.what, found.line) == (what, 16)
    assert remedy in found.remedy


# what is caught


@pytest.mark.parametrize(
    ("take", "what", "line"),
    [
        (_take("{port: card out 1, return: Vox}"), "A port is caught twice", 16),
        (_take("{port: card out 1-2, return: Main}"), "A port is caught twice", 16),
        (
            _take("{port: card out 9, return: Vox}", more="recorder: card out 1-8"),
            "This port is on no track of the recorder",
            17,
        ),
        (
            _take("{port: card out 8-9, return: Main}", more="recorder: card out 1-8"),
            "This port is on no track of the recorder",
            17,
        ),
        (_take("{port: two-track 1, strip: Sub}", more="recorder: card out 1-8"), "no track of the recorder", 17),
        (_take(catch="{port: card out 1-2, dry: stage 1}"), "Not as many ports as are copied to them", 15),
        (_take(catch="{port: card out 1, dry: stage 3}"), "A dry copy of ports where nothing enters", 15),
        (_take(catch="{port: card out 1-2, dry: stage 3-4}", enter="stage 3"), "where nothing enters", 15),
        (_take("{port: card out 2, return: Main}"), "Not as many ports as what it carries has legs", 16),
        (_take("{port: card out 2-3, return: Vox}"), "Not as many ports as what it carries has legs", 16),
        (_take("{port: card out 2-4, return: PA}"), "Not as many ports as what it carries has legs", 16),
        (_take("{port: card out 2-3, strip: Sub}"), "Not as many ports as what it carries has legs", 16),
    ],
)
def test_what_cannot_be_caught_so_is_found(take: str, what: str, line: int) -> None:
    """Ports caught twice or on no track, copies of too many or of nothing, and legs that do not fit."""
    ((said, at),) = _lines(take)
    assert what in said
    assert at == line


@pytest.mark.parametrize(
    ("reference", "what"),
    [
        ("card out 5", "The reference is no single caught port"),
        ("card out 3-4", "The reference is no single caught port"),
        ("stage 1", "The reference is no single caught port"),
        ("card out 17", "The reference is not dry"),
        ("local out 5", "The reference is not dry"),
    ],
)
def test_a_reference_is_one_dry_caught_port(reference: str, what: str) -> None:
    """Anything else is named in its line: a pair, a port that is not caught, a return, a copy of a strip."""
    rows = (
        "{port: card out 3-4, dry: stage 3-4}",
        "{port: card out 17, return: Vox}",
        "{port: local out 5, strip: Vox}",
    )
    take = _take(*rows, enter="[stage 1, stage 3-4]", more=f"reference: {reference}")
    assert _lines(take) == [(what, 14)]


# what the model refuses


@pytest.mark.parametrize(
    "row",
    [
        "{port: card out 2}",
        "{port: card out 2, dry: stage 1, return: Vox}",
        "{port: card out 2, return: Vox, strip: Vox}",
        "{port: card out 2, dry: stage 1, return: Vox, strip: Vox, tap: input}",
        "{port: card out 2, return: Vox, tap: after insert}",
        "{port: card out 2, dry: stage 1, tap: input}",
        "{port: card out 2, tap: input}",
    ],
)
def test_a_caught_port_says_one_of_three_things(row: str) -> None:
    """None or several of dry, return and strip, or a tap without a strip, is a finding with its line."""
    (found,) = _found(_take(row))
    assert (found.code, found.line) == ("value-wrong", 16)
    assert found.where.startswith("takes / all / catch / ")
    assert "says one of dry: (ports), return: (a strip) or strip:" in found.what


@pytest.mark.parametrize(
    ("take", "code", "line"),
    [
        (_take(enter="[]"), "value-wrong", 13),
        (_take(enter="stage"), "value-wrong", 13),
        (_take(enter="{stage: 1}"), "value-wrong", 13),
        (_take(enter="[[stage 1]]"), "value-wrong", 13),
        (_take(more="state: half IN"), "value-wrong", 14),
        (_take(more="processors: flatt"), "value-wrong", 14),
        (_take(more="recorder: 24"), "value-wrong", 14),
        (_take(more="referense: card out 1"), "key-unknown", 14),
        (_take("{port: card out 2, returns: Vox}"), "key-unknown", 16),
        (_take("card out 2"), "value-wrong", 16),
        (_take("{return: Vox}"), "value-wrong", 16),
        (_take(catch=""), "value-wrong", 14),
        (_take(name=""), "value-wrong", 12),
        ("  - all\n", "value-wrong", 12),
        ("  all: {enter: stage 1}\n", "value-wrong", 11),
    ],
)
def test_a_take_that_is_not_written_as_one_is_found_in_its_line(take: str, code: str, line: int) -> None:
    """Values of the wrong kind, keys that mean nothing and lists with nothing in them are findings."""
    found = _found(take)
    assert (code, line) in [(finding.code, finding.line) for finding in found], [str(one) for one in found]


# anything at all

_IN = st.sampled_from(
    ("stage 1", "stage 3-4", "stage 3", "stage 1-4", "stage 5", "aux in 7-8", "stage 40", "card out 1", "nothing")
)
_OUT = st.sampled_from(
    ("card out 1", "card out 2", "card out 3-4", "card out 29", "local out 5", "two-track 1-2", "card out 31-33", "12")
)
_NAMES = st.sampled_from(("Vox", "Keys", "Main", "Sub", "PA", "Pads", "Voks", "''", "808"))
_TAPS = st.sampled_from(("after insert", "before insert", "input", "after mute", "insert", "''"))
_GOOD = st.lists(
    st.sampled_from(
        (
            "{port: card out 1, dry: stage 1}",
            "{port: card out 3-4, dry: stage 3-4}",
            "{port: card out 17, return: Vox}",
            "{port: card out 18-19, return: Main}",
            "{port: card out 20-21, return: PA}",
            "{port: card out 22, strip: Vox}",
            "{port: card out 23-24, strip: Keys, tap: before insert}",
            "{port: card out 25, strip: Sub, tap: after insert}",
            "{port: card out 27-28, strip: Pads}",
        )
    ),
    min_size=1,
    unique=True,
)


@st.composite
def _catches(draw: st.DrawFn) -> str:
    said = draw(st.sampled_from(("dry", "return", "strip", "strip, tap", "", "dry, return", "return, tap")))
    each = {"dry": _IN, "return": _NAMES, "strip": _NAMES, "tap": _TAPS}
    keys = [f"{key}: {draw(each[key])}" for key in said.split(", ") if key]
    return f"{{{', '.join([f'port: {draw(_OUT)}', *keys])}}}"


@st.composite
def _takes(draw: st.DrawFn) -> str:
    """Return a take of which most pieces fit; what does not is rare enough that some takes are good as a whole."""
    rows = [*draw(_GOOD), *draw(st.lists(_catches(), max_size=2))]
    more = [
        f"{key}: {draw(values)}"
        for key, values in (
            ("recorder", st.sampled_from(("card out 1-32", "card out 1-32", "card out 1-8", "two-track 1-2", "x"))),
            ("reference", st.sampled_from(("card out 1", "card out 1", "card out 4", "card out 17", "stage 1"))),
            ("state", st.sampled_from(("all IN", "all OUT", "all OUT", "OUT"))),
            ("processors", st.sampled_from(("flat", "as used", "as used", "off"))),
        )
        if draw(st.booleans())
    ]
    entered = ["stage 1", "stage 3-4"] if draw(st.booleans()) else draw(st.lists(_IN, max_size=3))
    return _take(*rows, catch="", enter=f"[{', '.join(entered)}]", more="; ".join(more))


@cache
def _plan_without_takes() -> Plan:
    show = read_show(_show("  []"), "show.yaml").show
    assert [f.code for f in check_show(show, desk()) if f.severity == "error"] == []
    return make_plan(show, desk())


@given(_takes())
def test_any_take_gives_findings_and_no_traceback(text: str) -> None:
    """Whatever a take is made of, it is found wrong in a line of its own, or else it can be worked out."""
    found = _found(text)
    for finding in found:
        assert finding.line is not None and finding.line >= 11, str(finding)
        assert finding.code in ("take-wrong", "port-unknown", "name-unknown", "value-wrong", "key-unknown")
    if found:
        return
    plan = _plan_without_takes()
    loops = {loop.name for loop in plan.allocation.loops}
    assert loops == {"Vox"}
    for take in read_show(_show(text), "show.yaml").show.takes:
        expected = expect(plan, take)
        assert len(expected.entries) == sum(len(ports) for ports in take.enter)
        assert len(expected.catches) == sum(len(caught.port) for caught in take.catch)
        assert {loop for way in expected.ways for loop in way.loops} <= loops
        assert (expected.reference is None) == (take.reference is None)
        assert codes(patch_for(plan, expected)[1]) in ([], ["take-wrong"])
