"""From one plan to another on the same desk: the fewest steps, safe at every tick.

Every item that differs is set once. A loop that is IN in both plans and whose way changes under it has to go OUT for
the time: no order avoids that, since some step changes the way while it is IN. That many steps are the fewest there can
be; when an order of exactly these is safe, it is proven to have the fewest. Otherwise more loops are taken OUT for the
time, one and then two, before dangers are accepted and named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.drafts import MINUTES, Draft, StepKind, files_saved, outputs_muted, outputs_opened
from sidetrip.plan.judge import Judge
from sidetrip.plan.order import Move, Ordered, judged, safe_order
from sidetrip.plan.patching import Patching, Step, StepGap, back_on_of, bare_map, gap_findings
from sidetrip.plan.planner import Plan
from sidetrip.plan.tick import Difference, Item, Settings, Slot, Tick, Value, as_found, differences
from sidetrip.plan.tick_words import item_words, page_of, value_words

_MOST_MORE = 2
_MOST_TRIALS = 60


@dataclass(frozen=True, slots=True)
class Repatch:
    """The way from one plan to another.

    steps: all of them, with saving, muting and proving. changed: how many of them set something that differs. forced:
    the loops that go OUT for the time. fewest: proven that fewer cannot do. moved: what differs between the shows
    beside the loops, in words; no step of these is for it.
    """

    steps: tuple[Step, ...]
    found: Tick
    done: Tick
    changed: int
    forced: tuple[str, ...]
    fewest: bool
    gaps: tuple[StepGap, ...]
    moved: tuple[str, ...]

    @property
    def counted(self) -> int:
        """The steps that set something at the desk or its units, loops OUT and IN again among them."""
        return sum(bool(step.sets) and step.page != "outputs" for step in self.steps)

    @property
    def minutes(self) -> float:
        """All steps together, in minutes; an estimate, assumed."""
        return sum(step.minutes for step in self.steps)


@dataclass(frozen=True, slots=True)
class Thing:
    """Items that are set together, as one step: one item, or neighbours that change alike."""

    items: tuple[Item, ...]
    was: tuple[Value, ...]
    becomes: tuple[Value, ...]
    sets: Settings


def repatch(one: Plan, other: Plan) -> Repatch:
    """Return the fewest steps from the desk as one plan leaves it to the desk as the other does.

    Both plans must be of one desk. Outputs are muted meanwhile, unless the other show says that they stay open.
    """
    return Repatcher(one, other).run()


def desk_findings(one: Plan, other: Plan) -> list[Finding]:
    """Say that two plans are of two desks, between which nothing can be changed step by step."""
    if one.desk == other.desk:
        return []
    values = f"{one.desk.name}, {other.desk.name}"
    if one.desk.name == other.desk.name:
        values = f"{one.desk.name}, with other figures"
    remedy = "Undo the one plan, then patch the other"
    return [Finding("change-desk", "desk / type", "The two shows are not on one desk", values, remedy, ("desk",))]


def change_findings(show: Show, change: Repatch) -> list[Finding]:
    """Say what no order avoids on the way from one plan to the other."""
    return gap_findings(show, Patching(change.steps, change.found, change.done, change.gaps))


class Repatcher:
    """Works out the way from one plan to another. judges: one for each show; what either fears is avoided."""

    def __init__(self, one: Plan, other: Plan) -> None:
        self.one, self.other, self.desk = one, other, other.desk
        self.start, self.end = one.patching.done, other.patching.done
        held = held_by_both(one.show, other.show)
        back_on = {*back_on_of(one.allocation), *back_on_of(other.allocation)}
        self.judges = [
            Judge(plan.show, plan.desk, bare_map(plan.show, plan.desk), back_on, held) for plan in (one, other)
        ]
        self.usual = as_found(other.show, other.desk)

    def run(self) -> Repatch:
        """Return the way, its steps numbered and in words."""
        things = things_of(differences(self.start, self.end))
        before, after = judged(self.judges, self.start).ways_in, judged(self.judges, self.end).ways_in
        both = sorted(before.keys() & after.keys())
        forced = [name for name in both if before[name] != after[name]]
        moves, ordered, outs = self._solve(things, forced, [name for name in both if name not in forced])
        fewest = not ordered.gaps and len(outs) == len(forced)
        steps, gaps = self._steps(moves, ordered, before, after)
        names = tuple(name.removesuffix(", in-line") for name in outs)
        moved = tuple(differing(self.one.show, self.other.show))
        return Repatch(steps, self.start, self.end, len(things), names, fewest, gaps, moved)

    def _solve(
        self, things: list[Thing], forced: list[str], more: list[str]
    ) -> tuple[list[Move], Ordered, tuple[str, ...]]:
        first: tuple[list[Move], Ordered, tuple[str, ...]] | None = None
        trials = 0
        for size in range(_MOST_MORE + 1):
            for extra in combinations(more, size):
                trials += 1
                if trials > _MOST_TRIALS:
                    break
                outs = (*forced, *extra)
                moves = self.moves(things, outs)
                ordered = safe_order(self.start, moves, self.judges)
                first = first or (moves, ordered, outs)
                if not ordered.gaps:
                    return moves, ordered, outs
        assert first is not None, "the smallest trial is always made"
        return first

    def moves(self, things: list[Thing], outs: tuple[str, ...]) -> list[Move]:
        """Return the moves: each thing once, and what goes OUT for the time twice."""
        pairs = {item: (self.start.value(item), out, self.end.value(item)) for item, out in map(self._out_of, outs)}
        moves: list[Move] = []
        for item, (was, out, becomes) in pairs.items():
            if was != out:
                moves.append(Move((0, len(moves)), ((item, out),)))
            if becomes != out:
                after = (len(moves) - 1,) if was != out else ()
                moves.append(Move((8, len(moves)), ((item, becomes),), after))
        for thing in things:
            if not set(thing.items) & pairs.keys():
                moves.append(Move((_phase(thing), len(moves)), thing.sets))
        return moves

    def _out_of(self, name: str) -> tuple[Item, bool | int | None]:
        """Return what takes a signal that passes a unit OUT, and what it is set to then."""
        strip = name.removesuffix(", in-line")
        if strip != name:
            leg = self.judges[-1].wires.legs[strip][0]
            for index, block in enumerate(self.desk.blocks):
                if leg in block.feeds.each:
                    item = Item("block", str(block.feeds), index)
                    return item, self.usual.choice(item.name, index)
        for item in (Item("turn", name), Item("back", name)):
            if self.start.value(item) or self.end.value(item):
                return item, None if item.kind == "turn" else False
        return Item("in", name), False

    def _steps(
        self,
        moves: list[Move],
        ordered: Ordered,
        before: Mapping[str, object],
        after: Mapping[str, object],
    ) -> tuple[tuple[Step, ...], tuple[StepGap, ...]]:
        row: list[Draft] = []
        if moves:
            muted = self.other.show.patching.outputs == "muted"
            row = [files_saved(), *([outputs_muted()] if muted else [])]
        new = [name for name in after if before.get(name) != after[name]]
        tick, proven, places = self.start, False, dict[int, int]()
        for place, index in enumerate(ordered.order):
            draft = self._draft(tick, moves[index])
            if draft.kind == "in" and not proven and new:
                row.append(_proof(new))
                proven = True
            row.append(draft)
            places[place] = len(row)
            tick = tick.having(moves[index].sets)
        if moves and self.other.show.patching.outputs == "muted":
            row.append(outputs_opened())
        steps = tuple(_numbered(self.start, row))
        gaps = []
        for gap in ordered.gaps:
            first, last = places[gap.first], places[gap.last]
            minutes = sum(step.minutes for step in steps[first - 1 : last])
            gaps.append(StepGap(gap.danger, first, last, minutes))
        return steps, tuple(gaps)

    def _draft(self, tick: Tick, move: Move) -> Draft:
        (item, becomes), last = move.sets[0], move.sets[-1][0]
        was = tick.value(item)
        words = [value_words(self.desk, item, value) for value in (was, becomes)]
        if item.kind == "strip":
            words = (
                ["muted, off main and all sends", "as found"] if was else ["as found", "muted, off main and all sends"]
            )
        kind = _kind(self.desk, item, becomes, self.usual)
        return Draft(
            kind,
            page_of(item),
            item_words(self.desk, item, last.number),
            words[0],
            words[1],
            _METERS[kind],
            undo=f"back to {words[0]}",
            minutes=MINUTES.get(_MINUTES_AS.get(item.kind, kind), 1.0)
            * (len(move.sets) if item.kind == "strip" else 1),
            sets=move.sets,
        )


_METERS: dict[StepKind, str] = {
    "out": "the strip keeps its level, dry",
    "close": "the strip may move, no mix does",
    "unit": "the unit's other channels are unchanged",
    "source": "what is dry is unchanged",
    "cable": "the return shows the unit's idle noise, or none",
    "assign": "the strip is unchanged",
    "in": "the strip's meter keeps its level",
    "key": "pressed once, these inserts go OUT",
    "reopen": "no mix moves",
}
_MINUTES_AS = {"slot": "assign", "unit": "unit", "strip": "close", "cable": "cable", "key": "key", "block": "source"}


def _kind(desk: Desk, item: Item, becomes: object, usual: Tick) -> StepKind:
    if item.kind in ("in", "turn", "back"):
        return "in" if becomes else "out"
    if item.kind == "strip":
        return "close" if becomes else "reopen"
    if item.kind == "block" and desk.blocks[item.number].feeds.group == "channel":
        return "out" if becomes == usual.value(item) else "in"
    kinds: dict[str, StepKind] = {
        "unit": "unit",
        "slot": "unit",
        "block": "source",
        "cable": "cable",
        "insert": "assign",
        "copy": "assign",
        "key": "key",
    }
    return kinds[item.kind]


def _phase(thing: Thing) -> int:
    """Return the place of a thing in the usual order: OUT, close, unassign, change, assign, IN, open, keys."""
    item, becomes = thing.items[0], thing.becomes[0]
    if item.kind in ("in", "turn", "back"):
        return 8 if becomes else 0
    if item.kind == "strip":
        return 1 if becomes else 9
    if item.kind in ("insert", "copy"):
        return 7 if becomes else 2
    if item.kind == "cable":
        return 6 if becomes else 3
    if item.kind in ("unit", "slot"):
        return 4 if becomes else 11
    return {"block": 5, "key": 10}[item.kind]


def _numbered(found: Tick, row: list[Draft]) -> Iterator[Step]:
    tick = found
    for number, draft in enumerate(row, 1):
        after = tick.having(draft.sets)
        sets = tuple(Difference(item, tick.value(item), after.value(item)) for item, _ in draft.sets)
        words = (draft.kind, draft.page, draft.item, draft.was, draft.becomes, draft.meter, draft.lost, draft.undo)
        yield Step(number, *words, draft.minutes, (), sets)
        tick = after


def _proof(names: list[str]) -> Draft:
    own = ", ".join(name.removesuffix(", in-line") for name in sorted(names))
    becomes, meter = "send moves, its own return moves, no other", "return follows its send, same level"
    minutes = MINUTES["prove"] * len(names)
    return Draft(
        "prove", "meters", f"what is new: {own}", "", becomes, meter, undo="nothing to put back", minutes=minutes
    )


def things_of(found: tuple[Difference, ...]) -> list[Thing]:
    """Return what differs as the things that are set in one step: neighbouring strips and slots that change alike."""
    runs: list[list[Difference]] = []
    for own in found:
        if runs and _alike(runs[-1][-1], own):
            runs[-1].append(own)
        else:
            runs.append([own])
    return [
        Thing(
            tuple(own.item for own in run),
            tuple(own.found for own in run),
            tuple(own.left for own in run),
            tuple((own.item, own.left) for own in run),
        )
        for run in runs
    ]


def _alike(one: Difference, other: Difference) -> bool:
    if one.item.kind not in ("strip", "slot") or (one.item.kind, one.item.name) != (other.item.kind, other.item.name):
        return False
    if other.item.number != one.item.number + 1:
        return False
    if one.item.kind == "strip":
        return (one.found, one.left) == (other.found, other.left)
    pairs = [(mine, its) for mine, its in ((one.found, other.found), (one.left, other.left))]
    return other.item.number % 2 == 0 and all(_one_slot(*pair) for pair in pairs)


def _one_slot(one: object, other: object) -> bool:
    """Tell whether two legs are of one stereo slot, or both empty."""
    if isinstance(one, Slot) and isinstance(other, Slot):
        return one.legs == other.legs == 2 and one.chain == other.chain
    return one is None and other is None


def held_by_both(one: Show, other: Show) -> tuple[str, ...]:
    """Return the inputs that both shows have on the same port and strip."""
    theirs = {(item.name, item.port, item.ch) for item in other.inputs}
    return tuple(item.name for item in one.inputs if (item.name, item.port, item.ch) in theirs)


def differing(one: Show, other: Show) -> Iterator[str]:
    """Yield what differs between two shows beside their loops: inputs, mixes and outputs that came, went or moved."""
    for what, mine, theirs in (
        ("input", one.inputs, other.inputs),
        ("mix", one.mixes, other.mixes),
        ("output", one.outputs, other.outputs),
    ):
        old, new = {own.name: own for own in mine}, {own.name: own for own in theirs}
        for name in sorted({*old, *new}):
            if name not in new:
                yield f"{what} {name} goes"
            elif name not in old:
                yield f"{what} {name} comes"
            elif old[name] != new[name]:
                ports = [getattr(own[name], "port", None) for own in (old, new)]
                moved = f", {ports[0]} → {ports[1]}" if ports[0] != ports[1] else ""
                yield f"{what} {name} is another{moved}"


__all__ = ["Repatch", "change_findings", "desk_findings", "repatch"]
