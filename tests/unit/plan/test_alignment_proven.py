"""The search for what to dial: proven where much hangs together, and open about it where it is cut short."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidetrip.plan import alignment_solver
from sidetrip.plan.alignment_lines import Line
from sidetrip.plan.alignment_program import Answer, Condition, Ear, Open, Question, aims_of, fits
from sidetrip.plan.alignment_remarks import alignment_findings
from sidetrip.plan.alignment_result import NOTHING_ALIGNED
from sidetrip.plan.alignment_rows import scale_of
from sidetrip.plan.alignment_solver import solve
from smallshows import plain_desk, show_from

FEW = settings(max_examples=15, deadline=None)


def tangle(seed: int, lines: int, pairs: int, *, step: float = 1.0) -> tuple[Question, Answer]:
    """Draw pairs of ways through a group, an output and a channel each, and an answer that cures all of them.

    Everything hangs together by the two outputs. How far apart each pair is follows from what the answer dials.
    """
    draw = random.Random(seed)
    own = tuple(Line(("strip", f"Strip {n:02}"), 0.0, True, step, 400) for n in range(lines))
    dialled = {n: draw.randint(1, 300) for n in draw.sample(range(lines), lines // 3)}
    answer = Answer(tuple(dialled.get(n) for n in range(lines)), ())
    conditions = []
    for _ in range(pairs):
        one, other = draw.sample(range(2, lines), 2)
        factors = ((0, -1), (1, 1), (min(one, other), -1), (max(one, other), 1))
        shift = sum(factor * dialled.get(n, 0) * step for n, factor in factors)
        zone = (shift - draw.uniform(0, 30), shift + draw.uniform(0, 30))
        conditions.append(Condition(2, True, factors, (), ((zone, zone),)))
    return Question(own, (), tuple(conditions), ()), answer


def test_sixty_pairs_that_hang_together_are_proven() -> None:
    """No pair is left apart, for the answer that they were drawn from leaves none, and no more lines are dialled."""
    question, known = tangle(1, 24, 60)
    found = solve(question)
    assert found.proven and fits(question, found)
    assert aims_of(question, found)[0] == aims_of(question, known)[0] == 0
    assert aims_of(question, found)[:5] <= aims_of(question, known)[:5]


@given(st.integers(0, 10**6), st.sampled_from([1.0, 4.8, 0.5, 4.41]))
@FEW
def test_whatever_the_step_the_answer_known_beforehand_is_never_better(seed: int, step: float) -> None:
    """Steps of whole frames, of 0.1 ms at 48 and at 44.1 kHz and of half a frame: proven, and no worse aim by aim."""
    question, known = tangle(seed, 9, 14, step=step)
    found = solve(question)
    assert found.proven and fits(question, found)
    best = tuple(round(aim, 3) for aim in aims_of(question, known))
    assert tuple(round(aim, 3) for aim in aims_of(question, found)) <= best


@given(st.integers(0, 10**6), st.integers(0, 10**6))
@FEW
def test_the_order_in_which_pairs_are_asked_changes_no_aim(seed: int, order: int) -> None:
    """Conditions shuffled: the same value of each aim."""
    question, _ = tangle(seed, 9, 14)
    mixed = list(question.conditions)
    random.Random(order).shuffle(mixed)
    other = replace(question, conditions=tuple(mixed))
    one, two = (aims_of(question, solve(own)) for own in (question, other))
    assert one == pytest.approx(two, abs=1e-3)


def test_zones_that_lie_over_each_other_count_the_better_best() -> None:
    """One zone is best at 10, one at 13 and both reach from 8 to 15: held at 13 by a neighbour, nothing is short."""
    line = Line(("strip", "Strip"), 0.0, True, 1.0, 40)
    both = Condition(2, True, ((0, 1),), (), (((8.0, 15.0), (10.0, 10.0)), ((8.0, 15.0), (13.0, 13.0))))
    held = Condition(2, True, ((0, 1),), (), (((12.0, 14.0), (12.0, 14.0)),))
    question = Question((line,), (), (both, held), ())
    assert solve(question).steps == (13,)


def test_what_cannot_be_proven_says_how_far_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """With next to no work allowed an answer keeps the limits, is not called proven, and its bounds hold."""
    question, known = tangle(2, 24, 90)
    ears = tuple(Ear("Ears", ((n, 1),), (), 350.0, -50.0) for n in range(5))
    question = replace(question, ears=ears)
    best = solve(question)
    monkeypatch.setattr(alignment_solver, "MOST_WORK", 1e-4)
    monkeypatch.setattr(alignment_solver, "LEAST_WORK", 1e-4)
    found = solve(question)
    assert best.proven and not found.proven and fits(question, found)
    first = found.open[0]
    assert first.least <= first.found
    if first.aim == "hollow while the show runs":
        assert first.least <= aims_of(question, best)[0] <= aims_of(question, found)[0] == first.found
    assert aims_of(question, best)[:5] <= aims_of(question, known)[:5]


def test_a_search_that_was_cut_short_is_a_finding_with_both_values() -> None:
    """It names the first aim that is not proven, what was found and what no answer is below."""
    cut = replace(NOTHING_ALIGNED, proven=False, open=(Open("hollow while the show runs", 22.0, 18.0),))
    show = show_from("inputs: [{ch: 1, name: Voice, port: stage 1}]", plain_desk())
    (finding,) = alignment_findings(show, cut)
    assert finding.code == "paths-cut"
    assert finding.values == "the search was cut short: hollow while the show runs, 22 found, 18 at least"


@pytest.mark.parametrize(("step", "units"), [(1.0, 1), (4.8, 5), (0.5, 2), (4.41, 100), (1 / 3, 10**9)])
def test_times_are_counted_in_the_largest_unit_that_is_exact(step: float, units: int) -> None:
    """4.8 frames are 24 fifths of a frame; a third of a frame is no whole part, and the finest is taken."""
    question, _ = tangle(3, 4, 2, step=step)
    assert scale_of(question, question.conditions) == units
