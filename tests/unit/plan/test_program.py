"""The integer program: aims in order with exact values, questions that leave no trace, proofs without solving."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from sidetrip.plan.program import Program, Wider

_SMALL = st.integers(-3, 3)


@st.composite
def _programs(draw: st.DrawFn) -> tuple[list[int], list[tuple[dict[int, float], int, int]], list[dict[int, float]]]:
    """Return upper bounds, rows and aims of a few small variables."""
    count = draw(st.integers(1, 4))
    upper = [draw(st.integers(0, 2)) for _ in range(count)]
    sums = st.dictionaries(st.integers(0, count - 1), _SMALL.filter(bool).map(float), max_size=count)
    rows = [
        (draw(sums), low := draw(st.integers(-4, 2)), low + draw(st.integers(0, 5)))
        for _ in range(draw(st.integers(0, 3)))
    ]
    aims = [draw(sums) for _ in range(draw(st.integers(1, 4)))]
    return upper, rows, aims


def _sum(terms: dict[int, float], values: tuple[int, ...] | list[int]) -> float:
    return sum(weight * values[index] for index, weight in terms.items())


@settings(max_examples=150, deadline=None)
@given(_programs())
def test_aims_in_order_reach_what_trying_everything_reaches(
    case: tuple[list[int], list[tuple[dict[int, float], int, int]], list[dict[int, float]]],
) -> None:
    """Every aim's value is the largest there is beside all earlier aims, by enumeration; weights of any size."""
    upper, rows, aims = case
    program = Program()
    for bound in upper:
        program.variable(bound)
    for terms, low, high in rows:
        program.row(terms, low, high)
    every = [
        values
        for values in itertools.product(*(range(bound + 1) for bound in upper))
        if all(low <= _sum(terms, values) <= high for terms, low, high in rows)
    ]
    for aim in aims:
        found = program.maximise(aim)
        if not every:
            assert found is None
            return
        best = max(_sum(aim, values) for values in every)
        every = [values for values in every if _sum(aim, values) == best]
        assert found is not None
        assert tuple(found) in every


@settings(max_examples=100, deadline=None)
@given(_programs())
def test_a_question_with_more_rows_leaves_no_trace(
    case: tuple[list[int], list[tuple[dict[int, float], int, int]], list[dict[int, float]]],
) -> None:
    """Fixed by bounds or rows, it answers as enumeration does, and the same question without them as before."""
    upper, rows, aims = case
    program = Program()
    for bound in upper:
        program.variable(bound)
    for terms, low, high in rows:
        program.row(terms, low, high)
    every = [
        values
        for values in itertools.product(*(range(bound + 1) for bound in upper))
        if all(low <= _sum(terms, values) <= high for terms, low, high in rows)
    ]
    before = program.feasible()
    assert before == bool(every)
    fixed = [({0: 1.0}, 1.0, 1.0), *((aim, -1.0, 1.0) for aim in aims[:1])]
    expected = [values for values in every if values[0] == 1 and -1 <= _sum(aims[0], values) <= 1]
    assert program.feasible(fixed) == bool(expected)
    assert program.feasible() == before
    for values in itertools.product(*(range(bound + 2) for bound in upper)):
        assert program.satisfied(list(values)) == (values in every)


def test_wider_bounds_hold_for_one_question() -> None:
    """One variable stands for three that are alike, in a row that lets each out once."""
    program = Program()
    one, places = program.variable(), program.variable(5)
    program.row({one: 1.0}, 0, 1)
    program.row({one: 1.0, places: -1.0}, 0, 0)
    wider = Wider({one: 3.0}, {0: 3.0})
    assert not program.feasible([({one: 1.0}, 3, 3)])
    assert program.feasible([({one: 1.0}, 3, 3)], wider)
    assert program.satisfied([3, 3], wider)
    assert not program.satisfied([3, 3])
