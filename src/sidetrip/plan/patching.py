"""Patch and undo: steps in an order that stays silent and closed until the loops are proven, and back again.

The order is common practice, no source: outputs down, unit flat, return strips closed, card sources, then the
returns, then inserts assigned but OUT, then proof, then IN. Closing a return strip before its port is re-sourced
keeps a ring from ever being closed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Show
from sidetrip.plan.assign import Allocation
from sidetrip.plan.recovery import GroupKey
from sidetrip.plan.ways import current_choice
from sidetrip.showfile.check_strips import strip_legs

StepKind = Literal["safety", "close", "source", "cable", "assign", "prove", "in", "key", "open"]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do at the desk.

    page: where, in plain words. item: what. was, becomes: its value before and after. meter: what to see when it is
    done. lost: what this takes away, empty for nothing. undo: how it is put back; undo runs in reverse order.
    """

    number: int
    kind: StepKind
    page: str
    item: str
    was: str
    becomes: str
    meter: str
    lost: str
    undo: str


@dataclass(frozen=True, slots=True)
class _Draft:
    kind: StepKind
    page: str
    item: str
    was: str
    becomes: str
    meter: str
    lost: str = ""
    undo: str = ""


def patch_steps(show: Show, desk: Desk, allocation: Allocation, keys: tuple[GroupKey, ...] = ()) -> tuple[Step, ...]:
    """Return the steps from the desk as found to all loops IN and outputs open; none when nothing goes out.

    keys: the keys of the recovery plan, to be set up and tried while outputs are still down.
    """
    if not allocation.loops:
        return ()
    loops = _by_rank(allocation)
    drafts = [
        _Draft(
            "safety",
            "files",
            "desk as found",
            "",
            "saved on two media, routing pages photographed",
            "-",
            undo="load only if all else fails",
        ),
        _Draft(
            "safety",
            "outputs",
            "all outputs and ears",
            "as found",
            "muted, amplifiers down, packs off ears",
            "no output moves",
            undo="unmute last, faders down first",
        ),
        *_units_flat(show, allocation),
        *_closed_returns(show, desk, allocation),
        *_sources(allocation),
        *_cables(show, allocation),
        *(_assign(show, desk, loop) for loop in loops),
        _proof(show, desk, loops),
        *(_in(desk, loop) for loop in loops),
        *(_key(key) for key in keys),
        _Draft(
            "open",
            "outputs",
            "all outputs and ears",
            "muted, faders down",
            "unmuted one at a time, faders up slowly",
            "each output moves as before the patch",
            undo="nothing to put back",
        ),
    ]
    return tuple(
        Step(number, *(getattr(draft, name) for name in _Draft.__slots__)) for number, draft in enumerate(drafts, 1)
    )


def _key(key: GroupKey) -> _Draft:
    return _Draft(
        "key",
        "user keys",
        f"key {key.number}, {key.label}",
        "as found",
        f"takes OUT: {', '.join(key.strips)}",
        "pressed once, these inserts go OUT; pressed IN again by hand",
        "what the key did before",
        "key back to what it was",
    )


def _sends_live(show: Show, desk: Desk, loop: PlacedLoop) -> str:
    """Return whether this loop's send is alive while it is OUT: yes, no or unknown, as the desk type answers."""
    pool = desk.pool(show.kind(loop.strip)) if loop.way == "insert" else None
    return pool.insert.send_alive_when_out.answer if pool is not None and pool.insert is not None else "yes"


def _proof(show: Show, desk: Desk, loops: list[PlacedLoop]) -> _Draft:
    late = [loop.strip for loop in loops if _sends_live(show, desk, loop) != "yes"]
    becomes = "send moves, its own return moves, no other"
    if late:
        becomes += f"; the sends of {', '.join(late)} may live only while IN: prove those right after their IN"
    return _Draft(
        "prove",
        "meters",
        "every loop, one at a time",
        "",
        becomes,
        "return follows its send, same level",
        undo="nothing to put back",
    )


def undo_steps(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return the steps that put something back, last first; keys last of all, since they are the way out till then."""
    back = [step for step in reversed(steps) if step.kind in ("close", "source", "cable", "assign", "in")]
    return (*back, *(step for step in reversed(steps) if step.kind == "key"))


def _by_rank(allocation: Allocation) -> list[PlacedLoop]:
    return sorted(allocation.loops, key=lambda loop: (loop.way, loop.returns))


def _units_flat(show: Show, allocation: Allocation) -> list[_Draft]:
    drafts = []
    for name in sorted({loop.unit for loop in allocation.loops}):
        unit = show.unit(name)
        hardware = unit is not None and unit.kind == "hardware"
        becomes = "on, flat or in its own bypass" if hardware else "on, passing audio flat, its own system sounds off"
        drafts.append(_Draft("safety", "unit", name, "", becomes, "its inputs idle", undo="off when its loops are OUT"))
    return drafts


def _closed_returns(show: Show, desk: Desk, allocation: Allocation) -> list[_Draft]:
    """Close what returns feed, then what else the changed blocks feed: an open spare is a ring in waiting.

    A strip that carries an input of the show stays as it is: its port brings that input back and no loop.
    """
    found: dict[tuple[str, int], str] = {}
    played = {leg for item in show.inputs if (legs := strip_legs(item, desk)) is not None for leg in legs.each}
    runs: list[Ports] = []
    loops = _by_rank(allocation)
    used = [ports for loop in loops for ports in (loop.returns, loop.unit_out)]
    changed = [setting.lost for setting in allocation.settings]
    changed += [setting.source for setting in allocation.settings if setting.source is not None]
    for ports in [*used, *changed]:
        for strips, was in fed_strips(show, desk, ports):
            fresh = [s for s in strips.each if (s.group, s.number) not in found and s not in played]
            found |= {(strip.group, strip.number): was for strip in fresh}
            runs += _runs(strips.group, [strip.number for strip in fresh])
    return [
        _Draft(
            "close",
            "strip",
            f"{strips.group} strip {_numbers(strips)}",
            found[strips.group, strips.first],
            "muted, off main and all sends, named RET SHUT",
            "the strip may move, no mix does",
            undo="name and assigns as found, then unmute",
        )
        for strips in runs
    ]


def _runs(group: str, numbers: list[int]) -> list[Ports]:
    runs: list[Ports] = []
    for number in numbers:
        if runs and runs[-1].last == number - 1:
            runs[-1] = Ports(group, runs[-1].first, number)
        else:
            runs.append(Ports(group, number, number))
    return runs


def fed_strips(show: Show, desk: Desk, returns: Ports) -> list[tuple[Ports, str]]:
    """Return the strips that return ports feed beside the loop, and how they are found.

    Those are strips that belong to the port, and channel strips whose block takes these ports as its source.
    """
    found: list[tuple[Ports, str]] = []
    group = desk.group(returns.group)
    strips = group.strips_of(returns) if group is not None else None
    if group is not None and strips is not None:
        was = "open as delivered" if group.strip_open else "as found"
        found.append((strips, was))
    for block in desk.blocks:
        choice = block.choices[current_choice(block, show, desk)]
        if block.feeds.group != "channel" or not isinstance(choice.from_, Ports) or not choice.from_.overlaps(returns):
            continue
        shift = block.covered(choice).first - choice.from_.first
        first, last = max(returns.first, choice.from_.first), min(returns.last, choice.from_.last)
        found.append((Ports("channel", first + shift, last + shift), "as found"))
    return found


def _numbers(ports: Ports) -> str:
    return str(ports.first) if ports.first == ports.last else f"{ports.first}-{ports.last}"


def _sources(allocation: Allocation) -> list[_Draft]:
    """Sends to the card first, returns after: a return without its send is silent, never wrong."""
    ordered = sorted(allocation.settings, key=lambda setting: (setting.jacks, str(setting.lost)))
    return [
        _Draft(
            "source",
            "routing",
            setting.block,
            setting.was,
            setting.becomes,
            "returns still silent" if setting.jacks else "the card's inputs at the unit idle or move",
            f"{'jacks' if setting.jacks else 'tracks'} {setting.lost}",
            f"back to {setting.was}",
        )
        for setting in ordered
    ]


def _cables(show: Show, allocation: Allocation) -> list[_Draft]:
    drafts = []
    for loop in _by_rank(allocation):
        if loop.send == loop.unit_in and (unit := show.unit(loop.unit)) is not None and unit.kind == "hardware":
            drafts.append(
                _Draft(
                    "cable",
                    "jacks",
                    unit.name,
                    "unplugged",
                    f"{loop.send} to its input, its output to {loop.returns}",
                    "the return shows the unit's idle noise",
                    f"jacks {loop.send} and {loop.returns}",
                    "unplug both with the loop OUT",
                )
            )
    return drafts


def _assign(show: Show, desk: Desk, loop: PlacedLoop) -> _Draft:
    if loop.way == "output":
        return _Draft(
            "assign",
            "routing",
            f"copy of {loop.strip}",
            "nothing",
            f"{loop.strip} also to {loop.send}",
            "the unit's input moves",
            "",
            f"{loop.send} back to nothing",
        )
    group = desk.group(loop.send.group)
    mirrored = group is not None and group.jacks and loop.send != loop.unit_in
    live = _sends_live(show, desk, loop)
    meter = f"send {loop.unit_in} moves at the unit, {loop.returns} follows; the strip is unchanged"
    if live != "yes":
        meter = "the strip is unchanged; the send may not move before IN"
    return _Draft(
        "assign",
        "insert of the strip",
        loop.strip,
        "no insert",
        f"send {loop.send}, return {loop.returns}, left OUT",
        meter,
        f"jack {loop.send}, which now carries this send" if mirrored else "",
        "insert unassigned",
    )


def _in(desk: Desk, loop: PlacedLoop) -> _Draft:
    if loop.way == "output":
        return _Draft(
            "in",
            "routing",
            f"source of {loop.strip}",
            "its mix",
            str(loop.returns),
            "the output's meter before its mute keeps its level",
            "",
            "back to its mix",
        )
    return _Draft(
        "in",
        "strip",
        f"{loop.strip}: {desk.bypass.key}",
        "OUT",
        "IN",
        "the strip's meter keeps its level",
        "",
        f"{desk.bypass.key}: OUT",
    )
