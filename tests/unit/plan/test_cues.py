"""Over cues: loops that follow each other on the same ports, tails, states, and what each cue changes."""

from __future__ import annotations

import pytest

from sidetrip.plan.cues import CueChange, cue_changes, needed, stretches_in
from sidetrip.plan.planner import Plan, make_plan
from smallshows import plain_desk, show_from

DESK = plain_desk(carriers=2)
NAMES = ("Anna", "Bert", "Cleo", "Duo")


def _text(cues: str, wants: str = "5 5 5 5", chain: str = "c", legs: str = "") -> str:
    """Write four voices, the last a pair, on a desk with two ports out and back."""
    asked = [
        f"{{strip: {name}, chain: {chain}, want: {want}}}"
        for name, want in zip(NAMES, wants.split(), strict=True)
        if want != "-"
    ]
    return f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain}}]
inputs:
  - {{ch: 1, name: Anna, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Bert, port: stage 2, to: [Main]}}
  - {{ch: 3, name: Cleo, port: stage 3, to: [Main]}}
  - {{ch: 5, name: Duo, port: stage 5-6, to: [Main]}}
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{{eq: {{}}}}], hall: [{{black box: {{delay_frames: 0, tail_ms: 2500}}}}]}}
requests: [{", ".join(asked)}]
cues: {cues}
{legs}
"""


def _plan(cues: str, wants: str = "5 5 5 5", chain: str = "c", more: str = "") -> Plan:
    return make_plan(show_from(_text(cues, wants, chain, more), DESK), DESK)


def _ports(plan: Plan) -> dict[str, str]:
    return {loop.name: str(loop.returns) for loop in plan.allocation.loops}


def test_before_the_first_cue_that_names_it_a_strip_is_what_that_cue_changes() -> None:
    """Out at 12 means IN before it; in at 12 means OUT before it; who is never named is IN throughout."""
    show = show_from(_text("[{from: 12, requests: {Anna: out, Bert: in}}, {from: 30, requests: {Anna: in}}]"), DESK)
    assert stretches_in(show, "Anna") == (True, False, True)
    assert stretches_in(show, "Bert") == (False, True, True)
    assert stretches_in(show, "Cleo") == (True, True, True)


def test_who_follows_whom_may_have_the_same_port() -> None:
    """Two ports serve three voices of which one leaves when another comes; without cues one of them stays in."""
    plan = _plan("[{from: 12, requests: {Anna: out, Cleo: in}}]", "5 5 5 -")
    assert _ports(plan) == {"Anna": "aux in 1", "Bert": "aux in 2", "Cleo": "aux in 1"}
    loops = {loop.name: loop for loop in plan.allocation.loops}
    assert [(loops[name].from_cue, loops[name].until_cue) for name in ("Anna", "Bert", "Cleo")] == [
        (None, 12.0),
        (None, None),
        (12.0, None),
    ]
    assert set(_ports(_plan("[]", "5 5 5 -"))) == {"Anna", "Bert"}
    assert not [finding for finding in plan.findings if finding.code == "port-two-writers"]


def test_ports_are_not_shared_where_there_are_enough() -> None:
    """A change of ports in the middle of a show is a risk that nobody takes for nothing."""
    plan = _plan("[{from: 12, requests: {Anna: out, Bert: in}}]", "5 5 - -")
    assert _ports(plan) == {"Anna": "aux in 1", "Bert": "aux in 2"}
    assert [loop.from_cue for loop in plan.allocation.loops] == [None, None]


def test_who_comes_back_later_keeps_the_port_meanwhile() -> None:
    """OUT from 12 to 30 is no time to give the port away."""
    cues = "[{from: 12, requests: {Anna: out, Cleo: in}}, {from: 30, requests: {Anna: in, Cleo: out}}]"
    assert set(_ports(_plan(cues, "9 9 5 -"))) == {"Anna", "Bert"}


def test_a_return_that_still_rings_is_not_opened_again() -> None:
    """A hall of 2.5 s holds its port one cue longer: who comes at that cue finds no place, a cue later one does."""
    first = "{from: 12, requests: {Anna: out, Bert: out, %s}}"
    at_once = f"[{first % 'Cleo: in'}]"
    assert set(_ports(_plan(at_once, "9 9 5 -", chain="hall"))) == {"Anna", "Bert"}
    assert set(_ports(_plan(at_once, "9 9 5 -"))) == {"Anna", "Bert", "Cleo"}
    later = "[{from: 12, requests: {Anna: out, Bert: out}}, {from: 13, requests: {Cleo: in}}]"
    assert set(_ports(_plan(later, "9 9 5 -", chain="hall"))) == {"Anna", "Bert", "Cleo"}
    show = show_from(_text(later, "9 9 5 -", chain="hall"), DESK)
    assert [needed(show, request) for request in show.requests] == [(0, 1), (0, 1), (2, 2)]


def test_a_pair_follows_two_mono_loops_only_on_its_own_places() -> None:
    """Places for pairs and for single loops are kept apart, so that a pair never begins between two others."""
    plan = _plan("[{from: 12, requests: {Anna: out, Bert: out, Duo: in}}]", "5 5 - 9")
    assert set(_ports(plan)) == {"Duo"}


def test_a_cue_is_a_state_and_says_what_it_changes() -> None:
    """What goes IN and OUT, and whose ports are whose from then on."""
    plan = _plan("[{from: 12, requests: {Anna: out, Cleo: in}}, {from: 30.5, requests: {Bert: out}}]", "5 5 5 -")
    states = {state.name: sorted(state.out) for state in plan.states if state.kind == "cue"}
    assert states == {"cue 12": ["Anna"], "cue 30.5": ["Anna", "Bert"]}
    assert cue_changes(plan.show, plan.allocation.loops) == (
        CueChange(12.0, ("Cleo",), ("Anna",), (("aux in 1", "Anna", "Cleo"),)),
        CueChange(30.5, (), ("Bert",), ()),
    )


def test_a_box_serves_one_after_the_other() -> None:
    """One hardware unit for two voices that are never IN together."""
    more = "keep: []"
    text = _text("[{from: 12, requests: {Anna: out, Cleo: in}}]", "5 - 5 -", legs=more)
    box = "{name: box, kind: hardware, out: local out 21, back: local in 21, delay_ms: 1}"
    text = text.replace("units: [", f"units: [{box}, ").replace("chain: c,", "unit: box,")
    assert set(_ports(make_plan(show_from(text, DESK), DESK))) == {"Anna", "Cleo"}
    text = text.replace("cues: [{from: 12, requests: {Anna: out, Cleo: in}}]", "cues: []")
    assert set(_ports(make_plan(show_from(text, DESK), DESK))) == {"Anna"}


@pytest.mark.parametrize(
    ("cues", "what"),
    [
        ("[{from: 12, requests: {Nobody: out}}]", "There is no strip 'Nobody'"),
        ("[{from: 12, requests: {Anna: out}}, {from: 12, requests: {Bert: out}}]", "One cue is written twice"),
    ],
)
def test_cues_that_cannot_be_are_found(cues: str, what: str) -> None:
    """A name that nothing carries, a cue twice."""
    with pytest.raises(AssertionError, match=what):
        show_from(_text(cues), DESK)


def test_a_port_changes_hands_in_four_steps() -> None:
    """Who leaves goes OUT and gives the port up before who comes is assigned, OUT, and taken IN."""
    plan = _plan("[{from: 12, requests: {Anna: out, Cleo: in}}, {from: 30.5, requests: {Bert: out}}]", "5 5 5 -")
    ports = "send aux out 1, return aux in 1"
    assert [(step.cue, step.item.partition(":")[0], step.was, step.becomes) for step in plan.cues] == [
        (12.0, "Anna", "IN", "OUT"),
        (12.0, "insert of Anna", ports, "no insert"),
        (12.0, "insert of Cleo", "no insert", f"{ports}, left OUT"),
        (12.0, "Cleo", "OUT", "IN"),
        (30.5, "Bert", "IN", "OUT"),
    ]


def test_who_comes_at_a_cue_is_not_patched_before_the_show() -> None:
    """Two inserts never write one send: the patch assigns the first of them, and says when the other is proven."""
    plan = _plan("[{from: 12, requests: {Anna: out, Cleo: in}}]", "5 5 5 -")
    assert [step.item for step in plan.steps if step.kind == "assign"] == ["Anna", "Bert"]
    proof = next(step for step in plan.steps if step.kind == "prove")
    assert "Cleo when run through the cues" in proof.becomes
    assert plan.patching.left == ()


def test_who_is_out_at_first_is_patched_and_left_out() -> None:
    """It is proven before the show like the others, and the sheet says to take it OUT before the first cue."""
    plan = _plan("[{from: 12, requests: {Anna: in}}]", "5 5 - -")
    assert [(step.cue, step.was, step.becomes) for step in plan.cues] == [(None, "IN", "OUT"), (12.0, "OUT", "IN")]
    assert {step.item.partition(":")[0] for step in plan.steps if step.kind == "in"} == {"Anna", "Bert"}


def test_without_cues_there_is_nothing_to_do_at_them() -> None:
    """No cue, no table."""
    assert _plan("[]", "5 5 - -").cues == ()
