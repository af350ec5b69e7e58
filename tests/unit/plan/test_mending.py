"""The changes that serve a strip which stays in: they say what the refusal says, and made as shows they do serve."""

from pathlib import Path

import pytest

from sidetrip import wiring
from sidetrip.application.use_cases import Loaded, load
from sidetrip.plan.allocation import key_of
from sidetrip.plan.mending import mends
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.showfile.read import read_show
from sidetrip.showfile.rewrite import rewritten

DEMO = Path(__file__).parents[3] / "demo" / "tin-lantern"


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    """Return the demo."""
    return load(wiring.show_store(), wiring.desk_library(), str(DEMO))


@pytest.fixture(scope="module")
def plan(loaded: Loaded) -> Plan:
    """Return its plan."""
    return make_plan(loaded.show, loaded.desk, dial=False)


def test_the_words_are_those_of_the_refusal(loaded: Loaded, plan: Plan) -> None:
    """Whoever reads why a strip stays in presses on the very words."""
    assert len(plan.allocation.refusals) == 3
    for refusal in plan.allocation.refusals:
        found = mends(loaded.show, loaded.desk, plan.allocation, (refusal.strip, refusal.way))
        assert tuple(mend.words for mend in found) == refusal.would_fit_if


def test_a_mend_serves_its_strip_when_it_is_written_and_read_again(loaded: Loaded, plan: Plan) -> None:
    """Stream: the keep given up and what sat there moved, in the file, lets it out; every other line is as it was."""
    (mend,) = mends(loaded.show, loaded.desk, plan.allocation, ("Stream", "insert"))
    assert mend.show is not None
    text = rewritten(loaded.source.text, loaded.show, mend.show)
    before, after = loaded.source.text.splitlines(), text.splitlines()
    gone, new = [line for line in before if line not in after], [line for line in after if line not in before]
    assert [line.strip() for line in gone] == [
        "- {name: Interval,            port: aux in 7-8, to: [Foyer]}",
        "- {ports: aux in 7-8, for: interval music}",
    ]
    assert [line.strip() for line in new] == ["- {name: Interval,            port: stick player 1-2, to: [Foyer]}"]
    then = make_plan(read_show(text, "show.yaml").show, loaded.desk, dial=False)
    assert "Stream" in {loop.strip for loop in then.allocation.loops}


def test_mono_is_made_of_a_mix(loaded: Loaded, plan: Plan) -> None:
    """Chorus as a mono group needs one port, and goes out."""
    mend = next(
        one for one in mends(loaded.show, loaded.desk, plan.allocation, ("Chorus", "insert")) if "mono" in one.words
    )
    assert mend.show is not None
    text = rewritten(loaded.source.text, loaded.show, mend.show)
    assert "{name: Chorus,     kind: group, width: mono, to: [Main]}" in text
    then = make_plan(read_show(text, "show.yaml").show, loaded.desk, dial=False)
    assert "Chorus" in {loop.strip for loop in then.allocation.loops}


def test_somebody_staying_in_takes_the_request_out(loaded: Loaded) -> None:
    """With no port left at all, what serves a strip is that another stays in; then its request is gone."""
    own = [one for one in loaded.show.requests if one.strip in ("Main", "Lamplighter", "Narrator")]
    requests = (*own, own[-1].model_copy(update={"strip": "Innkeeper", "want": 3, "chain": None}))
    show = loaded.show.model_copy(update={"requests": requests})
    plan = make_plan(show, loaded.desk, dial=False)
    assert [refusal.strip for refusal in plan.allocation.refusals] == ["Innkeeper"]
    found = mends(show, loaded.desk, plan.allocation, ("Innkeeper", "insert"))
    staying = next(one for one in found if one.words == "'Narrator' stayed in")
    assert staying.show is not None
    assert [key_of(one)[0] for one in staying.show.requests] == ["Main", "Lamplighter", "Innkeeper"]
    then = make_plan(staying.show, loaded.desk, dial=False)
    assert "Innkeeper" in {loop.strip for loop in then.allocation.loops}


def test_nothing_is_offered_to_who_goes_out(loaded: Loaded, plan: Plan) -> None:
    """A strip that goes out, and one that asks for nothing, need no change."""
    assert mends(loaded.show, loaded.desk, plan.allocation, ("Main", "insert")) == ()
    assert mends(loaded.show, loaded.desk, plan.allocation, ("Kick in", "insert")) == ()


def test_another_buffer_keeps_who_goes_out_and_all_else_is_the_same(loaded: Loaded, plan: Plan) -> None:
    """Taking allocation and patch from a plan at another buffer gives what planning from nothing gives."""
    whole = make_plan(loaded.show, loaded.desk, 128, dial=False)
    quick = make_plan(loaded.show, loaded.desk, 128, dial=False, like=plan)
    for name in (
        "units",
        "allocation",
        "states",
        "ears",
        "meetings",
        "steps",
        "scenes",
        "recovery",
        "findings",
        "cues",
    ):
        assert getattr(quick, name) == getattr(whole, name), name
