"""A rig as data: entries, boxes, catches and a recorder; how to build one of loops, and how to patch it otherwise.

Units and signs throughout: delays are frames at the rig's rate, fractions allowed, positive is later; gains are dB,
positive is louder; polarity is `inverted`; noise is dBFS rms (AES17: a full-scale sine reads 0 dBFS). Entries, boxes,
loops and catches count from 0. A loop is the box of that number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter
from typing import Literal

from sidetrip.rig.boxes import Processor

Source = tuple[Literal["entry", "box"], int]
"""Where sound comes from: a channel of the signal, or the output of a box."""

Slip = tuple[int, int]
"""(at_frame, frames): where frames are lost or repeated, and how many."""

REFERENCE = "reference"
"""Name of the catch that went round no loop."""


@dataclass(frozen=True, slots=True)
class Feed:
    """One copy of something arriving at an input."""

    source: Source
    gain_db: float = 0.0
    delay_frames: float = 0.0
    inverted: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """Anything with one input and one output: a unit, a converter, a strip.

    In this order: the feeds add up; then processors, gain and polarity; delay and clock; noise; slips.
    ppm: the box gives back on its own clock. Positive is fast: what it returns is played faster and higher by ppm, and
    the delay shrinks. Frame t of the output is the input at t * (1 + ppm / 1e6) - delay_frames, so that delay_frames
    holds where the signal starts. lost: frames thrown away, what follows arrives early. repeated: the block before is
    played again in place, what follows keeps its time. Both count in frames after the signal starts, on the intact
    output. dead: gives back nothing, not even noise.
    """

    name: str
    feeds: tuple[Feed, ...]
    delay_frames: float = 0.0
    gain_db: float = 0.0
    inverted: bool = False
    processors: tuple[Processor, ...] = ()
    noise_dbfs: float | None = None
    ppm: float = 0.0
    lost: tuple[Slip, ...] = ()
    repeated: tuple[Slip, ...] = ()
    dead: bool = False


@dataclass(frozen=True, slots=True)
class Catch:
    """A track of the recorder: its feeds add up, and its converter adds noise_dbfs of noise (None: none)."""

    name: str
    feeds: tuple[Feed, ...]
    noise_dbfs: float | None = None


@dataclass(frozen=True, slots=True)
class Recorder:
    """What catches the returns.

    rate_hz: what the header of the file says. true_rate_hz: what it ran at, None for the same. ppm: its clock against
    the player's; positive is fast, so that it takes more frames and delays look longer. start_frames: the recording
    starts this many frames (at the rig's rate) after the signal; negative is before, with silence and noise first.
    length_frames: of the file; None records until everything has come back. bits: 16, 24 or None (no rounding, no
    clipping). lost, repeated: as in a box, on all tracks, in frames of the intact file.
    """

    rate_hz: int
    ppm: float = 0.0
    true_rate_hz: float | None = None
    start_frames: float = 0.0
    length_frames: int | None = None
    bits: Literal[16, 24] | None = None
    lost: tuple[Slip, ...] = ()
    repeated: tuple[Slip, ...] = ()


@dataclass(frozen=True, slots=True)
class Rig:
    """All of it; rate_hz: rate of the signal and of the player's clock. Boxes must not feed themselves."""

    rate_hz: int
    entries: int
    boxes: tuple[Box, ...]
    catches: tuple[Catch, ...]
    recorder: Recorder
    order: tuple[int, ...] = field(init=False, repr=False, compare=False)
    """Boxes such that each comes after those that feed it."""

    def __post_init__(self) -> None:
        """Refuse feeds from nowhere and boxes in a circle."""
        sizes = {"entry": self.entries, "box": len(self.boxes)}
        places: tuple[Box | Catch, ...] = (*self.boxes, *self.catches)
        for place in places:
            for feed in place.feeds:
                kind, number = feed.source
                if not 0 <= number < sizes[kind]:
                    raise ValueError(f"{place.name} is fed by {kind} {number} of {sizes[kind]}. Count from 0.")
        fed_by = [{feed.source[1] for feed in box.feeds if feed.source[0] == "box"} for box in self.boxes]
        try:
            object.__setattr__(self, "order", tuple(TopologicalSorter(dict(enumerate(fed_by))).static_order()))
        except CycleError as error:
            circle = " -> ".join(self.boxes[number].name for number in error.args[1])
            raise ValueError(f"The boxes feed each other in a circle: {circle}. Take one feed away.") from error


@dataclass(frozen=True, slots=True)
class LoopSpec:
    """What is round one loop; fields as in `Box`."""

    delay_frames: float
    gain_db: float = 0.0
    inverted: bool = False
    processors: tuple[Processor, ...] = ()
    noise_dbfs: float | None = None
    ppm: float = 0.0

    @property
    def box(self) -> Box:
        """Return the box of the loop, fed by nothing yet."""
        return Box("", (), self.delay_frames, self.gain_db, self.inverted, self.processors, self.noise_dbfs, self.ppm)


def straight(
    rate_hz: int,
    loops: Sequence[LoopSpec],
    reference: bool = True,
    *,
    noise_dbfs: float | None = None,
    recorder: Recorder | None = None,
) -> Rig:
    """Return a rig of loops, each fed by its own entry and caught on its own track, all in order.

    reference: a last catch carries a dry copy of entry 0. noise_dbfs: of every catch. recorder: None for one that
    runs with the player, starts with the signal and rounds nothing.
    """
    boxes = (replace(loop.box, name=f"loop {n + 1}", feeds=(Feed(("entry", n)),)) for n, loop in enumerate(loops))
    catches = [Catch(f"return {n + 1}", (Feed(("box", n)),), noise_dbfs) for n in range(len(loops))]
    if reference:
        catches.append(Catch(REFERENCE, (Feed(("entry", 0)),), noise_dbfs))
    return Rig(rate_hz, len(loops), tuple(boxes), tuple(catches), recorder or Recorder(rate_hz))


def returns(rig: Rig) -> tuple[int, ...]:
    """Return the numbers of the catches that are not the reference."""
    return tuple(number for number, catch in enumerate(rig.catches) if catch.name != REFERENCE)


def return_of(rig: Rig, loop: int) -> int | None:
    """Return the number of the catch that hears a loop loudest; None if none does."""
    heard = [
        (-feed.gain_db, number)
        for number, catch in enumerate(rig.catches)
        for feed in catch.feeds
        if feed.source == ("box", loop)
    ]
    return min(heard)[1] if heard else None


def entry_of(rig: Rig, loop: int) -> int:
    """Return the entry that feeds a loop loudest."""
    feeds = [(-feed.gain_db, feed.source[1]) for feed in rig.boxes[loop].feeds if feed.source[0] == "entry"]
    if not feeds:
        raise ValueError(f"{rig.boxes[loop].name} is fed by no entry. Name a loop that has a send.")
    return min(feeds)[1]


def with_box(rig: Rig, loop: int, box: Box) -> Rig:
    """Return the rig with another box in a loop."""
    if not 0 <= loop < len(rig.boxes):
        raise ValueError(f"There is no loop {loop} among {len(rig.boxes)}. Count from 0.")
    return replace(rig, boxes=tuple(box if number == loop else old for number, old in enumerate(rig.boxes)))


def with_feeds(rig: Rig, catch: int, feeds: tuple[Feed, ...]) -> Rig:
    """Return the rig with a catch that hears other feeds."""
    catches = (replace(old, feeds=feeds) if number == catch else old for number, old in enumerate(rig.catches))
    return replace(rig, catches=tuple(catches))


def permuted(rig: Rig, order: Sequence[int]) -> Rig:
    """Return n carries what return order[n] carried; the reference stays."""
    catches = returns(rig)
    if sorted(order) != list(range(len(catches))):
        raise ValueError(f"This is no order of {len(catches)} returns: {list(order)}. Name each once, from 0.")
    return _carrying(rig, [catches[old] for old in order])


def shifted(rig: Rig) -> Rig:
    """Return n carries what return n - 1 carried, the first is empty, and the last send is lost."""
    return _carrying(rig, [None, *returns(rig)[:-1]])


def swapped(rig: Rig, a: int, b: int) -> Rig:
    """Returns a and b are exchanged."""
    order = list(range(len(returns(rig))))
    order[a], order[b] = b, a
    return permuted(rig, order)


def crosstalk(rig: Rig, from_loop: int, to_loop: int, db: float) -> Rig:
    """The return of a loop is also heard where another's is: at its own delay, db re its own level."""
    return _copied(rig, from_loop, _return(rig, to_loop), db, 0.0)


def doubled(rig: Rig, loop: int, db: float, extra_frames: float) -> Rig:
    """A second copy of a return arrives another way: db re the first and extra_frames later."""
    return _copied(rig, loop, _return(rig, loop), db, extra_frames)


def leaking(rig: Rig, loop: int, db: float) -> Rig:
    """The insert is OUT: the catch hears the entry dry, at 0 dB, and still the loop at db re its own return."""
    number = _return(rig, loop)
    feeds = tuple(
        replace(feed, gain_db=feed.gain_db + db) if feed.source == ("box", loop) else feed
        for feed in rig.catches[number].feeds
    )
    return with_feeds(rig, number, (Feed(("entry", entry_of(rig, loop))), *feeds))


def all_out(rig: Rig) -> Rig:
    """Every insert is OUT: each return carries its entry dry and nothing of its loop."""
    new = rig
    for loop in range(len(rig.boxes)):
        if (number := return_of(rig, loop)) is not None:
            new = with_feeds(new, number, (Feed(("entry", entry_of(rig, loop))),))
    return new


def silent(rig: Rig, loop: int) -> Rig:
    """Nothing comes back from a loop."""
    return with_box(rig, loop, replace(rig.boxes[loop], dead=True))


def inverted(rig: Rig, loop: int) -> Rig:
    """A loop has the other polarity."""
    return with_box(rig, loop, replace(rig.boxes[loop], inverted=not rig.boxes[loop].inverted))


def later(rig: Rig, loop: int, frames: float) -> Rig:
    """A loop takes so many frames more."""
    return with_box(rig, loop, replace(rig.boxes[loop], delay_frames=rig.boxes[loop].delay_frames + frames))


def louder(rig: Rig, loop: int, db: float) -> Rig:
    """A loop is so many dB louder."""
    return with_box(rig, loop, replace(rig.boxes[loop], gain_db=rig.boxes[loop].gain_db + db))


def with_processor(rig: Rig, loop: int, processor: Processor) -> Rig:
    """A processor more at the end of a loop's chain, which is before its gain."""
    return with_box(rig, loop, replace(rig.boxes[loop], processors=(*rig.boxes[loop].processors, processor)))


def drifting(rig: Rig, loop: int, ppm: float) -> Rig:
    """A loop runs on a clock of its own; positive ppm is fast, and its delay shrinks."""
    return with_box(rig, loop, replace(rig.boxes[loop], ppm=ppm))


def without_reference(rig: Rig) -> Rig:
    """The recorder has no track of what went round no loop."""
    return replace(rig, catches=tuple(rig.catches[number] for number in returns(rig)))


def _carrying(rig: Rig, olds: Sequence[int | None]) -> Rig:
    """Return the rig whose returns hear, in order, what these catches heard; None hears nothing."""
    new = rig
    for number, old in zip(returns(rig), olds, strict=True):
        new = with_feeds(new, number, () if old is None else rig.catches[old].feeds)
    return new


def _return(rig: Rig, loop: int) -> int:
    number = return_of(rig, loop)
    if number is None:
        raise ValueError(f"No catch hears {rig.boxes[loop].name}. Name a loop that comes back.")
    return number


def _copied(rig: Rig, loop: int, to_catch: int, db: float, extra_frames: float) -> Rig:
    copies = tuple(
        replace(feed, gain_db=feed.gain_db + db, delay_frames=feed.delay_frames + extra_frames)
        for feed in rig.catches[_return(rig, loop)].feeds
        if feed.source == ("box", loop)
    )
    return with_feeds(rig, to_catch, rig.catches[to_catch].feeds + copies)
