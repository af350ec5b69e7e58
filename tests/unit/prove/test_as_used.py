"""The pass with processors as used: what is declared is taken out, what a processor spoils is not judged."""

from __future__ import annotations

import pytest
from proof_show import DESK, proof_text

from proofs_heard import frames, proof_of, row
from sidetrip.application.stand_in import rig_of
from sidetrip.model.outboard import PARAMETERS
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect
from sidetrip.prove.limits import SPOILT
from sidetrip.rig.network import with_box
from sidetrip.showfile.read import read_desk, read_show


def as_used(chain: str) -> tuple[Plan, Expected]:
    """Return the plan of two loops, the second with a chain, and its take with processors as used."""
    text = proof_text(2, 1, reference=True).replace("    reference:", "    processors: as used\n    reference:")
    text = text.replace("unit: laptop}", "unit: laptop, chain: used}") + f"chains: {{used: {chain}}}\n"
    plan = make_plan(read_show(text, "show.yaml").show, read_desk(DESK.read_text("utf-8"), "desk.yaml"))
    return plan, expect(plan, plan.show.takes[0])


@pytest.mark.parametrize(
    "eq",
    [
        "low_cut_hz: 100",
        "high_cut_hz: 12000",
        "bands: [{hz: 1000, db: 6, q: 2}]",
        "bands: [{hz: 250, db: -6, shape: low shelf}, {hz: 4000, db: 4, shape: high shelf}]",
    ],
)
def test_a_declared_equaliser_leaves_delay_and_response_as_they_are(eq: str) -> None:
    """At most 0.05 frame, and a response that passes: its phase and level are taken out."""
    plan, expected = as_used(f"[{{eq: {{{eq}}}}}]")
    proof = proof_of(plan, expected, rig_of(plan, expected, 48_000))
    loop = next(leg for leg in proof.legs if leg.unit == "laptop").loop
    assert frames(proof, loop) == pytest.approx(plan.line_map.loop(loop).delay.low * 48_000, abs=0.05)
    assert {row(proof, loop, question).verdict for question in ("delay", "polarity", "response")} == {"pass"}


def test_an_equaliser_that_is_not_the_declared_one_says_so() -> None:
    """A chain that declares a bell and plays none fails on response."""
    plan, expected = as_used("[{eq: {bands: [{hz: 1000, db: 6, q: 2}]}}]")
    rig = rig_of(plan, expected, 48_000)
    from dataclasses import replace

    for number, box in enumerate(rig.boxes):
        rig = with_box(rig, number, replace(box, processors=()))
    proof = proof_of(plan, expected, rig)
    loop = next(leg for leg in proof.legs if leg.unit == "laptop").loop
    assert row(proof, loop, "response").verdict == "fail"


def test_a_compressor_as_used_is_not_blamed_for_compressing() -> None:
    """Gain, dynamics and distortion cannot be told and say why; delay with its look-ahead and polarity pass."""
    plan, expected = as_used("[{compressor: {threshold_db: -30, ratio: 4, lookahead_frames: 64}}]")
    proof = proof_of(plan, expected, rig_of(plan, expected, 48_000))
    loop = next(leg for leg in proof.legs if leg.unit == "laptop").loop
    assert {row(proof, loop, question).verdict for question in ("gain", "dynamics", "distortion")} == {"cannot tell"}
    assert {row(proof, loop, question).verdict for question in ("delay", "polarity")} == {"pass"}
    assert "compressor" in row(proof, loop, "gain").because


def test_every_kind_of_processor_has_its_line() -> None:
    """The table of what each kind takes away knows every kind that a chain may hold."""
    assert set(SPOILT) == set(PARAMETERS)
