"""Spreads as arrays: for every pair and state the same sums as one pair at a time, figure by figure."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawnshows import drawn, show_of
from sidetrip.graph.arrivals import State
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.spread import bounds_of, figures_of, parts_of
from sidetrip.plan.spreads import Spreads
from smallshows import plain_desk

DESK = plain_desk()
HOLDING = plain_desk(
    tail="compensation: [{at: [main], holds: [channel, group], limit_frames: 600, external_inserts: unknown}]"
)
_MOST = 250


def _agrees(plan: Plan) -> None:
    arrivals, loops = plan.arrivals, {time.loop: time for time in plan.line_map.loops}
    pairs = [
        (a, b)
        for a, b in itertools.combinations(range(len(arrivals.rows)), 2)
        if (arrivals.rows[a].place, arrivals.rows[a].source) == (arrivals.rows[b].place, arrivals.rows[b].source)
    ][:_MOST]
    if not pairs:
        return
    first, second = (np.array(side) for side in zip(*pairs, strict=True))
    spreads = Spreads(arrivals, plan.line_map.loops, sorted({row for pair in pairs for row in pair}))
    base = spreads.base(first, second)
    all_out = State("all OUT", "all out", out=frozenset(arrivals.loops))
    for state in (*plan.states, all_out):
        found = spreads.in_state(base, first, second, state)
        for number, pair in enumerate(pairs):
            parts = parts_of(*(figures_of(arrivals.rows[row], loops, state, arrivals.holding) for row in pair))
            air = [part for part in parts if part.air]
            own = [part for part in parts if not part.air]
            got = [
                (found.low[number], found.high[number]),
                (found.air_low[number], found.air_high[number]),
                (found.own_low[number], found.own_high[number]),
            ]
            for (low, high), some in zip(got, (parts, air, own), strict=True):
                expected = bounds_of(some)
                assert [math.isfinite(low), math.isfinite(high)] == [math.isfinite(end) for end in expected]
                assert [low, high] == pytest.approx(list(expected), abs=2e-15), (state.name, pair)


@given(st.integers(0, 10**6), st.booleans())
def test_arrays_add_up_what_single_pairs_add_up(seed: int, unknowns: bool) -> None:
    """Bounds, the air's part and the rest agree for every pair in every state, known or not."""
    _agrees(make_plan(show_of(drawn(seed, unknowns=unknowns), DESK), DESK, dial=False))


@given(st.integers(0, 10**6), st.booleans())
def test_they_do_on_a_desk_that_holds_copies_back(seed: int, unknowns: bool) -> None:
    """What a copy waits hangs on the state, and counts the other way for what it waits for."""
    _agrees(make_plan(show_of(drawn(seed, unknowns=unknowns), HOLDING), HOLDING, dial=False))
