"""Times with bounds and standing: sums, their weakest part, and what an unknown part does to them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.graph.span import NOTHING, UNKNOWN, Span, span_of, total, weakest
from sidetrip.model.figure import Figure, Standing

STANDINGS: tuple[Standing, ...] = ("proven", "assumed", "unknown")
known_spans = st.builds(
    lambda low, width, standing: Span(low, low + width, standing),
    st.integers(0, 5000).map(float),
    st.integers(0, 500).map(float),
    st.sampled_from(STANDINGS),
)
spans = known_spans | st.just(UNKNOWN) | st.builds(lambda low: Span(float(low), math.inf, "unknown"), st.integers(0, 9))


def test_a_sum_adds_low_to_low_and_high_to_high() -> None:
    """Bounds add up on their own sides."""
    assert Span(1.0, 2.0, "proven") + Span(0.5, 4.0, "proven") == Span(1.5, 6.0, "proven")


@pytest.mark.parametrize("one", STANDINGS)
@pytest.mark.parametrize("other", STANDINGS)
def test_a_sum_is_as_weak_as_its_weakest_part(one: Standing, other: Standing) -> None:
    """Proven and assumed make assumed, anything and unknown make unknown, on either side of the plus."""
    expected = max(one, other, key=STANDINGS.index)
    assert (Span(0, 0, one) + Span(0, 0, other)).standing == expected
    assert weakest([one, other]) == expected


def test_nothing_is_proven() -> None:
    """The sum of no parts is no time, and no standing is the weakest of none but proven."""
    assert total([]) == NOTHING
    assert weakest([]) == "proven"


def test_a_plain_figure_has_a_middle_and_an_unknown_one_has_none() -> None:
    """The middle of 2 to 4 is 3; of unknown there is no number at all."""
    assert Span(2.0, 4.0, "assumed").typical == 3.0
    assert UNKNOWN.typical is None
    assert not UNKNOWN.known


@given(st.lists(spans, max_size=6))
def test_a_total_is_known_only_if_every_part_is(parts: list[Span]) -> None:
    """One unknown part makes the total unknown, and nothing else does."""
    assert total(parts).known == all(part.known for part in parts)


@given(st.lists(spans, max_size=6), st.randoms())
def test_the_order_of_the_parts_changes_nothing(parts: list[Span], shuffler: object) -> None:
    """Whole numbers of seconds add up alike in any order, standing included."""
    assert total(reversed(parts)) == total(parts)


@given(spans)
def test_what_is_left_out_again_keeps_its_width_and_its_standing(span: Span) -> None:
    """A known span turned round runs from minus its high to minus its low; an unknown one never becomes a number."""
    turned = -span
    assert turned.standing == span.standing
    assert turned.known == span.known
    assert turned.low <= turned.high
    if span.known:
        assert (turned.low, turned.high) == (-span.high, -span.low)


@given(known_spans)
def test_leaving_out_what_was_counted_gives_back_its_uncertainty_only(span: Span) -> None:
    """A path that adds a span and leaves it out again is uncertain by the width of the span, around nothing."""
    rest = span + -span
    assert rest.low == -(span.high - span.low)
    assert rest.high == span.high - span.low


def test_a_known_part_beside_an_unknown_one_left_out_stays_unknown() -> None:
    """Twenty seconds less an unknown time are no twenty seconds."""
    assert not (Span(20.0, 20.0, "proven") + -UNKNOWN).known


@pytest.mark.parametrize("figure", [None, Figure(low=None, high=None, standing="unknown")])
def test_no_figure_and_unknown_are_unknown(figure: Figure | None) -> None:
    """Neither is taken for zero."""
    assert span_of(figure, 1.0) == UNKNOWN


def test_a_figure_is_scaled_and_keeps_its_own_standing() -> None:
    """48 to 96 frames at 48 kHz are 1 to 2 ms; a figure's own standing goes before that of its file."""
    proven = Figure(low=48, high=96, standing="proven")
    plain = Figure(low=48, high=96)
    assert span_of(proven, 1 / 48000, "assumed") == Span(0.001, 0.002, "proven")
    assert span_of(plain, 1 / 48000, "proven") == Span(0.001, 0.002, "proven")
    assert span_of(plain, 1 / 48000) == Span(0.001, 0.002, "assumed")
