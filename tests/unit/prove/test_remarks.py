"""What a take asks that a plan cannot answer."""

from __future__ import annotations

from dataclasses import replace

from proof_show import proof_plan

from showtext import DESK_TEXT, codes, small
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect
from sidetrip.prove.remarks import take_findings
from sidetrip.showfile.read import read_desk, read_show


def _taken(text: str) -> tuple[Plan, Expected]:
    show = read_show(text, "show.yaml").show
    plan = make_plan(show, read_desk(DESK_TEXT, "desk.yaml"))
    return plan, expect(plan, show.takes[0])


def test_a_take_of_loops_that_are_there_is_asked_without_remark() -> None:
    """Every caught return has its loop, and every way was followed."""
    assert take_findings(*proof_plan(4)) == []


def test_the_return_of_a_strip_that_stays_in_is_named() -> None:
    """Nothing can come back there, so that a silent track would say nothing."""
    take = (
        "[{name: a, enter: stage 1, catch: [{port: card out 1, dry: stage 1}, {port: card out 9, return: Vox}], "
        "reference: card out 1}]"
    )
    (finding,) = take_findings(*_taken(small(inputs="[{name: Vox, ch: 1, port: stage 1}]", takes=take)))
    assert (finding.code, finding.where, finding.values) == ("take-wrong", "takes / a", "card out 9")
    assert "'Vox' has no loop in this plan" in finding.what


def test_ways_that_were_cut_short_are_told() -> None:
    """Whatever was not followed is not silently taken for wrong."""
    plan, expected = proof_plan(2)
    (finding,) = take_findings(plan, replace(expected, cut=(1,)))
    assert codes([finding]) == ["take-wrong"]
    assert finding.values == f"entered at {expected.entries[1].port}"


def test_groups_that_feed_each_other_all_round_are_cut_and_not_followed_for_ever() -> None:
    """Eighteen groups, each into all behind it, have a hundred thousand ways: some are followed, and it says so."""
    names = [f"G{number}" for number in range(18)]
    mixes = ", ".join(
        f"{{name: {name}, kind: group, width: mono, to: [{', '.join([*names[number + 1 :], 'Main'])}]}}"
        for number, name in enumerate(names)
    )
    take = "[{name: a, enter: stage 1, catch: [{port: two-track 1-2, strip: Main}]}]"
    text = small(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [G0]}]",
        mixes=f"[{{name: Main, kind: main, width: stereo}}, {mixes}]",
        takes=take,
    )
    plan, expected = _taken(text)
    assert expected.cut == (0,)
    assert len(expected.ways) > 100
    assert [finding.values for finding in take_findings(plan, expected)] == ["entered at stage 1"]
