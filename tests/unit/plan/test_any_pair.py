"""Desks on which a stereo loop may sit on any two neighbouring ports: as many go out as fit, whatever is in the way."""

from __future__ import annotations

from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidetrip.model.desk import Desk
from sidetrip.plan.planner import Plan, make_plan
from smallshows import plain_desk, show_from

PORTS = 7
ANY = plain_desk(carriers=PORTS, tail="stereo: any pair")
ODD_EVEN = plain_desk(carriers=PORTS)

Asked = tuple[int, int | None]
"""How wide, and the port that it insists on, the left one of a pair."""


def _plan(asked: list[Asked], kept: set[int], desk: Desk = ANY) -> Plan:
    inputs, requests = [], []
    for number, (width, pin) in enumerate(asked):
        first = 2 * number + 1
        inputs.append(f"{{ch: {first}, name: S{number}, port: stage {_run(first, width)}, to: [Main]}}")
        ports = f", ports: {{send: aux out {_run(pin, width)}, return: aux in {_run(pin, width)}}}" if pin else ""
        requests.append(f"{{strip: S{number}, chain: c, want: {9 - number}{ports}}}")
    keep = [f"{{ports: aux out {port}, for: playback}}" for port in sorted(kept)]
    text = f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain}}]
inputs: [{", ".join(inputs)}]
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{{eq: {{}}}}]}}
keep: [{", ".join(keep)}]
requests: [{", ".join(requests)}]
"""
    return make_plan(show_from(text, desk), desk)


def _run(first: int, width: int) -> str:
    return str(first) if width == 1 else f"{first}-{first + 1}"


def _fits(asked: list[Asked], free: frozenset[int]) -> bool:
    """Try every place for every one of them."""
    choices = [
        [pin] if pin is not None else [port for port in range(1, PORTS + 1) if port + width - 1 <= PORTS]
        for width, pin in asked
    ]
    for places in product(*choices):
        taken = [port + leg for port, (width, _) in zip(places, asked, strict=True) for leg in range(width)]
        if len(set(taken)) == len(taken) and set(taken) <= free:
            return True
    return False


def _best(asked: list[Asked], free: frozenset[int]) -> set[int]:
    """Return who goes out: each in the order of wants, if it fits beside those before it."""
    out: list[int] = []
    for number in range(len(asked)):
        if _fits([asked[other] for other in (*out, number)], free):
            out.append(number)
    return set(out)


@st.composite
def _drawn(draw: st.DrawFn) -> tuple[list[Asked], set[int]]:
    kept = draw(st.sets(st.integers(1, PORTS), max_size=3))
    asked: list[Asked] = []
    for _ in range(draw(st.integers(1, 5))):
        width = draw(st.integers(1, 2))
        asked.append((width, draw(st.one_of(st.none(), st.none(), st.integers(1, PORTS + 1 - width)))))
    return asked, kept


@settings(max_examples=40, deadline=None)
@given(_drawn())
def test_who_goes_out_is_what_trying_every_place_finds(case: tuple[list[Asked], set[int]]) -> None:
    """Wants are all different, so trying strip after strip in their order gives the one answer."""
    asked, kept = case
    # the other carrier row of this desk leads to no computer, so these ports are all there is
    free = frozenset(range(1, PORTS + 1)) - kept
    plan = _plan(asked, kept)
    assert {int(loop.strip[1:]) for loop in plan.allocation.loops} == _best(asked, free)
    taken = [port for loop in plan.allocation.loops for port in loop.returns.each]
    assert len(set(taken)) == len(taken)
    assert not [finding for finding in plan.findings if finding.code == "loop-pair"]


def test_a_pair_may_begin_on_an_even_port() -> None:
    """Ports 2 to 5 hold two pairs; on a desk of odd-even pairs they hold one."""
    kept = {1, 6, 7}
    asked: list[Asked] = [(2, None), (2, None)]
    assert [str(loop.returns) for loop in _plan(asked, kept).allocation.loops] == ["aux in 2-3", "aux in 4-5"]
    assert [str(loop.returns) for loop in _plan(asked, kept, ODD_EVEN).allocation.loops] == ["aux in 3-4"]


@pytest.mark.parametrize("pin", [2, 4])
def test_a_pair_may_insist_on_an_even_port(pin: int) -> None:
    """On such a desk it is placed there; on one of odd-even pairs it is refused for that."""
    (loop,) = _plan([(2, pin)], set()).allocation.loops
    assert str(loop.returns) == f"aux in {pin}-{pin + 1}"
    assert not _plan([(2, pin)], set(), ODD_EVEN).allocation.loops


def test_a_pin_leaves_all_pairs_beside_it() -> None:
    """A mono pin on port 4 of 7 leaves three on each side: a pair and a single, twice, in any order of wants."""
    for order in combinations(range(4), 2):
        asked: list[Asked] = [(2, None) if number in order else (1, None) for number in range(4)]
        plan = _plan([(1, 4), *asked], set())
        assert len(plan.allocation.loops) == 5, order
