"""From requests to loops: what can be served at all, the choice, ports by number, and a reason for each refusal."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.errors import NoPlan
from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Choice as SourceChoice
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Choice, Options, build_program, key_of, pinned_places, solve
from sidetrip.plan.options import find_options
from sidetrip.plan.reasons import Refusal, conflict, rank, refusals_of, ties
from sidetrip.plan.rows import port_rows, rows_of
from sidetrip.plan.ways import Ground, Leg, Reach, Setting, survey


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
    """Who goes out and who stays in."""

    loops: tuple[PlacedLoop, ...]
    refusals: tuple[Refusal, ...]
    settings: tuple[BlockSetting, ...]
    spare: tuple[str, ...]
    findings: tuple[Finding, ...]


def allocate(show: Show, desk: Desk) -> Allocation:
    """Choose the best use of the ways out. Raises NoPlan naming the smallest set of musts that conflicts."""
    ground = survey(show, desk)
    options = find_options(show, desk, ground)
    built = build_program(show, desk, ground, options)
    choice = solve(built, options, ground, desk)
    if choice is None:
        raise NoPlan(conflict(show, desk, ground, options))
    loops = tuple(sorted(_loops(show, desk, ground, options, choice), key=lambda loop: loop.name))
    settings = tuple(_setting(desk, ground, setting) for setting in choice.settings if ground.lost(desk, setting))
    refusals, findings = refusals_of(show, desk, ground, options, choice, loops)
    return Allocation(
        loops,
        refusals,
        settings,
        _spare(desk, choice, ground, loops),
        (*findings, *ties(show, desk, ground, options, choice)),
    )


def _loops(show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice) -> list[PlacedLoop]:
    """Give the chosen requests ports by number: stereo, then mono, each by want, on the lowest that fit."""
    by_port = port_rows(ground)
    loops: list[PlacedLoop] = []
    free: list[Request] = []
    for request in sorted(options.requests, key=rank):
        unit = choice.served.get(key_of(request))
        if unit is None:
            continue
        if request.way == "output":
            loops.append(_output_loop(show, request, unit))
        elif request.ports is not None:
            places = pinned_places(request, by_port, unit, options.width[key_of(request)])
            assert places is not None
            loops.append(_loop(request, choice, [by_port[place][unit] for place in places]))
        else:
            free.append(request)
    all_pinned = {
        place
        for request in options.requests
        if request.ports is not None and request.way == "insert"
        for unit in options.able[key_of(request)]
        for place in pinned_places(request, by_port, unit, options.width[key_of(request)]) or []
    }
    rows = rows_of(ground, all_pinned)
    pairs = {number: list(row.pairs) for number, row in enumerate(rows)}
    singles = {number: list(row.singles) for number, row in enumerate(rows)}
    left_stereo, left_mono = dict(choice.stereo), dict(choice.mono)
    for request in sorted(free, key=lambda r: (-options.width[key_of(r)], rank(r))):
        unit = choice.served[key_of(request)]
        left = left_stereo if options.width[key_of(request)] == 2 else left_mono
        number = min(row for (own, row), count in left.items() if own == unit and count > 0)
        left[unit, number] -= 1
        carrier_row = rows[number].carrier
        if options.width[key_of(request)] == 2:
            numbers = list(pairs[number].pop(0))
        else:
            if not singles[number]:
                singles[number] = list(pairs[number].pop(0))
            numbers = [singles[number].pop(0)]
        loops.append(_loop(request, choice, [by_port[carrier_row, n][unit] for n in numbers]))
    return loops


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
