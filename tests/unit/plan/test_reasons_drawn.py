"""Refusals of drawn shows with ears and several kinds of strips: each change goes into the text, planned again."""

import copy
import json
import random
import re

import pytest

from drawnshows import Data, drawn, show_of
from sidetrip.errors import NoPlan
from sidetrip.findings import has_errors
from sidetrip.model.desk import Desk
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show
from smallshows import plain_desk

SEEDS = range(120)
DESK = plain_desk(carriers=2)
"""Two ports that carry inserts: few of those who ask go out."""


def _show(seed: int) -> Data:
    """Return a drawn show in which more ask, and ears hear what asks, most of it behind the insert."""
    data, draw = drawn(seed), random.Random(seed)
    for mix in data["mixes"]:
        if mix.get("listens") == "in-ear":
            for name, send in mix["from"].items():
                if name.startswith("In"):
                    send["tap"] = draw.choice(["before fader", "before fader", "input"])
    asked = {request["strip"] for request in data["requests"]}
    names = [own["name"] for own in (*data["inputs"], *data["mixes"]) if own["name"] not in asked]
    data["requests"] += [{"strip": name, "chain": "long", "want": draw.randint(1, 9)} for name in names]
    data["units"][0] |= {"aligns": "per chain", "buffer": 64}
    data["limits"] = {"ear_total_ms": draw.choice([6, 9, 14]), "ear_added_ms": draw.choice([1, 3, 8])}
    return data


def _planned(data: Data, desk: Desk = DESK) -> Allocation | None:
    show = read_show(json.dumps(data), "show.yaml").show
    if any(has_errors([finding]) for finding in check_show(show, desk)):
        return None
    try:
        return allocate(show, desk)
    except NoPlan:
        return None


def _only(data: Data, strips: set[tuple[str, str]]) -> Data:
    """Return the show in which only these ask, and all of them must go out."""
    fewer = copy.deepcopy(data)
    fewer["requests"] = [
        {**own, "want": "must"} for own in fewer["requests"] if (own["strip"], own.get("way", "insert")) in strips
    ]
    return fewer


def _all_go(data: Data, strips: set[tuple[str, str]]) -> bool:
    found = _planned(_only(data, strips))
    return found is not None and {(loop.strip, loop.way) for loop in found.loops if not loop.blank} == strips


def _tapped(data: Data, mix: str, strip: str) -> Data:
    changed = copy.deepcopy(data)
    (own,) = [own for own in changed["mixes"] if own["name"] == mix]
    own["from"][strip]["tap"] = "before insert"
    return changed


@pytest.mark.parametrize(
    "first", [0, *(pytest.param(first, marks=pytest.mark.long) for first in range(20, len(SEEDS), 20))]
)
def test_taps_ways_and_who_stays_in_serve_where_they_are_named_and_nowhere_else(first: int) -> None:
    """Every tap of ears, and everybody who could stay in, planned in the changed text: what serves is named."""
    for seed in SEEDS[first : first + 20]:
        data = _show(seed)
        found = allocate(show_of(data, DESK), DESK)
        beside = {(loop.strip, loop.way) for loop in found.loops}
        for refusal in found.refusals:
            own = (refusal.strip, refusal.way)
            helps = set()
            for mix in data["mixes"]:
                send = mix.get("from", {}).get(refusal.strip) if mix.get("listens") == "in-ear" else None
                dry = send is not None and send["tap"] == "before insert"
                if send is not None and not dry and _all_go(_tapped(data, mix["name"], refusal.strip), beside | {own}):
                    helps.add(f"{mix['name']} took it before insert")
            helps |= {
                f"'{strip}' stayed in" for strip, way in beside if _all_go(data, (beside - {(strip, way)}) | {own})
            }
            named = {words for words in refusal.would_fit_if if re.search("took it|stayed in$", words)}
            assert named == helps, (seed, refusal)


def test_the_drawn_refusals_are_about_ears_too() -> None:
    """Among them are refusals for ears, and taps that serve."""
    found = [refusal for seed in SEEDS for refusal in allocate(show_of(_show(seed), DESK), DESK).refusals]
    assert sum("limit" in refusal.reason for refusal in found) >= 5
    assert sum(any("took it" in words for words in refusal.would_fit_if) for refusal in found) >= 3
    assert sum(any("stayed in" in words for words in refusal.would_fit_if) for refusal in found) >= 20
