"""Which arrivals are compared: quiet ones are dropped, equals are not decided by names, and what is cut is counted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sidetrip.plan.compare import MAX_WAYS, by_place_and_source, keep
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
DESK = read_desk((ROOT / "src/sidetrip/desks/32-strip-theatre.yaml").read_text(encoding="utf-8"), "desk.yaml")
TEXT = (ROOT / "demo/tin-lantern/show.yaml").read_text(encoding="utf-8")


def planned(text: str) -> Plan:
    """Plan a show text on the shipped desk."""
    return make_plan(read_show(text, "show.yaml").show, DESK)


def codes(plan: Plan) -> set[str]:
    """Return the codes of a plan's findings."""
    return {finding.code for finding in plan.findings}


def test_what_is_far_below_the_loudest_is_no_cut() -> None:
    """A microphone 40 dB down is not compared and nobody is warned of it."""
    quiet = TEXT.replace("snare: {m: 0.6, db: -16}", "snare: {m: 0.6, db: -40}")
    assert quiet != TEXT
    assert "paths-cut" not in codes(planned(quiet))
    sentences = " ".join(meeting.sentence for meeting in planned(quiet).meetings)
    assert "through Snare and Hat" in " ".join(meeting.sentence for meeting in planned(TEXT).meetings)
    assert "through Snare and Hat" not in sentences


def test_too_many_ways_are_counted_and_the_loudest_kept() -> None:
    """Of more ways than are compared the loudest stay, and the rest are counted."""
    plan = planned(TEXT)
    arrivals, times = plan.arrivals, plan.arrivals.times(plan.states[0])
    row = next(row for row in arrivals.rows if row.place.kind == "output")
    rows = tuple(replace(row, level_db=-0.1 * number) for number in range(MAX_WAYS + 6))
    kept = keep(replace(arrivals, rows=rows), list(range(len(rows))), times)
    assert kept.cut == 6
    assert kept.indices == list(range(MAX_WAYS))
    assert kept.loudest_db == 0.0


def test_every_arrival_is_in_one_group_but_those_that_only_feed_ears() -> None:
    """Groups share a source and a place; an output that only feeds ears is left to the ears."""
    plan = planned(TEXT)
    groups = list(by_place_and_source(plan.line_map, plan.arrivals))
    rows = plan.arrivals.rows
    assert all(len({(rows[i].place, rows[i].source) for i in group}) == 1 for group in groups)
    grouped = {index for group in groups for index in group}
    left = {rows[index].place.name for index in range(len(rows)) if index not in grouped}
    assert left == {"Lamp pack", "Band packs"}


def test_names_do_not_decide_what_a_listener_hears() -> None:
    """Two equally loud ways to one loudspeaker, one of them looped, are both compared with the sub under any name."""
    base = """
sidetrip: 1
show: club
sample_rate: 48000
desk: {type: 32-strip theatre desk}
units: [{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{buffer: 64, rate: 48000, round_trip_frames: 283}]}]
inputs: [{ch: 1, name: Kick, port: stage 1, to: [Dry, Wet]}]
mixes:
  - {name: Dry, kind: group, width: mono, to: [Main]}
  - {name: Wet, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
  - {name: Low, kind: matrix, width: mono, from: {Main: {tap: before insert}}}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Sub, from: Low, port: local out 3, crossover_hz: 80}
listeners: [{name: floor, hears: {PA: {m: 8, db: 0}, Sub: {m: 8, db: 0}}}]
chains: {c: []}
requests: [{strip: Main, chain: c, want: must}, {strip: Wet, chain: c, want: 5}]
"""
    found = []
    for wet in ("Wet", "Aaa", "Zzz"):
        plan = planned(base.replace("Wet", wet))
        spreads = {
            (round(m.gap_in.typical, 9), m.loops.count("Main")) for m in plan.meetings if m.kind == "main and sub"
        }
        found.append(spreads)
    assert len(found[0]) > 1
    assert found[0] == found[1] == found[2]


def test_ripple_is_judged_beside_the_loudest_at_each_place() -> None:
    """A dry and a looped kick of one level dip completely in the PA, whatever another place adds and is called."""
    base = """
sidetrip: 1
show: club
sample_rate: 48000
desk: {type: 32-strip theatre desk}
units: [{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{buffer: 64, rate: 48000, round_trip_frames: 283}]}]
inputs: [{ch: 1, name: Kick, port: stage 1, to: [Dry, Wet, Stream]}]
mixes:
  - {name: Dry, kind: group, width: mono, to: [Main]}
  - {name: Wet, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
  - {name: Stream, kind: matrix, width: stereo, from: {Main: {db: -20}}}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Encoder, from: Stream, port: local out 3-4}
chains: {c: []}
requests: [{strip: Wet, chain: c, want: 5}]
"""
    for name in ("Encoder", "ZEncoder"):
        plan = planned(base.replace("Encoder", name))
        main = next(m for m in plan.meetings if m.kind == "electrical" and "PA" in m.places)
        assert main.ripple_db == float("inf")
        assert "complete dips" in main.sentence


def test_two_ways_of_opposite_polarity_cancel() -> None:
    """One microphone on two strips, one of them inverted, cancels in the mix: that is not together."""
    text = (ROOT / "src/sidetrip/desks/32-strip-theatre.yaml").read_text(encoding="utf-8")
    free = "\n".join(line for line in text.splitlines() if not line.startswith("  - {feeds: channel"))
    desk = read_desk(free, "desk.yaml")
    show = read_show(
        """
sidetrip: 1
show: pair
sample_rate: 48000
desk: {type: d}
inputs:
  - {ch: 1, name: One, port: stage 1, to: [Main]}
  - {ch: 2, name: Two, port: stage 1, to: [Main], inverted: yes}
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
""",
        "show.yaml",
    ).show
    (meeting,) = make_plan(show, desk).meetings
    assert meeting.verdict == "apart"
    assert "cancels itself" in meeting.sentence
    upright = show.model_copy(update={"inputs": tuple(i.model_copy(update={"inverted": False}) for i in show.inputs)})
    assert all(meeting.verdict == "together" for meeting in make_plan(upright, desk).meetings)
