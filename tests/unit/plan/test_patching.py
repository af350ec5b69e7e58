"""Patch and undo: an order that stays silent and closed, every change with its way back, nothing left out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawnshows import drawn, show_of
from sidetrip.plan.patching import Step, undo_steps
from sidetrip.plan.planner import Plan, make_plan
from smallshows import plain_desk, plan_from, theatre_desk

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
chains: {c: [{eq: {}}]}
requests:
  - {strip: Main, chain: c, want: must}
  - {strip: Voice, chain: c, want: 9}
  - {strip: Bass, unit: box, want: 5}
keep: [{ports: card out 1-24, for: recorder}]
"""
ORDER = ("safety", "close", "source", "cable", "assign", "prove", "in", "key", "open")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Three loops on the theatre desk: main 1-2 and voice 3 by the card, bass through the box."""
    return plan_from(SHOW, theatre_desk())


def _of(steps: tuple[Step, ...], kind: str) -> list[Step]:
    return [step for step in steps if step.kind == kind]


def test_steps_count_from_one_without_gaps(plan: Plan) -> None:
    """Somebody crosses them off."""
    assert [step.number for step in plan.steps] == list(range(1, len(plan.steps) + 1))


def test_outputs_go_down_first_and_come_up_last(plan: Plan) -> None:
    """Nothing of the desk is touched before the outputs are muted, and they open after the last loop is IN."""
    assert "muted" in plan.steps[1].becomes
    assert plan.steps[0].kind == plan.steps[1].kind == "safety"
    assert plan.steps[-1].kind == "open"


def test_kinds_of_steps_keep_one_order(plan: Plan) -> None:
    """Strips closed before sources turn, sources before inserts, inserts OUT before the proof, IN after it."""
    kinds = [ORDER.index(step.kind) for step in plan.steps]
    assert kinds == sorted(kinds)


def test_sends_reach_the_card_before_anything_comes_back(plan: Plan) -> None:
    """The block of the card's sends turns first; a return without its send is silent."""
    assert [step.item for step in _of(plan.steps, "source")] == ["source of card out 25-32", "source of aux in 1-8"]


def test_what_each_source_takes_away_is_said(plan: Plan) -> None:
    """Eight tracks of the card, four jacks of the aux inputs."""
    assert [step.lost for step in _of(plan.steps, "source")] == ["tracks card out 25-32", "jacks aux in 1-4"]


def test_every_strip_that_a_return_feeds_is_closed(plan: Plan) -> None:
    """The return strips of aux in 1-2 and 3, whatever else is closed with them."""
    closed = " ".join(step.item for step in _of(plan.steps, "close"))
    assert "return strip 1" in closed
    assert all(step.undo for step in _of(plan.steps, "close"))


def test_each_loop_is_assigned_out_once_and_put_in_once(plan: Plan) -> None:
    """With its own send and return in the words."""
    assigned = {step.item: step.becomes for step in _of(plan.steps, "assign")}
    assert assigned == {
        "Main": "send aux out 1-2, return aux in 1-2, left OUT",
        "Voice": "send aux out 3, return aux in 3, left OUT",
        "Bass": "send local out 15, return local in 31, left OUT",
    }
    assert sorted(step.item.partition(":")[0] for step in _of(plan.steps, "in")) == ["Bass", "Main", "Voice"]
    assert {(step.was, step.becomes) for step in _of(plan.steps, "in")} == {("OUT", "IN")}


def test_the_box_is_cabled_with_its_jacks(plan: Plan) -> None:
    """One cable step, with both jacks."""
    (cable,) = _of(plan.steps, "cable")
    assert cable.item == "box"
    assert cable.becomes == "local out 15 to its input, its output to local in 31"


def test_undo_is_what_changed_backwards(plan: Plan) -> None:
    """Every step that changes the desk comes back, last first; keys at the end, being the way out till then."""
    undone = undo_steps(plan.steps)
    numbers = [step.number for step in undone if step.kind != "key"]
    assert [step.kind for step in undone[len(numbers) :]] == ["key"] * (len(undone) - len(numbers))
    assert numbers == sorted(numbers, reverse=True)
    assert {step.kind for step in undone} == {step.kind for step in plan.steps} - {"safety", "prove", "open"}
    assert all(step.undo for step in undone)


def test_doing_and_undoing_leaves_the_desk_as_found(plan: Plan) -> None:
    """Every setting that a step changes is set once and put back once."""
    assert _after(plan.steps) == {}


def _after(steps: tuple[Step, ...]) -> dict[tuple[str, str], str]:
    """Return what is left changed after all steps and all undo steps."""
    desk: dict[tuple[str, str], list[str]] = {}
    for step in steps:
        if step.kind not in ("safety", "prove", "open"):
            desk.setdefault((step.page, step.item), []).append(step.was)
    for step in undo_steps(steps):
        assert desk[step.page, step.item].pop() == step.was
    return {place: values[-1] for place, values in desk.items() if values}


def test_an_output_is_copied_to_the_box_before_it_is_fed_from_it() -> None:
    """First the mix also goes to the box, with the output untouched; the output's source turns only after the proof."""
    text = SHOW.replace("out: local out 15, back: local in 31", "out: local out 13-14, back: local in 29-30")
    text = text.replace("{strip: Bass, unit: box, want: 5}", "{strip: PA, way: output, unit: box, want: 5}")
    steps = plan_from(text, theatre_desk()).steps
    copy = next(step for step in steps if step.item == "copy of PA")
    turn = next(step for step in steps if step.item == "source of PA")
    proof = next(step for step in steps if step.kind == "prove")
    assert copy.number < proof.number < turn.number
    assert (turn.was, turn.becomes, turn.undo) == ("its mix", "local in 29-30", "back to its mix")


def test_nothing_goes_out_and_nothing_is_patched() -> None:
    """No loop, no step."""
    text = SHOW.replace("requests:", "unused_requests:").split("unused_requests:")[0]
    assert plan_from(text, theatre_desk()).steps == ()


@given(st.integers(0, 10**6))
def test_any_plan_is_patched_completely_in_order_and_undone(seed: int) -> None:
    """Every loop, every setting and every box has its step, kinds keep their order, and undo leaves nothing."""
    desk = plain_desk()
    made = make_plan(show_of(drawn(seed), desk), desk, dial=False)
    kinds = [ORDER.index(step.kind) for step in made.steps]
    assert kinds == sorted(kinds)
    assert len(_of(made.steps, "assign")) == len(_of(made.steps, "in")) == len(made.allocation.loops)
    assert {step.item for step in _of(made.steps, "source")} == {own.block for own in made.allocation.settings}
    assert _after(made.steps) == {}
