"""The seventeen rules that every plan is held against: for each a show that breaks it, and one that does not.

The rules are common practice in the trade, no source; the shows are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import pytest

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import parse_ports
from sidetrip.plan.invariants import check_plan
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show
from smallshows import fixed, insert_loop, mapped, output_loop, plain_desk, plan_from, show_from

BLOCKS = """
  - {feeds: aux in 1-4, choices: [jacks, {from: card in 1-2, covers: aux in 1-2}, card in 1-4]}
  - {feeds: aux in 5-8, choices: [jacks, card in 5-8]}
  - {feeds: card out 1-4, choices: [stage 1-4, aux out 1-4]}
  - {feeds: card out 5-8, choices: [stage 5-8, aux out 5-8]}
"""
DESK = plain_desk(blocks=BLOCKS)
SHOW = """
units:
  - {name: laptop, kind: computer, connects: card}
  - {name: box, kind: hardware, out: local out 21-22, back: local in 21-22, delay_ms: 0}
chains: {thin: [{eq: {}}], cap: [{limiter: {}}], notches: [{eq: {protects: feedback}}]}
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main]}
  - {ch: 2, name: Bass, port: stage 2, to: [Main]}
  - {ch: 3, name: Click, port: stage 3, to: [Ears]}
mixes:
  - {name: Ears, kind: aux, width: mono, for: drummer, listens: in-ear, device_ms: 1}
  - {name: Main, kind: main, width: stereo}
  - {name: Subs, kind: matrix, width: mono, from: {Main: {tap: after mute}}}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Low, from: Subs, port: local out 3, crossover_hz: 90}
  - {name: Pack, from: Ears, port: local out 5}
"""
VOICE = insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3")
MAIN = insert_loop("Main", "aux out 1-2", "aux in 1-2", unit="laptop", card="1-2")
EARS = insert_loop("Ears", "aux out 5", "aux in 5", unit="laptop", card="5")
OPEN = "  - {ch: 9, name: Open, port: aux in 1, to: [Main]}\nmixes:"

Case = Callable[[], Iterable[Finding]]


def _held(*loops: PlacedLoop, more: str = "", show: str = SHOW, desk: Desk = DESK) -> Case:
    """Hold loops placed by hand against the rules, as if somebody had planned them so."""

    def found() -> Iterable[Finding]:
        own = show_from(f"{show}\n{more}", desk)
        return check_plan(own, desk, loops, mapped(own, desk, loops, {"laptop": fixed(300), "box": fixed(0)})[0])

    return found


def _checked(show: str, desk: Desk = DESK) -> Case:
    """Check a show as it is read."""
    head = "sidetrip: 1\nshow: small\nsample_rate: 48000\ndesk: {type: small.yaml}\n"
    return lambda: check_show(read_show(head + show, "show.yaml").show, desk)


def _planned(show: str, more: str = "") -> Case:
    return lambda: plan_from(f"{show}\n{more}", plain_desk()).findings


def _without_presses() -> Desk:
    unknown = DESK.bypass.presses.model_copy(update={"low": None, "high": None})
    return DESK.model_copy(update={"bypass": DESK.bypass.model_copy(update={"presses": unknown})})


def _fader_first() -> Desk:
    first = DESK.strips[0].model_copy(
        update={"order": ("trim", "eq", "compressor", "delay", "fader", "insert", "mute")}
    )
    return DESK.model_copy(update={"strips": (first, *DESK.strips[1:])})


HEARD = "listeners: [{name: row F, hears: {PA: {m: 9, db: 0}, Low: {m: 9, db: 0}}}]"
LOOPED = "requests: [{strip: Main, chain: thin, want: 5, unit: laptop}]"
BOTH = SHOW.replace(
    "connects: card}",
    "connects: card, aligns: per chain, buffer: 64, measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}",
)
BOTH = f"{BOTH}{HEARD}\n"
TIMED = BOTH.replace("{tap: after mute}", "{tap: before insert}")
ACCEPTED = "accept: [{at: row F, loops: [Main], by: system engineer}]"
SCENES = "scenes: [{name: Act 1}, {name: Act 2, recalls: [inserts, sources], as_planned: %s}]"
LEFT = "clock: {leader: desk, devices: [{name: laptop, follows: desk}, {name: recorder, follows: laptop%s}]}"
ALARM = SHOW.replace("name: Click", "name: Evac voice")

RULES: dict[str, tuple[str, Case, Case]] = {
    "01 sends, returns and strip are equally wide": (
        "loop-width",
        _held(replace(VOICE, send=parse_ports("aux out 3-4"))),
        _held(VOICE, MAIN),
    ),
    "02 stereo sits on the pair that the desk demands": (
        "loop-pair",
        _held(insert_loop("Main", "aux out 2-3", "aux in 2-3", unit="laptop", card="2-3")),
        _held(insert_loop("Main", "aux out 3-4", "aux in 3-4", unit="laptop", card="3-4")),
    ),
    "03 one writer for an input, one meaning for a channel": (
        "port-two-writers",
        _held(VOICE, more="keep: [{ports: card in 3, for: playback}]"),
        _held(VOICE, more="keep: [{ports: card in 7, for: playback}]"),
    ),
    "04 no strip fed by a return reaches the send of its loop": (
        "ring",
        _held(MAIN, show=SHOW.replace("mixes:", OPEN)),
        _held(MAIN, show=SHOW.replace("mixes:", OPEN.replace("aux in 1", "local in 1"))),
    ),
    "05 no return is heard through its insert and its own strip": (
        "return-heard-twice",
        _held(VOICE, show=SHOW.replace("mixes:", OPEN.replace("aux in 1", "aux in 3"))),
        _held(VOICE, show=SHOW.replace("mixes:", OPEN.replace("aux in 1", "aux in 7"))),
    ),
    "06 jacks made deaf carry nothing of the show": (
        "jack-deaf",
        _held(VOICE, show=SHOW.replace("mixes:", OPEN.replace("aux in 1", "aux in 4"))),
        _held(MAIN, show=SHOW.replace("mixes:", OPEN.replace("aux in 1", "aux in 4"))),
    ),
    "07 jacks that repeat a send have nothing in them, or it is listed": (
        "mirror-plugged",
        _held(VOICE, more="plugged: [{port: aux out 3, what: lobby feed}]"),
        _held(VOICE, more="plugged: [{port: aux out 3, what: lobby feed, carries_sends: yes}]"),
    ),
    "08 one clock leads": (
        "clock-leaders",
        _held(MAIN, more=LEFT.replace("follows: laptop", "follows: itself") % ""),
        _held(MAIN, more=LEFT.replace("follows: laptop", "follows: itself") % ", converter: in its own input"),
    ),
    "08 every device runs at the rate of the show": (
        "clock-rate",
        _held(MAIN, more=LEFT % ", rate: 44100"),
        _held(MAIN, more=LEFT % ", rate: 48000"),
    ),
    "09 inserts behind the fader are flagged": (
        "insert-after-fader",
        _held(VOICE, desk=_fader_first()),
        _held(VOICE),
    ),
    "10 a zone takes one side of each loop, or somebody accepts it": (
        "heard-twice",
        _planned(TIMED, LOOPED),
        _planned(TIMED, f"{LOOPED}\n{ACCEPTED}"),
    ),
    "10 a zone that takes one side of each loop": (
        "heard-twice",
        _planned(TIMED, LOOPED),
        _planned(BOTH, LOOPED),
    ),
    "11 scenes leave inserts and sources alone, or store them as planned": (
        "scene-recalls",
        _held(MAIN, more=SCENES % "no"),
        _held(MAIN, more=SCENES % "yes"),
    ),
    "12 recorder, loops and playback fit into each card block": (
        "card-block-full",
        _held(VOICE, more="keep: [{ports: card out 1, for: recorder}]"),
        _held(VOICE, more="keep: [{ports: card out 5-8, for: recorder}]"),
    ),
    "13 a computer's alerts do not sound on the card": (
        "system-sound",
        _held(MAIN, show=SHOW.replace("connects: card}", "connects: card, system_sound: card}")),
        _held(MAIN, show=SHOW.replace("connects: card}", "connects: card, system_sound: elsewhere}")),
    ),
    "14 a bypass does not hang on the unit, and its presses are known": (
        "bypass-depends",
        _held(VOICE, desk=_without_presses()),
        _held(VOICE),
    ),
    "15 nothing that keeps from feedback lives in a loop alone": (
        "safety-in-loop",
        _held(replace(MAIN, chain="notches"), more="requests: [{strip: Main, chain: notches, want: 5}]"),
        _held(
            replace(MAIN, chain="notches"),
            more="requests: [{strip: Main, chain: notches, want: 5, substitute: notches on the desk}]",
        ),
    ),
    "15 nothing that spares ears lives in a loop alone": (
        "safety-in-loop",
        _held(replace(EARS, chain="cap")),
        _held(replace(MAIN, chain="cap")),
    ),
    "16 each name is unique": (
        "name-twice",
        _checked(SHOW.replace("name: Bass", "name: Voice")),
        _checked(SHOW),
    ),
    "16 each name fits the strip": (
        "name-long",
        _checked(SHOW.replace("name: Bass", "name: Bass of the second balcony")),
        _checked(SHOW.replace("name: Bass", "name: Bass of the balcony")),
    ),
    "17 a voice alarm never passes a loop": (
        "voice-alarm-loop",
        _held(EARS, show=ALARM, more="never: [Evac voice]"),
        _held(VOICE, show=ALARM, more="never: [Evac voice]"),
    ),
}


def test_there_are_seventeen_rules() -> None:
    """Each number from 1 to 17 has its shows; some have two."""
    assert {int(rule[:2]) for rule in RULES} == set(range(1, 18))


@pytest.mark.parametrize("rule", RULES)
def test_a_show_that_breaks_a_rule_is_found(rule: str) -> None:
    """With a place, what was found, and what to do next."""
    code, breaks, _ = RULES[rule]
    found = [finding for finding in breaks() if finding.code == code]
    assert found
    assert all(finding.where and finding.what and finding.remedy for finding in found)


@pytest.mark.parametrize("rule", RULES)
def test_a_show_that_keeps_a_rule_is_let_pass(rule: str) -> None:
    """The same show with the one thing put right."""
    code, _, keeps = RULES[rule]
    assert [str(finding) for finding in keeps() if finding.code == code] == []


# What the rules look at


@pytest.mark.parametrize(
    ("devices", "code"),
    [
        ("{name: a, follows: b}, {name: b, follows: a}", "clock-leaders"),
        ("{name: a, follows: b}, {name: b, follows: itself}", "clock-leaders"),
        ("{name: a, follows: a}", "clock-leaders"),
        ("{name: a, follows: b}, {name: b, follows: desk}", None),
        ("{name: desk, follows: itself}", None),
        ("{name: a, follows: desk, rate: 96000}", "clock-rate"),
        ("{name: a, follows: desk, rate: 96000, converter: card}", None),
    ],
)
def test_who_follows_whom_ends_at_the_leader(devices: str, code: str | None) -> None:
    """Through others is fine; in a circle, or by itself, is another clock; a named converter makes either right."""
    found = _held(MAIN, more=f"clock: {{leader: desk, devices: [{devices}]}}")()
    assert {finding.code for finding in found} == ({code} if code else set())


def test_the_fewest_jacks_that_serve_the_loops_go_deaf() -> None:
    """Main on 1-2 needs two jacks of four, main and voice need four; a box at its own jack stays there."""
    playback = SHOW.replace("mixes:", "  - {ch: 9, name: Music, port: aux in 4, to: [Main]}\nmixes:")
    assert not list(_held(MAIN, show=playback)())
    (finding,) = _held(MAIN, VOICE, show=playback)()
    assert (finding.code, finding.where) == ("jack-deaf", "loop Main")
    assert "aux in 1-4 take card in 1-4 for loop Main, Voice; aux in 4 is Music" in finding.values


def test_a_kept_jack_goes_deaf_too() -> None:
    """Ports that must stay as they are, beside those that the loop itself takes."""
    assert "jack-deaf" in [f.code for f in _held(VOICE, more="keep: [{ports: aux in 4, for: playback}]")()]


def test_one_block_cannot_serve_two_loops_that_ask_it_for_two_sources() -> None:
    """A loop that comes back on another channel of the card than its port stands for."""
    crossed = replace(VOICE, unit_out=parse_ports("card in 7"))
    assert "block-conflict" in [finding.code for finding in _held(MAIN, crossed)()]
    assert "block-conflict" not in [finding.code for finding in _held(MAIN, VOICE)()]


def test_jacks_that_repeat_others_carry_their_sends() -> None:
    """Jacks of another name repeat aux out 1-8: the third would carry the voice's send, the fourth does not."""
    mirror = "  - {name: rear out, direction: out, count: 8, jacks: yes, mirrors: aux out 1-8}"
    desk = plain_desk(blocks=BLOCKS, more_ports=mirror)
    there, elsewhere = (SHOW.replace("port: local out 5", f"port: rear out {n}") for n in (3, 4))
    assert [f.code for f in _held(VOICE, show=there, desk=desk)()] == ["mirror-plugged"]
    assert not list(_held(VOICE, show=elsewhere, desk=desk)())


def test_hardware_at_its_jacks_mirrors_nothing() -> None:
    """There the jack is where the unit itself is plugged in."""
    loop = insert_loop("Voice", "local out 21", "local in 21")
    assert not list(_held(loop, more="plugged: [{port: aux out 3, what: lobby feed}]")())


def test_an_accepted_meeting_is_a_note_with_a_name() -> None:
    """Who accepts it is said; another place, or another loop, is not covered."""
    found = list(_planned(TIMED, f"{LOOPED}\n{ACCEPTED}")())
    (note,) = (finding for finding in found if finding.code == "accepted")
    assert note.values == "accepted by system engineer"
    for other in (ACCEPTED.replace("row F", "PA"), ACCEPTED.replace("[Main]", "[Voice]")):
        codes = [finding.code for finding in _planned(TIMED, f"{LOOPED}\n{other}")()]
        assert "heard-twice" in codes and "accepted" not in codes


def test_without_loops_no_scene_changes_any() -> None:
    """A scene may recall what it likes where nothing goes out."""
    assert not list(_held(more=SCENES % "no")())


def test_a_computer_that_carries_nothing_may_sound_where_it_likes() -> None:
    """Its loops are what an alert would come through."""
    show = SHOW.replace("connects: card}", "connects: card, system_sound: card}")
    assert not list(_held(insert_loop("Voice", "local out 21", "local in 21"), show=show)())


def test_a_limiter_behind_the_output_of_an_ear_mix_spares_ears_too() -> None:
    """The way output counts like the mix that feeds it."""
    loop = replace(output_loop("Pack", "local out 21", "local in 21"), chain="cap")
    assert "safety-in-loop" in [finding.code for finding in _held(loop)()]


def test_a_desk_of_any_pair_lets_stereo_begin_on_an_even_port() -> None:
    """On 2-3 there, never on ports that are no neighbours, nor across blocks of more than one."""
    text = "stereo: any pair"
    blocks = (
        "\n  - {feeds: aux in 1-8, each: 1, choices: [card in 1-8]}\n  - {feeds: card out 1-8, choices: [aux out 1-8]}"
    )
    loop = insert_loop("Main", "aux out 2-3", "aux in 2-3", unit="laptop", card="2-3")
    assert not list(_held(loop, desk=plain_desk(blocks=blocks, tail=text))())
    assert "loop-pair" in [f.code for f in _held(loop, desk=plain_desk(blocks=blocks))()]
    across = insert_loop("Main", "aux out 4-5", "aux in 4-5", unit="laptop", card="4-5")
    assert "loop-pair" in [f.code for f in _held(across, desk=plain_desk(blocks=BLOCKS, tail=text))()]
