"""The shape of the plan as JSON; `docs/reference/plan.schema.json` is made from it."""

from __future__ import annotations

from typing import Literal

from typing_extensions import TypedDict  # the library that makes the schema asks for this one before Python 3.12

from sidetrip.reports.alignment_docs import AlignmentDoc

Standing = Literal["proven", "assumed", "unknown"]


class MovedDoc(TypedDict):
    """One thing that is otherwise in the case asked about. worse: now beyond a limit, or heard twice."""

    kind: str
    name: str
    before: str
    after: str
    worse: bool


class WhatIfDoc(TypedDict):
    """What was asked, and what is otherwise then than in the plan as it stands with all loops IN."""

    asked: str
    differences: list[str]
    moved: list[MovedDoc]
    heard_twice_before: int
    heard_twice_after: int


class FindingDoc(TypedDict):
    """One finding, without the line, which moves."""

    code: str
    severity: Literal["error", "warning", "note"]
    where: str
    what: str
    values: str
    remedy: str


class DelayDoc(TypedDict):
    """A time in ms: equal bounds for a plain figure, high null when unknown."""

    low_ms: float
    high_ms: float | None
    standing: Standing


class PartDoc(TypedDict):
    """One part of a time."""

    label: str
    kind: str
    delay: DelayDoc


class UnitDoc(TypedDict):
    """A unit as planned; basis says where its round trip comes from. stands_in_for: null for none."""

    name: str
    kind: Literal["computer", "hardware"]
    buffer_frames: int | None
    round_trip: DelayDoc
    basis: str
    residual_frames: float | None
    spread_frames: float
    buffer_chosen_because: str
    stands_in_for: str | None


class LoopDoc(TypedDict):
    """A strip that goes out. blank: it goes along with its block, and nobody asked for it; then its want is null."""

    strip: str
    way: Literal["insert", "in-line", "send-and-strip", "output"]
    want: int | str | None
    blank: bool
    back_on: str | None
    unit: str
    chain: str | None
    width: int
    send: str
    return_: str
    unit_in: str
    unit_out: str
    delay: DelayDoc
    parts: list[PartDoc]


class RefusalDoc(TypedDict):
    """A strip that stays in."""

    strip: str
    want: int | str
    chain: str | None
    reason: str
    would_fit_if: list[str]
    pair: list[str]
    tried: int


class BlockDoc(TypedDict):
    """A block whose source changes."""

    block: str
    was: str
    becomes: str
    lost: str


class StateDoc(TypedDict):
    """A state of the show. instead: the unit that has taken over from one that died, null for none."""

    name: str
    out: list[str]
    dead: list[str]
    instead: str | None


class ArrivalDoc(TypedDict):
    """One path. Bounds in the order of the states: both null where silent, high null where a part is unknown.

    standing: with all its loops IN.
    """

    source: str
    place: str
    place_kind: str
    route: list[str]
    output: str | None
    loops: list[str]
    level_db: float | None
    inverted: bool
    standing: Standing
    low_ms: list[float | None]
    high_ms: list[float | None]


class EarDoc(TypedDict):
    """What reaches somebody's ears. desk: the other desk it is mixed on, null for the show's own. loops: on its way."""

    mix: str
    desk: str | None
    performer: str
    source: str
    own: bool
    in_ms: float | None
    out_ms: float | None
    added_ms: float | None
    loops: list[str]
    standing: Standing


class GapDoc(TypedDict):
    """A spread in one state."""

    low_ms: float | None
    high_ms: float | None
    verdict: Literal["together", "apart", "alone", "cannot tell"]


class InsteadDoc(TypedDict):
    """A state in which a unit that stands in has taken over, and the worst spread in it."""

    state: str
    spread: GapDoc


class MeetingDoc(TypedDict):
    """Two arrivals of one source, and all that share their cause.

    worst_state, worst: the planned state in which they do most harm. apart_in: all planned states in which they are
    apart. taken_over: the spread once a unit that stands in has taken over, state by state. harmless: why they do no
    harm although apart in time. ripple_moved_db: if a level moves by 6 dB.
    image_in, image_out: which loudspeaker is heard as the place of the sound, null where neither is or nobody can tell.
    """

    kind: str
    joined: str
    places: list[str]
    sources: list[str]
    first: str
    second: str
    loops: list[str]
    all_in: GapDoc
    all_out: GapDoc
    natural_ms: float
    level_difference_db: float | None
    inverted: bool
    first_null_hz: float | None
    ripple_db: float | None
    ripple_moved_db: float | None
    crossover_loss_db: float | None
    worst_state: str | None
    worst: GapDoc | None
    apart_in: list[str]
    taken_over: list[InsteadDoc]
    image_in: str | None
    image_out: str | None
    harmless: str | None
    deciding: str | None
    sentence: str
    remedy: str | None


class StepDoc(TypedDict):
    """One step at the desk."""

    number: int
    kind: str
    page: str
    item: str
    was: str
    becomes: str
    meter: str
    lost: str
    undo: str
    minutes: float
    needs: list[int]


class PatchGapDoc(TypedDict):
    """A danger that lasts from one step until another, because no order of the steps avoids it."""

    danger: Literal["ring", "dead", "lost", "disturbed"]
    at: str
    first: int
    last: int
    minutes: float


class SceneChangeDoc(TypedDict):
    """One thing that a scene would set otherwise than the plan."""

    item: str
    planned: str
    recalled: str
    does: str


class SceneDoc(TypedDict):
    """What recalling a scene would do to the patch."""

    scene: str
    verdict: Literal["feeds back", "silence", "loop OUT", "changes the patch", "leaves the patch alone"]
    does: str
    out: list[str]
    exclude: list[str]
    changes: list[SceneChangeDoc]


class PressDoc(TypedDict):
    """One loop taken OUT by hand."""

    strip: str
    key: str
    presses: float | None
    seconds: float | None
    earlier: DelayDoc


class CueStepDoc(TypedDict):
    """One thing that a cue does to loops; cue null: before the first of them."""

    cue: float | None
    item: str
    was: str
    becomes: str


class KeyDoc(TypedDict):
    """One key that takes several loops OUT."""

    number: int
    label: str
    strips: list[str]
    sure: bool


class FailureDoc(TypedDict):
    """A unit that dies with nothing pressed."""

    unit: str
    silent: list[str]
    passing: list[str]
    unsure: list[str]


class ActDoc(TypedDict):
    """One thing changed to bring another unit in."""

    what: str
    becomes: str
    presses: float | None
    seconds: float | None


class TakeOverDoc(TypedDict):
    """A loop as the unit carries it that stands in. later: how much later its sound comes then, below zero earlier."""

    loop: str
    send: str
    return_: str
    unit_in: str
    unit_out: str
    later: DelayDoc


class HandOverDoc(TypedDict):
    """One unit that can take over from another. timed: somebody has timed it. ask: what no show file tells."""

    unit: str
    by: str
    switch: Literal["by strip", "by block", "by box"]
    acts: list[ActDoc]
    presses: float | None
    seconds: float | None
    timed: bool
    loops: list[TakeOverDoc]
    not_cured: list[str]
    ask: list[str]


class RecoveryDoc(TypedDict):
    """What to press if it dies."""

    danger: str
    keys: list[KeyDoc]
    presses: list[PressDoc]
    failures: list[FailureDoc]
    seconds_by_hand: float | None
    hand_overs: list[HandOverDoc]


class PlanDoc(TypedDict):
    """The whole plan."""

    show: str
    desk: str
    sample_rate_hz: int
    units: list[UnitDoc]
    loops: list[LoopDoc]
    refusals: list[RefusalDoc]
    blocks: list[BlockDoc]
    spare_returns: list[str]
    rings: list[list[str]]
    states: list[StateDoc]
    arrivals: list[ArrivalDoc]
    ears: list[EarDoc]
    meetings: list[MeetingDoc]
    steps: list[StepDoc]
    undo: list[int]
    patch_minutes: float
    patch_gaps: list[PatchGapDoc]
    scenes: list[SceneDoc]
    cues: list[CueStepDoc]
    recovery: RecoveryDoc
    alignment: AlignmentDoc


class PlanFile(TypedDict):
    """What `sidetrip plan --json` prints; plan is null when none could be made, and the findings say why."""

    sidetrip_plan: int
    plan: PlanDoc | None
    findings: list[FindingDoc]
    what_if: WhatIfDoc | None
