"""The plan under what nobody knows: each branch against the plan of the show with that answer written in."""

import pytest

from sidetrip.errors import NoPlan
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Fact as Words
from sidetrip.model.show import Show
from sidetrip.plan.differences import NO_PLAN, WHO, differences
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.unknowns import MOST_QUESTIONS, branches, questions
from sidetrip.showfile.known import facts_of
from smallshows import show_from, theatre_desk

TEXT = """
units:
  - {name: laptop, kind: computer, connects: card, buffer: 64, load_limit: 0.5,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 300}]}
  - {name: box, kind: hardware, out: local out 15, back: local in 31, delay_ms: 1 to 6}
inputs:
  - {ch: 1, name: Lamplighter, port: stage 1, to: [Main]}
  - {ch: 2, name: Bass, port: stage 2, to: [Main]}
  - {name: Playback, port: aux in 7-8, to: [Main]}
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {long: [{limiter: {lookahead_frames: 96}}], c: [{eq: {}}]}
requests:
  - {strip: Main, chain: long, want: 8}
  - {strip: Lamplighter, chain: c, want: 9}
  - {strip: Bass, unit: box, want: 5}
keep: [{ports: aux in 7-8, for: playback}, {ports: card out 1-24, for: recorder}]
"""


@pytest.fixture(scope="module")
def desk() -> Desk:
    """Return the desk that ships."""
    return theatre_desk()


@pytest.fixture(scope="module")
def plan(desk: Desk) -> Plan:
    """Return the plan as the show is written."""
    return make_plan(show_from(TEXT, desk), desk)


def _planned(show: Show, desk: Desk) -> Plan | None:
    try:
        return make_plan(show, desk)
    except NoPlan:
        return None


def test_every_branch_is_the_plan_under_that_answer(plan: Plan) -> None:
    """Each fact is set by hand to each answer and planned: it differs as the branch says, or there is no branch."""
    told = {tuple((fact.id, answer) for fact, answer in branch.given): branch for branch in branches(plan)}
    for fact in facts_of(plan.show, plan.desk):
        for answer in fact.tried:
            if answer == fact.now:
                continue
            other = _planned(*fact.make(plan.show, plan.desk, Words(**{"is": answer}, standing="assumed")))
            expected = differences(plan, other)
            branch = told.get(((fact.id, answer),))
            assert (branch.differences if branch is not None else ()) == expected, (fact.id, answer)


def test_a_block_that_changes_only_whole_takes_the_playback_or_the_loops(plan: Plan) -> None:
    """With the playback kept, ports 1-4 cannot be had alone: both loops of the laptop stay in."""
    (branch,) = [own for own in branches(plan) if own.given[0][0].id == "parts of aux in 1-8"]
    assert branch.differences[0].rank == WHO
    assert branch.differences[0].words == "Lamplighter, Main stay in"
    assert branch.words.startswith("if parts of aux in 1-8: no, Lamplighter, Main stay in")


def test_questions_are_few_the_worst_first_and_say_why(plan: Plan) -> None:
    """What decides who goes out comes first; each says what is taken for true and what would be otherwise."""
    found = branches(plan)
    asked = questions(found)
    assert 0 < len(asked) <= MOST_QUESTIONS
    assert asked[0].fact.id == "parts of aux in 1-8"
    ranks = [min(difference.rank for own in question.branches for difference in own.differences) for question in asked]
    assert ranks == sorted(ranks)
    assert asked[0].why.startswith("Taken for true: yes. If no: Lamplighter, Main stay in")
    ids = {question.fact.id for question in asked}
    assert {"laptop aligns", "box unpowered", "box delay"} <= ids
    assert next(own for own in asked if own.fact.id == "laptop aligns").why.startswith("Nobody has said.")


def test_what_changes_nothing_is_not_asked(plan: Plan) -> None:
    """No matrix asks for a loop, so nobody is asked about matrix sends; no question is without a difference."""
    asked = questions(branches(plan))
    assert all(branch.differences for question in asked for branch in question.branches)
    assert not any("matrix" in question.fact.id for question in asked)


def test_musts_that_cannot_be_met_are_no_plan(plan: Plan) -> None:
    """No plan at all is the worst difference."""
    assert [own.rank for own in differences(plan, None)] == [NO_PLAN]


def test_a_plan_differs_from_itself_in_nothing(plan: Plan, desk: Desk) -> None:
    """Planned twice, nothing is said."""
    assert differences(plan, make_plan(show_from(TEXT, desk), desk)) == ()
