"""Rules of the allocation beside ports: what ears accept, keys that take loops OUT, and strips that hear one source."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.ways import Ground, each_port, other_source

if TYPE_CHECKING:
    from sidetrip.plan.allocation import Built, Key, Options


def add_rules(built: Built, show: Show, desk: Desk, ground: Ground, options: Options) -> None:
    """Add the rows of what ears accept, of keys, and of the ways in-line and send-and-strip."""
    for room in options.ears:
        terms = {built.served[entry]: seconds for entry, seconds in room.adds.items() if entry in built.served}
        instead: dict[int, float] = {}
        for setting, (seconds, own) in room.along.items():
            if setting in built.choices:  # the whole block is late; a loop of its own adds its chain to that
                terms[built.choices[setting]] = seconds
                if own in room.adds and own in built.served:
                    instead[built.served[own]] = min(seconds, instead.get(built.served[own], seconds))
        terms |= {index: terms[index] - seconds for index, seconds in instead.items()}
        if terms:
            # in units of the room, so that coefficients are near 1
            scale = max(room.room_s, 1e-6)
            built.program.row(
                {index: seconds / scale for index, seconds in terms.items()}, high=room.room_s / scale + 1e-6
            )
    _keys(built, show, desk, options)
    _in_line(built, options)
    _one_meaning(built, desk, ground)
    _other_sources(built, show, desk, ground, options)
    _parallel(built, options)


def _in_line(built: Built, options: Options) -> None:
    """Let a block go in-line only with all its inputs, and a strip only with its block."""
    program = built.program
    for line in options.in_line:
        taken = built.choices[line.setting]
        if line.blocked:
            program.row({taken: 1.0}, high=0)
            continue
        for member in line.members:
            for reaches in member.out:
                opening = {built.choices[reach.setting]: 1.0 for reach in reaches if reach.setting is not None}
                program.row({**opening, taken: -1.0}, low=0)
    for (key, unit), variable in built.served.items():
        if key[1] == "in-line":
            own = [line for line in options.in_line if line.unit == unit and line.holds(key[0]) and not line.blocked]
            program.row({**{built.choices[line.setting]: 1.0 for line in own}, variable: -1.0}, low=0)
    useful = {line.setting for line in options.in_line}
    for (block, choice), variable in built.choices.items():
        if (block, choice) in useful:
            users = [
                index
                for (key, unit), index in built.served.items()
                for line in options.in_line
                if line.setting == (block, choice) and key[1] == "in-line" and unit == line.unit and line.holds(key[0])
            ]
            program.row({**dict.fromkeys(users, 1.0), variable: -1.0}, low=0)


def _one_meaning(built: Built, desk: Desk, ground: Ground) -> None:
    """Keep two blocks from taking the same channels of a socket, unless both are found so: each has one meaning."""
    back = {socket.back for socket in desk.connections}
    taking = [
        (setting, source)
        for setting in sorted(built.choices)
        if isinstance(source := desk.blocks[setting[0]].choices[setting[1]].from_, Ports) and source.group in back
    ]
    for number, (one, source) in enumerate(taking):
        for other, their in taking[:number]:
            as_found = all(choice == ground.current[block] for block, choice in (one, other))
            if one[0] != other[0] and source.overlaps(their) and not as_found:
                built.program.row({built.choices[one]: 1.0, built.choices[other]: 1.0}, high=1)


def _other_sources(built: Built, show: Show, desk: Desk, ground: Ground, options: Options) -> None:
    """Keep the channels on which a unit stands in by block from every other block."""
    for stand in options.stands:
        unit = show.unit(stand.by)
        socket = desk.connection(unit.connects or "") if unit is not None else None
        if stand.switch != "by block" or socket is None:
            continue
        held = each_port(ground.taken)
        pairs = {
            (reach.setting, other[0])
            for leg in ground.legs
            if leg.unit == stand.unit
            for reach in leg.back
            if reach.setting is not None
            and (other := other_source(desk, leg.returns, reach, socket.back, held)) is not None
        }
        for one, (block, choice) in sorted(pairs):
            source = desk.blocks[block].choices[choice].from_
            for setting, variable in sorted(built.choices.items()):
                their = desk.blocks[setting[0]].choices[setting[1]].from_
                if setting[0] == block or not isinstance(source, Ports) or not isinstance(their, Ports):
                    continue
                as_found = all(own[1] == ground.current[own[0]] for own in (one, setting))
                if source.overlaps(their) and not as_found:
                    built.program.row({built.choices[one]: 1.0, variable: 1.0}, high=1)
        for (one, alternate), (two, their_alternate) in _different_blocks(pairs):
            first, second = (desk.blocks[own[0]].choices[own[1]].from_ for own in (alternate, their_alternate))
            as_found = all(own[1] == ground.current[own[0]] for own in (one, two))
            if isinstance(first, Ports) and isinstance(second, Ports) and first.overlaps(second) and not as_found:
                built.program.row({built.choices[one]: 1.0, built.choices[two]: 1.0}, high=1)


_Turn = tuple[tuple[int, int], tuple[int, int]]
"""How a block stands, and how it stands once another unit has taken over."""


def _different_blocks(pairs: set[_Turn]) -> list[tuple[_Turn, _Turn]]:
    ordered = sorted(pairs)
    return [(one, two) for n, one in enumerate(ordered) for two in ordered[n + 1 :] if one[0][0] != two[0][0]]


def _parallel(built: Built, options: Options) -> None:
    """Let a request out by send-and-strip only with its ports open to the unit and back; a port serves one of them."""
    by_port: defaultdict[Port, dict[int, float]] = defaultdict(dict)
    for (key, unit), way in sorted(options.parallel.items()):
        variable = built.served.get((key, unit))
        if variable is None:  # another rule keeps it in
            continue
        for reaches in (*way.out, *way.back):
            if all(reach.setting is not None for reach in reaches):
                opening = {built.choices[reach.setting]: 1.0 for reach in reaches if reach.setting is not None}
                built.program.row({**opening, variable: -1.0}, low=0)
        for port in (*way.send.each, *way.returns.each):
            by_port[port][variable] = 1.0
    for _, users in sorted(by_port.items()):
        built.program.row(users, high=1)


def _keys(built: Built, show: Show, desk: Desk, options: Options) -> None:
    """Let as many groups carry loops that want one press as there are keys; the first key takes all loops OUT."""
    presses = desk.bypass.presses
    if presses.high is not None and presses.high <= 1:
        return
    pressing = [request for request in options.requests if request.one_press and request.way == "insert"]
    keyed: dict[int, float] = {}
    held: dict[str, dict[int, float]] = {request.strip: {} for request in pressing}
    for _, members in sorted(show.bypass_groups.items()):
        own = [request for request in pressing if request.strip in members]
        if own:
            key = built.program.variable()
            keyed[key] = 1.0
            for request in own:
                held[request.strip][key] = -1.0
    for request in pressing:
        terms = built.of((request.strip, request.way))
        if terms:
            built.program.row({**terms, **held[request.strip]}, high=0)
    if keyed:
        built.program.row(keyed, high=max(desk.bypass.group_keys - 1, 0))


def sibling_pairs(show: Show, options: Options) -> list[tuple[Key, Key]]:
    """Return the requests of siblings, two by two: those that ask for a loop on their own signal."""
    found: list[tuple[Key, Key]] = []
    for _, names in sorted(show.siblings.items()):
        asking = sorted(key for key in options.able if key[0] in names and key[1] in ("insert", "in-line"))
        found += [
            (one, other) for number, one in enumerate(asking) for other in asking[number + 1 :] if one[0] != other[0]
        ]
    return found


def harm(built: Built, show: Show, options: Options) -> dict[int, float]:
    """Return the aim that counts strips that go out while a sibling of theirs, which asks too, stays in.

    That comb is cured by no delay on the desk that holds IN and OUT. A sibling that nothing can serve stays in as well.
    The aim is to be made largest: 0 is no harm.
    """
    aim: dict[int, float] = {}
    for one, other in sibling_pairs(show, options):
        if not (built.of(one) and built.of(other)):
            aim |= {index: aim.get(index, 0.0) - 1.0 for index in built.of(one) | built.of(other)}
            continue
        apart = built.program.variable()
        aim[apart] = -1.0
        for first, second in ((one, other), (other, one)):
            terms = built.of(first) | dict.fromkeys(built.of(second), -1.0)
            built.program.row({**terms, apart: -1.0}, high=0)
    return aim
