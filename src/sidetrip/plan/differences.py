"""What differs between two plans, in words, the most consequential first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.findings import has_errors
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.plan.planner import Plan
from sidetrip.plan.two_desks import GAIN_CODES
from sidetrip.units import ms_from_seconds

NO_PLAN, WHO, ERRORS, BYPASS, EARS, HEARD, GAIN, PORTS, STEPS, TIMES = range(10)


_SMALL_S = 5e-5  # a twentieth of a millisecond is no other plan


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is otherwise in the other plan. rank: 0 matters most."""

    rank: int
    words: str


def differences(one: Plan, other: Plan | None) -> tuple[Difference, ...]:
    """Return how another plan of the same show differs; None is no plan at all, because its musts conflict."""
    if other is None:
        return (Difference(NO_PLAN, "there is no plan: the musts conflict"),)
    return (
        *_who(one, other),
        *_errors(one, other),
        *_bypass(one, other),
        *_ears(one, other),
        *_heard(one, other),
        *_gains(one, other),
        *_ports(one, other),
        *_steps(one, other),
        *_times(one, other),
    )


def _loops(plan: Plan) -> dict[tuple[str, str], PlacedLoop]:
    return {(loop.strip, loop.way): loop for loop in plan.allocation.loops}


def _who(one: Plan, other: Plan) -> Iterator[Difference]:
    before, after = _loops(one), _loops(other)
    new, gone = sorted(set(after) - set(before)), sorted(set(before) - set(after))
    words = []
    if new:
        words.append(f"{', '.join(strip for strip, _ in new)} {'goes' if len(new) == 1 else 'go'} out")
    if gone:
        words.append(f"{', '.join(strip for strip, _ in gone)} {'stays' if len(gone) == 1 else 'stay'} in")
    if words:
        yield Difference(WHO, " and ".join(words))


def _errors(one: Plan, other: Plan) -> Iterator[Difference]:
    before = {(finding.code, finding.where) for finding in one.findings if has_errors([finding])}
    after = {(finding.code, finding.where): finding for finding in other.findings if has_errors([finding])}
    for key, finding in sorted(after.items()):
        if key not in before:
            what = finding.what[0].lower() + finding.what[1:]
            yield Difference(ERRORS, f"an error: {what}")
    gone = [finding for finding in one.findings if has_errors([finding]) and (finding.code, finding.where) not in after]
    for finding in gone:
        yield Difference(ERRORS, f"no error any more: {finding.what[0].lower() + finding.what[1:]}")


def _bypass(one: Plan, other: Plan) -> Iterator[Difference]:
    before, after = ([key.label for key in plan.recovery.keys] for plan in (one, other))
    if before != after:
        keys = f"keys that take loops OUT at once: {', '.join(after)}" if after else "no key takes loops OUT at once"
        yield Difference(BYPASS, keys)
    order, then = ([press.strip for press in plan.recovery.presses] for plan in (one, other))
    if set(order) == set(then) and order != then:
        yield Difference(BYPASS, f"loops are taken OUT in another order: {', '.join(then)}")
    for failure, changed in zip(one.recovery.failures, other.recovery.failures, strict=False):
        if (failure.silent, failure.passing) != (changed.silent, changed.passing) and set(order) == set(then):
            parts = [("silent", changed.silent), ("still heard", changed.passing), ("not known", changed.unsure)]
            told = "; ".join(f"{word}: {', '.join(names)}" for word, names in parts if names)
            yield Difference(BYPASS, f"when {changed.unit} dies: {told}")


def _ears(one: Plan, other: Plan) -> Iterator[Difference]:
    before = {(ear.mix, ear.source): ear for ear in one.ears}
    late = []
    for ear in other.ears:
        own = before.get((ear.mix, ear.source))
        if own is not None and ear.in_s != own.in_s and abs(ear.in_s - own.in_s) > _SMALL_S:
            late.append((abs(ear.in_s - own.in_s), own, ear))
    if late:
        _, own, ear = max(late, key=lambda entry: (entry[0], entry[2].mix, entry[2].source))
        yield Difference(EARS, f"{ear.source} is in {ear.mix} after {_ms(ear.in_s)} ms in place of {_ms(own.in_s)} ms")


def _ms(seconds: float) -> str:
    return f"{ms_from_seconds(seconds):.2f}" if seconds != float("inf") else "an unknown number of"


def _heard(one: Plan, other: Plan) -> Iterator[Difference]:
    before, after = (
        [sum(meeting.verdict == verdict for meeting in plan.meetings) for verdict in ("apart", "cannot tell")]
        for plan in (one, other)
    )
    if before != after:
        words = f"{after[0]} {'cause' if after[0] == 1 else 'causes'} of sound heard twice in place of {before[0]}"
        if before[1] != after[1]:
            words += f", {after[1]} that cannot be told in place of {before[1]}"
        yield Difference(HEARD, words)
        return
    told = {meeting.sentence for meeting in one.meetings}
    new = [meeting for meeting in other.meetings if meeting.sentence not in told]
    if new:
        yield Difference(HEARD, f"other times where sound is heard twice: {new[0].sentence.rstrip('.')}")


def _gains(one: Plan, other: Plan) -> Iterator[Difference]:
    """Yield what a hand on a shared preamp moves on the other desk."""
    before, after = (
        {(finding.code, finding.where): finding.what for finding in plan.findings if finding.code in GAIN_CODES}
        for plan in (one, other)
    )
    for key in sorted(set(after) - set(before)):
        yield Difference(GAIN, after[key][0].lower() + after[key][1:])
    if before and not after:
        yield Difference(GAIN, "no turn of a gain moves anything on the other desk")


def _ports(one: Plan, other: Plan) -> Iterator[Difference]:
    before, after = _loops(one), _loops(other)
    moved = [key for key in sorted(set(before) & set(after)) if before[key].returns != after[key].returns]
    if moved:
        names = ", ".join(f"{strip} on {after[strip, way].returns}" for strip, way in moved)
        yield Difference(PORTS, f"other ports: {names}")
    lost = [sum(len(setting.lost) for setting in plan.allocation.settings) for plan in (one, other)]
    if lost[0] != lost[1]:
        yield Difference(PORTS, f"{lost[1]} ports lose what they had in place of {lost[0]}")


def _steps(one: Plan, other: Plan) -> Iterator[Difference]:
    before = {(step.kind, step.item, step.was, step.becomes, step.meter) for step in one.steps}
    new = [step for step in other.steps if (step.kind, step.item, step.was, step.becomes, step.meter) not in before]
    if new and set(_loops(one)) == set(_loops(other)):
        step = new[0]
        yield Difference(STEPS, f"the patch differs: {step.item}: {step.becomes}" if step.becomes else step.item)
    elif len(other.steps) != len(one.steps) and set(_loops(one)) == set(_loops(other)):
        yield Difference(STEPS, f"{len(other.steps)} patch steps in place of {len(one.steps)}")


def _times(one: Plan, other: Plan) -> Iterator[Difference]:
    """Yield the loop, else the place, whose time moves most, all loops IN; ears have their own line."""
    if set(_loops(one)) != set(_loops(other)):
        return
    before, after = (
        {loop.name: plan.line_map.loop(loop.name).delay.high for loop in plan.allocation.loops} for plan in (one, other)
    )
    if (name := _moved_most(before, after)) is not None:
        yield Difference(TIMES, f"loop {name} takes {_ms(after[name])} ms in place of {_ms(before[name])} ms")
        return
    before, after = _latest(one), _latest(other)
    if (name := _moved_most(before, after)) is not None:
        late = f"the latest sound is at {name} after {_ms(after[name])} ms in place of {_ms(before[name])} ms"
        yield Difference(TIMES, late)


def _moved_most(before: dict[str, float], after: dict[str, float]) -> str | None:
    moved = [(abs(after[name] - own), name) for name, own in before.items() if after.get(name, own) != own]
    far, name = max(moved, default=(0.0, ""))
    return name if far > _SMALL_S else None


def _latest(plan: Plan) -> dict[str, float]:
    times = plan.arrivals.times(plan.states[0])
    found: dict[str, float] = {}
    for index, row in enumerate(plan.arrivals.rows):
        if row.place.kind != "ear" and not times.silent[index]:
            found[row.place.name] = max(found.get(row.place.name, 0.0), float(times.high[index]))
    return found


__all__ = ["Difference", "differences"]
