"""What if: the same show in another state, at another buffer, or without a unit, held against the plan."""

from __future__ import annotations

import pytest

from sidetrip.model.show import Show
from sidetrip.plan.asked import Asked
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.what_if import Moved, state_of, what_if, without_units, wrong_names
from smallshows import plain_desk, show_from

DESK = plain_desk()
TEXT = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}, {buffer: 128, rate: 48000, round_trip_frames: 459}]}
  - {name: box, kind: hardware, out: local out 21, back: local in 21, delay_ms: 1}
inputs:
  - {ch: 1, name: Anna, port: stage 1, to: [Main, Ears]}
  - {ch: 2, name: Bert, port: stage 2, to: [Main]}
mixes:
  - {name: Ears, kind: aux, width: mono, for: Anna, listens: in-ear}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: PA, from: Main, port: local out 1-2}, {name: Pack, from: Ears, port: local out 3}]
chains: {c: [{eq: {}}]}
limits: {ear_added_ms: 8}
requests: [{strip: Anna, chain: c, want: 9}, {strip: Bert, unit: box, want: 5}]
cues: [{from: 12, requests: {Bert: out}}, {from: 20, requests: {Anna: out, Bert: in}}]
"""
# frames that the desk adds around the laptop and around the box, by the hops of the plain desk
LAPTOP_MS = (331 + 3 + 5 + 6 + 2) / 48
BOX_MS = 1 + (3 + 2) / 48


@pytest.fixture(scope="module")
def show() -> Show:
    """Return two voices, one on a computer and one on a box."""
    return show_from(TEXT, DESK)


@pytest.fixture(scope="module")
def plan(show: Show) -> Plan:
    """Return its plan."""
    return make_plan(show, DESK)


def _of(moved: tuple[Moved, ...], kind: str) -> dict[str, tuple[str, str]]:
    return {own.name: (own.before, own.after) for own in moved if own.kind == kind}


def test_a_loop_that_is_out_adds_nothing_anywhere(plan: Plan) -> None:
    """Its own time, the ears that hear it and the latest arrival of the room all lose what it added."""
    found = what_if(plan, plan, Asked(out=("Anna",)))
    assert _of(found.moved, "loop") == {"Anna": (f"{LAPTOP_MS:.2f}", "OUT")}
    before, after = (float(text) for text in _of(found.moved, "ears")["Ears"])
    assert before - after == pytest.approx(LAPTOP_MS, abs=0.011)
    assert set(_of(found.moved, "place")) == {"PA", "Pack"}
    assert found.differences == ()


def test_a_cue_is_the_state_that_it_leaves(plan: Plan) -> None:
    """Between two cues the earlier one holds; before the first, what it has not changed yet."""
    assert state_of(plan, Asked(cue=11)).out == frozenset()
    assert state_of(plan, Asked(cue=12)).out == {"Bert"}
    assert state_of(plan, Asked(cue=19.5)).out == {"Bert"}
    assert state_of(plan, Asked(cue=20)).out == {"Anna"}
    assert state_of(plan, Asked(cue=20, out=("Bert",))).out == {"Anna", "Bert"}


def test_another_buffer_makes_every_loop_of_a_computer_later(show: Show, plan: Plan) -> None:
    """128 frames more, 2.67 ms; the box is as late as before, and ears are beyond their limit then."""
    found = what_if(plan, make_plan(show, DESK, 128), Asked(buffer_frames=128))
    later = LAPTOP_MS + 128 / 48
    assert _of(found.moved, "loop") == {"Anna": (f"{LAPTOP_MS:.2f}", f"{later:.2f}")}
    (ears,) = [own for own in found.moved if own.kind == "ears"]
    assert ears.worse


def test_without_a_unit_its_requests_go(show: Show) -> None:
    """Who names it is not asked any more; who could go elsewhere still asks."""
    left = without_units(show, ["box"])
    assert [request.strip for request in left.requests] == ["Anna"]
    assert [unit.name for unit in left.units] == ["laptop"]
    plan, other = make_plan(show, DESK), make_plan(left, DESK)
    found = what_if(plan, other, Asked(without=("box",)))
    assert "Bert stays in" in [own.words for own in found.differences]
    assert _of(found.moved, "loop") == {"Bert": (f"{BOX_MS:.2f}", "no loop")}


def test_nothing_asked_is_nothing_otherwise(plan: Plan) -> None:
    """The plan beside itself."""
    found = what_if(plan, plan, Asked())
    assert (found.moved, found.differences) == ((), ())
    assert not Asked().anything


def test_names_that_the_show_has_not_are_found(show: Show) -> None:
    """Each with those that it has."""
    found = list(wrong_names(Asked(out=("Cleo",), without=("tower",)), show))
    assert [finding.values for finding in found] == ["Cleo", "tower"]
    assert "Anna, Bert" in found[0].remedy
    assert "box, laptop" in found[1].remedy


def test_what_is_asked_is_said_in_words() -> None:
    """All of it, in one row."""
    asked = Asked(("Anna",), 12.0, ("box",), 128, 44100)
    words = "Anna is OUT, cue 12 is on, box is not there, every computer is at 128 frames, the rate is 44100 Hz"
    assert asked.words == words


def test_cooler_air_makes_far_places_later() -> None:
    """Ten degrees cooler: 34 m of air take 1.8 ms more, by the speed of sound of ISO 9613-1; near ones hardly move."""
    text = TEXT + "listeners: [{name: lawn, hears: {PA: {m: 34}}}, {name: front, hears: {PA: {m: 2}}}]\n"
    show = show_from(text, DESK)
    cool = show.model_copy(update={"air": show.air.model_copy(update={"temperature_c": 10.0})})
    found = what_if(make_plan(show, DESK), make_plan(cool, DESK), Asked(temperature_c=10.0))
    moved = _of(found.moved, "place")

    def speed(celsius: float) -> float:
        return 343.2 * float(((celsius + 273.15) / 293.15) ** 0.5)

    for name, metres in (("lawn", 34), ("front", 2)):
        late = [float(text.split(" to ")[-1]) for text in moved[name]]
        assert late[1] - late[0] == pytest.approx(metres * (1 / speed(10) - 1 / speed(20)) * 1000, abs=0.011)
    assert found.asked.words == "the air is at 10 °C"
