"""Items and what they are set to, in the words of the paper."""

from __future__ import annotations

from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.plan.tick import Item, Patch, Slot, Value


def page_of(item: Item) -> str:
    """Return where an item is set, in plain words."""
    return {
        "unit": "unit",
        "slot": "unit",
        "strip": "strip",
        "block": "routing",
        "cable": "jacks",
        "insert": "insert of the strip",
        "copy": "routing",
        "in": "strip",
        "turn": "routing",
        "back": "strip",
        "key": "user keys",
        "mute": "outputs",
    }[item.kind]


def item_words(desk: Desk, item: Item, last: int | None = None) -> str:
    """Return an item by name. last: the number of the last of a run of strips or slots."""
    numbers = str(item.number) if last in (None, item.number) else f"{item.number}-{last}"
    if item.kind == "slot":
        return f"{item.name}, channel {numbers}"
    if item.kind == "strip":
        return f"{item.name} strip {numbers}"
    return {
        "block": f"source of {item.name}",
        "copy": f"copy of {item.name}",
        "in": f"{item.name}: {desk.bypass.key}",
        "turn": f"source of {item.name}",
        "key": f"key {item.number}",
        "mute": "all outputs and ears",
    }.get(item.kind, item.name)


def value_words(desk: Desk, item: Item, value: Value) -> str:
    """Return what an item is set to."""
    if item.kind == "block":
        assert isinstance(value, int), "a block is set to a choice by its index"
        choice = desk.blocks[item.number].choices[value]
        return str(choice.from_) + (f" on {choice.covers}" if choice.covers else "")
    if isinstance(value, Slot):
        return f"{f'chain {value.chain}' if value.chain else 'no chain'}, back on {value.out.group}"
    if isinstance(value, Patch):
        return f"send {value.send}, return {value.returns}"
    if isinstance(value, Ports):
        return f"also to {value}" if item.kind == "copy" else str(value)
    if isinstance(value, tuple):
        return f"takes OUT: {', '.join(value)}"
    return {
        "unit": ("off", "on, passing audio"),
        "slot": ("empty", ""),
        "strip": ("as found", "shut"),
        "cable": ("unplugged", ""),
        "insert": ("no insert", ""),
        "copy": ("nothing", ""),
        "in": ("OUT", "IN"),
        "turn": ("its mix", ""),
        "back": ("muted", "unmuted"),
        "key": ("as found", ""),
        "mute": ("as found", "muted"),
    }[item.kind][bool(value)]
