"""The allocation with all its rules against trying everything: drawn shows, each solved by enumeration too."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterable
from functools import cache

import pytest
from ruamel.yaml import YAML

from bruteforce_cases import Case, desk_of, show_text
from bruteforce_draw import FLAVOURS, small
from bruteforce_held import broken, score_of
from bruteforce_rules import RULES, best, deciding_aims, relaxed
from drawnshows import show_of, shuffled
from sidetrip.errors import NoPlan
from sidetrip.model.desk import Desk
from sidetrip.plan.assign import Allocation, allocate
from smallshows import plain_desk, show_from

MANY = 2000
RARE = {
    "one meaning": (176, 220),
    "siblings": (104, 148, 228),
    "ears, added": (249, 324),
    "an output that goes out": (160, 179, 186),
}
"""Seeds among the many on which rules decide that decide seldom, so that the few hold them too."""
FEW = tuple(sorted({*range(88), *(seed for seeds in RARE.values() for seed in seeds)}))
FEWEST = {
    "ports lost": 40,
    "keep": 20,
    "nested blocks": 20,
    "cues": 10,
    "one press": 6,
    "never": 5,
    "musts in conflict": 4,
    "load": 4,
    "hardware": 4,
    "pairs": 4,
    "ears, added": 3,
    "one meaning": 3,
    "pins": 3,
    "siblings": 3,
    "ears, total": 2,
    "places": 1,
}
"""In how many of the few each rule decides, at least."""
FEWEST_OF_MANY = {
    "ports lost": 200,
    "keep": 110,
    "nested blocks": 110,
    "cues": 60,
    "one press": 40,
    "musts in conflict": 35,
    "never": 30,
    "load": 18,
    "pins": 15,
    "hardware": 14,
    "siblings": 9,
    "ears, total": 9,
    "ears, added": 8,
    "pairs": 8,
    "one meaning": 4,
    "places": 1,
}
"""In how many of each five hundred of the many it does."""
CHUNK = 11


@cache
def _answer(seed: int) -> Allocation | None:
    own = small(seed)
    desk = desk_of(own)
    try:
        return allocate(show_from(show_text(own), desk), desk)
    except NoPlan:
        return None


def _as_tried(seed: int) -> None:
    own, found = small(seed), _answer(seed)
    expected = best(own)
    if found is None:
        assert expected is None, seed
        return
    assert broken(own, found) == [], seed
    assert score_of(own, found) == expected, seed
    served = {(loop.strip, loop.way) for loop in found.loops if not loop.blank}
    refused = {(refusal.strip, refusal.way) for refusal in found.refusals}
    assert served | refused == {(wish.strip, wish.way) for wish in own.wishes}, seed


@pytest.mark.parametrize("first", range(0, len(FEW), CHUNK))
def test_no_other_way_is_better_and_no_rule_is_broken(first: int) -> None:
    """Wants from 9 down to 1, siblings, places and ports lost are the best that trying everything finds."""
    for seed in FEW[first : first + CHUNK]:
        _as_tried(seed)


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, MANY, 100))
def test_no_other_way_is_better_on_many(first: int) -> None:
    """The same on two thousand shows."""
    for seed in range(first, first + 100):
        _as_tried(seed)


# That every rule occurs, and decides


def _deciding(seeds: Iterable[int]) -> Counter[str]:
    """Count the shows in which each rule decides: without it, or among answers else equal, another score is best."""
    count: Counter[str] = Counter()
    for seed in seeds:
        own = small(seed)
        here = best(own)
        count["musts in conflict"] += here is None
        count.update(deciding_aims(own))
        for rule in RULES:
            other, without = relaxed(own, rule)
            if (other != own or without) and best(other, without) != here:
                count[rule] += 1
    return count


def test_every_rule_decides_in_some_of_the_few() -> None:
    """Keeps, nevers, pins, blocks, pairs, load, hardware, keys, ears, cues, siblings and places are no decoration."""
    count = _deciding(FEW)
    assert {rule: count[rule] for rule in FEWEST if count[rule] < FEWEST[rule]} == {}, count


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, MANY, 500))
def test_every_rule_decides_in_many_of_the_many(first: int) -> None:
    """The same in each five hundred of the two thousand."""
    count = _deciding(range(first, first + 500))
    assert {rule: count[rule] for rule in FEWEST_OF_MANY if count[rule] < FEWEST_OF_MANY[rule]} == {}, count


def test_every_way_and_every_kind_of_answer_occurs() -> None:
    """Among the few are loops by all four ways, blank loops, followers on a port, refusals and conflicts of musts."""
    found = [answer for seed in FEW if (answer := _answer(seed)) is not None]
    ways = Counter(loop.way for answer in found for loop in answer.loops)
    assert {way for way, count in ways.items() if count >= 5} == {"insert", "in-line", "send-and-strip", "output"}, ways
    assert sum(loop.blank for answer in found for loop in answer.loops) >= 5
    assert sum(loop.from_cue is not None for answer in found for loop in answer.loops) >= 3
    assert sum(bool(answer.refusals) for answer in found) >= 40
    assert len(FEW) - len(found) >= 5
    assert {FLAVOURS[seed % len(FLAVOURS)] for seed in FEW} == set(FLAVOURS)


# One answer


def _shuffled(own: Case, order: int) -> tuple[dict[str, object], Desk]:
    head = {"sidetrip": 1, "show": "drawn", "sample_rate": 48_000, "desk": {"type": "small.yaml"}}
    data = head | YAML(typ="safe", pure=True).load(show_text(own))
    return (shuffled(data, random.Random(order)) if order else data), desk_of(own)


def _in_words(answer: Allocation) -> tuple[object, ...]:
    said = [str(finding) for finding in answer.findings]
    return answer.loops, answer.refusals, answer.settings, answer.spare, answer.take_overs, said


def _any_order_gives_one_answer(seed: int) -> None:
    own = small(seed)
    one = _answer(seed)
    for order in (1, 2):
        data, desk = _shuffled(own, order)
        try:
            other = allocate(show_of(json.loads(json.dumps(data)), desk), desk)
        except NoPlan:
            assert one is None, seed
            continue
        assert one is not None, seed
        assert _in_words(other) == _in_words(one), seed


@pytest.mark.parametrize("first", range(0, len(FEW), CHUNK))
def test_the_order_of_the_file_changes_nothing(first: int) -> None:
    """Cues, siblings, bypass groups, sends and all else in other orders: the same loops, reasons and findings."""
    for seed in FEW[first : first + CHUNK]:
        _any_order_gives_one_answer(seed)


def test_two_requests_that_would_come_to_be_one_are_tried_in_the_order_of_their_names() -> None:
    """A drawn show in which the number of changes that were tried hung on the order of the file."""
    _any_order_gives_one_answer(1660)


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, MANY, 250))
def test_the_order_of_the_file_changes_nothing_on_many(first: int) -> None:
    """The same on every fifth of two thousand shows."""
    for seed in range(first, first + 250, 5):
        _any_order_gives_one_answer(seed)


# Shows that were answered wrongly once


SHOW = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}
inputs:
  - {ch: 1, name: Alto, port: stage 1, to: [Main]%(alto)s}
  - {ch: 2, name: Bass, port: stage 2, to: [Main]%(bass)s}
  - {ch: 3, name: Cello, port: stage 3, to: [Main]}
%(back)s
mixes:
  - {name: Send, kind: aux, width: mono, from: {Alto: {db: 0}}}
  - {name: Ears, kind: aux, width: mono, for: singer, device_ms: 1, from: {Bass: {db: 0, tap: before insert}}}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: PA, from: Main, port: local out 1-2}%(output)s]
chains: {c: [{eq: {}}]}
requests: [%(requests)s]
%(more)s
"""
OUT = ", {name: Send out, from: Send, port: aux out 1}"
SENT = "{strip: Send, chain: c, want: 5, way: send-and-strip, back_on: Back%s}"
LINES = plain_desk(
    carriers=4,
    blocks="""
  - {feeds: aux in 1-4, choices: [jacks, card in 1-4]}
  - {feeds: card out 1-4, choices: [stage 1-4, aux out 1-4]}
  - {feeds: channel 1-2, choices: [stage 1-2, card in 5-6]}
""",
    hops="""
  - {from: stage, to: [channel, card out], frames: 4}
  - {from: [card in, aux in], to: channel, frames: 4}
  - {from: [channel, main, aux], to: [main, aux, local out, aux out], frames: 0}
  - {from: aux out, to: card out, frames: 1}
  - {from: card in, to: aux in, frames: 1}
""",
)
IN_LINE = "{strip: Alto, chain: c, want: 5, way: in-line}"


def _found(requests: str, desk: Desk, **more: str) -> Allocation:
    back = "  - {ch: 9, name: Back, port: aux in 1, to: [Main]}" if "back_on" in requests else ""
    words = {"alto": "", "bass": "", "output": "", "more": "", "back": back} | more
    return allocate(show_from(SHOW % {"requests": requests, **words}, desk), desk)


def _names(found: Allocation) -> set[str]:
    return {loop.name for loop in found.loops}


def test_a_sibling_that_nothing_can_serve_stays_in_too() -> None:
    """One port, two equal wants: Alto would be torn from Bass, which has no bypass in one press; Cello goes."""
    asked = "{strip: Alto, chain: c, want: 5}, {strip: Bass, chain: c, want: 5, one_press: yes}"
    asked += ", {strip: Cello, chain: c, want: 5}"
    desk = plain_desk(carriers=1, group_keys=0)
    assert _names(_found(asked, desk)) == {"Alto"}
    found = _found(asked, desk, more="siblings: {pair: [Alto, Bass]}")
    assert _names(found) == {"Cello"}
    assert "tie" not in {finding.code for finding in found.findings}, "siblings decided, not the name"


def test_what_siblings_decided_is_no_tie() -> None:
    """Two ports, three equal wants: the siblings go, and nobody says that the alphabet decided."""
    asked = ", ".join(f"{{strip: {name}, chain: c, want: 5}}" for name in ("Alto", "Bass", "Cello"))
    desk = plain_desk(carriers=2)
    found = _found(asked, desk, more="siblings: {pair: [Bass, Cello]}")
    assert _names(found) == {"Bass", "Cello"}
    assert "tie" not in {finding.code for finding in found.findings}
    assert "tie" in {finding.code for finding in _found(asked, desk).findings}


def test_a_send_is_out_in_one_press() -> None:
    """The mute of its return strip is one press, whatever the insert key takes."""
    assert _names(_found(SENT % ", one_press: yes", plain_desk(carriers=4), output=OUT)) == {"Send"}


def test_two_loops_never_leave_by_one_port() -> None:
    """A send that is pinned to a port of the carriers: no insert goes out there beside it, pinned or not."""
    pinned = SENT % ", ports: {send: aux out 2, return: aux in 1}"
    for own in ("", ", ports: {send: aux out 2, return: aux in 2}"):
        asked = f"{pinned}, {{strip: Bass, chain: c, want: 4{own}}}"
        found = _found(asked, plain_desk(carriers=2))
        assert _names(found) == {"Send"}
    assert _names(_found(f"{pinned}, {{strip: Bass, chain: c, want: 4}}", plain_desk(carriers=3))) == {"Send", "Bass"}


@pytest.mark.parametrize("run", ["aux in 1", "aux in 1-2"])
def test_a_kept_port_is_kept_from_sends_that_come_back_too(run: str) -> None:
    """The strip of a send on a kept port: its block stays, whether the keep is as long as the strip or longer."""
    found = _found(SENT % "", plain_desk(carriers=4), output=OUT, more=f"keep: [{{ports: {run}, for: house}}]")
    assert (found.loops, found.settings) == ((), ())
    assert "aux in 1, must stay for house" in found.refusals[0].reason


def test_nobody_goes_along_in_line_who_hears_what_must_not_pass_a_loop() -> None:
    """The bass microphone hears the alarm: as a blank loop it would pass the unit too."""
    alarm = ", hears: {alarm: {m: 1}}"
    assert _names(_found(IN_LINE, LINES, bass=alarm)) == {"Alto", "Bass"}
    found = _found(IN_LINE, LINES, bass=alarm, more="never: [alarm]")
    assert found.loops == ()
    assert "Bass would go along, and hears alarm, which must never pass a loop" in found.refusals[0].reason


def test_ears_that_a_blank_loop_would_make_late_keep_the_block_in() -> None:
    """Bass goes along with Alto, 335 frames (6.98 ms) late before any tap: 6 ms are allowed, then 7."""
    singer = ", hears: {singer: {m: 0}}"
    found = _found(IN_LINE, LINES, bass=singer, more="limits: {ear_added_ms: 6}")
    assert found.loops == ()
    words = "Bass would go along with it, 6.98 ms later for singer in Ears"
    assert found.refusals[0].reason == f"{words}, and the show's limit of 6 ms added leaves no room for that"
    assert _names(_found(IN_LINE, LINES, bass=singer, more="limits: {ear_added_ms: 7}")) == {"Alto", "Bass"}


def test_a_send_that_another_rule_keeps_in_is_refused_without_a_crash() -> None:
    """A protected path passes the send, and freed ports are tried for it."""
    more = "never: [Alto]\nkeep: [{ports: aux in 3, for: house}, {ports: card in 1, for: house}]"
    asked = f"{SENT % ''}, {{strip: Cello, chain: c, want: 5}}"
    found = _found(asked, plain_desk(carriers=4), output=OUT, more=more)
    assert {refusal.strip: refusal.reason for refusal in found.refusals}["Send"] == (
        "Alto passes it, and must never pass a loop"
    )
