"""Taps: where a copy is taken decides how late it is."""

from __future__ import annotations

from sidetrip.model.desk import Desk, StripName


def tap_of(desk: Desk, strip: StripName, target: StripName, tap: str | None) -> int:
    """Return after how many stages of the strip's order the copy for `target` is taken.

    Without a tap of its own a send takes the desk's usual one for its target; where the strip lacks that stage, the
    end of the strip. Taps are "input", "before X" and "after X", as checked when the show was read.
    """
    pool = desk.pool(strip)
    assert pool is not None, "a checked show has no strips of a kind the desk lacks"
    words = tap or desk.taps.get(target, "")
    if words == "input":
        return 0
    side, _, stage = words.partition(" ")
    if stage not in pool.order:
        return len(pool.order)
    return pool.order.index(stage) + (side == "after")
