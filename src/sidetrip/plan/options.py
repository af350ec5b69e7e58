"""What a show and its desk allow, before anybody chooses."""

from __future__ import annotations

from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Key, Options, key_of, pinned_places, port_rows
from sidetrip.plan.protect import never_passed
from sidetrip.plan.ways import Ground, Leg


def find_options(show: Show, desk: Desk, ground: Ground) -> Options:
    """Find which units could serve each request, and what no allocation can change."""
    forbidden = never_passed(show, desk)
    able: dict[Key, tuple[str, ...]] = {}
    refused: dict[Key, str] = {}
    load: dict[Key, float] = {}
    width: dict[Key, int] = {}
    requests = tuple(sorted(show.requests, key=key_of))
    by_port = port_rows(ground)
    for request in requests:
        key = key_of(request)
        width[key] = show.legs(request.strip) if request.way == "insert" else len(_output_port(show, request))
        load[key] = sum(processor.load for processor in show.chains.get(request.chain or "", ()))
        passed = forbidden.get(key)
        if passed:
            able[key], refused[key] = (), f"{passed} passes it, and must never pass a loop"
            continue
        units, reason = _able(show, desk, ground, request, width[key], by_port)
        able[key] = units
        if not units:
            refused[key] = reason
    return Options(able, refused, requests, load, width)


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
) -> tuple[tuple[str, ...], str]:
    wanted = [unit for unit in show.units if request.unit in (None, unit.name)]
    if request.unit is None:
        wanted = [unit for unit in wanted if unit.kind == "computer"]
    if not wanted:
        return (), "the show has no computer that could run its chain; name a unit"
    if request.way == "insert":
        kind = show.kind(request.strip)
        pool = desk.pool(kind)
        if pool is None or pool.insert is None:
            return (), f"a {kind} strip of this desk has no insert point"
        fits = []
        for unit in wanted:
            legs = [leg for leg in ground.legs if leg.unit == unit.name]
            if len(legs) >= width and pinned_places(request, by_port, unit.name) is not None:
                fits.append(unit.name)
        if fits:
            return tuple(sorted(fits)), ""
        names = " or ".join(sorted(unit.name for unit in wanted))
        if request.ports is not None:
            pinned = f"send {request.ports.send}, return {request.ports.returns}"
            return (), f"its ports ({pinned}) are no way to {names} and back, or are in use"
        if any(leg.unit == unit.name for unit in wanted for leg in ground.legs):
            return (), f"it is {width} legs wide, and {names} can be reached with fewer"
        kept = ", ".join(sorted({name for _, name in ground.taken} & {keep.for_ for keep in show.keep}))
        return (), f"no free ports lead to {names} and back" + (f" beside what stays for {kept}" if kept else "")
    fits = [
        unit.name
        for unit in wanted
        if unit.out is not None
        and unit.back is not None
        and len(unit.out) == len(unit.back) == width
        and any(unit.out.group in way.out and unit.back.group in way.back for way in desk.output_ways)
    ]
    names = " or ".join(sorted(unit.name for unit in wanted))
    return tuple(sorted(fits)), f"this desk cannot bring it to {names} and back on the way to the loudspeaker"
