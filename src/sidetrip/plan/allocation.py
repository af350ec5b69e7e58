"""Which strips get the loops: an integer program, aims in strict order, and one answer.

Sets        r requests, u units, g rows of alike legs (one carrier row, one signature), b blocks with choices c
Variables   s[r,u] request r goes out on unit u · z[b,c] block b takes choice c
            p[u,g] stereo loops, m[u,g] mono loops, h[g] pairs given to mono loops
Rows        musts s = 1 · each request once · one choice a block · legs of a row: Σ p + h ≤ pairs, Σ m ≤ 2 h + singles
            a row is open for a unit only if a block choice brings it out, and one brings it back
            Σ legs of the requests on a unit = legs placed · Σ load ≤ the unit's limit · hardware serves one
Aims        served wants from 9 down to 1, never traded · ports that lose their source · low rows, units and names first
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.program import Program
from sidetrip.plan.ways import Ground, Leg, Setting

Key = tuple[str, str]
"""A request by strip and way; names are unique within a way."""

_NAMES_AT_ONCE = 16  # names decided in one aim: weights of powers of two stay exact in the solver


def key_of(request: Request) -> Key:
    """Return what identifies a request whatever the order of the file."""
    return (request.strip, request.way)


@dataclass(frozen=True, slots=True)
class Row:
    """Legs that are alike: the same carrier row, open under the same settings for the same unit sets."""

    pairs: tuple[tuple[int, int], ...]
    singles: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Options:
    """What a show and its desk allow, before anybody chooses.

    able: units that could serve a request. refused: reasons that no allocation can change.
    """

    able: dict[Key, tuple[str, ...]]
    refused: dict[Key, str]
    requests: tuple[Request, ...]
    load: dict[Key, float]
    width: dict[Key, int]


@dataclass(slots=True)
class Built:
    """The program with the names of its variables."""

    program: Program
    served: dict[tuple[Key, str], int]
    choices: dict[Setting, int]
    stereo: dict[tuple[str, int], int] = field(default_factory=dict)
    mono: dict[tuple[str, int], int] = field(default_factory=dict)

    def of(self, key: Key) -> dict[int, float]:
        """Return the sum of a request's variables: 1 when it is served."""
        return {index: 1.0 for (own, _), index in self.served.items() if own == key}


@dataclass(frozen=True, slots=True)
class Choice:
    """The solved program: who goes out on what, the setting of each block, loops by unit and row."""

    served: dict[Key, str]
    settings: tuple[Setting, ...]
    stereo: dict[tuple[str, int], int]
    mono: dict[tuple[str, int], int]


def port_rows(ground: Ground) -> dict[tuple[int, int], dict[str, Leg]]:
    """Return legs by carrier row and send port number, then by unit."""
    by_port: defaultdict[tuple[int, int], dict[str, Leg]] = defaultdict(dict)
    for leg in ground.legs:
        by_port[leg.row, leg.send.number][leg.unit] = leg
    return dict(sorted(by_port.items()))


_Signature = tuple[int, tuple[tuple[str, tuple[tuple[Setting | None, ...], tuple[Setting | None, ...]]], ...]]


def rows_of(ground: Ground, reserved: set[tuple[int, int]]) -> tuple[tuple[int, dict[str, Leg], Row], ...]:
    """Group the legs that nobody has pinned: (carrier row, one leg by unit, pairs and singles by send number)."""
    by_port = {place: legs for place, legs in port_rows(ground).items() if place not in reserved}
    alike: defaultdict[_Signature, list[int]] = defaultdict(list)
    example: dict[_Signature, dict[str, Leg]] = {}
    for (row, number), legs in by_port.items():
        signature = (row, tuple((unit, leg.signature) for unit, leg in sorted(legs.items())))
        alike[signature].append(number)
        example.setdefault(signature, legs)
    groups: list[tuple[int, dict[str, Leg], Row]] = []
    for signature, numbers in sorted(alike.items(), key=lambda item: (item[0][0], min(item[1]))):
        together = set(numbers)
        pairs = tuple((n, n + 1) for n in numbers if n % 2 == 1 and n + 1 in together)
        paired = {n for pair in pairs for n in pair}
        groups.append((signature[0], example[signature], Row(pairs, tuple(n for n in numbers if n not in paired))))
    return tuple(groups)


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
    used = sorted({reach.setting for leg in ground.legs for reach in (*leg.out, *leg.back) if reach.setting})
    blocks = sorted({block for block, _ in used})
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
    by_port = port_rows(ground)
    reserved = _pinned(built, options, by_port)
    _place_rows(built, options, rows_of(ground, reserved))
    _limits(built, show, options, with_loads=with_loads)
    return built


def pinned_places(
    request: Request, by_port: dict[tuple[int, int], dict[str, Leg]], unit: str
) -> list[tuple[int, int]] | None:
    """Return the legs (carrier row, send number) a request insists on, None when they do not belong together."""
    if request.ports is None:
        return []
    pairs = list(zip(request.ports.send.each, request.ports.returns.each, strict=False))
    found = [
        place
        for send, returns in pairs
        for place, legs in by_port.items()
        if unit in legs and legs[unit].send == send and legs[unit].returns == returns
    ]
    return found if len(found) == len(request.ports.send) == len(request.ports.returns) else None


def _pinned(built: Built, options: Options, by_port: dict[tuple[int, int], dict[str, Leg]]) -> set[tuple[int, int]]:
    reserved: set[tuple[int, int]] = set()
    claims: defaultdict[tuple[int, int], dict[int, float]] = defaultdict(dict)
    for request in options.requests:
        if request.ports is None:
            continue
        for unit in options.able[key_of(request)]:
            variable = built.served[key_of(request), unit]
            for place in pinned_places(request, by_port, unit) or []:
                reserved.add(place)
                claims[place][variable] = 1.0
                _open(built, by_port[place][unit], {variable: 1.0}, 1.0)
    for terms in claims.values():
        built.program.row(terms, high=1)
    return reserved


def _open(built: Built, leg: Leg, users: dict[int, float], capacity: float) -> None:
    """Let users of a leg be more than nothing only if it is open out and back."""
    for reaches in (leg.out, leg.back):
        if any(reach.setting is None for reach in reaches):
            continue
        terms = dict(users)
        for reach in reaches:
            assert reach.setting is not None
            terms[built.choices[reach.setting]] = terms.get(built.choices[reach.setting], 0.0) - capacity
        built.program.row(terms, high=0)


def _place_rows(built: Built, options: Options, rows: tuple[tuple[int, dict[str, Leg], Row], ...]) -> None:
    program = built.program
    placed_stereo: defaultdict[str, dict[int, float]] = defaultdict(dict)
    placed_mono: defaultdict[str, dict[int, float]] = defaultdict(dict)
    for number, (_, legs, row) in enumerate(rows):
        half_used = program.variable(len(row.pairs))
        pair_terms, mono_terms = {half_used: 1.0}, {half_used: -2.0}
        for unit, leg in sorted(legs.items()):
            stereo = built.stereo[unit, number] = program.variable(len(row.pairs))
            mono = built.mono[unit, number] = program.variable(2 * len(row.pairs) + len(row.singles))
            pair_terms[stereo] = mono_terms[mono] = 1.0
            placed_stereo[unit][stereo] = placed_mono[unit][mono] = 1.0
            _open(built, leg, {stereo: 2.0, mono: 1.0}, 2.0 * len(row.pairs) + len(row.singles))
        program.row(pair_terms, high=len(row.pairs))
        program.row(mono_terms, high=len(row.singles))
    free = [r for r in options.requests if r.ports is None and r.way == "insert"]
    for unit in sorted({unit for able in options.able.values() for unit in able}):
        for legs_wide, placed in ((2, placed_stereo[unit]), (1, placed_mono[unit])):
            terms = dict.fromkeys(placed, -1.0)
            for request in free:
                if options.width[key_of(request)] == legs_wide and (key_of(request), unit) in built.served:
                    terms[built.served[key_of(request), unit]] = 1.0
            if terms:
                program.row(terms, 0, 0)


def _limits(built: Built, show: Show, options: Options, *, with_loads: bool) -> None:
    for unit in show.units:
        users = {key: index for (key, name), index in built.served.items() if name == unit.name}
        if unit.kind == "hardware" and users:
            built.program.row(dict.fromkeys(users.values(), 1.0), high=1)
        if with_loads and unit.load_limit is not None:
            loads = {index: options.load[key] for key, index in users.items() if options.load[key]}
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
    aims: list[dict[int, float]] = []
    names = [key_of(request) for request in options.requests if request.want != "must"]
    for start in range(0, len(names), _NAMES_AT_ONCE):
        batch = names[start : start + _NAMES_AT_ONCE]
        aims.append(
            {index: 2.0 ** (len(batch) - 1 - place) for place, key in enumerate(batch) for index in built.of(key)}
        )
    units = sorted({unit for _, unit in built.served})
    if len(units) > 1:
        for start in range(0, len(options.requests), _NAMES_AT_ONCE):
            batch = [key_of(request) for request in options.requests[start : start + _NAMES_AT_ONCE]]
            rank = {
                (key, unit): place * len(units) + number
                for place, key in enumerate(batch)
                for number, unit in enumerate(units)
            }
            aims.append({index: -float(rank[pair]) for pair, index in built.served.items() if rank.get(pair)})
    low = {index: -2.0 * row for (_, row), index in built.stereo.items() if row}
    low |= {index: -float(row) for (_, row), index in built.mono.items() if row}
    early = {index: -float(choice + 10 * block) for (block, choice), index in built.choices.items() if choice + block}
    return [aim for aim in (*aims, low, early) if aim]
