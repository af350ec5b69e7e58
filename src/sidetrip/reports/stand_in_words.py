"""A unit that takes over from another, in words: how to bring it in, what is later then, what it does not cure."""

from __future__ import annotations

from sidetrip.plan.hand_over import FIRST, STEP, HandOver
from sidetrip.reports.sheet import count, frames, span_ms


def effort(own: HandOver) -> str:
    """Say how many presses it takes, and how many seconds: timed by somebody, or added up from what the desk says."""
    presses = "an unknown number of presses" if own.presses is None else count(round(own.presses), "press", "presses")
    if own.seconds is None:
        return f"{presses}, nobody knows how long"
    return f"{presses}, {'' if own.timed else 'about '}{own.seconds:.0f} s{' as timed' if own.timed else ''}"


def later(own: HandOver, rate_hz: int) -> str:
    """Say how much later strips come once the other unit is in; those that move alike stand together."""
    alike: dict[str, list[str]] = {}
    for one in own.later:
        if not one.delay.known:
            words = "at another time, nobody knows by how much"
        elif round(one.delay.low * rate_hz, 3) == round(one.delay.high * rate_hz, 3) == 0:
            words = "at the same time"
        else:
            shown = one.delay if one.delay.low + one.delay.high > 0 else -one.delay
            more = "later" if shown is one.delay else "earlier"
            words = f"{span_ms(shown)} ms ({frames(shown.low, shown.high, rate_hz=rate_hz)} frames) {more}"
        alike.setdefault(words, []).append(one.strip)
    return "; ".join(f"{', '.join(strips)}: {words}" for words, strips in alike.items())


def changes(own: HandOver) -> str:
    """Say what is changed at the desk, or at the box, one after the other."""
    return "; ".join(f"{act.what}: {act.becomes}" for act in own.acts)


def rows(own: HandOver, rate_hz: int) -> list[tuple[str, str]]:
    """Return all of it as names and words."""
    return [
        (f"{own.unit} dies, {own.by} takes over", FIRST),
        (f"{own.by} in, {own.switch}", f"{changes(own)} ({effort(own)})"),
        (f"{own.by} in, what changes", f"{later(own, rate_hz)}; the level step is {STEP}"),
        (f"{own.by} does not cure", "; ".join(own.not_cured)),
        (f"{own.by}, to ask", " ".join(f"{ask[:1].upper()}{ask[1:]}?" for ask in own.ask)),
    ]


__all__ = ["changes", "effort", "later", "rows"]
