"""Measured figures into the show: what a proof knows about units, with date, state and standing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.span import total
from sidetrip.model.figure import Figure
from sidetrip.model.outboard import RoundTrip, Unit
from sidetrip.plan.planner import Plan
from sidetrip.prove.proof import LegProof, Proof
from sidetrip.showfile.edit import NoSuchField, Value, add_item, set_field

_AGREE_FRAMES = 0.5
_WHOLE_FRAMES = 0.02


@dataclass(frozen=True, slots=True)
class Adopted:
    """The show's text with the figures in it, and what was written or left out. changed: whether anything was."""

    text: str
    findings: tuple[Finding, ...]
    changed: bool


def adopt(plan: Plan, proof: Proof, text: str) -> Adopted:
    """Write each unit's measured time into the text of the show.

    A unit's own time is the loop's less what the desk's hops and, as used, the chain add by the plan; so the whole,
    which is what was measured, is right even where the desk's part is only assumed. Loops whose wiring, polarity or
    clock is not in order give no figure.
    """
    findings: list[Finding] = []
    before = text
    for index, unit in enumerate(plan.show.units):
        legs = [leg for leg in proof.legs if leg.unit == unit.name]
        if not legs:
            continue
        good = [leg for leg in legs if _sound(leg)]
        frames = sorted(own for leg in good if (own := _own_frames(plan, proof, leg)) is not None)
        where = f"units / {unit.name}"
        if not frames:
            why = "no loop of it gave a delay that can be trusted"
            findings.append(_left_out(where, why, "", "Mend what failed, or catch a reference, and prove again"))
            continue
        if frames[-1] - frames[0] > _AGREE_FRAMES:
            values = ", ".join(f"{one:.2f}" for one in frames) + " frames"
            why = "its loops do not agree on one time"
            findings.append(_left_out(where, why, values, "Bypass every processor and make the unit align none"))
            continue
        try:
            text, finding = _write(text, index, unit, proof, _tidy((frames[0] + frames[-1]) / 2))
        except NoSuchField:
            why, remedy = "the show is written in a way that would have to be rewritten", "Write it by hand"
            findings.append(_left_out(where, why, f"{frames[0]:.2f} frames", remedy))
            continue
        findings.append(finding)
    return Adopted(text, tuple(findings), changed=text != before)


def _sound(leg: LegProof) -> bool:
    rows = {row.question: row.verdict for row in leg.rows}
    needed = ("right return", "polarity", "clock", "dropouts")
    if leg.delay_s is None or leg.delay_s < 0 or rows.get("response") in ("fail", "look"):  # a filter bends the delay
        return False
    return all(rows.get(name) == "pass" for name in needed)


def _own_frames(plan: Plan, proof: Proof, leg: LegProof) -> float | None:
    """Return the unit's own part of a measured loop in frames, None where the rest is unknown."""
    assert leg.delay_s is not None
    items = plan.line_map.loop(leg.loop).items
    unit = f"{leg.unit}, round trip"
    flat = proof.processors == "flat"
    rest = total(item.delay for item in items if item.label != unit and not (flat and item.kind == "chain"))
    if rest.typical is None:
        return None
    own = (leg.delay_s - rest.typical) * proof.rate_hz
    return own if own > -_AGREE_FRAMES else None


def _tidy(frames: float) -> float | int:
    frames = max(frames, 0.0)
    whole = round(frames)
    return whole if abs(frames - whole) <= _WHOLE_FRAMES else round(frames, 3)


def _write(text: str, index: int, unit: Unit, proof: Proof, frames: float | int) -> tuple[str, Finding]:
    day = proof.when[:10]
    state = f"take {proof.take}, {proof.processors}"
    where, path = f"units / {unit.name}", ("units", index)
    said: Mapping[str, Value] = {"standing": "proven", "when": day, "state": state}
    if unit.kind == "hardware":
        exact = round(frames / proof.rate_hz * 1e3, 6)
        ms = int(exact) if exact == int(exact) else exact
        figure = unit.delay_ms
        today = figure is not None and figure.standing == "proven" and figure.when == day
        if today and _near(figure, frames, 1e-3 * proof.rate_hz):
            return text, _same(where, f"{figure} ms")
        old = "nothing" if figure is None else f"{figure} ms"
        try:
            text = set_field(text, (*path, "delay_ms"), {"is": ms, **said})
        except NoSuchField:  # a figure with its standing stands there, and keeps its place
            more = {"source": "measured"} if figure is not None and figure.source else {}
            for key, value in {"is": ms, **said, **more}.items():
                text = set_field(text, (*path, "delay_ms", key), value)
        return text, _wrote(where, f"delay_ms {ms:g}, in place of {old}")
    buffer = dict(proof.buffers).get(unit.name)
    if buffer is None:
        return text, _left_out(where, "it is not known which buffer was set", "", "Say it: --buffer FRAMES")
    if any(_is(point, buffer, proof, frames, day) for point in unit.measured):
        return text, _same(where, f"{frames:g} frames")
    item = {
        "buffer": buffer,
        "rate": proof.rate_hz,
        "round_trip_frames": {"is": frames, "standing": "proven"},
        "when": day,
        "state": state,
    }
    text = add_item(text, (*path, "measured"), item)
    return text, _wrote(where, f"round_trip_frames {frames:g} at {buffer} frames and {proof.rate_hz} Hz")


def _is(point: RoundTrip, buffer: int, proof: Proof, frames: float, day: str) -> bool:
    same = (point.buffer, point.rate, point.when) == (buffer, proof.rate_hz, day)
    return same and _near(point.round_trip_frames, frames, 1.0)


def _near(figure: Figure | None, frames: float, frames_per_unit: float) -> bool:
    """Tell whether a figure in the show is the measured one, but for what noise makes of it."""
    if figure is None or figure.low is None or figure.low != figure.high:
        return False
    return abs(figure.low * frames_per_unit - frames) <= _WHOLE_FRAMES


def _wrote(where: str, values: str) -> Finding:
    return Finding("adopted", where, "Measured, and written into the show as proven", values, "Nothing to do")


def _same(where: str, values: str) -> Finding:
    return Finding("adopted", where, "The show already holds today's figure", values, "Nothing to do")


def _left_out(where: str, why: str, values: str, remedy: str) -> Finding:
    return Finding("not-adopted", where, f"Nothing was written for this unit: {why}", values, remedy)


__all__ = ["Adopted", "adopt"]
