"""Two computers, and blocks that cost alike: one answer by rule, whatever the order of the file."""

import pytest

from sidetrip.model.desk import Desk
from sidetrip.plan.assign import allocate
from smallshows import plain_desk, show_from

TAB = """
  - {name: tab in, direction: in, count: 8, jacks: no}
  - {name: tab out, direction: out, count: 8, jacks: no}
"""
TWO = """
units:
  - {{name: {first}, kind: computer, connects: card, aligns: per chain, load_limit: 0.3}}
  - {{name: {second}, kind: computer, connects: tab, aligns: per chain, load_limit: 0.3}}
inputs:
  - {{ch: 1, name: A, port: stage 1, to: [Main]}}
  - {{ch: 2, name: B, port: stage 2, to: [Main]}}
  - {{ch: 3, name: C, port: stage 3-4, to: [Main]}}
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{{eq: {{load: 0.2}}}}]}}
requests: [{{strip: A, chain: c, want: 5}}, {{strip: B, chain: c, want: 5}}]
"""


def _two_desk() -> Desk:
    return plain_desk(
        carriers=2,
        blocks="  - {feeds: aux in 1-2, choices: [jacks]}",
        more_ports=TAB,
        more_carriers="  - {send: card out 1-8, return: card in 1-8}\n  - {send: tab out 1-8, return: tab in 1-8}",
        more_connections="  - {name: tab, out: tab out, back: tab in}",
    )


@pytest.mark.parametrize(("first", "second"), [("ape", "bee"), ("bee", "ape")])
def test_the_first_name_gets_the_first_unit(first: str, second: str) -> None:
    """Each computer has load for one: A on ape and B on bee, whichever card they sit on and stand in the file."""
    found = allocate(show_from(TWO.format(first=first, second=second), _two_desk()), _two_desk())
    assert {loop.strip: loop.unit for loop in found.loops} == {"A": "ape", "B": "bee"}


def test_blocks_that_cost_alike_are_chosen_alike() -> None:
    """Of three send blocks that would all do, the plan takes one by rule: the last, however the show is written."""
    blocks = """
  - {feeds: aux in 1-2, choices: [jacks, {from: card in 1-2, covers: aux in 1-2}]}
  - {feeds: card out 1-2, choices: [stage 1-2, aux out 1-2]}
  - {feeds: card out 3-4, choices: [stage 3-4, aux out 1-2]}
  - {feeds: card out 5-6, choices: [stage 5-6, aux out 1-2]}
"""
    desk = plain_desk(carriers=2, blocks=blocks)
    lines = TWO.format(first="ape", second="bee").splitlines()
    text = "\n".join(line for line in lines if "bee" not in line).replace(", {strip: B, chain: c, want: 5}", "")
    found = allocate(show_from(text, desk), desk)
    assert str(found.loops[0].unit_in) == "card out 5"


def test_a_card_channel_that_is_kept_breaks_the_pair_for_its_own_card_only() -> None:
    """Card in 1 is kept for playback: the pair goes to the other computer, whose channels are whole."""
    blocks = """
  - feeds: aux in 1-2
    choices: [jacks, {from: card in 1-2, covers: aux in 1-2}, {from: tab in 1-2, covers: aux in 1-2}]
  - {feeds: card out 1-2, choices: [stage 1-2, aux out 1-2]}
  - {feeds: tab out 1-2, choices: [stage 1-2, aux out 1-2]}
"""
    desk = plain_desk(
        carriers=2,
        blocks=blocks,
        more_ports=TAB,
        more_connections="  - {name: tab, out: tab out, back: tab in}",
    )
    text = TWO.format(first="ape", second="bee").replace(
        "{strip: A, chain: c, want: 5}", "{strip: C, chain: c, want: 6}"
    )
    found = allocate(show_from(text + "keep: [{ports: card in 1, for: playback}]", desk), desk)
    assert {loop.strip: (loop.unit, str(loop.unit_out)) for loop in found.loops} == {"C": ("bee", "tab in 1-2")}
