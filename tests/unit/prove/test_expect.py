"""What a take should show: every way with its loops and its time, added up here by hand from the desk's hops."""

from __future__ import annotations

from functools import cache

import pytest

from showtext import DEMO_TEXT, DESK_TEXT, desk_with, small
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, Way, expect, loop_time, time_of
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

RATE = 48_000

# the shipped desk's hops, in frames
STAGE, GROUP, MAIN, GROUP_MAIN = 32, 4, 8, 4
COPY = 5  # an input or return port onto the card for the recorder
LAPTOP = 4 + 5 + 331 + 5 + 4  # insert to aux out to card out, the laptop, card in to aux in to insert
BACK = -4 + COPY  # caught on the aux in: not yet in the insert, but on the card
BOX = 20 + 24  # insert to local out, local in to insert
BOX_BACK = -24 + COPY

_UNITS = (
    "[{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, "
    "measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}, "
    "{name: box, kind: hardware, out: local out 13-14, back: local in 29-30, delay_ms: 1}]"
)


@cache
def _expected(text: str, desk_text: str = DESK_TEXT) -> tuple[Plan, Expected]:
    """Return the plan of a show and what its first take should show."""
    show, desk = read_show(text, "show.yaml").show, read_desk(desk_text, "desk.yaml")
    assert [str(one) for one in check_show(show, desk) if one.severity == "error"] == []
    plan = make_plan(show, desk)
    return plan, expect(plan, show.takes[0])


def _show(take: str, requests: str = "[{strip: Vox, unit: laptop, want: must}]", **more: str) -> str:
    sections = {
        "inputs": "[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Keys, ch: 3, port: stage 3-4, to: [Main]}]",
        "units": _UNITS,
        "requests": requests,
        **more,
    }
    return small(**sections, takes=f"[{{name: all, {take}}}]")


def _ways(found: tuple[Plan, Expected], flat: bool = True) -> dict[tuple[str, str, tuple[str, ...]], float | None]:
    """Return the time in frames of each way, by entry, caught port and loops; None where a part is unknown."""
    plan, expected = found
    out: dict[tuple[str, str, tuple[str, ...]], float | None] = {}
    for way in expected.ways:
        span = time_of(plan, way, flat)
        key = str(expected.entries[way.entry].port), str(expected.catches[way.catch].port), way.loops
        assert key not in out
        assert span.low == pytest.approx(span.high) or not span.known
        out[key] = round(span.low * RATE, 6) if span.known else None
    return out


def _only(expected: Expected) -> Way:
    (way,) = expected.ways
    return way


# the demo


def test_the_ways_of_the_demo_and_their_times() -> None:
    """Every way of the Tin Lantern's take with all processors bypassed; there are no others."""
    overheads = STAGE + GROUP + GROUP_MAIN
    lamplighter, narrator = STAGE + LAPTOP + MAIN, STAGE + LAPTOP + GROUP + GROUP_MAIN
    bass = STAGE + BOX + GROUP + GROUP_MAIN
    assert _ways(_expected(DEMO_TEXT)) == {
        ("stage 7", "card out 7", ()): COPY,
        ("stage 8", "card out 8", ()): COPY,
        ("stage 7", "card out 17", ("Main",)): overheads + LAPTOP + BACK,
        ("stage 8", "card out 18", ("Main",)): overheads + LAPTOP + BACK,
        ("stage 9", "card out 15", ("Bass",)): STAGE + BOX + BOX_BACK,
        ("stage 9", "card out 17", ("Bass", "Main")): bass + LAPTOP + BACK,
        ("stage 9", "card out 18", ("Bass", "Main")): bass + LAPTOP + BACK,
        ("stage 17", "card out 19", ("Lamplighter",)): STAGE + LAPTOP + BACK,
        ("stage 17", "card out 17", ("Lamplighter", "Main")): lamplighter + LAPTOP + BACK,
        ("stage 17", "card out 18", ("Lamplighter", "Main")): lamplighter + LAPTOP + BACK,
        ("stage 18", "card out 20", ("Narrator",)): STAGE + LAPTOP + BACK,
        ("stage 18", "card out 17", ("Narrator", "Main")): narrator + LAPTOP + BACK,
        ("stage 18", "card out 18", ("Narrator", "Main")): narrator + LAPTOP + BACK,
    }


def test_as_used_the_chains_come_on_top() -> None:
    """The glue's black box adds 48 frames, the de-noiser 96, the lead vocal's chain none."""
    flat, used = (_ways(_expected(DEMO_TEXT), each) for each in (True, False))
    more = {"Main": 48, "Narrator": 96}
    assert used == {
        key: None if time is None else time + sum(more.get(loop, 0) for loop in key[2]) for key, time in flat.items()
    }
    plan, _ = _expected(DEMO_TEXT)
    assert loop_time(plan, "Main", flat=True).low * RATE == pytest.approx(LAPTOP)
    assert loop_time(plan, "Main", flat=False).low * RATE == pytest.approx(LAPTOP + 48)


def test_the_tracks_and_the_reference_of_the_demo() -> None:
    """Tracks count from the recorder's first port, legs from the left, and the reference is the left overhead's."""
    _, expected = _expected(DEMO_TEXT)
    assert [(str(one.port), one.track, one.leg, one.loop) for one in expected.catches] == [
        ("card out 7", 6, 0, None),
        ("card out 8", 7, 1, None),
        ("card out 15", 14, 0, "Bass"),
        ("card out 17", 16, 0, "Main"),
        ("card out 18", 17, 1, "Main"),
        ("card out 19", 18, 0, "Lamplighter"),
        ("card out 20", 19, 0, "Narrator"),
    ]
    assert expected.reference == (0, 0)
    assert [expected.dry(entry) for entry in range(5)] == [0, 1, None, None, None]


# legs, levels and polarity


def test_a_stereo_strip_into_a_stereo_mix_keeps_its_sides() -> None:
    """Left enters and comes back left only, at a known level; so does right."""
    take = "enter: stage 3-4, catch: [{port: card out 17-18, return: Main}]"
    _, expected = _expected(_show(take, "[{strip: Main, unit: laptop, want: must}]"))
    assert [(way.entry, way.catch, way.level_db) for way in expected.ways] == [(0, 0, 0.0), (1, 1, 0.0)]


def test_a_mono_strip_into_a_stereo_mix_reaches_both_sides() -> None:
    """A pan lies between, so that neither level is known."""
    take = "enter: stage 1, catch: [{port: card out 17-18, return: Main}]"
    _, expected = _expected(_show(take, "[{strip: Main, unit: laptop, want: must}]"))
    assert [(way.entry, way.catch, way.level_db) for way in expected.ways] == [(0, 0, None), (0, 1, None)]


def test_a_stereo_strip_into_a_mono_mix_sums_its_sides() -> None:
    """Both sides reach the one leg, at a level that depends on how the desk sums; behind it all is mono."""
    mixes = "[{name: Main, kind: main, width: stereo}, {name: Sub, kind: group, width: mono, to: [Main], from: [Keys]}]"
    take = "enter: stage 3-4, catch: [{port: card out 17, return: Sub}, {port: two-track 1-2, strip: Main}]"
    requests = "[{strip: Sub, unit: laptop, want: must}]"
    inputs = "[{name: Keys, ch: 3, port: stage 3-4}]"
    _, expected = _expected(_show(take, requests, mixes=mixes, inputs=inputs))
    assert sorted((way.entry, way.catch, way.level_db) for way in expected.ways) == [
        (entry, catch, None) for entry in (0, 1) for catch in (0, 1, 2)
    ]


@pytest.mark.parametrize(
    ("send", "width", "level"),
    [
        ("{Vox: {db: -6}}", "mono", -6.0),
        ("[Vox]", "mono", 0.0),
        ("{Vox: {db: unknown}}", "mono", None),
        ("{Vox: {db: -8 to -4}}", "mono", -6.0),
        ("{Vox: {db: -6}}", "stereo", None),
        ("{Keys: {db: -6}}", "stereo", -6.0),
    ],
)
def test_levels_add_up_where_they_are_known(send: str, width: str, level: float | None) -> None:
    """A send at its level, a range at its middle, and nothing once a level or a pan is not known."""
    mixes = f"[{{name: Main, kind: main, width: stereo}}, {{name: Aux, kind: aux, width: {width}, from: {send}}}]"
    port = "two-track 1" if width == "mono" else "two-track 1-2"
    take = f"enter: [stage 1, stage 3-4], catch: [{{port: {port}, strip: Aux}}]"
    _, expected = _expected(_show(take, mixes=mixes))
    assert {way.level_db for way in expected.ways} == {level}


def test_a_polarity_switch_turns_every_way_behind_it() -> None:
    """What enters through an inverted strip is expected inverted, but for its dry copy, which is taken before."""
    take = (
        "enter: [stage 1, stage 3-4], catch: [{port: card out 1, dry: stage 1}, {port: card out 17, return: Vox}, "
        "{port: two-track 1-2, strip: Main}]"
    )
    inputs = (
        "[{name: Vox, ch: 1, port: stage 1, to: [Main], inverted: yes}, "
        "{name: Keys, ch: 3, port: stage 3-4, to: [Main]}]"
    )
    _, expected = _expected(_show(take, inputs=inputs))
    assert {(way.entry, way.catch): way.inverted for way in expected.ways} == {
        (0, 0): False,
        (0, 1): True,
        (0, 2): True,
        (0, 3): True,
        (1, 2): False,
        (2, 3): False,
    }


# several ways


def test_two_ways_to_one_catch_are_two() -> None:
    """Straight to the main mix, and through a group with a loop: each with its own loops and time."""
    mixes = "[{name: Main, kind: main, width: stereo}, {name: Sub, kind: group, width: mono, to: [Main], from: [Vox]}]"
    take = (
        "enter: stage 1, "
        "catch: [{port: two-track 1, strip: Sub, tap: before insert}, {port: local out 5-6, strip: Main}]"
    )
    found = _ways(_expected(_show(take, "[{strip: Sub, unit: laptop, want: must}]", mixes=mixes)))
    assert found == {
        ("stage 1", "two-track 1", ()): STAGE + GROUP + 20,
        ("stage 1", "local out 5", ()): STAGE + MAIN + 20,
        ("stage 1", "local out 6", ()): STAGE + MAIN + 20,
        ("stage 1", "local out 5", ("Sub",)): STAGE + GROUP + LAPTOP + GROUP_MAIN + 20,
        ("stage 1", "local out 6", ("Sub",)): STAGE + GROUP + LAPTOP + GROUP_MAIN + 20,
    }


def test_two_strips_on_one_port_both_carry_what_enters_there() -> None:
    """One entry, two strips: two ways, one of them round the loop of one of the strips."""
    inputs = "[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Double, ch: 2, port: stage 1, to: [Main]}]"
    desk = desk_with("{feeds: channel 1-8, choices: [stage 1-8,", "{feeds: channel 1-1, choices: [stage 1,")
    desk = desk.replace("choices: [stage 1, local in 1-8, card in 1-8]", "choices: [stage 1, local in 1, card in 1]")
    take = "enter: stage 1, catch: [{port: two-track 1-2, strip: Main}]"
    _, expected = _expected(_show(take, inputs=inputs), desk)
    assert sorted(way.loops for way in expected.into(0)) == [(), ("Vox",)]


def test_a_send_that_is_taken_before_the_insert_passes_no_loop() -> None:
    """Ears that listen before the insert are not made late by it; those behind are."""
    mixes = (
        "[{name: Main, kind: main, width: stereo}, "
        "{name: A, kind: aux, width: mono, from: {Vox: {tap: before insert}}}, "
        "{name: B, kind: aux, width: mono, from: [Vox]}]"
    )
    take = "enter: stage 1, catch: [{port: two-track 1, strip: A}, {port: two-track 2, strip: B}]"
    assert _ways(_expected(_show(take, mixes=mixes))) == {
        ("stage 1", "two-track 1", ()): STAGE + MAIN + 20,
        ("stage 1", "two-track 2", ("Vox",)): STAGE + LAPTOP + MAIN + 20,
    }


def test_an_unknown_hop_leaves_the_way_and_takes_the_time() -> None:
    """The desk does not say how late a channel's own copy on the card is, so the way's time is unknown."""
    _, expected = _expected(_show("enter: stage 1, catch: [{port: card out 9, strip: Vox, tap: before insert}]"))
    way = _only(expected)
    assert not way.base.known
    assert way.base.low * RATE == pytest.approx(STAGE)


# taps, and loops that are OUT

_TAPS = (
    "enter: stage 1, catch: [{port: two-track 1, strip: Sub, tap: before insert}, "
    "{port: two-track 2, strip: Sub, tap: after insert}, {port: local out 5, strip: Sub}, "
    "{port: card out 17, return: Sub}, {port: card out 18, return: Vox}]"
)
_TAP_MIXES = "[{name: Main, kind: main, width: stereo}, {name: Sub, kind: group, width: mono, to: [Main], from: [Vox]}]"
_TAP_REQUESTS = "[{strip: Sub, unit: laptop, want: must}, {strip: Vox, unit: box, want: must}]"


def _taps(state: str, desk_text: str = DESK_TEXT) -> tuple[Plan, Expected]:
    inputs = "[{name: Vox, ch: 1, port: stage 1}]"
    take = f"{_TAPS}, state: {state}"
    return _expected(_show(take, _TAP_REQUESTS, mixes=_TAP_MIXES, inputs=inputs), desk_text)


def test_a_copy_before_the_insert_has_not_passed_the_loop() -> None:
    """Before the insert only the loop ahead counts; after it, and at the end of the strip, its own does too."""
    vox = STAGE + 48 + BOX + GROUP
    found = _taps("all IN")
    assert _ways(found) == {
        ("stage 1", "two-track 1", ("Vox",)): vox + 20,
        ("stage 1", "two-track 2", ("Vox", "Sub")): vox + LAPTOP + 20,
        ("stage 1", "local out 5", ("Vox", "Sub")): vox + LAPTOP + 20,
        ("stage 1", "card out 17", ("Vox", "Sub")): vox + LAPTOP + BACK,
        ("stage 1", "card out 18", ("Vox",)): STAGE + 48 + BOX + BOX_BACK,
    }
    assert [one.loop for one in found[1].catches] == [None, "Sub", "Sub", "Sub", "Vox"]


def test_with_all_out_copies_pass_no_loop_and_returns_still_pass_their_own() -> None:
    """The desk keeps its sends alive while OUT, so that returns go on; no strip carries any of it."""
    dry = STAGE + GROUP
    found = _taps("all OUT")
    assert _ways(found) == {
        ("stage 1", "two-track 1", ()): dry + 20,
        ("stage 1", "two-track 2", ()): dry + 20,
        ("stage 1", "local out 5", ()): dry + 20,
        ("stage 1", "card out 17", ("Sub",)): dry + LAPTOP + BACK,
        ("stage 1", "card out 18", ("Vox",)): STAGE + 48 + BOX + BOX_BACK,
    }
    assert [one.loop for one in found[1].catches] == [None, "Sub", "Sub", "Sub", "Vox"]


@pytest.mark.parametrize("answer", ['"no"', "unknown"])
def test_returns_of_sends_that_die_with_the_insert_are_not_expected(answer: str) -> None:
    """Where the desk says no, or does not say, nothing is expected on the returns with all OUT."""
    dead = DESK_TEXT.replace('send_alive_when_out: "yes"', f"send_alive_when_out: {answer}")
    assert {port for _, port, _ in _ways(_taps("all OUT", dead))} == {"two-track 1", "two-track 2", "local out 5"}
    assert _ways(_taps("all IN", dead)) == _ways(_taps("all IN"))


# loops behind a mix


def test_a_loop_on_an_output_is_caught_on_its_return() -> None:
    """Out by the output's own hop, round the box, and from the return port onto the card; not out to the output."""
    take = "enter: [stage 1, stage 3-4], catch: [{port: card out 17-18, return: PA}]"
    found = _expected(_show(take, "[{strip: PA, way: output, unit: box, want: must}]"))
    time = STAGE + MAIN + 20 + 48 + COPY
    assert _ways(found) == {
        ("stage 1", "card out 17", ("PA",)): time,
        ("stage 1", "card out 18", ("PA",)): time,
        ("stage 3", "card out 17", ("PA",)): time,
        ("stage 4", "card out 18", ("PA",)): time,
    }
    assert [one.loop for one in found[1].catches] == ["PA", "PA"]


def test_a_return_of_a_strip_that_stays_in_is_no_way_at_all() -> None:
    """A strip without a loop has no return: nothing is expected there, and nothing fails."""
    _, expected = _expected(_show("enter: stage 3-4, catch: [{port: card out 17-18, return: Keys}]"))
    assert expected.ways == ()
    assert [one.loop for one in expected.catches] == [None, None]
