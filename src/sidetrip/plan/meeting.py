"""A meeting as a result: two arrivals of one source, and all that share their cause."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sidetrip.plan.comb import ripple
from sidetrip.plan.crossover import loss_db
from sidetrip.plan.gap import Gap, MeetingClass, Verdict

SLIGHT_DB = ripple(-15).ripple_db
"""Ripple of two sounds 15 dB apart, 3.1 dB: less is told, not warned of. Common practice, no source."""

SUB_SLIGHT_DB = loss_db(0.0015, 100)
"""What 1.5 ms cost at a crossover of 100 Hz, 1 dB: less is told, not warned of. Common practice, no source."""

WORSE: tuple[Verdict, ...] = ("alone", "together", "cannot tell", "apart")


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two arrivals of one source at one place, and all that share their cause.

    joined: the strip where the two ways join, empty where they meet in the air. places: everywhere it is heard.
    loops: the loops that only one of the two passes.
    first, second: routes in words. gap_in, gap_out: second minus first, all loops IN and all OUT. natural_s: the part
    that distances alone explain. level_difference_db: second minus first, None when unknown. first_null_hz and
    ripple_db describe the IN state (the OUT state where only that is apart); None where they mean nothing.
    sources: every source of the same cause, the worst hit first.
    ripple_moved_db: the deepest ripple when one of the two moves by 6 dB. worst_state, gap_worst: the planned state in
    which the cause does most harm, and its spread there. apart_in: all planned states in which it is apart; cues_apart:
    the cues among them. taken_over: by the name of each state in which a unit that stands in has taken over, the worst
    spread in it. harmless: why arrivals that are apart in time do no harm, empty where they do.
    crossover_loss_db: what is lost at a crossover, 0 or below; octave_loss_db: and around it, where whole cycles hide
    it. image_in, image_out: which of two loudspeakers is heard as the place of the sound, empty where neither is or
    nobody can tell. inside: it happens within one processor; `joined` names its chain, `places` the loops.
    """

    kind: MeetingClass
    joined: str
    places: tuple[str, ...]
    sources: tuple[str, ...]
    first: str
    second: str
    loops: tuple[str, ...]
    gap_in: Gap
    gap_out: Gap
    natural_s: float
    level_difference_db: float | None
    inverted: bool
    first_null_hz: float | None
    ripple_db: float | None
    deciding: str | None
    sentence: str
    ripple_moved_db: float | None = None
    worst_state: str = ""
    gap_worst: Gap | None = None
    apart_in: tuple[str, ...] = ()
    cues_apart: tuple[str, ...] = ()
    taken_over: tuple[tuple[str, Gap], ...] = ()
    harmless: str = ""
    crossover_loss_db: float | None = None
    octave_loss_db: float | None = None
    image_in: str = ""
    image_out: str = ""
    inside: bool = False

    @property
    def slight(self) -> bool:
        """Tell whether it combs, or costs a crossover, so little as mixed that it is told, not warned of."""
        lost = self.crossover_loss_db
        if lost is not None and self.octave_loss_db is None and lost >= SUB_SLIGHT_DB - 1e-9:
            return True
        return self.kind != "picture" and self.ripple_db is not None and self.ripple_db < SLIGHT_DB

    @property
    def verdict(self) -> Verdict:
        """The worse of the two states."""
        return max((self.gap_in.verdict, self.gap_out.verdict), key=WORSE.index)

    @property
    def apart_taken_over(self) -> tuple[tuple[str, Gap], ...]:
        """The states, with their spreads, in which it is apart only because a unit that stands in has taken over."""
        if self.verdict != "together" or self.harmless:
            return ()
        return tuple((state, gap) for state, gap in self.taken_over if gap.verdict == "apart")


def harm(meeting: Meeting) -> tuple[object, ...]:
    """Return the order of the heard-twice list: worst verdict, deepest comb, widest spread, then names."""
    depth = meeting.ripple_db if meeting.ripple_db is not None else 0.0
    return (
        -WORSE.index(meeting.verdict),
        -min(depth, 60.0),
        -max((width(gap) for gap in (meeting.gap_in, meeting.gap_out)), default=0.0),
        meeting.places,
        meeting.first,
        meeting.second,
        meeting.sources,
    )


def width(gap: Gap) -> float:
    """Return how wide a spread is in seconds, at most 10; that also where it is unknown, 0 where one is alone."""
    if gap.verdict == "alone":
        return 0.0
    return min(abs(gap.typical), 10.0) if math.isfinite(gap.typical) else 10.0
