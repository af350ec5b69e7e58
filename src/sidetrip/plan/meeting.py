"""A meeting as a result: two arrivals of one source, and all that share their cause."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.plan.gap import Gap, MeetingClass, Verdict

_WORSE: tuple[Verdict, ...] = ("alone", "together", "cannot tell", "apart")


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two arrivals of one source at one place, and all that share their cause.

    joined: the strip where the two ways join, empty where they meet in the air. places: everywhere it is heard.
    loops: the loops that only one of the two passes.
    first, second: routes in words. gap_in, gap_out: second minus first, all loops IN and all OUT. natural_s: the part
    that distances alone explain. level_difference_db: second minus first, None when unknown. first_null_hz and
    ripple_db describe the IN state (the OUT state where only that is apart); None where they mean nothing.
    sources: every source of the same cause, the worst hit first.
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

    @property
    def verdict(self) -> Verdict:
        """The worse of the two states."""
        return max((self.gap_in.verdict, self.gap_out.verdict), key=_WORSE.index)


def harm(meeting: Meeting) -> tuple[object, ...]:
    """Return the order of the heard-twice list: worst verdict, deepest comb, widest spread, then names."""
    depth = meeting.ripple_db if meeting.ripple_db is not None else 0.0
    widest = max((abs(gap.typical) for gap in (meeting.gap_in, meeting.gap_out) if gap.verdict != "alone"), default=0.0)
    return (
        -_WORSE.index(meeting.verdict),
        -min(depth, 60.0),
        -min(widest, 10.0),
        meeting.places,
        meeting.first,
        meeting.second,
        meeting.sources,
    )
