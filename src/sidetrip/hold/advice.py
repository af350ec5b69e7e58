"""Which buffer and rate: the largest that ears and picture accept, what holds, and what would make it surer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sidetrip.findings import Finding
from sidetrip.hold.accept import Objection, Reach, objections, reach
from sidetrip.hold.counts import hours_to_go, least_counted
from sidetrip.hold.evidence import BlockLog, Tally, add_up
from sidetrip.hold.load import ChainLoad, Work, chain_loads, heavier, measured_work, one_more, share_at, total_share
from sidetrip.hold.overruns import Overruns, judge
from sidetrip.hold.round_trip import Claim, Fit, Trip, fits, judge_reported, trip
from sidetrip.model.figure import Standing
from sidetrip.model.outboard import Unit
from sidetrip.plan.planner import Plan
from sidetrip.units import period_s

BUFFERS = (16, 32, 64, 128, 256, 512, 1024)
ALLOWED_PER_SHOW = 1.0
"""Overruns that a show may have where it does not say: common practice, no source."""

SHOW_S = 3 * 3600.0
RATES = (44100, 48000, 96000)


@dataclass(frozen=True, slots=True)
class Candidate:
    """One buffer at one rate. objections: limits it is over, none when it is accepted. overruns: None without evidence.

    share: of a block that steady work takes, None where nobody knows. holds: standing of the claim that it holds:
    proven by counting on evidence of its own, assumed by a tail or on evidence of another buffer, else unknown. fails:
    even the least that the overruns seen allow is more than a show may have.
    """

    buffer: int
    rate: int
    trip: Trip
    objections: tuple[Objection, ...]
    overruns: Overruns | None
    share: float | None
    holds: Standing
    fails: bool = False

    @property
    def accepted(self) -> bool:
        """Tell whether ears and picture accept it."""
        return not self.objections


@dataclass(frozen=True, slots=True)
class OneMore:
    """One more chain like the heaviest, at the advised buffer: the share of a block then, and what the log would say.

    fits: whether the unit's load limit allows it. overruns: None without a log.
    """

    chain: str
    share: float
    fits: bool
    overruns: Overruns | None


@dataclass(frozen=True, slots=True)
class UnitAdvice:
    """What to set on one computer. smallest: that holds; largest: that is accepted; advised: None when nothing can be.

    empty: a buffer holds, but only ones that are not accepted, and the largest that is accepted fails; `give_up` names
    what stands against the smallest that holds.
    hours: clean ones still needed at the advised buffer for the count alone to support `allowed`. waits: each loop with
    the time of its chain. elsewhere: the round trip at the advised buffer and other rates.
    """

    unit: str
    rate: int
    fixed: int | None
    show_s: float
    allowed: float
    reach: Reach
    candidates: tuple[Candidate, ...]
    smallest: int | None
    largest: int | None
    advised: int | None
    empty: bool
    give_up: tuple[Objection, ...]
    hours: float | None
    fits: tuple[Fit, ...]
    claims: tuple[Claim, ...]
    tallies: tuple[Tally, ...]
    loads: tuple[ChainLoad, ...]
    work: Work | None
    waits: tuple[tuple[str, float], ...]
    aligns: str
    elsewhere: tuple[Trip, ...]
    more: OneMore | None

    def at(self, buffer: int | None) -> Candidate | None:
        """Return the candidate at a buffer."""
        return next((one for one in self.candidates if one.buffer == buffer), None)

    @property
    def load_share(self) -> float:
        """What the chains declare together."""
        return total_share(self.loads)


@dataclass(frozen=True, slots=True)
class Advice:
    """For each computer in use, at the rate that was asked for, then at other rates that something is known of."""

    units: tuple[UnitAdvice, ...]
    elsewhere: tuple[UnitAdvice, ...]
    findings: tuple[Finding, ...]


def advise(plan: Plan, logs: Sequence[BlockLog], rate: int | None = None) -> Advice:
    """Return the advice for every computer that has a loop by the plan."""
    from sidetrip.hold.remarks import unit_remarks

    used = {loop.unit for loop in plan.allocation.loops}
    at = rate or plan.show.sample_rate
    units, elsewhere, findings = [], [], []
    for number, unit in enumerate(plan.show.units):
        if unit.kind != "computer" or unit.name not in used:
            continue
        tallies, told = add_up(logs, unit.name)
        own = _unit(plan, unit, tallies, at)
        units.append(own)
        known = {fit.rate for fit in own.fits} | {tally.configuration.rate for tally in tallies}
        elsewhere += [_unit(plan, unit, tallies, other) for other in sorted(known - {at})]
        findings += [*told, *unit_remarks(own, ("units", number))]
    return Advice(tuple(units), tuple(elsewhere), tuple(findings))


def _unit(plan: Plan, unit: Unit, tallies: tuple[Tally, ...], rate: int) -> UnitAdvice:
    show = plan.show
    found, show_s = fits(unit.measured), show.length or SHOW_S
    allowed = show.limits.overruns_per_show or ALLOWED_PER_SHOW
    fixed = unit.buffer if isinstance(unit.buffer, int) else None
    loads, near = chain_loads(plan, unit.name), _near(tallies, rate)
    work = measured_work(near)
    buffers = {*BUFFERS, *(one.buffer for fit in found if fit.rate == rate for one in fit.opened)}
    buffers |= {tally.configuration.buffer for tally in tallies if tally.configuration.rate == rate}
    buffers |= {fixed} if fixed is not None else set()
    candidates = []
    for buffer in sorted(buffers):
        when = trip(found, buffer, rate)
        overruns = best_judgement(near, buffer, rate, show_s)
        share = share_at(work, period_s(buffer, rate), rate) if work else None
        if share is None and loads:
            share = total_share(loads) * rate / show.sample_rate
        against = objections(plan, unit.name, when)
        holds, fails = _standing(overruns, allowed), _fails(overruns, show_s, allowed)
        candidates.append(Candidate(buffer, rate, when, against, overruns, share, holds, fails))
    candidates = _no_worse(candidates, allowed)
    accepted = [one.buffer for one in candidates if one.accepted]
    holding = [one for one in candidates if one.holds != "unknown"]
    largest, smallest = max(accepted, default=None), min((one.buffer for one in holding), default=None)
    advised = largest
    touches = reach(plan, unit.name)
    own = next((one for one in candidates if one.buffer == advised), None)
    empty = smallest is not None and (own is None or own.fails) and (largest is None or smallest > largest)
    at_smallest = next((one for one in candidates if one.buffer == smallest), None)
    hours = None
    if own is not None:
        tally = next((one for one in near if _is(one, own.buffer, rate)), None)
        seen = own.overruns.seen if own.overruns is not None and tally is not None else 0
        hours = hours_to_go(seen, tally.logged_s if tally else 0.0, show_s, allowed)
    return UnitAdvice(
        unit.name,
        rate,
        fixed,
        show_s,
        allowed,
        touches,
        tuple(candidates),
        smallest,
        largest,
        advised,
        empty,
        at_smallest.objections if empty and at_smallest is not None else (),
        hours,
        found,
        judge_reported(unit.reported, found),
        tallies,
        loads,
        work,
        _waits(plan, unit),
        unit.aligns,
        tuple(trip(found, advised, other) for other in RATES if advised is not None and other != rate),
        None if own is None else _one_more(unit, own, loads, near, show_s),
    )


def _one_more(
    unit: Unit, at: Candidate, loads: Sequence[ChainLoad], tallies: Sequence[Tally], show_s: float
) -> OneMore | None:
    heaviest = max(loads, key=lambda one: one.share, default=None)
    if heaviest is None or heaviest.share <= 0 or at.share is None:
        return None
    share, allowed = one_more(unit, heaviest.share, at.share)
    found = None
    if at.overruns is not None:
        tally = next(one for one in tallies if _is(one, *at.overruns.of))
        logs = [heavier(log, heaviest.share * tally.configuration.period_s) for log in tally.logs]
        found = judge(logs, at.buffer, at.rate, show_s)
    return OneMore(heaviest.chain, share, allowed, found)


def _near(tallies: Sequence[Tally], rate: int) -> tuple[Tally, ...]:
    """Return the tallies of a rate, or where there are none those of the rate nearest to it."""
    rates = sorted({tally.configuration.rate for tally in tallies}, key=lambda own: (abs(own - rate), own))
    return tuple(tally for tally in tallies if rates and tally.configuration.rate == rates[0])


def _is(tally: Tally, buffer: int, rate: int) -> bool:
    return (tally.configuration.buffer, tally.configuration.rate) == (buffer, rate)


def best_judgement(tallies: Sequence[Tally], buffer: int, rate: int, show_s: float) -> Overruns | None:
    """Return what evidence says of a buffer: its own, unless that is clean and another's is, and says more.

    A log reaches other buffers as far as its late blocks hold all that would overrun there.
    """
    own = next((tally for tally in tallies if _is(tally, buffer, rate)), None)
    found = [judge(own.logs, buffer, rate, show_s)] if own is not None else []
    if found and found[0].seen:
        return found[0]
    found += [
        judge(tally.logs, buffer, rate, show_s)
        for tally in tallies
        if tally is not own and _reaches(tally, buffer, rate)
    ]
    return min(found, key=lambda one: (one.bound, one.carried, -one.used_s), default=None)


def _reaches(tally: Tally, buffer: int, rate: int) -> bool:
    """Tell whether a log says anything of another buffer: only of larger ones with more time, as far as it lists.

    Downwards nothing is carried: part of the work of a block is the same however few its frames are.
    """
    own, room = tally.configuration, period_s(buffer, rate)
    if buffer < own.buffer or room < own.period_s:
        return False
    return all(room - log.work_s_mean * (buffer / own.buffer - 1) >= log.floor_s for log in tally.logs)


def _standing(overruns: Overruns | None, allowed: float) -> Standing:
    if overruns is None or overruns.bound > allowed:
        return "unknown"
    counts = overruns.stands and overruns.counted_per_show <= allowed
    return "proven" if counts and not overruns.carried else "assumed"


def _fails(overruns: Overruns | None, show_s: float, allowed: float) -> bool:
    if overruns is None or overruns.used_s <= 0:
        return False
    return least_counted(overruns.seen) * show_s / overruns.used_s > allowed


def _no_worse(candidates: Sequence[Candidate], allowed: float) -> list[Candidate]:
    """Let no carried bound be worse than that of a smaller buffer from the same log: pauses stay, room grows."""
    out: list[Candidate] = []
    best: dict[tuple[int, int], Overruns] = {}
    for one in candidates:
        found = one.overruns
        if found is not None:
            before = best.get(found.of)
            if before is not None and found.carried and found.bound > before.bound:
                because = f"no worse than at {before.buffer} frames"
                found = replace(found, how=before.how, per_show=before.bound, because=because, tail=None)
                one = replace(one, overruns=found, holds=_standing(found, allowed))  # noqa: PLW2901
            if before is None or found.bound <= before.bound:
                best[found.of] = found
        out.append(one)
    return out


def _waits(plan: Plan, unit: Unit) -> tuple[tuple[str, float], ...]:
    """Return for each loop of a unit how long its chain takes by the plan, in seconds, the slowest first."""
    loops = [loop for loop in plan.allocation.loops if loop.unit == unit.name]
    times = [
        (loop.name, sum(item.delay.high for item in plan.line_map.loop(loop.name).items if item.kind == "chain"))
        for loop in loops
    ]
    return tuple(sorted(times, key=lambda one: (-one[1], one[0])))


__all__ = ["ALLOWED_PER_SHOW", "BUFFERS", "RATES", "Advice", "Candidate", "UnitAdvice", "advise", "best_judgement"]
