"""What if: the same show in another state, at another buffer or rate, or without a unit, held against the plan.

Two snapshots are compared: a plan with the state that it is looked at in. A state changes no patch: loops that are OUT,
or what a cue leaves. A buffer, a rate or a missing unit makes another plan.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import State
from sidetrip.model.show import Show
from sidetrip.plan.asked import Asked
from sidetrip.plan.differences import Difference, differences
from sidetrip.plan.ears import beyond, find_ear_delays, judged
from sidetrip.plan.gap import Gap
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.planner import Plan
from sidetrip.units import ms_from_seconds

_SMALL_S = 5e-6

Kind = Literal["loop", "place", "ears", "meeting"]


@dataclass(frozen=True, slots=True)
class Moved:
    """One thing that is otherwise: times in ms in words, or what is heard. worse: whether it is now beyond a limit."""

    kind: Kind
    name: str
    before: str
    after: str
    worse: bool = False


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The difference. differences: what the other plan does otherwise, empty for a state. moved: what arrives when."""

    asked: Asked
    differences: tuple[Difference, ...]
    moved: tuple[Moved, ...]
    heard_twice: tuple[int, int]
    """Causes of sound heard twice, before and after."""


def wrong_names(asked: Asked, show: Show) -> Iterator[Finding]:
    """Find strips, units and cues that the show does not have."""
    loops = {request.strip for request in show.requests}
    for strip in asked.out:
        if strip not in loops:
            asking = ", ".join(sorted(loops)) or "nobody"
            remedy = f"Name one that asks for a loop: {asking}"
            yield Finding("name-unknown", "what if / out", "Nobody of this name asks for a loop", strip, remedy)
    units = {unit.name for unit in show.units}
    for unit in asked.without:
        if unit not in units:
            remedy = f"Name one of the show: {', '.join(sorted(units)) or 'it has none'}"
            yield Finding("name-unknown", "what if / without", "There is no unit of this name", unit, remedy)


def without_units(show: Show, units: Iterable[str]) -> Show:
    """Return the show with units left at home. Requests that name one of them are left out, and so are takes.

    A must that only such a unit could serve stays, and makes the musts conflict.
    """
    gone = set(units)
    if not gone:
        return show
    requests = tuple(request for request in show.requests if request.unit not in gone)
    return show.model_copy(
        update={
            "units": tuple(unit for unit in show.units if unit.name not in gone),
            "requests": requests,
            "takes": (),
        }
    )


def state_of(plan: Plan, asked: Asked) -> State:
    """Return the state of a plan that is asked about; all loops IN when none is."""
    out = frozenset(loop.name for loop in plan.allocation.loops if loop.strip in asked.out)
    if asked.cue is not None:
        before = [state for state in plan.states if state.kind == "cue" and _cue(state) <= asked.cue]
        out |= before[-1].out if before else _before_cues(plan)
    return State(asked.words or "all IN", "all in" if not out else "loop out", out=out)


def _cue(state: State) -> float:
    return float(state.name.removeprefix("cue "))


def _before_cues(plan: Plan) -> frozenset[str]:
    from sidetrip.plan.cues import stretches_in

    loops = [loop for loop in plan.allocation.loops if loop.way != "in-line"]
    return frozenset(loop.name for loop in loops if not stretches_in(plan.show, loop.strip)[0])


def what_if(plan: Plan, other: Plan, asked: Asked) -> WhatIf:
    """Return how another plan in the state that is asked for differs from a plan with all loops IN."""
    one, two = _Seen(plan, plan.states[0]), _Seen(other, state_of(other, asked))
    moved = [
        *_times("loop", one.loops(), two.loops()),
        *_times("place", one.places(), two.places()),
        *_ears(one, two),
        *_meetings(one.meetings(), two.meetings()),
    ]
    apart = tuple(sum(_apart(own.gap_in) for own in seen.meetings()) for seen in (one, two))
    told = differences(plan, other) if other is not plan else ()
    return WhatIf(asked, told, tuple(moved), (apart[0], apart[1]))


class _Seen:
    """A plan in one state."""

    def __init__(self, plan: Plan, state: State) -> None:
        self.plan, self.state = plan, state
        self._meetings: tuple[Meeting, ...] | None = None

    def loops(self) -> dict[str, str]:
        """Return what each loop adds, or that it is OUT."""
        found = {}
        for loop in self.plan.allocation.loops:
            delay = self.plan.line_map.loop(loop.name).delay
            found[loop.name] = "OUT" if loop.name in self.state.out else _range(delay.low, delay.high)
        return found

    def places(self) -> dict[str, str]:
        """Return the earliest and the latest arrival that came through the desk, by output and listener."""
        arrivals = self.plan.arrivals
        times = arrivals.times(self.state)
        rows: dict[str, list[int]] = {}
        for index, row in enumerate(arrivals.rows):
            if row.place.kind != "ear" and row.microphone is not None:
                rows.setdefault(row.place.name, []).append(index)
        found = {}
        for name, own in sorted(rows.items()):
            heard = [index for index in own if not times.silent[index]]
            low, high = (times.low[heard].min(), times.high[heard].max()) if heard else (0.0, 0.0)
            found[name] = _range(float(low), float(high)) if heard else "silent"
        return found

    def ears(self) -> dict[str, tuple[float, float]]:
        """Return when ears get what limits are about, in seconds, and what loops that are IN add to it."""
        show, arrivals = self.plan.show, self.plan.arrivals
        delays = judged(show, find_ear_delays(show, self.plan.line_map, arrivals, (self.state,)))
        dry = State("all OUT", "all out", out=frozenset(arrivals.loops))
        bare = {(own.mix, own.source): own.in_s for own in find_ear_delays(show, self.plan.line_map, arrivals, (dry,))}
        found = {}
        for own in delays:
            name = f"{own.mix}, {own.source}" if not own.own else own.mix
            found[name] = own.in_s, own.in_s - bare.get((own.mix, own.source), own.in_s)
        return found

    def meetings(self) -> tuple[Meeting, ...]:
        """Return the meetings of this state."""
        if self._meetings is None:
            plan = self.plan
            self._meetings = find_meetings(plan.show, plan.line_map, plan.arrivals, (self.state,))[0]
        return self._meetings


def _range(low: float, high: float) -> str:
    if not math.isfinite(high):
        return "unknown"
    low_ms, high_ms = ms_from_seconds(low), ms_from_seconds(high)
    return f"{low_ms:.2f}" if high_ms - low_ms < 0.005 else f"{low_ms:.2f} to {high_ms:.2f}"


def _times(kind: Kind, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[Moved]:
    for name in sorted({*before, *after}):
        was, becomes = before.get(name, "no loop"), after.get(name, "no loop")
        if was != becomes:
            yield Moved(kind, name, was, becomes)


def _ears(one: _Seen, two: _Seen) -> Iterator[Moved]:
    before, after = one.ears(), two.ears()
    limits = two.plan.show.limits
    for name in sorted({*before, *after}):
        was, becomes = before.get(name), after.get(name)
        if was is None or becomes is None:
            words = ["nothing" if own is None else _range(own[0], own[0]) for own in (was, becomes)]
            yield Moved("ears", name, words[0], words[1])
        elif was[0] != becomes[0] and not abs(was[0] - becomes[0]) < _SMALL_S:
            over = [
                beyond(seconds, limit)
                for seconds, limit in zip(becomes, (limits.ear_total_ms, limits.ear_added_ms), strict=True)
            ]
            yield Moved("ears", name, _range(was[0], was[0]), _range(becomes[0], becomes[0]), any(over))


def _apart(gap: Gap) -> bool:
    return gap.verdict == "apart"


def _meetings(before: Sequence[Meeting], after: Sequence[Meeting]) -> Iterator[Moved]:
    """Yield meetings whose gap or verdict is otherwise, one for each cause; those that came to be apart first."""
    was = {_cause(own): own for own in reversed(before)}
    now = {_cause(own): own for own in reversed(after)}
    found = []
    for cause in {*was, *now}:
        one, two = (None if own is None else own.gap_in for own in (was.get(cause), now.get(cause)))
        if one is not None and two is not None and one.verdict == two.verdict and _near(one, two):
            continue
        verdicts = [gap is not None and _apart(gap) for gap in (one, two)]
        if not any(verdicts):
            continue
        meeting = now.get(cause) or was[cause]
        where = f"{', '.join(meeting.sources[:2])} at {', '.join(meeting.places[:2])}"
        name = f"{where}: {meeting.first} and {meeting.second}"
        found.append(Moved("meeting", name, _gap(one), _gap(two), verdicts[1] and not verdicts[0]))
    yield from sorted(found, key=lambda own: (not own.worse, own.name))


def _cause(meeting: Meeting) -> tuple[object, ...]:
    return meeting.kind, meeting.joined, meeting.loops, *sorted((meeting.first, meeting.second))


def _near(one: Gap, two: Gap) -> bool:
    return all(
        mine == theirs or abs(mine - theirs) < _SMALL_S
        for mine, theirs in ((abs(one.low), abs(two.low)), (abs(one.high), abs(two.high)))
    )


def _gap(gap: Gap | None) -> str:
    if gap is None or gap.verdict == "alone":
        return "not heard twice"
    return f"{_range(*sorted((abs(gap.low), abs(gap.high))))}, {gap.verdict}"


__all__ = ["Asked", "Moved", "WhatIf", "state_of", "what_if", "without_units", "wrong_names"]
