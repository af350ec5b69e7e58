"""A tick: what is set at the desk between two steps. Nothing here knows what sounds; `tick_map` and `judge` do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.ways import current_choice

ItemKind = Literal["unit", "slot", "strip", "block", "cable", "insert", "copy", "in", "turn", "back", "key", "mute"]
"""What can be set.

unit: a unit is on and passes audio. slot: one channel of a computer. strip: a strip without an input is shut. block:
the source of a block. cable: a box is plugged. insert: ports on a strip's insert point. copy: an output, or a strip,
is also sent to ports. in: an insert is IN. turn: an output is fed from ports. back: an input strip that a loop comes
back on is open. key: what a user key takes OUT. mute: all outputs are muted.
"""


@dataclass(frozen=True, slots=True, order=True)
class Item:
    """One thing that can be set. name: of the unit, strip, output or block; for a strip without an input its kind.

    number: the port of a slot, the strip's number, the block's index in the desk file, the key's number.
    """

    kind: ItemKind
    name: str
    number: int = 0


@dataclass(frozen=True, slots=True)
class Patch:
    """A way out and a way back: of an insert point, or the jacks of a box."""

    send: Ports
    returns: Ports


@dataclass(frozen=True, slots=True)
class Slot:
    """What a computer does with one of its channels: where it gives it back, through which chain, how many legs."""

    out: Port
    chain: str | None
    legs: int


Value = bool | int | Ports | Patch | Slot | tuple[str, ...] | None
Settings = tuple[tuple[Item, Value], ...]

_FALSE = frozenset({"unit", "strip", "in", "back", "mute"})


def usual(item: Item) -> Value:
    """Return what an item is unless somebody sets it: not done, or nothing."""
    return False if item.kind in _FALSE else None


@dataclass(frozen=True, slots=True)
class Tick:
    """Everything that is set, as a mapping that leaves out what is as usual."""

    values: Mapping[Item, Value]

    def value(self, item: Item) -> Value:
        """Return what an item is set to."""
        return self.values.get(item, usual(item))

    def choice(self, block: str, index: int) -> int:
        """Return the choice of a block, by its name and its index in the desk file."""
        value = self.values.get(Item("block", block, index), 0)
        assert isinstance(value, int), "a block is set to a choice by its index"
        return value

    def having(self, changes: Iterable[tuple[Item, Value]]) -> Tick:
        """Return the tick after some items were set."""
        values = dict(self.values)
        for item, value in changes:
            values[item] = value
            if item.kind != "block" and value == usual(item):
                del values[item]
        return Tick(values)


@dataclass(frozen=True, slots=True)
class Difference:
    """An item that is not what it was."""

    item: Item
    found: Value
    left: Value


def as_found(show: Show, desk: Desk) -> Tick:
    """Return the desk as the show finds it: blocks as its inputs need them, nothing plugged, assigned or shut."""
    return Tick(
        {
            Item("block", str(block.feeds), index): current_choice(block, show, desk)
            for index, block in enumerate(desk.blocks)
        }
    )


def differences(found: Tick, left: Tick) -> tuple[Difference, ...]:
    """Return what is not as it was, sorted by item; nothing when the desk is as it was found."""
    items = sorted({*found.values, *left.values})
    pairs = ((item, found.value(item), left.value(item)) for item in items)
    return tuple(Difference(item, was, now) for item, was, now in pairs if was != now)
