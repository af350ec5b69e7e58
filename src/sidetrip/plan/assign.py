"""From requests to loops: what can be served at all, the choice, ports by number, and a reason for each refusal."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from sidetrip.errors import NoPlan
from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Choice as SourceChoice
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Choice, Key, Options, build_program, claimed_places, key_of, pinned_places, solve
from sidetrip.plan.cues import Stretch, cue_numbers, overlap
from sidetrip.plan.options import find_options
from sidetrip.plan.reasons import Refusal, conflict, rank, refusals_of, ties
from sidetrip.plan.rows import port_rows, rows_of
from sidetrip.plan.take_over import OwnPlaces, TakeOver, take_overs
from sidetrip.plan.ways import Ground, Leg, Reach, Setting, survey

_ALWAYS: Stretch = (0, 1_000_000)


@dataclass(frozen=True, slots=True)
class BlockSetting:
    """A block whose source changes. lost: the ports that lose what they had; was and becomes: the source in words.

    source: the ports that feed it now, None for jacks.
    """

    block: str
    was: str
    becomes: str
    lost: Ports
    jacks: bool
    source: Ports | None


@dataclass(frozen=True, slots=True)
class Allocation:
    """Who goes out and who stays in. take_overs: how each loop is carried by the unit that stands in for its own."""

    loops: tuple[PlacedLoop, ...]
    refusals: tuple[Refusal, ...]
    settings: tuple[BlockSetting, ...]
    spare: tuple[str, ...]
    findings: tuple[Finding, ...]
    take_overs: tuple[TakeOver, ...] = ()


def allocate(show: Show, desk: Desk) -> Allocation:
    """Choose the best use of the ways out. Raises NoPlan naming the smallest set of musts that conflicts."""
    ground = survey(show, desk)
    options = find_options(show, desk, ground)
    built = build_program(show, desk, ground, options)
    choice = solve(built, options, ground, desk)
    if choice is None:
        raise NoPlan(conflict(show, desk, ground, options))
    placed, own_places = _loops(show, desk, ground, options, choice)
    loops = tuple(sorted(placed, key=lambda loop: loop.name))
    taken = take_overs(show, desk, ground, options, choice, loops, own_places)
    settings = tuple(_setting(desk, ground, setting) for setting in choice.settings if ground.lost(desk, setting))
    refusals, findings = refusals_of(show, desk, ground, options, choice, loops)
    return Allocation(
        loops,
        refusals,
        settings,
        _spare(desk, choice, ground, (*loops, *(own.by for own in taken))),
        (*findings, *ties(show, desk, ground, options, choice)),
        taken,
    )


def _loops(
    show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice
) -> tuple[list[PlacedLoop], OwnPlaces]:
    """Give the chosen requests ports by number: stereo, then mono, each by want, on the lowest that fit.

    Returned too: the places of units that stand in, for each of the loops that they can take over.
    """
    by_port = port_rows(ground)
    loops: list[PlacedLoop] = []
    free: list[Request] = []
    for request in sorted(options.requests, key=rank):
        unit = choice.served.get(key_of(request))
        if unit is None:
            continue
        if request.way == "output":
            loops.append(_output_loop(show, request, unit))
        elif request.way == "send-and-strip":
            loops.append(_parallel_loop(request, unit, options, choice))
        elif request.way == "in-line":
            continue  # a block goes as a whole, below
        elif request.ports is not None:
            width = options.width[key_of(request)]
            places = pinned_places(request, by_port, unit, width, any_pair=ground.any_pair)
            assert places is not None
            loops.append(_loop(request, choice, [by_port[place][unit] for place in places]))
        else:
            free.append(request)
    inserts, own_places = _inserts(ground, options, choice, by_port, free, loops)
    loops += inserts
    loops = [_between_cues(show, options, loop, loops) for loop in loops]
    return [*loops, *_in_line_loops(options, choice, {loop.name for loop in loops})], own_places


def _inserts(
    ground: Ground,
    options: Options,
    choice: Choice,
    by_port: dict[tuple[int, int], dict[str, Leg]],
    free: list[Request],
    pinned: list[PlacedLoop],
) -> tuple[list[PlacedLoop], OwnPlaces]:
    """Return loops for the inserts that no port is pinned for, on the lowest places that the choice gives them.

    pinned: loops that have their ports. Units that stand in get a place for each of theirs, last of all.
    """
    loops: list[PlacedLoop] = []
    claimed = claimed_places(options, by_port, any_pair=ground.any_pair)
    rows = rows_of(ground, {place for places in claimed.values() for place in places or ()})
    pairs = {number: list(row.pairs) for number, row in enumerate(rows)}
    singles = {number: list(row.singles) for number, row in enumerate(rows)}
    left_stereo, left_mono = dict(choice.stereo), dict(choice.mono)
    held: dict[tuple[str, int, int], list[tuple[list[int], list[Stretch]]]] = defaultdict(
        list
    )  # places, and who has them when
    assert all(request.way == "insert" for request in free)
    able = {unit for units in options.able.values() for unit in units}
    places = sum(count for wide in (choice.stereo, choice.mono) for (unit, _), count in wide.items() if unit in able)
    sharing = len(free) > places

    def turn(request: Request) -> tuple[int, Stretch, tuple[int, Key]]:
        """Wide ones first; where loops follow each other on a port, those that come first in the show."""
        when = options.during[key_of(request)] if sharing else _ALWAYS
        return -options.width[key_of(request)], when, rank(request)

    def lowest(unit: str, width: int) -> tuple[int, list[int]]:
        """Take the lowest place that the choice gives a unit: its carrier row and its numbers."""
        left = left_stereo if width == 2 else left_mono
        number = min(row for (own, row), count in left.items() if own == unit and count > 0)
        left[unit, number] -= 1
        if width == 2:
            return rows[number].carrier, list(pairs[number].pop(0))
        if not singles[number]:
            singles[number] = list(pairs[number].pop(0))
        return rows[number].carrier, [singles[number].pop(0)]

    for request in sorted(free, key=turn):
        unit, width = choice.served[key_of(request)], options.width[key_of(request)]
        when = options.during.get(key_of(request), _ALWAYS)
        left = left_stereo if width == 2 else left_mono
        with_room = [row for (own, row), count in left.items() if own == unit and count > 0]
        if not with_room:  # somebody had the place before, and needs it no longer
            numbers, carrier_row, times = next(
                (numbers, row, times)
                for (own, wide, row), places in held.items()
                if (own, wide) == (unit, width)
                for numbers, times in places
                if not any(overlap(when, other) for other in times)
            )
            times.append(when)
            loops.append(_loop(request, choice, [by_port[carrier_row, n][unit] for n in numbers]))
            continue
        carrier_row, numbers = lowest(unit, width)
        held[unit, width, carrier_row].append((numbers, [when]))
        loops.append(_loop(request, choice, [by_port[carrier_row, n][unit] for n in numbers]))
    own_places: OwnPlaces = {}
    for stand in options.stands:
        taken = [loop for loop in (*pinned, *loops) if loop.unit == stand.unit and loop.way == "insert"]
        for loop in sorted(taken, key=lambda loop: (-loop.legs, loop.returns, loop.name)):
            if stand.switch == "by strip" and (stand, loop.returns) not in own_places:
                carrier_row, numbers = lowest(stand.places, loop.legs)
                own_places[stand, loop.returns] = tuple(by_port[carrier_row, n][stand.places] for n in numbers)
    return loops, own_places


def _between_cues(show: Show, options: Options, loop: PlacedLoop, loops: list[PlacedLoop]) -> PlacedLoop:
    """Write on a loop that shares its ports with others between which cues it has them."""
    rivals = [other for other in loops if other is not loop and other.returns.overlaps(loop.returns)]
    if not rivals or not options.during:
        return loop
    first, last = options.during[loop.strip, loop.way]
    cues = cue_numbers(show)
    return replace(
        loop,
        from_cue=cues[first - 1] if first else None,
        until_cue=cues[last] if last < len(cues) else None,
    )


def _in_line_loops(options: Options, choice: Choice, named: set[str]) -> list[PlacedLoop]:
    """Return a loop for every input of every block that goes in-line; without a request it is blank."""
    asked = {request.strip: request for request in options.requests if request.way == "in-line"}
    loops: list[PlacedLoop] = []
    for line in options.in_line:
        if line.setting not in choice.settings or line.blocked:
            continue
        for member in line.members:
            strip = member.item.name
            served = choice.served.get((strip, "in-line")) == line.unit
            out = [_chosen(reaches, choice.settings) for reaches in member.out]
            loops.append(
                PlacedLoop(
                    f"{strip} in-line" if strip in named else strip,
                    strip,
                    "in-line",
                    line.unit,
                    asked[strip].chain if served else None,
                    len(out),
                    member.item.port,
                    member.back,
                    _run(out),
                    member.back,
                    blank=not served,
                )
            )
    return loops


def _parallel_loop(request: Request, unit: str, options: Options, choice: Choice) -> PlacedLoop:
    way = options.parallel[key_of(request), unit]
    out, back = ([_chosen(reaches, choice.settings) for reaches in legs] for legs in (way.out, way.back))
    legs, ends = len(way.send), (_run(out), _run(back))
    strip, chain = request.strip, request.chain
    return PlacedLoop(strip, strip, "send-and-strip", unit, chain, legs, way.send, way.returns, *ends, request.back_on)


def _loop(request: Request, choice: Choice, legs: list[Leg]) -> PlacedLoop:
    out = [_chosen(leg.out, choice.settings) for leg in legs]
    back = [_chosen(leg.back, choice.settings) for leg in legs]
    return PlacedLoop(
        request.strip,
        request.strip,
        "insert",
        legs[0].unit,
        request.chain,
        len(legs),
        _run([leg.send for leg in legs]),
        _run([leg.returns for leg in legs]),
        _run(out),
        _run(back),
    )


def _chosen(reaches: tuple[Reach, ...], settings: tuple[Setting, ...]) -> Port:
    return next(reach.port for reach in reaches if reach.setting is None or reach.setting in settings)


def _run(ports: list[Port]) -> Ports:
    return Ports(ports[0].group, ports[0].number, ports[-1].number)


def _output_loop(show: Show, request: Request, unit_name: str) -> PlacedLoop:
    unit = show.unit(unit_name)
    assert unit is not None and unit.out is not None and unit.back is not None
    return PlacedLoop(
        request.strip,
        request.strip,
        "output",
        unit_name,
        request.chain,
        len(unit.out),
        unit.out,
        unit.back,
        unit.out,
        unit.back,
    )


def _source(choice: SourceChoice) -> Ports | None:
    return choice.from_ if isinstance(choice.from_, Ports) else None


def _setting(desk: Desk, ground: Ground, setting: Setting) -> BlockSetting:
    block = desk.blocks[setting[0]]
    lost = ground.lost(desk, setting)
    assert lost is not None
    group = desk.group(lost.group)
    was, becomes = (block.choices[index] for index in (ground.current[setting[0]], setting[1]))
    words = [str(choice.from_) + (f" on {choice.covers}" if choice.covers else "") for choice in (was, becomes)]
    return BlockSetting(block.name, words[0], words[1], lost, group is not None and group.jacks, _source(becomes))


def _spare(desk: Desk, choice: Choice, ground: Ground, loops: tuple[PlacedLoop, ...]) -> tuple[str, ...]:
    """Return the return ports that are open to a unit and carry nothing."""
    used = {port for loop in loops for port in loop.returns.each}
    spare = {
        leg.returns
        for leg in ground.legs
        if leg.returns not in used
        and all(any(r.setting in (None, *choice.settings) for r in reaches) for reaches in (leg.out, leg.back))
    }
    return tuple(str(port) for port in sorted(spare))
