"""Who came back where: what each track carries against what it should."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sidetrip.dsp.pairs import Pairs
from sidetrip.prove.expect import Expected

_PRESENT_DB = 26.0
"""An entry this far below the strongest on its track still counts as carried there; what is lower is crosstalk."""

_LEAST_LIKENESS = 0.3
"""Entries that two tracks share, over all that either carries."""


@dataclass(frozen=True, slots=True)
class Carried:
    """What a track carries. like: the catches that should carry this most nearly, its own first if it is one."""

    entries: frozenset[int]
    like: tuple[int, ...]


def carried(expected: Expected, pairs: Pairs) -> tuple[Carried, ...]:
    """Return for each catch what it carries; rows of `pairs` are catches."""
    due = [frozenset(way.entry for way in expected.into(catch.number)) for catch in expected.catches]
    out: list[Carried] = []
    for catch in expected.catches:
        gains = pairs.gain_db[catch.number]
        if not np.isfinite(gains).any():
            out.append(Carried(frozenset(), ()))
            continue
        strongest = float(np.nanmax(gains))
        entries = frozenset(int(e) for e in np.flatnonzero(gains > strongest - _PRESENT_DB))
        likeness = [len(entries & own) / len(entries | own) if own else 0.0 for own in due]
        most = max(likeness)
        like = [number for number, one in enumerate(likeness) if one == most and most >= _LEAST_LIKENESS]
        like.sort(key=lambda one: (one != catch.number, expected.catches[one].loop is None, one))
        out.append(Carried(entries, tuple(like)))
    return tuple(out)


def pattern(expected: Expected, found: tuple[Carried, ...], loops: tuple[str, ...]) -> str | None:
    """Return in words how returns are mixed up as a whole: "shifted by one" and its like, None when they are not.

    loops: those with a single catch each, in the order of their return ports.
    """
    own = {catch.loop: catch.number for catch in expected.catches if catch.loop is not None}
    order = [own[loop] for loop in loops if loop in own]
    heard = [next((like for like in found[number].like if like in order), None) for number in order]
    if len(order) < 2:
        return None
    moved = [order.index(like) - place for place, like in enumerate(heard) if like is not None and like != order[place]]
    right = sum(like == order[place] for place, like in enumerate(heard))
    if len(moved) >= 2 and right == 0 and len(set(moved)) == 1 and abs(moved[0]) >= 1:
        return f"the returns are shifted by {'one' if abs(moved[0]) == 1 else abs(moved[0])}"
    return None


__all__ = ["Carried", "carried", "pattern"]
