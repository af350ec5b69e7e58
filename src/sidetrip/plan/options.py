"""What a show and its desk allow, before anybody chooses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from sidetrip.model.desk import Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Key, Options, key_of, pinned_places
from sidetrip.plan.cues import needed
from sidetrip.plan.ear_rooms import ear_refusals, ear_rooms
from sidetrip.plan.in_line import InLine, in_lines
from sidetrip.plan.protect import never_passed
from sidetrip.plan.rows import port_rows
from sidetrip.plan.send_strip import Parallel, ends_of, parallel
from sidetrip.plan.stand_in import Stand, no_room, stands_of, without_stands
from sidetrip.plan.ways import Ground, Leg, survey


def find_options(show: Show, desk: Desk, ground: Ground) -> Options:
    """Find which units could serve each request, and what no allocation can change."""
    forbidden = never_passed(show, desk, ((request.strip, request.way) for request in show.requests))
    lines = in_lines(show, desk, ground) if any(request.way == "in-line" for request in show.requests) else ()
    stands = stands_of(show)
    waiting = {stand.by for stand in stands if stand.shared}  # of two units on one socket the block brings the first
    lines = tuple(line for line in lines if line.unit not in waiting)
    beside: dict[tuple[Key, str], Parallel] = {}
    able: dict[Key, tuple[str, ...]] = {}
    refused: dict[Key, str] = {}
    load: dict[Key, float] = {}
    width: dict[Key, int] = {}
    requests = tuple(sorted(show.requests, key=key_of))
    by_port = port_rows(ground)
    reach = Counter(leg.unit for leg in ground.legs)
    legs = {item.name: len(item.port) for item in show.inputs}
    for request in requests:
        key = key_of(request)
        width[key] = _width(show, request, legs)
        load[key] = sum(processor.load for processor in show.chains.get(request.chain or "", ()))
        passed = forbidden.get(key)
        if passed:
            able[key], refused[key] = (), f"{passed} passes it, and must never pass a loop"
            continue
        if too_slow := _too_slow(show, desk, request):
            able[key], refused[key] = (), too_slow
            continue
        if request.way == "in-line":
            units, reason = _able_in_line(show, request, lines)
        elif request.way == "send-and-strip":
            ways = [(unit, parallel(show, desk, ground, request, unit)) for unit in _wanted(show, request)]
            beside |= {(key, unit.name): way for unit, way in ways if isinstance(way, Parallel)}
            units = tuple(sorted(unit.name for unit, way in ways if isinstance(way, Parallel)))
            reason = "; ".join(way for _, way in ways if isinstance(way, str)) or _NO_COMPUTER
        else:
            units, reason = _able(show, desk, ground, request, width[key], by_port, reach)
        able[key] = units
        if not units:
            refused[key] = reason
    during = {key_of(request): needed(show, request) for request in requests} if show.cues else {}
    if stands and refused:
        refused |= _for_stands(show, desk, stands, refused, width)
    options = Options(able, refused, requests, load, width, forbidden, lines, beside, during=during, stands=stands)
    rooms = ear_rooms(show, desk, ground, options)
    for key, reason in ear_refusals(options, rooms).items():
        able[key], refused[key] = (), reason
    return replace(options, ears=rooms)


def _for_stands(
    show: Show, desk: Desk, stands: tuple[Stand, ...], refused: Mapping[Key, str], width: Mapping[Key, int]
) -> dict[Key, str]:
    """Return the reasons of those who could go out if no unit had to be able to take them over."""
    alone = without_stands(show)
    able = find_options(alone, desk, survey(alone, desk)).able
    found: dict[Key, str] = {}
    for key in refused:
        hindered = [stand for stand in stands if stand.unit in able[key]]
        if hindered and key[1] in ("in-line", "send-and-strip"):
            stand = hindered[0]
            found[key] = f"'{stand.by}' stands in for '{stand.unit}', and takes over inserts only, {stand.switch}"
        elif hindered:
            found[key] = no_room(hindered[0], width[key])
    return found


_NO_COMPUTER = "the show has no computer that could run its chain; name a unit"


def _width(show: Show, request: Request, legs: Mapping[str, int]) -> int:
    if request.way == "output":
        return len(_output_port(show, request))
    if request.way == "send-and-strip":
        return len(ends_of(show, request)[1] or ())
    return legs[request.strip] if request.strip in legs else show.legs(request.strip)


def _wanted(show: Show, request: Request) -> list[Unit]:
    """Return the units a request names, or all computers but those that wait to take over from another.

    By the ways in-line and send-and-strip it can go to no unit that another must take over from, unless a box does it.
    """
    wanted = [unit for unit in show.units if request.unit in (None, unit.name)]
    if request.way in ("in-line", "send-and-strip"):
        left = {stand.unit for stand in stands_of(show) if not stand.anything}
        wanted = [unit for unit in wanted if unit.name not in left]
    waiting = {stand.by for stand in stands_of(show)}
    computers = [unit for unit in wanted if unit.kind == "computer" and unit.name not in waiting]
    return computers if request.unit is None else wanted


def _too_slow(show: Show, desk: Desk, request: Request) -> str:
    """Say why a request that wants a bypass in one press cannot have it on this desk, empty when it can or needs none.

    A key that takes inserts OUT is one press for whatever it takes.
    """
    if not request.one_press or request.way == "send-and-strip":  # the mute of its return strip is one press
        return ""
    presses = desk.bypass.presses if request.way == "insert" else desk.bypass.output_presses
    if presses.high is not None and presses.high <= 1:
        return ""
    keyed = (
        request.way == "insert" and desk.bypass.group_keys > 0 and desk.bypass.group_key_takes_inserts.answer == "yes"
    )
    if keyed and any(request.strip in members for members in show.bypass_groups.values()):
        return ""
    words = f"{presses} presses" if presses.known else "nobody knows how many presses"
    return f"it wants a bypass in one press; this desk takes {words}, and it is in no bypass group with a key"


def _able_in_line(show: Show, request: Request, lines: tuple[InLine, ...]) -> tuple[tuple[str, ...], str]:
    wanted = {unit.name for unit in _wanted(show, request)}
    if not wanted:
        return (), _NO_COMPUTER
    own = [line for line in lines if line.unit in wanted and line.holds(request.strip)]
    units = {line.unit for line in own if not line.blocked}
    if units:
        return tuple(sorted(units)), ""
    if own:
        return (), "its block cannot go in-line: " + "; ".join(dict.fromkeys(line.blocked for line in own))
    return (), f"no block of this desk takes {' or '.join(sorted(wanted))} as the source of this strip"


def _output_port(show: Show, request: Request) -> Ports:
    output = show.output(request.strip)
    assert output is not None, "checked when the show was read"
    return output.port


def _able(
    show: Show,
    desk: Desk,
    ground: Ground,
    request: Request,
    width: int,
    by_port: dict[tuple[int, int], dict[str, Leg]],
    reach: Counter[str],
) -> tuple[tuple[str, ...], str]:
    wanted = _wanted(show, request)
    if not wanted:
        return (), _NO_COMPUTER
    if request.way == "insert":
        kind = show.kind(request.strip)
        pool = desk.pool(kind)
        if pool is None or pool.insert is None:
            return (), f"a {kind} strip of this desk has no insert point"

        def fitting(request: Request, unit: str) -> list[tuple[int, int]] | None:
            return pinned_places(request, by_port, unit, width, any_pair=ground.any_pair)

        fits = []
        for unit in wanted:
            if reach[unit.name] >= width and fitting(request, unit.name) is not None:
                fits.append(unit.name)
        if fits:
            return tuple(sorted(fits)), ""
        names = " or ".join(sorted(unit.name for unit in wanted))
        if request.ports is not None:
            both = (request.ports.send, request.ports.returns)
            pinned = f"send {request.ports.send}, return {request.ports.returns}"
            odd_even = width > 1 and not ground.any_pair
            if any(len(ports) != width or (odd_even and not ports.odd_even) for ports in both):
                shape = "one port" if width == 1 else "an odd-even pair" if odd_even else "a pair"
                return (), f"its ports ({pinned}) are not {shape} each way"
            held = _held(ground, both)
            words = f"are in use or must stay: {held}" if held else f"are no way to {names} and back"
            return (), f"its ports ({pinned}) {words}"
        if any(reach[unit.name] for unit in wanted):
            return (), f"it is {width} legs wide, and {names} can be reached with fewer"
        return (), _no_way(desk, ground, show, wanted, names)
    return _able_behind(desk, ground, wanted, width)


def _held(ground: Ground, runs: tuple[Ports, ...]) -> str:
    """Say what holds any of these ports."""
    return ", ".join(
        sorted({f"{ports} for {what}" for ports, what in ground.taken if any(ports.overlaps(run) for run in runs)})
    )


def _no_way(desk: Desk, ground: Ground, show: Show, wanted: list[Unit], names: str) -> str:
    """Say why no carrier leads to any of the wanted units."""
    for unit in wanted:
        if unit.out is None or unit.back is None:
            continue
        held = _held(ground, (unit.out, unit.back))
        if held:
            return f"the ports to {names} and back are in use or must stay: {held}"
        pairs = ", ".join(f"{carrier.send} with {carrier.returns}" for carrier in desk.carriers) or "none"
        return f"{unit.out} and {unit.back} do not belong together as send and return on this desk: it pairs {pairs}"
    kept = ", ".join(sorted({name for _, name in ground.taken} & {keep.for_ for keep in show.keep}))
    return f"no free ports lead to {names} and back" + (f" beside what stays for {kept}" if kept else "")


def _able_behind(desk: Desk, ground: Ground, wanted: list[Unit], width: int) -> tuple[tuple[str, ...], str]:
    """Find which units can stand between an output and its loudspeaker."""
    names = " or ".join(sorted(unit.name for unit in wanted))
    fits: list[str] = []
    in_use: set[str] = set()
    for unit in wanted:
        if unit.out is None or unit.back is None or not len(unit.out) == len(unit.back) == width:
            continue
        if not any(unit.out.group in way.out and unit.back.group in way.back for way in desk.output_ways):
            continue
        jacks = (unit.out, unit.back)
        clashes = {f"{ports} for {what}" for ports, what in ground.taken if any(ports.overlaps(own) for own in jacks)}
        if not clashes:
            fits.append(unit.name)
        in_use |= clashes
    if in_use and not fits:
        return (), f"the ports to {names} and back are in use or must stay: {', '.join(sorted(in_use))}"
    return tuple(sorted(fits)), f"this desk cannot bring it to {names} and back on the way to the loudspeaker"
