"""The recovery card: what anybody presses when it dies, on one page that is read in the dark."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sidetrip.model.figure import Standing
from sidetrip.plan.hand_over import HandOver
from sidetrip.plan.planner import Plan
from sidetrip.plan.recovery import Failure, Press
from sidetrip.reports.sheet import Cell, Sheet, Stamp, cut, errors_in, make_sheet, number, span_ms
from sidetrip.reports.stand_in_words import changes, effort, later

SAY = "sound is on backup"
DO_NOT = (
    "re-plug or restart anything",
    "load a scene, or switch loops back IN",
    "push faders up into silence",
)

# Three lines of the card at most; names of strips are a tenth of that.
_LONGEST = 60

_HEADER = (
    "order",
    "strip",
    "press",
    "on key",
    "presses",
    "seconds by hand",
    "earlier by ms",
    "standing",
    "if its unit dies",
)


def recovery_sheet(plan: Plan, stamp: Stamp) -> Sheet:
    """Return the card. Lists are whole here; the template says how many more there are than fit the page."""
    recovery = plan.recovery
    first = recovery.keys[0] if recovery.keys else None
    by_hand = [press for press in recovery.presses if first is None or press.strip not in first.strips]
    data: dict[str, Any] = {
        "errors": len(errors_in(plan)),
        "danger": [part[:1].upper() + part[1:] for part in recovery.danger.split(", ")],
        "key": None if first is None else {"number": first.number, "label": _short(first.label)},
        "key_standing": _key_standing(plan),
        "by_hand": [_hand(press, plan.desk.bypass.key) for press in by_hand],
        "order": [_hand(press, plan.desk.bypass.key) for press in recovery.presses],
        "press": _short(plan.desk.bypass.key),
        "seconds": "" if recovery.seconds_by_hand is None else f"{recovery.seconds_by_hand:.0f}",
        "groups": [
            {"number": key.number, "label": _short(key.label), "strips": [_short(strip) for strip in key.strips]}
            for key in recovery.keys[1:]
        ],
        "changes": [{"strip": _short(press.strip), "earlier": _earlier(press)} for press in recovery.presses],
        "units": [{"unit": _short(failure.unit), "fates": _dies(failure)} for failure in recovery.failures],
        "hand_overs": [_hand_over(own, plan.show.sample_rate) for own in recovery.hand_overs],
        "say": SAY,
        "do_not": list(DO_NOT),
    }
    return make_sheet("recovery-card", "If it dies", stamp, data, _HEADER, _csv(plan))


def _hand_over(own: HandOver, rate_hz: int) -> dict[str, str]:
    """Say in one line how another unit takes over; the patch sheet has it in full."""
    first = changes(own) if len(own.acts) == 1 else f"{len(own.acts)} changes"
    return {
        "title": f"{_short(own.by)} for {_short(own.unit)}",
        "does": f"at the next break, its loops OUT, {_short(first)} ({effort(own)}); then IN, one at a time",
        "later": cut(later(own, rate_hz), 2 * _LONGEST),
    }


def _short(name: str) -> str:
    return cut(name, _LONGEST)


def _key_standing(plan: Plan) -> Standing:
    """Return how far it can be trusted that keys of this desk take inserts OUT."""
    fact = plan.desk.bypass.group_key_takes_inserts
    if fact.answer not in ("yes", "no"):
        return "unknown"
    return fact.standing or plan.desk.standing


def _hand(press: Press, usual: str) -> dict[str, str]:
    """Return a strip with its key, empty where it is the key that the card names anyway."""
    return {"strip": _short(press.strip), "press": "" if press.key == usual else _short(press.key)}


def _earlier(press: Press) -> str:
    return f"{span_ms(press.delay)} ms" if press.delay.known else "an unknown time"


def _dies(failure: Failure) -> list[dict[str, Any]]:
    """Say what one dead unit does to its strips, as long as nobody has pressed anything."""
    return [
        {"strips": [_short(strip) for strip in strips], "does": one if len(strips) == 1 else many}
        for strips, one, many in (
            (failure.silent, "is silent until OUT", "are silent until OUT"),
            (failure.passing, "passes, unprocessed", "pass, unprocessed"),
            (failure.unsure, "may be silent: unknown", "may be silent: unknown"),
        )
        if strips
    ]


def _csv(plan: Plan) -> Iterator[tuple[Cell, ...]]:
    fate = {
        strip: word
        for failure in plan.recovery.failures
        for strips, word in ((failure.silent, "silent"), (failure.passing, "passes"), (failure.unsure, "unknown"))
        for strip in strips
    }
    for press in plan.recovery.presses:
        keys = " & ".join(f"{key.number} {key.label}" for key in plan.recovery.keys if press.strip in key.strips)
        yield (
            press.order,
            press.strip,
            press.key,
            keys,
            "unknown" if press.presses is None else number(f"{press.presses:g}"),
            "unknown" if press.seconds is None else number(f"{press.seconds:g}"),
            number(span_ms(press.delay)),
            press.delay.standing,
            fate.get(press.strip, "unknown"),
        )
