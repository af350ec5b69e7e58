"""The stand-in rig for a plan's take: desk and units as the plan says they are, to be broken on purpose."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip.dsp.testsignal import TestSignal
from sidetrip.plan.planner import Plan
from sidetrip.prove.expect import Expected, loop_time
from sidetrip.rig.network import REFERENCE, Box, Catch, Feed, Recorder, Rig, Source

Leg = tuple[str, int]

_CREST_DB = 7.0


def rig_of(plan: Plan, expected: Expected, rate_hz: int, noise_dbfs: float = -112.0) -> Rig:
    """Return a rig that answers a take as the plan says: one box for each loop leg, one catch for each track.

    Delays that the plan knows as a range are taken in the middle, unknown ones as what is known of them. Boxes stand
    in the order of `legs_of`.
    """
    legs = legs_of(expected)
    flat = expected.take.processors == "flat"
    feeds: dict[Leg, list[Feed]] = {leg: [] for leg in legs}
    bases: dict[Leg, dict[int, float]] = {leg: {} for leg in legs}
    catches: list[list[Feed]] = [[] for _ in expected.catches]
    for way in sorted(expected.ways, key=lambda way: len(way.loops)):
        side = expected.catches[way.catch].leg
        base = _frames(way.base.low, way.base.typical, rate_hz)
        source: Source = ("entry", way.entry)
        done = 0.0
        for number, loop in enumerate(way.loops):
            leg = _leg(legs, loop, side)
            last = number == len(way.loops) - 1
            known = bases[leg].get(way.entry)
            reach = base if last and known is None else (known if known is not None else done)
            if known is None:
                bases[leg][way.entry] = reach
                feed = Feed(source, way.level_db or 0.0 if last else 0.0, reach - done, way.inverted and number == 0)
                if feed not in feeds[leg]:
                    feeds[leg].append(feed)
            source, done = ("box", legs.index(leg)), reach
        feed = Feed(source, 0.0 if way.loops else way.level_db or 0.0, base - done, way.inverted and not way.loops)
        if feed not in catches[way.catch]:
            catches[way.catch].append(feed)
    boxes = tuple(
        Box(f"{loop} {side + 1}", tuple(feeds[loop, side]), _time(plan, loop, flat, rate_hz)) for loop, side in legs
    )
    tracks = max(catch.track for catch in expected.catches) + 1
    named = {catch.track: catch for catch in expected.catches}
    return Rig(
        rate_hz,
        len(expected.entries),
        boxes,
        tuple(
            Catch(
                str(named[track].port) if track in named and named[track].loop is not None else REFERENCE,
                tuple(catches[named[track].number]) if track in named else (),
                noise_dbfs,
            )
            for track in range(tracks)
        ),
        Recorder(rate_hz, bits=24),
    )


def legs_of(expected: Expected) -> tuple[Leg, ...]:
    """Return every loop leg that a take passes, in the order of the rig's boxes: that of their tracks."""
    sides: dict[str, int] = {}
    for way in expected.ways:
        for loop in way.loops:
            sides.setdefault(loop, 1)
    for catch in expected.catches:
        if catch.loop in sides:
            sides[catch.loop] = max(sides[catch.loop], len(catch.caught.port))
    caught = {(catch.loop, catch.leg): catch.track for catch in expected.catches if catch.loop is not None}
    legs = [(loop, side) for loop in sorted(sides) for side in range(sides[loop])]
    return tuple(sorted(legs, key=lambda leg: (caught.get(leg, len(caught) + 1_000), leg)))


def broken(rig: Rig, legs: tuple[Leg, ...], wanted: Sequence[str], signal: TestSignal, seed: int) -> Rig:
    """Return the rig with faults, each "kind" or "kind: loop", at the smallest size that a proof must find.

    Raises ValueError, in words, for a kind or a loop that is not there. Without a loop, chance picks one.
    """
    import numpy as np

    from sidetrip.rig.faults import Sent, table

    high = signal.sections[1]
    until = high.start + (high.periods - 0.2) * signal.tones.period_frames
    kinds = table(Sent(signal.levels_dbfs[1] + _CREST_DB, high.start / signal.rate_hz, until / signal.rate_hz))
    chance = np.random.default_rng([seed, 1])
    for words in wanted:
        name, _, loop = (part.strip() for part in words.partition(":"))
        if name not in kinds:
            raise ValueError(f"There is no fault '{name}'. Choose from: {', '.join(sorted(kinds))}.")
        places = [number for number, leg in enumerate(legs) if not loop or leg[0] == loop]
        if not places:
            raise ValueError(f"The take passes no loop '{loop}'. Choose from: {', '.join(dict(legs))}.")
        fault = kinds[name]
        place = None if fault.scope == "rig" else int(chance.choice(places)) if not loop else places[0]
        rig = fault.plant(rig, place, fault.smallest, chance)
    return rig


def _leg(legs: tuple[Leg, ...], loop: str, side: int) -> Leg:
    return (loop, side) if (loop, side) in legs else (loop, 0)


def _frames(low: float, typical: float | None, rate_hz: int) -> float:
    return (low if typical is None else typical) * rate_hz


def _time(plan: Plan, loop: str, flat: bool, rate_hz: int) -> float:
    span = loop_time(plan, loop, flat)
    return _frames(span.low, span.typical, rate_hz)


__all__ = ["Leg", "broken", "legs_of", "rig_of"]
