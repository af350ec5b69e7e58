"""Rules that loops are held against, each with loops that break it and loops that keep it."""

from dataclasses import replace

import pytest

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import parse_ports
from sidetrip.plan.invariants import check_plan, check_requests
from smallshows import fixed, insert_loop, mapped, output_loop, plain_desk, show_from

BLOCKS = """
  - {feeds: aux in 1-4, choices: [jacks, {from: card in 1-4, covers: aux in 1-4}]}
  - {feeds: aux in 5-8, choices: [jacks, {from: card in 5-8, covers: aux in 5-8}]}
  - {feeds: card out 1-4, choices: [stage 1-4, aux out 1-4]}
  - {feeds: card out 5-8, choices: [stage 5-8, aux out 5-8]}
"""
DESK = plain_desk(blocks=BLOCKS)
SHOW = """
units:
  - {name: laptop, kind: computer, connects: card}
  - {name: box, kind: hardware, out: local out 21-22, back: local in 21-22}
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main]}
  - {ch: 2, name: Bass, port: stage 2, to: [Main]}
  - {ch: 3, name: Click, port: stage 3, to: [Ears]}
mixes:
  - {name: Ears, kind: aux, width: mono}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Pack, from: Ears, port: local out 5}
"""
VOICE = insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3")
MAIN = insert_loop("Main", "aux out 1-2", "aux in 1-2", unit="laptop", card="1-2")


def _codes(*loops: PlacedLoop, more: str = "", show: str = SHOW, desk: Desk = DESK) -> list[str]:
    own = show_from(f"{show}\n{more}", desk)
    line_map, _ = mapped(own, desk, loops, {"laptop": fixed(300), "box": fixed(48)})
    return [finding.code for finding in check_plan(own, desk, loops, line_map)]


def test_good_loops_break_nothing() -> None:
    """A mono and a stereo insert and a box behind an output, on ports of their own."""
    assert _codes(VOICE, MAIN, output_loop("PA", "local out 21-22", "local in 21-22")) == []


# Width and pairs


@pytest.mark.parametrize(
    "loop",
    [
        replace(VOICE, send=parse_ports("aux out 3-4")),
        replace(VOICE, unit_out=parse_ports("card in 3-4")),
        insert_loop("Main", "aux out 1", "aux in 1", unit="laptop", card="1"),
        output_loop("Pack", "local out 21-22", "local in 21-22"),
    ],
)
def test_sends_returns_and_strip_are_equally_wide(loop: PlacedLoop) -> None:
    """More sends than the strip has legs, more channels than sends, half a stereo strip, a box twice as wide."""
    assert "loop-width" in _codes(loop)


def test_an_output_is_as_wide_as_its_own_ports() -> None:
    """The box behind the PA has two channels like the PA, whatever strip carries a like name."""
    assert _codes(output_loop("PA", "local out 21-22", "local in 21-22")) == []


@pytest.mark.parametrize(
    ("send", "returns", "broken"),
    [("1-2", "1-2", False), ("2-3", "2-3", True), ("4-5", "4-5", True), ("1-2", "2-3", True), ("5-6", "5-6", False)],
)
def test_a_pair_sits_on_odd_and_even_of_one_block(send: str, returns: str, broken: bool) -> None:
    """Across pairs or across blocks it is broken, on either side."""
    loop = insert_loop("Main", f"aux out {send}", f"aux in {returns}", unit="laptop", card="1-2")
    assert ("loop-pair" in _codes(loop)) == broken


# One writer, one meaning


def test_a_return_has_one_writer() -> None:
    """Two loops on one return, two on one send, two on one channel of the card."""
    bass = insert_loop("Bass", "aux out 4", "aux in 4", unit="laptop", card="4")
    assert _codes(VOICE, bass) == []
    for clash in (
        replace(bass, returns=VOICE.returns),
        replace(bass, send=VOICE.send),
        replace(bass, unit_in=VOICE.unit_in),
        replace(bass, unit_out=VOICE.unit_out),
    ):
        assert "port-two-writers" in _codes(VOICE, clash)


@pytest.mark.parametrize("ports", ["aux in 3", "aux out 3", "card out 3", "card in 3"])
def test_a_kept_port_carries_no_loop(ports: str) -> None:
    """On whichever side of the loop it lies."""
    assert "port-two-writers" in _codes(VOICE, more=f"keep: [{{ports: {ports}, for: playback}}]")


def test_a_send_that_feeds_something_else_has_two_meanings() -> None:
    """An output of the show leaves by the port that would carry the send."""
    show = SHOW.replace("port: local out 5", "port: aux out 3")
    assert "port-two-writers" in _codes(VOICE, show=show)


# Rings and returns


def test_a_return_open_in_its_own_strip_is_a_ring() -> None:
    """Aux in 1 carries the main's return and feeds a strip of the main: it feeds back, and is heard twice."""
    show = SHOW.replace("mixes:", "  - {ch: 9, name: Open, port: aux in 1, to: [Main]}\nmixes:")
    codes = _codes(MAIN, show=show)
    assert "ring" in codes
    assert "return-heard-twice" in codes


def test_a_return_open_elsewhere_is_heard_twice_without_a_ring() -> None:
    """The voice's return also feeds a strip of its own."""
    show = SHOW.replace("mixes:", "  - {ch: 9, name: Open, port: aux in 3, to: [Main]}\nmixes:")
    codes = _codes(VOICE, show=show)
    assert "return-heard-twice" in codes
    assert "ring" not in codes


# Blocks of the card


def test_a_block_of_the_card_serves_recorder_or_loops() -> None:
    """One source a block: a track kept in the block of the sends is too much, one in the other block is not."""
    assert "card-block-full" in _codes(VOICE, more="keep: [{ports: card out 1, for: recorder}]")
    assert _codes(VOICE, more="keep: [{ports: card out 5-8, for: recorder}]") == []


# Bypass


def test_a_loop_needs_a_bypass_whose_presses_are_known() -> None:
    """Unknown presses for inserts concern inserts only."""
    desk = _without_presses()
    assert _codes(VOICE, desk=desk) == ["bypass-depends"]
    assert _codes(output_loop("PA", "local out 21-22", "local in 21-22"), desk=desk) == []


def _without_presses() -> Desk:
    unknown = DESK.bypass.presses.model_copy(update={"low": None, "high": None})
    return DESK.model_copy(update={"bypass": DESK.bypass.model_copy(update={"presses": unknown})})


# Protected paths


@pytest.mark.parametrize(
    "loop",
    [
        insert_loop("Click", "aux out 3", "aux in 3", unit="laptop", card="3"),
        insert_loop("Ears", "aux out 3", "aux in 3", unit="laptop", card="3"),
        replace(output_loop("Pack", "local out 21", "local in 21"), legs=1),
    ],
)
def test_a_protected_path_passes_no_loop(loop: PlacedLoop) -> None:
    """Neither on its strip, nor on its mix, nor behind its output."""
    assert "never-passes" in _codes(loop, more="never: [Click]")
    assert "never-passes" not in _codes(VOICE, more="never: [Click]")


def test_a_voice_alarm_has_a_code_of_its_own() -> None:
    """By its name, since no permission of ours makes it a loop."""
    show = SHOW.replace("name: Click", "name: Evac voice")
    loop = insert_loop("Ears", "aux out 3", "aux in 3", unit="laptop", card="3")
    assert "voice-alarm-loop" in _codes(loop, show=show, more="never: [Evac voice]")


# What pins break by themselves


def _pinned(*requests: str, more: str = "") -> list[str]:
    lines = "\n".join(f"  - {{{request}, chain: c, want: 5}}" for request in requests)
    own = show_from(f"{SHOW}\nchains: {{c: [{{eq: {{}}}}]}}\nrequests:\n{lines}\n{more}", DESK)
    return [finding.code for finding in check_requests(own, DESK)]


def test_good_pins_break_nothing() -> None:
    """A mono and a pair on ports of their own."""
    ports = "ports: {send: aux out 3, return: aux in 3}"
    assert _pinned(f"strip: Voice, {ports}", "strip: Main, ports: {send: aux out 1-2, return: aux in 1-2}") == []


@pytest.mark.parametrize(
    ("requests", "more", "code"),
    [
        (("strip: Main, ports: {send: aux out 2-3, return: aux in 2-3}",), "", "loop-pair"),
        (("strip: Main, ports: {send: aux out 1, return: aux in 1}",), "", "loop-width"),
        (
            (
                "strip: Voice, ports: {send: aux out 3, return: aux in 3}",
                "strip: Bass, ports: {send: aux out 4, return: aux in 3}",
            ),
            "",
            "port-two-writers",
        ),
        (
            ("strip: Voice, ports: {send: aux out 3, return: aux in 3}",),
            "keep: [{ports: aux in 3, for: playback}]",
            "port-two-writers",
        ),
    ],
)
def test_a_pin_that_breaks_a_rule_is_named_for_it(requests: tuple[str, ...], more: str, code: str) -> None:
    """So that its refusal says why: a pair across odd-even, half a pair, one return for two, a kept port."""
    assert set(_pinned(*requests, more=more)) == {code}


def test_a_pin_that_is_also_an_input_is_heard_twice() -> None:
    """The pinned return feeds a strip of the show."""
    show = SHOW.replace("mixes:", "  - {ch: 9, name: Open, port: aux in 3, to: [Main]}\nmixes:")
    own = show_from(
        f"{show}\nchains: {{c: [{{eq: {{}}}}]}}\n"
        "requests: [{strip: Voice, chain: c, want: 5, ports: {send: aux out 3, return: aux in 3}}]",
        DESK,
    )
    assert [finding.code for finding in check_requests(own, DESK)] == ["return-heard-twice"]
