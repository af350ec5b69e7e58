"""Refusals against trying everything: each change made to a drawn show, alone and in pairs, and enumerated."""

import re
from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest

from bruteforce import ROOM, Case, best, case, desk_of, show_text
from sidetrip.errors import NoPlan
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.plan.reasons import Refusal
from smallshows import show_from

SEEDS = 180
CHUNK = 12
chunks = pytest.mark.parametrize(
    "first",
    [pytest.param(first, marks=[pytest.mark.long] if first >= CHUNK else []) for first in range(0, SEEDS, CHUNK)],
)

OPEN, UNIT, KEEP, MONO, STAY = 0, 2, 5, 6, 7
"""How changes rank by what they cost, as the reference says; taps, ways and moves are missing in these shows."""

Change = tuple[str, tuple[int, int]]
"""A change in the planner's words, and what it costs: rank, and how much of it."""


def _allocate(own: Case) -> Allocation | None:
    desk = desk_of(own)
    try:
        return allocate(show_from(show_text(own), desk), desk)
    except NoPlan:
        return None


@cache
def _drawn(seed: int) -> tuple[Case, Allocation | None]:
    own = case(seed)
    return own, _allocate(own)


def _refusals(first: int) -> list[tuple[Case, set[str], Refusal]]:
    """Return the refusals of some drawn shows, with who goes out in each."""
    found = []
    for seed in range(first, first + CHUNK):
        own, allocation = _drawn(seed)
        if allocation is not None:
            beside = {loop.strip for loop in allocation.loops}
            found += [(own, beside, refusal) for refusal in allocation.refusals]
    return found


def _singles(own: Case, beside: set[str], name: str) -> list[Change]:
    """Return every single change that there is, whether it serves or not."""
    wishes = {wish.name: wish for wish in own.wishes}
    mine = wishes[name]
    found: list[Change] = [("its ports were left open", (OPEN, 0))] if mine.pin is not None else []
    for other in sorted(beside):
        if (pin := wishes[other].pin) is not None:
            run = f"{pin}" if wishes[other].width == 1 else f"{pin}-{pin + 1}"
            found.append((f"'{other}' could take other ports than aux in {run}", (OPEN, 1)))
    if mine.named:
        found += [(f"it went to '{card}'", (UNIT, 0)) for card in own.cards if card not in mine.units]
    found += [(f"{group} {port} did not stay for house {group} {port}", (KEEP, 1)) for group, port in own.kept]
    if mine.width == 2:
        found.append(("it were mono", (MONO, 0)))
    found += [
        (f"'{other}' stayed in", (STAY, int(wishes[other].want))) for other in beside if wishes[other].want != "must"
    ]
    return found


def _made(own: Case, name: str, words: str) -> tuple[Case, set[str]]:
    """Return a case with a change made, and who need not go out any more."""

    def but(strip: str, **new: object) -> Case:
        wishes = tuple(replace(wish, **new) if wish.name == strip else wish for wish in own.wishes)  # type: ignore[arg-type]
        return replace(own, wishes=wishes)

    if words == "its ports were left open":
        return but(name, pin=None), set()
    if words == "it were mono":
        return but(name, width=1), set()
    if match := re.fullmatch(r"it went to '(\w+)'", words):
        return but(name, units=(match[1],)), set()
    if match := re.fullmatch(r"'(\w+)' could take other ports than .*", words):
        return but(match[1], pin=None), set()
    if match := re.fullmatch(r"'(\w+)' stayed in", words):
        return own, {match[1]}
    match = re.fullmatch(r"(\w+ \w+) (\d+) did not stay for house .*", words)
    assert match, words
    return replace(own, kept=tuple(keep for keep in own.kept if keep != (match[1], int(match[2])))), set()


def _serves(own: Case, beside: set[str], name: str, *changes: str) -> bool:
    """Tell by enumeration whether the changes serve a strip beside all others that go out."""
    names = beside | {name}
    for words in changes:
        if words == "it were mono" and any(wish.name == name and wish.pin is not None for wish in own.wishes):
            return False  # a pin of two ports is none for a mono strip
        own, left = _made(own, name, words)
        names -= left
    wishes = tuple(replace(wish, want="must") for wish in own.wishes if wish.name in names)
    return best(replace(own, wishes=wishes)) is not None


@chunks
def test_the_single_changes_named_are_those_that_serve(first: int) -> None:
    """All that serve by enumeration are named, no other, and the cheapest first."""
    for own, beside, refusal in _refusals(first):
        singles = _singles(own, beside, refusal.strip)
        helps = {words for words, _ in singles if _serves(own, beside, refusal.strip, words)}
        assert set(refusal.would_fit_if) == helps, refusal
        costs = [dict(singles)[words] for words in refusal.would_fit_if]
        assert costs == sorted(costs), refusal


@chunks
def test_a_change_made_to_the_show_and_planned_again_serves(first: int) -> None:
    """Each change, or the pair, goes into the show's text: the strip goes out beside all that went out before."""
    for own, beside, refusal in _refusals(first):
        singles: list[tuple[str, ...]] = [(words,) for words in refusal.would_fit_if]
        for changes in singles or [refusal.pair] * bool(refusal.pair):
            names, changed = beside | {refusal.strip}, own
            for words in changes:
                changed, left = _made(changed, refusal.strip, words)
                names -= left
            wishes = tuple(replace(wish, want=5) for wish in changed.wishes if wish.name in names)
            found = _allocate(replace(changed, wishes=wishes))
            assert found is not None
            assert {loop.strip for loop in found.loops} == names, (refusal, changes)


def _together(one: str, other: str) -> bool:
    """Tell whether a pair is among those that are tried: two stay in, one does beside a change, or ports are freed."""
    return "stayed in" in one + other or "did not stay" in one + other


@chunks
def test_the_pair_named_is_the_cheapest_that_serves(first: int) -> None:
    """Where no single change serves, no cheaper pair does by enumeration; where no pair is named, none does."""
    for own, beside, refusal in _refusals(first):
        if refusal.would_fit_if:
            assert refusal.pair == ()
            continue
        singles = _singles(own, beside, refusal.strip)
        costs = [
            tuple(sorted((one[1], other[1]), reverse=True))
            for one, other in combinations(singles, 2)
            if _together(one[0], other[0]) and _serves(own, beside, refusal.strip, one[0], other[0])
        ]
        if not costs:
            assert refusal.pair == (), refusal
            assert refusal.words.startswith(f"None of {refusal.tried} changes tried")
        else:
            assert refusal.pair, (own, refusal)
            cost = tuple(sorted((dict(singles)[words] for words in refusal.pair), reverse=True))
            assert cost == min(costs), (refusal, min(costs))


@chunks
def test_load_is_the_reason_exactly_where_more_load_would_help(first: int) -> None:
    """A refusal that names the load goes out on a computer without limit; one that names ports does not."""
    for own, beside, refusal in _refusals(first):
        stronger = replace(own, limits=dict.fromkeys(own.limits, ROOM * 10))
        assert ("load" in refusal.reason) == _serves(stronger, beside, refusal.strip), refusal


@pytest.mark.long
def test_the_drawn_refusals_are_no_trivial_ones() -> None:
    """Among them are all kinds of changes, pairs, and refusals that nothing helps."""
    found = [refusal for first in range(0, SEEDS, CHUNK) for _, _, refusal in _refusals(first)]
    words = [words for refusal in found for words in refusal.would_fit_if]
    for part in ("left open", "it went to", "did not stay", "it were mono", "stayed in"):
        assert sum(part in one for one in words) >= 5, part
    assert sum(bool(refusal.pair) for refusal in found) >= 10
    assert sum(not refusal.pair and not refusal.would_fit_if for refusal in found) >= 1
    assert sum("load" in refusal.reason for refusal in found) >= 10
