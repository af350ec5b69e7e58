"""The time map: lanes out of a plan by hand-computed figures, and the picture of them."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from sidetrip.graph.arrivals import State
from sidetrip.plan.lanes import Lanes, lanes_at
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.draw.palette import DIM, PAGE, PRINT, Palette
from sidetrip.reports.draw.time_map import time_map_svg
from smallshows import plain_desk, show_from

DESK = plain_desk()
TEXT = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Lead, Main], hears: {singer <1>: {m: 0.343, db: 0}}}
  - {ch: 2, name: Keys, port: stage 2, to: [Main]}
mixes:
  - {name: Lead, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: PA, from: Main, port: local out 1-2}]
listeners: [{name: row F, hears: {PA: {m: 3.43, db: 0}}}]
chains: {c: [{eq: {}}]}
requests: [{strip: Lead, chain: c, want: 9}]
"""
LOOP_S = (331 + 3 + 5 + 6 + 2) / 48_000
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the plan of a voice that goes to the main twice."""
    return make_plan(show_from(TEXT, DESK), DESK)


@pytest.fixture(scope="module")
def lanes(plan: Plan) -> Lanes:
    """Return what arrives at its loudspeaker."""
    return lanes_at(plan, "PA", plan.states[0])


def test_a_lane_holds_every_way_part_by_part(lanes: Lanes) -> None:
    """The dry way and the one with the loop: air, desk, loop, desk; the parts add up to when it arrives."""
    assert [lane.source for lane in lanes.lanes] == ["singer <1>", "Keys"]
    (voice, keys) = lanes.lanes
    assert [[part.kind for part in bar.parts] for bar in voice.bars] == [
        ["air", "desk"],
        ["air", "desk", "loop", "desk"],
    ]
    assert [[part.kind for part in bar.parts] for bar in keys.bars] == [["desk"]]
    for lane in lanes.lanes:
        for bar in lane.bars:
            assert sum(part.seconds for part in bar.parts) == pytest.approx(bar.in_s, abs=1e-9)
    loop = next(part for part in voice.bars[1].parts if part.kind == "loop")
    assert loop.label == "Lead"
    assert loop.seconds == pytest.approx(LOOP_S)


def test_what_sticks_out_says_how_far_and_where_it_cuts(lanes: Lanes) -> None:
    """The group takes its loop and one hop more; two ways of one microphone comb, the first notch at 1/(2t)."""
    dry, late = lanes.lanes[0].bars
    gap = late.in_s - dry.in_s
    assert gap == pytest.approx(LOOP_S + 4 / 48_000, abs=1e-9)
    assert (dry.verdict, late.verdict) == ("alone", "apart")
    assert f"{gap * 1000:.2f} ms behind its other way" in late.says
    assert f"first notch {1 / (2 * gap):.0f} Hz" in late.says
    assert lanes.lanes[1].bars[0].says == ""


def test_all_out_the_loop_is_gone_from_the_lane(plan: Plan) -> None:
    """The state decides: no loop part, and the two ways are together but for the hop."""
    out = lanes_at(plan, "PA", State("all OUT", "all out", out=frozenset(plan.arrivals.loops)))
    assert all(part.kind != "loop" for lane in out.lanes for bar in lane.bars for part in bar.parts)
    assert all(bar.in_s == bar.out_s for lane in out.lanes for bar in lane.bars)


@pytest.mark.parametrize("palette", [PAGE, DIM, PRINT])
@pytest.mark.parametrize("width", [360, 1200])
def test_the_picture_has_a_lane_each_and_says_it_in_words(lanes: Lanes, palette: Palette, width: int) -> None:
    """Names are written as they are, what sticks out is a point, the rest rings; one hatched part for the loop."""
    root = ET.fromstring(time_map_svg("When does it arrive: PA", lanes, palette, width))
    words = [text.text or "" for text in root.iter(f"{SVG}text")]
    assert "singer <1>" in words
    assert any(word.startswith("1 of 2 sources is heard twice") for word in words)
    assert any("ms behind its other way" in word for word in words)
    groups = [group for group in root.findall(f"{SVG}g") if group.find(f"{SVG}title") is not None]
    assert len(groups) == 3
    assert [len(group.findall(f"{SVG}circle")) for group in groups] == [1, 0, 1]
    hatched = [rect for group in groups for rect in group.findall(f"{SVG}rect") if "hatch" in rect.attrib["fill"]]
    assert len(hatched) == 1
    assert float(root.attrib["width"]) == width


def test_time_is_distance(lanes: Lanes) -> None:
    """Bars begin where their parts before them end, in proportion."""
    root = ET.fromstring(time_map_svg("x", lanes, PAGE, 1200))
    group = [group for group in root.findall(f"{SVG}g") if group.find(f"{SVG}title") is not None][1]
    rects = [rect.attrib for rect in group.findall(f"{SVG}rect") if "hatch" not in rect.attrib["fill"]]
    parts = [part for part in lanes.lanes[0].bars[1].parts if part.kind != "air"]
    scale = (float(rects[2]["x"]) - float(rects[1]["x"])) / parts[1].seconds
    assert float(rects[1]["x"]) - float(rects[0]["x"]) == pytest.approx(parts[0].seconds * scale, abs=0.2)


def test_nothing_arrives_where_nothing_leads(plan: Plan) -> None:
    """An unknown place has no lane, and the picture of none is still one."""
    none = lanes_at(plan, "nowhere", plan.states[0])
    assert none.lanes == ()
    assert none.most_s is None
    ET.fromstring(time_map_svg("x", none, PAGE))
