"""If it dies: what to press, in which order, and what changes. Danger first, then the presses by weight of silence."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.graph.linemap import LineMap, Node, PlacedLoop
from sidetrip.graph.span import Span
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.hand_over import HandOver
from sidetrip.plan.in_line import blocks_in_line

_ALWAYS_DANGER = "MUTE the main outputs first, then the keys below, wait one second, unmute"
_MUST_WEIGHT = 20.0


@dataclass(frozen=True, slots=True)
class Press:
    """One loop taken OUT by hand.

    presses, seconds: None where the desk does not say. delay: how much earlier everything of this strip gets.
    """

    order: int
    strip: str
    key: str
    presses: float | None
    seconds: float | None
    delay: Span


@dataclass(frozen=True, slots=True)
class GroupKey:
    """One key that takes several loops OUT. sure: whether the desk is known to have such keys."""

    number: int
    label: str
    strips: tuple[str, ...]
    sure: bool


@dataclass(frozen=True, slots=True)
class Failure:
    """A unit that dies with nothing pressed."""

    unit: str
    silent: tuple[str, ...]
    passing: tuple[str, ...]
    unsure: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Recovery:
    """Everything the recovery card says. seconds_by_hand: all loops one after the other, None where unknown.

    hand_overs: units that can take over from others, once the loops are OUT.
    """

    danger: str
    keys: tuple[GroupKey, ...]
    presses: tuple[Press, ...]
    failures: tuple[Failure, ...]
    seconds_by_hand: float | None
    hand_overs: tuple[HandOver, ...] = ()


def recovery(
    show: Show,
    desk: Desk,
    loops: tuple[PlacedLoop, ...],
    line_map: LineMap,
    hand_overs: tuple[HandOver, ...] = (),
) -> Recovery:
    """Order the presses so that the weight of silence times its seconds is smallest.

    With one pair of hands that is weight over seconds, largest first (Smith's rule, W. E. Smith, Naval Research
    Logistics Quarterly 3, 1956). Weights are the wants, a must above all. A loop that everything of another must
    still pass goes before it: a voice taken OUT into a dead main stays silent.
    """
    acts = _acts(show, desk, loops)
    ordered = _in_order(acts, line_map)
    presses = tuple(
        Press(
            number,
            act.name,
            act.key,
            act.presses,
            act.seconds,
            max((line_map.loop(loop.name).delay for loop in act.loops), key=lambda delay: delay.high),
        )
        for number, act in enumerate(ordered, 1)
    )
    seconds = [press.seconds for press in presses]
    by_hand = (
        None if any(second is None for second in seconds) else sum(second for second in seconds if second is not None)
    )
    return Recovery(
        _ALWAYS_DANGER,
        _keys(show, desk, [loop for act in ordered for loop in act.loops]),
        presses,
        _failures(show, loops),
        by_hand,
        hand_overs,
    )


@dataclass(frozen=True, slots=True)
class _Act:
    """What one hand does to take loops OUT: one loop, or all of a block that goes in-line."""

    name: str
    loops: tuple[PlacedLoop, ...]
    key: str
    presses: float | None
    seconds: float | None
    weight: float


def _acts(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> list[_Act]:
    acts = [
        _Act(loop.strip, (loop,), _key(desk, loop), _typical_presses(desk, loop), _seconds(desk, loop), weight)
        for loop in loops
        if loop.way != "in-line"
        for weight in [_weight(show, loop)]
    ]
    for name, own in blocks_in_line(show, desk, loops).items():
        weight = sum(_weight(show, loop) for loop in own if not loop.blank)
        acts.append(_Act(name, own, _key(desk, own[0]), _typical_presses(desk, own[0]), _seconds(desk, own[0]), weight))
    return acts


def _key(desk: Desk, loop: PlacedLoop) -> str:
    if loop.way == "in-line":
        return "source of the channel block, routing page"
    if loop.way == "send-and-strip":
        return f"MUTE key of {loop.back_on}"
    return desk.bypass.output_key if loop.way == "output" else desk.bypass.key


def _in_order(acts: list[_Act], line_map: LineMap) -> list[_Act]:
    """Take the act with the largest weight over seconds among those that wait for no other."""
    behind = {act.name: {other for loop in act.loops for other in _must_pass(line_map, loop.name)} for act in acts}
    left = sorted(acts, key=lambda act: (-act.weight / _at_least(act.seconds), act.name))
    ordered: list[_Act] = []
    while left:
        waiting = {loop.name for act in left for loop in act.loops}
        ready = (act for act in left if not behind[act.name] & (waiting - {loop.name for loop in act.loops}))
        first = next(ready, left[0])
        ordered.append(first)
        left.remove(first)
    return ordered


def _must_pass(line_map: LineMap, name: str) -> set[str]:
    """Return the loops without which nothing of this loop's strip reaches any place."""
    start = next((edge.end for edge in line_map.edges if edge.loop == name), None)
    places = {place.node for place in line_map.places}
    others = {edge.loop for edge in line_map.edges if edge.loop is not None} - {name}
    if start is None or not _reaches(line_map, start, places, None):
        return set()
    return {other for other in others if not _reaches(line_map, start, places, other)}


def _reaches(line_map: LineMap, start: Node, places: set[Node], closed: str | None) -> bool:
    reached: set[Node] = set()
    waiting = [start]
    while waiting:
        node = waiting.pop()
        if node in places:
            return True
        if node not in reached:
            reached.add(node)
            waiting += [edge.end for edge in line_map.outgoing.get(node, ()) if closed is None or edge.loop != closed]
    return False


def _weight(show: Show, loop: PlacedLoop) -> float:
    request = next((r for r in show.requests if r.strip == loop.strip and r.way == loop.way), None)
    if request is None or request.want == "must":
        return _MUST_WEIGHT
    return float(request.want)


def _seconds(desk: Desk, loop: PlacedLoop) -> float | None:
    by_page = loop.way in ("output", "in-line")
    return (desk.bypass.output_seconds if by_page else desk.bypass.seconds).typical


def _at_least(seconds: float | None) -> float:
    """Return seconds that can be divided by; where the desk does not say, all presses are taken to last alike."""
    return 1.0 if seconds is None else max(seconds, 1e-3)


def _typical_presses(desk: Desk, loop: PlacedLoop) -> float | None:
    if loop.way == "send-and-strip":
        return 1.0  # a strip's mute is one key on every desk; common practice, no source
    return (desk.bypass.output_presses if loop.way in ("output", "in-line") else desk.bypass.presses).typical


def _keys(show: Show, desk: Desk, loops: list[PlacedLoop]) -> tuple[GroupKey, ...]:
    """Give the last keys to all loops, then to the bypass groups, as far as the desk has keys that can."""
    answer = desk.bypass.group_key_takes_inserts
    if desk.bypass.group_keys < 1 or answer.answer == "no" or not loops:
        return ()
    inserts = [loop.strip for loop in loops if loop.way == "insert"]
    wanted = [("ALL LOOPS OUT" if len(inserts) == len(loops) else "ALL INSERTS OUT", inserts)]
    pressing = {request.strip for request in show.requests if request.one_press}
    groups = sorted(show.bypass_groups.items(), key=lambda group: (not pressing & set(group[1]), group[0]))
    for name, members in groups:
        own = [strip for strip in inserts if strip in members]
        if own:
            wanted.append((group_label(name), own))
    keys = zip(range(desk.bypass.group_keys, 0, -1), wanted, strict=False)
    sure = answer.answer == "yes" and (answer.standing or desk.standing) == "proven"
    return tuple(GroupKey(number, label, tuple(strips), sure) for number, (label, strips) in keys if strips)


def group_label(name: str) -> str:
    """Return what is written on the key of a bypass group."""
    return f"{name.upper()} OUT"


def _failures(show: Show, loops: tuple[PlacedLoop, ...]) -> tuple[Failure, ...]:
    found = []
    for unit in sorted(show.units, key=lambda unit: unit.name):
        own = tuple(sorted(loop.strip for loop in loops if loop.unit == unit.name))
        if own:
            silent, passing, unsure = (
                own if unit.unpowered == word else () for word in ("silent", "passes", "unknown")
            )
            if unit.kind == "computer":
                silent, passing, unsure = own, (), ()
            found.append(Failure(unit.name, silent, passing, unsure))
    return tuple(found)
