"""Proofs of the same thing on other days, or at other openings of the device."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sidetrip.findings import Finding
from sidetrip.prove.proof import Change, LegProof, Proof

_SAME_FRAMES = 0.2


def alike(one: Proof, other: Proof) -> bool:
    """Tell whether two proofs asked the same: take, state, processors, rate and buffers."""
    return (one.take, one.state, one.processors, one.rate_hz, one.buffers) == (
        other.take,
        other.state,
        other.processors,
        other.rate_hz,
        other.buffers,
    )


def changes(proof: Proof, earlier: Sequence[Proof]) -> Proof:
    """Return the proof with the delays that earlier ones of the same kind found beside its own."""
    kin = [other for other in earlier if alike(other, proof) and other.moment_s < proof.moment_s]
    found: list[Change] = []
    for leg in proof.legs:
        rows = [(other.when, one.delay_s) for other in kin for one in other.legs if _same(one, leg)]
        rows.append((proof.when, leg.delay_s))
        told = [(when, delay) for when, delay in rows if delay is not None]
        if len(told) > 1:
            found.append(Change(leg.name, tuple(when for when, _ in told), tuple(delay for _, delay in told)))
    return replace(proof, changes=tuple(found))


def _same(one: LegProof, other: LegProof) -> bool:
    """Tell whether two proofs speak of one thing: a loop on another unit, or with another chain, is another."""
    return (one.name, one.unit, one.chain) == (other.name, other.unit, other.chain)


def change_findings(proof: Proof) -> list[Finding]:
    """Return a finding for every loop whose delay was another at another proof."""
    out: list[Finding] = []
    for change in proof.changes:
        frames = change.spread_s * proof.rate_hz
        if frames <= _SAME_FRAMES:
            continue
        each = ", ".join(f"{delay * proof.rate_hz:.1f}" for delay in change.delays_s)
        spread = f"spread {frames:.1f} frames, {change.spread_s * 1e3:.2f} ms"
        values = f"{each} frames at {len(change.delays_s)} proofs, {spread}"
        what = "The delay is not constant between openings of the device"
        remedy = "Prove again after each opening, and trust no single figure; adopt them all"
        out.append(Finding("proof-changed", f"loop {change.loop}", what, values, remedy))
    return out


__all__ = ["alike", "change_findings", "changes"]
