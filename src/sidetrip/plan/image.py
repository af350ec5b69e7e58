"""Where sound seems to come from when two loudspeakers, or a loudspeaker and the source, play it.

Sources: H. Haas, "Über den Einfluss eines Einfachechos auf die Hörsamkeit von Sprache", Acustica 1, 49-58, 1951: from
about 5 to 35 ms the later sound has to be about 10 dB stronger to be heard by itself. Wallach, Newman & Rosenzweig,
Am. J. Psychol. 62, 1949, and Litovsky, Colburn, Yost & Guzman, J. Acoust. Soc. Am. 106, 1999: below about 1 ms both
share one place, above it the first to arrive has it.
"""

from __future__ import annotations

from sidetrip.plan.gap import FUSED_S, LOUDSPEAKERS_S, Gap

STRONGER_DB = 10.0


def image_of(gap: Gap, one: str, two: str, level_difference_db: float | None) -> str:
    """Return who is localised, `one` or `two`, or "" where it is neither or cannot be told.

    gap: `two` after `one`, in one state. level_difference_db: `two` minus `one`.
    """
    if gap.verdict == "alone" or gap.low > gap.high or level_difference_db is None:
        return ""
    found = {_first(spread, one, two, level_difference_db) for spread in (gap.low, gap.high)}
    return found.pop() if len(found) == 1 and gap.low * gap.high >= 0 else ""


def _first(spread: float, one: str, two: str, difference_db: float) -> str:
    early, late, late_is_louder_db = (one, two, difference_db) if spread >= 0 else (two, one, -difference_db)
    if not LOUDSPEAKERS_S < abs(spread) <= FUSED_S:
        return ""
    return late if late_is_louder_db >= STRONGER_DB else early


def shift_words(inside: str, outside: str) -> str:
    """Say that what is heard moves when the loops go OUT; nothing where it stays."""
    if not inside or not outside or inside == outside:
        return ""
    return f" It is heard from {inside} while the loops are IN, from {outside} when all are OUT."


__all__ = ["STRONGER_DB", "image_of", "shift_words"]
