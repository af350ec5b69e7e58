"""Patching for a unit that stands in: sources and returns set up safely, looked at, and undone without a rest."""

from __future__ import annotations

from dataclasses import replace

import pytest

from patchshows import Auditor
from sidetrip.plan.patching import patch, patch_ticks, undo_steps, undo_ticks
from sidetrip.plan.planner import Plan
from sidetrip.plan.safe import Hazard
from sidetrip.plan.tick import Item, Patch, Value
from smallshows import plan_from
from stand_in_shows import LAPTOP, spare, stand_in_show, two_sockets

WAYS = [
    ("by strip", "tab", False),
    ("by strip", "tab", True),
    ("by strip", "card", True),
    ("by block", "tab", False),
    ("by box", "card", False),
]


def _plan(switch: str, socket: str, *, alone: bool, opened: bool = False) -> Plan:
    more = "patching: {outputs: open}" if opened else ""
    text = stand_in_show(LAPTOP, spare(switch, socket), more=more)
    return plan_from(text, two_sockets(alone=alone, strips=True))


@pytest.mark.parametrize("opened", [False, True])
@pytest.mark.parametrize(("switch", "socket", "alone"), WAYS)
def test_no_tick_of_patch_or_undo_is_dangerous(switch: str, socket: str, alone: bool, opened: bool) -> None:
    """Every tick of the patch, and of the undo begun after any step, judged on its own line map with outputs open."""
    plan = _plan(switch, socket, alone=alone, opened=opened)
    found, steps = plan.patching.found, plan.steps
    auditor = Auditor(plan.show, plan.desk, plan.allocation, found)
    ticks = patch_ticks(found, steps)
    for done in range(len(steps) + 1):
        ticks += undo_ticks(found, steps[:done])
    assert {hazard for tick in ticks for hazard in auditor.hazards(tick)} == set()
    assert plan.patching.gaps == () and plan.patching.left == ()


@pytest.mark.parametrize(("switch", "socket", "alone"), WAYS)
def test_both_returns_of_a_loop_have_their_strips_closed_first(switch: str, socket: str, alone: bool) -> None:
    """Each aux input that either unit comes back on has its strip shut before a block brings anything there."""
    plan = _plan(switch, socket, alone=alone)
    shut = {own.item.number: step.number for step in plan.steps if step.kind == "close" for own in step.sets}
    turned = min(step.number for step in plan.steps if step.kind == "source" and "aux in" in step.item)
    loops = [*plan.allocation.loops, *(own.by for own in plan.allocation.take_overs)]
    numbers = {port.number for loop in loops for port in loop.returns.each}
    assert numbers <= shut.keys()
    assert all(shut[number] < turned for number in numbers)


def test_an_open_strip_under_the_other_units_return_feeds_back() -> None:
    """Left out, the closing of the strip that only the second computer comes back on makes a ring that is seen."""
    plan = _plan("by strip", "tab", alone=True)
    (main,) = [own.by for own in plan.allocation.take_overs if own.loop.name == "Main"]
    number = main.returns.first
    item = Item("strip", "return", number)
    auditor = Auditor(plan.show, plan.desk, plan.allocation, plan.patching.found)
    opened = [tick.having([(item, False)]) for tick in patch_ticks(plan.patching.found, plan.steps)]
    assert Hazard("ring", f"return strip {number}") in {hazard for tick in opened for hazard in auditor.hazards(tick)}


@pytest.mark.parametrize(("switch", "socket", "alone"), WAYS)
def test_the_second_unit_is_on_and_every_loop_is_looked_at_through_it(switch: str, socket: str, alone: bool) -> None:
    """Both units are switched on, and before anything is IN each loop is changed over and back once."""
    plan = _plan(switch, socket, alone=alone)
    assert {step.item for step in plan.steps if step.page == "unit"} == {"laptop", "spare"}
    looks = [step for step in plan.steps if step.kind == "prove" and step.item == "spare in for laptop"]
    assert len(looks) == 1
    assert looks[0].number < min(step.number for step in plan.steps if step.kind == "in")
    own = plan.allocation.take_overs[0]
    words = {"by strip": str(own.by.returns), "by block": own.becomes, "by box": "the switch box on spare"}
    assert words[switch] in looks[0].becomes


def test_the_sends_are_brought_to_both_sockets() -> None:
    """Card and tab both take the aux outputs as their source, and both go back when it is undone."""
    plan = _plan("by strip", "tab", alone=True)
    sources = {step.item: step.becomes for step in plan.steps if step.kind == "source" and "out" in step.item}
    assert sources == {"source of card out 1-8": "aux out 1-8", "source of tab out 1-8": "aux out 1-8"}
    assert set(sources) <= {step.item for step in undo_steps(plan.steps)}


def test_a_box_is_plugged_with_the_loops_out_and_taken_out_again() -> None:
    """The box is a step of its own, before any loop is IN, and it is in the undo."""
    plan = _plan("by box", "card", alone=False)
    (box,) = [step for step in plan.steps if step.kind == "cable"]
    assert box.item == "switch box, laptop and spare"
    assert box.number < min(step.number for step in plan.steps if step.kind == "in")
    assert box in undo_steps(plan.steps)


@pytest.mark.parametrize(("switch", "socket", "alone"), [way for way in WAYS if way[0] != "by box"])
def test_changing_over_with_the_loops_out_is_safe_at_every_tick(switch: str, socket: str, alone: bool) -> None:
    """Loops OUT, the first computer off, one change after the other, IN one by one: no ring, nothing dead or lost.

    Left IN while the first computer is off, each loop is dead until somebody changes over.
    """
    plan = _plan(switch, socket, alone=alone)
    auditor = Auditor(plan.show, plan.desk, plan.allocation, plan.patching.found)
    taken, names = plan.allocation.take_overs, [own.loop.strip for own in plan.allocation.take_overs]
    off = Item("unit", "laptop"), False
    changes: list[tuple[Item, Value]] = []
    for own in taken:
        if switch == "by strip":
            changes.append((Item("insert", own.loop.strip), Patch(own.by.send, own.by.returns)))
        else:
            index = [block.name for block in plan.desk.blocks].index(own.block)
            block = plan.desk.blocks[index]
            choice = [str(source.from_) for source in block.choices].index(own.becomes)
            changes.append((Item("block", str(block.feeds), index), choice))
    steps = (
        [(Item("in", name), False) for name in names] + [off] + changes + [(Item("in", name), True) for name in names]
    )
    ticks = [plan.patching.done]
    for item, value in steps:
        ticks.append(ticks[-1].having([(item, value)]))
    assert [hazard for tick in ticks for hazard in auditor.hazards(tick)] == []
    dead = {hazard.at for hazard in auditor.hazards(plan.patching.done.having([off])) if hazard.kind == "dead return"}
    assert dead == set(names)


def test_the_patch_is_the_same_where_nobody_stands_in() -> None:
    """With the take-overs left out, the steps are those of one computer, and no look is asked for."""
    plan = _plan("by box", "card", alone=False)
    bare = patch(plan.show, plan.desk, replace(plan.allocation, take_overs=()), plan.recovery.keys)
    assert not [step for step in bare.steps if "spare" in step.item or "switch box" in step.item]
