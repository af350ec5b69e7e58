"""Steps before they are in order: what each sets, its words, and how long it takes.

The usual order is common practice, no source: units flat, return strips closed, card sources, then the returns, then
cables, inserts assigned but OUT, then IN. So are the minutes: nobody has timed them, and they count as assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Show
from sidetrip.plan.assign import Allocation, BlockSetting
from sidetrip.plan.cue_steps import patched_first
from sidetrip.plan.recovery import GroupKey
from sidetrip.plan.return_strips import strips_to_close
from sidetrip.plan.set_items import block_item, choice_index, slots_of
from sidetrip.plan.take_over import TakeOver
from sidetrip.plan.tick import Item, Patch, Settings

StepKind = Literal[
    "safety", "close", "source", "cable", "assign", "prove", "in", "key", "open", "out", "unit", "reopen"
]

MINUTES: dict[str, float] = {
    "files": 3.0,
    "outputs": 1.0,
    "unit": 2.0,
    "close": 0.5,
    "source": 1.0,
    "cable": 2.0,
    "assign": 1.0,
    "prove": 0.5,
    "in": 0.5,
    "key": 1.0,
    "open": 2.0,
}
"""Minutes of a step, by its kind; a strip's closing and a loop's proof are counted each."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A step without its number. rank: its place in the usual order. sets: what it sets, none for a look."""

    kind: StepKind
    page: str
    item: str
    was: str
    becomes: str
    meter: str
    lost: str = ""
    undo: str = ""
    minutes: float = 0.0
    rank: tuple[int, ...] = ()
    sets: Settings = ()


def files_saved() -> Draft:
    """Return the step before all others."""
    becomes, undo = "saved on two media, routing pages photographed", "load only if all else fails"
    return Draft("safety", "files", "desk as found", "", becomes, "-", undo=undo, minutes=MINUTES["files"])


_MUTE = Item("mute", "outputs")


def outputs_muted() -> Draft:
    """Return the step that mutes all outputs."""
    return Draft(
        "safety",
        "outputs",
        "all outputs and ears",
        "as found",
        "muted, amplifiers down, packs off ears",
        "no output moves",
        undo="unmute last, faders down first",
        minutes=MINUTES["outputs"],
        sets=((_MUTE, True),),
    )


def outputs_opened() -> Draft:
    """Return the step that opens them again."""
    return Draft(
        "open",
        "outputs",
        "all outputs and ears",
        "muted, faders down",
        "unmuted one at a time, faders up slowly",
        "each output moves as before the patch",
        undo="nothing to put back",
        minutes=MINUTES["open"],
        sets=((_MUTE, False),),
    )


def proof(show: Show, desk: Desk, loops: list[PlacedLoop], later: list[str]) -> Draft:
    """Return the look at every loop, between assigning and IN. later: loops that have a port only from a cue on."""
    late = [loop.strip for loop in loops if sends_live(show, desk, loop) != "yes"]
    becomes = "send moves, its own return moves, no other"
    if late:
        becomes += f"; the sends of {', '.join(late)} may live only while IN: prove those right after their IN"
    if later:
        becomes += f"; {', '.join(later)} when run through the cues: see At cues"
    return Draft(
        "prove",
        "meters",
        "every loop, one at a time",
        "",
        becomes,
        "return follows its send, same level",
        undo="nothing to put back",
        minutes=MINUTES["prove"] * len(loops),
    )


def stand_in_proof(allocation: Allocation) -> Draft | None:
    """Return the look at every loop as the unit that stands in carries it; None where none does."""
    taken = allocation.take_overs
    if not taken:
        return None
    units = ", ".join(dict.fromkeys(f"{own.by.unit} in for {own.loop.unit}" for own in taken))
    done = ", ".join(dict.fromkeys(_brought_in(own) for own in taken))
    return Draft(
        "prove",
        "meters",
        units,
        "",
        f"loops still OUT: {done}; its return follows, no other; then as it was",
        "the same level from both units",
        undo="nothing to put back",
        minutes=MINUTES["prove"] * len(taken),
    )


def _brought_in(own: TakeOver) -> str:
    if own.stand.switch == "by box":
        return f"the switch box on {own.by.unit}"
    if own.stand.switch == "by block":
        return f"{own.block} on {own.becomes}"
    moved = f"send {own.by.send} and " if own.by.send != own.loop.send else ""
    return f"{own.loop.strip} on {moved}return {own.by.returns}"


def drafts_of(show: Show, desk: Desk, allocation: Allocation, keys: tuple[GroupKey, ...]) -> list[Draft]:
    """Return every step that sets something but the outputs, in the usual order."""
    loops = by_rank(allocation)
    drafts = [
        *_units_flat(show, allocation),
        *_closed_returns(show, desk, allocation),
        *_kept_shut(allocation),
        *_sources(desk, allocation),
        *_cables(show, loops),
        *_boxes(allocation),
        *(draft for loop in loops for draft in _assign(show, desk, loop)),
        *_in_line(desk, allocation),
        *(draft for loop in loops for draft in _in(desk, loop)),
        *(_key(key) for key in keys),
    ]
    return [replace(draft, rank=(number,)) for number, draft in enumerate(drafts)]


def by_rank(allocation: Allocation) -> list[PlacedLoop]:
    """Return the loops in the order in which they are patched; without those that take their port at a cue."""
    return sorted(patched_first(allocation.loops), key=lambda loop: (loop.way, loop.returns))


def sends_live(show: Show, desk: Desk, loop: PlacedLoop) -> str:
    """Return whether this loop's send is alive while it is OUT: yes, no or unknown, as the desk type answers."""
    pool = desk.pool(show.kind(loop.strip)) if loop.way == "insert" else None
    return pool.insert.send_alive_when_out.answer if pool is not None and pool.insert is not None else "yes"


def _units_flat(show: Show, allocation: Allocation) -> list[Draft]:
    drafts = []
    boxed = {own.by.unit for own in allocation.take_overs if own.stand.switch == "by box"}
    every = (*allocation.loops, *(own.by for own in allocation.take_overs))
    for name in sorted({loop.unit for loop in every}):
        unit = show.unit(name)
        hardware = unit is not None and unit.kind == "hardware"
        becomes = "on, flat or in its own bypass" if hardware else "on, passing audio flat, its own system sounds off"
        own = tuple(loop for loop in (allocation.loops if name in boxed else every) if loop.unit == name)
        drafts.append(
            Draft(
                "safety",
                "unit",
                name,
                "",
                becomes,
                "its inputs idle",
                undo="off when its loops are OUT",
                minutes=MINUTES["unit"],
                sets=((Item("unit", name), True), *slots_of(show, own)),
            )
        )
    return drafts


def _closed_returns(show: Show, desk: Desk, allocation: Allocation) -> list[Draft]:
    return [
        Draft(
            "close",
            "strip",
            f"{strips.group} strip {_numbers(strips)}",
            was,
            "muted, off main and all sends, named RET SHUT",
            "the strip may move, no mix does",
            undo="name and assigns as found, then unmute",
            minutes=MINUTES["close"] * len(strips),
            sets=tuple((Item("strip", strip.group, strip.number), True) for strip in strips.each),
        )
        for strips, was in strips_to_close(show, desk, allocation)
    ]


def _kept_shut(allocation: Allocation) -> list[Draft]:
    """A strip on which a send comes back stays muted until its loop is proven."""
    return [
        Draft(
            "close",
            "strip",
            name,
            "as found",
            "muted, until its loop is proven",
            "the strip may move, no mix does",
            undo="mute as found",
            minutes=MINUTES["close"],
        )
        for name in sorted(loop.back_on for loop in allocation.loops if loop.back_on is not None)
    ]


def _numbers(ports: Ports) -> str:
    return str(ports.first) if ports.first == ports.last else f"{ports.first}-{ports.last}"


def _sources(desk: Desk, allocation: Allocation) -> list[Draft]:
    """Sends to the card first, returns after: a return without its send is silent, never wrong."""
    ordered = sorted(allocation.settings, key=lambda setting: (setting.jacks, str(setting.lost)))
    return [
        Draft(
            "source",
            "routing",
            setting.block,
            setting.was,
            setting.becomes,
            "returns still silent" if setting.jacks else "the card's inputs at the unit idle or move",
            f"{'jacks' if setting.jacks else 'tracks'} {setting.lost}",
            f"back to {setting.was}",
            MINUTES["source"],
            sets=((block_item(desk, setting), choice_index(desk, setting)),),
        )
        for setting in ordered
        if not _of_channels(desk, setting)
    ]


def _of_channels(desk: Desk, setting: BlockSetting) -> bool:
    return desk.blocks[block_item(desk, setting).number].feeds.group == "channel"


def _in_line(desk: Desk, allocation: Allocation) -> list[Draft]:
    """A block of channels that turns to a unit takes all its strips IN at once."""
    return [
        Draft(
            "in",
            "routing",
            setting.block,
            setting.was,
            setting.becomes,
            "every strip of the block keeps its level",
            "",
            f"back to {setting.was}",
            MINUTES["source"],
            sets=((block_item(desk, setting), choice_index(desk, setting)),),
        )
        for setting in sorted(allocation.settings, key=lambda setting: str(setting.lost))
        if _of_channels(desk, setting)
    ]


def _cables(show: Show, loops: list[PlacedLoop]) -> list[Draft]:
    drafts = []
    for loop in loops:
        unit = show.unit(loop.unit)
        if loop.send == loop.unit_in and unit is not None and unit.kind == "hardware":
            drafts.append(
                Draft(
                    "cable",
                    "jacks",
                    unit.name,
                    "unplugged",
                    f"{loop.send} to its input, its output to {loop.returns}",
                    "the return shows the unit's idle noise",
                    f"jacks {loop.send} and {loop.returns}",
                    "unplug both with the loop OUT",
                    MINUTES["cable"],
                    sets=((Item("cable", unit.name), Patch(loop.send, loop.returns)),),
                )
            )
    return drafts


def _boxes(allocation: Allocation) -> list[Draft]:
    """A box in the returns passes the one unit until somebody turns it to the other."""
    stands = dict.fromkeys(own.stand for own in allocation.take_overs if own.stand.switch == "by box")
    return [
        Draft(
            "cable",
            "jacks",
            f"switch box, {stand.unit} and {stand.by}",
            "not there",
            f"both units into it, its output where {stand.unit} comes back; set to {stand.unit}",
            f"the returns show {stand.unit}",
            undo=f"take it out with the loops OUT, {stand.unit} straight in",
            minutes=MINUTES["cable"],
        )
        for stand in stands
    ]


def _assign(show: Show, desk: Desk, loop: PlacedLoop) -> list[Draft]:
    sent = any(output.from_ == loop.strip and output.port == loop.send for output in show.outputs)
    if loop.way == "output" or (loop.way == "send-and-strip" and not sent):
        return [
            Draft(
                "assign",
                "routing",
                f"copy of {loop.strip}",
                "nothing",
                f"{loop.strip} also to {loop.send}",
                "the unit's input moves",
                "",
                f"{loop.send} back to nothing",
                MINUTES["assign"],
                sets=((Item("copy", loop.strip), loop.send),),
            )
        ]
    if loop.way != "insert":
        return []
    group = desk.group(loop.send.group)
    mirrored = group is not None and group.jacks and loop.send != loop.unit_in
    live = sends_live(show, desk, loop)
    meter = f"send {loop.unit_in} moves at the unit, {loop.returns} follows; the strip is unchanged"
    if live != "yes":
        meter = "the strip is unchanged; the send may not move before IN"
    return [
        Draft(
            "assign",
            "insert of the strip",
            loop.strip,
            "no insert",
            f"send {loop.send}, return {loop.returns}, left OUT",
            meter,
            f"jack {loop.send}, which now carries this send" if mirrored else "",
            "insert unassigned",
            MINUTES["assign"],
            sets=((Item("insert", loop.strip), Patch(loop.send, loop.returns)),),
        )
    ]


def _in(desk: Desk, loop: PlacedLoop) -> list[Draft]:
    if loop.way == "output":
        words = ("routing", f"source of {loop.strip}", "its mix", str(loop.returns))
        meter, undo = "the output's meter before its mute keeps its level", "back to its mix"
        sets: Settings = ((Item("turn", loop.strip), loop.returns),)
    elif loop.way == "send-and-strip" and loop.back_on is not None:
        words = ("strip", loop.back_on, "muted", "unmuted, fader up slowly")
        meter, undo = "the strip follows its send", "muted"
        sets = ((Item("back", loop.back_on), True),)
    elif loop.way == "insert":
        words = ("strip", f"{loop.strip}: {desk.bypass.key}", "OUT", "IN")
        meter, undo = "the strip's meter keeps its level", f"{desk.bypass.key}: OUT"
        sets = ((Item("in", loop.strip), True),)
    else:
        return []  # its block takes it IN
    return [Draft("in", *words, meter, "", undo, MINUTES["in"], sets=sets)]


def _key(key: GroupKey) -> Draft:
    return Draft(
        "key",
        "user keys",
        f"key {key.number}, {key.label}",
        "as found",
        f"takes OUT: {', '.join(key.strips)}",
        "pressed once, these inserts go OUT; pressed IN again by hand",
        "what the key did before",
        "key back to what it was",
        MINUTES["key"],
        sets=((Item("key", "", key.number), key.strips),),
    )
