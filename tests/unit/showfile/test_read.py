"""Reading a show or a desk: every mistake at once, each with its line, its word and what was probably meant."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from showtext import DEMO_TEXT, DESK_TEXT, DESK_TYPE, codes, desk_line, desk_with, findings_of, looped, only, small
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import CATALOGUE, Finding
from sidetrip.model.figure import Figure
from sidetrip.model.show import Show
from sidetrip.showfile.read import nearest, read_desk, read_show

_HEAD = f"sidetrip: 1\nshow: small\nsample_rate: 48000\ndesk: {{type: {DESK_TYPE}}}\n"


def _read(text: str) -> Show:
    return read_show(text, "show.yaml").show


def _wrong(text: str) -> tuple[Finding, ...]:
    with pytest.raises(ShowUnreadable) as caught:
        read_show(text, "show.yaml")
    return caught.value.findings


def _input(fields: str) -> str:
    return small(inputs=f"[{{name: Vox, ch: 1, port: stage 1, to: [Main], {fields}}}]")


def _chain(processor: str) -> str:
    return small(chains=f"{{thin: [{processor}]}}")


@pytest.mark.parametrize(
    ("text", "line", "word", "meant"),
    [
        (small(nevr="[Vox]"), 8, "nevr", "'never'"),
        (small().replace("sample_rate", "sample_rat"), 3, "sample_rat", "'sample_rate'"),
        (small().replace("type:", "typ:"), 4, "typ", "'type'"),
        (_input("latencey_ms: 3"), 5, "latencey_ms", "'delay_ms'"),
        (_input("hears: {kick: {mm: 1}}"), 5, "mm", "'m'"),
        (_input("hears: {m: {dB: 1}}"), 5, "dB", "'db'"),
        (_input("device_ms: {is: 3, standng: proven}"), 5, "standng", "'standing'"),
        (_input("device_ms: {iss: 3}"), 5, "iss", "'is'"),
        (small(mixes="[{name: Main, kind: main, width: mono, fro: [Vox]}]"), 6, "fro", "'from'"),
        (small(mixes="[{name: Main, kind: main, width: mono, from: {Vox: {tapp: input}}}]"), 6, "tapp", "'tap'"),
        (small(mixes="[{name: Main, kind: main, width: mono, from: {tap: {dbb: 1}}}]"), 6, "dbb", "'db'"),
        (small(outputs="[{name: PA, from: Main, prot: local out 1}]"), 7, "prot", "'port'"),
        (small(units="[{name: u, kind: computer, conects: card}]"), 8, "conects", "'connects'"),
        (small(units="[{name: u, kind: computer, measured: [{bufer: 64}]}]"), 8, "bufer", "'buffer'"),
        (_chain("{limiter: {lookahead_frame: 64}}"), 8, "lookahead_frame", "'lookahead_frames'"),
        (_chain("{compresor: {ratio: 2}}"), 8, "compresor", "'compressor'"),
        (small(requests="[{strip: Vox, wants: 5}]"), 8, "wants", "'want'"),
        (
            small(requests="[{strip: Vox, want: 5, ports: {send: aux out 1, retrun: aux in 1}}]"),
            8,
            "retrun",
            "'return'",
        ),
        (small(keep="[{ports: aux in 1, four: x}]"), 8, "four", "'for'"),
        (small(limits="{ear_totl_ms: 9}"), 8, "ear_totl_ms", "'ear_total_ms'"),
        (small(air="{temperature: 9}"), 8, "temperature", "'temperature_c'"),
        (small().replace("}\n", ", hops: [{from: a, to: b, frame: 1}]}\n", 1), 4, "frame", "'frames'"),
    ],
)
def test_a_misspelt_field_is_named_with_the_nearest_good_one(text: str, line: int, word: str, meant: str) -> None:
    """Wherever it stands: the line, the word and the likely one are given, and no plan comes of it."""
    found = [finding for finding in _wrong(text) if f"'{word}'" in finding.what]
    assert [(finding.line, finding.remedy) for finding in found] == [(line, f"Did you mean {meant}?")]


@pytest.mark.parametrize(
    ("old", "new", "meant"),
    [
        ("name_length: 12", "name_lenght: 12", "'name_length'"),
        ("    legs: 32", "    lges: 32", "'legs'"),
        ("insert: {send_alive_when_out", "insert: {send_alive_wen_out", "'send_alive_when_out'"),
        ("covers: aux in 1-2}", "cover: aux in 1-2}", "'covers'"),
        ("  presses: 2", "  preses: 2", "'presses'"),
        ("taps: {aux:", "taps: {auxx:", "'aux'"),
        ("{is: unknown, source: ask", "{is: unknown, sorce: ask", "'source'"),
    ],
)
def test_a_misspelt_field_of_a_desk_is_named_too(old: str, new: str, meant: str) -> None:
    """Desk files are read as strictly as shows."""
    with pytest.raises(ShowUnreadable) as caught:
        read_desk(desk_with(old, new), "desk.yaml")
    found = only(caught.value.findings, "key-unknown")
    assert (found.line, found.file, found.remedy) == (desk_line(old), "desk.yaml", f"Did you mean {meant}?")


def test_a_misspelt_field_with_nothing_behind_it_is_named() -> None:
    """A line may be left empty, but not under a name that means nothing."""
    assert only(findings_of(small(delay="")), "key-unknown").line == 8
    assert codes(findings_of(small(never=""))) == ["no-loops"]


@pytest.mark.parametrize("field", ["device_ms: 1,5", "hears: {kick: {m: 2,67}}", "hears: {kick: {m: 1, db: -3,5}}"])
def test_a_decimal_comma_is_not_half_a_number(field: str) -> None:
    """Between braces a comma ends the value: 1,5 is refused, not read as 1."""
    found = only(_wrong(_input(field)), "key-unknown")
    assert "decimal comma" in found.remedy


@pytest.mark.parametrize("typed", ["1,5", "1.200,5", "3 ms", "2-4", "two", "yes", "[3]", "2 to x", "4 to 2", "''"])
def test_a_delay_that_is_no_figure_is_refused(typed: str) -> None:
    """In a line of its own, whatever is no number, range or unknown is refused with what was found."""
    text = small(inputs=f"\n  - name: Vox\n    ch: 1\n    port: stage 1\n    to: [Main]\n    delay_ms: {typed}")
    found = only(_wrong(text), "value-wrong")
    assert (found.line, found.path[-1]) == (10, "delay_ms")
    assert found.values.startswith("found ")


@pytest.mark.parametrize(
    ("typed", "low", "high", "standing"),
    [
        ("3", 3, 3, None),
        ("3.5", 3.5, 3.5, None),
        (".5", 0.5, 0.5, None),
        ("1e1", 10, 10, None),
        ("010", 10, 10, None),
        ("2 to 4", 2, 4, None),
        ("2.5 to 2.5", 2.5, 2.5, None),
        ("unknown", None, None, "unknown"),
        ("{is: 3, standing: proven, when: 2026-11-20, state: shop}", 3, 3, "proven"),
        ("{is: 2 to 4, source: a measurement}", 2, 4, None),
        ("{is: unknown, standing: proven}", None, None, "unknown"),
    ],
)
def test_a_figure_may_be_a_number_a_range_or_unknown(
    typed: str, low: float | None, high: float | None, standing: str | None
) -> None:
    """Each form is read with its standing, in a show and in a chain alike; an unknown figure is never proven."""
    read = _read(_input(f"device_ms: {typed}")).inputs[0].device_ms
    assert read is not None
    assert (read.low, read.high, read.standing) == (low, high, standing)
    declared = _read(_chain(f"{{black box: {{delay_frames: {typed}}}}}")).chains["thin"][0].delay_frames
    assert (declared.low, declared.high, declared.standing) == (low, high, standing or "assumed")


def test_unknown_is_no_number() -> None:
    """A delay that is unknown stays unknown in the plan, and is said to be."""
    found = findings_of(_input("device_ms: unknown"))
    assert "delay-unknown" in codes(found)
    assert only(found, "delay-unknown").line == 5


def test_a_fact_of_a_desk_has_its_standing() -> None:
    """An answer that is unknown is unknown in either form; another has the file's standing unless it says its own."""
    desk = read_desk(
        desk_with("  bypass sound: a short cross-fade", "  bypass sound: {is: a click, standing: proven}"), "desk.yaml"
    )
    assert [(desk.facts[fact].answer, desk.facts[fact].standing) for fact in ("bypass sound", "meters", "taps")] == [
        ("a click", "proven"),
        ("unknown", "unknown"),
        ("chosen per strip and per send", None),
    ]


@pytest.mark.parametrize(
    "text",
    [
        _input("device_ms: -1"),
        _input("delay_ms: -2 to 3"),
        _input("hears: {kick: {m: -0.1}}"),
        small(mixes="[{name: Main, kind: main, width: mono, device_ms: -3}]"),
        small(outputs="[{name: PA, from: Main, port: local out 1, picture_delay_ms: -40}]"),
        small(units="[{name: u, kind: computer, measured: [{buffer: 64, rate: 48000, round_trip_frames: -1}]}]"),
        _chain("{limiter: {lookahead_frames: -64}}"),
        _chain("{limiter: {lookahead_ms: -1}}"),
        _chain("{eq: {delay_frames: -1 to 4}}"),
    ],
)
def test_a_time_below_zero_is_refused(text: str) -> None:
    """No delay, distance or round trip is negative."""
    found = only(_wrong(text), "value-wrong")
    assert "below zero" in found.what
    assert "found -" in found.values


@pytest.mark.parametrize(
    ("text", "part"),
    [
        (small(air="{temperature_c: 200}"), "less than or equal to 50"),
        (small(air="{humidity_percent: 101}"), "less than or equal to 100"),
        (small(limits="{ear_total_ms: 0}"), "greater than 0"),
        (small().replace("48000", "0"), "greater than or equal to 8000"),
        (small().replace("48000", "48000.0"), "whole number"),
        (small().replace("48000", "'48000'"), "whole number"),
        (_input("device_ms: 1e300"), "no larger than 10,000,000"),
        (_input("hears: {kick: {m: 1, db: 100000}}"), "between -200 and 200 dB"),
        (small(requests="[{strip: Vox, want: 10}]"), "must, or 1 to 9"),
        (small(requests="[{strip: Vox, want: Must}]"), "must, or 1 to 9"),
        (small(requests="[{strip: Vox, want: 1.5}]"), "must, or 1 to 9"),
        (small(units="[{name: u, kind: computer, buffer: 0}]"), "auto, or frames from 1 to 65536"),
        (small(units="[{name: u, kind: computer, load_limit: 2}]"), "less than or equal to 1"),
        (_chain("{eq: {load: 2}}"), "a share of the unit from 0 to 1"),
        (_chain("{eq: {load: 0.1 to 0.2}}"), "a share of the unit from 0 to 1"),
        (_chain("{eq: {name: {a: 1}}}"), "should be text"),
        (_chain("{eq: 3}"), "should be keys and values"),
        (_chain("eq"), "one kind with its settings, like {limiter:"),
        (_chain("{eq: {}, gate: {}}"), "one kind with its settings, like {limiter:"),
        (_chain("{limiter: {lookahead_frames: 4, lookahead_ms: 2}}"), "says again what"),
        (_chain("{limiter: {lookahead_frames: 4, delay_frames: 2}}"), "says again what"),
        (small(length="2:30"), "written like 2h30m"),
        (small(length="9" * 400 + "h"), "written like 2h30m"),
        (small(inputs="[{name: Vox, port: stage}]"), "ports are written like"),
        (small(inputs="[{name: Vox, port: stage 0}]"), "ports count from 1"),
        (small(inputs="[{name: Vox, port: stage 9-8}]"), "run upwards"),
        (small(inputs="[{name: Vox, port: '" + " " * 200_000 + "1'}]"), "ports are written like"),
        (small(inputs="[{name: Vox, port: 7}]"), "ports are written like"),
        (small(inputs="{Vox: 1}"), "should be a list"),
        (small(inputs="[Vox]"), "should be keys and values"),
        (small(inputs="[{name: [Vox], port: stage 1}]"), "should be text"),
        (small(inputs="[{name: '', port: stage 1}]"), "is empty"),
        (small(inputs='[{name: "Vox\\nOne", port: stage 1}]'), "one line"),
        (small(inputs='[{name: "Vox\\tOne", port: stage 1}]'), "one line"),
        (small(mixes="[{name: Main, kind: main, width: [mono]}]"), "'a list' is not a value of 'width'"),
        (small(mixes="[{name: Main, kind: main, width: mono, from: [{Vox: 1}]}]"), "a list holds names only"),
        (small(mixes="[{name: Main, kind: main, width: mono, from: {Vox: -6}}]"), "should be keys and values"),
        (small(mixes="[{name: Main, kind: main, width: mono, from: [~]}]"), "should be text"),
        (small(trade="greedy"), "'greedy' is not a value of 'trade'"),
        (small(clock="yes"), "should be keys and values"),
        (small().replace(f"{{type: {DESK_TYPE}}}", DESK_TYPE), "should be keys and values"),
    ],
)
def test_a_value_of_the_wrong_kind_or_size_is_refused(text: str, part: str) -> None:
    """Types are never converted in silence and ranges are kept; what is said fits on a line or two."""
    found = [finding for finding in _wrong(text) if part in finding.what]
    assert len(found) == 1, [str(finding) for finding in _wrong(text)]
    assert found[0].code == "value-wrong"
    assert found[0].line is not None
    assert len(str(found[0])) < 400


def test_a_name_alone_stands_for_a_list_of_one() -> None:
    """to, never, bypass groups and from take one name as well as a list of names."""
    text = small(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: Main}]",
        mixes="[{name: Main, kind: main, width: mono, from: Vox}]",
        never="Vox",
        bypass_groups="{all: Vox}",
    )
    show = _read(text)
    assert (show.inputs[0].to, list(show.mixes[0].from_), show.never) == (("Main",), ["Vox"], ("Vox",))
    assert show.bypass_groups == {"all": ("Vox",)}


def test_all_mistakes_come_in_one_run() -> None:
    """A file with eight mistakes gives eight findings, not the first of them."""
    text = (
        "sidetrip: 1\n"
        "show: [small]\n"
        "sample_rate: fast\n"
        f"desk: {{type: {DESK_TYPE}}}\n"
        "inputs: [{name: Vox, ch: one, port: stage, to: [Main]}]\n"
        "mixes: [{name: Main, kind: mein, width: wide}]\n"
        "outputs: [{name: PA, from: Main, port: local out 1-2, delay: 3}]\n"
        "requests: [{strip: Vox, want: 11}]\n"
    )
    assert [finding.line for finding in _wrong(text)] == [2, 3, 5, 5, 6, 6, 7, 8]


def test_what_is_missing_is_named_at_the_thing_that_lacks_it() -> None:
    """A missing field has no line of its own: the finding points to what it is missing from."""
    text = small(inputs="\n  - name: Vox\n    port: stage 1\n  - ch: 2\n    port: stage 2\n")
    found = only(_wrong(text), "value-wrong")
    assert (found.line, found.what, found.remedy) == (8, "'name' is missing", "Add 'name: ...'")


def test_a_place_is_named_and_not_only_counted() -> None:
    """What stands in a list is called by its name, so that the words stay true when rows move."""
    assert only(_wrong(_input("device_ms: x")), "value-wrong").where == "inputs / Vox / device_ms"
    assert only(_wrong(small(requests="[{strip: Vox, want: 0}]")), "value-wrong").where == "requests / Vox / want"


@pytest.mark.parametrize(
    ("typed", "found"), [("'1'", "found the text '1'"), ("2", "found 2"), ("[1]", "found a list"), ("", "known 1")]
)
def test_a_version_key_of_another_kind_says_what_was_found(typed: str, found: str) -> None:
    """A version in quotes, another one, and none are told apart."""
    finding = only(findings_of(small().replace("sidetrip: 1", f"sidetrip: {typed}")), "version-unknown")
    assert (finding.line, found in finding.values) == (1, True)
    assert finding.remedy == "Begin the file with: sidetrip: 1"


def test_accents_may_be_typed_in_one_piece_or_in_two() -> None:
    """A name typed as letter and accent apart is the same name as with both in one."""
    text = small(inputs="[{name: Caf\u00e9, ch: 1, port: stage 1, to: [Main]}]", never="[Cafe\u0301]")
    assert codes(findings_of(text)) == ["no-loops"]


def test_space_around_a_name_does_not_make_another_name() -> None:
    """A quoted name with a space behind it is the name without it."""
    assert codes(findings_of(small(never='["Vox "]'))) == ["no-loops"]


def test_a_declared_delay_is_kept_and_an_undeclared_one_is_not_made_up() -> None:
    """Look-ahead counts as delay; a black box that declares none is unknown, never nothing."""
    chain = _read(small(chains="{x: [{limiter: {lookahead_frames: 64}}, {eq: }, {black box: {name: 010}}]}")).chains[
        "x"
    ]
    assert [str(processor.delay_frames) for processor in chain] == ["64", "0", "unknown"]
    assert chain[2].name == "010"


def test_the_nearest_word_is_offered_whatever_its_case() -> None:
    """A word is compared without its case; with nothing near, all that there is is listed."""
    assert nearest("MAIN", ["Main", "Subs"]) == "Did you mean 'Main'?"
    assert nearest("xyz", ["Main", "Subs"]) == "Use one of: Main, Subs"
    assert nearest("xyz", []) == "There is nothing of the kind in this file yet"
    assert nearest("zz", [f"name {number:02}" for number in range(30)]).endswith("name 11 ...")


@given(
    st.one_of(
        st.floats(allow_nan=True, allow_infinity=True),
        st.integers(),
        st.text(max_size=12),
        st.tuples(st.floats(0, 1e6), st.floats(0, 1e6)).map(lambda ends: f"{ends[0]:.3f} to {ends[1]:.3f}"),
    )
)
def test_a_figure_is_finite_or_unknown(value: float | int | str) -> None:
    """Whatever is typed for a delay, what is read is a finite number not below zero, a range, or unknown."""
    try:
        read = read_show(_input(f"device_ms: {value!r}"), "show.yaml").show.inputs[0].device_ms
    except ShowUnreadable:
        return
    assert isinstance(read, Figure | None)
    if read is not None and read.low is not None and read.high is not None:
        assert 0 <= read.low <= read.high
        assert math.isfinite(read.high)


_LOOPED = looped(
    "[{strip: Vox, chain: thin, want: 5}, {strip: Main, chain: thin, want: must}]",
    listeners="[{name: row F, hears: {PA: {m: 9, db: 0}, Vox: {m: 3, db: -6}}}]",
    keep="[{ports: aux in 7-8, for: guests}]",
    limits="{ear_total_ms: 12}",
)
_READING = {"key-unknown", "key-twice", "version-unknown", *(code for code in CATALOGUE if code.startswith("yaml-"))}


def _mutated(text: str, seed: int) -> str:
    """Return the text with one to three chunks deleted, doubled, moved or replaced by something else."""
    draw = random.Random(seed)
    for _ in range(draw.randint(1, 3)):
        start = draw.randrange(len(text))
        end = min(len(text), start + draw.choice((1, 2, 5, 20, 80, 300)))
        chunk = text[start:end]
        at = draw.randrange(len(text))
        other = draw.choice(
            ("", "0", "-1", "unknown", "2 to 4", "~", "[]", "{}", "[a]", "aux in 7-8", "Main", "must", "'", "\t", "\n")
        )
        text = draw.choice(
            (
                text[:start] + text[end:],
                text[:start] + chunk + text[start:],
                text[:at] + chunk + text[at:],
                text[:start] + other + text[end:],
            )
        )
    return text


@pytest.mark.parametrize("which", ["demo", "small", "desk"])
@given(seed=st.integers(0, 2**32))
def test_no_mutation_of_a_text_does_more_than_find_something(which: str, seed: int) -> None:
    """However a show or a desk file is cut up, reading, checking and planning end with a plan or with findings."""
    if which == "desk":
        found = findings_of(_LOOPED, desk_text=_mutated(DESK_TEXT, seed))
    else:
        found = findings_of(_mutated(DEMO_TEXT if which == "demo" else _LOOPED, seed))
    for finding in found:
        assert finding.where and finding.what and finding.remedy
        if finding.code in _READING:
            assert finding.file in ("show.yaml", "desk.yaml")
            assert finding.line is not None and finding.line >= 1
