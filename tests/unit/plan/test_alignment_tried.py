"""Alignment against others: every setting tried, a linear program without whole numbers, and the line map once more."""

from __future__ import annotations

import itertools
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from drawnshows import drawn, show_of, shuffled
from sidetrip.graph.arrivals import State, find_arrivals
from sidetrip.graph.build import build
from sidetrip.model.desk import Desk
from sidetrip.model.figure import figure
from sidetrip.plan.alignment import Alignment, aligned_show
from sidetrip.plan.alignment_lines import Line, Passing, desk_lines, lines_of
from sidetrip.plan.alignment_moves import find_moves, move_edges
from sidetrip.plan.alignment_pairs import find_pairs, watched_states
from sidetrip.plan.alignment_program import Answer, Condition, Ear, Question, aims_of, fits
from sidetrip.plan.alignment_question import Asked, ask
from sidetrip.plan.alignment_solver import solve
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.showfile.read import read_show
from smallshows import plain_desk, plan_from, theatre_desk

DESK = plain_desk()
HOLDING = plain_desk(
    tail='compensation: [{at: main, holds: [channel, group], limit_frames: 64, external_inserts: "yes"}]'
)
FEW = settings(max_examples=8, deadline=None)


def with_lines(step: float, most_ms: float) -> Desk:
    """Return the plain desk with other delay lines."""
    return DESK.model_copy(update={"delay_step_frames": figure(step), "delay_max_ms": figure(most_ms)})


def question_of(seed: int) -> Question:
    """Draw a small question: two or three lines, a move, a handful of pairs in two states, somebody's ears."""
    draw = random.Random(seed)
    lines = tuple(
        Line(("strip", f"Strip {n}"), draw.choice([0.0, 0.0, 3.0]), draw.random() < 0.9, 1.0, draw.randint(2, 7))
        for n in range(draw.randint(2, 3))
    )
    conditions = []
    for _ in range(draw.randint(2, 6)):
        factors = tuple((n, draw.choice([-1, 1])) for n in range(len(lines)) if draw.random() < 0.6)
        gap, wide = draw.choice([-5.0, -2.5, 0.0, 1.25, 4.0, 6.0]), draw.choice([0.5, 1.5])
        zones = [((-wide - gap, wide - gap), (-gap, -gap))]
        if draw.random() < 0.3:
            zones.append(((4.0 - gap, 6.0 - gap), (4.0 - gap, 6.0 - gap)))
        move = ((0, draw.choice([-4.0, 2.5, 5.0])),) if draw.random() < 0.4 else ()
        conditions.append(Condition(draw.randint(0, 2), draw.random() < 0.6, factors, move, tuple(zones)))
    ears = (Ear("Ears", ((0, 1),), (), draw.choice([1.0, 4.0, float("inf")]), draw.choice([-2.0, 0.5])),)
    return Question(lines, (draw.choice([1, 2]),), tuple(conditions), ears)


def every_answer(question: Question) -> Iterator[Answer]:
    """Yield every answer that the lines allow."""
    choices = [[None, *range(line.most + 1)] if line.open else [None] for line in question.lines]
    for steps in itertools.product(*choices):
        for moved in itertools.product((0, 1), repeat=len(question.prices)):
            answer = Answer(tuple(steps), tuple(moved))
            if fits(question, answer):
                yield answer


def same_aims(found: tuple[float, ...], best: tuple[float, ...]) -> bool:
    """Tell whether every aim has the same value, in order, sums of frames within what is kept of them."""
    return all(abs(one - other) < 1e-3 for one, other in zip(found, best, strict=True))


@given(st.integers(0, 10**6))
@FEW
def test_no_setting_is_better_than_the_one_that_is_found(seed: int) -> None:
    """Every setting of two or three lines tried: the same value of each aim, in order."""
    question = question_of(seed)
    found = solve(question)
    assert found.proven and fits(question, found)
    best = min(tuple(round(aim, 4) for aim in aims_of(question, answer)) for answer in every_answer(question))
    assert same_aims(aims_of(question, found), best), (found, aims_of(question, found), best)


def asked_of(plan: Plan) -> Asked:
    """Return the question that a plan's alignment answers."""
    show, desk, loops = plan.show, plan.desk, plan.allocation.loops
    watched, passing = watched_states(plan.states, plan.arrivals.loops), Passing(plan.show, plan.desk)
    edges = move_edges(show, desk, loops, plan.line_map)
    pairs, _ = find_pairs(show, passing, plan.line_map, plan.arrivals, watched, edges)
    own = desk_lines(show, desk)
    times = {unit.name: unit.time for unit in plan.units}
    hollow = [pair for pair in pairs if pair.grade]
    moves = find_moves(show, desk, plan.line_map, loops, plan.allocation.spare, times, hollow)
    return ask(show, passing, plan.arrivals, watched, pairs, lines_of(show, desk, own), moves, own)


@given(st.integers(0, 10**6))
@FEW
def test_no_setting_of_a_small_show_is_better(seed: int) -> None:
    """Drawn shows on a desk with two coarse steps: every setting of up to four lines tried, aim by aim."""
    plan = make_plan(show_of(drawn(seed), DESK), with_lines(64, 3), dial=False)
    asked = asked_of(plan)
    pulls = {line for own in asked.question.conditions for line, _ in own.lines}
    kept = sorted(pulls, key=lambda n: asked.lines[n].place)[:4]
    lines = tuple(replace(line, open=line.open and n in kept) for n, line in enumerate(asked.lines))
    question = replace(asked.question, lines=lines)
    if len(question.prices) > 3:
        return
    found = solve(question)
    best = min(tuple(round(aim, 4) for aim in aims_of(question, answer)) for answer in every_answer(question))
    assert fits(question, found)
    assert same_aims(aims_of(question, found), best), (found, aims_of(question, found), best)


@given(st.integers(0, 10**6))
@FEW
def test_whole_steps_cost_at_most_a_step_a_line(seed: int) -> None:
    """SciPy's linear program without whole numbers is never above the answer, and a step a line below it at most.

    Chains of mains, fills and delays: each must come within 20 frames of the next, lines of four frames a step.
    """
    draw = random.Random(seed)
    count = draw.randint(2, 5)
    lines = tuple(Line(("output", f"Zone {n}"), 0.0, True, 4.0, 400) for n in range(count))
    gaps = [draw.uniform(-300, 300) for _ in range(count - 1)]
    conditions = tuple(
        Condition(2, True, ((n, -1), (n + 1, 1)), (), (((-20.0 - gap, 20.0 - gap), (-20.0 - gap, 20.0 - gap)),))
        for n, gap in enumerate(gaps)
    )
    question = Question(lines, (), conditions, ())
    found = solve(question)
    aims = aims_of(question, found)
    assert aims[0] == 0
    used = [n for n, steps in enumerate(found.steps) if steps is not None]
    rows, high = [], []
    for n, gap in enumerate(gaps):
        row = np.zeros(count)
        row[n], row[n + 1] = -1.0, 1.0
        rows += [row, -row]
        high += [20.0 - gap, 20.0 + gap]
    bounds = [(0.0, 1600.0) if n in used else (0.0, 0.0) for n in range(count)]
    relaxed = linprog(np.ones(count), A_ub=np.array(rows), b_ub=np.array(high), bounds=bounds)
    assert relaxed.status == 0
    least = float(relaxed.fun or 0.0)
    assert least - 1e-3 <= aims[11] <= least + 4.0 * len(used) * len(used)


# The line map once more


def again(plan: Plan) -> tuple[Meeting, ...]:
    """Return the meetings of a plan's show once all is dialled, moved and sent out blank."""
    show = aligned_show(plan.show, plan.desk, plan.alignment)
    blanks = tuple(move.blank for move in plan.alignment.moves if move.blank is not None)
    times = {unit.name: unit.time for unit in plan.units}
    line_map = build(show, plan.desk, (*plan.allocation.loops, *blanks), times)
    return find_meetings(show, line_map, find_arrivals(line_map), (State("all IN", "all in"),))[0]


def alike(one: Meeting, other: Meeting) -> bool:
    """Tell whether two meetings are of one class, one place and one source."""
    same = one.kind == other.kind and one.joined == other.joined
    return same and bool(set(one.places) & set(other.places)) and bool(set(one.sources) & set(other.sources))


def promised(plan: Plan) -> None:
    """Hold what alignment says of each meeting against the meetings of the show as it then is."""
    after = again(plan)
    for one in plan.alignment.meetings:
        if one.meeting.kind == "picture":
            (found,) = (own for own in after if own.kind == "picture" and own.places == one.meeting.places)
            assert found.gap_in.low == pytest.approx(one.after_in.low, abs=1e-9)
            assert found.gap_in.high == pytest.approx(one.after_in.high, abs=1e-9)
            continue
        if one.verdict not in ("cured", "left", "made worse") or one.after_in.verdict == "alone":
            continue
        spread = abs(one.after_in.typical)
        found_one = [
            own
            for own in after
            if alike(own, one.meeting)
            and own.gap_in.verdict == one.after_in.verdict
            and (one.after_in.verdict == "together" or abs(abs(own.gap_in.typical) - spread) < 1e-6 or own.gap_worst)
        ]
        assert found_one, (one.meeting.sentence, one.after_in, [own.sentence for own in after])
    told = [one.meeting for one in plan.alignment.meetings if one.after_in.verdict != "together"]
    for own in after:
        if own.gap_in.verdict == "apart" and not own.slight and own.kind != "picture":
            assert any(alike(own, meeting) for meeting in told), own.sentence


@given(st.integers(0, 10**6))
@settings(max_examples=12, deadline=None)
def test_the_line_map_shows_what_was_promised(seed: int) -> None:
    """Drawn shows, planned, dialled and mapped again: cured is together, left is as far apart as it was said to be."""
    promised(make_plan(show_of(drawn(seed), DESK), DESK))


@given(st.integers(0, 10**6))
@FEW
def test_a_desk_that_holds_copies_back_keeps_the_promise(seed: int) -> None:
    """What is dialled by hand is never undone by what a desk compensates."""
    promised(make_plan(show_of(drawn(seed), HOLDING), HOLDING))


@given(st.integers(0, 10**6))
@FEW
def test_ranges_and_unknowns_are_never_dialled_on(seed: int) -> None:
    """Where figures are open there is a plan without a traceback, and what it does dial is true all the same."""
    plan = make_plan(show_of(drawn(seed, unknowns=True), DESK), DESK)
    for one in plan.alignment.meetings:
        assert one.verdict != "measure first" or one.why.startswith(("Measure", "Give"))
        assert not (one.verdict == "cured" and one.after_in.verdict == "cannot tell")
    for setting in plan.alignment.settings:
        assert setting.frames == pytest.approx(setting.steps)


@given(st.integers(0, 10**6), st.integers(0, 10**6))
@FEW
def test_the_order_of_the_show_changes_no_setting(seed: int, order: int) -> None:
    """The same numbers and the same words whatever the order of lists."""
    data = drawn(seed, unknowns=seed % 2 == 1)
    one = make_plan(show_of(data, DESK), DESK).alignment
    other = make_plan(show_of(shuffled(data, random.Random(order)), DESK), DESK).alignment
    assert repr(one) == repr(other)


def many(count: int) -> str:
    """Return a show with so many loops: every channel, into two groups, a main, a matrix and ears."""
    inputs = ", ".join(
        f"{{ch: {n}, name: In {n}, port: stage {n}, to: [Main], group: G{n % 2},"
        f" hears: {{s{n}: {{m: 0.1}}, s{n % count + 1}: {{m: 1.5, db: -8}}}}}}"
        for n in range(1, count + 1)
    )
    requests = ", ".join(f"{{strip: In {n}, chain: plain, want: 5}}" for n in range(1, count + 1))
    return f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{{buffer: 64, rate: 48000, round_trip_frames: 331}}]}}]
chains: {{plain: [{{eq: {{}}}}]}}
inputs: [{inputs}]
mixes:
  - {{name: G0, kind: group, width: mono, to: [Main]}}
  - {{name: G1, kind: group, width: mono, to: [Main]}}
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Subs, kind: matrix, width: mono, from: {{Main: {{db: 0, tap: before insert}}, G0: {{db: -6}}}}}}
outputs: [{{name: PA, from: Main, port: local out 1-2}},
  {{name: Sub stack, from: Subs, port: local out 3, crossover_hz: 90}}]
listeners: [{{name: row F, hears: {{PA: {{m: 9}}, Sub stack: {{m: 8}}}}}}]
requests: [{requests}]
"""


def test_sixty_four_loops_are_weighed_without_a_blow_up() -> None:
    """Two thousand pairs in sixty-six states: what is not weighed is counted, and no traceback."""
    found: Alignment = plan_from(many(64), plain_desk(carriers=64)).alignment
    assert found.meetings
    assert found.left_out > 0


# What is said of what is left


def test_a_dip_is_that_of_the_time_beside_it() -> None:
    """Where a reason names a time and a first dip, the dip is at 1/(2t): on drawn shows and on the demo."""
    seen = 0
    reasons = [one.why for seed in range(20) for one in make_plan(show_of(drawn(seed), DESK), DESK).alignment.meetings]
    demo = (Path(__file__).parents[3] / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
    reasons += [one.why for one in make_plan(read_show(demo, "show.yaml").show, theatre_desk()).alignment.meetings]
    for why in reasons:
        found = re.search(r"(\d+\.\d+) ms (?:after|apart).*first dip at (\d+) Hz", why)
        if found is not None:
            ms, dip = map(float, found.groups())
            assert dip == pytest.approx(500 / ms, rel=0.006 / ms + 0.5 / dip), why
            seen += 1
    assert seen >= 5
