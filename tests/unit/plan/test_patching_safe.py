"""Stopping anywhere leaves a working show: no tick of a patch, of its undo, or of an undo begun early is dangerous."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from patchshows import Auditor, drawn_plan, swapped
from sidetrip.plan.patching import Patching, patch, patch_ticks, undo_ticks
from sidetrip.plan.safe import Hazard
from sidetrip.plan.tick import differences

PLANS = 500
BATCHES = 10


def _all_hazards(patching: Patching, auditor: Auditor) -> set[Hazard]:
    """Return the hazards of the patch, of the undo of all of it, and of the undo begun after every step."""
    ticks = patch_ticks(patching.found, patching.steps)
    for done in range(len(patching.steps) + 1):
        ticks += undo_ticks(patching.found, patching.steps[:done])
    return {hazard for tick in ticks for hazard in auditor.hazards(tick)}


@pytest.mark.parametrize(
    "batch", [pytest.param(batch, marks=[pytest.mark.long] if batch >= 2 else []) for batch in range(BATCHES)]
)
def test_no_tick_of_any_plan_is_dangerous(batch: int) -> None:
    """Fifty drawn plans each time, every tick judged on its own line map as though outputs were open."""
    loops = guarded = 0
    for seed in range(batch * PLANS // BATCHES, (batch + 1) * PLANS // BATCHES):
        show, desk, allocation, keys = drawn_plan(seed, opened=seed % 3 == 0)
        patching = patch(show, desk, allocation, keys)
        assert _all_hazards(patching, Auditor(show, desk, allocation, patching.found)) == set(), seed
        assert patching.gaps == () and patching.left == (), seed
        loops += len(allocation.loops)
        guarded += any(step.needs for step in patching.steps if step.kind in ("source", "cable", "assign"))
    assert loops > 50 and guarded > 10  # there is something to go wrong in most of them


def test_undo_begun_anywhere_ends_at_the_desk_as_found() -> None:
    """After any number of steps, undoing them leaves no difference."""
    for seed in range(30):
        show, desk, allocation, keys = drawn_plan(seed)
        patching = patch(show, desk, allocation, keys)
        for done in range(len(patching.steps) + 1):
            last = undo_ticks(patching.found, patching.steps[:done])[-1]
            muted_before = [item.kind for item in last.values if item.kind == "mute"]
            assert differences(patching.found, last) == () and not muted_before, (seed, done)


def test_a_ring_and_a_dead_return_are_seen_when_two_steps_are_swapped() -> None:
    """Each step that needs another one, swapped with it, makes a tick that is dangerous: the check can fail."""
    seen: Counter[str] = Counter()
    tried = 0
    for seed in range(25):
        show, desk, allocation, keys = drawn_plan(seed)
        patching = patch(show, desk, allocation, keys)
        auditor = Auditor(show, desk, allocation, patching.found)
        for step in patching.steps:
            for need in step.needs:
                ticks = patch_ticks(patching.found, swapped(patching.steps, need, step.number))
                kinds = {hazard.kind for tick in ticks for hazard in auditor.hazards(tick)}
                assert kinds, (seed, need, step.number)
                seen.update(kinds)
                tried += 1
    assert tried > 100
    assert seen["ring"] > 10 and seen["dead return"] > 10 and seen["silent output"] > 10


def test_the_quick_judge_and_the_line_map_agree() -> None:
    """Any half-done heap of steps is dangerous to the one if and only if it is to the other."""
    safe = dangerous = 0
    for seed in range(60):
        show, desk, allocation, keys = drawn_plan(seed)
        patching = patch(show, desk, allocation, keys)
        auditor, draw = Auditor(show, desk, allocation, patching.found), random.Random(seed)
        for _ in range(8):
            tick = patching.found
            for step in patching.steps:
                if draw.random() < 0.7:
                    tick = tick.having((own.item, own.left) for own in step.sets)
            hazards = auditor.hazards(tick)
            assert bool(auditor.judge.judge(tick).dangers) == bool(hazards), (seed, hazards)
            safe, dangerous = safe + (not hazards), dangerous + bool(hazards)
    assert safe > 50 and dangerous > 50


def test_outputs_that_stay_open_have_an_order_too() -> None:
    """The same steps without muting and opening, in an order as safe."""
    for seed in range(20):
        muted, opened = (patch(*drawn_plan(seed, opened=opened)) for opened in (False, True))
        assert [step.item for step in opened.steps] == [
            step.item for step in muted.steps if step.item != "all outputs and ears"
        ]
        assert all(own.item.kind != "mute" for step in opened.steps for own in step.sets)


def test_the_same_plan_is_patched_the_same_way() -> None:
    """Nothing in the order depends on chance."""
    for seed in range(5):
        assert patch(*drawn_plan(seed)).steps == patch(*drawn_plan(seed)).steps
