"""Takes played through the stand-in, for tests of what is proven by them."""

from __future__ import annotations

from collections.abc import Sequence

from proof_show import InMemory, proof_plan, signal_for

from sidetrip.application.stand_in import rig_of
from sidetrip.plan.planner import Plan
from sidetrip.prove.expect import Expected
from sidetrip.prove.measure import NotHeard, measure
from sidetrip.prove.proof import LegProof, Proof, Row
from sidetrip.prove.verdict import prove
from sidetrip.rig.network import Rig
from sidetrip.rig.run import run

WHEN = "2026-11-25T18:00:00+00:00"


def stand_in(loops: int = 4, noise_dbfs: float = -112.0, reference: bool = True) -> tuple[Plan, Expected, Rig]:
    """Return a show made for proving with the rig that answers it."""
    plan, expected = proof_plan(loops, reference=reference)
    return plan, expected, rig_of(plan, expected, 48_000, noise_dbfs)


def heard(
    plan: Plan, expected: Expected, rig: Rig, seed: int = 1, when: str = WHEN, earlier: Sequence[Proof] = ()
) -> Proof | NotHeard:
    """Play the take, record it on the rig, and prove it."""
    signal, sent = signal_for(len(expected.entries))
    recorded = run(rig, sent, seed)
    tracks = [catch.track for catch in expected.catches]
    reference = None if expected.reference is None else expected.reference[1]
    captured = measure(InMemory(recorded.samples, recorded.rate_hz), signal, tracks, reference, plain=expected.plain)
    if isinstance(captured, NotHeard):
        return captured
    return prove(plan, expected, captured, when=when, recording=("take.wav",), earlier=earlier)


def proof_of(
    plan: Plan, expected: Expected, rig: Rig, seed: int = 1, when: str = WHEN, earlier: Sequence[Proof] = ()
) -> Proof:
    """Return the proof of a take that must be heard."""
    proof = heard(plan, expected, rig, seed, when, earlier)
    assert isinstance(proof, Proof), proof
    return proof


def leg(proof: Proof, loop: str, side: str = "") -> LegProof:
    """Return one leg of a proof."""
    return next(one for one in proof.legs if (one.loop, one.side) == (loop, side))


def row(proof: Proof, loop: str, question: str, side: str = "") -> Row:
    """Return the row of one question about a loop."""
    found = leg(proof, loop, side).row(question)
    assert found is not None, question
    return found


def frames(proof: Proof, loop: str) -> float | None:
    """Return the measured delay of a loop in frames."""
    delay = leg(proof, loop).delay_s
    return None if delay is None else delay * proof.rate_hz
