"""Items of a tick that a plan sets: the block and the choice of a setting, the channels of a computer."""

from __future__ import annotations

from collections.abc import Iterable

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.assign import BlockSetting
from sidetrip.plan.tick import Item, Settings, Slot


def block_item(desk: Desk, setting: BlockSetting) -> Item:
    """Return the block that a setting turns."""
    index = next(i for i, block in enumerate(desk.blocks) if block.name == setting.block)
    return Item("block", str(desk.blocks[index].feeds), index)


def choice_index(desk: Desk, setting: BlockSetting) -> int:
    """Return the choice to which a setting turns its block."""
    block = desk.blocks[block_item(desk, setting).number]
    words = [str(choice.from_) + (f" on {choice.covers}" if choice.covers else "") for choice in block.choices]
    return words.index(setting.becomes)


def slots_of(show: Show, loops: Iterable[PlacedLoop]) -> Settings:
    """Return what the computers of these loops do with their channels."""
    found: dict[Item, Slot] = {}
    for loop in loops:
        unit = show.unit(loop.unit)
        if unit is None or unit.kind != "computer":
            continue
        for out, back in zip(loop.unit_in.each, loop.unit_out.each, strict=False):
            found[Item("slot", unit.name, out.number)] = Slot(back, loop.chain, loop.legs)
    return tuple(sorted(found.items()))
