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
from sidetrip.plan.ways import current_choice

StepKind = Literal["safety", "close", "source", "cable", "assign", "prove", "in"]


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


def patch_steps(show: Show, desk: Desk, allocation: Allocation) -> tuple[Step, ...]:
    """Return the steps from the desk as found to all loops IN; none when nothing goes out."""
    if not allocation.loops:
        return ()
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
        *(_assign(desk, loop) for loop in _by_rank(allocation)),
        _Draft(
            "prove",
            "meters",
            "every loop, one at a time",
            "",
            "send moves, its own return moves, no other",
            "return follows its send, same level",
            undo="nothing to put back",
        ),
        *(_in(desk, loop) for loop in _by_rank(allocation)),
    ]
    return tuple(
        Step(number, *(getattr(draft, name) for name in _Draft.__slots__)) for number, draft in enumerate(drafts, 1)
    )


def undo_steps(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return the steps that put something back, last first."""
    return tuple(step for step in reversed(steps) if step.kind in ("close", "source", "cable", "assign", "in"))


def _by_rank(allocation: Allocation) -> list[PlacedLoop]:
    return sorted(allocation.loops, key=lambda loop: (loop.way, loop.returns))


def _units_flat(show: Show, allocation: Allocation) -> list[_Draft]:
    names = sorted({loop.unit for loop in allocation.loops})
    return [
        _Draft(
            "safety",
            "unit",
            name,
            "",
            "on, passing audio flat, its own system sounds off",
            "its inputs idle",
            undo="switch off last",
        )
        for name in names
    ]


def _closed_returns(show: Show, desk: Desk, allocation: Allocation) -> list[_Draft]:
    return [
        _Draft(
            "close",
            "strip",
            f"{strips.group} strip {_numbers(strips)}",
            was,
            f"muted, off main and all sends, named RET {_numbers(strips)} SHUT",
            "the strip may move, no mix does",
            undo="name and assigns as found, then unmute",
        )
        for loop in _by_rank(allocation)
        for strips, was in fed_strips(show, desk, loop.returns)
    ]


def fed_strips(show: Show, desk: Desk, returns: Ports) -> list[tuple[Ports, str]]:
    """Return the strips that return ports feed beside the loop, and how they are found.

    Those are strips that belong to the port, and channel strips whose block takes these ports as its source.
    """
    found: list[tuple[Ports, str]] = []
    group = desk.group(returns.group)
    if group is not None and group.strip is not None:
        was = "open as delivered" if group.strip_open else "as found"
        found.append((Ports(group.strip, returns.first, returns.last), was))
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


def _assign(desk: Desk, loop: PlacedLoop) -> _Draft:
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
    return _Draft(
        "assign",
        "insert of the strip",
        loop.strip,
        "no insert",
        f"send {loop.send}, return {loop.returns}, left OUT",
        f"send {loop.unit_in} moves at the unit, {loop.returns} follows; the strip is unchanged",
        "",
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
            "the output keeps its level",
            "",
            "back to its mix",
        )
    return _Draft(
        "in",
        "strip",
        f"{loop.strip}: {desk.bypass.key}",
        "OUT",
        "IN",
        "the strip keeps its level",
        "",
        f"{desk.bypass.key}: OUT",
    )
