"""Loops behind loops: times told one through the other, sides, and whose fault is whose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from proofs_heard import leg, proof_of, row
from showtext import DEMO_TEXT, desk, small
from sidetrip.application.stand_in import legs_of, rig_of
from sidetrip.dsp.filters import biquad
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect
from sidetrip.prove.proof import Proof
from sidetrip.rig.boxes import Compressor, Filter, Saturator
from sidetrip.rig.network import Box, Rig, drifting, with_box, with_feeds, with_processor
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show

LAPTOP, BOX = 349.0, 44.0
"""Both units' loops in frames with their chains bypassed: the laptop's by aux and card, the compressor's by jacks."""

_THROUGH = (
    "  - name: through\n    enter: stage 17\n    catch:\n      - {port: card out 1-2, return: Main}\n"
    "      - {port: card out 3, return: Lamplighter}\n      - {port: card out 17, dry: stage 17}\n"
    "    reference: card out 17\n\n"
)
_BELL = Filter((tuple(biquad("bell", 1000, 48_000, q=1, db=3)),))
_UNITS = (
    "[{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, "
    "measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}]"
)


@cache
def _rig(text: str = DEMO_TEXT) -> tuple[Plan, Expected, Rig]:
    show = read_show(text, "show.yaml").show
    assert [str(one) for one in check_show(show, desk()) if one.severity == "error"] == []
    plan = make_plan(show, desk())
    expected = expect(plan, show.takes[0])
    return plan, expected, rig_of(plan, expected, 48_000)


def _through() -> tuple[Plan, Expected, Rig]:
    """Return the demo with a take in which nothing enters but the lead voice, so that all passes its loop."""
    start, end = DEMO_TEXT.index("  - name: loops\n"), DEMO_TEXT.index("probe:")
    return _rig(DEMO_TEXT[:start] + _THROUGH + DEMO_TEXT[end:])


def _box(rig: Rig, name: str) -> tuple[int, Box]:
    return next((number, box) for number, box in enumerate(rig.boxes) if box.name == name)


def _with(rig: Rig, name: str, **changes: object) -> Rig:
    number, box = _box(rig, name)
    return with_box(rig, number, replace(box, **changes))  # type: ignore[arg-type]  # fields of a box


def _later(rig: Rig, name: str, frames: float) -> Rig:
    return _with(rig, name, delay_frames=_box(rig, name)[1].delay_frames + frames)


def _frames(proof: Proof) -> dict[str, float | None]:
    return {one.name: None if one.delay_s is None else round(one.delay_s * proof.rate_hz, 2) for one in proof.legs}


def _failing(proof: Proof) -> set[tuple[str, str]]:
    """Return the legs and questions that fail or want a look."""
    return {(one.name, item.question) for one in proof.legs for item in one.rows if item.verdict in ("fail", "look")}


# times


def test_the_stand_in_of_the_demo_is_as_planned() -> None:
    """Every loop gives the plan's time, and nothing fails; the boxes are the loops' legs."""
    plan, expected, rig = _rig()
    proof = proof_of(plan, expected, rig)
    assert _frames(proof) == {
        "Bass": BOX,
        "Lamplighter": LAPTOP,
        "Main left": LAPTOP,
        "Main right": LAPTOP,
        "Narrator": LAPTOP,
    }
    assert proof.verdict == "pass"
    assert [box.name for box in rig.boxes] == [f"{loop} {side + 1}" for loop, side in legs_of(expected)]


@pytest.mark.parametrize(("late", "later"), [("Lamplighter 1", "Main"), ("Main 1", "Lamplighter")])
def test_the_main_loop_is_told_through_the_voice(late: str, later: str) -> None:
    """What the voice's loop takes is taken off: each gets its own time, however late the other is."""
    plan, expected, rig = _through()
    assert {way.loops for catch in (0, 1) for way in expected.into(catch)} == {("Lamplighter", "Main")}
    proof = proof_of(plan, expected, _later(rig, late, 100.5))
    wanted = {"Lamplighter": LAPTOP, "Main left": LAPTOP, "Main right": LAPTOP}
    wanted["Lamplighter" if late[0] == "L" else "Main left"] += 100.5
    assert _frames(proof) == wanted
    assert {name.split(" ", maxsplit=1)[0] for name, _ in _failing(proof)} == {late.split(" ", maxsplit=1)[0]}
    assert row(proof, later, "delay", "right" if later == "Main" else "").verdict == "pass"


def test_a_loop_that_is_only_heard_behind_another_unknown_one_is_not_told() -> None:
    """Without the voice's own return nobody can say how the time is shared out."""
    start, end = DEMO_TEXT.index("  - name: loops\n"), DEMO_TEXT.index("probe:")
    take = _THROUGH.replace("      - {port: card out 3, return: Lamplighter}\n", "")
    plan, expected, rig = _rig(DEMO_TEXT[:start] + take + DEMO_TEXT[end:])
    proof = proof_of(plan, expected, rig)
    assert _frames(proof) == {"Main left": None, "Main right": None}
    assert row(proof, "Main", "delay", "left").because == "it is only heard together with Lamplighter"


def test_the_way_with_the_fewest_loops_tells_even_where_it_is_softer() -> None:
    """Overheads 20 dB down still tell of the main loop by themselves, and an inverted voice is not blamed on it."""
    plan, expected, rig = _rig()
    for name in ("Main 1", "Main 2"):
        feeds = _box(rig, name)[1].feeds
        soft = tuple(replace(feed, gain_db=-20) if feed.source[0] == "entry" else feed for feed in feeds)
        rig = _with(rig, name, feeds=soft)
    proof = proof_of(plan, expected, _with(rig, "Lamplighter 1", inverted=True))
    assert _failing(proof) == {("Lamplighter", "polarity"), ("Main left", "gain"), ("Main right", "gain")}
    assert row(proof, "Main", "gain", "left").measured == pytest.approx(-20, abs=0.01)


# sides


def test_crossed_sides_are_named_so() -> None:
    """Left and right of the main return exchanged: both legs say it, and give no time."""
    plan, expected, rig = _rig()
    left, right = (next(one.track for one in expected.catches if str(one.port) == f"card out {n}") for n in (17, 18))
    crossed = with_feeds(with_feeds(rig, left, rig.catches[right].feeds), right, rig.catches[left].feeds)
    proof = proof_of(plan, expected, crossed)
    for side in ("left", "right"):
        found = row(proof, "Main", "right return", side)
        assert (found.verdict, found.because) == ("fail", "Left and right are crossed")
        assert leg(proof, "Main", side).heard == "Main"
        assert leg(proof, "Main", side).delay_s is None
    assert _failing(proof) == {("Main left", "right return"), ("Main right", "right return")}


@pytest.mark.parametrize(("late", "verdict"), [(0.05, "pass"), (0.3, "look"), (1.0, "fail"), (-1.0, "fail")])
def test_sides_that_are_not_together_are_told_on_the_right(late: float, verdict: str) -> None:
    """One frame between left and right fails, earlier as well as later; the level row stays."""
    plan, expected, rig = _rig()
    proof = proof_of(plan, expected, _later(rig, "Main 2", late))
    found = row(proof, "Main", "sides", "right")
    assert (found.verdict, found.unit) == (verdict, "frames")
    assert found.measured == pytest.approx(abs(late), abs=1e-3)
    assert row(proof, "Main", "sides level", "right").verdict == "pass"
    assert leg(proof, "Main", "left").row("sides") is None


def test_sides_that_are_not_alike_loud_are_told_on_the_right() -> None:
    """A dB between the sides moves the middle; their time row stays."""
    plan, expected, rig = _rig()
    proof = proof_of(plan, expected, _with(rig, "Main 2", gain_db=-1))
    found = row(proof, "Main", "sides level", "right")
    assert found.verdict == "fail"
    assert found.measured == pytest.approx(1.0, abs=1e-3)
    assert row(proof, "Main", "sides", "right").verdict == "pass"


# whose fault


def test_a_saturator_in_the_voice_is_not_blamed_on_the_main_loop() -> None:
    """Its distortion comes back with the main return too, which says so and fails in nothing."""
    plan, expected, rig = _rig()
    proof = proof_of(plan, expected, with_processor(rig, _box(rig, "Lamplighter 1")[0], Saturator(20)))
    assert row(proof, "Lamplighter", "distortion").verdict == "fail"
    for side in ("left", "right"):
        found = row(proof, "Main", "distortion", side)
        assert (found.verdict, found.because) == ("cannot tell", "that of Lamplighter passes here too")
    assert {name for name, _ in _failing(proof)} == {"Lamplighter"}
    assert _frames(proof)["Main left"] == pytest.approx(LAPTOP, abs=0.02)


def test_a_saturator_in_the_main_loop_is_its_own() -> None:
    """The voice's return is taken before it and stays clean."""
    plan, expected, rig = _rig()
    proof = proof_of(plan, expected, with_processor(rig, _box(rig, "Main 1")[0], Saturator(20)))
    assert row(proof, "Main", "distortion", "left").verdict == "fail"
    assert {name for name, _ in _failing(proof)} <= {"Main left", "Main right"}


@pytest.mark.parametrize(
    ("question", "changed"),
    [
        ("polarity", lambda rig: _with(rig, "Lamplighter 1", inverted=True)),
        ("dynamics", lambda rig: with_processor(rig, _box(rig, "Lamplighter 1")[0], Compressor(-30, 2))),
        ("response", lambda rig: with_processor(rig, _box(rig, "Lamplighter 1")[0], _BELL)),
        ("clock", lambda rig: drifting(rig, _box(rig, "Lamplighter 1")[0], 50)),
    ],
)
def test_what_is_only_heard_through_the_voice_is_the_voices_fault(question: str, changed: Callable[[Rig], Rig]) -> None:
    """Inverted, compressed, filtered or drifting ahead of the main loop: its row cannot tell, and names the voice."""
    plan, expected, rig = _through()
    proof = proof_of(plan, expected, changed(rig))
    assert row(proof, "Lamplighter", question).verdict == "fail"
    for side in ("left", "right"):
        found = row(proof, "Main", question, side)
        assert (found.verdict, found.because) == ("cannot tell", "that of Lamplighter passes here too")
    assert {name for name, _ in _failing(proof)} == {"Lamplighter"}


def test_a_voice_that_does_not_come_through_is_missed_behind_it() -> None:
    """With a dead send of the voice the main return wants a look at most, and names whose failure it is."""
    plan, expected, rig = _rig()
    proof = proof_of(plan, expected, _with(rig, "Lamplighter 1", dead=True))
    assert row(proof, "Lamplighter", "right return").verdict == "fail"
    found = row(proof, "Main", "right return", "left")
    assert found.verdict == "look"
    assert found.because == "stage 17 should pass here too and is not heard, as Lamplighter fails"
    assert _frames(proof)["Main left"] == LAPTOP


# several ways


def _parallel(keys: bool) -> tuple[Plan, Expected, Rig]:
    """Return a voice that goes to the main loop straight and through a group's loop; with keys that go straight."""
    more = ", {name: Keys, ch: 3, port: stage 3-4, to: [Main]}" if keys else ""
    take = "[{name: all, enter: [stage 1%s], catch: [{port: card out 1, dry: stage 1}, %s], reference: card out 1}]"
    catches = "{port: card out 9-10, return: Main}, {port: card out 11, return: Sub}"
    return _rig(
        small(
            inputs=f"[{{name: Vox, ch: 1, port: stage 1, to: [Main, Sub]}}{more}]",
            mixes="[{name: Main, kind: main, width: stereo}, {name: Sub, kind: group, width: mono, to: [Main]}]",
            units=_UNITS,
            requests="[{strip: Main, unit: laptop, want: must}, {strip: Sub, unit: laptop, want: must}]",
            takes=take % (", stage 3-4" if keys else "", catches),
        )
    )


def test_the_stand_in_takes_every_way() -> None:
    """Straight and through the group: the main loop's box is fed both, 32 + 8 + 1 and 4 + 4 - 1 - 3 frames later."""
    _, _, rig = _parallel(keys=False)
    number, sub = _box(rig, "Sub 1")
    assert [(feed.source, feed.delay_frames) for feed in sub.feeds] == [(("entry", 0), 37.0)]
    for name in ("Main 1", "Main 2"):
        assert [(feed.source, feed.delay_frames) for feed in _box(rig, name)[1].feeds] == [
            (("entry", 0), 41.0),
            (("box", number), 4.0),
        ]


@pytest.mark.parametrize("keys", [False, True])
def test_what_arrives_by_several_ways_fails_nothing(keys: bool) -> None:
    """Two equal copies 349 frames apart have no one time; another entry that comes one way only tells it, if any."""
    plan, expected, rig = _parallel(keys)
    proof = proof_of(plan, expected, rig)
    assert _failing(proof) == set()
    assert _frames(proof)["Sub"] == LAPTOP
    if keys:
        assert _frames(proof)["Main left"] == LAPTOP
        assert row(proof, "Main", "dropouts", "left").verdict == "pass"
    else:
        assert _frames(proof)["Main left"] is None
        assert "several ways" in row(proof, "Main", "dropouts", "left").because
