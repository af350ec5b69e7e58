"""A show held against itself and its desk: each thing that cannot be is named, where it stands."""

from __future__ import annotations

import pytest

from showtext import DEMO_TEXT, LAPTOP, codes, desk, desk_with, findings_of, looped, only, small
from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import place, read_desk, read_show

_MAIN = "{name: Main, kind: main, width: stereo}"
_VOX = "{name: Vox, ch: 1, port: stage 1, to: [Main]}"


def _checked(text: str, held_against: Desk | None = None) -> tuple[Finding, ...]:
    reading = read_show(text, "show.yaml")
    return place(check_show(reading.show, held_against or desk()), reading.source)


def _inputs(*rows: str) -> str:
    return "".join(f"\n  - {row}" for row in rows)


def _input(name: str, ch: int | None, port: str, more: str = "to: [Main]") -> str:
    return f"{{name: {name}, {f'ch: {ch}, ' if ch else ''}port: {port}, {more}}}"


def _strips(*rows: str) -> tuple[Finding, ...]:
    """Check a show with these inputs, of which the first stands in line 6."""
    return _checked(small(inputs=_inputs(*rows)))


def test_the_demo_is_clean() -> None:
    """The Tin Lantern holds together; what it keeps for later is said in one note."""
    assert codes(_checked(DEMO_TEXT)) == ["kept"]


# names


def test_a_name_that_two_things_carry_is_named_at_each() -> None:
    """Two strips, an input and a mix, two outputs, units or listeners of one name are all found, with every line."""
    found = _strips(_input("Vox", 1, "stage 1"), _input("Vox", 2, "stage 2"), _input("Main", 3, "stage 3"))
    assert [(f.line, f.where) for f in found] == [
        (6, "strip Vox"),
        (7, "strip Vox"),
        (8, "strip Main"),
        (9, "strip Main"),
    ]
    assert codes(found) == ["name-twice"]
    for section, row in (
        ("outputs", "{name: A, from: Main, port: local out %d}"),
        ("units", "{name: A, kind: hardware, out: local out 1%d, back: local in 1%d, delay_ms: 0}"),
        ("listeners", "{name: A, hears: {Vox: {m: %d, db: 0}}}"),
    ):
        rows = [row.replace("%d", str(number)) for number in (4, 5)]
        assert codes(_checked(small(**{section: f"[{', '.join(rows)}]"})))[0] == "name-twice"


def test_an_output_may_be_called_like_its_mix() -> None:
    """A mix and the output that it leaves by often have one name, and nothing confuses them."""
    assert _checked(small(outputs="[{name: Main, from: Main, port: local out 1-2}]")) == ()


def test_a_strip_and_an_output_of_one_name_cannot_both_be_told_apart_as_loops() -> None:
    """With one name, a loop on the output is not allowed."""
    text = looped(
        "[{strip: Main, unit: box, way: output, want: 5}]",
        outputs="[{name: Main, from: Main, port: local out 1-2}]",
        units="[{name: box, kind: hardware, out: local out 13-14, back: local in 29-30, delay_ms: 0}]",
    )
    assert "both a strip and an output" in only(_checked(text), "name-twice").what


@pytest.mark.parametrize("name", ["PA", "Ears"])
def test_a_listener_has_a_name_of_its_own(name: str) -> None:
    """A listener called like an output or like somebody's ears would be one place with it."""
    mixes = f"[{_MAIN}, {{name: Ears, kind: aux, width: mono, for: Vox, from: [Vox]}}]"
    text = small(mixes=mixes, listeners=f"[{{name: {name}, hears: {{Vox: {{m: 3, db: 0}}}}}}]")
    assert only(_checked(text), "name-twice").where == f"listener {name}"


def test_a_name_longer_than_the_strip_shows_is_said() -> None:
    """Twelve characters are shown here; thirteen are a warning, for mixes too."""
    assert _strips(_input("Twelve chars", 1, "stage 1")) == ()
    found = only(_strips(_input("Thirteen char", 1, "stage 1")), "name-long")
    assert (found.line, found.values) == (6, "13 characters, the strip shows 12")


@pytest.mark.parametrize(
    ("name", "alarm"),
    [
        *((name, True) for name in ("Voice alarm", "voice-alarm", "VOICEALARM", "Evac", "Evacuation", "Emergency mic")),
        *((name, False) for name in ("Voice", "Alarm clock", "Eva", "Emergencies")),
    ],
)
def test_a_voice_alarm_that_nobody_protects_is_seen_by_its_name(name: str, alarm: bool) -> None:
    """It is warned of until it stands under never."""
    found = codes(_strips(_input(name, 1, "stage 1")))
    assert ("voice-alarm-unprotected" in found) is alarm
    protected = small(inputs=f"[{_input(name, 1, 'stage 1')}]", never=f"[{name}]")
    assert "voice-alarm-unprotected" not in codes(_checked(protected))


# strips and ports


def test_two_inputs_on_one_strip_are_found() -> None:
    """A copied row whose number was not changed is named with the strip and both names."""
    found = [f for f in _strips(_input("Vox", 7, "stage 7"), _input("Sax", 7, "stage 7")) if f.code == "strip-twice"]
    assert [(f.line, f.what, f.values) for f in found] == [(7, "Channel strip 7 is claimed 2 times", "Sax, Vox")]


def test_a_stereo_input_claims_two_strips() -> None:
    """The second strip of a pair is taken as well."""
    found = _strips(_input("Keys", 7, "stage 7-8"), _input("Sax", 8, "stage 8"))
    assert only(found, "strip-twice").what == "Channel strip 8 is claimed 2 times"


def test_two_inputs_on_one_return_strip_are_found() -> None:
    """Inputs without a number sit on the strip of their port, and meet there."""
    found = only(_strips(_input("A", None, "aux in 7"), _input("B", None, "aux in 7-8")), "strip-twice")
    assert found.what == "Return strip 7 is claimed 2 times"


@pytest.mark.parametrize(
    ("row", "what"),
    [
        (_input("Vox", 33, "stage 1"), "The desk has no such strip"),
        (_input("Vox", None, "stage 1"), "The input names no strip, and its port has none of its own"),
        (_input("Vox", 1, "stage 1-4"), "A strip is mono or a pair"),
        (_input("Vox", 2, "stage 2-3"), "A strip is mono or a pair"),
        (_input("Vox", 2, "local in 1-2"), "A stereo strip begins on an odd number"),
    ],
)
def test_a_strip_that_is_not_there_is_found(row: str, what: str) -> None:
    """Numbers beyond the desk, ports without strips, and pairs that are none: each in words of its own."""
    found = [f for f in _strips(row) if f.code == "strip-missing" and f.what == what]
    assert [f.line for f in found] == [6]


@pytest.mark.parametrize("kinds", [["group"], ["group", "aux"], ["matrix"]])
def test_more_mixes_than_the_desk_has_are_counted(kinds: list[str]) -> None:
    """A stereo mix takes two; groups and aux mixes come from one pool here."""
    pool = desk().pool(kinds[0])
    assert pool is not None
    enough = pool.legs // 2
    for count in (enough, enough + 1):
        rows = [f"{{name: mix {n}, kind: {kinds[n % len(kinds)]}, width: stereo}}" for n in range(count)]
        found = [f for f in _checked(small(mixes=f"[{_MAIN}, {', '.join(rows)}]")) if f.code == "strip-missing"]
        wanted = f"{2 * count} wanted, {pool.legs} there; a stereo mix takes two"
        assert [(f.values, f.line) for f in found] == [(wanted, 6)] * (count - enough)


@pytest.mark.parametrize(
    ("section", "text"),
    [
        ("inputs", "[{name: Vox, ch: 1, port: %s, to: [Main]}]"),
        ("outputs", "[{name: PA, from: Main, port: %s}]"),
        ("keep", "[{ports: %s, for: x}]"),
        ("units", "[{name: u, kind: hardware, out: %s, back: local in 1, delay_ms: 0}]"),
        ("units", "[{name: u, kind: hardware, out: local out 15, back: %s, delay_ms: 0}]"),
        ("requests", "[{strip: Vox, unit: u, want: 1, ports: {send: %s, return: aux in 1}}]"),
        ("requests", "[{strip: Vox, unit: u, want: 1, ports: {send: aux out 1, return: %s}}]"),
    ],
)
def test_a_port_that_the_desk_lacks_is_found_wherever_it_stands(section: str, text: str) -> None:
    """Unknown groups get the nearest name, numbers beyond the group its size."""
    for port, remedy in (("stagge 1", "Did you mean 'stage'?"), ("local inn 1", "Did you mean 'local in'?")):
        found = only(_checked(small(**{section: text % port})), "port-unknown")
        assert (found.remedy, found.values) == (remedy, port)
    for name in ("stage", "aux out", "local out"):
        group = desk().group(name)
        assert group is not None
        port = f"{name} {group.count}-{group.count + 1}"
        found = only(_checked(small(**{section: text % port})), "port-unknown")
        assert found.values == f"{port}, there are {group.count}"


def test_a_port_that_goes_the_other_way_is_found() -> None:
    """An input on an output port and an output on an input port are refused."""
    found = [f for f in _strips(_input("Vox", 1, "local out 1")) if f.code == "port-unknown"]
    assert [f.what for f in found] == ["A port that goes in is needed"]
    text = small(outputs="[{name: PA, from: Main, port: stage 1-2}]")
    assert only(_checked(text), "port-unknown").what == "A port that goes out is needed"


def test_ports_may_be_kept_whichever_way_they_go() -> None:
    """A recorder keeps outputs, an interval player inputs."""
    assert _checked(small(keep="[{ports: aux in 7-8, for: interval}, {ports: card out 1-8, for: recorder}]")) == ()


@pytest.mark.parametrize(
    "text",
    [
        small(outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Fill, from: Main, port: local out 2}]"),
        small(keep="[{ports: card out 1-8, for: recorder}, {ports: card out 8-9, for: stream}]"),
        small(
            units="[{name: a, kind: hardware, out: local out 13, back: local in 29, delay_ms: 0}, "
            "{name: b, kind: hardware, out: local out 14, back: local in 29, delay_ms: 0}]"
        ),
    ],
)
def test_a_port_has_one_writer_and_one_meaning(text: str) -> None:
    """Two outputs, two purposes or two units on one port are refused, with both named."""
    found = only(_checked(text), "port-two-writers")
    assert " of '" in found.values or " for " in found.values


def test_two_units_may_read_one_output() -> None:
    """Any number of readers may hang on one output port."""
    units = (
        "[{name: a, kind: hardware, out: local out 13, back: local in 29, delay_ms: 0}, "
        "{name: b, kind: hardware, out: local out 13, back: local in 30, delay_ms: 0}]"
    )
    assert _checked(small(units=units)) == ()


# block sources


def test_a_block_takes_one_source() -> None:
    """One input on another source than the rest of its block is found, with who asks what."""
    found = only(
        _strips(_input("Vox", 1, "stage 1"), _input("Sax", 2, "stage 2"), _input("Cue", 8, "local in 8")),
        "block-conflict",
    )
    assert (found.line, found.values) == (8, "stage 1-8: Sax, Vox; local in 1-8: Cue")


def test_blocks_take_sources_one_by_one() -> None:
    """Another block may take another source."""
    assert _strips(_input("Vox", 1, "stage 1"), _input("Cue", 9, "local in 9")) == ()


def test_a_strip_takes_the_port_of_its_place_only() -> None:
    """A port of the right source, but of another place in the block, cannot reach the strip."""
    found = only(_strips(_input("Vox", 1, "stage 2")), "block-conflict")
    assert found.what == "This strip cannot take this port"
    assert "stage 2 for channel 1" in found.values


def test_a_port_that_is_not_there_is_not_called_a_conflict_too() -> None:
    """One mistake is one finding."""
    assert codes(_strips(_input("Vox", 1, "stage 33"))) == ["port-unknown"]


# routes


@pytest.mark.parametrize(
    ("text", "line", "remedy"),
    [
        (small(inputs="\n  - name: Vox\n    ch: 1\n    port: stage 1\n    to:\n      - Mian\n"), 10, "'Main'"),
        (small(inputs="[{name: Vox, ch: 1, port: stage 1, group: Mian}]"), 5, "'Main'"),
        (small(mixes=f"\n  - {_MAIN}\n  - {{name: Sub, kind: group, width: mono, to: Mai}}"), 8, "'Main'"),
        (small(mixes="\n  - name: Main\n    kind: main\n    width: mono\n    from:\n     Vox:\n     Vex:"), 12, "Vox"),
        (small(outputs="[{name: PA, from: Mian, port: local out 1}]"), 7, "'Main'"),
        (small(listeners="[{name: row F, hears: {PAA: {m: 1, db: 0}}}]"), 8, "'PA'"),
        (small(units="[{name: u, kind: computer, connects: crad}]"), 8, "'card'"),
        (looped("[{strip: Voxx, chain: thin, want: 1}]"), 10, "'Vox'"),
        (looped("[{strip: Vox, chain: thinn, want: 1}]"), 10, "'thin'"),
        (looped("[{strip: Vox, unit: lap top, want: 1}]"), 10, "'laptop'"),
        (looped("[{strip: PAA, unit: laptop, way: output, want: 1}]"), 10, "'PA'"),
        (looped("[{strip: PA, chain: thin, want: 1}]"), 10, "Main, Vox"),
        (small(never="\n  - Vox\n  - Voxx\n"), 10, "'Vox'"),
        (small(bypass_groups="\n  all:\n    - Vox\n    - Voxx\n"), 11, "'Vox'"),
        (small().replace("}\n", ", hops: [{from: chanel, to: insert, frames: 1}]}\n", 1), 4, "'channel'"),
    ],
)  # fmt: skip
def test_a_name_that_nothing_carries_is_found_at_its_line(text: str, line: int, remedy: str) -> None:
    """Mixes, strips, outputs, sockets, chains and units: the line of the name, and the nearest that there is."""
    found = only(_checked(text), "name-unknown")
    assert (found.line, remedy in found.remedy) == (line, True), found


@pytest.mark.parametrize(("tap", "good"), [("input", True), ("before insert", True), ("after mute", True)])
def test_a_tap_that_a_strip_has_is_taken(tap: str, good: bool) -> None:
    """Taps are the input, and before and after each stage."""
    text = small(mixes=f"[{{name: Main, kind: main, width: mono, from: {{Vox: {{tap: {tap}}}}}}}]")
    assert (_checked(text) == ()) is good


@pytest.mark.parametrize(
    ("tap", "remedy"), [("befor fader", "'before fader'"), ("insert", "before insert"), ("after", "")]
)
def test_a_tap_that_a_strip_lacks_is_found(tap: str, remedy: str) -> None:
    """The nearest tap of that strip is offered."""
    text = small(mixes=f"[{{name: Main, kind: main, width: mono, from: {{Vox: {{tap: {tap}}}}}}}]")
    found = only(_checked(text), "name-unknown")
    assert (found.what, remedy in found.remedy) == (f"'Vox' has no tap '{tap}'", True)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (small(inputs="[{name: Vox, ch: 1, port: stage 1}]", mixes=f"[{_MAIN}]"), "Nothing takes this input"),
        (small(mixes=f"[{_MAIN}, {{name: Fx, kind: aux, width: mono}}]"), "Nothing goes into this mix"),
        (small(mixes=f"[{_MAIN}, {{name: Fx, kind: aux, width: mono, from: [Vox]}}]"), "Nothing takes this mix"),
    ],
)
def test_what_is_connected_to_nothing_is_said(text: str, what: str) -> None:
    """Inputs that go nowhere, mixes that nothing feeds and mixes that nothing takes are warnings."""
    assert what in [f.what for f in _checked(text) if f.code == "no-reach"]


def test_a_mix_for_somebody_needs_no_output() -> None:
    """Ears take a mix as an output does."""
    mixes = f"[{_MAIN}, {{name: Ears, kind: aux, width: mono, for: Vox, from: [Vox]}}]"
    assert _checked(small(mixes=mixes)) == ()


def test_a_name_that_is_an_output_and_a_source_is_refused_where_it_is_heard() -> None:
    """A listener who hears it could mean either."""
    text = small(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main], hears: {PA: {m: 1, db: 0}}}]",
        listeners="[{name: row F, hears: {PA: {m: 9, db: 0}}}]",
    )
    assert codes(_checked(text)) == ["name-ambiguous"]
    assert _checked(text.replace("listeners", "#")) == ()


# units and requests


@pytest.mark.parametrize(
    ("unit", "what"),
    [
        ("{name: u, kind: computer}", "It is not said how the unit is connected"),
        ("{name: u, kind: computer, connects: card, out: aux out 1, back: aux in 1}", "It is not said how the unit"),
        ("{name: u, kind: hardware, out: local out 13}", "It is not said how the unit is connected"),
        ("{name: u, kind: hardware, out: local out 13, back: local in 29, buffer: 64}", "Hardware has no buffer"),
        (
            "{name: u, kind: hardware, out: local out 13, back: local in 29, "
            "measured: [{buffer: 64, rate: 48000, round_trip_frames: 9}]}",
            "Hardware has no buffer to measure",
        ),
        ("{name: u, kind: computer, connects: card, delay_ms: 3}", "A computer's delay hangs on its buffer"),
    ],
)
def test_a_unit_that_cannot_be_as_written_is_refused(unit: str, what: str) -> None:
    """Units are connected one way, and what a unit of their kind does not use is not given in vain."""
    found = only(_checked(small(units=f"[{unit}]")), "value-wrong")
    assert found.what.startswith(what)
    assert found.line == 8


def test_a_unit_has_as_many_returns_as_sends() -> None:
    """Two out and one back is no loop."""
    units = "[{name: u, kind: hardware, out: local out 13-14, back: local in 29, delay_ms: 0}]"
    assert only(_checked(small(units=units)), "loop-width").values == "out local out 13-14, back local in 29"


def test_one_strip_has_one_insert_point() -> None:
    """A second request for the same strip is refused at its own line."""
    text = looped("\n  - {strip: Vox, chain: thin, want: 5}\n  - {strip: Vox, unit: laptop, want: 4}")
    assert only(_checked(text), "request-twice").line == 12


def test_a_request_says_what_for() -> None:
    """Without a chain and without a unit there is nothing to send the strip to."""
    assert only(_checked(looped("[{strip: Vox, want: 5}]")), "value-wrong").what.startswith(
        "The request names no chain"
    )


def test_ports_are_pinned_for_inserts_only() -> None:
    """Ports pinned for a loop on an output would not be used, so they are refused."""
    text = looped("[{strip: PA, unit: laptop, way: output, want: 5, ports: {send: aux out 1-2, return: aux in 1-2}}]")
    assert only(_checked(text), "value-wrong").path == ("requests", 0, "ports")


def test_the_desk_must_run_at_the_rate_of_the_show() -> None:
    """A rate that the desk lacks is refused with those it has."""
    found = only(_checked(small().replace("48000", "96000")), "value-wrong")
    assert (found.line, found.values) == (3, "96000; the desk runs at 44100, 48000")


def test_only_strips_and_outputs_have_loops_to_group() -> None:
    """A source is no member of a bypass group; an output may be one."""
    inputs = "[{name: Vox, ch: 1, port: stage 1, to: [Main], hears: {singer: {m: 0.1, db: 0}}}]"
    assert only(_checked(small(inputs=inputs, bypass_groups="{all: [singer]}")), "name-unknown").line == 8
    assert _checked(small(inputs=inputs, bypass_groups="{all: [Vox, PA]}", never="[singer, Vox]")) == ()


def test_what_is_kept_for_later_is_said_once() -> None:
    """Keys and fields that nothing computes yet are listed in one note, at the first of them."""
    text = small(
        outputs="[{name: PA, from: Main, port: local out 1-2, loudness_target_lufs: -16}]",
        clock="{leader: desk}",
        trade="strict",
        chains="{thin: [{eq: {bands: 3}}]}",
    )
    found = only(_checked(text), "kept")
    assert found.values == "trade, outputs.loudness_target_lufs, settings of processors"
    assert found.line == 9


def test_a_desk_without_a_kind_of_strip_is_held_against_the_show() -> None:
    """Mixes of a kind that the desk lacks are counted against none."""
    thin = read_desk(desk_with("kinds: [matrix]", "kinds: [main]"), "desk.yaml")
    found = _checked(small(mixes=f"[{_MAIN}, {{name: Fill, kind: matrix, width: mono, from: [Main]}}]"), thin)
    assert only(found, "strip-missing").values.startswith("1 wanted, 0 there")


def test_everything_is_found_in_one_run() -> None:
    """Mistakes of five kinds in one show are five findings."""
    text = small(
        inputs=f"[{_VOX}, {_input('Sax', 1, 'stage 1')}, {_input('Oud', 3, 'stage 33')}]",
        outputs="[{name: PA, from: Mian, port: local out 1-2}]",
        requests="[{strip: Vox, chain: thin, want: 1}]",
        units=LAPTOP,
        never="[Nobody]",
    )
    errors = [f.code for f in findings_of(text) if f.severity == "error"]
    assert sorted(errors) == ["name-unknown", "name-unknown", "name-unknown", "port-unknown", "strip-twice"]
