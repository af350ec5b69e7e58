"""The recovery card: the order of presses, what keys there are, who falls silent, and what is unknown."""

import random
from dataclasses import replace
from itertools import permutations

import pytest

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.recovery import Recovery, recovery
from smallshows import fixed, insert_loop, mapped, output_loop, plain_desk, show_from

DESK = plain_desk()
SHOW = """
units:
  - {name: laptop, kind: computer, connects: card}
  - {name: valve, kind: hardware, out: local out 21, back: local in 21, unpowered: passes}
  - {name: gate, kind: hardware, out: local out 22, back: local in 22, unpowered: silent}
  - {name: echo, kind: hardware, out: local out 23-24, back: local in 23-24}
inputs:
  - {ch: 1, name: A, port: stage 1, to: [Main]}
  - {ch: 2, name: B, port: stage 2, to: [Main]}
  - {ch: 3, name: C, port: stage 3, to: [Main]}
  - {ch: 4, name: D, port: stage 4, to: [Main]}
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}, {name: Side, from: Main, port: local out 3-4}]
chains: {c: [{eq: {}}]}
requests:
  - {strip: A, chain: c, want: 3}
  - {strip: B, chain: c, want: 9}
  - {strip: C, chain: c, want: must}
  - {strip: D, chain: c, want: 3}
  - {strip: PA, way: output, unit: echo, want: 8}
bypass_groups: {voices: [A, B], nobody: [D]}
"""
TRIPS = {"laptop": fixed(300), "valve": fixed(0), "gate": fixed(0), "echo": fixed(48)}
A, B, C, D = (
    insert_loop(name, f"aux out {n}", f"aux in {n}", unit="laptop", card=str(n)) for n, name in enumerate("ABCD", 1)
)
PA = output_loop("PA", "local out 23-24", "local in 23-24", unit="echo")


def _recovery(*loops: PlacedLoop, desk: Desk = DESK, show: str = SHOW) -> Recovery:
    own = show_from(show, desk)
    line_map, _ = mapped(own, desk, loops, TRIPS)
    return recovery(own, desk, loops, line_map)


def test_the_must_comes_first_then_high_wants_then_names() -> None:
    """All keys take the same time here: must C, want 9 B, then A and D of want 3 by name."""
    found = _recovery(D, C, B, A)
    assert [press.strip for press in found.presses] == ["C", "B", "A", "D"]
    assert [press.order for press in found.presses] == [1, 2, 3, 4]
    assert found.seconds_by_hand == 12


def test_a_slow_key_waits_for_quick_ones() -> None:
    """An output of want 8 takes 12 s by the routing page, 0.67 a second; an insert of want 3 takes 3 s, 1 a second."""
    found = _recovery(PA, A)
    assert [(press.strip, press.seconds, press.presses) for press in found.presses] == [("A", 3, 2), ("PA", 12, 4)]
    assert found.presses[1].key == "routing"
    assert found.seconds_by_hand == 15


def test_no_other_order_leaves_less_silence_on_weight() -> None:
    """Sum of weight times the time until each is OUT, over all orders of five loops and twenty drawn sets of figures.

    W. E. Smith, "Various optimizers for single-stage production", Naval Research Logistics Quarterly 3, 1956.
    """
    for seed in range(20):
        draw = random.Random(seed)
        desk = plain_desk(bypass_seconds=str(draw.randint(1, 9)), output_seconds=str(draw.randint(1, 20)))
        show = SHOW
        for word in ("want: 3", "want: 9", "want: 8"):
            show = show.replace(word, f"want: {draw.randint(1, 9)}")
        found = _recovery(A, B, C, D, PA, desk=desk, show=show)
        weights = _weights(show_from(show, desk))
        jobs = [(weights[press.strip], press.seconds or 0.0) for press in found.presses]
        assert _cost(jobs) == pytest.approx(min(_cost(list(order)) for order in permutations(jobs)))


def _weights(show: Show) -> dict[str, float]:
    return {request.strip: 20.0 if request.want == "must" else float(request.want) for request in show.requests}


def _cost(jobs: list[tuple[float, float]]) -> float:
    clock = cost = 0.0
    for weight, seconds in jobs:
        clock += seconds
        cost += weight * clock
    return cost


def test_a_press_that_takes_no_time_comes_first() -> None:
    """Nothing is lost by it, whatever its want."""
    desk = plain_desk(bypass_seconds="0", output_seconds="12")
    assert [press.strip for press in _recovery(PA, A, desk=desk).presses] == ["A", "PA"]


def test_seconds_that_nobody_knows_make_no_total() -> None:
    """The order is still by want, but there is no sum."""
    found = _recovery(A, B, desk=plain_desk(bypass_seconds="unknown"))
    assert [press.strip for press in found.presses] == ["B", "A"]
    assert found.seconds_by_hand is None
    assert found.presses[0].seconds is None


def test_each_press_says_how_much_earlier_its_strip_gets() -> None:
    """300 + 16 frames through the laptop, 48 + 26 behind the output."""
    delays = {press.strip: press.delay.low * 48000 for press in _recovery(A, PA).presses}
    assert delays == {"A": pytest.approx(316), "PA": pytest.approx(74)}


def test_without_loops_there_is_nothing_to_press() -> None:
    """No press, no key, nobody silent, no time."""
    found = _recovery()
    assert (found.presses, found.keys, found.failures, found.seconds_by_hand) == ((), (), (), 0)


# Keys


def test_the_last_key_takes_all_out_and_those_before_it_the_groups() -> None:
    """Eight keys: 8 for all inserts, 7 for the group whose members have loops; a group without loops gets none."""
    found = _recovery(A, B, C)
    assert [(key.number, key.label, key.strips) for key in found.keys] == [
        (8, "ALL LOOPS OUT", ("C", "B", "A")),
        (7, "VOICES OUT", ("B", "A")),
    ]


def test_a_key_for_all_says_so_only_if_it_takes_all() -> None:
    """A loop behind an output stays IN when the inserts are taken OUT, and the label does not claim otherwise."""
    (key, *_) = _recovery(A, PA).keys
    assert (key.label, key.strips) == ("ALL INSERTS OUT", ("A",))
    assert _recovery(PA).keys == ()


@pytest.mark.parametrize(
    ("keys", "takes", "labels", "sure"),
    [
        (0, '"yes"', [], []),
        (8, '"no"', [], []),
        (1, '"yes"', ["ALL LOOPS OUT"], [False]),
        (8, "unknown", ["ALL LOOPS OUT", "VOICES OUT"], [False, False]),
        (8, '{is: "yes", standing: proven}', ["ALL LOOPS OUT", "VOICES OUT"], [True, True]),
    ],
)
def test_keys_are_as_many_and_as_sure_as_the_desk_says(
    keys: int, takes: str, labels: list[str], sure: list[bool]
) -> None:
    """None where the desk has none or they cannot take inserts; sure only where that is proven."""
    found = _recovery(A, B, desk=plain_desk(group_keys=keys, takes_inserts=takes))
    assert [key.label for key in found.keys] == labels
    assert [key.sure for key in found.keys] == sure


# Failures


@pytest.mark.parametrize(
    ("unit", "port", "silent", "passing", "unsure"),
    [("valve", 21, (), ("A",), ()), ("gate", 22, ("A",), (), ()), ("echo", 23, (), (), ("A",))],
)
def test_a_box_without_power_passes_or_falls_silent_as_it_says(
    unit: str, port: int, silent: tuple[str, ...], passing: tuple[str, ...], unsure: tuple[str, ...]
) -> None:
    """What is not said is unsure, never fine."""
    (failure,) = _recovery(insert_loop("A", f"local out {port}", f"local in {port}", unit=unit)).failures
    assert (failure.silent, failure.passing, failure.unsure) == (silent, passing, unsure)


def test_a_dead_computer_silences_all_its_strips_and_no_other() -> None:
    """Units in order of name, each with its own strips."""
    valve = insert_loop("D", "local out 21", "local in 21", unit="valve")
    failures = _recovery(B, A, valve).failures
    assert [(own.unit, own.silent, own.passing) for own in failures] == [
        ("laptop", ("A", "B"), ()),
        ("valve", (), ("D",)),
    ]


def test_a_loop_that_nobody_asked_for_weighs_as_much_as_a_must() -> None:
    """A loop placed by hand on a strip without a request is not put off."""
    stray = replace(A, name="Main", strip="Main")
    assert [press.strip for press in _recovery(B, stray).presses] == ["Main", "B"]
