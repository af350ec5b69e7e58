"""The rules of the allocation in words, for a second solver: every carrier port and every block choice its own boolean.

Written from the words of the rules for the cases of `bruteforce_cases`, on OR-Tools CP-SAT, aim after aim. Nothing here
counts ports that are alike, and nothing is taken from the planner.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bruteforce_cases import DRY_FRAMES, IN_LINE_FRAMES, INSERT_FRAMES, RATE, Case, Wish
from bruteforce_rules import Score, line_of, passed_by_never, stretches, together
from bruteforce_settings import Change, blocks_of, held_ports, stays

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, IntVar, LinearExprT

SECONDS = 120.0
"""How long one stage may take before it is called unsolved."""


@dataclass
class Model:
    """The model of one case. out: by request number and unit, whether it goes out there. sits: by request number and

    unit, on which ports. place: whether a place of free inserts is in use, by unit and ports. turned: by block and
    what it changes to. torn: for each pair of siblings, whether they are torn apart.
    """

    own: Case
    model: CpModel
    out: dict[tuple[int, str], IntVar] = field(default_factory=dict)
    sits: dict[tuple[int, str], dict[tuple[int, ...], IntVar]] = field(default_factory=dict)
    place: dict[tuple[str, tuple[int, ...]], IntVar] = field(default_factory=dict)
    turned: dict[Change, IntVar] = field(default_factory=dict)
    torn: list[IntVar] = field(default_factory=list)

    def goes(self, number: int) -> list[IntVar]:
        """Return the variables of a request, of which one is 1 when it goes out."""
        return [self.out[number, unit] for unit in self.own.units_for(self.own.wishes[number])]


def solve(own: Case) -> Score | None:
    """Return the best score, None when the musts cannot all be met. Raises TimeoutError when a stage takes too long."""
    from ortools.sat.python import cp_model

    built = _built(own, cp_model.CpModel())
    aims: list[list[tuple[int, IntVar]]] = [
        [(1, each) for number, wish in enumerate(own.wishes) if wish.want == level for each in built.goes(number)]
        for level in range(9, 0, -1)
    ]
    aims.append([(-1, each) for each in built.torn])
    aims.append([(1, each) for each in built.place.values()] if own.cues else [])
    aims.append([(-change.count, each) for change, each in built.turned.items()])
    score: list[int] = []
    hint: dict[int, int] = {}
    for aim in aims:
        if not aim and score:
            score.append(0)
            continue
        terms: LinearExprT = sum(weight * each for weight, each in aim)
        if aim:
            built.model.maximize(terms)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 2
        solver.parameters.max_time_in_seconds = SECONDS
        built.model.proto.clear_solution_hint()
        for index, value in hint.items():
            built.model.add_hint(built.model.get_int_var_from_proto_index(index), value)
        status = solver.solve(built.model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL:
            raise TimeoutError(f"no proof in {SECONDS:g} s: {solver.status_name(status)}")
        best = sum(weight * solver.value(each) for weight, each in aim)
        if aim:
            built.model.add(terms >= best)
        every = [*built.out.values(), *built.turned.values(), *built.place.values()]
        every += [each for ports in built.sits.values() for each in ports.values()]
        hint = {each.index: solver.value(each) for each in every}
        score.append(best)
    return tuple(score)


def _built(own: Case, model: CpModel) -> Model:
    built = Model(own, model)
    for number, wish in enumerate(own.wishes):
        for unit in own.units_for(wish):
            built.out[number, unit] = model.new_bool_var(f"{number} on {unit}")
        if wish.want == "must":
            model.add_exactly_one(built.goes(number))
        else:
            model.add_at_most_one(built.goes(number))
    _blocks(built)
    _inserts(built)
    _sends(built)
    _lines(built)
    _units(built)
    _keys(built)
    _ears(built)
    _siblings(built)
    return built


def _blocks(built: Model) -> None:
    """One choice a block, nothing that must stay is changed, no channel of a card comes back in two places."""
    fixed = stays(built.own)
    meaning: defaultdict[tuple[str, int], list[IntVar]] = defaultdict(list)
    for row in blocks_of(built.own):
        own = []
        for change in row:
            if change is None:
                continue
            turned = built.turned[change] = built.model.new_bool_var(f"{change.block}: {change.becomes}")
            own.append(turned)
            if any((change.to, change.first + n) in fixed for n in range(change.count)):
                built.model.add(turned == 0)
            for n in range(change.count if change.source.endswith(" in") else 0):
                meaning[change.source, change.start + n].append(turned)
        built.model.add_at_most_one(own)
    for users in meaning.values():
        built.model.add_at_most_one(users)


def _bringing(built: Model, to: str, source: str, port: int, kept: set[tuple[str, int]]) -> list[IntVar]:
    """Return the changes that bring a port onto a group, but for channels that are kept."""
    return [
        turned
        for change, turned in built.turned.items()
        if (change.to, change.source) == (to, source)
        and change.start <= port < change.start + change.count
        and (to, change.first + port - change.start) not in kept
    ]


def _feeding(built: Model, to: str, port: int, source: str, kept: set[tuple[str, int]]) -> list[IntVar]:
    """Return the changes by which a group feeds a port, but for channels that are kept."""
    return [
        turned
        for change, turned in built.turned.items()
        if (change.to, change.source) == (to, source)
        and change.first <= port < change.first + change.count
        and (source, change.start + port - change.first) not in kept
    ]


def _only_if(built: Model, sits: IntVar, one_of: list[IntVar]) -> None:
    built.model.add_bool_or([sits.negated(), *one_of])


def _at_jack(built: Model, sits: IntVar, port: int) -> None:
    """Let something sit at an aux in only while that port belongs to its jack."""
    for change, turned in built.turned.items():
        if change.to == "aux in" and change.first <= port < change.first + change.count:
            built.model.add_implication(sits, turned.negated())


def _inserts(built: Model) -> None:
    """Each insert sits on one place, each port serves one at a time, a place loops of one unit and width."""
    own, model = built.own, built.model
    kept, held = set(own.kept), held_ports(own)
    for number, wish in enumerate(own.wishes):
        for unit in own.units_for(wish) if wish.way == "insert" else ():
            places = built.sits[number, unit] = {}
            for ports in _runs(own, wish, unit):
                group = "local" if unit == "box" else "aux"
                if any((f"{group} {way}", port) in held for way in ("in", "out") for port in ports):
                    continue
                sits = places[ports] = model.new_bool_var(f"{number} on {unit} at {ports}")
                if wish.pin is not None:
                    _reach(built, sits, unit, ports, kept)
                    continue
                if (unit, ports) not in built.place:
                    built.place[unit, ports] = model.new_bool_var(f"{unit} {ports} in use")
                    _reach(built, built.place[unit, ports], unit, ports, kept)
                model.add_implication(sits, built.place[unit, ports])
            model.add(sum(places.values()) == built.out[number, unit])
    _ports(built)


def _reach(built: Model, used: IntVar, unit: str, ports: tuple[int, ...], kept: set[tuple[str, int]]) -> None:
    """Let ports be used only while the blocks bring them to the unit and back, or while they belong to their jacks."""
    for port in ports if unit in built.own.cards else ():
        _only_if(built, used, _bringing(built, f"{unit} out", "aux out", port, kept))
        _only_if(built, used, _feeding(built, "aux in", port, f"{unit} in", kept))
    if unit == "rack":
        _at_jack(built, used, ports[0])


def _runs(own: Case, wish: Wish, unit: str) -> list[tuple[int, ...]]:
    """Return the runs of ports that are a place for an insert: its pin, any port, any odd-even pair of one block."""
    if unit == "rack":
        return [(own.rack,)] if wish.width == 1 and wish.pin in (None, own.rack) else []
    if wish.pin is not None:
        return [tuple(range(wish.pin, wish.pin + wish.width))]
    ports = range(21, 23) if unit == "box" else range(1, own.carriers + 1)
    starts = [port for port in ports if wish.width == 1 or port % 2 == 1]
    return [tuple(range(port, port + wish.width)) for port in starts]


def _ports(built: Model) -> None:
    own, model = built.own, built.model
    last = len(own.cues)
    pinned: defaultdict[tuple[str, int], list[tuple[IntVar, tuple[int, int]]]] = defaultdict(list)
    of_place: defaultdict[tuple[str, tuple[int, ...]], list[tuple[IntVar, tuple[int, int]]]] = defaultdict(list)
    for (number, unit), places in built.sits.items():
        wish = own.wishes[number]
        for ports, sits in places.items():
            if wish.pin is None:
                of_place[unit, ports].append((sits, stretches(own, wish)))
            else:
                for port in ports:
                    pinned[_group(unit), port].append((sits, stretches(own, wish)))
    for number, wish in enumerate(own.wishes):
        if wish.way == "send-and-strip" and wish.pin is not None:
            for unit in own.units_for(wish):
                for port in range(wish.send, wish.send + wish.width):
                    pinned["aux", port].append((built.out[number, unit], stretches(own, wish)))
    for place, users in of_place.items():
        model.add(sum(sits for sits, _ in users) >= built.place[place])
        for now in range(last + 1):
            model.add_at_most_one(sits for sits, when in users if together(when, (now, now)))
    by_port: defaultdict[tuple[str, int], list[IntVar]] = defaultdict(list)
    for (unit, ports), used in built.place.items():
        for port in ports:
            by_port[_group(unit), port].append(used)
    for at, places_here in by_port.items():
        model.add_at_most_one(places_here)
        for sits, _ in pinned[at]:
            for used in places_here:
                model.add_implication(sits, used.negated())
    at_port = defaultdict(list, {at: list(users) for at, users in pinned.items()})
    for (unit, ports), users in of_place.items():
        for port in ports:
            at_port[_group(unit), port] += users
    for users in at_port.values():
        for now in range(last + 1):
            model.add_at_most_one(sits for sits, when in users if together(when, (now, now)))


def _group(unit: str) -> str:
    return "local" if unit == "box" else "aux"


def _sends(built: Model) -> None:
    """A send leaves by its ports and comes back on its strip's, none of them kept, through blocks or at the jacks."""
    own = built.own
    kept = set(own.kept)
    for number, wish in enumerate(own.wishes):
        for unit in own.units_for(wish) if wish.way == "send-and-strip" else ():
            goes = built.out[number, unit]
            for leg in range(wish.width):
                send, back = wish.send + leg, wish.back + leg
                if {("aux out", send), ("aux in", back)} & kept:
                    built.model.add(goes == 0)
                if unit == "plate":
                    _at_jack(built, goes, back)
                else:
                    _only_if(built, goes, _bringing(built, f"{unit} out", "aux out", send, kept))
                    _only_if(built, goes, _feeding(built, "aux in", back, f"{unit} in", kept))


def _lines(built: Model) -> None:
    """A block goes in-line for somebody who asked, with every input of it out to the card and back from it."""
    own, model = built.own, built.model
    kept, protected = set(own.kept), passed_by_never(own)
    for index, line in enumerate(own.lines):
        for change, turned in built.turned.items():
            if (change.to, change.first) != ("channel", line.first):
                continue
            card = change.source.removesuffix(" in")
            asking = [
                built.out[number, card]
                for number, wish in enumerate(own.wishes)
                if wish.way == "in-line" and line_of(own, wish.strip) == index and card in own.units_for(wish)
            ]
            model.add_bool_or([turned.negated(), *asking])
            for goes in asking:
                model.add_implication(goes, turned)
            for strip in own.strips:
                if strip.kind != "channel" or line_of(own, strip.name) != index:
                    continue
                if strip.name in protected:
                    model.add(turned == 0)
                for ch in range(strip.ch, strip.ch + strip.width):
                    if (change.source, change.start + ch - line.first) in kept:
                        model.add(turned == 0)
                    as_found = [
                        turn
                        for other, turn in built.turned.items()
                        if other.to == f"{card} out" and other.first <= ch < other.first + other.count
                    ]
                    if not any(a <= ch <= b for a, b in own.sends):
                        _only_if(built, turned, _bringing(built, f"{card} out", "stage", ch, kept))
                        continue
                    stays_as_found = model.new_bool_var(f"{card} out {ch} as found")
                    for turn in as_found:
                        model.add_implication(stays_as_found, turn.negated())
                    _only_if(built, turned, [stays_as_found, *_bringing(built, f"{card} out", "stage", ch, kept)])
    for number, wish in enumerate(own.wishes):
        if wish.way == "in-line" and line_of(own, wish.strip) < 0:
            for goes in built.goes(number):
                model.add(goes == 0)


def _units(built: Model) -> None:
    """Loads within limits, hardware for one at a time and for an output alone, protected paths on none."""
    own, model = built.own, built.model
    protected = passed_by_never(own)
    for number, wish in enumerate(own.wishes):
        if wish.strip in protected:
            for goes in built.goes(number):
                model.add(goes == 0)
    for card, limit in own.limits:
        loads = [wish.load * built.out[n, card] for n, wish in enumerate(own.wishes) if (n, card) in built.out]
        model.add(sum(loads) <= limit)
    boxes = [(n, unit) for n, unit in built.out if unit not in own.cards]
    for place, (one, unit) in enumerate(boxes):
        for other, same in boxes[:place]:
            if unit == same:
                pair = own.wishes[one], own.wishes[other]
                if "output" in (pair[0].way, pair[1].way) or together(*(stretches(own, wish) for wish in pair)):
                    model.add_at_most_one([built.out[one, unit], built.out[other, unit]])


def _keys(built: Model) -> None:
    """One key takes all loops OUT, each other key one bypass group; in-line and outputs have no single press."""
    own, model = built.own, built.model
    keyed = [model.new_bool_var(f"key for group {n}") for n in range(len(own.groups))]
    model.add(sum(keyed) <= max(own.keys - 1, 0))
    for number, wish in enumerate(own.wishes):
        if not wish.one_press or wish.way == "send-and-strip":
            continue
        helping = [keyed[n] for n, names in enumerate(own.groups) if wish.way == "insert" and wish.strip in names]
        for goes in built.goes(number):
            _only_if(built, goes, helping)


def _ears(built: Model) -> None:
    """What loops add on the way of a performer's own sound to his ears stays within both limits."""
    own, model = built.own, built.model
    for ear in own.ears:
        through = {ear.name}
        if ear.via != ear.channel:
            through |= {ear.channel} | (set() if ear.dry else {ear.via})
        elif not ear.dry:
            through.add(ear.channel)
        added = []
        for (number, unit), goes in built.out.items():
            wish = own.wishes[number]
            if wish.way == "insert" and wish.strip in through:
                added.append((INSERT_FRAMES[unit] + wish.late) * goes)
            if wish.way == "in-line" and wish.strip == ear.channel:
                added.append(wish.late * goes)
        line = line_of(own, ear.channel)
        for change, turned in built.turned.items():
            if line >= 0 and (change.to, change.first) == ("channel", own.lines[line].first):
                added.append(IN_LINE_FRAMES[change.source.removesuffix(" in")] * turned)
        if own.added_ms is not None:
            model.add(sum(added) <= int(own.added_ms * RATE / 1000))
        dry = DRY_FRAMES + ear.device_frames
        if own.total_ms is not None:
            model.add(sum(added) <= int(own.total_ms * RATE / 1000) - dry)


def _siblings(built: Model) -> None:
    own, model = built.own, built.model
    asked = {wish.strip: number for number, wish in enumerate(own.wishes) if wish.way in ("insert", "in-line")}
    for names in own.siblings:
        here = sorted(set(names) & set(asked))
        for place, one in enumerate(here):
            for other in here[:place]:
                torn = model.new_bool_var(f"{one} without {other}")
                first, second = (sum(built.goes(asked[name])) for name in (one, other))
                model.add(torn >= first - second)
                model.add(torn >= second - first)
                built.torn.append(torn)
