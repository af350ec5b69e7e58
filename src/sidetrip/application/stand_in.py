"""The stand-in rig for a plan's take: desk and units as the plan says they are, to be broken on purpose."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from sidetrip.dsp.testsignal import TestSignal
from sidetrip.plan.planner import Plan
from sidetrip.prove.declared import declared_sections
from sidetrip.prove.expect import Expected, loop_time
from sidetrip.rig.boxes import Compressor, Filter, Saturator
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
    first: dict[tuple[Leg, int, tuple[str, ...]], tuple[int, list[float]]] = {}  # the first catch behind, its bases
    turn: Counter[tuple[int, int, tuple[str, ...]]] = Counter()
    catches: list[list[Feed]] = [[] for _ in expected.catches]
    for way in sorted(expected.ways, key=lambda way: (len(way.loops), way.base.low)):
        side = expected.catches[way.catch].leg
        base = _frames(way.base.low, way.base.typical, rate_hz)
        nth = turn[way.entry, way.catch, way.loops]  # of several that pass the same loops
        turn[way.entry, way.catch, way.loops] += 1
        source: Source = ("entry", way.entry)
        done = 0.0
        for number, loop in enumerate(way.loops):
            leg = _leg(legs, loop, side)
            last = number == len(way.loops) - 1
            caught, known = first.setdefault((leg, way.entry, way.loops[: number + 1]), (way.catch, []))
            if not known or (last and caught == way.catch):
                known.append(base if last else done)
                gain = way.level_db or 0.0 if last else 0.0
                _feed(feeds[leg], Feed(source, gain, known[-1] - done, way.inverted and number == 0))
            source, done = ("box", legs.index(leg)), known[min(nth, len(known) - 1)]
        gain = 0.0 if way.loops else way.level_db or 0.0
        _feed(catches[way.catch], Feed(source, gain, base - done, way.inverted and not way.loops))
    boxes = tuple(
        Box(
            f"{loop} {side + 1}",
            tuple(feeds[loop, side]),
            _time(plan, loop, flat, rate_hz),
            processors=() if flat else _processors(plan, loop, rate_hz),
        )
        for loop, side in legs
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


def _feed(feeds: list[Feed], feed: Feed) -> None:
    feed = replace(feed, delay_frames=round(feed.delay_frames, 6))
    if feed not in feeds:
        feeds.append(feed)


def _processors(plan: Plan, loop: str, rate_hz: int) -> tuple[Filter | Compressor | Saturator, ...]:
    """Return what the stand-in can play of a loop's chain: equalisers, compressors and saturators."""
    placed = next(one for one in plan.allocation.loops if one.name == loop)
    out: list[Filter | Compressor | Saturator] = []
    for processor in plan.show.chains.get(placed.chain or "", ()):
        settings = processor.settings
        if sections := declared_sections(processor, rate_hz):
            out.append(Filter(tuple(tuple(float(value) for value in section) for section in sections)))  # type: ignore[misc]
        elif processor.kind == "compressor":
            out.append(Compressor(float(settings.get("threshold_db", -20)), float(settings.get("ratio", 2))))
        elif processor.kind == "saturator":
            out.append(Saturator(float(settings.get("drive_db", 0))))
    return tuple(out)


def _leg(legs: tuple[Leg, ...], loop: str, side: int) -> Leg:
    return (loop, side) if (loop, side) in legs else (loop, 0)


def _frames(low: float, typical: float | None, rate_hz: int) -> float:
    return (low if typical is None else typical) * rate_hz


def _time(plan: Plan, loop: str, flat: bool, rate_hz: int) -> float:
    span = loop_time(plan, loop, flat)
    return _frames(span.low, span.typical, rate_hz)


__all__ = ["Leg", "broken", "legs_of", "rig_of"]
