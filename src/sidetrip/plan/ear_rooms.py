"""What ears accept, before anybody chooses: how much time each way to them leaves for loops."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sidetrip.graph.arrivals import find_arrivals
from sidetrip.graph.build import build
from sidetrip.graph.hops import Hops
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.loop_times import LoopTimes
from sidetrip.graph.round_trip import UnitTime, measured_buffers, unit_time
from sidetrip.model.desk import Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.ears import heard_ways
from sidetrip.plan.ways import Ground, Setting
from sidetrip.units import ms_from_seconds, seconds_from_ms

if TYPE_CHECKING:
    from sidetrip.plan.allocation import Key, Options

_ROUNDING_S = 1e-9


@dataclass(frozen=True, slots=True)
class EarRoom:
    """What one way to somebody's ears leaves for loops, in seconds.

    adds: by request and unit what its loop adds to this way, at least. along: by choice of a block of channels what
    this way gets later where the microphone goes along in-line, with the request whose own loop that would be. what:
    the limit in words.
    """

    mix: str
    source: str
    room_s: float
    adds: dict[tuple[Key, str], float]
    what: str
    along: dict[Setting, tuple[float, tuple[Key, str]]] = field(default_factory=dict)

    def refusal(self, key: Key, units: tuple[str, ...]) -> str:
        """Say why a request can go out on none of these units, empty when it can on one."""
        times = [self.adds.get((key, unit), 0.0) for unit in units]
        if not times or min(times) <= self.room_s + _ROUNDING_S:
            return ""
        added = ms_from_seconds(min(times))
        left = ms_from_seconds(self.room_s)
        return f"it adds {added:.2f} ms for {self.source} in {self.mix}, and {self.what} leaves {left:.2f} ms for loops"


def ear_rooms(show: Show, desk: Desk, ground: Ground, options: Options) -> tuple[EarRoom, ...]:
    """Return what each judged way to ears leaves for loops, at each unit's smallest buffer.

    Judged are the ways that the limits are about: a performer's own sound where it is known, within 10 dB of the
    loudest. Where a loop's time or the dry way is unknown, or the dry way alone is beyond the limit, nothing is asked.
    """
    limits = show.limits
    if limits.ear_total_ms is None and limits.ear_added_ms is None:
        return ()
    fastest = _fastest(show, desk, ground, options)
    if not fastest:
        return ()
    first: dict[Key, PlacedLoop] = {}
    for (key, _), (loop, _) in sorted(fastest.items(), key=lambda entry: entry[0]):
        first.setdefault(key, loop)
    times = {unit.name: _least(unit, show.sample_rate) for unit in show.units}
    line_map = build(show, desk, first.values(), times)
    line_map = replace(line_map, places=tuple(place for place in line_map.places if place.kind == "ear"))
    names = {loop.name: key for key, loop in first.items()}
    blank = _blank(show, desk, options, times)
    rooms: list[EarRoom] = []
    for mix, source, row in heard_ways(show, find_arrivals(line_map)):
        passed = {names[loop] for loop in row.loops}
        adds = {entry: seconds for entry, (_, seconds) in fastest.items() if entry[0] in passed and seconds > 0}
        along = blank.get(row.microphone or "", {})
        if not adds and not along:
            continue
        if limits.ear_added_ms is not None:
            what = f"the show's limit of {limits.ear_added_ms:g} ms added"
            rooms.append(EarRoom(mix, source, seconds_from_ms(limits.ear_added_ms), adds, what, along))
        if limits.ear_total_ms is not None and row.base.known:
            room_s = seconds_from_ms(limits.ear_total_ms) - row.base.high
            what = f"the show's limit of {limits.ear_total_ms:g} ms in all"
            rooms += [EarRoom(mix, source, room_s, adds, what, along)] if room_s >= 0 else []
    return tuple(rooms)


def _fastest(
    show: Show, desk: Desk, ground: Ground, options: Options
) -> dict[tuple[Key, str], tuple[PlacedLoop, float]]:
    """Return for each request and unit the loop that adds least, as it could be placed, and what it adds."""
    hop = Hops(show, desk)
    times = {unit.name: _least(unit, show.sample_rate) for unit in show.units}
    found: dict[tuple[Key, str], tuple[PlacedLoop, float]] = {}
    for request in options.requests:
        key = request.strip, request.way
        for unit in options.able.get(key, ()):
            for loop in _placeable(show, ground, options, request, unit):
                seconds = LoopTimes(show, (loop,), times, hop)(loop).delay.low
                if (key, unit) not in found or seconds < found[key, unit][1]:
                    found[key, unit] = replace(loop, name="/".join(key)), seconds
    return found


def _blank(
    show: Show, desk: Desk, options: Options, times: dict[str, UnitTime]
) -> dict[str, dict[Setting, tuple[float, tuple[Key, str]]]]:
    """Return what each input gets later where it goes in-line with its block, whether it asked or not: by choice."""
    hop = Hops(show, desk)
    found: dict[str, dict[Setting, tuple[float, tuple[Key, str]]]] = {}
    for line in options.in_line:
        for member in line.members if not line.blocked else ():
            name, out = member.item.name, _run(member.out[0][0].port)
            width, send, back = len(member.out), member.item.port, member.back
            loop = PlacedLoop(name, name, "in-line", line.unit, None, width, send, back, out, back, blank=True)
            seconds = LoopTimes(show, (loop,), times, hop)(loop).delay.low
            if seconds > 0:
                found.setdefault(name, {})[line.setting] = seconds, ((name, "in-line"), line.unit)
    return found


def _least(unit: Unit, rate_hz: int) -> UnitTime:
    if unit.kind == "hardware":
        return unit_time(unit, None, rate_hz)
    buffers = measured_buffers(unit, rate_hz)
    fixed = unit.buffer if isinstance(unit.buffer, int) else None
    return unit_time(unit, fixed or (buffers[0] if buffers else None), rate_hz)


def _placeable(show: Show, ground: Ground, options: Options, request: Request, unit: str) -> Iterator[PlacedLoop]:
    """Yield loops for a request on a unit, one for each row of carriers, block or pair of ends."""

    def loop(send: Ports, returns: Ports, out: Port | Ports, back: Port | Ports) -> PlacedLoop:
        unit_in, unit_out = (port if isinstance(port, Ports) else _run(port) for port in (out, back))
        strip, chain, width, back_on = request.strip, request.chain, len(send), request.back_on
        return PlacedLoop(strip, strip, request.way, unit, chain, width, send, returns, unit_in, unit_out, back_on)

    if request.way == "insert":
        legs = {leg.row: leg for leg in reversed(ground.legs) if leg.unit == unit}
        for _, leg in sorted(legs.items()):
            yield loop(_run(leg.send), _run(leg.returns), leg.out[0].port, leg.back[0].port)
    elif request.way == "in-line":
        for line in options.in_line:
            for member in line.members if line.unit == unit and not line.blocked else ():
                if member.item.name == request.strip:
                    yield loop(member.item.port, member.back, member.out[0][0].port, member.back)
    elif request.way == "send-and-strip":
        beside = options.parallel[(request.strip, request.way), unit]
        yield loop(beside.send, beside.returns, beside.out[0][0].port, beside.back[0][0].port)
    else:
        own = show.unit(unit)
        assert own is not None and own.out is not None and own.back is not None
        yield loop(own.out, own.back, own.out, own.back)


def _run(port: Port) -> Ports:
    return Ports(port.group, port.number, port.number)


def ear_refusals(options: Options, rooms: tuple[EarRoom, ...]) -> dict[Key, str]:
    """Return the requests that no unit could serve within what ears accept, with why."""
    found: dict[Key, str] = {}
    for key, units in options.able.items():
        for room in rooms:
            if units and key not in found and (why := room.refusal(key, units)):
                found[key] = why
    return found


__all__ = ["EarRoom", "ear_refusals", "ear_rooms"]
