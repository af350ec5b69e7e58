"""Takes with all loops OUT: the strips go on dry, what leaks is found, and IN less OUT is the loop's time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import pytest

from proofs_heard import leg, proof_of, row
from showtext import desk, small
from sidetrip.application.stand_in import rig_of
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect, loop_time
from sidetrip.prove.proof import Proof
from sidetrip.prove.remarks import proof_findings
from sidetrip.rig.network import Feed, Rig, with_box, with_feeds
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show

RATE = 48_000
EARLIER, LATER = "2026-11-25T17:00:00+00:00", "2026-11-25T18:00:00+00:00"
_CATCHES = (
    "{port: card out 1, dry: stage 1}, {port: two-track 1-2, strip: Main, tap: after insert}, "
    "{port: local out 5, strip: Sub}"
)


@cache
def _planned(
    state: str = "all OUT", *, enter: str = "stage 1, stage 3-4", catches: str = _CATCHES, more: str = ""
) -> tuple[Plan, Expected, Rig]:
    """Return a show with a group's loop ahead of the main one, a take that catches both strips, and its rig."""
    take = f"{{name: '{state}', state: {state}, enter: [{enter}], catch: [{catches}], reference: card out 1{more}}}"
    text = small(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Sub]}, {name: Keys, ch: 3, port: stage 3-4, to: [Main]}]",
        mixes="[{name: Main, kind: main, width: stereo}, {name: Sub, kind: group, width: mono, to: [Main]}]",
        units="[{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, "
        "measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}, "
        "{buffer: 128, rate: 48000, round_trip_frames: 459}]}, "
        "{name: box, kind: hardware, out: local out 13, back: local in 29, delay_ms: 9.5}]",
        requests="[{strip: Main, unit: laptop, want: must}, {strip: Sub, unit: box, want: must}]",
        takes=f"[{take}]",
    )
    show = read_show(text, "show.yaml").show
    assert [str(one) for one in check_show(show, desk()) if one.severity == "error"] == []
    plan = make_plan(show, desk())
    expected = expect(plan, show.takes[0])
    return plan, expected, rig_of(plan, expected, RATE)


def _loop(loop: str) -> float:
    """Return the planned time of a loop in frames."""
    plan, _, _ = _planned()
    return loop_time(plan, loop, flat=True).low * RATE


@cache
def _in(enter: str = "stage 1, stage 3-4") -> Proof:
    """Return a proof of the same catches with all loops IN, an hour before."""
    plan, expected, rig = _planned("all IN", enter=enter)
    return proof_of(plan, expected, rig, when=EARLIER)


def _out(
    rig: Rig | None = None, earlier: Sequence[Proof] = (), enter: str = "stage 1, stage 3-4", catches: str = _CATCHES
) -> Proof:
    plan, expected, as_planned = _planned(enter=enter, catches=catches)
    return proof_of(plan, expected, rig or as_planned, when=LATER, earlier=earlier)


def _leaking(rig: Rig, track: int, loop: str, db: float) -> Rig:
    """Return the rig with a catch that still hears the loop, this loud beside the dry sound."""
    feeds = rig.catches[track].feeds
    later = tuple(
        replace(feed, gain_db=feed.gain_db + db, delay_frames=feed.delay_frames + _loop(loop)) for feed in feeds
    )
    return with_feeds(rig, track, (*feeds, *later))


LEGS = (("Main", "left", 1), ("Main", "right", 2), ("Sub", "", 3))
"""Loop, side and track of each copy behind an insert."""


def test_with_all_out_the_dry_path_passes_and_nothing_is_claimed() -> None:
    """On a clean rig every strip goes on, no leak is found, and no loop has a time."""
    proof = _out()
    assert [(one.loop, one.side) for one in proof.legs] == [(loop, side) for loop, side, _ in LEGS]
    for loop, side, _ in LEGS:
        assert row(proof, loop, "dry path", side).verdict == "pass"
        assert row(proof, loop, "leak with OUT", side).verdict == "pass"
        assert row(proof, loop, "leak with OUT", side).measured is None
        assert leg(proof, loop, side).delay_s is None
    assert [finding for finding in proof_findings(proof) if finding.code != "proof-blind"] == []


@pytest.mark.parametrize(("db", "verdicts"), [(-60, ("look", "fail")), (-40, ("fail",)), (-75, ("look",))])
def test_a_leak_is_found_with_its_level(db: float, verdicts: tuple[str, ...]) -> None:
    """What still comes back by a loop is told beside the dry sound, on its own strips and on no other."""
    _, _, rig = _planned()
    proof = _out(_leaking(_leaking(rig, 1, "Main", db), 3, "Sub", db))
    for loop, side in (("Main", "left"), ("Sub", "")):
        found = row(proof, loop, "leak with OUT", side)
        assert found.measured == pytest.approx(db, abs=1.5)
        assert found.verdict in verdicts
        assert f"{_loop(loop):.0f} frames later" in found.because
        assert "a return strip is open" in found.because
        assert row(proof, loop, "dry path", side).verdict == "pass"
    assert row(proof, "Main", "leak with OUT", "right").measured is None
    assert {finding.where for finding in proof_findings(proof) if finding.code != "proof-blind"} == {
        "loop Main left",
        "loop Sub",
    }


def test_a_leak_at_another_time_than_the_planned_is_found_too() -> None:
    """The loop may be later than planned; a leak that is loud enough is found all the same."""
    _, _, rig = _planned()
    feeds = rig.catches[3].feeds
    late = tuple(replace(feed, gain_db=-45, delay_frames=feed.delay_frames + _loop("Sub") + 77) for feed in feeds)
    found = row(_out(with_feeds(rig, 3, (*feeds, *late))), "Sub", "leak with OUT")
    assert found.measured == pytest.approx(-45, abs=1.5)
    assert f"{_loop('Sub') + 77:.0f} frames later" in found.because


def test_a_take_that_hears_too_little_claims_no_tightness() -> None:
    """In noise, no leak found is no proof that there is none."""
    _, _, rig = _planned()
    noisy = replace(rig, catches=tuple(replace(catch, noise_dbfs=-40) for catch in rig.catches))
    found = row(_out(noisy), "Sub", "leak with OUT")
    assert found.verdict == "cannot tell"
    assert "hears nothing below" in found.because


def test_a_strip_that_is_dead_with_out_fails() -> None:
    """Nothing on a strip's copy: the dry path fails, and the rest cannot be told."""
    _, _, rig = _planned()
    proof = _out(with_feeds(rig, 3, ()), earlier=(_in(),))
    assert row(proof, "Sub", "dry path").verdict == "fail"
    assert row(proof, "Sub", "leak with OUT").verdict == "cannot tell"
    assert row(proof, "Sub", "IN less OUT").verdict == "cannot tell"
    assert row(proof, "Main", "dry path", "left").verdict == "pass"


# in less out


@pytest.mark.parametrize("enter", ["stage 1, stage 3-4", "stage 3-4, stage 1"])
def test_in_less_out_is_the_loops_time(enter: str) -> None:
    """Told by what passes this loop and no other, whatever was entered first."""
    proof = _out(earlier=(_in(enter),), enter=enter)
    for loop, side, _ in LEGS:
        found = row(proof, loop, "IN less OUT", side)
        assert found.verdict == "pass"
        assert found.measured == pytest.approx(_loop(loop), abs=1)
        assert found.expected == pytest.approx(_loop(loop))


def test_a_desk_that_makes_up_for_the_loop_is_found() -> None:
    """A strip that comes as late when OUT as when IN: the difference is none, and that is said."""
    _, _, rig = _planned()
    feeds = tuple(replace(feed, delay_frames=feed.delay_frames + _loop("Sub")) for feed in rig.catches[3].feeds)
    found = row(_out(with_feeds(rig, 3, feeds), earlier=(_in(),)), "Sub", "IN less OUT")
    assert found.verdict == "fail"
    assert found.measured == pytest.approx(0, abs=0.01)
    assert "makes up for the loop" in found.because


def test_the_latest_proof_is_compared() -> None:
    """An earlier one that found something else does not count any more."""
    plan, expected, rig = _planned("all IN")
    number = next(number for number, box in enumerate(rig.boxes) if box.name == "Sub 1")
    late = with_box(rig, number, replace(rig.boxes[number], delay_frames=rig.boxes[number].delay_frames + 50))
    other = proof_of(plan, expected, late, when="2026-11-25T16:00:00+00:00")
    assert row(_out(earlier=(other, _in())), "Sub", "IN less OUT").verdict == "pass"
    assert row(_out(earlier=(_in(), other)), "Sub", "IN less OUT").measured == pytest.approx(_loop("Sub") + 50, abs=0.1)


@pytest.mark.parametrize(
    "change",
    [
        {"state": "all OUT"},
        {"processors": "as used"},
        {"rate_hz": 44_100},
        {"buffers": (("box", None), ("laptop", 128))},
        {"heard": ()},
    ],
)
def test_without_a_proof_to_compare_with_it_cannot_be_told(change: dict[str, object]) -> None:
    """Another state, pass, rate or buffer, or other catches, are no comparison; neither is none at all."""
    for earlier in ((), (replace(_in(), **change),)):  # type: ignore[arg-type]  # fields of a proof
        found = row(_out(earlier=earlier), "Sub", "IN less OUT")
        assert found.verdict == "cannot tell"
        assert found.because == "there is no proof with the loops IN, of the same catch, to compare with"


def test_without_a_reference_there_is_nothing_to_take_away() -> None:
    """An earlier proof without delays gives no difference."""
    bare = replace(_in(), heard=tuple(replace(one, delay_s=None) for one in _in().heard))
    found = row(_out(earlier=(bare,)), "Sub", "IN less OUT")
    assert (found.verdict, found.because) == ("cannot tell", "no reference in one of the two takes")


def test_a_loop_that_is_only_heard_behind_another_has_no_difference_of_its_own() -> None:
    """With the voice alone, the main loop's copy is late by both loops: that is no proof of either."""
    enter = "stage 1"
    proof = _out(earlier=(_in(enter),), enter=enter)
    assert row(proof, "Sub", "IN less OUT").verdict == "pass"
    found = row(proof, "Main", "IN less OUT", "left")
    assert found.verdict == "cannot tell"
    assert "passes another loop before it" in found.because


# returns, and copies before the insert


def test_a_return_is_taken_before_the_insert_and_tells_nothing_of_out() -> None:
    """Its sound goes on as the send stays alive; only a copy behind the insert could show a leak."""
    catches = "{port: card out 1, dry: stage 1}, {port: card out 17-18, return: Main}"
    proof = _out(catches=catches)
    for question in ("leak with OUT", "IN less OUT"):
        found = row(proof, "Main", question, "left")
        assert (found.verdict, found.because) == (
            "cannot tell",
            "its return is caught before the insert; catch a copy of the strip behind it",
        )
    assert [name for name, _ in proof.unproven] == ["Sub"]


def test_a_copy_behind_the_insert_goes_before_the_return() -> None:
    """With both caught, the copy is asked; a copy before the insert is of no loop at all."""
    catches = (
        "{port: card out 1, dry: stage 1}, {port: card out 29, return: Sub}, {port: local out 5, strip: Sub}, "
        "{port: two-track 1-2, strip: Main, tap: before insert}"
    )
    proof = _out(catches=catches)
    assert [(one.loop, one.port) for one in proof.legs] == [("Sub", "local out 5")]
    assert row(proof, "Sub", "leak with OUT").verdict == "pass"
    assert [name for name, _ in proof.unproven] == ["Main"]


def test_the_rig_with_all_out_has_no_loops_in_its_strips() -> None:
    """Copies of strips are fed by what is entered, straight; a leak is a feed more."""
    _, expected, rig = _planned()
    assert [catch.loop for catch in expected.catches] == [None, "Main", "Main", "Sub"]
    assert rig.boxes == ()
    assert [feed.source for feed in rig.catches[3].feeds] == [("entry", 0)]
    assert rig.catches[3].feeds == (Feed(("entry", 0), 0.0, 32 + 4 + 20),)
