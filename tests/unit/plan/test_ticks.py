"""Ticks: what is set, what differs, the line map of exactly that, and the demo's order by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from patchshows import Auditor, drawn_plan
from showtext import DEMO_TEXT, desk
from sidetrip.graph.arrivals import State, find_arrivals
from sidetrip.graph.linemap import LineMap
from sidetrip.model.ports import parse_ports
from sidetrip.plan.assign import BlockSetting
from sidetrip.plan.judge import Danger, Judge
from sidetrip.plan.order import Move, safe_order
from sidetrip.plan.patching import back_on_of, bare_map, gap_findings, patch, patch_ticks
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.safe import Hazard
from sidetrip.plan.tick import Item, Patch, Tick, as_found, differences
from sidetrip.plan.tick_map import tick_map
from sidetrip.plan.wires import Wires
from sidetrip.showfile.read import read_show
from smallshows import plain_desk, plan_from


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo show's plan."""
    return make_plan(read_show(DEMO_TEXT, "show.yaml").show, desk())


def test_an_item_set_back_leaves_no_trace() -> None:
    """A tick remembers only what is not as usual; blocks are always there."""
    tick = as_found(read_show(DEMO_TEXT, "show.yaml").show, desk())
    shut = Item("strip", "return", 1)
    assert tick.having([(shut, True)]).having([(shut, False)]) == tick
    assert len(tick.values) == len(desk().blocks)
    found = differences(tick, tick.having([(shut, True), (Item("insert", "Main"), None)]))
    assert [(own.item, own.found, own.left) for own in found] == [(shut, False, True)]


def _times(line_map: LineMap, state: State) -> set[tuple[str, str, float, float]]:
    arrivals = find_arrivals(line_map)
    times = arrivals.times(state)
    return {
        (row.source, row.place.name, round(float(low) * 1e6), round(float(high) * 1e6))
        for row, low, high, silent in zip(arrivals.rows, times.low, times.high, times.silent, strict=True)
        if not silent
    }


def test_the_first_and_the_last_tick_are_the_plan_all_out_and_all_in(plan: Plan) -> None:
    """Every arrival of the patched desk is as late as the plan says with all IN, before the patch as with all OUT."""
    base = _with_times(plan)
    wires = Wires(plan.show, plan.desk)
    times = {loop.strip: plan.line_map.loop(loop.name).delay for loop in plan.allocation.loops}
    done = tick_map(base, wires, plan.patching.done, times)
    assert _times(done, State("all IN", "all in")) == _times(plan.line_map, plan.states[0])
    found = tick_map(base, wires, plan.patching.found, times)
    assert _times(found, State("all IN", "all in")) == _times(plan.line_map, plan.states[1])


def _with_times(plan: Plan) -> LineMap:
    from sidetrip.graph.build import build

    return build(plan.show, plan.desk, (), {unit.name: unit.time for unit in plan.units})


def test_the_demo_is_patched_in_this_order(plan: Plan) -> None:
    """By hand, in the order of the trade: safe, closed, sends, returns, cable, assigned, proven, IN, keys, open.

    The two voices come in the order of the return ports that they were given.
    """
    ports = {loop.name: loop.returns for loop in plan.allocation.loops}
    first, second = sorted(("Lamplighter", "Narrator"), key=lambda name: ports[name])
    assert [(step.kind, step.item) for step in plan.steps] == [
        ("safety", "desk as found"),
        ("safety", "all outputs and ears"),
        ("safety", "laptop"),
        ("safety", "valve compressor"),
        ("close", "return strip 1-2"),
        ("close", "return strip 3"),
        ("close", "return strip 4"),
        ("close", "channel strip 31"),
        ("source", "source of card out 25-32"),
        ("source", "source of aux in 1-8"),
        ("cable", "valve compressor"),
        ("assign", "Main"),
        ("assign", first),
        ("assign", second),
        ("assign", "Bass"),
        ("prove", "every loop, one at a time"),
        ("in", "Main: INSERT key of the strip"),
        ("in", f"{first}: INSERT key of the strip"),
        ("in", f"{second}: INSERT key of the strip"),
        ("in", "Bass: INSERT key of the strip"),
        ("key", "key 8, ALL LOOPS OUT"),
        ("key", "key 7, VOICES OUT"),
        ("open", "all outputs and ears"),
    ]


def test_the_demo_s_steps_need_these(plan: Plan) -> None:
    """By hand: the main's send rings through return strips 1-2 unless they are shut; IN needs all of its own way."""
    assert {step.number: step.needs for step in plan.steps if step.needs} == {
        12: (5,),  # the main's insert: its return strips
        17: (3, 9, 10, 12),  # main IN: laptop, both sources, its insert
        18: (3, 9, 10, 13),
        19: (3, 9, 10, 14),
        20: (4, 11, 15),  # bass IN: box, cable, its insert
    }


def test_minutes_add_up_by_hand(plan: Plan) -> None:
    """3 + 1 + 2 × 2 safe, 5 strips, 2 sources, a cable, 4 inserts, 4 proofs, 4 IN, 2 keys, opened: 26.5 min."""
    assert plan.patching.minutes == 3 + 1 + 2 * 2 + 5 * 0.5 + 2 * 1 + 2 + 4 * 1 + 4 * 0.5 + 4 * 0.5 + 2 * 1 + 2


def test_an_open_return_strip_is_named_as_the_ring_it_closes(plan: Plan) -> None:
    """The main IN with return strip 1 open feeds back through it, on the line map and to the quick judge."""
    auditor = Auditor(plan.show, plan.desk, plan.allocation, plan.patching.found)
    tick = plan.patching.done.having([(Item("strip", "return", 1), False)])
    assert auditor.hazards(tick) == (Hazard("ring", "return strip 1"),)
    assert auditor.judge.judge(tick).dangers == {Danger("ring", "return 1")}


def test_a_return_strip_of_a_voice_closes_no_ring(plan: Plan) -> None:
    """Return strip 3 open into the main is heard twice, but the voice's send does not come from there."""
    auditor = Auditor(plan.show, plan.desk, plan.allocation, plan.patching.found)
    assert auditor.hazards(plan.patching.done.having([(Item("strip", "return", 3), False)])) == ()


def test_in_without_a_return_silences_what_hangs_on_it(plan: Plan) -> None:
    """The main IN while the aux inputs are back on their jacks: PA and fills carry nothing."""
    auditor = Auditor(plan.show, plan.desk, plan.allocation, plan.patching.found)
    index = next(i for i, block in enumerate(plan.desk.blocks) if str(block.feeds) == "aux in 1-8")
    hazards = auditor.hazards(plan.patching.done.having([(Item("block", "aux in 1-8", index), 0)]))
    assert {(own.kind, own.at) for own in hazards} >= {("dead return", "Main"), ("silent output", "PA")}
    muted = plan.patching.done.having([(Item("block", "aux in 1-8", index), 0), (Item("mute", "outputs"), True)])
    from sidetrip.plan.safe import hazards as of

    assert {own.kind for own in of(auditor.base, auditor.wires, auditor.found, muted)} == {"dead return"}


# Orders


def test_an_order_that_the_usual_rank_would_spoil_is_found() -> None:
    """With the usual order turned upside down the search still finds a safe one, and says that it is whole."""
    for seed in range(12):
        show, desk_, allocation, keys = drawn_plan(seed)
        patching = patch(show, desk_, allocation, keys)
        moving = [step for step in patching.steps if step.sets and step.page != "outputs"]
        moves = [Move((-step.number,), tuple((own.item, own.left) for own in step.sets)) for step in moving]
        auditor = Auditor(show, desk_, allocation, patching.found)
        ordered = safe_order(patching.found, moves, [auditor.judge])
        assert ordered.gaps == () and sorted(ordered.order) == list(range(len(moves)))
        ticks = [patching.found]
        for index in ordered.order:
            ticks.append(ticks[-1].having(moves[index].sets))
        assert {hazard for tick in ticks for hazard in auditor.hazards(tick)} == set(), seed


def test_two_loops_that_change_places_while_in_have_a_gap() -> None:
    """No order avoids it: each insert changes its ports under a loop that is IN, and both are named."""
    made = plan_from(_TWO, plain_desk())
    judge = Judge(made.show, made.desk, bare_map(made.show, made.desk), back_on_of(made.allocation))
    done = made.patching.done
    one, two = (done.value(Item("insert", name)) for name in ("A", "B"))
    assert isinstance(one, Patch) and isinstance(two, Patch)
    moves = [Move((0,), ((Item("insert", "A"), two),)), Move((1,), ((Item("insert", "B"), one),))]
    ordered = safe_order(done, moves, [judge])
    assert ordered.whole
    assert {(gap.danger.kind, gap.danger.at) for gap in ordered.gaps} >= {("disturbed", "A"), ("disturbed", "B")}


_TWO = """
units:
  - {name: laptop, kind: computer, connects: card, buffer: 64, aligns: per chain,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 300}]}
inputs: [{ch: 1, name: A, port: stage 1, to: [Main]}, {ch: 2, name: B, port: stage 2, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}]}
requests: [{strip: A, chain: c, want: 9}, {strip: B, chain: c, want: 8}]
"""


def test_an_input_that_the_patch_takes_away_is_a_finding() -> None:
    """A block that is turned by hand although an input sits on it: which steps, how long, and what to do."""
    made = make_plan(read_show(DEMO_TEXT, "show.yaml").show, desk())
    wide = tuple(
        replace(own, becomes="card in 25-32 on aux in 1-8", lost=parse_ports("aux in 1-8"))
        if own.block == "source of aux in 1-8"
        else own
        for own in made.allocation.settings
    )
    assert any(isinstance(own, BlockSetting) and own.becomes.endswith("aux in 1-8") for own in wide)
    patching = patch(made.show, made.desk, replace(made.allocation, settings=wide))
    (gap,) = patching.gaps
    assert (gap.danger, gap.last) == (Danger("lost", "Interval"), len(patching.steps) - 1)
    assert patching.steps[gap.first - 1].item == "source of aux in 1-8"
    (finding,) = gap_findings(made.show, patching)
    assert finding.code == "patch-gap"
    assert finding.values == f"steps {gap.first} to {gap.last}, about {gap.minutes:g} min"
    assert gap.minutes == sum(step.minutes for step in patching.steps[gap.first - 1 : gap.last])


def test_the_ticks_of_a_patch_begin_as_found_and_end_done(plan: Plan) -> None:
    """One tick more than steps."""
    ticks = patch_ticks(plan.patching.found, plan.steps)
    assert (ticks[0], ticks[-1], len(ticks)) == (plan.patching.found, plan.patching.done, len(plan.steps) + 1)
    assert isinstance(ticks[0], Tick) and plan.patching.left == ()
