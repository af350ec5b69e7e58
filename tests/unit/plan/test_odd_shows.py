"""Shows with nothing to hear, or very much of it: a finding or a count of states, and never a traceback."""

from __future__ import annotations

import pytest

from showtext import codes, findings_of, looped, only, small
from sidetrip.plan.planner import make_plan
from smallshows import plain_desk, show_from

MANY = 64


def many_loops(names: list[str], more: str = "") -> str:
    """Return a show in which every one of these inputs goes out on one computer, none wanted more than another."""
    inputs = ", ".join(f"{{name: {name}, ch: {n}, port: stage {n}, to: [Main]}}" for n, name in enumerate(names, 1))
    asked = ", ".join(f"{{strip: {name}, chain: c, want: 5}}" for name in names)
    return f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{{buffer: 64, rate: 48000, round_trip_frames: 301}}]}}]
inputs: [{inputs}]
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{{eq: {{}}}}]}}
requests: [{asked}]
{more}
"""


@pytest.mark.parametrize("group", [False, True])
def test_sixty_four_loops_have_one_state_each_and_not_one_for_each_set(group: bool) -> None:
    """All IN, all OUT, each of 64 by itself, the unit dead, and a bypass group: 67 or 68 states, all of them named."""
    names = [f"S{number:02}" for number in range(1, MANY + 1)]
    desk = plain_desk(carriers=MANY)
    more = f"bypass_groups: {{half: [{', '.join(names[:32])}]}}" if group else ""
    plan = make_plan(show_from(many_loops(names, more), desk), desk)
    assert len(plan.allocation.loops) == MANY
    by_itself = [f"{name} OUT" for name in names]
    assert [state.name for state in plan.states] == [
        "all IN",
        "all OUT",
        *by_itself,
        *(["half OUT"] if group else []),
        "laptop dead",
    ]
    assert plan.arrivals.complete
    # channel 30 and 8, main 16, and a loop of 16 + 301: the same for all, and none meets another
    late = plan.arrivals.times(plan.states[0]).low * 48000
    assert late == pytest.approx([30 + 8 + 16 + 317] * MANY)
    alone = plan.arrivals.times(plan.states[2]).low * 48000
    assert sorted(alone) == pytest.approx([54, *[371] * (MANY - 1)])
    assert plan.meetings == ()


def test_a_mix_without_sources_is_told_and_the_rest_is_planned() -> None:
    """An aux that nothing feeds, on an output and in somebody's ears: one finding each, and no time is made up."""
    text = small(
        mixes="[{name: Main, kind: main, width: stereo}, "
        "{name: Ears, kind: aux, width: mono, for: singer, listens: in-ear, device_ms: 1}]",
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Pack, from: Ears, port: local out 3}]",
        requests="[]",
    )
    found = findings_of(text)
    finding = only(found, "no-reach")
    assert "Ears" in finding.where + finding.what + finding.values
    assert not [own for own in found if own.severity == "error"]


def test_a_main_without_sources_still_has_its_loop() -> None:
    """A loop on a main that nobody feeds: told, planned, and no meeting."""
    text = looped("[{strip: Main, chain: thin, want: 5}]", inputs="[{name: Vox, ch: 1, port: stage 1}]")
    assert {"no-reach"} <= set(codes(findings_of(text)))


@pytest.mark.parametrize("hears", ["Fill: {m: 3}", "Fill: {m: 3}, Sub: {m: 4}"])
def test_a_listener_that_hears_nothing_is_told_and_the_rest_is_planned(hears: str) -> None:
    """A seat before loudspeakers that nothing feeds: the seat and the mix are named, and the rest is planned."""
    text = small(
        mixes="[{name: Main, kind: main, width: stereo}, {name: Low, kind: matrix, width: mono}]",
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Fill, from: Low, port: local out 3}, "
        "{name: Sub, from: Low, port: local out 4, crossover_hz: 80}]",
        listeners=f"[{{name: cellar, hears: {{{hears}}}}}]",
        requests="[]",
    )
    found = findings_of(text)
    told = {own.where: own.what for own in found if own.code == "no-reach"}
    assert told == {
        "mixes / Low": "Nothing goes into this mix",
        "listeners / cellar": "Nothing that this listener hears makes a sound",
    }
    assert [own.code for own in found if own.severity == "error"] == []
    fed = findings_of(text.replace("kind: matrix, width: mono", "kind: matrix, width: mono, from: [Main]"))
    assert "no-reach" not in codes(fed)


def test_a_listener_with_nothing_written_is_refused_with_its_line() -> None:
    """A seat that names no loudspeaker and no source: an error in the line in which it stands."""
    finding = only(findings_of(small(listeners="[{name: cellar, hears: {}}]", requests="[]")), "value-wrong")
    assert (finding.line, "cellar" in finding.where) == (8, True)


def test_a_show_in_which_nothing_sounds_is_planned() -> None:
    """No inputs at all: no arrivals, no meetings, and nothing raised."""
    found = findings_of(small(inputs="[]", requests="[]"))
    assert "no-reach" in codes(found)
