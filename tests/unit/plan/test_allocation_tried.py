"""The allocation against trying everything: small desks and shows drawn by seed, each solved by enumeration too."""

import re
from dataclasses import replace
from functools import cache

import pytest

from bruteforce import Case, Wish, best, case, desk_of, score_of, show_text
from sidetrip.errors import NoPlan
from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.plan.assign import Allocation, allocate
from smallshows import show_from

SEEDS = 180
CHUNK = 12
chunks = pytest.mark.parametrize("first", range(0, SEEDS, CHUNK))
many = [pytest.param(first, marks=pytest.mark.long) for first in range(SEEDS, 6000, 60)]


def _allocate(own: Case) -> Allocation:
    desk = desk_of(own)
    return allocate(show_from(show_text(own), desk), desk)


def _answer(own: Case) -> Allocation | tuple[Finding, ...]:
    try:
        return _allocate(own)
    except NoPlan as none:
        return none.findings


@cache
def _drawn(seed: int) -> tuple[Case, Allocation | tuple[Finding, ...]]:
    own = case(seed)
    return own, _answer(own)


def _only(own: Case, names: set[str], *, must: bool = False) -> Case:
    wishes = tuple(replace(wish, want="must" if must else 5) for wish in own.wishes if wish.name in names)
    return replace(own, wishes=wishes)


def _as_tried(own: Case, found: Allocation | tuple[Finding, ...]) -> None:
    expected = best(own)
    if isinstance(found, Allocation):
        served = {loop.strip for loop in found.loops}
        lost = sum(len(setting.lost) for setting in found.settings)
        assert score_of(own, served, lost) == expected
        assert {wish.name for wish in own.wishes} == served | {refusal.strip for refusal in found.refusals}
        assert broken(own, found) == []
    else:
        assert expected is None
        for finding in found:
            _conflict_is_smallest(own, finding)


@chunks
def test_no_other_way_serves_more_or_costs_less(first: int) -> None:
    """Served wants from 9 down to 1, then ports lost, are the best that trying every way finds; every rule is kept."""
    for seed in range(first, first + CHUNK):
        _as_tried(*_drawn(seed))


@pytest.mark.parametrize("first", many)
def test_no_other_way_serves_more_or_costs_less_on_many(first: int) -> None:
    """The same on thousands of seeds."""
    for seed in range(first, first + 60):
        _as_tried(*_drawn(seed))


# What is broken in an answer, found without the planner's own words for it


def broken(own: Case, found: Allocation) -> list[str]:
    """Return every rule that an allocation breaks, looking only at its ports and settings."""
    wishes = {wish.name: wish for wish in own.wishes}
    wrong = [f"{wish.name} must go out" for wish in own.wishes if wish.want == "must" and not _goes(found, wish.name)]
    writers = [port for loop in found.loops for port in loop.returns.each]
    wrong += ["a port has two writers"] if len(set(writers)) < len(writers) else []
    back = next(
        (setting.becomes for setting in found.settings if setting.block.startswith("source of aux in")), "jacks"
    )
    turned = {setting.block for setting in found.settings}
    for loop in found.loops:
        wrong += _wrong_with(own, wishes[loop.strip], loop, back, turned)
    for card in own.cards:
        load = sum(wishes[loop.strip].load for loop in found.loops if loop.unit == card)
        wrong += [f"{card} is overloaded"] if load > own.limits[card] else []
    wrong += ["the box serves two"] if sum(loop.unit == "box" for loop in found.loops) > 1 else []
    changed = [port for setting in found.settings for port in setting.lost.each]
    kept = set(own.kept)
    return wrong + [f"{port} was kept" for port in changed if (port.group, port.number) in kept]


def _goes(found: Allocation, name: str) -> bool:
    return any(loop.strip == name for loop in found.loops)


def _wrong_with(own: Case, wish: Wish, loop: PlacedLoop, back: str, turned: set[str]) -> list[str]:
    wrong = []
    runs = (loop.send, loop.returns, loop.unit_in, loop.unit_out)
    if any(len(run) != wish.width for run in runs):
        wrong.append(f"{wish.name} is half a loop")
    if wish.width == 2 and not all(run.odd_even for run in runs):
        wrong.append(f"{wish.name} is not left on odd")
    if any((port.group, port.number) in own.kept for run in runs for port in run.each):
        wrong.append(f"{wish.name} sits on a kept port")
    if loop.unit not in wish.units:
        wrong.append(f"{wish.name} runs on a unit it did not ask for")
    if wish.pin is not None and (loop.send.first, loop.returns.first) != (wish.pin, wish.pin):
        wrong.append(f"{wish.name} is not where it is pinned")
    if loop.unit == "box":
        return wrong if loop.send.group == "local out" else [*wrong, f"{wish.name} is not at the box"]
    if not re.match(rf"{loop.unit} in 1-\d+ on aux in 1-\d+", back) or int(back.rpartition("-")[2]) < loop.returns.last:
        wrong.append(f"{wish.name} does not come back from {loop.unit}")
    block = next(
        f"source of {card} out {a}-{b}" for card, a, b in own.send_blocks if card == loop.unit and b >= loop.send.last
    )
    if block not in turned or loop.unit_in.first != loop.send.first or loop.unit_in.group != f"{loop.unit} out":
        wrong.append(f"{wish.name} does not reach {loop.unit}")
    return wrong


# Conflicts


def _conflict_is_smallest(own: Case, finding: Finding) -> None:
    named = {part.partition(",")[0] for part in finding.values.split("; ")}
    assert finding.code == "musts-conflict"
    assert best(_only(own, named, must=True)) is None, "the named musts can be met together"
    for one in named:
        assert best(_only(own, named - {one}, must=True)) is not None, f"{one} is not needed for the conflict"
    given_up = re.findall(r"(\w+ \w+) (\d+) did not stay for house", finding.what.partition("they could, if ")[2])
    for group, number in given_up:
        freed = replace(own, kept=tuple(keep for keep in own.kept if keep != (group, int(number))))
        assert best(_only(freed, named, must=True)) is not None


def test_the_drawn_cases_are_no_trivial_ones() -> None:
    """Among them are refusals, conflicts of musts, kept ports, pins, second computers and the box, each many times."""
    own = [_drawn(seed)[0] for seed in range(SEEDS)]
    answers = [_drawn(seed)[1] for seed in range(SEEDS)]
    allocations = [answer for answer in answers if isinstance(answer, Allocation)]
    assert len(answers) - len(allocations) >= 15
    assert sum(bool(found.refusals) for found in allocations) >= 60
    assert sum(len(one.cards) == 2 for one in own) >= 40
    assert sum(any(wish.pin for wish in one.wishes) for one in own) >= 40
    assert sum(any(loop.unit == "box" for loop in found.loops) for found in allocations) >= 40
    assert sum(any("load" in refusal.reason for refusal in found.refusals) for found in allocations) >= 10
