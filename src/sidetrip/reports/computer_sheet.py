"""The computer sheet: what to set, how sure it holds, how late it makes things, and what to tick before the show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sidetrip.application.evidence_ports import Seen
from sidetrip.application.holding import Held
from sidetrip.hold.advice import UnitAdvice
from sidetrip.hold.evidence import Tally
from sidetrip.reports.check_list import stages
from sidetrip.reports.draw.late import late_svg, posts_of
from sidetrip.reports.draw.palette import PRINT
from sidetrip.reports.draw.stops import ON_SHEETS
from sidetrip.reports.hold_words import (
    RULE,
    accepted_words,
    bound_cell,
    claim_words,
    fit_words,
    headline,
    holds_words,
    more_words,
    scale_words,
    sureness,
    surer,
    tally_words,
    trip_words,
    wait_words,
)
from sidetrip.reports.sheet import Cell, Sheet, Stamp, listed, make_sheet
from sidetrip.units import ms_from_seconds, period_s

_HEADER = (
    *("unit", "rate Hz", "frames", "period ms", "round trip from ms", "to ms", "known from", "load"),
    *("overruns seen", "logged at frames", "up to per show", "holds", "accepted", "remark"),
)
_WIDTH_PX, _HEIGHT_PX = 760, 320


def computer_sheet(held: Held, seen: Sequence[Seen], stamp: Stamp) -> Sheet:
    """Return the sheet for every computer of a show. seen: what the computer at hand said of itself."""
    units = held.advice.units
    errors = [f"{one.where}: {one.what}. {one.remedy}." for one in held.findings if one.severity == "error"]
    data = {
        "errors": errors,
        "units": [_unit(own) for own in units],
        "rule": RULE,
        "stages": stages(units[0] if len(units) == 1 else None, seen),
        "caution": "A log tells of what happened in it; what has not happened yet is in no log.",
    }
    return make_sheet("computer-sheet", "Computer", stamp, data, _HEADER, _rows(units))


def _unit(own: UnitAdvice) -> dict[str, Any]:
    tally = _shown(own)
    picture = None
    if tally is not None:
        allowed = own.allowed / own.show_s * 3600
        picture = late_svg(tally, posts_of(own, tally), allowed, PRINT, _WIDTH_PX, _HEIGHT_PX, ON_SHEETS)
    return {
        "name": own.unit,
        "rate": own.rate,
        "advised": None if own.empty else own.advised,
        "headline": headline(own),
        "sure": " ".join(words for words in (sureness(own), surer(own)) if words),
        "picture": picture,
        "evidence": [tally_words(one) for one in own.tallies],
        "rows": [
            {
                "frames": str(one.buffer),
                "advised": one.buffer == own.advised and not own.empty,
                "period": f"{ms_from_seconds(period_s(one.buffer, one.rate)):.2f}",
                "trip": trip_words(one.trip),
                "load": "" if one.share is None else f"{one.share:.0%}",
                "seen": "" if one.overruns is None else str(one.overruns.seen),
                "of": "" if one.overruns is None or not one.overruns.carried else f"of {one.overruns.of[0]}",
                "bound": bound_cell(one.overruns),
                "holds": holds_words(one),
                "accepted": accepted_words(one),
            }
            for one in own.candidates
        ],
        "trips": [*(fit_words(fit) for fit in own.fits), scale_words(own), wait_words(own), *claim_words(own)],
        "more": more_words(own),
        "loads": [{"chain": one.chain, "share": f"{one.share:.1%}", "loops": listed(one.loops)} for one in own.loads],
    }


def _shown(own: UnitAdvice) -> Tally | None:
    """Return the tally whose picture is drawn: that of the advised buffer, else the one with most hours."""
    mine = [tally for tally in own.tallies if tally.configuration.rate == own.rate]
    at = next((tally for tally in mine if tally.configuration.buffer == own.advised), None)
    return at or max(mine, key=lambda tally: tally.logged_s, default=None)


def _rows(units: Sequence[UnitAdvice]) -> Iterator[tuple[Cell, ...]]:
    for own in units:
        for one in own.candidates:
            found = one.overruns
            low, high = one.trip.low_s, one.trip.high_s
            yield (
                own.unit,
                one.rate,
                one.buffer,
                round(ms_from_seconds(period_s(one.buffer, one.rate)), 4),
                "unknown" if low is None else round(ms_from_seconds(low), 3),
                "unknown" if high is None else round(ms_from_seconds(high), 3),
                one.trip.basis,
                "" if one.share is None else round(one.share, 4),
                "" if found is None else found.seen,
                "" if found is None else found.of[0],
                bound_cell(found),
                holds_words(one),
                "yes" if one.accepted else "no",
                "set this" if one.buffer == own.advised and not own.empty else accepted_words(one),
            )


__all__ = ["computer_sheet"]
