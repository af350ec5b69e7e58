"""What alignment finds, as results: settings, repairs, and each meeting before and after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sidetrip.plan.alignment_lines import DeskLines
from sidetrip.plan.alignment_moves import Move
from sidetrip.plan.alignment_program import Open
from sidetrip.plan.gap import Gap
from sidetrip.plan.meeting import Meeting

RepairKind = Literal[
    "inside the unit", "tap", "blank loop", "bypass group", "double patch", "delay", "polarity", "encoder"
]

Became = Literal["cured", "left", "made worse", "accepted", "measure first"]


@dataclass(frozen=True, slots=True)
class Setting:
    """One delay to dial. was_s, in_s, out_s: what the show has, what to dial, and what is right with the loops OUT.

    on: strip or output. steps: of the desk's delay line, from nothing. frames: the same at the show's rate.
    wrong_out: the loops that make it wrong when they are OUT; undo: what to press then, and what to dial back.
    """

    on: Literal["output", "strip"]
    name: str
    was_s: float
    in_s: float
    out_s: float
    steps: int
    frames: float
    wrong_out: tuple[str, ...]
    undo: str


@dataclass(frozen=True, slots=True)
class Repair:
    """One way to cure a meeting. done: whether the numbers count on it."""

    kind: RepairKind
    words: str
    done: bool


@dataclass(frozen=True, slots=True)
class Lacking:
    """What keeps delay lines from curing a meeting: too short, or not there. on: strips and outputs.

    needs_s, left_s: how much later they would have to be dialled than now, and how much later they can be.
    """

    kind: Literal["short", "missing"]
    on: tuple[str, ...]
    needs_s: float
    left_s: float


@dataclass(frozen=True, slots=True)
class Aligned:
    """A meeting before and after. Gaps as the meeting has them: second minus first, all loops IN and all OUT.

    verdict: what became of it. repairs: best first. residue_s: the spread that is left, with where its first dip
    lies; None where it means nothing. why: why it is not cured, and what it will sound like; empty where it is.
    lacking: what the desk lacks for it, None where that is not why.
    """

    meeting: Meeting
    after_in: Gap
    after_out: Gap
    verdict: Became
    repairs: tuple[Repair, ...]
    residue_s: float | None
    residue_null_hz: float | None
    why: str
    lacking: Lacking | None = None


@dataclass(frozen=True, slots=True)
class Alignment:
    """What to dial and to move, and what it does to each meeting that is not together, or would not be.

    measure_first: figures without which something is not dialled. desk: what the desk says of its delay lines.
    proven: whether no better answer exists. left_out: pairs and states that were too many to be weighed.
    open: the aims in which the search was cut short, first things first.
    """

    settings: tuple[Setting, ...]
    moves: tuple[Move, ...]
    meetings: tuple[Aligned, ...]
    measure_first: tuple[str, ...]
    desk: DeskLines
    proven: bool
    left_out: int
    open: tuple[Open, ...] = ()


NOTHING_ALIGNED = Alignment((), (), (), (), DeskLines(None, None, ()), True, 0)
"""For a plan of which nobody wants to know what to dial."""
