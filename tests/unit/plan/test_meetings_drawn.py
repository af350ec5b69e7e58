"""What holds for the meetings of any show: order changes none, each is worded, and no number is made up."""

import random

from hypothesis import given
from hypothesis import strategies as st

from drawnshows import drawn, show_of, shuffled
from sidetrip.plan.planner import make_plan
from smallshows import plain_desk

DESK = plain_desk()


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_the_order_of_the_show_changes_no_meeting(seed: int, order: int) -> None:
    """The same meetings, figure for figure and in the same order."""
    data = drawn(seed, unknowns=seed % 2 == 1)
    one = make_plan(show_of(data, DESK), DESK, dial=False)
    other = make_plan(show_of(shuffled(data, random.Random(order)), DESK), DESK, dial=False)
    assert repr(one.meetings) == repr(other.meetings)


@given(st.integers(0, 10**6), st.booleans())
def test_every_meeting_is_worded_and_ordered(seed: int, unknowns: bool) -> None:
    """The worst first, each with a sentence; what is not known has no number, and what is has one."""
    plan = make_plan(show_of(drawn(seed, unknowns=unknowns), DESK), DESK, dial=False)
    order = ["apart", "cannot tell", "together", "alone"]
    verdicts = [order.index(meeting.verdict) for meeting in plan.meetings]
    assert verdicts == sorted(verdicts)
    for meeting in plan.meetings:
        assert meeting.sentence.endswith(".")
        assert "nan" not in meeting.sentence and "inf" not in meeting.sentence
        assert (meeting.deciding is not None) == ("cannot tell" in (meeting.gap_in.verdict, meeting.gap_out.verdict))
        if meeting.first_null_hz is not None:
            assert 0 < meeting.first_null_hz < 1e9
