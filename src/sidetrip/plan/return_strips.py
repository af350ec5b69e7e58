"""Strips that return ports feed beside their loops: each is closed before anything comes back on it."""

from __future__ import annotations

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.assign import Allocation
from sidetrip.plan.set_items import block_item, choice_index, slots_of
from sidetrip.plan.tick import Item, Settings, as_found
from sidetrip.plan.ways import current_choice
from sidetrip.plan.wires import Wires
from sidetrip.showfile.check_strips import strip_legs


def strips_to_close(show: Show, desk: Desk, allocation: Allocation) -> list[tuple[Ports, str]]:
    """Return what returns feed, then what else the changed blocks feed, with how it is found.

    An open spare is a ring in waiting. A strip that carries an input of the show stays as it is: its port brings that
    input back and no loop.
    """
    found: dict[Port, str] = {}
    played = {leg for item in show.inputs if (legs := strip_legs(item, desk)) is not None for leg in legs.each}
    runs: list[Ports] = []
    used = [ports for loop in _by_rank(allocation) for ports in (loop.returns, loop.unit_out)]
    used += [ports for own in allocation.take_overs for ports in (own.by.returns, own.by.unit_out)]
    changed = [setting.lost for setting in allocation.settings]
    changed += [setting.source for setting in allocation.settings if setting.source is not None]
    fed = [pair for ports in [*used, *changed] for pair in fed_strips(show, desk, ports)]
    fed += [(Ports(leg.group, leg.number, leg.number), "as found") for leg in _fed_when_done(show, desk, allocation)]
    for strips, was in fed:
        fresh = [strip for strip in strips.each if strip not in found and strip not in played]
        found |= dict.fromkeys(fresh, was)
        runs += _runs(strips.group, [strip.number for strip in fresh])
    return [(strips, found[strips.each[0]]) for strips in runs]


def _by_rank(allocation: Allocation) -> list[PlacedLoop]:
    return sorted(allocation.loops, key=lambda loop: (loop.way, loop.returns))


def _fed_when_done(show: Show, desk: Desk, allocation: Allocation) -> list[Port]:
    """Return the strips without an input that a unit feeds once every source is turned."""
    wires = Wires(show, desk)
    turned: Settings = tuple((block_item(desk, own), choice_index(desk, own)) for own in allocation.settings)
    loops = (*allocation.loops, *(own.by for own in allocation.take_overs if own.stand.switch != "by box"))
    units: Settings = tuple((Item("unit", loop.unit), True) for loop in loops)
    tick = as_found(show, desk).having([*turned, *units, *slots_of(show, loops)])
    links = wires.links(tick)
    fed = ((leg, wires.feeds(tick, leg)) for leg in wires.spare)
    return [leg for leg, port in fed if port is not None and wires.trace(tick, links, port).through_unit]


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
