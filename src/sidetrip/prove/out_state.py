"""A take with all loops OUT: what leaks through all the same, and whether IN less OUT is the loop's time."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip.prove.expect import Catch, expect
from sidetrip.prove.identity import Carried
from sidetrip.prove.limits import CROSSTALK, IN_MINUS_OUT
from sidetrip.prove.proof import Heard, Proof, Row
from sidetrip.prove.ways import Listening, by_several_ways, expected_time, speaking_way

_EXPECTED_SPREAD_FRAMES = 4.0


def out_rows(
    on: Listening, catch: Catch, found: Carried, heard: Sequence[Heard], earlier: Sequence[Proof]
) -> tuple[Row, ...]:
    """Return the rows of one loop leg in a take with everything OUT.

    heard: of this take, all tracks. earlier: proofs of takes with the loops IN, the latest last.
    """
    assert catch.loop is not None
    if catch.caught.return_ is not None:
        why = "its return is caught before the insert; catch a copy of the strip behind it"
        return (_blind("leak with OUT", why), _blind("IN less OUT", why))
    way = speaking_way(on.expected, on.pairs, catch.number)
    if way is None or not found.entries:
        row = Row(
            "dry path",
            "wiring",
            "fail",
            None,
            None,
            None,
            "",
            "With the loop OUT nothing is heard: the strip is dead",
            "strip",
        )
        return (row, _blind("leak with OUT", "nothing is heard"), _blind("IN less OUT", "nothing is heard"))
    return (
        Row("dry path", "wiring", "pass", None, None, None, "", ""),
        _leak(on, catch, way_loops=catch.loop),
        _difference(on, catch, heard, earlier),
    )


def _leak(on: Listening, catch: Catch, way_loops: str) -> Row:
    way = speaking_way(on.expected, on.pairs, catch.number)
    assert way is not None
    if by_several_ways(on.expected, way):
        return _blind("leak with OUT", "it should arrive here by several ways")
    low, high = expected_time(on.plan, way_loops, on.flat)
    near = low * on.rate_hz if high is not None and (high - low) * on.rate_hz < _EXPECTED_SPREAD_FRAMES else None
    copy = on.copy(way, near) or on.copy(way)
    floor = on.copy_floor(way, near)
    if copy is None:
        if floor > CROSSTALK.fair:
            return _blind("leak with OUT", f"this take hears nothing below {floor:.0f} dB")
        because = "" if floor <= CROSSTALK.good else f"None above {floor:.0f} dB, below which this take is deaf"
        return Row("leak with OUT", "wiring", "pass", None, None, None, "dB", because)
    because = (
        f"With the loop OUT its sound still comes back {copy.later_frames:.0f} frames later, {copy.level_db:.0f} dB "
        "beside the dry one: a return strip is open"
    )
    verdict = CROSSTALK.judge(copy.level_db)
    return Row("leak with OUT", "wiring", verdict, copy.level_db, None, None, "dB", because, "strip again")


def _difference(on: Listening, catch: Catch, heard: Sequence[Heard], earlier: Sequence[Proof]) -> Row:
    question = "IN less OUT"
    assert catch.loop is not None
    alone = _alone(on, catch)
    if not alone:
        return _blind(question, "whatever is entered passes another loop before it, or comes by several ways")
    here = {one.entry: one for one in heard if one.port == str(catch.port) and one.carries == catch.words}
    buffers = tuple((unit.name, unit.buffer_frames) for unit in on.plan.units)
    for proof in reversed(earlier):
        if proof.state != "all IN" or proof.processors != on.expected.take.processors or proof.rate_hz != on.rate_hz:
            continue
        if proof.buffers != buffers:
            continue
        for one in proof.heard:
            other = here.get(one.entry)
            if one.port != str(catch.port) or one.carries != catch.words or other is None or one.entry not in alone:
                continue
            if one.delay_s is None or other.delay_s is None:
                return _blind(question, "no reference in one of the two takes")
            frames = (one.delay_s - other.delay_s) * on.rate_hz
            low, high = expected_time(on.plan, catch.loop, on.flat)
            if high is None:
                return _blind(question, "the plan does not know the loop's time")
            off = max(low * on.rate_hz - frames, frames - high * on.rate_hz, 0.0)
            verdict = IN_MINUS_OUT.judge(off)
            because = "" if verdict == "pass" else "The desk makes up for the loop by itself, or the plan is wrong"
            return Row(question, "transfer", verdict, frames, low * on.rate_hz, None, "frames", because, "strip again")
    return _blind(question, "there is no proof with the loops IN, of the same catch, to compare with")


def _alone(on: Listening, catch: Catch) -> frozenset[str]:
    """Return the entries that pass this loop and no other on their one way to the catch, when all loops are IN."""
    all_in = expect(on.plan, on.expected.take.model_copy(update={"state": "all IN"}))
    ways = all_in.into(catch.number)
    alone = (way for way in ways if way.loops == (catch.loop,) and not by_several_ways(all_in, way))
    return frozenset(str(all_in.entries[way.entry].port) for way in alone)


def _blind(question: str, why: str) -> Row:
    level = "wiring" if question == "leak with OUT" else "transfer"
    return Row(question, level, "cannot tell", None, None, None, "", why)  # type: ignore[arg-type]


__all__ = ["out_rows"]
