"""The ways in-line and send-and-strip: who can take them, what goes along, how late, and how they are taken OUT."""

from __future__ import annotations

import pytest

from showtext import DESK_TEXT
from sidetrip.errors import NoPlan
from sidetrip.graph.arrivals import State
from sidetrip.plan.planner import Plan, make_plan
from smallshows import desk_from, frames_at, show_from, theatre_desk

DESK = theatre_desk()
ROUND_TRIP = 331


def _plan(requests: str, *, keep: str = "[{ports: card out 1-24, for: recorder}]", more: str = "") -> Plan:
    """Plan four inputs of one block, one of the next, and a plate that comes back on aux in 7-8."""
    body = f"""
units:
  - {{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
      measured: [{{buffer: 64, rate: 48000, round_trip_frames: {ROUND_TRIP}}}]}}
  - {{name: box, kind: hardware, out: aux out 7-8, back: aux in 7-8, delay_ms: 1}}
inputs:
  - {{ch: 1, name: Voice, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Bass, port: stage 2, to: [Main]}}
  - {{ch: 3, name: Keys, port: stage 3-4, to: [Main]}}
  - {{ch: 9, name: Drum, port: stage 9, to: [Main]}}
  - {{name: Plate back, port: aux in 7-8, to: [Main]}}
mixes:
  - {{name: Plate send, kind: aux, width: stereo, from: {{Drum: {{db: -6}}}}}}
  - {{name: Main, kind: main, width: stereo}}
outputs:
  - {{name: PA, from: Main, port: local out 1-2}}
  - {{name: Plate, from: Plate send, port: aux out 7-8}}
chains: {{c: [{{eq: {{}}}}], slow: [{{eq: {{delay_frames: 10}}}}], plate: [{{black box: {{delay_frames: 0}}}}]}}
requests: {requests}
keep: {keep}
{more}
"""
    return make_plan(show_from(body, DESK), DESK)


_IN_LINE = "[{strip: Voice, chain: slow, want: 9, way: in-line}]"
_PLATE = "{strip: Plate send, chain: plate, want: 5, way: send-and-strip, back_on: Plate back%s}"


def _out(plan: Plan, name: str) -> State:
    return next(state for state in plan.states if state.name == name)


def _codes(plan: Plan) -> set[str]:
    return {finding.code for finding in plan.findings if finding.severity == "error"}


# In-line


def test_a_block_goes_with_all_its_inputs_and_what_nobody_asked_for_is_blank() -> None:
    """Voice takes its chain; bass and keys go along; the drum of the next block stays."""
    plan = _plan(_IN_LINE)
    loops = {loop.name: loop for loop in plan.allocation.loops}
    assert {name: (loop.way, loop.chain, loop.blank) for name, loop in loops.items()} == {
        "Voice": ("in-line", "slow", False),
        "Bass": ("in-line", None, True),
        "Keys": ("in-line", None, True),
    }
    keys = loops["Keys"]
    assert [str(ports) for ports in (keys.send, keys.unit_in, keys.unit_out, keys.returns)] == [
        "stage 3-4",
        "card out 3-4",
        "card in 3-4",
        "card in 3-4",
    ]
    assert [(setting.block, setting.becomes) for setting in plan.allocation.settings] == [
        ("source of channel 1-8", "card in 1-8")
    ]


def test_in_line_replaces_the_way_in_and_is_late_by_the_rest() -> None:
    """Stage to card 5, round trip, card to channel 8 in place of stage to channel 32; the chain's 10 on voice alone."""
    plan = _plan(_IN_LINE)
    added = 5 + ROUND_TRIP + 8 - 32
    for source, later in (("Voice", added + 10), ("Bass", added), ("Keys", added)):
        dry = frames_at(plan.arrivals, source, "PA", _out(plan, "all OUT"))
        assert frames_at(plan.arrivals, source, "PA") - dry == pytest.approx(later)


def test_a_block_is_out_as_a_whole() -> None:
    """There is no state with one of its strips OUT, and one act on the routing page takes it OUT."""
    plan = _plan(_IN_LINE)
    assert [state.name for state in plan.states] == ["all IN", "all OUT", "channel 1-8 in-line OUT", "laptop dead"]
    (press,) = plan.recovery.presses
    assert (press.strip, press.presses, press.seconds) == ("channel 1-8", 4.0, 12.0)
    assert press.key == "source of the channel block, routing page"


def test_the_recorder_keeps_its_raw_tracks() -> None:
    """Unit and recorder read the same channels of the card: several may read an output."""
    assert _codes(_plan(_IN_LINE)) == set()


@pytest.mark.parametrize(
    ("keep", "more", "why"),
    [
        ("[{ports: card in 3, for: playback}]", "", "card in 3-4 is in use or must stay: card in 3 for playback"),
        ("[]", "never: [Bass]", "Bass would go along, and must never pass a loop"),
    ],
)
def test_a_block_that_cannot_go_whole_does_not_go(keep: str, more: str, why: str) -> None:
    """What stands in the way of any of its inputs stands in the way of all, and is named."""
    (refusal,) = _plan(_IN_LINE, keep=keep, more=more).allocation.refusals
    assert why in refusal.reason


def test_a_mix_cannot_go_in_line() -> None:
    """Only what comes in by a block of channels can."""
    with pytest.raises(AssertionError, match="Only an input channel can go in-line"):
        _plan("[{strip: Main, chain: c, want: 9, way: in-line}]")


def test_a_must_beside_an_insert_of_the_same_strip() -> None:
    """Voice goes in-line and its insert too: two loops, two names, and both add up."""
    requests = "[{strip: Voice, chain: c, want: must, way: in-line}, {strip: Voice, chain: c, want: 5}]"
    plan = _plan(requests)
    assert {loop.name for loop in plan.allocation.loops} == {"Voice", "Voice in-line", "Bass", "Keys"}
    dry = frames_at(plan.arrivals, "Voice", "PA", _out(plan, "all OUT"))
    insert = plan.line_map.loop("Voice").delay.low * 48_000
    assert frames_at(plan.arrivals, "Voice", "PA") - dry == pytest.approx(5 + ROUND_TRIP + 8 - 32 + insert)


def test_a_channel_of_the_card_has_one_meaning() -> None:
    """The last block of channels and the return block could both be brought card in 25-32; only one of them is."""
    last = "{feeds: channel 25-32, choices: [stage 25-32, local in 25-32, card in 25-32]}"
    assert last in DESK_TEXT
    body = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]
inputs: [{ch: %s, name: Voice, port: stage %s, to: [Main]}, {ch: 9, name: Bass, port: stage 9, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}]}
requests: [{strip: Voice, chain: c, want: 9, way: in-line}, {strip: Bass, chain: c, want: 5}]
"""
    served = {}
    for channel in (1, 25):
        plan = make_plan(show_from(body % (channel, channel), DESK), DESK)
        served[channel] = {loop.name for loop in plan.allocation.loops}
    assert served == {1: {"Voice", "Bass"}, 25: {"Voice"}}


def test_blocks_that_are_found_on_the_same_channels_are_left_so() -> None:
    """A desk may be delivered with two blocks on one source: that is no plan's doing, and stays."""
    twice = DESK_TEXT
    for block in ("17-24", "25-32"):
        head = f"{{feeds: channel {block}, choices: ["
        twice = twice.replace(head, f"{head}card in 17-24, ")
    assert twice.count("choices: [card in 17-24,") == 2
    desk = desk_from(twice)
    body = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}]}
requests: [{strip: Voice, chain: c, want: must, way: in-line}]
"""
    plan = make_plan(show_from(body, desk), desk)
    assert [loop.name for loop in plan.allocation.loops] == ["Voice"]
    assert [setting.block for setting in plan.allocation.settings] == ["source of channel 1-8"]


# Send-and-strip


def test_a_send_comes_back_on_its_strip_beside_the_dry_sound() -> None:
    """Out by aux out 7-8 and the card, back by aux in 7-8: the strip's source is the unit."""
    plan = _plan(f"[{_PLATE % ''}]")
    (loop,) = plan.allocation.loops
    assert (loop.way, str(loop.send), str(loop.returns), loop.back_on) == (
        "send-and-strip",
        "aux out 7-8",
        "aux in 7-8",
        "Plate back",
    )
    assert (str(loop.unit_in), str(loop.unit_out)) == ("card out 31-32", "card in 31-32")
    # drum 32, to the aux 8, out 20, to the card 5, round trip, back 5, to the return strip 24, to main 8, out 20
    wet = frames_at(plan.arrivals, "Drum", "PA", via=["Plate back"])
    assert wet == pytest.approx(32 + 8 + 20 + 5 + ROUND_TRIP + 5 + 24 + 8 + 20)


def test_out_means_that_nothing_comes_back_and_the_dry_sound_stays() -> None:
    """OUT is the mute of the return strip: that way is silent, not early."""
    plan = _plan(f"[{_PLATE % ''}]")
    wet = [index for index, row in enumerate(plan.arrivals.rows) if "Plate back" in row.route]
    out, dead = (plan.arrivals.times(_out(plan, name)) for name in ("Plate send OUT", "laptop dead"))
    assert wet
    assert all(out.silent[index] and dead.silent[index] for index in wet)
    assert not any(out.silent[index] for index in range(len(plan.arrivals.rows)) if index not in wet)
    (press,) = plan.recovery.presses
    assert (press.key, press.presses) == ("MUTE key of Plate back", 1.0)


def test_a_box_between_the_jacks_is_reached_without_a_block() -> None:
    """The hardware sits where the send leaves and the strip comes in; its delay is its own."""
    plan = _plan(f"[{_PLATE % ', unit: box'}]")
    (loop,) = plan.allocation.loops
    assert (loop.unit, plan.allocation.settings) == ("box", ())
    assert frames_at(plan.arrivals, "Drum", "PA", via=["Plate back"]) == pytest.approx(32 + 8 + 20 + 48 + 24 + 8 + 20)


def test_a_send_without_a_port_is_refused_and_says_what_is_missing() -> None:
    """A mix that leaves the desk nowhere cannot reach a unit."""
    requests = "[{strip: Main, chain: c, want: 5, way: send-and-strip, back_on: Plate back}]"
    (refusal,) = _plan(requests).allocation.refusals
    assert "local out 1-2" in refusal.reason


@pytest.mark.parametrize(
    ("request_", "what"),
    [
        ("{strip: Plate send, chain: c, want: 5, way: send-and-strip}", "It is not said on which strip"),
        ("{strip: Plate send, chain: c, want: 5, way: send-and-strip, back_on: Nobody}", "There is no input 'Nobody'"),
        ("{strip: Voice, chain: c, want: 5, way: send-and-strip, back_on: Voice}", "cannot come back on its own strip"),
        ("{strip: Voice, chain: c, want: 5, back_on: Plate back}", "Only a send comes back on another strip"),
    ],
)
def test_a_send_that_is_written_wrongly_is_found(request_: str, what: str) -> None:
    """Each with its line, before anything is planned."""
    with pytest.raises(AssertionError, match=what):
        _plan(f"[{request_}]")


# Rules beside ports


def test_one_press_is_kept_where_the_desk_needs_two() -> None:
    """The insert key takes two presses; a bypass group with a key takes one."""
    (refusal,) = _plan("[{strip: Voice, chain: c, want: 9, one_press: yes}]").allocation.refusals
    assert refusal.reason.startswith("it wants a bypass in one press; this desk takes 2 presses")
    plan = _plan("[{strip: Voice, chain: c, want: 9, one_press: yes}]", more="bypass_groups: {voices: [Voice]}")
    assert [loop.name for loop in plan.allocation.loops] == ["Voice"]
    assert [key.strips for key in plan.recovery.keys] == [("Voice",), ("Voice",)]


def test_a_strip_does_not_go_out_without_its_sibling_where_ports_are_few() -> None:
    """Two ports for three equal wants: the two that hear one source go together, whatever their names."""
    keep = "[{ports: card out 1-24, for: recorder}, {ports: aux in 3-8, for: house}]"
    body = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]
inputs:
  - {ch: 1, name: Alto, port: stage 1, to: [Main]}
  - {ch: 2, name: Snare top, port: stage 2, to: [Main]}
  - {ch: 3, name: Snare under, port: stage 3, to: [Main]}
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}]}
requests: [%s]
keep: %s
%s
"""
    wants = ", ".join(f"{{strip: {name}, chain: c, want: 5}}" for name in ("Alto", "Snare top", "Snare under"))
    siblings = "siblings: {snare: [Snare top, Snare under]}"
    for more, served in (("", {"Alto", "Snare top"}), (siblings, {"Snare top", "Snare under"})):
        show = show_from(body % (wants, keep, more), DESK)
        assert {loop.name for loop in make_plan(show, DESK).allocation.loops} == served


def test_loops_that_ears_accept_alone_but_not_together_do_not_both_go_out() -> None:
    """Two loops of 7 ms in a row on the way to the singer's ears, and 8 ms allowed: the higher want goes."""
    body = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Band], hears: {singer: {m: 0}}}]
mixes:
  - {name: Band, kind: group, width: mono}
  - {name: Ears, kind: aux, width: mono, for: singer, device_ms: 1, from: {Band: {db: 0, tap: after insert}}}
outputs: [{name: Pack, from: Ears, port: local out 3}]
chains: {c: [{eq: {}}]}
requests: [{strip: Voice, chain: c, want: 5}, {strip: Band, chain: c, want: 9}]
limits: {ear_added_ms: %s}
"""
    for limit, served in ((8, {"Band"}), (15, {"Band", "Voice"}), (7, set())):
        plan = make_plan(show_from(body % limit, DESK), DESK)
        assert {loop.name for loop in plan.allocation.loops} == served
        assert "ear-late" not in {finding.code for finding in plan.findings}


def test_a_must_whose_block_cannot_go_is_a_conflict() -> None:
    """A must is never dropped in silence."""
    must = "[{strip: Voice, chain: c, want: must, way: in-line}]"
    with pytest.raises(NoPlan, match="its block cannot go in-line"):
        _plan(must, keep="[{ports: card in 1, for: playback}]")
