"""The desk types that ship: each is whole, answers every question, plans a small show, and differs where it matters.

All shows here are invented: small halls in which scenes of The Tin Lantern are tried out.
"""

from __future__ import annotations

import functools
from importlib.resources import files

import pytest

from sidetrip.findings import Severity
from sidetrip.model.desk import FACTS, Desk
from sidetrip.model.ports import Ports, parse_ports
from sidetrip.plan.other_desk import changes
from sidetrip.plan.planner import Plan
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.check_strips import chosen_source
from sidetrip.showfile.read import read_show
from smallshows import desk_from, plan_from, show_from

NAMES = ("16-strip-compact", "24-strip-rack", "32-strip-theatre", "48-strip-theatre", "large-96k")

SHOW = """
units:
  - {{name: laptop, kind: computer, connects: {socket}, aligns: per chain, buffer: 64,
     measured: [{{buffer: 64, rate: 48000, round_trip_frames: 331}},
                {{buffer: 64, rate: 96000, round_trip_frames: 419}}]}}
inputs:
  - {{ch: 1, name: Lamp, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Inn, port: stage 2, group: Voices}}
  - {{ch: 3, name: Keys, port: stage 3-4, to: [Main]}}
mixes:
  - {{name: Voices, kind: group, width: mono, to: [Main]}}
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Web, kind: matrix, width: stereo, from: [Main]}}
outputs:
  - {{name: PA, from: Main, port: local out 1-2}}
  - {{name: Encoder, from: Web, port: local out 5-6}}
chains: {{thin: [{{eq: {{}}}}], glue: [{{compressor: {{}}}}]}}
requests:
  - {{strip: Main, chain: glue, want: must}}
  - {{strip: Lamp, chain: thin, want: 8}}
  - {{strip: Voices, chain: thin, want: 7}}
{more}
"""


@functools.cache
def _desk(name: str) -> Desk:
    return desk_from((files("sidetrip") / "desks" / f"{name}.yaml").read_text("utf-8"))


def _plan(name: str, more: str = "", rate: int = 48000) -> Plan:
    desk = _desk(name)
    return plan_from(SHOW.format(socket=desk.connections[0].name, more=more), desk, rate=rate)


def _ports(plan: Plan) -> dict[str, tuple[str, str]]:
    return {loop.name: (str(loop.send), str(loop.returns)) for loop in plan.allocation.loops}


def _lost(plan: Plan) -> list[str]:
    return sorted(str(setting.lost) for setting in plan.allocation.settings)


# What holds for all of them


def test_all_desk_types_are_here() -> None:
    """A desk type that ships is one of those tested below."""
    shipped = (file.name.removesuffix(".yaml") for file in (files("sidetrip") / "desks").iterdir())
    assert sorted(shipped) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_every_question_is_answered(name: str) -> None:
    """In words, or by `unknown`, never by leaving it out; and every fact has a standing."""
    desk = _desk(name)
    assert set(desk.facts) == set(FACTS)
    for fact in desk.facts.values():
        assert (fact.answer == "unknown") == (fact.standing == "unknown")
    assert desk.standing == "assumed"
    assert desk.source == "typical of the class, common practice, no source"


@pytest.mark.parametrize("name", NAMES)
def test_a_small_show_plans_without_errors(name: str) -> None:
    """The must is served, and nothing found is an error; at every rate of the desk that the show has figures for."""
    for rate in {48000, _desk(name).rates[-1]}:
        plan = _plan(name, rate=rate)
        assert "Main" in _ports(plan)
        assert not [str(finding) for finding in plan.findings if finding.severity is Severity.ERROR]
        assert plan.steps and plan.recovery.presses


@pytest.mark.parametrize("name", NAMES)
def test_no_desk_file_is_long(name: str) -> None:
    """One line stands for many blocks: a desk of 96 ports chosen one by one is no longer than one of eights."""
    text = (files("sidetrip") / "desks" / f"{name}.yaml").read_text("utf-8")
    assert len(text.splitlines()) <= 130
    assert len(_desk(name).block_lines) <= 10


# Where they differ


def test_granularity_differs() -> None:
    """Eights on the compact desk, fours in the rack, pairs in the theatre, single ports on the large one."""
    sizes = {name: {len(b.feeds) for b in _desk(name).blocks if b.feeds.group == "channel"} for name in NAMES}
    assert sizes == {
        "16-strip-compact": {8},
        "24-strip-rack": {4},
        "32-strip-theatre": {8},
        "48-strip-theatre": {2},
        "large-96k": {1},
    }


def test_the_theatre_desk_gives_the_card_pairs() -> None:
    """Three loops take two pairs: four insert jacks go deaf and four recorder tracks are lost, no more."""
    plan = _plan("48-strip-theatre")
    assert _ports(plan)["Main"] == ("insert out 1-2", "insert in 1-2")
    assert _lost(plan) == ["card out 17-18", "card out 19-20", "insert in 1-2", "insert in 3-4"]


def test_hardware_keeps_its_insert_jacks_beside_the_card() -> None:
    """A box on insert jacks 9 is reached at its jack while other pairs go to the card."""
    more = """  - {strip: Keys, unit: box, want: 5}
"""
    text = SHOW.format(socket="card", more=more).replace(
        "inputs:", "  - {name: box, kind: hardware, out: insert out 9-10, back: insert in 9-10, delay_ms: 0}\ninputs:"
    )
    plan = plan_from(text, _desk("48-strip-theatre"))
    assert _ports(plan)["Keys"] == ("insert out 9-10", "insert in 9-10")
    assert "insert in 9-10" not in _lost(plan)


def test_the_matrix_insert_of_the_theatre_desk_is_behind_its_fader() -> None:
    """A stream chain there is driven by the fader, which is said."""
    plan = _plan("48-strip-theatre", more="  - {strip: Web, chain: thin, want: 6}\n")
    assert [f.where for f in plan.findings if f.code == "insert-after-fader"] == ["loop Web"]
    assert not [f for f in _plan("48-strip-theatre").findings if f.code == "insert-after-fader"]


def test_left_right_and_centre_are_a_stereo_and_a_mono_main() -> None:
    """Three legs: a stereo main and a mono one fit, a fourth leg does not."""
    text = SHOW.format(socket="card", more="").replace(
        "  - {name: Web,", "  - {name: Centre, kind: main, width: mono, from: [Lamp]}\n  - {name: Web,"
    )
    show_from(text, _desk("48-strip-theatre"))
    with pytest.raises(AssertionError, match="More mixes of kind main"):
        show_from(text.replace("Centre, kind: main, width: mono", "Centre, kind: main, width: stereo"), _desk(NAMES[3]))


def test_the_large_desk_takes_the_card_straight_to_the_insert() -> None:
    """No jack goes deaf and no block changes: send and return are the card's own channels."""
    plan = _plan("large-96k", rate=96000)
    assert _ports(plan)["Main"] == ("card out 1-2", "card in 1-2")
    assert plan.allocation.settings == ()


def test_the_large_desk_has_figures_of_its_own_at_96_khz() -> None:
    """Out 6 and back 6 frames at 48 kHz, 8 and 8 at 96 kHz: 331 + 12 = 343, and 419 + 16 = 435."""
    for rate, frames in ((48000, 343), (96000, 435)):
        delay = _plan("large-96k", rate=rate).line_map.loop("Main").delay
        assert delay.low == pytest.approx(frames / rate)


def test_any_strip_of_the_large_desk_takes_any_port() -> None:
    """Channel 1 from the second stage box, socket 30, and a pair on strips that are not its own: no conflict."""
    text = SHOW.format(socket="card", more="").replace("port: stage 1,", "port: stage b 30,")
    show = show_from(text.replace("port: stage 3-4", "port: local in 7-8"), _desk("large-96k"))
    first, third = (next(b for b in _desk("large-96k").blocks if b.feeds.first == ch) for ch in (1, 3))
    for block in (first, third):
        (index,) = chosen_source(block, show, _desk("large-96k"))
        assert block.choices[index].from_ == "any port"


def test_a_block_of_the_theatre_desk_does_not_take_any_port() -> None:
    """The same show there asks a pair for two sources, and a strip for a port that it cannot have."""
    text = "sidetrip: 1\nshow: s\nsample_rate: 48000\ndesk: {type: d.yaml}\n" + SHOW.format(socket="card", more="")
    desk = _desk("48-strip-theatre")
    show = read_show(text.replace("port: stage 1,", "port: stage 12,"), "show.yaml").show
    assert "block-conflict" in [finding.code for finding in check_show(show, desk)]


def test_a_pair_of_the_large_desk_may_begin_on_an_even_port() -> None:
    """Its rule for stereo is any pair; the others want odd and even."""
    rules = {name: _desk(name).stereo for name in NAMES}
    assert rules.pop("large-96k") == "any pair"
    assert set(rules.values()) == {"odd-even"}


def test_the_compact_desk_makes_all_eight_jacks_deaf_or_none() -> None:
    """With interval music kept on the last pair no loop is left, and the must says so."""
    assert "aux in 1-8" in _lost(_plan("16-strip-compact"))
    text = SHOW.format(socket="card", more="keep: [{ports: aux in 7-8, for: interval music}]").replace("must", "9")
    plan = plan_from(text, _desk("16-strip-compact"))
    assert not plan.allocation.loops
    assert len([finding for finding in plan.findings if finding.code == "request-refused"]) == 3
    nested = plan_from(text, _desk("32-strip-theatre"))
    assert set(_ports(nested)) == {"Main", "Lamp", "Voices"}, "nested choices leave the last pair alone"


def test_what_is_unknown_of_the_compact_desk_is_said_and_not_made_up() -> None:
    """Its loops have no total, and each unknown hop on the way is named."""
    plan = _plan("16-strip-compact")
    assert not plan.line_map.loop("Main").delay.known
    unknown = {finding.where for finding in plan.findings if finding.code == "delay-unknown"}
    assert {"desk / insert to aux out", "desk / channel to main"} <= unknown


def test_the_rack_desk_has_a_network_in_place_of_a_card() -> None:
    """Its socket is the network; groups have no insert point; the network always ends on the patch."""
    plan = _plan("24-strip-rack")
    assert _ports(plan) == {"Main": ("patch out 1-2", "patch in 1-2"), "Lamp": ("patch out 3", "patch in 3")}
    assert _lost(plan) == ["network out 25-28"]
    refused = next(finding for finding in plan.findings if finding.code == "request-refused")
    assert "no insert point" in refused.what


@pytest.mark.parametrize(
    ("name", "port", "fed"),
    [
        ("16-strip-compact", "aux in 3", "return 3"),
        ("24-strip-rack", "patch in 3", "return 3"),
        ("32-strip-theatre", "aux in 3", "return 3"),
        ("48-strip-theatre", "insert in 3", None),
        ("large-96k", "card in 3", None),
    ],
)
def test_returns_feed_strips_on_some_desks_only(name: str, port: str, fed: str | None) -> None:
    """Where they do, the patch closes those strips first; elsewhere there is nothing to close."""
    ports = parse_ports(port)
    group = _desk(name).group(ports.group)
    assert group is not None
    strips = group.strips_of(ports)
    assert (str(strips) if strips is not None else None) == fed
    closed = [step.item for step in _plan(name).steps if step.kind == "close"]
    assert bool([item for item in closed if item.startswith("return")]) == (fed is not None)


@pytest.mark.parametrize(
    ("name", "together"), [("32-strip-theatre", False), ("48-strip-theatre", False), ("large-96k", True)]
)
def test_what_is_compensated_decides_what_is_heard_twice(name: str, together: bool) -> None:
    """Lamp goes to the main directly and through the group, whose loop only the large desk counts; OUT, together."""
    desk = _desk(name)
    text = SHOW.format(socket="card", more="").replace(
        "port: stage 1, to: [Main]", "port: stage 1, to: [Main], group: Voices"
    )
    plan = plan_from(text.replace("  - {strip: Lamp, chain: thin, want: 8}\n", ""), desk)
    lamp = [meeting for meeting in plan.meetings if "Lamp" in meeting.sources and meeting.joined == "Main"]
    assert lamp
    assert {meeting.gap_out.verdict for meeting in lamp} == {"together"}
    assert {meeting.gap_in.verdict for meeting in lamp} == {"together" if together else "apart"}


# The same show on another desk


def test_the_same_show_on_another_desk_says_what_changes() -> None:
    """From the theatre desk of 32 strips to that of 48, to the large one, and to the rack."""
    first = _plan("32-strip-theatre")
    assert changes(first, first) == ()
    said = {name: changes(first, _plan(name)) for name in NAMES if name != "32-strip-theatre"}
    ports = [change for change in said["48-strip-theatre"] if change.kind == "ports" and change.what == "loop Main"]
    assert [(change.was, change.becomes) for change in ports] == [
        ("send aux out 1-2, return aux in 1-2", "send insert out 1-2, return insert in 1-2")
    ]
    (lost,) = (change for change in said["large-96k"] if change.kind == "lost")
    assert (lost.was, lost.becomes) == ("jacks aux in 1-4, tracks card out 25-32", "nothing")
    (presses,) = (change for change in said["large-96k"] if change.kind == "presses")
    assert (presses.was, presses.becomes) == ("2 presses, 3 s", "1 presses, 2 s")
    assert [str(change) for change in said["24-strip-rack"] if change.kind == "goes out"] == [
        "loop Voices: out → stays in"
    ]
    delays = {c.what: c.becomes for c in said["24-strip-rack"] if c.kind == "delay"}
    assert delays == {"loop Main": "unknown", "loop Lamp": "unknown"}
    assert [c for c in said["24-strip-rack"] if c.kind == "warning" and c.becomes == "said" and "Voices" in c.what]


def test_going_back_says_the_same_the_other_way_round() -> None:
    """Whatever changes one way changes back the other."""
    one, other = _plan("32-strip-theatre"), _plan("large-96k")
    there, back = changes(one, other), changes(other, one)
    assert {(c.kind, c.what, c.was, c.becomes) for c in there if c.kind != "warning"} == {
        (c.kind, c.what, c.becomes, c.was) for c in back if c.kind != "warning"
    }
    assert len(there) == len(back)


def test_a_line_of_blocks_stands_for_each_of_them() -> None:
    """By hand: channel 33-48 in twos takes stage 33-34 or local in 1-2 first, and 47-48 or 15-16 last."""
    blocks = [b for b in _desk("48-strip-theatre").blocks if b.feeds.group == "channel"]
    assert len(blocks) == 24
    shown = [(str(blocks[n].feeds), [str(choice.from_) for choice in blocks[n].choices]) for n in (16, 23)]
    assert shown == [
        ("channel 33-34", ["stage 33-34", "local in 1-2"]),
        ("channel 47-48", ["stage 47-48", "local in 15-16"]),
    ]


def test_a_source_as_wide_as_a_block_is_the_same_for_each() -> None:
    """Local in 25-32 for blocks of eight stays local in 25-32."""
    text = (files("sidetrip") / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
    start, end = text.index("  - {feeds: card out 1-8"), text.index("carriers:")
    line = "  - {feeds: card out 1-32, each: 8, choices: [stage 1-32, local in 25-32]}\n\n"
    blocks = [b for b in desk_from(text[:start] + line + text[end:]).blocks if b.feeds.group == "card out"]
    assert [b.choices[1].from_ for b in blocks] == [Ports("local in", 25, 32)] * 4
    assert [b.choices[0].from_ for b in blocks][-1] == Ports("stage", 25, 32)
