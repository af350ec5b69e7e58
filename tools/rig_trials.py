"""Random rigs, proven: what was planted, what was found, and whether anything was claimed that is not so.

`make tables` runs a thousand and writes docs/reference/proof-trials.md; the tests run a hundred.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from proof_show import PERIOD_FRAMES, RATE_HZ, InMemory, proof_plan, signal_for

from sidetrip.dsp.testsignal import TestSignal
from sidetrip.plan.planner import Plan
from sidetrip.prove.expect import Expected, time_of
from sidetrip.prove.measure import NotHeard, measure
from sidetrip.prove.proof import LegProof, Proof
from sidetrip.prove.verdict import prove
from sidetrip.rig.faults import Drawn, Planted, Sent, clean, draw
from sidetrip.rig.network import Rig
from sidetrip.rig.run import run

PAGE = Path(__file__).parent.parent / "docs" / "reference" / "proof-trials.md"

_ROWS: dict[str, tuple[str, ...]] = {
    "swapped": ("right return",),
    "shifted by one": ("right return",),
    "nothing back": ("right return",),
    "inverted": ("polarity",),
    "late by frames": ("delay",),
    "gain off": ("gain",),
    "crosstalk": ("other loops",),
    "compressor left on": ("dynamics",),
    "saturator left on": ("dynamics", "distortion"),
    "clipper": ("dynamics", "distortion"),
    "gate closed": ("right return", "dynamics", "gain"),
    "eq left on": ("response",),
    "doubled": ("twice",),
    "leak with insert out": ("delay",),
    "other clock on one unit": ("clock",),
    "frames lost": ("dropouts", "delay"),
    "frames repeated": ("dropouts",),
    "frames lost by the recorder": ("dropouts",),
    "frames repeated by the recorder": ("dropouts",),
}
"""Where each kind of fault has to show: in one of these rows, as a look or a fail."""

_EXCUSED = ("idle noise",)
"""Rows about the noise that the rig was given, which are no claim about a fault."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One rig. missed: faults of at least the published size that no row shows. false: claims about sound loops.

    again: faults that no row shows, in a take that every loop says to record again. wrong: delays that were given and
    are not so. errors: of delays, in frames.
    """

    seed: int
    planted: tuple[Planted, ...]
    missed: tuple[str, ...]
    false: tuple[str, ...]
    wrong: tuple[str, ...]
    errors: tuple[float, ...]
    again: tuple[str, ...] = ()


def try_rig(seed: int, *, faulty: bool) -> Trial:
    """Draw a rig, play a take on it, prove it, and hold the proof against what was planted."""
    count = int(np.random.default_rng([seed, 7]).choice([2, 4, 6, 8]))
    signal, sent = signal_for(count)
    high = signal.sections[1]
    span = Sent(
        peak_dbfs=20 * math.log10(float(np.abs(sent).max())),
        from_s=(high.start + 0.1 * PERIOD_FRAMES) / RATE_HZ,
        until_s=(high.start + (high.periods - 0.2) * PERIOD_FRAMES) / RATE_HZ,
    )
    drawn = draw(seed, count, sent=span) if faulty else clean(seed, count)
    plan, expected = proof_plan(count, dry_each=False)
    rig = _as_planned(plan, expected, drawn)
    if len(rig.catches) == count:
        plan, expected = proof_plan(count, reference=False, dry_each=False)
    recorded = run(rig, sent, seed)
    reference = None if expected.reference is None else expected.reference[1]
    reader = InMemory(recorded.samples, recorded.rate_hz)
    captured = measure(reader, signal, range(len(expected.catches)), reference, plain=expected.plain)
    if isinstance(captured, NotHeard):
        return Trial(seed, drawn.planted, tuple(fault.kind for fault in drawn.planted), (captured.why,), (), ())
    proof = prove(plan, expected, captured, when="2026-11-25T12:00:00+00:00")
    return _held_against(seed, drawn, rig, plan, expected, proof)


def _as_planned(plan: Plan, expected: Expected, drawn: Drawn) -> Rig:
    """Return the drawn rig with each loop as late and as loud as the plan has it, but for what was planted."""
    dry = next(way.base.low for way in expected.ways if expected.catches[way.catch].caught.dry is not None)
    boxes = []
    for number, (box, meant) in enumerate(zip(drawn.rig.boxes, drawn.meant.boxes, strict=True)):
        way = next(way for way in expected.into(number) if way.loops)
        planned = (time_of(plan, way, flat=True).low - dry) * RATE_HZ
        boxes.append(
            replace(
                box,
                delay_frames=box.delay_frames - meant.delay_frames + planned,
                gain_db=box.gain_db - meant.gain_db,
            )
        )
    return replace(drawn.rig, boxes=tuple(boxes))


def _held_against(seed: int, drawn: Drawn, rig: Rig, plan: Plan, expected: Expected, proof: Proof) -> Trial:
    legs = {int(leg.loop.split()[1]) - 1: leg for leg in proof.legs}
    missed = [f"{fault.kind} {fault.size:g}" for fault in drawn.planted if not _shown(fault, legs, proof)]
    touched = {loop for fault in drawn.planted for loop in fault.loops}
    everywhere = any(not fault.loops for fault in drawn.planted if fault.kind not in ("no reference",))
    false = [
        f"{leg.loop}: {row.question} {row.verdict} {row.because}"
        for loop, leg in legs.items()
        if loop not in touched and not everywhere
        for row in leg.rows
        if row.verdict in ("fail", "look") and row.question not in _EXCUSED
    ]
    errors, wrong = [], []
    bending = {"eq left on", "compressor left on", "saturator left on", "clipper", "gate closed", "doubled"}
    for loop, leg in legs.items():
        if leg.delay_s is None:
            continue
        kinds = {fault.kind for fault in drawn.planted if loop in fault.loops}
        if "leak with insert out" in kinds or any(not fault.loops for fault in drawn.planted):
            continue
        way = next(way for way in expected.into(loop) if way.loops)
        dry = next(way.base.low for way in expected.ways if expected.catches[way.catch].caught.dry is not None)
        base = (way.base.low - dry) * RATE_HZ
        error = leg.delay_s * RATE_HZ + base - rig.boxes[loop].delay_frames
        allowed = 1.0 if kinds & bending and _told_bent(leg) else max(0.01, 5 * (leg.delay_error_s or 0.0) * RATE_HZ)
        errors.append(error)
        if abs(error) > allowed:
            wrong.append(f"{leg.loop}: {error:+.4f} frames")
    again = missed if all(_to_record_again(leg) for leg in proof.legs) else []
    missed = [] if again else missed
    return Trial(seed, drawn.planted, tuple(missed), tuple(false), tuple(wrong), tuple(errors), tuple(again))


def _to_record_again(leg: LegProof) -> bool:
    """Tell whether a leg gives no delay and says that the recorder lost or put in frames."""
    row = leg.row("dropouts")
    return leg.delay_s is None and row is not None and row.verdict == "look" and "record it again" in row.because


def _told_bent(leg: LegProof) -> bool:
    """Tell whether a leg says aloud that its sound is bent, so that its delay is no clean one."""
    return any(
        _verdict(leg, question) in ("fail", "look") for question in ("response", "dynamics", "distortion", "twice")
    )


def _shown(fault: Planted, legs: dict[int, LegProof], proof: Proof) -> bool:
    if fault.kind == "no reference":
        return all(leg.delay_s is None and _verdict(leg, "delay") == "cannot tell" for leg in legs.values())
    if fault.kind == "recorder at another rate":
        return proof.clock_kind == "rate"
    where = fault.loops[1:] if fault.kind == "crosstalk" else fault.loops or tuple(legs)
    rows = _ROWS[fault.kind]
    # what comes back on another track, or not at all, is told as just that
    rows = (*rows, "right return") if fault.loops else rows
    shown = [any(_verdict(legs[loop], question) in ("fail", "look") for question in rows) for loop in where]
    return all(shown) if fault.loops or fault.kind == "shifted by one" else any(shown)


def _verdict(leg: LegProof, question: str) -> str:
    row = leg.row(question)
    return row.verdict if row is not None else ""


@dataclass(frozen=True, slots=True)
class ErrorAt:
    """Delay errors at one signal-to-noise ratio, in frames: rms, the bound, the worst; identities that were wrong."""

    snr_db: float
    ppm: float
    rms: float
    bound: float
    worst: float
    mistaken: int
    count: int


def errors_over_noise(snr_db: float, ppm: float, seeds: Iterable[int], loops: int = 4) -> ErrorAt:
    """Measure delays against the reference under white noise on every track.

    snr_db: power of one entry at the high level over the power of the noise, both over the whole band to half the
    rate. ppm: of the recorder's clock. bound: Cramer-Rao, of a return and the reference together.
    """
    from sidetrip.rig.network import LoopSpec, Recorder, straight

    signal, sent = signal_for(loops)
    noise_dbfs = signal.levels_dbfs[1] - snr_db
    errors: list[float] = []
    mistaken, bounds = 0, []
    for seed in seeds:
        chance = np.random.default_rng([seed, 11])
        specs = [LoopSpec(float(chance.uniform(200, 1500))) for _ in range(loops)]
        recorder = Recorder(RATE_HZ, ppm=ppm, start_frames=-float(chance.integers(0, 90_000)))
        recorded = run(straight(RATE_HZ, specs, noise_dbfs=noise_dbfs, recorder=recorder), sent, seed)
        captured = measure(InMemory(recorded.samples, recorded.rate_hz), signal, range(loops + 1), loops)
        if isinstance(captured, NotHeard) or captured.high is None:
            mistaken += loops
            continue
        pairs = captured.high
        for loop, spec in enumerate(specs):
            if not pairs.found[loop, loop] or int(np.nanargmax(pairs.gain_db[loop])) != loop:
                mistaken += 1
                continue
            late = pairs.delay_frames[loop, loop] - pairs.delay_frames[loops, 0]
            errors.append(float(late) - spec.delay_frames)
            bounds.append(math.hypot(_bound(signal, loop + 1, snr_db), _bound(signal, 1, snr_db)))
    rms = math.sqrt(float(np.mean(np.square(errors)))) if errors else math.nan
    bound = float(np.mean(bounds)) if bounds else math.nan
    worst = max((abs(error) for error in errors), default=math.nan)
    return ErrorAt(snr_db, ppm, rms, bound, worst, mistaken, len(errors) + mistaken)


def _bound(signal: TestSignal, entry: int, snr_db: float) -> float:
    """Return the Cramer-Rao bound of one entry's own bins in frames: sum of squared angular frequencies times SNR."""
    tones = signal.tones
    angle = 2 * np.pi * tones.bins(entry) / tones.period_frames
    # the entry's power sits in its own bins, the noise in all of them; periods average
    each = 10 ** (snr_db / 10) * (tones.period_frames / 2) / len(angle) * signal.periods
    return float(1 / math.sqrt(2 * each * float((angle**2).sum())))


def trials(count: int, *, faulty: bool) -> list[Trial]:
    """Try seeds 0 to count - 1, on all cores, and say how far it is."""
    done = []
    with ProcessPoolExecutor() as pool:
        for trial in pool.map(partial(try_rig, faulty=faulty), range(count), chunksize=5):
            done.append(trial)
            if len(done) % 50 == 0:
                sys.stderr.write(f"{'faulty' if faulty else 'clean'} rigs: {len(done)} of {count}\n")
    return done


def page(count: int) -> str:
    """Return the page of the docs."""
    faulty, sound = trials(count, faulty=True), trials(count, faulty=False)
    planted = Counter(fault.kind for trial in faulty for fault in trial.planted)
    missed = Counter(name.rsplit(" ", 1)[0] for trial in faulty for name in trial.missed)
    again = Counter(name.rsplit(" ", 1)[0] for trial in faulty for name in trial.again)
    false = sum(bool(trial.false) for trial in sound)
    lines = [
        "<!-- Made by `make tables`; do not edit. -->",
        "",
        "# Proof trials",
        "",
        f"{count} random rigs with none, one or two faults of at least the published size, and {count} without, each "
        "with 2 to 8 loops, its own noise, its recorder started anywhere, two clocks in 40 of 100.",
        "",
        "| Planted | Rigs | Found | Hidden, and the take refused | Missed |",
        "| --- | --- | --- | --- | --- |",
        *(
            f"| {kind} | {number} | {number - missed[kind] - again[kind]} | {again[kind] or '0'} | {missed[kind]} |"
            for kind, number in sorted(planted.items())
        ),
        "",
        "Hidden, and the take refused: the recorder itself lost or repeated frames; every loop says to record it "
        "again, and none gives a delay.",
        "",
        f"Delays that were given and were not so: {sum(len(trial.wrong) for trial in (*faulty, *sound))} of "
        f"{sum(len(trial.errors) for trial in (*faulty, *sound))}.",
        "",
        f"{false or 'None'} false in {count} clean runs"
        + (f": with 95 % confidence fewer than {300 / count:.1f} in 100 (3/N)." if not false else "."),
        "",
        "## Delay error over noise",
        "",
        "Four loops, white noise on every track, the reference as noisy as the returns. Frames at 48 kHz, one level of "
        f"4 periods of {PERIOD_FRAMES} frames. Bound: Cramer-Rao, of return and reference together.",
        "",
        "| SNR, dB | Clocks, ppm apart | Rms error | Bound | Ratio | Worst | Wrong identity |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    cases = [(snr_db, ppm) for snr_db in (0.0, 10.0, 20.0, 40.0) for ppm in (0.0, 5.0, 50.0)]
    with ProcessPoolExecutor() as pool:
        for at in pool.map(errors_over_noise, *zip(*cases, strict=True), [range(max(count // 40, 10))] * len(cases)):
            snr_db, ppm = at.snr_db, at.ppm
            lines.append(
                f"| {snr_db:.0f} | {ppm:.0f} | {at.rms:.5f} | {at.bound:.5f} | {at.rms / at.bound:.2f} | "
                f"{at.worst:.5f} | {at.mistaken} of {at.count} |"
            )
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    PAGE.write_text(page(int(sys.argv[1]) if len(sys.argv) > 1 else 1000), encoding="utf-8")
