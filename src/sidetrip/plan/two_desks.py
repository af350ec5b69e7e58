"""What a second desk makes of the plan: ears that no loop reaches, gains that two desks share, and their clocks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import Arrivals
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.second_desk import one_clock
from sidetrip.model.show import Input, Show
from sidetrip.model.split import FOH, OtherDesk, there
from sidetrip.plan.invariants_words import about

GAIN_CODES = ("gain-moves-ears", "gain-moves-loop", "gain-unknown")


@dataclass(frozen=True, slots=True)
class OtherMix:
    """A mix on another desk that somebody hears.

    performer: whose ears it is for, None for another output. split, ties: the strips it takes from the split, and by a
    tie from FOH. loops: those that reach it when they are IN. spared: those on strips that it takes from the split,
    which it does not get.
    """

    mix: str
    desk: str
    performer: str | None
    split: tuple[str, ...]
    ties: tuple[str, ...]
    loops: tuple[str, ...]
    spared: tuple[str, ...]


def other_mixes(show: Show, loops: tuple[PlacedLoop, ...], arrivals: Arrivals) -> tuple[OtherMix, ...]:
    """Return every mix on another desk that leads to a place, by name, with the loops that reach it."""
    away = {mix.name: mix for mix in show.mixes if show.desk_of(mix.name) is not None}
    strips: defaultdict[str, set[str]] = defaultdict(set)
    reached: defaultdict[str, set[str]] = defaultdict(set)
    for row in arrivals.rows:
        last = next((name for name in reversed(row.route) if name in away), None)
        if last is not None:
            strips[last] |= set(row.route)
            reached[last] |= set(row.loops)
    found = []
    for name in sorted(strips):
        mix, other = away[name], show.desk_of(name)
        assert other is not None
        split = tuple(sorted(i.name for i in show.inputs if there(i.name, other.name) in strips[name]))
        tied = sorted(
            {
                strip
                for own in away.values()
                for strip, send in show.fed(own.name).items()
                if send.tie is not None and there(strip, other.name, send.tie) in strips[name]
            }
        )
        spared = {loop.name for loop in _own(show, loops) if loop.strip in split} - reached[name]
        found.append(
            OtherMix(
                name, other.name, mix.for_, split, tuple(tied), tuple(sorted(reached[name])), tuple(sorted(spared))
            )
        )
    return tuple(found)


def loops_in_ears(arrivals: Arrivals) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return by ear mix and source the loops on any way of that source to these ears."""
    found: defaultdict[tuple[str, str], set[str]] = defaultdict(set)
    for row in arrivals.rows:
        if row.place.kind == "ear":
            found[row.place.name, row.source] |= set(row.loops)
    return {key: tuple(sorted(own)) for key, own in found.items()}


def _own(show: Show, loops: tuple[PlacedLoop, ...]) -> list[PlacedLoop]:
    """Return the loops with something in them on input strips, in place of what the strip carries."""
    return [
        loop
        for loop in sorted(loops, key=lambda loop: loop.name)
        if loop.way in ("insert", "in-line") and not loop.blank and show.input(loop.strip) is not None
    ]


def two_desk_findings(show: Show, loops: tuple[PlacedLoop, ...], arrivals: Arrivals) -> list[Finding]:
    """Return what a second desk makes worth saying: nothing where the show has none."""
    if not show.other_desks:
        return []
    mixes = other_mixes(show, loops, arrivals)
    found = [*_not_in_ears(show, loops, mixes)]
    for index, other in enumerate(show.other_desks):
        path = ("other_desks", index)
        taken = _taken(show, other, mixes)
        found += _gains(show, other, _own(show, loops), taken, path)
        found += _clocks(show, other, any(show.split_of(item, other) == "shared" for item, _ in taken), path)
    return found


def _not_in_ears(show: Show, loops: tuple[PlacedLoop, ...], mixes: tuple[OtherMix, ...]) -> Iterator[Finding]:
    for loop in _own(show, loops):
        spared = [mix for mix in mixes if loop.name in mix.spared]
        if spared:
            names = ", ".join(mix.mix for mix in spared)
            desks = " and ".join(sorted({mix.desk for mix in spared}))
            what = f"The loop is heard in the room, but not in {names}"
            values = f"mixed on {desks}, from the split"
            remedy = (
                "Nothing to do where dry is wanted; else bring it there by a tie after the insert, late as the loop"
            )
            yield about(show, "loop-not-in-ears", loop.strip, what, values, remedy)


def _taken(show: Show, other: OtherDesk, mixes: tuple[OtherMix, ...]) -> list[tuple[Input, list[str]]]:
    """Return the inputs that the mixes of another desk take from the split, with those mixes."""
    return [
        (item, own)
        for item in sorted(show.inputs, key=lambda item: item.name)
        if (own := [mix.mix for mix in mixes if mix.desk == other.name and item.name in mix.split])
    ]


def _gains(
    show: Show,
    other: OtherDesk,
    loops: list[PlacedLoop],
    taken: list[tuple[Input, list[str]]],
    path: tuple[str | int, ...],
) -> Iterator[Finding]:
    """Say whose hand on a preamp moves what on the other desk; preamps of its own move nothing there."""
    ways = {loop.strip: loop.way for loop in loops}
    told: defaultdict[tuple[str, str, str], list[tuple[str, list[str]]]] = defaultdict(list)
    for item, mixes in taken:
        split, gain = str(show.split_of(item, other)), show.gain_of(item, other)
        if item.name in ways and split != "analogue":
            code = _gain_code(split, gain, other, ways[item.name])
            told[code, split, gain] += [(item.name, mixes)] if code else []
    where = f"other_desks / {other.name}"
    for (code, split, gain), items in sorted(told.items()):
        if not code:
            continue
        names, ears = _some(name for name, _ in items), _some(mix for _, mixes in items for mix in mixes)
        one = len(items) == 1
        values = f"split: {split}; gain: {gain}; compensated: {other.compensated}"
        if code == "gain-unknown":
            what = f"Nobody has said whether a turn of the gain of {names} on one desk moves the other"
            remedy = "Ask the house (`sidetrip questions`), and write split, gain and compensated"
        elif code == "gain-moves-ears":
            what = f"Turning the gain of {names} for the drive of {'its' if one else 'their'} loop also moves {ears}"
            remedy = f"Set the gain once with {other.name}, then drive with the trim before the insert"
        else:
            what = f"{other.name} owns the gain of {names}: turning it there changes the drive of the loop"
            remedy = f"Agree with {other.name} to leave the gain alone after the check, and to use its own trim"
        yield Finding(code, where, what, values, remedy, path)


def _gain_code(split: str, gain: str, other: OtherDesk, way: str) -> str:
    """Tell what a turn of the gain does; empty for nothing. A trim at FOH comes behind a loop in-line, too late."""
    if split == "shared" and other.compensated == "yes" and way == "insert":
        return ""  # whoever turns it
    if "unknown" in (split, gain):
        return "gain-unknown"
    trimmed_late = gain == other.name and way == "in-line"
    if other.compensated == "unknown" and not trimmed_late:
        return "gain-unknown"
    if gain == FOH:
        return "gain-moves-ears" if other.compensated == "no" else ""
    return "gain-moves-loop" if gain == other.name and (trimmed_late or other.compensated == "no") else ""


def _clocks(show: Show, other: OtherDesk, digital: bool, path: tuple[str | int, ...]) -> Iterator[Finding]:
    """Two desks that share preamps are linked digitally: one leader and one rate, or a converter between them."""
    if not digital or other.converter_ms is not None:
        return
    where = f"other_desks / {other.name}"
    device = None if show.clock is None else show.clock.device(other.name)
    rate = other.sample_rate or show.sample_rate
    if rate != show.sample_rate and (device is None or (device.rate is None and device.converter is None)):
        values = f"{rate} Hz, the show runs at {show.sample_rate} Hz"
        remedy = "Set it to the show's rate, or say how late the rate converter between is: {converter_ms: ...}"
        yield Finding("clock-rate", where, f"{other.name} shares preamps at another rate", values, remedy, path)
    elif show.clock is None and one_clock(show, other):
        what = f"FOH and {other.name} share preamps digitally, and nobody has said which clock leads both"
        values = "two leaders click, or drift until they do"
        remedy = f"Add clock: {{leader: ..., devices: [{{name: {other.name}, follows: ...}}]}}"
        yield Finding("clock-unsaid", where, what, values, remedy, path)


def _some(names: Iterator[str], most: int = 4) -> str:
    every = list(dict.fromkeys(names))
    return ", ".join(every[:most]) + (f" and {len(every) - most} more" if len(every) > most else "")


__all__ = ["GAIN_CODES", "OtherMix", "loops_in_ears", "other_mixes", "two_desk_findings"]
