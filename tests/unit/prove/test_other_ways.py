"""Loops in-line and by send-and-strip, proven like inserts: where they are caught, and how late they are."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from proofs_heard import leg, proof_of, row
from showtext import desk, small
from sidetrip.application.stand_in import rig_of
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect, time_of
from sidetrip.rig.network import Rig
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show

ROUND_TRIP = 331
_UNITS = (
    "[{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, "
    f"measured: [{{buffer: 64, rate: 48000, round_trip_frames: {ROUND_TRIP}}}]}}]"
)


@cache
def _taken(state: str = "all IN") -> tuple[Plan, Expected, Rig]:
    """Return a voice in-line, a plate beside a drum, and a take that catches both, with a copy of the main mix."""
    catch = (
        "[{port: card out 9, dry: stage 9}, {port: card out 17, return: Voice}, "
        "{port: card out 23-24, return: Plate send}, {port: two-track 1-2, strip: Main}]"
    )
    text = small(
        units=_UNITS,
        inputs="[{name: Voice, ch: 1, port: stage 1, to: [Main]}, {name: Drum, ch: 9, port: stage 9, to: [Main]}, "
        "{name: Plate back, port: aux in 7-8, to: [Main]}]",
        mixes="[{name: Plate send, kind: aux, width: stereo, from: {Drum: {db: 0}}}, "
        "{name: Main, kind: main, width: stereo}]",
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Plate, from: Plate send, port: aux out 7-8}]",
        requests="[{strip: Voice, unit: laptop, want: must, way: in-line}, "
        "{strip: Plate send, unit: laptop, want: must, way: send-and-strip, back_on: Plate back}]",
        takes=f"[{{name: all, enter: [stage 1, stage 9], catch: {catch}, reference: card out 9, state: {state}}}]",
    )
    show = read_show(text, "show.yaml").show
    assert [str(one) for one in check_show(show, desk()) if one.severity == "error"] == []
    plan = make_plan(show, desk())
    assert {loop.way for loop in plan.allocation.loops} == {"in-line", "send-and-strip"}
    expected = expect(plan, show.takes[0])
    return plan, expected, rig_of(plan, expected, 48_000)


def test_the_returns_are_expected_where_they_come_back() -> None:
    """Voice on the card, before its strip; the plate's return before its strip; in the mix behind both."""
    plan, expected, _ = _taken()
    plate = next(catch for catch in expected.catches if catch.caught.return_ == "Plate send")
    (way,) = expected.into(plate.number)
    # stage 32, to the aux mix 8, out 20; card 5, round trip, card 5; copied to the recorder 5
    assert time_of(plan, way, flat=True).low * 48_000 == pytest.approx(32 + 8 + 20 + 5 + ROUND_TRIP + 5 + 5)
    main = next(catch for catch in expected.catches if catch.caught.strip == "Main")
    assert {way.loops for way in expected.into(main.number)} == {("Voice",), (), ("Plate send",)}


def test_both_are_told_on_a_rig_that_is_as_planned() -> None:
    """The plate has its own time; the return of the voice is right, but its way to the recorder is unknown."""
    plan, expected, rig = _taken()
    proof = proof_of(plan, expected, rig)
    assert [item.question for one in proof.legs for item in one.rows if item.verdict == "fail"] == []
    assert (leg(proof, "Plate send", "left").delay_s or 0) * 48_000 == pytest.approx(5 + ROUND_TRIP + 5, abs=1e-3)
    assert row(proof, "Voice", "right return").verdict == "pass"
    assert row(proof, "Voice", "delay").because == "a delay of the desk on the way is unknown"


def test_a_plate_that_is_late_is_found() -> None:
    """Ten frames more in the unit fail the delay of both of its legs, and of nothing else."""
    plan, expected, rig = _taken()
    late = replace(
        rig,
        boxes=tuple(
            replace(box, delay_frames=box.delay_frames + 10) if box.name.startswith("Plate") else box
            for box in rig.boxes
        ),
    )
    proof = proof_of(plan, expected, late)
    failing = {(one.name, item.question) for one in proof.legs for item in one.rows if item.verdict == "fail"}
    assert failing == {("Plate send left", "delay"), ("Plate send right", "delay")}


def test_all_out_the_plate_is_silent_and_the_voice_is_dry() -> None:
    """What comes back beside the dry sound is muted: no way leads through it; the voice's own way is dry."""
    _, expected, _ = _taken("all OUT")
    main = next(catch for catch in expected.catches if catch.caught.strip == "Main")
    assert {way.loops for way in expected.into(main.number)} == {()}
    assert {way.entry for way in expected.into(main.number)} == {0, 1}
