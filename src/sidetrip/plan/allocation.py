"""Which strips get the loops: an integer program, aims in strict order, and one answer.

Sets        r requests, u units, g rows of alike legs (one carrier row, one signature), b blocks with choices c
Variables   s[r,u] request r goes out on unit u · z[b,c] block b takes choice c
            p[u,g] stereo loops, m[u,g] mono loops, h[g] pairs given to mono loops
Rows        musts s = 1 · each request once · one choice a block · legs of a row: Σ p + h ≤ pairs, Σ m ≤ 2 h + singles
            a row is open for a unit only if a block choice brings it out, and one brings it back
            a pinned port is a row of its own, free if its pin stays in · an output has its unit and its jacks alone
            Σ legs of the requests on a unit = legs placed · Σ load ≤ the unit's limit · hardware serves one
            a block goes in-line with all its inputs · send-and-strip has its ends alone · a socket channel one
            meaning · Σ time that loops add to one way to ears ≤ the room it leaves · keys for what wants one press
            all of it in every stretch between cues: loops that need no ports at the same time may have the same
            a unit that stands in by strip has as many legs as the unit it stands in for, and carries its load too
Aims        served wants from 9 down to 1, never traded · siblings torn apart · loops that follow each other on a port ·
            ports that lose their source · low rows, units and names first
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.cues import Stretch
from sidetrip.plan.ear_rooms import EarRoom
from sidetrip.plan.in_line import InLine
from sidetrip.plan.program import Program
from sidetrip.plan.rows import Row, port_rows, rows_of
from sidetrip.plan.rules import add_rules, harm
from sidetrip.plan.send_strip import Parallel
from sidetrip.plan.stand_in import Stand
from sidetrip.plan.ways import Ground, Leg, Reach, Setting, at_jack

Key = tuple[str, str]
"""A request by strip and way; names are unique within a way."""

_AT_ONCE = 2.0**16  # the largest weight in one aim: such sums stay exact in the solver


def key_of(request: Request) -> Key:
    """Return what identifies a request whatever the order of the file."""
    return (request.strip, request.way)


@dataclass(frozen=True, slots=True)
class Options:
    """What a show and its desk allow, before anybody chooses.

    able: units that could serve a request. refused: reasons that no allocation can change. protected: the path that
    would pass a request's loop and must never pass one. in_line: blocks of channels that could go in-line. parallel:
    how a unit could be reached by send-and-strip. ears: what the ways to ears leave for loops.
    during: where cues change loops, the stretches of the show in which each request needs its ports. stands: units that
    stand in for others.
    """

    able: dict[Key, tuple[str, ...]]
    refused: dict[Key, str]
    requests: tuple[Request, ...]
    load: dict[Key, float]
    width: dict[Key, int]
    protected: dict[Key, str]
    in_line: tuple[InLine, ...] = ()
    parallel: dict[tuple[Key, str], Parallel] = field(default_factory=dict)
    ears: tuple[EarRoom, ...] = ()
    during: dict[Key, Stretch] = field(default_factory=dict)
    stands: tuple[Stand, ...] = ()

    def stretches(self) -> list[set[Key]]:
        """Return for each stretch between cues the requests that need their ports in it; one of all without cues."""
        keys = {key_of(request) for request in self.requests}
        if not self.during:
            return [keys]
        last = max(end for _, end in self.during.values())
        return [{key for key in keys if self.during[key][0] <= n <= self.during[key][1]} for n in range(last + 1)]


@dataclass(slots=True)
class Built:
    """The program with the names of its variables.

    first_mono: rows of single ports, which cost no pair. apart: the aim that counts siblings of which one stays in.
    places: the aim that counts places for loops, so that few follow each other on one; empty without cues.
    """

    program: Program
    served: dict[tuple[Key, str], int]
    choices: dict[Setting, int]
    stereo: dict[tuple[str, int], int] = field(default_factory=dict)
    mono: dict[tuple[str, int], int] = field(default_factory=dict)
    first_mono: set[int] = field(default_factory=set)
    apart: dict[int, float] = field(default_factory=dict)
    places: dict[int, float] = field(default_factory=dict)
    _of: dict[Key, list[int]] = field(default_factory=dict)

    def of(self, key: Key) -> dict[int, float]:
        """Return the sum of a request's variables: 1 when it is served."""
        if not self._of and self.served:
            for (own, _), index in self.served.items():
                self._of.setdefault(own, []).append(index)
        return dict.fromkeys(self._of.get(key, ()), 1.0)


@dataclass(frozen=True, slots=True)
class Choice:
    """The solved program: who goes out on what, the setting of each block, loops by unit and row."""

    served: dict[Key, str]
    settings: tuple[Setting, ...]
    stereo: dict[tuple[str, int], int]
    mono: dict[tuple[str, int], int]


def build_program(
    show: Show, desk: Desk, ground: Ground, options: Options, *, with_loads: bool = True, musts: bool = True
) -> Built:
    """Write the rows of the module's docstring. Pinned requests take exactly their ports."""
    program = Program()
    served = {
        (key_of(request), unit): program.variable()
        for request in options.requests
        for unit in options.able[key_of(request)]
    }
    behind_outputs = {unit for (_, way), unit in served if way == "output"}
    jacks = {
        unit.name: [at_jack(desk, ground.allowed, port) for port in (*unit.out.each, *unit.back.each)]
        for unit in show.units
        if unit.out is not None and unit.back is not None and unit.name in behind_outputs
    }
    reaches = [reach for leg in ground.legs for reach in (*leg.out, *leg.back, *leg.mirror)]
    reaches += [reach for ports in jacks.values() for each in ports for reach in each]
    reaches += [reach for way in options.parallel.values() for each in (*way.out, *way.back) for reach in each]
    reaches += [reach for line in options.in_line for member in line.members for each in member.out for reach in each]
    in_lined = {line.setting[0] for line in options.in_line}
    blocks = sorted({reach.setting[0] for reach in reaches if reach.setting} | in_lined)
    choices = {(block, choice): program.variable() for block in blocks for choice in ground.allowed[block]}
    built = Built(program, served, choices)
    for block in blocks:
        program.row({choices[block, choice]: 1.0 for choice in ground.allowed[block]}, 1, 1)
    for request in options.requests:
        terms = built.of(key_of(request))
        if terms:
            program.row(terms, int(musts and request.want == "must"), 1)
        elif musts and request.want == "must":
            program.row({}, 1, 1)
    claims = _pinned(built, options, port_rows(ground), any_pair=ground.any_pair)
    _place_rows(built, options, rows_of(ground, set(claims)), claims)
    _output_ways(built, show, options, jacks)
    add_rules(built, show, desk, ground, options)
    built.apart = harm(built, show, options)
    _limits(built, show, options, with_loads=with_loads)
    return built


def pinned_places(
    request: Request, by_port: dict[tuple[int, int], dict[str, Leg]], unit: str, width: int, *, any_pair: bool
) -> list[tuple[int, int]] | None:
    """Return the legs (carrier row, send number) a request insists on.

    None when they do not belong together, are not as many as the strip is wide, or a pair is not odd-even on a desk
    that wants it so.
    """
    if request.ports is None:
        return []
    if any(
        len(ports) != width or (width > 1 and not any_pair and not ports.odd_even)
        for ports in (request.ports.send, request.ports.returns)
    ):
        return None
    pairs = list(zip(request.ports.send.each, request.ports.returns.each, strict=False))
    found = [
        place
        for send, returns in pairs
        for place, legs in by_port.items()
        if unit in legs and legs[unit].send == send and legs[unit].returns == returns
    ]
    return found if len(found) == width else None


def claimed_places(
    options: Options, by_port: dict[tuple[int, int], dict[str, Leg]], *, any_pair: bool
) -> dict[tuple[Key, str], list[tuple[int, int]] | None]:
    """Return the legs that requests hold while they go out, by request and unit: pinned ones, and those of sends.

    None where a request's pinned ports are no place for it.
    """
    found: dict[tuple[Key, str], list[tuple[int, int]] | None] = {}
    for request in options.requests:
        key = key_of(request)
        for unit in options.able[key]:
            if request.way == "insert" and request.ports is not None:
                found[key, unit] = pinned_places(request, by_port, unit, options.width[key], any_pair=any_pair)
            elif request.way == "send-and-strip":
                ends = set(options.parallel[key, unit].send.each)
                found[key, unit] = [
                    place for place, legs in by_port.items() if ends & {leg.send for leg in legs.values()}
                ]
    return found


Claims = dict[tuple[int, int], dict[int, float]]
"""By leg (carrier row, send number): the variables of the requests that hold it while they go out."""


def _pinned(
    built: Built, options: Options, by_port: dict[tuple[int, int], dict[str, Leg]], *, any_pair: bool
) -> Claims:
    claims: defaultdict[tuple[int, int], dict[int, float]] = defaultdict(dict)
    for (key, unit), places in claimed_places(options, by_port, any_pair=any_pair).items():
        variable = built.served[key, unit]
        if places is None:
            built.program.row({variable: 1.0}, high=0)
        for place in places or []:
            claims[place][variable] = 1.0
            if key[1] == "insert":
                _open(built, by_port[place][unit], {variable: 1.0}, 1.0)
    return dict(claims)


def _open(built: Built, leg: Leg, users: dict[int, float], capacity: float) -> None:
    """Let users of a leg be more than nothing only if it is open out and back."""
    for reaches in (leg.out, leg.back, *([leg.mirror] if leg.mirror else [])):
        if any(reach.setting is None for reach in reaches):
            continue
        terms = dict(users)
        for reach in reaches:
            assert reach.setting is not None
            terms[built.choices[reach.setting]] = terms.get(built.choices[reach.setting], 0.0) - capacity
        built.program.row(terms, high=0)


def _place_rows(built: Built, options: Options, rows: tuple[Row, ...], claims: Claims) -> None:
    program = built.program
    placed_stereo: defaultdict[str, dict[int, float]] = defaultdict(dict)
    placed_mono: defaultdict[str, dict[int, float]] = defaultdict(dict)
    users: defaultdict[tuple[int, int], dict[int, float]] = defaultdict(dict)
    wanted = {unit for able in options.able.values() for unit in able} | {stand.places for stand in options.stands}
    for number, row in enumerate(rows):
        built.first_mono |= {number} if row.alone and not row.pairs else set()
        half_used = program.variable(0 if row.alone else len(row.pairs))
        pair_terms, mono_terms = {half_used: 1.0}, {half_used: -2.0}
        for unit, leg in sorted(row.legs.items()):
            if unit not in wanted:
                continue
            stereo = built.stereo[unit, number] = program.variable(len(row.pairs))
            mono = built.mono[unit, number] = program.variable(row.most_mono)
            pair_terms[stereo] = mono_terms[mono] = 1.0
            placed_stereo[unit][stereo] = placed_mono[unit][mono] = 1.0
            _open(built, leg, {stereo: 2.0, mono: 1.0}, 2.0 * len(row.pairs) + len(row.singles))
            for n in row.numbers if row.alone else ():
                users[row.carrier, n] |= {stereo: 1.0, mono: 1.0}
        program.row(pair_terms, high=len(row.pairs))
        program.row(mono_terms, high=len(row.singles))
    stretches = options.stretches()
    open_now = [{index for key in own for index in built.of(key)} for own in stretches]
    for place in sorted({*users, *claims}):
        for now in open_now:
            pins = {index: weight for index, weight in claims.get(place, {}).items() if index in now}
            program.row({**users[place], **pins}, high=1)
    free = [r for r in options.requests if r.ports is None and r.way == "insert"]
    for unit in sorted({unit for able in options.able.values() for unit in able}):
        for legs_wide, placed in ((2, placed_stereo[unit]), (1, placed_mono[unit])):
            terms = {
                key_of(request): built.served[key_of(request), unit]
                for request in free
                if options.width[key_of(request)] == legs_wide and (key_of(request), unit) in built.served
            }
            empty = dict.fromkeys(placed, -1.0)
            if not (terms or empty):
                continue
            if len(stretches) == 1:
                program.row({**empty, **dict.fromkeys(terms.values(), 1.0)}, 0, 0)
                continue
            program.row({**empty, **dict.fromkeys(terms.values(), 1.0)}, low=0)
            for own in stretches:
                program.row({**empty, **{index: 1.0 for key, index in terms.items() if key in own}}, high=0)
            built.places |= dict.fromkeys(placed, 1.0)
    for stand in options.stands:
        for legs_wide, placed_wide in ((2, placed_stereo), (1, placed_mono)):
            built.program.row(_standing_in(built, options, stand, legs_wide, placed_wide), 0, 0)


def _standing_in(
    built: Built, options: Options, stand: Stand, legs_wide: int, placed: dict[str, dict[int, float]]
) -> dict[int, float]:
    """Return the places of a unit that stands in less those of the unit that it stands in for: 0 when all have one."""
    terms = dict.fromkeys(placed.get(stand.places, {}), 1.0)
    served = {key: index for (key, unit), index in built.served.items() if unit == stand.unit}
    if stand.switch == "by strip" and served:
        terms |= dict.fromkeys(placed.get(stand.unit, {}), -1.0)
        pinned = {key_of(request) for request in options.requests if request.ports is not None}
        wide = [i for key, i in served.items() if key in pinned and options.width[key] == legs_wide]
        terms |= dict.fromkeys(wide, -1.0)
    return terms


def _output_ways(built: Built, show: Show, options: Options, jacks: dict[str, list[tuple[Reach, ...]]]) -> None:
    """Give an output its unit alone, with all jacks of the unit left at their jacks."""
    for unit in show.units:
        outputs = {index: 1.0 for (key, own), index in built.served.items() if own == unit.name and key[1] == "output"}
        if not outputs:
            continue
        built.program.row(outputs, high=1)
        for (key, own), index in built.served.items():
            if own == unit.name and key[1] != "output":
                built.program.row({**outputs, index: 1.0}, high=1)
        for reaches in jacks[unit.name]:
            if all(reach.setting is not None for reach in reaches):
                opening = {built.choices[reach.setting]: -1.0 for reach in reaches if reach.setting is not None}
                built.program.row({**outputs, **opening}, high=0)


def _limits(built: Built, show: Show, options: Options, *, with_loads: bool) -> None:
    for unit in show.units:
        users = {key: index for (key, name), index in built.served.items() if name == unit.name}
        if unit.kind == "hardware" and users:
            for own in options.stretches():
                built.program.row({index: 1.0 for key, index in users.items() if key in own}, high=1)
        if with_loads and unit.load_limit is not None:
            whose = {unit.name, *(stand.unit for stand in options.stands if stand.by == unit.name)}
            carried = {(key, index) for (key, name), index in built.served.items() if name in whose}
            loads = {index: options.load[key] for key, index in sorted(carried) if options.load[key]}
            if loads:
                built.program.row(loads, high=unit.load_limit + 1e-9)


def solve(built: Built, options: Options, ground: Ground, desk: Desk) -> Choice | None:
    """Run the aims in order. Returns None when the musts cannot all be met."""
    program = built.program
    values = program.maximise({})
    if values is None:
        return None
    for level in range(9, 0, -1):
        aim: dict[int, float] = {}
        for request in options.requests:
            if request.want == level:
                aim.update(built.of(key_of(request)))
        if aim:
            values = program.maximise(aim)
    if built.apart:
        values = program.maximise(built.apart)
    if built.places:
        values = program.maximise(built.places)
    lost = {
        index: -float(len(ports))
        for setting, index in built.choices.items()
        if (ports := ground.lost(desk, setting)) is not None
    }
    if lost:
        values = program.maximise(lost)
    for aim in _last_aims(built, options):
        values = program.maximise(aim)
    assert values is not None, "an aim is added only after the rows were satisfied"
    chosen = {key: unit for (key, unit), index in built.served.items() if values[index]}
    settings = tuple(setting for setting, index in built.choices.items() if values[index])
    return Choice(
        chosen,
        settings,
        {place: values[index] for place, index in built.stereo.items()},
        {place: values[index] for place, index in built.mono.items()},
    )


def _last_aims(built: Built, options: Options) -> list[dict[int, float]]:
    """Make the answer unique: names early in the alphabet, then units, then low rows, then early choices."""
    names = [key_of(request) for request in options.requests if request.want != "must"]
    aims = _in_order([(built.of(key), 1) for key in names])
    units = sorted({unit for _, unit in built.served})
    if len(units) > 1:
        later = [
            {index: -float(units.index(unit)) for (own, unit), index in built.served.items() if own == key_of(request)}
            for request in options.requests
        ]
        aims += _in_order([(terms, len(units) - 1) for terms in later])
    upper = built.program.upper
    for placed, first in ((built.stereo, set[int]()), (built.mono, built.first_mono)):
        by_row = sorted(placed.items(), key=lambda item: (item[0][1] not in first, item[0][1], item[0][0]))
        aims += _in_order([({index: 1.0}, int(upper[index])) for _, index in by_row])
    blocks: defaultdict[int, dict[int, float]] = defaultdict(dict)
    for (block, choice), index in built.choices.items():
        blocks[block][index] = -float(choice)
    aims += _in_order([(terms, int(-min(terms.values()))) for _, terms in sorted(blocks.items())])
    return [aim for aim in aims if any(aim.values())]


def _in_order(wishes: list[tuple[dict[int, float], int]]) -> list[dict[int, float]]:
    """Return aims that put each wish before all later ones; a wish is a sum with its range, several share an aim."""
    aims: list[dict[int, float]] = []
    scale = 1.0
    for terms, span in reversed(wishes):
        if not aims or scale * (span + 1) > _AT_ONCE:
            aims.append({})
            scale = 1.0
        for index, weight in terms.items():
            aims[-1][index] = aims[-1].get(index, 0.0) + weight * scale
        scale *= span + 1
    return aims[::-1]
