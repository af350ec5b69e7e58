"""A unit that stands in for another: ports counted for both, one writer, times once it is in, what it does not cure."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from sidetrip.errors import NoPlan
from sidetrip.model.ports import Port
from sidetrip.model.show import Show
from sidetrip.plan.assign import allocate
from sidetrip.plan.hand_over import HandOver
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.stand_in import without_stands
from sidetrip.plan.take_over import check_take_overs
from sidetrip.reports.plan_json import plan_text
from sidetrip.showfile.read import read_desk, read_show
from smallshows import RATE, bounds_at, frames_at, plan_from, show_from
from stand_in_shows import LAPTOP, spare, stand_in_show, two_sockets

ROOT = Path(__file__).parents[3]

WAYS = [
    pytest.param("by strip", "tab", False, id="by strip, send and return together"),
    pytest.param("by strip", "tab", True, id="by strip, the return alone"),
    pytest.param("by strip", "card", False, id="by strip on one socket"),
    pytest.param("by block", "tab", False, id="by block"),
    pytest.param("by box", "tab", False, id="by box, a socket of its own"),
    pytest.param("by box", "card", False, id="by box on one socket"),
]


def _plan(switch: str = "by strip", socket: str = "tab", *, alone: bool = False) -> Plan:
    return plan_from(stand_in_show(LAPTOP, spare(switch, socket)), two_sockets(alone=alone))


def _hand_over(plan: Plan) -> HandOver:
    (found,) = plan.recovery.hand_overs
    return found


def _out(show: Show, ports: int = 8) -> list[str]:
    return sorted(loop.strip for loop in allocate(show, two_sockets(ports)).loops)


def test_a_show_that_just_fits_refuses_the_lowest_wants_once_each_loop_needs_two_places() -> None:
    """Five legs on three pairs all go out; with as many places on the other computer only the pair wanted most does."""
    show = show_from(stand_in_show(), two_sockets(6))
    assert _out(without_stands(show), 6) == ["A", "B", "C", "Main"]
    assert _out(show, 6) == ["Main"]


def test_a_refusal_names_the_unit_that_stands_in_and_what_leaving_it_out_would_give() -> None:
    """Four pairs hold Main, A and B twice; C has a reason of its own, and goes out if nobody stands in."""
    plan = _plan()
    assert [loop.strip for loop in plan.allocation.loops] == ["A", "B", "Main"]
    (refusal,) = plan.allocation.refusals
    assert (refusal.strip, refusal.want) == ("C", 3)
    assert refusal.reason == "'spare', which stands in for 'laptop', needs a place of its own for it, and none is left"
    assert refusal.would_fit_if[0] == "'spare' did not stand in for 'laptop'"
    assert _out(without_stands(plan.show)) == ["A", "B", "C", "Main"]


@pytest.mark.parametrize("alone", [False, True])
@pytest.mark.parametrize("seed", range(8))
def test_who_goes_out_is_what_counting_pairs_by_hand_says(seed: int, alone: bool) -> None:
    """Drawn widths, wants and ports: a pair of ports belongs to one computer, and each loop needs room on both."""
    draw = random.Random(seed)
    pairs = draw.randint(2, 6)
    wide = {f"S{number}": draw.choice([1, 2]) for number in range(6)}
    wants = dict(zip(wide, draw.sample(range(1, 10), 6), strict=True))
    first = dict(zip(wide, range(41, 53, 2), strict=True))
    ports = {name: f"{first[name]}-{first[name] + 1}" if wide[name] == 2 else f"{first[name]}" for name in wide}
    inputs = ", ".join(f"{{name: {s}, ch: {first[s]}, port: stage {ports[s]}, to: [Main]}}" for s in wide)
    asked = [f"{{strip: {name}, chain: c, want: {want}}}" for name, want in wants.items()]
    text = stand_in_show(requests=asked, inputs=inputs)
    desk = two_sockets(2 * pairs, alone=alone)
    expected: list[str] = []
    for strip in sorted(wide, key=lambda name: -wants[name]):
        widths = [wide[name] for name in (*expected, strip)]
        if 2 * (widths.count(2) + (widths.count(1) + 1) // 2) <= pairs:
            expected.append(strip)
    found = allocate(show_from(text, desk), desk)
    assert sorted(loop.strip for loop in found.loops) == sorted(expected)
    assert sorted(own.loop.strip for own in found.take_overs) == sorted(expected)


@pytest.mark.parametrize(("switch", "socket", "alone"), WAYS)
def test_each_desk_input_keeps_one_writer(switch: str, socket: str, alone: bool) -> None:
    """No port of the desk is fed by two loops, and by strip none by both units; the plan's own rule finds nothing."""
    found = _plan(switch, socket, alone=alone).allocation
    returns = [port for loop in found.loops for port in loop.returns.each]
    others = [port for own in found.take_overs for port in own.by.returns.each]
    assert len(others) == len(set(others)) == sum(loop.legs for loop in found.loops)
    assert bool(set(returns) & set(others)) == (switch != "by strip")
    channels = [port for own in found.take_overs for port in own.by.unit_out.each]
    assert len(channels) == len(set(channels))
    assert {port.group for port in channels} == {"card in" if socket == "card" or switch == "by box" else "tab in"}
    assert list(check_take_overs(_plan(switch, socket, alone=alone).show, found.loops, found.take_overs)) == []


def test_ports_that_another_loop_has_are_told() -> None:
    """The rule looks for itself: moved by hand onto the return of any other loop, a second writer is named."""
    plan = _plan()
    first, second, *rest = plan.allocation.take_overs
    for port in (plan.allocation.loops[1].returns, first.loop.returns, second.by.returns):
        moved = replace(first, by=replace(first.by, returns=port))
        found = list(check_take_overs(plan.show, plan.allocation.loops, (moved, second, *rest)))
        assert {finding.code for finding in found} == {"port-two-writers"}


def test_sends_stay_where_the_return_moves_alone_and_both_hear_them() -> None:
    """Where a return can be taken alone, the other socket carries the very sends; else each strip has a second send."""
    for own in _plan(alone=True).allocation.take_overs:
        assert own.by.send == own.loop.send
        assert [port.number for port in own.by.unit_in.each] == [port.number for port in own.loop.unit_in.each]
        assert {port.group for port in own.by.unit_in.each} == {"tab out"}
    for own in _plan(alone=False).allocation.take_overs:
        assert not own.by.send.overlaps(own.loop.send)


def test_by_block_and_by_box_no_port_more_is_needed() -> None:
    """The block's other source, or the box, brings the other unit on the same returns: all four go out."""
    for switch in ("by block", "by box"):
        plan = _plan(switch)
        assert [loop.strip for loop in plan.allocation.loops] == ["A", "B", "C", "Main"]
        assert all(own.by.returns == own.loop.returns for own in plan.allocation.take_overs)
    acts = _hand_over(_plan("by block")).acts
    assert [(act.what, act.becomes) for act in acts] == [
        ("source of aux in 1-2", "tab in 1-2"),
        ("source of aux in 3-4", "tab in 3-4"),
        ("source of aux in 5-6", "tab in 5-6"),
    ]


def test_by_block_needs_a_block_with_both_units_as_its_source() -> None:
    """With one socket the blocks have one source: nobody goes out, and the reason says so."""
    plan = _plan("by block", "card")
    assert plan.allocation.loops == ()
    words = "cannot take it over: no block that hears it has both units as its source"
    assert {refusal.reason for refusal in plan.allocation.refusals} == {
        f"'spare', which stands in for 'laptop', {words}"
    }
    assert all("'spare' did not stand in for 'laptop'" in refusal.would_fit_if for refusal in plan.allocation.refusals)


def test_musts_that_conflict_name_the_unit_that_stands_in() -> None:
    """Three musts of which two fit with a place for each on both computers: leaving one computer out is a cure."""
    asked = [f"{{strip: {name}, chain: c, want: must}}" for name in ("Main", "A", "B")]
    with pytest.raises(NoPlan) as raised:
        plan_from(stand_in_show(requests=asked), two_sockets(6))
    assert "could, if 'spare' did not stand in for 'laptop'" in raised.value.findings[0].what
    with pytest.raises(NoPlan) as raised:
        plan_from(stand_in_show(LAPTOP, spare("by block", "card"), requests=asked[:1]), two_sockets())
    assert "it could, if 'spare' did not stand in for 'laptop'" in raised.value.findings[0].what


@pytest.mark.parametrize(
    ("limit", "alone", "beside"), [(0.3, ["A", "B", "C"], ["A", "B"]), (0.2, ["A", "B"], ["A"]), (0.1, ["A"], [])]
)
def test_it_must_carry_the_load_of_the_other(limit: float, alone: list[str], beside: list[str]) -> None:
    """Chains of 0.1 each: as many go out as the second computer carries too, one less beside a loop of its own."""
    asked = [f"{{strip: {name}, chain: c, want: {want}}}" for name, want in (("A", 5), ("B", 4), ("C", 3))]
    own = "{strip: Main, unit: spare, chain: c, want: 9}"
    units, chain = (LAPTOP, spare(more=f", load_limit: {limit}")), "{compressor: {load: 0.1}}"
    for requests, out in ((asked, alone), ([own, *asked], beside)):
        found = plan_from(stand_in_show(*units, requests=requests, chain=chain), two_sockets(16)).allocation
        assert [loop.strip for loop in found.loops if loop.unit == "laptop"] == out
        why = {refusal.reason for refusal in found.refusals}
        assert why <= {"'spare', which stands in for 'laptop', has no load left for it"}


def test_it_serves_nobody_without_being_named() -> None:
    """A request for any computer goes to the first one only, however full that is and whatever the other carries."""
    own = "{strip: C, unit: spare, chain: c, want: 3}"
    asked = [*(f"{{strip: {name}, chain: c, want: {want}}}" for name, want in (("A", 5), ("B", 4))), own]
    plan = plan_from(stand_in_show(requests=asked, chain="{compressor: {load: 0.3}}"), two_sockets(16))
    assert {loop.strip: loop.unit for loop in plan.allocation.loops} == {"A": "laptop", "C": "spare"}
    assert [refusal.reason for refusal in plan.allocation.refusals] == ["laptop has no load left for it"]
    idle = _plan("by box")
    assert {loop.unit for loop in idle.allocation.loops} == {"laptop"}
    assert "spare dead" not in [state.name for state in idle.states]


def test_loops_that_follow_each_other_on_a_port_share_the_other_place_too() -> None:
    """B needs its place until cue 5, C from there: one place on each computer holds both."""
    asked = [f"{{strip: {name}, chain: c, want: {want}}}" for name, want in (("B", 4), ("C", 3))]
    cues = "cues: [{from: 5, requests: {B: out, C: in}}]"
    plan = plan_from(stand_in_show(requests=asked, more=cues), two_sockets(2, each=1))
    assert [str(loop.returns) for loop in plan.allocation.loops] == ["aux in 1", "aux in 1"]
    assert [str(own.by.returns) for own in plan.allocation.take_overs] == ["aux in 2", "aux in 2"]
    assert not [finding for finding in plan.findings if finding.code == "port-two-writers"]


def test_a_pinned_loop_has_a_second_place_too() -> None:
    """Pinned to aux 3 it keeps that; on the other computer it takes what is left, and two cannot share one pair."""
    pinned = "{strip: A, chain: c, want: 5, ports: {send: aux out 3, return: aux in 3}}"
    plan = plan_from(stand_in_show(requests=[pinned]), two_sockets(4))
    (own,) = plan.allocation.take_overs
    assert (str(own.loop.returns), str(own.by.returns)) == ("aux in 3", "aux in 1")
    assert plan_from(stand_in_show(requests=[pinned]), two_sockets(4, each=4)).allocation.loops == ()


@pytest.mark.parametrize(("switch", "socket", "alone"), WAYS)
@pytest.mark.parametrize("chain", ["{compressor: {}}", "{black box: {}}"])
def test_once_it_is_in_all_is_later_by_the_difference_of_the_round_trips(
    switch: str, socket: str, alone: bool, chain: str
) -> None:
    """459 frames measured against 331: 128 frames later, also where nobody knows how long the chain takes."""
    desk = two_sockets(alone=alone)
    plan = plan_from(stand_in_show(LAPTOP, spare(switch, socket), chain=chain), desk)
    for later in _hand_over(plan).later:
        assert later.delay.low * RATE == pytest.approx(459 - 331, abs=1e-6)
        assert later.delay.high * RATE == pytest.approx(459 - 331, abs=1e-6)
    (finding,) = [finding for finding in plan.findings if finding.code == "stand-in-time"]
    assert "128 frames later" in finding.what and "2.67 ms" in finding.values
    (state,) = [state for state in plan.states if state.kind == "taken over"]
    assert state.name == "laptop dead, spare in"
    before, after = (bounds_at(plan.arrivals, "C", "PA", own)[0] for own in (plan.states[0], state))
    passed = [loop for loop in ("C", "Main") if loop in {own.strip for own in plan.allocation.loops}]
    assert after - before == pytest.approx(128 * len(passed), abs=1e-6)
    if chain == "{compressor: {}}":
        assert frames_at(plan.arrivals, "C", "PA", state) == pytest.approx(after, abs=1e-6)


@pytest.mark.parametrize(
    ("frames", "words"),
    [(300, "31 frames earlier"), ("440 to 460", "109 to 129 frames later"), ("unknown", "nobody knows by how much")],
)
def test_the_change_in_time_is_said_with_what_is_known_of_it(frames: int | str, words: str) -> None:
    """Earlier, a range, or unknown: no number is made up."""
    plan = plan_from(stand_in_show(LAPTOP, spare(frames=frames)), two_sockets())
    (finding,) = [finding for finding in plan.findings if finding.code == "stand-in-time"]
    assert words in finding.what


def test_units_that_take_the_same_time_change_nothing() -> None:
    """No finding, and a difference of nothing."""
    plan = plan_from(stand_in_show(LAPTOP, spare(frames=331)), two_sockets())
    assert [finding for finding in plan.findings if finding.code == "stand-in-time"] == []
    assert {abs(later.delay.high) < 1e-12 for later in _hand_over(plan).later} == {True}


def test_its_open_buffer_is_chosen_as_though_it_carried_the_loops() -> None:
    """Ears take 8 ms more: the largest of its buffers that keeps within that, not the largest it has."""
    points = ", ".join(f"{{buffer: {b}, rate: 48000, round_trip_frames: {2 * b + 203}}}" for b in (32, 64, 128, 256))
    open_buffer = spare().replace("buffer: 128,", "buffer: auto,", 1)
    start = open_buffer.index("measured: [")
    unit = open_buffer[:start] + f"measured: [{points}]" + open_buffer[open_buffer.index("]", start) + 1 :]
    text = stand_in_show(LAPTOP, unit, more="limits: {ear_added_ms: 8}", requests=["{strip: A, chain: c, want: 5}"])
    text = text.replace(
        "mixes: [",
        "mixes: [{name: Ears, kind: aux, width: mono, for: A, listens: in-ear, device_ms: 1, "
        "from: {A: {tap: after insert}}}, ",
    )
    plan = plan_from(text, two_sockets())
    assert {unit.name: unit.buffer_frames for unit in plan.units} == {"laptop": 64, "spare": 64}


def test_what_hangs_on_both_is_named_as_not_cured() -> None:
    """One socket, a box, a clock that comes from the one that died: each follows from the show and is said."""
    on_card = _hand_over(_plan("by strip", "card")).not_cured
    assert on_card[0] == "a fault of card or its cable: both units hang on it"
    assert not any("cable" in words for words in _hand_over(_plan()).not_cured)
    assert "a fault of the switch box: both units come back through it" in _hand_over(_plan("by box")).not_cured
    led = plan_from(stand_in_show(clock="laptop"), two_sockets())
    words = "the clock: 'spare' has it from 'laptop', and loses it when 'laptop' dies"
    assert words in _hand_over(led).not_cured
    assert "the clock leader, desk, lost: both units follow it" in _hand_over(_plan()).not_cured
    assert any(words.startswith("a dead send") for words in _hand_over(_plan(alone=True)).not_cured)
    assert _hand_over(_plan()).not_cured[-1] == "a second failure: nothing stands in for 'spare'"


@pytest.mark.parametrize(("more", "seconds", "timed"), [("", 36.0, False), (", switch_seconds: 20", 20.0, True)])
def test_presses_and_seconds_are_the_desks_unless_somebody_timed_it(more: str, seconds: float, timed: bool) -> None:
    """Three strips by the routing page: four presses and twelve seconds each, as the desk says of its outputs."""
    found = _hand_over(plan_from(stand_in_show(LAPTOP, spare(more=more)), two_sockets()))
    assert (found.presses, found.seconds, found.timed) == (12.0, seconds, timed)
    box = _hand_over(_plan("by box"))
    assert (box.presses, box.seconds) == (1.0, None)


def test_only_a_box_on_the_whole_socket_takes_over_more_than_inserts() -> None:
    """A block of channels in line is refused by strip with the reason, and taken over by a box on one socket."""
    asked = ["{strip: A, chain: c, want: 5, way: in-line}"]
    channel = "  - {feeds: channel 1, choices: [stage 11, card in 9]}\n"
    desk = two_sockets(more_blocks=f"{channel}  - {{feeds: card out 9, choices: [stage 1, stage 11]}}\n")
    strip = plan_from(stand_in_show(requests=asked), desk)
    (refusal,) = strip.allocation.refusals
    assert refusal.reason == "'spare' stands in for 'laptop', and takes over inserts only, by strip"
    box = plan_from(stand_in_show(LAPTOP, spare("by box", "card"), requests=asked), desk)
    assert [(own.by.unit, own.by.way) for own in box.allocation.take_overs] == [("spare", "in-line")]


@pytest.mark.parametrize(("switch", "socket", "alone"), WAYS)
@pytest.mark.parametrize("order", range(3))
def test_the_order_of_lists_changes_nothing(switch: str, socket: str, alone: bool, order: int) -> None:
    """Units, inputs, requests and findings in another order: the same plan, byte for byte."""
    plan = _plan(switch, socket, alone=alone)
    draw = random.Random(order)
    mixed = {
        key: tuple(draw.sample(list(own), len(own)))
        for key in ("units", "inputs", "requests")
        if (own := getattr(plan.show, key))
    }
    other = make_plan(plan.show.model_copy(update=mixed), plan.desk)
    assert plan_text(other, other.findings) == plan_text(plan, plan.findings)


def test_ports_open_to_the_other_unit_are_not_spare() -> None:
    """What a unit needs to take over is no unused port."""
    plan = _plan()
    taken = {str(Port("aux in", port.number)) for own in plan.allocation.take_overs for port in own.by.returns.each}
    assert not taken & set(plan.allocation.spare)


def test_the_example_of_the_docs_plans_on_the_demo_show() -> None:
    """Its unit among those of the demo: by box, eight seconds as timed, the laptop's loops all taken over."""
    page = (ROOT / "docs" / "stand-in.md").read_text("utf-8")
    lines = page.split("```yaml\nunits:\n", 1)[1].split("```", 1)[0]
    text = (
        (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8").replace("\nunits:\n", f"\nunits:\n{lines}", 1)
    )
    desk = read_desk((ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8"), "desk.yaml")
    plan = make_plan(read_show(text, "show.yaml").show, desk)
    found = _hand_over(plan)
    assert (found.switch, found.presses, found.seconds, found.timed) == ("by box", 1.0, 8.0, True)
    carried = [loop.name for loop in plan.allocation.loops if loop.unit == "laptop"]
    assert carried and [own.loop.name for own in plan.allocation.take_overs] == carried
