"""From one plan to another: the fewest steps, as few as trying everything finds, and safe at every tick."""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import pytest

from patchshows import Auditor, drawn_pair
from sidetrip.plan.order import judged
from sidetrip.plan.planner import Plan
from sidetrip.plan.repatch import Repatch, Repatcher, desk_findings, repatch, things_of
from sidetrip.plan.safe import Hazard
from sidetrip.plan.tick import Item, Settings, Tick, differences, usual
from smallshows import plan_from, theatre_desk

SHOW = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}
  - {name: box, kind: hardware, out: local out 15, back: local in 31, delay_ms: 0}
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main]}
  - {ch: 2, name: Bass, port: stage 2, to: [Main]}
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}], d: [{limiter: {}}]}
requests:
  - {strip: Main, chain: c, want: must}
  - {strip: Voice, chain: c, want: 9}
  - {strip: Bass, unit: box, want: 5}
keep: [{ports: card out 1-24, for: recorder}]
"""


def _between(one: str, other: str) -> Repatch:
    desk = theatre_desk()
    return repatch(plan_from(one, desk), plan_from(other, desk))


def _set(change: Repatch) -> list[tuple[str, str, str]]:
    """Return what is set, in order, without what frames it."""
    return [(step.item, step.was, step.becomes) for step in change.steps if step.sets and step.page != "outputs"]


def test_one_plan_to_itself_is_nothing() -> None:
    """No step, and that is the fewest."""
    change = _between(SHOW, SHOW)
    assert (change.steps, change.changed, change.forced, change.fewest) == ((), 0, (), True)


def test_another_chain_is_three_steps() -> None:
    """By hand: the loop goes OUT, its channel takes the other chain, the loop goes IN again. Nothing else moves."""
    change = _between(SHOW, SHOW.replace("{strip: Voice, chain: c", "{strip: Voice, chain: d"))
    assert _set(change) == [
        ("Voice: INSERT key of the strip", "IN", "OUT"),
        ("laptop, channel 27", "chain c, back on card in", "chain d, back on card in"),
        ("Voice: INSERT key of the strip", "OUT", "IN"),
    ]
    assert (change.changed, change.forced, change.counted, change.fewest) == (1, ("Voice",), 3, True)
    assert [step.kind for step in change.steps] == ["safety", "safety", "out", "unit", "prove", "in", "open"]


def test_a_loop_that_goes_leaves_the_others_alone() -> None:
    """By hand: the bass goes OUT, its insert and its cable go, the strip of its jack is as found, the box goes off.

    The key for all loops then holds one loop less, which is one step more.
    """
    other = SHOW.replace("  - {strip: Bass, unit: box, want: 5}\n", "")
    change = _between(SHOW, other)
    assert not change.forced and change.fewest and change.counted == change.changed
    assert [(step.kind, step.item) for step in change.steps if step.sets and step.page != "outputs"] == [
        ("out", "Bass: INSERT key of the strip"),
        ("assign", "Bass"),
        ("cable", "box"),
        ("key", "key 8"),
        ("unit", "box"),
    ]


def test_what_moved_beside_the_loops_is_said() -> None:
    """An input on another port is no step of the change, but it is named."""
    moved = SHOW.replace("port: stage 2", "port: stage 2, inverted: yes").replace("local out 1-2", "local out 3-4")
    assert _between(SHOW, moved).moved == (
        "input Bass is another",
        "output PA is another, local out 1-2 → local out 3-4",
    )


def test_two_desks_are_refused() -> None:
    """Between two desks there is no way step by step."""
    desk = theatre_desk()
    one = plan_from(SHOW, desk)
    other = replace(one, desk=desk.model_copy(update={"name": "another"}))
    assert desk_findings(one, one) == []
    assert [finding.code for finding in desk_findings(one, other)] == ["change-desk"]


def _hazards(change: Repatch, plan: Plan) -> set[Hazard]:
    auditor = Auditor(plan.show, plan.desk, plan.allocation, plan.patching.found)
    tick, found = change.found, set[Hazard]()
    ends = {*auditor.hazards(change.found), *auditor.hazards(change.done)}
    for step in change.steps:
        tick = tick.having((own.item, own.left) for own in step.sets)
        found |= {*auditor.hazards(tick)} - ends
    assert tick == change.done
    return found


@pytest.mark.parametrize("batch", range(4))
def test_every_tick_between_two_plans_is_safe(batch: int) -> None:
    """Ten pairs each time: each thing set once, each forced loop OUT and IN, no tick that either show must fear."""
    forced = 0
    for seed in range(batch * 10, batch * 10 + 10):
        one, other = drawn_pair(seed)
        change = repatch(one, other)
        assert change.fewest and change.gaps == (), seed
        assert _hazards(change, one) == _hazards(change, other) == set(), seed
        turned = [own.item for step in change.steps for own in step.sets if own.item.kind != "mute"]
        again = {item.name for item in turned if turned.count(item) > 1}
        assert again <= set(change.forced), seed
        forced += len(change.forced)
    assert forced > 0


SMALL = (14, 51, 103, 111, 115, 133, 134, 136, 138, 176, 178)
"""Seeds of pairs that differ in few things."""


def test_trying_everything_finds_no_shorter_way() -> None:
    """On small pairs a search through all states of all things finds the same number of steps."""
    compared = with_forced = 0
    for seed in SMALL:
        one, other = drawn_pair(seed)
        worker = Repatcher(one, other)
        if not 1 <= len(things_of(differences(worker.start, worker.end))) <= 7:
            continue
        change = repatch(one, other)
        assert change.counted == _shortest(worker), seed
        compared += 1
        with_forced += bool(change.forced)
    assert compared >= 6 and with_forced >= 2


def _shortest(worker: Repatcher) -> int:
    """Return the fewest moves by breadth-first search: any thing to any value it has before, after or as usual."""
    choices: list[tuple[Settings, ...]] = []
    for thing in things_of(differences(worker.start, worker.end)):
        ways: list[Settings] = [
            tuple(zip(thing.items, values, strict=True))
            for values in (thing.was, thing.becomes, [usual(item) for item in thing.items])
            if thing.items[0].kind != "block" or values != [usual(thing.items[0])]
        ]
        choices.append(tuple(dict.fromkeys(ways)))
    both = {item for item in worker.start.values if item.kind in ("in", "turn")} & set(worker.end.values)
    set_already = {item for sets in choices for item, _ in sets[0]}
    for item in sorted(both - set_already):
        choices.append((((item, worker.start.value(item)),), ((item, usual(item)),)))
    allowed = judged(worker.judges, worker.start).dangers | judged(worker.judges, worker.end).dangers
    first, goal = _frozen(worker.start), _frozen(worker.end)
    seen, waiting = {first: 0}, deque([worker.start])
    while waiting:
        tick = waiting.popleft()
        steps = seen[_frozen(tick)]
        if _frozen(tick) == goal:
            return steps
        now = judged(worker.judges, tick)
        for choice in choices:
            for sets in choice:
                after = tick.having(sets)
                if _frozen(after) in seen:
                    continue
                then = judged(worker.judges, after)
                if not (then.dangers | now.disturbed_by(then)) - allowed:
                    seen[_frozen(after)] = steps + 1
                    waiting.append(after)
    raise AssertionError("there is no safe way at all")


def _frozen(tick: Tick) -> tuple[tuple[Item, object], ...]:
    return tuple(sorted(tick.values.items(), key=lambda pair: pair[0]))
