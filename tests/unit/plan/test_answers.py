"""Runner-up, flips and price list, against every set of strips enumerated, or a desk that has one more."""

import re
from dataclasses import replace
from functools import cache
from itertools import chain, combinations

import pytest

from bruteforce import Case, best, case, desk_of, show_text
from sidetrip.model.desk import Desk
from sidetrip.plan.answers import Answers, Instead
from sidetrip.plan.assign import allocate
from sidetrip.plan.price import price_list
from smallshows import plain_desk, show_from

SEEDS = 96
CHUNK = 12
chunks = pytest.mark.parametrize(
    "first",
    [pytest.param(first, marks=[pytest.mark.long] if first >= CHUNK else []) for first in range(0, SEEDS, CHUNK)],
)

Ranking = tuple[tuple[int, ...], int, tuple[bool, ...]]
"""Served wants from 9 down to 1, minus the ports that lose their source, and early names first."""


@cache
def _sets(own: Case) -> dict[frozenset[str], int]:
    """Return every set of strips that can go out together, with the fewest ports that it costs."""
    names = [wish.name for wish in own.wishes]
    musts = {wish.name for wish in own.wishes if wish.want == "must"}
    found = {}
    for some in chain.from_iterable(combinations(names, count) for count in range(len(names) + 1)):
        if musts <= set(some):
            wishes = tuple(replace(wish, want="must") for wish in own.wishes if wish.name in some)
            score = best(replace(own, wishes=wishes))
            if score is not None:
                found[frozenset(some)] = -score[-1]
    return found


def _ranking(own: Case, some: frozenset[str], lost: int) -> Ranking:
    counts = tuple(sum(wish.want == level and wish.name in some for wish in own.wishes) for level in range(9, 0, -1))
    return counts, -lost, tuple(wish.name in some for wish in sorted(own.wishes, key=lambda wish: wish.name))


def _best(own: Case, sets: dict[frozenset[str], int]) -> frozenset[str]:
    return max(sets, key=lambda some: _ranking(own, some, sets[some]))


def _names(named: tuple[str, ...]) -> set[str]:
    return {re.sub(r" \(\w+\)$", "", name) for name in named}


def _applied(now: frozenset[str], instead: Instead) -> frozenset[str]:
    assert _names(instead.stays_in) <= now
    assert not _names(instead.goes_out) & now
    return frozenset((now - _names(instead.stays_in)) | _names(instead.goes_out))


def _answers(own: Case) -> Answers | None:
    desk = desk_of(own)
    return Answers.of(show_from(show_text(own), desk), desk)


@chunks
def test_the_runner_up_is_the_best_set_that_serves_somebody_else(first: int) -> None:
    """Of all sets that serve somebody who stays in, it is the best by wants, ports and names; its price is right."""
    for seed in range(first, first + CHUNK):
        own = case(seed)
        answers, sets = _answers(own), _sets(own)
        if answers is None:
            assert not sets
            continue
        now = _best(own, sets)
        others = {some: lost for some, lost in sets.items() if some - now}
        found = answers.runner_up()
        if not others:
            assert found is None, seed
            continue
        assert found is not None, seed
        expected = _best(own, others)
        assert _applied(now, found) == expected, seed
        assert found.ports == others[expected] - sets[now], seed


@chunks
def test_a_want_flips_at_the_nearest_number_that_changes_who_goes_out(first: int) -> None:
    """Every want is tried with every number: flips are named where there are any, at the nearest, with the new set."""
    for seed in range(first, first + CHUNK):
        own = case(seed)
        answers, sets = _answers(own), _sets(own)
        if answers is None:
            continue
        now = _best(own, sets)
        expected = {}
        for wish in own.wishes:
            if wish.want == "must":
                continue
            for number in sorted(set(range(1, 10)) - {wish.want}, key=lambda number: abs(number - int(wish.want))):
                wishes = tuple(replace(other, want=number) if other is wish else other for other in own.wishes)
                then = _best(replace(own, wishes=wishes), sets)
                if then != now:
                    expected[wish.name] = (abs(number - int(wish.want)), number, then)
                    break
        found = {
            flip.strip: (abs(flip.at - flip.want), flip.at, _applied(now, flip.instead)) for flip in answers.flips()
        }
        assert found == expected, seed


@chunks
def test_the_nearest_flips_are_the_first_of_all(first: int) -> None:
    """Two asked for are the two of the smallest change."""
    for seed in range(first, first + CHUNK):
        answers = _answers(case(seed))
        if answers is not None:
            assert answers.nearest_flips(2) == answers.flips()[:2]


@pytest.mark.long
def test_the_drawn_cases_have_runner_ups_and_flips() -> None:
    """Many of them have a runner-up; wants flip upwards and downwards."""
    found = [answers for seed in range(SEEDS) if (answers := _answers(case(seed))) is not None]
    flips = [flip for answers in found for flip in answers.flips()]
    assert sum(answers.runner_up() is not None for answers in found) >= 15
    assert sum(flip.at > flip.want for flip in flips) >= 5
    assert sum(flip.at < flip.want for flip in flips) >= 5


# The price list


def _direct(carriers: int, more: int = 0) -> Desk:
    """Return a desk whose inserts run over the card itself, and one more run of ports that starts on an odd one."""
    runs = f"  - {{send: card out 1-{carriers}, return: card in 1-{carriers}}}"
    if more:
        runs += f"\n  - {{send: card out 33-{32 + more}, return: card in 33-{32 + more}}}"
    return plain_desk(carriers=1, blocks="  - {feeds: aux in 1, choices: [jacks]}", more_carriers=runs)


def _show(seed: int) -> str:
    """Return a show of a few strips by seed, mono and stereo, more than go out."""
    lines = ["units: [{name: laptop, kind: computer, connects: card, aligns: per chain, load_limit: 0.5}]", "inputs:"]
    asks = []
    for number in range(6):
        stereo = (seed >> number) & 1
        ch = 2 * number + 1
        lines.append(f"  - {{ch: {ch}, name: S{number}, port: stage {ch}{f'-{ch + 1}' if stereo else ''}, to: [Main]}}")
        asks.append(f"  - {{strip: S{number}, chain: c{number % 2}, want: {1 + (seed + 3 * number) % 9}}}")
    lines += [
        "mixes: [{name: Main, kind: main, width: stereo}]",
        "outputs: [{name: PA, from: Main, port: local out 1-2}]",
    ]
    lines += ["chains: {c0: [{eq: {load: 0.1}}], c1: [{eq: {load: 0.2}}]}", "requests:", *asks]
    return "\n".join(lines)


def _goes(text: str, desk: Desk) -> set[str]:
    return {loop.strip for loop in allocate(show_from(text, desk), desk).loops}


@pytest.mark.parametrize("seed", range(0, 64, 5))
@pytest.mark.parametrize(("what", "more"), [("one more port", 1), ("one more pair", 2)])
def test_the_price_of_ports_is_what_a_desk_that_has_them_serves(seed: int, what: str, more: int) -> None:
    """Who goes out with one more is who goes out on the desk written with it; so is who stays in."""
    text = _show(seed)
    now, then = _goes(text, _direct(3)), _goes(text, _direct(3, more))
    prices = price_list(show_from(text, _direct(3)), _direct(3))
    (price,) = [price for price in prices if price.what == f"{what} out and back to laptop"]
    assert (set(price.serves), set(price.displaces)) == (then - now, now - then)


@pytest.mark.parametrize("seed", range(0, 64, 9))
def test_the_price_of_load_is_what_a_stronger_computer_serves(seed: int) -> None:
    """With ports for all, the load decides: as much more as the list says, written into the show, serves those."""
    text, desk = _show(seed), _direct(16)
    now = _goes(text, desk)
    [price] = [price for price in price_list(show_from(text, desk), desk) if "more load" in price.what]
    more = float(price.what.split()[0])
    then = _goes(text.replace("load_limit: 0.5", f"load_limit: {0.5 + more}"), desk)
    assert (set(price.serves), set(price.displaces)) == (then - now, now - then)
    assert price.serves


def test_one_more_pair_serves_drums() -> None:
    """On the worked case of three for two places the pair is what is short, and one port serves nobody."""
    text = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]
inputs: [{ch: 1, name: Kick, port: stage 1, group: Drums}]
mixes: [{name: Drums, kind: group, width: stereo, to: [Main]}, {name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}]}
requests: [{strip: Drums, chain: c, want: 5}, {strip: Main, chain: c, want: 8}]
"""
    desk = plain_desk(carriers=2)
    prices = {price.what: price.words for price in price_list(show_from(text, desk), desk)}
    assert prices["one more port out and back to laptop"] == "one more port out and back to laptop serves nobody more"
    assert prices["one more pair out and back to laptop"] == "one more pair out and back to laptop serves Drums"


def test_nobody_stays_in_and_nothing_has_a_price() -> None:
    """Where all go out there is no runner-up, no flip and no price."""
    text, desk = _show(0).replace("load_limit: 0.5", "load_limit: 1.0"), _direct(16)
    show = show_from(text, desk)
    answers = Answers.of(show, desk)
    assert answers is not None
    assert (answers.runner_up(), answers.flips(), price_list(show, desk)) == (None, (), ())
