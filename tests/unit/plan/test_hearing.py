"""Copies of a source at a place, as they are listened to."""

from __future__ import annotations

import pytest

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import State
from sidetrip.plan.hearing import asked_for, heard_at, left_out
from sidetrip.plan.planner import Plan, make_plan
from smallshows import plain_desk, show_from

DESK = plain_desk()
TEXT = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main], hears: {singer: {m: 0.1, db: 0}}}
  - {ch: 2, name: Spare, port: stage 2, to: [Main], hears: {singer: {m: unknown, db: -10}}}
mixes:
  - {name: Main, kind: main, width: stereo}
  - {name: Low, kind: matrix, width: mono, from: {Main: {db: 0, tap: before insert}}}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Sub, from: Low, port: local out 3, crossover_hz: 100}
listeners: [{name: row F, hears: {PA: {m: 9, db: 0}, Sub: {m: 9, db: 0}}}]
chains: {c: [{eq: {}}]}
requests: [{strip: Main, chain: c, want: 9}]
"""


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the plan of a main with a sub that is taken before its loop."""
    return make_plan(show_from(TEXT, DESK), DESK)


def test_copies_come_in_order_with_their_crossovers(plan: Plan) -> None:
    """The sub plays under its crossover, the loudspeaker beside it above, and the loop makes the main later."""
    heard = heard_at(plan, "singer", "row F", plan.states[0])
    sub, main = (copy for copy in heard.usable)
    assert (sub.below_hz, sub.above_hz, main.below_hz, main.above_hz) == (100, None, None, 100)
    dry = heard_at(plan, "singer", "row F", State("all OUT", "all out", out=frozenset(plan.arrivals.loops)))
    gaps = [(max(c.late_s for c in own.usable) - min(c.late_s for c in own.usable)) * 48_000 for own in (heard, dry)]
    loop = plan.line_map.loop("Main").delay.high * 48_000
    assert abs(gaps[0] - loop) == pytest.approx(gaps[1], abs=1e-6)


def test_what_nobody_knows_is_left_out_and_named(plan: Plan) -> None:
    """A microphone at an unknown distance."""
    heard = heard_at(plan, "singer", "PA", plan.states[0])
    assert [copy.known for copy in heard.copies].count(False) == 1
    (finding,) = left_out([heard])
    assert (finding.code, "Spare" in finding.values) == ("delay-unknown", True)


def test_an_output_of_its_own_has_no_crossover_above(plan: Plan) -> None:
    """At the loudspeaker's own output there is nothing beside it."""
    assert {copy.above_hz for copy in heard_at(plan, "singer", "PA", plan.states[0]).copies} == {None}


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("singer", "names no source"),
        ("nobody@PA", "no such source"),
        ("singer@nowhere", "no such place"),
    ],
)
def test_wrong_names_are_findings(plan: Plan, words: str, what: str) -> None:
    """What was written, and what there is."""
    found = asked_for(plan, words)
    assert isinstance(found, Finding)
    assert what in found.what
    assert "singer" in found.remedy or "PA" in found.remedy
