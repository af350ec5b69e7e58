"""Shows and desks on which patching can go wrong: return ports that are strips, jacks on channels, nested blocks."""

from __future__ import annotations

import functools
import random

from drawnshows import drawn, show_of
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.plan.judge import Judge
from sidetrip.plan.patching import Step, back_on_of, bare_map
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.recovery import GroupKey
from sidetrip.plan.safe import Carried, Hazard, carried, hazards
from sidetrip.plan.tick import Item, Tick
from sidetrip.plan.tick_map import tick_map
from sidetrip.plan.wires import Wires
from smallshows import plain_desk

_AUX_IN = "{feeds: aux in 1-8, choices: [jacks, card in 1-8]}"
_NESTED = (
    "{feeds: aux in 1-8, choices: [jacks, {from: card in 1-2, covers: aux in 1-2}, "
    "{from: card in 1-4, covers: aux in 1-4}, {from: card in 1-8, covers: aux in 1-8}]}"
)
_CARD_OUT = "{feeds: card out 1-8, choices: [stage 1-8, aux out 1-8]}"
_HALVES = (
    "{feeds: card out 1-4, choices: [stage 1-4, aux out 1-4]}\n"
    "  - {feeds: card out 5-8, choices: [stage 5-8, aux out 5-8]}"
)
_CHANNELS = "{feeds: channel 17-24, choices: [local in 17-24, stage 17-24]}"
_FROM_CARD = "{feeds: channel 9-16, choices: [card in 1-8, stage 9-16]}"


@functools.cache
def desks() -> tuple[Desk, ...]:
    """Return desks whose return ports also feed strips: aux inputs, jacks on channels, the card on channels."""
    lists = (
        (_AUX_IN, _CARD_OUT),
        (_NESTED, _CARD_OUT, _CHANNELS),
        (_NESTED, _HALVES, _CHANNELS, _FROM_CARD),
        (_AUX_IN, _HALVES, _FROM_CARD),
    )
    return tuple(_as_strips(plain_desk(blocks="".join(f"\n  - {line}" for line in blocks))) for blocks in lists)


def _as_strips(desk: Desk) -> Desk:
    ports = tuple(
        group.model_copy(update={"strip": "return", "strip_open": True}) if group.name == "aux in" else group
        for group in desk.ports
    )
    return desk.model_copy(update={"ports": ports})


def drawn_plan(seed: int, *, opened: bool = False) -> tuple[Show, Desk, Allocation, tuple[GroupKey, ...]]:
    """Return a drawn show on one of the desks, with its allocation and sometimes a key. opened: outputs stay open."""
    draw = random.Random(seed)
    desk = desks()[seed % len(desks())]
    data = drawn(seed)
    if opened:
        data["patching"] = {"outputs": "open"}
    show = show_of(data, desk)
    allocation = allocate(show, desk)
    strips = tuple(loop.strip for loop in allocation.loops if loop.way == "insert")
    keys = (GroupKey(8, "ALL LOOPS OUT", strips, sure=True),) if strips and draw.random() < 0.5 else ()
    return show, desk, allocation, keys


class Auditor:
    """Holds ticks of one show against whole line maps, with outputs taken as open: what one would hear on stopping."""

    def __init__(self, show: Show, desk: Desk, allocation: Allocation, found: Tick) -> None:
        back_on = back_on_of(allocation)
        self.base = bare_map(show, desk)
        self.wires = Wires(show, desk, back_on)
        self.judge = Judge(show, desk, self.base, back_on)
        self.found: Carried = carried(tick_map(self.base, self.wires, found), self.wires)
        self._known: dict[tuple[tuple[Item, object], ...], tuple[Hazard, ...]] = {}

    def hazards(self, tick: Tick) -> tuple[Hazard, ...]:
        """Return what is dangerous at a tick."""
        opened = tick.having([(Item("mute", "outputs"), False)])
        key = tuple(sorted(opened.values.items(), key=lambda pair: pair[0]))
        if key not in self._known:
            self._known[key] = hazards(self.base, self.wires, self.found, opened)
        return self._known[key]


def swapped(steps: tuple[Step, ...], one: int, other: int) -> tuple[Step, ...]:
    """Return the steps with those of two numbers in each other's place."""
    row = list(steps)
    row[one - 1], row[other - 1] = row[other - 1], row[one - 1]
    return tuple(row)


def drawn_pair(seed: int) -> tuple[Plan, Plan]:
    """Return two plans on one desk: a drawn show, and the same show on another night with other requests."""
    draw = random.Random(seed + 1)
    desk = desks()[seed % len(desks())]
    data = drawn(seed)
    names = [item["name"] for item in data["inputs"]] + [mix["name"] for mix in data["mixes"]]
    wanted = draw.sample(names, min(len(names), draw.randint(0, 4)))
    requests = [{"strip": name, "chain": draw.choice(["plain", "long"]), "want": draw.randint(1, 9)} for name in wanted]
    if draw.random() < 0.4:
        requests.append({"strip": "PA", "way": "output", "unit": "box", "want": draw.randint(1, 9)})
    other = {**data, "requests": requests}
    return make_plan(show_of(data, desk), desk, dial=False), make_plan(show_of(other, desk), desk, dial=False)
