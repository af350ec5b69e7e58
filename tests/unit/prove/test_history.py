"""Proofs beside earlier ones of the same kind: all values, and a word only where they differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from sidetrip.prove.history import alike, change_findings, changes
from sidetrip.prove.proof import LegProof, Proof

RATE = 48_000


def _leg(name: str, frames: float | None) -> LegProof:
    loop, _, side = name.partition(" ")
    delay = None if frames is None else frames / RATE
    return LegProof(loop, side, "laptop", "card out 17", (), (), delay, None, (0.0, None), loop)


def _proof(when: str, frames: Mapping[str, float | None]) -> Proof:
    """Return a proof that measured these loop legs, in frames."""
    return Proof(
        show="small",
        take="loops",
        state="all IN",
        processors="flat",
        when=when,
        recording=("take.wav",),
        rate_hz=RATE,
        buffers=(("laptop", 64),),
        reference="card out 7",
        clock_kind="one",
        clock_ppm=0.0,
        clock_error_ppm=0.0,
        start_s=0.0,
        tested_s=10.0,
        legs=tuple(_leg(name, value) for name, value in frames.items()),
        unproven=(),
        heard=(),
    )


def _at(minute: int, **frames: float | None) -> Proof:
    return _proof(f"2026-11-25T18:{minute:02}:00+00:00", frames)


def _delays(proof: Proof) -> dict[str, list[float]]:
    return {change.loop: [round(delay * RATE, 3) for delay in change.delays_s] for change in proof.changes}


# alike


@pytest.mark.parametrize(
    "other",
    [
        {"when": "2026-12-01T10:00:00+00:00"},
        {"recording": ("other.wav",)},
        {"reference": None},
        {"clock_ppm": 40.0},
        {"legs": ()},
        {"show": "small, renamed"},
    ],
)
def test_what_does_not_change_the_question_is_alike(other: dict[str, object]) -> None:
    """Another day, file, clock or reference asks the same."""
    proof = _at(0, Main=349.0)
    assert alike(proof, replace(proof, **other))  # type: ignore[arg-type]  # fields of a proof
    assert alike(replace(proof, **other), proof)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "other",
    [
        {"take": "other"},
        {"state": "all OUT"},
        {"processors": "as used"},
        {"rate_hz": 96_000},
        {"buffers": (("laptop", 128),)},
        {"buffers": ()},
    ],
)
def test_what_changes_the_delay_by_itself_is_another_question(other: dict[str, object]) -> None:
    """Take, state, processors, rate and buffers must agree; what is not alike is not compared."""
    proof = _at(1, Main=349.0)
    changed = replace(_at(0, Main=477.0), **other)  # type: ignore[arg-type]  # fields of a proof
    assert not alike(proof, changed)
    assert not alike(changed, proof)
    assert changes(proof, [changed]).changes == ()


# changes


def test_all_values_are_listed_the_latest_last() -> None:
    """Every earlier proof stands beside this one, with when it was, for each loop by itself."""
    earlier = [_at(0, Main=349.0, Vox=44.0), _at(1, Main=477.0, Vox=44.0), _at(2, Main=349.0, Vox=44.0)]
    proof = changes(_at(3, Main=605.0, Vox=44.0), earlier)
    assert _delays(proof) == {"Main": [349.0, 477.0, 349.0, 605.0], "Vox": [44.0] * 4}
    assert proof.changes[0].when == tuple(f"2026-11-25T18:0{minute}:00+00:00" for minute in range(4))
    assert proof.changes[0].spread_s * RATE == pytest.approx(256.0)
    assert replace(proof, changes=()) == _at(3, Main=605.0, Vox=44.0)


def test_sides_are_kept_apart() -> None:
    """The left leg is compared with the left."""
    earlier = [_proof("2026-11-25T18:00:00+00:00", {"Main left": 349.0, "Main right": 350.0})]
    now = _proof("2026-11-25T18:01:00+00:00", {"Main right": 351.0, "Main left": 349.0})
    assert _delays(changes(now, earlier)) == {"Main right": [350.0, 351.0], "Main left": [349.0, 349.0]}


def test_a_proof_without_a_delay_is_passed_over() -> None:
    """What could not be told then or now is no value; one value alone is no change."""
    earlier = [_at(0, Main=349.0), _at(1, Main=None), _at(2, Vox=44.0)]
    assert _delays(changes(_at(3, Main=350.0, Vox=None), earlier)) == {"Main": [349.0, 350.0]}
    assert changes(_at(3, Main=None, Sub=1.0), earlier).changes == ()


def test_only_what_was_before_counts() -> None:
    """A proof is not compared with itself or with later ones."""
    now = _at(1, Main=349.0)
    assert changes(now, [now, _at(2, Main=477.0)]).changes == ()
    assert _delays(changes(now, [_at(0, Main=477.0), now])) == {"Main": [477.0, 349.0]}


def test_time_zones_do_not_change_the_order() -> None:
    """18:30 in one zone was before 18:00 in the next; a proof whose time is no time comes before all."""
    first = _proof("2026-11-25T18:30:00+01:00", {"Main": 349.0})
    second = _proof("2026-11-25T18:00:00+00:00", {"Main": 477.0})
    assert _delays(changes(second, [first])) == {"Main": [349.0, 477.0]}
    assert changes(first, [second]).changes == ()
    assert _delays(changes(second, [_proof("some day", {"Main": 1.0})])) == {"Main": [1.0, 477.0]}
    assert _proof("2026-11-25T18:00:00", {}).moment_s == second.moment_s


def test_a_loop_on_another_unit_or_with_another_chain_is_another() -> None:
    """What changed by plan is no change of the device."""
    before, after = _at(0, Main=349.0), _at(1, Main=477.0)
    unit = replace(after, legs=tuple(replace(leg, unit="valve compressor") for leg in after.legs))
    chain = replace(after, legs=tuple(replace(leg, chain="voice") for leg in after.legs))
    assert changes(unit, [before]).changes == ()
    assert changes(chain, [before]).changes == ()
    assert _delays(changes(after, [before])) == {"Main": [349.0, 477.0]}


# what is said


@pytest.mark.parametrize(("frames", "said"), [(349.0, 0), (349.19, 0), (348.81, 0), (349.21, 1), (348.5, 1)])
def test_nothing_is_said_within_a_fifth_of_a_frame(frames: float, said: int) -> None:
    """What noise makes of a delay is no change; more is, earlier as well as later."""
    found = change_findings(changes(_at(1, Main=frames), [_at(0, Main=349.0)]))
    assert [finding.code for finding in found] == ["proof-changed"] * said


def test_what_is_said_names_every_value_and_the_spread() -> None:
    """All values, how many proofs, the spread in frames and ms, and no mean."""
    earlier = [_at(0, Main=1024.0, Vox=44.0), _at(1, Main=1280.0, Vox=44.0)]
    (finding,) = change_findings(changes(_at(2, Main=768.0, Vox=44.1), earlier))
    assert finding.where == "loop Main"
    assert finding.values == "1024.0, 1280.0, 768.0 frames at 3 proofs, spread 512.0 frames, 10.67 ms"
    assert "mean" not in str(finding)


def test_slow_wandering_adds_up() -> None:
    """Small steps that each mean nothing are said once first and last are far enough apart."""
    proofs = [_at(minute, Main=349.0 + 0.1 * minute) for minute in range(4)]
    assert change_findings(changes(proofs[1], proofs[:1])) == []
    (finding,) = change_findings(changes(proofs[3], proofs[:3]))
    assert "spread 0.3 frames" in finding.values


def test_a_proof_alone_says_nothing() -> None:
    """Without earlier proofs there are no changes."""
    proof = changes(_at(0, Main=349.0), [])
    assert proof.changes == ()
    assert change_findings(proof) == []
