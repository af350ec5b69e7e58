"""A desk type: strips, ports, blocks, insert points, hops and how a loop is taken OUT.

A generic class of desk, no maker named. Every figure has a standing; what a figure does not say for itself, the
file says for it (`standing`, `source`).
"""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from sidetrip.model.base import Name, Names, Strict, Whole, YesNo
from sidetrip.model.figure import Amount, AnyFact, Standing
from sidetrip.model.ports import PortRun, Ports, parse_ports

StripName = Literal["channel", "return", "group", "aux", "main", "matrix"]


class InsertPoint(Strict):
    """Where a strip lets its audio out and takes it back."""

    send_alive_when_out: AnyFact
    send_alive_when_muted: AnyFact


class StripKind(Strict):
    """One pool of strips that are alike.

    kinds: what a strip of this pool may serve as. legs: how many mono strips; a stereo strip takes an odd-even two.
    order: the processing order; "insert" marks the insert point. Taps are named "before X" and "after X".
    """

    kinds: Annotated[tuple[StripName, ...], Field(min_length=1)]
    legs: Whole = Field(ge=1, le=512)
    order: Names
    insert: InsertPoint | None = None


class PortGroup(Strict):
    """A numbered row of ports.

    strip: the strip kind that each input port feeds by itself, the first port strip `strip_from`, and so on.
    mirrors: for output jacks that repeat other ports one to one, the ports that they repeat.
    """

    name: Name
    direction: Literal["in", "out"]
    count: Whole = Field(ge=1, le=512)
    jacks: YesNo
    strip: StripName | None = None
    strip_from: Whole = Field(default=1, ge=1, le=512)
    strip_open: YesNo = False
    mirrors: PortRun | None = None

    def strips_of(self, ports: Ports) -> Ports | None:
        """Return the strips that these ports of the group feed by themselves, None where they feed none."""
        shift = self.strip_from - 1
        return Ports(self.strip, ports.first + shift, ports.last + shift) if self.strip is not None else None


def _source(value: Any) -> Any:
    if value in ("jacks", "any port") or isinstance(value, Ports):
        return value
    try:
        return parse_ports(value if isinstance(value, str) else "")
    except ValueError:
        why = "should be jacks, any port, or ports written like 'card in 25-28'"
        raise PydanticCustomError("source", "{why}", {"why": why}) from None


class Choice(Strict):
    """One source that a block can take; `covers` is the part of the block that changes, all of it if left out.

    any port: whatever else the desk can bring there, one port at a time; only in a line of blocks of one port.
    """

    from_: Annotated[Ports | Literal["jacks", "any port"], BeforeValidator(_source)] = Field(alias="from")
    covers: PortRun | None = None

    def part(self, number: int, each: int) -> Choice:
        """Return the choice of the block of this number (from 0) in a line of blocks of `each` ports.

        A source as wide as one block is the same for all of them; a wider one is stepped through.
        """
        if not isinstance(self.from_, Ports) or len(self.from_) == each:
            return self
        first = self.from_.first + number * each
        return self.model_copy(update={"from_": Ports(self.from_.group, first, first + each - 1)})


def _as_kinds(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _choice(value: Any) -> Any:
    return {"from": value} if isinstance(value, str) else value


class Block(Strict):
    """Ports, or channel strips, whose source is chosen together. The first choice is the desk as delivered.

    each: the line stands for many blocks, each of so many ports; their sources step along with them.
    """

    feeds: PortRun
    each: Whole | None = Field(default=None, ge=1, le=512)
    choices: Annotated[tuple[Annotated[Choice, BeforeValidator(_choice)], ...], Field(min_length=1)]

    @property
    def name(self) -> str:
        """Say which block, in the words of the paper."""
        return f"source of {self.feeds}"

    def covered(self, choice: Choice) -> Ports:
        """Return the ports of the block that a choice changes."""
        return choice.covers or self.feeds

    @property
    def parts(self) -> tuple[Block, ...]:
        """The blocks that this line stands for, itself where it is one block."""
        if self.each is None:
            return (self,)
        group, first, each = self.feeds.group, self.feeds.first, self.each
        return tuple(
            Block(
                feeds=Ports(group, first + number * each, first + (number + 1) * each - 1),
                choices=tuple(choice.part(number, each) for choice in self.choices),
            )
            for number in range(len(self.feeds) // each)
        )


class Carrier(Strict):
    """Ports that carry inserts, numbered together: the n-th send port comes back on the n-th return port."""

    send: PortRun
    returns: PortRun = Field(alias="return")


class Connection(Strict):
    """A socket for a computer: the port group that leaves the desk there and the one that comes back."""

    name: Name
    out: Name
    back: Name


class OutputWay(Strict):
    """Port groups between which a loop can sit behind a mix: out to the unit, back and on to the loudspeaker."""

    out: Names
    back: Names


class Hop(Strict):
    """The delay from one kind of place to another, in frames; another figure may hold at 96 kHz."""

    from_: Names = Field(alias="from")
    to: Names
    frames: Amount
    frames_at_96000: Amount | None = None


class Compensation(Strict):
    """Copies that the desk holds back by itself at the entrance of a mix, until the latest copy has come.

    at: kinds of mixes that do so. holds: kinds of strips whose copies are held there. limit_frames: the longest that
    a copy can be held. external_inserts: whether the time of a loop that is IN is counted: yes, no or unknown.
    """

    at: Annotated[tuple[StripName, ...], BeforeValidator(_as_kinds), Field(min_length=1)]
    holds: Annotated[tuple[StripName, ...], BeforeValidator(_as_kinds), Field(min_length=1)]
    limit_frames: Amount
    external_inserts: AnyFact


class Bypass(Strict):
    """How a loop is taken OUT at the desk, which must not depend on the unit."""

    key: Name
    presses: Amount
    seconds: Amount
    output_key: Name
    output_presses: Amount
    output_seconds: Amount
    group_keys: Whole = Field(ge=0, le=64)
    group_key_takes_inserts: AnyFact


class Desk(Strict):
    """The whole desk type. stereo: which pairs of ports a stereo loop may sit on.

    returns_alone: whether an insert can take another return port while its send stays; else both move together.
    """

    version: Whole = Field(alias="sidetrip_desk")
    name: Name
    summary: Name
    standing: Standing = "assumed"
    source: Name
    rates: Annotated[tuple[Annotated[Whole, Field(ge=8000, le=768000)], ...], Field(min_length=1)]
    name_length: Whole = Field(ge=1, le=200)
    strips: Annotated[tuple[StripKind, ...], Field(min_length=1)]
    taps: dict[StripName, Name]
    ports: Annotated[tuple[PortGroup, ...], Field(min_length=1)]
    stereo: Literal["odd-even", "any pair"] = "odd-even"
    returns_alone: YesNo = False
    block_lines: tuple[Block, ...] = Field(default=(), alias="blocks")
    carriers: tuple[Carrier, ...] = ()
    connections: tuple[Connection, ...] = ()
    output_ways: tuple[OutputWay, ...] = ()
    hops: tuple[Hop, ...]
    compensation: tuple[Compensation, ...] = ()
    delay_step_frames: Amount
    delay_max_ms: Amount
    bypass: Bypass
    facts: dict[Name, AnyFact] = Field(default_factory=dict)

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """Every block by itself, in the order of the file."""
        return tuple(part for line in self.block_lines for part in line.parts)

    def pool(self, kind: str) -> StripKind | None:
        """Return the pool that strips of this kind come from, None where the desk has none."""
        return next((pool for pool in self.strips if kind in pool.kinds), None)

    def group(self, name: str) -> PortGroup | None:
        """Return the port group of this name, None where the desk has none."""
        return next((group for group in self.ports if group.name == name), None)

    def has(self, ports: Ports) -> bool:
        """Tell whether the desk has all these ports."""
        group = self.group(ports.group)
        return group is not None and ports.last <= group.count

    def connection(self, name: str) -> Connection | None:
        """Return the socket of this name, None where the desk has none."""
        return next((socket for socket in self.connections if socket.name == name), None)


FACTS: dict[str, str] = {
    "channel strips at higher rates": "How many strips remain at double rates?",
    "fader and the send": "Does the send follow the fader, or stay alive with the fader down?",
    "return ports as strips": "Do return ports also appear as strips, and are they open by default?",
    "playback switch": "Which inputs does a playback check switch to the card: channels, aux inputs, or both?",
    "taps": "Are taps for sends, direct outs and matrices chosen per strip or for all at once?",
    "matrix sources": "Can a matrix take main and groups and channels?",
    "own compensation": "What does the desk align by itself, up to what limit, and does it count external inserts?",
    "clock leaders": "Which clocks can lead?",
    "recall scope": "What does a scene store of routing and insert state, and what can be kept out of recall?",
    "routing lock": "Can a key take inserts OUT while the routing page is locked?",
    "bypass sound": "Does IN to OUT cross-fade or click?",
    "meters": "Which meters can be read from outside, how often, before or after the insert?",
    "control port": "Can insert state be read and written from outside, and how fast does it act?",
    "name characters": "Which characters can names have?",
    "start": "How long does it take to start, and what state follows a loss of power?",
    "recorder": "Which formats does the built-in recorder write, and from which taps?",
}
"""Questions to ask of any desk whose answers are words; the figures and lists above answer the others."""
