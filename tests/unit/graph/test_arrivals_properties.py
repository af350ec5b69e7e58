"""What holds for the arrivals of any show: nothing is lost, a state is a sum, and order does not matter."""

import copy
import math
import random
from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawnshows import Data, drawn, show_of, shuffled
from sidetrip.graph.arrivals import Arrival, Arrivals, State, find_arrivals
from sidetrip.graph.linemap import Edge, LineMap
from sidetrip.graph.span import UNKNOWN, total
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.plan_json import plan_text
from smallshows import FRAME_S, plain_desk

DESK = plain_desk(carriers=4)
seeds = st.integers(0, 10**6)


def _plan(data: Data) -> Plan:
    return make_plan(show_of(data, DESK), DESK, dial=False)


def _naive(line_map: LineMap, row: Arrival, state: State) -> tuple[float, float, bool]:
    low = high = 0.0
    silent = False
    for edge in row.edges:
        low, high = low + edge.delay.low, high + edge.delay.high
        if edge.loop is not None and edge.loop not in state.out:
            silent = silent or edge.loop in state.dead
            for item in line_map.loop(edge.loop).items:
                low, high = low + item.delay.low, high + item.delay.high
    return low, high, silent


@given(seeds, st.booleans())
def test_the_times_of_a_state_are_the_sums_along_each_path(seed: int, unknowns: bool) -> None:
    """The matrix product gives what walking each path and adding up its edges and IN loops gives, in every state."""
    plan = _plan(drawn(seed, unknowns=unknowns))
    for state in plan.states:
        times = plan.arrivals.times(state)
        for index, row in enumerate(plan.arrivals.rows):
            low, high, silent = _naive(plan.line_map, row, state)
            assert times.low[index] == pytest.approx(low, abs=1e-12)
            assert times.high[index] == pytest.approx(high, abs=1e-12)
            assert times.silent[index] == silent


@given(seeds)
def test_taking_loops_out_removes_exactly_their_delay(seed: int) -> None:
    """On each path and for every state: IN minus OUT is the sum of the delays of the loops it passes that are OUT."""
    plan = _plan(drawn(seed))
    inside = plan.arrivals.times(plan.states[0])
    delays = {time.loop: time.delay for time in plan.line_map.loops}
    for state in plan.states:
        outside = plan.arrivals.times(state)
        for index, row in enumerate(plan.arrivals.rows):
            removed = total(delays[loop] for loop in row.loops if loop in state.out)
            assert inside.low[index] - outside.low[index] == pytest.approx(removed.low, abs=1e-12)
            assert inside.high[index] - outside.high[index] == pytest.approx(removed.high, abs=1e-12)


@given(seeds, st.booleans())
def test_an_unknown_part_never_makes_a_number(seed: int, unknowns: bool) -> None:
    """A time has an upper bound exactly where every part that is passed in that state is known."""
    plan = _plan(drawn(seed, unknowns=unknowns))
    loops = {time.loop: time.delay for time in plan.line_map.loops}
    for state in plan.states:
        times = plan.arrivals.times(state)
        for index, row in enumerate(plan.arrivals.rows):
            parts = [edge.delay for edge in row.edges] + [loops[loop] for loop in row.loops if loop not in state.out]
            assert math.isfinite(times.high[index]) == all(part.known for part in parts)
            assert math.isfinite(times.low[index])


@given(seeds, st.data())
def test_one_unknown_edge_makes_every_path_over_it_unknown_and_no_other(seed: int, data: st.DataObject) -> None:
    """Whatever figure is taken away, exactly the totals that need it are gone."""
    line_map = _plan(drawn(seed)).line_map
    lost = data.draw(st.sampled_from([edge for edge in line_map.edges if edge.loop is None]))
    arrivals = find_arrivals(_with_edge(line_map, lost, replace(lost, delay=UNKNOWN)))
    times = arrivals.times(State("all IN", "all in"))
    for index, row in enumerate(arrivals.rows):
        passes = any((edge.start, edge.end, edge.label) == (lost.start, lost.end, lost.label) for edge in row.edges)
        assert math.isinf(times.high[index]) == passes


@given(seeds, st.data())
def test_a_longer_edge_makes_no_path_earlier(seed: int, data: st.DataObject) -> None:
    """Ten frames more anywhere: the paths over it are ten frames later, all others stay."""
    line_map = _plan(drawn(seed)).line_map
    edge = data.draw(st.sampled_from([edge for edge in line_map.edges if edge.loop is None]))
    longer = replace(edge.delay, low=edge.delay.low + 10 * FRAME_S, high=edge.delay.high + 10 * FRAME_S)
    before, after = find_arrivals(line_map), find_arrivals(_with_edge(line_map, edge, replace(edge, delay=longer)))
    state = State("all IN", "all in")
    later = after.times(state).low - before.times(state).low
    for index, row in enumerate(before.rows):
        assert later[index] == pytest.approx(10 * FRAME_S if edge in row.edges else 0.0, abs=1e-12)


def _with_edge(line_map: LineMap, old: Edge, new: Edge) -> LineMap:
    edges = tuple(new if edge is old else edge for edge in line_map.edges)
    outgoing = {
        node: tuple(new if edge is old else edge for edge in leaving) for node, leaving in line_map.outgoing.items()
    }
    return replace(line_map, edges=edges, outgoing=outgoing)


@given(seeds)
def test_a_delay_written_into_the_show_makes_no_path_earlier(seed: int) -> None:
    """A device, a dialled delay or a slower round trip: nothing in any state comes before what it was."""
    data = drawn(seed)
    data.pop("limits", None)  # who goes out may hang on what ears accept
    slower = copy.deepcopy(data)
    slower["inputs"][0]["device_ms"] = data["inputs"][0]["device_ms"] + 2
    slower["outputs"][0]["delay_ms"] = data["outputs"][0].get("delay_ms", 0) + 2
    slower["units"][0]["buffer"] = 128
    data["units"][0]["buffer"] = 64
    one, other = _plan(data), _plan(slower)
    for state in one.states:
        before, after = one.arrivals.times(state), other.arrivals.times(state)
        assert [row.route for row in one.arrivals.rows] == [row.route for row in other.arrivals.rows]
        assert np.all(after.low >= before.low - 1e-12)


@given(seeds, st.booleans(), st.integers(0, 10**6))
def test_the_order_of_lists_and_keys_changes_nothing(seed: int, unknowns: bool, order: int) -> None:
    """Every list and every set of keys of the show shuffled: the plan as JSON is the same text."""
    data = drawn(seed, unknowns=unknowns)
    one, other = _plan(data), _plan(shuffled(data, random.Random(order)))
    assert plan_text(one, one.findings) == plan_text(other, other.findings)


@given(seeds)
def test_no_path_is_lost_and_none_is_made_up(seed: int) -> None:
    """As many arrivals at each place from each source as networkx.all_simple_paths finds over the same edges."""
    plan = _plan(drawn(seed))
    graph = nx.MultiDiGraph((edge.start, edge.end) for edge in plan.line_map.edges)
    sources = {edge.start for edge in plan.line_map.edges if edge.start.kind == "source"}
    expected = {
        (source.name, place.name): len(list(nx.all_simple_edge_paths(graph, source, place.node)))
        for source in sources
        for place in plan.line_map.places
    }
    found = dict.fromkeys(expected, 0)
    for row in plan.arrivals.rows:
        found[row.source, row.place.name] += 1
    assert found == expected
    assert plan.arrivals.complete


@given(seeds)
def test_a_path_is_what_it_says(seed: int) -> None:
    """Edges join end to start from the source to the place; level, loops, strips and output are those on the way."""
    plan = _plan(drawn(seed))
    for row in plan.arrivals.rows:
        assert all(one.end == two.start for one, two in zip(row.edges, row.edges[1:], strict=False))
        assert row.edges[0].start.name == row.source
        assert row.edges[-1].end == row.place.node
        assert row.loops == tuple(edge.loop for edge in row.edges if edge.loop)
        assert row.level_db == sum(edge.level_db or 0.0 for edge in row.edges)
        assert [edge.end.name for edge in row.edges if edge.end.kind == "sounding"][-1:] == (
            [row.output] if row.output else []
        )
        assert sum(item.delay.low for item in row.items()) == pytest.approx(row.base.low, abs=1e-12)


@given(seeds)
def test_paths_that_are_taken_over_are_those_that_would_be_found(seed: int) -> None:
    """Where only the times of loops change, the arrivals of another map with new times equal a search from scratch."""
    data = drawn(seed)
    one, other = (_plan({**data, "units": _with_buffer(data, buffer)}) for buffer in (32, 128))
    again = find_arrivals(other.line_map, (one.line_map, one.arrivals))
    fresh = find_arrivals(other.line_map)
    assert again.rows == fresh.rows
    _same(again, fresh)


def _with_buffer(data: Data, buffer: int) -> list[Data]:
    return [{**unit, "buffer": buffer} if unit["kind"] == "computer" else unit for unit in data["units"]]


def _same(one: Arrivals, other: Arrivals) -> None:
    for state in (State("all IN", "all in"), State("all OUT", "all out", out=frozenset(one.loops))):
        assert np.array_equal(one.times(state).low, other.times(state).low)
        assert np.array_equal(one.times(state).high, other.times(state).high)


def test_a_unit_that_is_dead_silences_what_passes_its_loops_in() -> None:
    """Every path through a loop of the unit is silent, and none other; taken OUT they sound again."""
    plan = next(plan for seed in range(50) if len((plan := _plan(drawn(seed))).allocation.loops) > 1)
    loops = frozenset(plan.arrivals.loops)
    dead = plan.arrivals.times(State("dead", "unit dead", dead=loops))
    rescued = plan.arrivals.times(State("dead", "unit dead", dead=loops, out=loops))
    assert [bool(silent) for silent in dead.silent] == [bool(row.loops) for row in plan.arrivals.rows]
    assert not rescued.silent.any()
