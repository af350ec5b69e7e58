"""When a unit dies and another takes over: what to press, what is later or earlier then, and what it does not cure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.linemap import Item, LineMap, LoopTime, PlacedLoop
from sidetrip.graph.span import Span, total
from sidetrip.model.desk import Desk
from sidetrip.model.outboard import Switch
from sidetrip.model.show import Show
from sidetrip.plan.stand_in import Stand
from sidetrip.plan.take_over import TakeOver
from sidetrip.showfile.check_stand_in import clock_through
from sidetrip.units import ms_from_seconds

FIRST = "Take its loops OUT with the keys above; change over at the next break; then IN, one at a time, by hand"
"""How it is done: the dry sound plays on meanwhile, and nothing is ever switched IN by itself."""

STEP = "unknown: nobody has said whether it is as loud as the other; play one track through both and compare"

ASK = (
    "do both run the same session file, and was it copied after its last change",
    "do both need one licence, or one server for it",
    "were both updated at the same time, and tried since",
    "do both hang on one power distribution, or on one network switch",
    "are the presets the same, and right",
)
"""What takes both down and cannot be known from a show file; common practice, no source."""

_HALF = 0.5
"""Frames by which two copies of one signal may be apart."""


@dataclass(frozen=True, slots=True)
class Act:
    """One thing changed at the desk, or at the box, to bring the other unit in. None where the desk does not say."""

    what: str
    becomes: str
    presses: float | None
    seconds: float | None


@dataclass(frozen=True, slots=True)
class Later:
    """How much later everything of a strip comes once the other unit is in; below zero it comes earlier."""

    strip: str
    delay: Span


@dataclass(frozen=True, slots=True)
class HandOver:
    """All of it for one unit that dies and the one that stands in for it.

    seconds: all acts one after the other, None where unknown. timed: somebody has timed it. not_cured: what follows
    from the show. ask: what cannot be known from it.
    """

    unit: str
    by: str
    switch: Switch
    acts: tuple[Act, ...]
    presses: float | None
    seconds: float | None
    timed: bool
    later: tuple[Later, ...]
    not_cured: tuple[str, ...]
    ask: tuple[str, ...]


def hand_overs(
    show: Show,
    desk: Desk,
    loops: tuple[PlacedLoop, ...],
    taken: tuple[TakeOver, ...],
    line_map: LineMap,
    instead: Mapping[str, LineMap],
) -> tuple[HandOver, ...]:
    """Return one for each unit that stands in for another with loops. instead: line maps by who has taken over."""
    found = []
    for stand in dict.fromkeys(own.stand for own in taken):
        mine = [own for own in taken if own.stand == stand]
        unit = show.unit(stand.by)
        assert unit is not None, "a unit that stands in is one of the show"
        acts = _acts(desk, stand, mine)
        presses, seconds = (_sum([getattr(act, key) for act in acts]) for key in ("presses", "seconds"))
        later = tuple(Later(own.loop.name, later_by(show, own, line_map, instead[stand.by])) for own in mine)
        timed = unit.switch_seconds is not None
        found.append(
            HandOver(
                stand.unit,
                stand.by,
                stand.switch,
                acts,
                presses,
                unit.switch_seconds if timed else seconds,
                timed,
                later,
                not_cured(show, desk, stand, loops),
                ASK,
            )
        )
    return tuple(found)


def _sum(figures: list[float | None]) -> float | None:
    known = [figure for figure in figures if figure is not None]
    return sum(known) if len(known) == len(figures) else None


def _acts(desk: Desk, stand: Stand, taken: list[TakeOver]) -> tuple[Act, ...]:
    """Return what is changed. An insert's ports and a block's source are taken to cost what an output's source does."""
    if stand.switch == "by box":
        return (Act("switch box in the returns", stand.by, 1.0, None),)  # one key; common practice, no source
    by_page = desk.bypass.output_presses.typical, desk.bypass.output_seconds.typical
    if stand.switch == "by block":
        turns = sorted({(own.block, own.becomes) for own in taken})
        return tuple(Act(block, becomes, *by_page) for block, becomes in turns)
    acts = []
    for own in taken:
        moved = f"send {own.by.send}, " if own.by.send != own.loop.send else ""
        acts.append(Act(f"insert of {own.loop.strip}", f"{moved}return {own.by.returns}", *by_page))
    return tuple(acts)


def later_by(show: Show, own: TakeOver, before: LineMap, after: LineMap) -> Span:
    """Return how much later a loop is once the other unit carries it. What both pass alike cancels, known or not."""
    units = show.unit(own.loop.unit), show.unit(own.by.unit)
    aligns = {unit.aligns for unit in units if unit is not None}
    alike = len(aligns) == 1 and "unknown" not in aligns
    was, now = (_figures(maps.loop(own.loop.name), alike=alike) for maps in (before, after))
    both = was.keys() & now.keys()
    gone = total(span for key, span in was.items() if key not in both)
    come = total(span for key, span in now.items() if key not in both)
    return come + -gone


def _figures(time: LoopTime, *, alike: bool) -> dict[object, Span]:
    """Return the parts of a loop's time by what tells whether another loop has the same part.

    alike: both units align their chains alike, so that one chain takes one time on both.
    """

    def key(number: int, item: Item) -> object:
        if item.kind == "chain":
            return ("chain", item.delay if alike else number, alike)
        return (item.cause or number, item.delay)

    return {key(number, item): item.delay for number, item in enumerate(time.items)}


def not_cured(show: Show, desk: Desk, stand: Stand, loops: tuple[PlacedLoop, ...]) -> tuple[str, ...]:
    """Return what the other unit does not cure, as far as it follows from the show."""
    found = []
    unit = show.unit(stand.by)
    if stand.shared and unit is not None:
        found.append(f"a fault of {unit.connects} or its cable: both units hang on it")
    if stand.switch == "by box":
        found.append("a fault of the switch box: both units come back through it")
    leader = show.clock.leader if show.clock is not None else None
    if clock_through(show, stand.by, stand.unit):
        found.append(f"the clock: '{stand.by}' has it from '{stand.unit}', and loses it when '{stand.unit}' dies")
    elif leader is not None and leader != stand.by and clock_through(show, stand.unit, leader):
        found.append(f"the clock leader, {leader}, lost: both units follow it")
    moved = stand.switch == "by strip" and not desk.returns_alone
    dead = (
        "a strip muted before its insert" if moved else "a dead send (a strip muted before its insert, a patch pulled)"
    )
    found.append(f"{dead}: both units get the same")
    found.append("a fault of the desk")
    own = sorted(loop.strip for loop in loops if loop.unit == stand.by)
    beside = f", and then {', '.join(own)} too" if own else ""
    found.append(f"a second failure: nothing stands in for '{stand.by}'{beside}")
    return tuple(found)


def hand_over_findings(show: Show, found: tuple[HandOver, ...]) -> list[Finding]:
    """Say how far loops move in time on the change, where more than half a frame: all that was aligned is off by it."""
    names = [unit.name for unit in show.units]
    findings = []
    for own in found:
        by_delay: dict[tuple[float, float], list[str]] = {}
        for later in own.later:
            frames = [round(end * show.sample_rate, 3) + 0.0 for end in (later.delay.low, later.delay.high)]
            by_delay.setdefault((frames[0], frames[1]), []).append(later.strip)
        for (low, high), strips in sorted(by_delay.items()):
            if low >= -_HALF and high <= _HALF:
                continue
            what = f"When '{own.by}' takes over from '{own.unit}', all of {', '.join(strips)} comes"
            if high == float("inf"):
                words, values = "at another time, nobody knows by how much", "a part of the way is unknown"
            else:
                late = low + high > 0
                ends = (low, high) if late else (-high, -low)
                ms = [ms_from_seconds(frames / show.sample_rate) for frames in ends]
                words = f"{span_words(*ends)} frames {'later' if late else 'earlier'}"
                values = f"{span_words(ms[0], ms[1], 2)} ms at {show.sample_rate} Hz"
            remedy = "Set both to one buffer and measure both; else all that is aligned to these loops is off by this"
            path = ("units", names.index(own.by))
            findings.append(Finding("stand-in-time", f"units / {own.by}", f"{what} {words}", values, remedy, path))
    return findings


def span_words(low: float, high: float, decimals: int = 0) -> str:
    """Return a range as one number where its ends are alike, else "low to high"."""
    ends = [f"{end:.{decimals}f}" for end in (low, high)]
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


__all__ = [
    "ASK",
    "FIRST",
    "STEP",
    "Act",
    "HandOver",
    "Later",
    "hand_over_findings",
    "hand_overs",
    "later_by",
    "not_cured",
]
