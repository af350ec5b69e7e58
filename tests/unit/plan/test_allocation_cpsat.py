"""The allocation against a second exact solver on shows too large to try: every aim has the same value."""

from __future__ import annotations

import importlib.util

import pytest

import cpsat
from bruteforce_cases import desk_of, show_text
from bruteforce_draw import large, small
from bruteforce_held import broken, score_of
from bruteforce_rules import best
from sidetrip.errors import NoPlan
from sidetrip.plan.assign import allocate
from smallshows import show_from

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("ortools") is None,
    reason="the second solver is missing: install OR-Tools with pip install -e '.[dev]'",
)
FEW = (1, 2, 3, 6, 9)
MANY = 100


def _as_solved_twice(seed: int) -> None:
    own = large(seed)
    desk = desk_of(own)
    expected = cpsat.solve(own)
    try:
        found = allocate(show_from(show_text(own), desk), desk)
    except NoPlan:
        assert expected is None, seed
        return
    assert broken(own, found) == [], seed
    assert score_of(own, found) == expected, seed


@pytest.mark.parametrize("seed", FEW)
def test_a_second_solver_finds_the_same_value_for_every_aim(seed: int) -> None:
    """OR-Tools CP-SAT on 40 to 80 requests and 32 to 64 carriers, a boolean for each port: equal aims."""
    _as_solved_twice(seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", sorted(set(range(MANY)) - set(FEW)))
def test_a_second_solver_finds_the_same_on_many(seed: int) -> None:
    """The same on a hundred shows."""
    _as_solved_twice(seed)


def test_the_second_solver_agrees_with_trying_everything() -> None:
    """On small shows it finds what enumeration finds, so that it says the rules and not others."""
    for seed in range(55):
        own = small(seed)
        assert cpsat.solve(own) == best(own), seed


def test_the_large_shows_have_everything_in_them() -> None:
    """All four ways, pins, keys, ears, cues, siblings, keeps and nevers; 40 to 80 requests on 32 to 64 carriers."""
    shows = [large(seed) for seed in range(MANY)]
    assert {wish.way for own in shows for wish in own.wishes} == {"insert", "in-line", "send-and-strip", "output"}
    assert all(40 <= len(own.wishes) <= 80 and 32 <= own.carriers <= 64 for own in shows)
    assert max(len(own.wishes) for own in shows) >= 70
    assert {own.carriers for own in shows} == {32, 48, 64}
    assert sum(bool(own.cues) for own in shows) >= 40
    assert sum(bool(own.never) for own in shows) >= 15
    assert sum(bool(own.kept) for own in shows) >= 50
    assert sum(any(wish.pin for wish in own.wishes) for own in shows) >= 90
    assert sum(any(wish.one_press for wish in own.wishes) for own in shows) >= 90
    assert all(own.siblings and own.groups and own.ears and own.lines for own in shows)
