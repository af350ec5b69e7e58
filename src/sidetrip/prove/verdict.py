"""Facts against the plan: one proof of one take."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.ports import Ports
from sidetrip.plan.planner import Plan
from sidetrip.prove.asked import Asked
from sidetrip.prove.blame import blamed
from sidetrip.prove.expect import Catch, Expected
from sidetrip.prove.history import changes
from sidetrip.prove.identity import Carried, carried, pattern
from sidetrip.prove.judge import judge
from sidetrip.prove.limits import SIDES_DELAY, SIDES_GAIN
from sidetrip.prove.measure import Capture
from sidetrip.prove.out_state import out_rows
from sidetrip.prove.proof import Heard, LegProof, Proof, Row, Stop, StopKind
from sidetrip.prove.ways import Listening, expected_time

_SIDES = ("left", "right")


def prove(
    plan: Plan,
    expected: Expected,
    capture: Capture,
    *,
    when: str,
    recording: tuple[str, ...] = (),
    earlier: Sequence[Proof] = (),
) -> Proof:
    """Hold a capture against the plan. earlier: proofs of this show, the latest last."""
    on = Listening(plan, expected, capture)
    found = carried(expected, on.pairs)
    heard = _heard(on)
    legs, through = _legs(on, found, heard, earlier)
    legs = blamed(_sided(legs, capture.signal.rate_hz), expected, through)
    signal = capture.signal
    take = expected.take
    proof = Proof(
        show=plan.show.show,
        take=take.name,
        state=take.state,
        processors=take.processors,
        when=when,
        recording=recording,
        rate_hz=signal.rate_hz,
        buffers=tuple((unit.name, unit.buffer_frames) for unit in plan.units),
        reference=None if expected.reference is None else str(expected.catches[expected.reference[1]].port),
        clock_kind=capture.clocks.kind,
        clock_ppm=capture.clocks.ppm,
        clock_error_ppm=capture.clocks.error_ppm if math.isfinite(capture.clocks.error_ppm) else 0.0,
        start_s=capture.start_s,
        tested_s=signal.periods * signal.tones.period_frames * 2 / signal.rate_hz,
        legs=_with_pattern(legs, on, found),
        unproven=_unproven(plan, expected),
        heard=heard,
    )
    return changes(proof, earlier)


def _legs(
    on: Listening, found: tuple[Carried, ...], heard: tuple[Heard, ...], earlier: Sequence[Proof]
) -> tuple[list[LegProof], dict[str, tuple[str, ...]]]:
    """Return the legs, and by their names the loops on the way that each was told by."""
    right = frozenset(number for number, one in enumerate(found) if number in one.like)
    times = on.loop_times(right)
    placed = {loop.name: loop for loop in on.plan.allocation.loops}
    out: list[LegProof] = []
    through: dict[str, tuple[str, ...]] = {}
    for catch in _first_catches(on.expected):
        assert catch.loop is not None
        loop = placed[catch.loop]
        loops: tuple[str, ...] = ()
        if on.expected.take.state == "all OUT":
            rows = (*out_rows(on, catch, found[catch.number], heard, earlier), *_elsewhere(on))
            whose: str | None = None
        else:
            asked = Asked(on, catch, found, times)
            rows, whose = (*judge(asked), *_elsewhere(on)), asked.heard
            loops = asked.way.loops if asked.way is not None else ()
        time = times.get((catch.loop, catch.leg))
        steady = on.capture.tracks[catch.number].stay.motion in ("still", "unknown")
        told = time is not None and steady
        out.append(
            LegProof(
                loop=catch.loop,
                side=_SIDES[catch.leg] if loop.legs > 1 else "",
                unit=loop.unit,
                port=str(catch.port),
                stops=_stops(loop, catch.leg, rows),
                rows=rows,
                delay_s=time.seconds if time is not None and told else None,
                delay_error_s=time.error if time is not None and told else None,
                expected_s=expected_time(on.plan, catch.loop, on.flat),
                heard=whose,
                chain="" if on.flat else loop.chain or "",
            )
        )
        through[out[-1].name] = loops
    return out, through


def _first_catches(expected: Expected) -> list[Catch]:
    """Return one catch for each loop leg: its return before a copy of its strip."""
    best: dict[tuple[str, int], Catch] = {}
    for catch in expected.catches:
        if catch.loop is None:
            continue
        key = catch.loop, catch.leg
        if key not in best or (catch.caught.return_ is not None and best[key].caught.return_ is None):
            best[key] = catch
    if expected.take.state == "all OUT":
        for catch in expected.catches:
            if catch.loop is not None and catch.caught.strip is not None:
                best[catch.loop, catch.leg] = catch
    return [best[key] for key in sorted(best)]


def _elsewhere(on: Listening) -> tuple[Row, ...]:
    signal = on.capture.signal
    tested = signal.periods * signal.tones.period_frames * 2 / signal.rate_hz
    return (
        Row("endurance", "endurance", "cannot tell", None, None, None, "", f"this take is {tested:.0f} s long"),
        Row("escape", "escape", "cannot tell", None, None, None, "", "press the keys and pull the cable once"),
    )


def _stops(loop: PlacedLoop, leg: int, rows: tuple[Row, ...]) -> tuple[Stop, ...]:
    names: tuple[tuple[StopKind, str], ...] = (
        ("strip", loop.strip),
        ("send", _leg(loop.send, leg)),
        ("unit", f"{loop.unit}, {_leg(loop.unit_in, leg)}" if loop.unit_in != loop.send else loop.unit),
        ("return", _leg(loop.returns, leg)),
        ("strip again", loop.strip),
    )
    worst = next((row for row in rows if row.verdict == "fail" and row.level in ("wiring", "transfer")), None)
    return tuple(
        Stop(kind, name, worst.because if worst is not None and worst.at == kind else None) for kind, name in names
    )


def _leg(ports: Ports, leg: int) -> str:
    return str(ports.each[leg]) if leg < len(ports) else str(ports)


def _sided(legs: list[LegProof], rate: int) -> list[LegProof]:
    """Add to each right leg how it agrees with the left."""
    out: list[LegProof] = []
    left: dict[str, LegProof] = {leg.loop: leg for leg in legs if leg.side == "left"}
    for leg in legs:
        other = left.get(leg.loop)
        if leg.side != "right" or other is None:
            out.append(leg)
            continue
        rows = list(leg.rows)
        if leg.delay_s is not None and other.delay_s is not None:
            frames = abs(leg.delay_s - other.delay_s) * rate
            error = math.hypot(leg.delay_error_s or 0.0, other.delay_error_s or 0.0) * rate
            verdict = SIDES_DELAY.judge(max(frames - 3 * error, 0.0))
            because = "" if verdict == "pass" else "Left and right are not together: their sum is hollow"
            rows.append(Row("sides", "transfer", verdict, frames, 0.0, error, "frames", because, "unit"))
        mine, theirs = leg.row("gain"), other.row("gain")
        if mine and theirs and mine.measured is not None and theirs.measured is not None:
            off = abs(mine.measured - theirs.measured)
            error = math.hypot(mine.error or 0.0, theirs.error or 0.0)
            verdict = SIDES_GAIN.judge(max(off - 3 * error, 0.0))
            because = "" if verdict == "pass" else "Left and right are not alike loud: the middle moves"
            rows.append(Row("sides level", "transfer", verdict, off, 0.0, error, "dB", because, "unit"))
        out.append(replace(leg, rows=tuple(rows)))
    return out


def _with_pattern(legs: list[LegProof], on: Listening, found: tuple[Carried, ...]) -> tuple[LegProof, ...]:
    """Say once more, on every leg that is wrong, how the returns are mixed up as a whole."""
    by_port = sorted(on.plan.allocation.loops, key=lambda loop: (loop.returns.group, loop.returns.first))
    by_track = sorted((catch.track, catch.loop) for catch in on.expected.catches if catch.loop is not None)
    orders = tuple(loop.name for loop in by_port), tuple(dict.fromkeys(loop for _, loop in by_track))
    whole = next((words for order in orders if (words := pattern(on.expected, found, order))), None)
    if whole is None:
        return tuple(legs)
    out: list[LegProof] = []
    for leg in legs:
        rows = tuple(
            replace(row, because=f"{row.because}: {whole}")
            if row.question == "right return" and row.verdict == "fail"
            else row
            for row in leg.rows
        )
        out.append(replace(leg, rows=rows))
    return tuple(out)


def _heard(on: Listening) -> tuple[Heard, ...]:
    reference = on.reference()
    out: list[Heard] = []
    for catch in on.expected.catches:
        for entry in on.expected.entries:
            at = catch.number, entry.number
            if not on.pairs.found[at]:
                continue
            frames, error = float(on.pairs.delay_frames[at]), float(on.pairs.error_frames[at])
            out.append(
                Heard(
                    str(entry.port),
                    str(catch.port),
                    catch.words,
                    None if reference is None else (frames - reference[0]) / on.rate_hz,
                    (error if reference is None else math.hypot(error, reference[1])) / on.rate_hz,
                    float(on.pairs.gain_db[at]),
                    bool(np.asarray(on.pairs.inverted)[at]),
                )
            )
    return tuple(out)


def _unproven(plan: Plan, expected: Expected) -> tuple[tuple[str, str], ...]:
    caught = {catch.loop for catch in expected.catches}
    why = f"take '{expected.take.name}' catches neither its return nor a copy behind its insert"
    return tuple((loop.name, why) for loop in plan.allocation.loops if loop.name not in caught)


__all__ = ["prove"]
