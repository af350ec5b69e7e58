"""A show held against itself and its desk: names that exist, strips and ports claimed once, sources that fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.show import KEPT_FIELDS, KEPT_KEYS, Request, Show
from sidetrip.showfile.check_desk import tap_position
from sidetrip.showfile.check_house import check_house
from sidetrip.showfile.check_scenes import check_scenes
from sidetrip.showfile.check_side_chains import check_side_chains
from sidetrip.showfile.check_stand_in import check_stand_in, stand_in_pair
from sidetrip.showfile.check_strips import check_blocks, check_names, check_port, check_strips, unknown
from sidetrip.showfile.check_takes import check_takes
from sidetrip.showfile.check_two_desks import check_two_desks
from sidetrip.showfile.read import nearest
from sidetrip.showfile.syntax import Path


def check_show(show: Show, desk: Desk) -> list[Finding]:
    """Return everything in the show that cannot be as it is written, with paths into the file."""
    return [
        *check_names(show, desk),
        *check_strips(show, desk),
        *_routes(show, desk),
        *_outputs(show, desk),
        *check_blocks(show, desk),
        *_units(show, desk),
        *_requests(show, desk),
        *_air(show),
        *_delays(show, desk),
        *_house(show, desk),
        *check_house(show, desk),
        *check_takes(show, desk),
        *check_two_desks(show, desk),
        *check_scenes(show, desk),
        *check_stand_in(show, desk),
        *check_side_chains(show, desk),
        *_kept(show),
    ]


def _routes(show: Show, desk: Desk) -> Iterator[Finding]:
    mixes = [mix.name for mix in show.mixes]
    strips = show.strips()
    fed = {mix.name: set(mix.from_) for mix in show.mixes}
    for index, item in enumerate(show.inputs):
        for key, names in (("group", (item.group,) if item.group else ()), ("to", item.to)):
            for name in names:
                if name not in mixes:
                    yield unknown(("inputs", index, key, name), f"inputs / {item.name}", "mix", name, mixes)
                else:
                    fed[name].add(item.name)
    for index, mix in enumerate(show.mixes):
        for name in mix.to:
            if name not in mixes:
                yield unknown(("mixes", index, "to", name), f"mixes / {mix.name}", "mix", name, mixes)
            else:
                fed[name].add(mix.name)
        for name, send in mix.from_.items():
            path: Path = ("mixes", index, "from", name)
            if name not in strips:
                yield unknown(path, f"mixes / {mix.name}", "strip", name, strips)
                continue
            if mix.desk is not None:
                continue  # its taps are those of another desk
            pool = desk.pool(show.kind(name))
            if send.tap and pool and tap_position(send.tap, pool.order) is None:
                taps = ["input", *(f"{side} {stage}" for stage in pool.order for side in ("before", "after"))]
                what = f"'{name}' has no tap '{send.tap}'"
                stage = send.tap if send.tap in pool.order else ""
                remedy = f"Write 'before {stage}' or 'after {stage}'" if stage else nearest(send.tap, taps)
                yield Finding("name-unknown", f"mixes / {mix.name}", what, "", remedy, path)
    leaves = {output.from_ for output in show.outputs} | {name for names in fed.values() for name in names}
    for index, mix in enumerate(show.mixes):
        if not fed[mix.name]:
            yield _no_reach(("mixes", index), f"mixes / {mix.name}", "Nothing goes into this mix", "Give it a 'from'")
        if mix.name not in leaves and mix.for_ is None:
            yield _no_reach(
                ("mixes", index),
                f"mixes / {mix.name}",
                "Nothing takes this mix",
                "Give it an output or 'for'",
            )
    for index, item in enumerate(show.inputs):
        if item.name not in leaves:
            yield _no_reach(
                ("inputs", index),
                f"inputs / {item.name}",
                "Nothing takes this input",
                "Give it a group or 'to'",
            )
    silent = {output.name for output in show.outputs} - _sounding(show, fed)
    for index, listener in enumerate(show.listeners):
        if set(listener.hears) <= silent:
            what, remedy = "Nothing that this listener hears makes a sound", "Feed what it hears, or leave it out"
            yield _no_reach(("listeners", index), f"listeners / {listener.name}", what, remedy)


def _sounding(show: Show, fed: Mapping[str, set[str]]) -> set[str]:
    """Return the outputs that some input gets to. fed: what goes into each mix."""
    live, waiting = set[str](), [item.name for item in show.inputs]
    while waiting:
        name = waiting.pop()
        if name not in live:
            live.add(name)
            waiting += [mix for mix, strips in fed.items() if name in strips]
    return {output.name for output in show.outputs if output.from_ in live}


def _no_reach(path: Path, where: str, what: str, remedy: str) -> Finding:
    return Finding("no-reach", where, what, "", remedy, path)


def _outputs(show: Show, desk: Desk) -> Iterator[Finding]:
    strips = show.strips()
    outputs = {output.name for output in show.outputs}
    sources = set(show.sources())
    for index, output in enumerate(show.outputs):
        where = f"outputs / {output.name}"
        if output.from_ not in strips:
            yield unknown(("outputs", index, "from"), where, "strip", output.from_, strips)
        if show.desk_of(output.from_) is None:
            yield from check_port(desk, output.port, "out", ("outputs", index, "port"), where)
        for other in show.outputs[:index]:
            if output.port.overlaps(other.port):
                values = f"{output.port} and {other.port} of '{other.name}'"
                what, remedy = "Two outputs claim one port", "Move one of them to another port"
                yield Finding("port-two-writers", where, what, values, remedy, ("outputs", index, "port"))
    for index, listener in enumerate(show.listeners):
        for name in listener.hears:
            path: Path = ("listeners", index, "hears", name)
            if name in outputs and name in sources:
                remedy = "Rename one of them, for example the source in lower case"
                what = f"'{name}' is both an output and a source"
                yield Finding("name-ambiguous", f"listeners / {listener.name}", what, "", remedy, path)
            elif name not in outputs and name not in sources:
                yield unknown(path, f"listeners / {listener.name}", "output or source", name, outputs | sources)


def _units(show: Show, desk: Desk) -> Iterator[Finding]:
    for index, unit in enumerate(show.units):
        path: Path = ("units", index)
        where = f"units / {unit.name}"
        if unit.connects is not None and desk.connection(unit.connects) is None:
            yield unknown(
                (*path, "connects"),
                where,
                "socket",
                unit.connects,
                (socket.name for socket in desk.connections),
            )
        if unit.out is not None:
            yield from check_port(desk, unit.out, "out", (*path, "out"), where)
        if unit.back is not None:
            yield from check_port(desk, unit.back, "in", (*path, "back"), where)
        if (unit.connects is None) == (unit.out is None or unit.back is None):
            remedy = "Give it 'connects: ...' for a socket, or 'out: ...' and 'back: ...' for jacks"
            yield Finding(
                "value-wrong",
                where,
                "It is not said how the unit is connected, or it is said twice",
                "",
                remedy,
                path,
            )
        if unit.out is not None and unit.back is not None and len(unit.out) != len(unit.back):
            values = f"out {unit.out}, back {unit.back}"
            remedy = "Give it as many ports back as out"
            yield Finding(
                "loop-width",
                where,
                "The unit has not as many returns as sends",
                values,
                remedy,
                (*path, "back"),
            )
        for other in show.units[:index]:
            if unit.connects is not None and unit.connects == other.connects and not stand_in_pair(show, unit, other):
                values = f"{unit.name} and {other.name} on {unit.connects}"
                what, remedy = "Two units connect to one socket", "Give each a socket of its own, or leave one out"
                yield Finding("port-two-writers", where, what, values, remedy, (*path, "connects"))
            if unit.back is not None and other.back is not None and unit.back.overlaps(other.back):
                values = f"{unit.back} and {other.back} of '{other.name}'"
                what, remedy = "Two units write to one desk input", "Move one of them to another port"
                yield Finding("port-two-writers", where, what, values, remedy, (*path, "back"))
        yield from _unit_times(unit, path, where)


def _unit_times(unit: Unit, path: Path, where: str) -> Iterator[Finding]:
    """Find figures that a unit of this kind does not use, so that nobody counts on them."""
    if unit.kind == "hardware" and unit.buffer is not None:
        values = f"buffer: {unit.buffer}"
        yield Finding("value-wrong", where, "Hardware has no buffer", values, "Remove it", (*path, "buffer"))
    if unit.kind == "hardware" and unit.measured:
        remedy = "Give its delay as 'delay_ms: ...'"
        what = "Hardware has no buffer to measure a round trip at"
        yield Finding("value-wrong", where, what, f"{len(unit.measured)} measured", remedy, (*path, "measured"))
    if unit.kind == "computer" and unit.delay_ms is not None:
        remedy = "Give its round trips under 'measured', each with its buffer and rate"
        what = "A computer's delay hangs on its buffer"
        yield Finding("value-wrong", where, what, f"delay_ms: {unit.delay_ms}", remedy, (*path, "delay_ms"))


def _requests(show: Show, desk: Desk) -> Iterator[Finding]:
    strips = show.strips()
    outputs = [output.name for output in show.outputs]
    units = [unit.name for unit in show.units]
    seen: set[tuple[str, str]] = set()
    for index, request in enumerate(show.requests):
        path: Path = ("requests", index)
        where = f"requests / {request.strip}"
        kind, names = ("output", outputs) if request.way == "output" else ("strip", strips)
        if request.strip not in names:
            yield unknown((*path, "strip"), where, kind, request.strip, names)
        elif request.way == "in-line" and show.kind(request.strip) != "channel":
            what = "Only an input channel can go in-line"
            values, remedy = f"'{request.strip}' is a {show.kind(request.strip)} strip", "Use 'way: insert'"
            yield Finding("value-wrong", where, what, values, remedy, (*path, "way"))
        elif request.way == "output" and request.strip in strips:
            remedy = "Rename the output; with one name nobody can tell their loops apart"
            what = f"'{request.strip}' is both a strip and an output"
            yield Finding("name-twice", where, what, "way: output", remedy, (*path, "strip"))
        if (request.strip, request.way) in seen:
            remedy = "Put both chains into one; a strip has one insert point"
            yield Finding("request-twice", where, "Two requests for one strip", request.strip, remedy, path)
        seen.add((request.strip, request.way))
        if request.chain is None and request.unit is None:
            yield Finding(
                "value-wrong",
                where,
                "The request names no chain and no unit",
                "",
                "Add 'chain: ...' or 'unit: ...'",
                path,
            )
        if request.chain is not None and request.chain not in show.chains:
            yield unknown((*path, "chain"), where, "chain", request.chain, show.chains)
        if request.unit is not None and request.unit not in units:
            yield unknown((*path, "unit"), where, "unit", request.unit, units)
        yield from _comes_back(show, request, path, where)
        if request.ports is not None and request.way in ("output", "in-line"):
            own = "the unit's own 'out' and 'back' are used" if request.way == "output" else "a block goes as a whole"
            what = "Ports can be pinned for an insert or a send only"
            yield Finding("value-wrong", where, what, f"way: {request.way}", f"Remove 'ports'; {own}", (*path, "ports"))
        elif request.ports is not None:
            yield from check_port(desk, request.ports.send, "out", (*path, "ports", "send"), where)
            yield from check_port(desk, request.ports.returns, "in", (*path, "ports", "return"), where)


def _comes_back(show: Show, request: Request, path: Path, where: str) -> Iterator[Finding]:
    """Find what is wrong with the strip on which a send comes back."""
    here = (*path, "back_on")
    inputs = [item.name for item in show.inputs]
    if request.way != "send-and-strip":
        if request.back_on is not None:
            remedy = "Write 'way: send-and-strip', or remove 'back_on'"
            yield Finding("value-wrong", where, "Only a send comes back on another strip", request.way, remedy, here)
        return
    if request.back_on is None:
        remedy = "Add 'back_on: ...', the input strip that takes what comes back"
        yield Finding("value-wrong", where, "It is not said on which strip the send comes back", "", remedy, path)
    elif request.back_on not in inputs:
        yield unknown(here, where, "input", request.back_on, inputs)
    elif request.back_on == request.strip:
        remedy = "Give the return an input strip of its own, or use 'way: insert'"
        yield Finding("value-wrong", where, "A send cannot come back on its own strip", request.strip, remedy, here)
    elif sum(other.back_on == request.back_on for other in show.requests) > 1:
        remedy = "Give each of them an input strip of its own"
        yield Finding("value-wrong", where, "Two sends come back on one strip", request.back_on, remedy, here)
    item = show.input(request.back_on or "")
    if request.ports is not None and item is not None and request.ports.returns != item.port:
        values = f"{request.ports.returns} pinned, '{item.name}' is on {item.port}"
        remedy = "Pin the port of the strip it comes back on"
        yield Finding("value-wrong", where, "It comes back on another port", values, remedy, (*path, "ports"))


def _air(show: Show) -> Iterator[Finding]:
    """Find air that the formula with humidity does not cover (Cramer 1993: 0 to 30 degrees)."""
    air = show.air
    if air.humidity_percent is not None and not 0 <= air.temperature_c <= 30:
        values = f"{air.temperature_c:g} °C, the formula with humidity holds from 0 to 30 °C"
        remedy = "Leave the humidity out; the formula without it holds from -20 to 50 °C"
        what = "No formula covers this air with its humidity"
        yield Finding("value-wrong", "air", what, values, remedy, ("air", "humidity_percent"))


def _delays(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find delays beyond what the desk's delay lines can hold."""
    longest = desk.delay_max_ms.low
    named = [("inputs", index, item.name, item.delay_ms) for index, item in enumerate(show.inputs)]
    named += [("mixes", index, mix.name, mix.delay_ms) for index, mix in enumerate(show.mixes) if mix.desk is None]
    named += [("outputs", index, output.name, output.delay_ms) for index, output in enumerate(show.outputs)]
    for section, index, name, delay in named:
        if longest is not None and delay is not None and delay.high is not None and delay.high > longest:
            values = f"{delay} ms, the desk's delay lines hold {desk.delay_max_ms} ms"
            remedy = "Dial the rest where it is heard: at the amplifier or in the system's own delay"
            what = "This delay is longer than the desk can make"
            yield Finding("value-wrong", f"{section} / {name}", what, values, remedy, (section, index, "delay_ms"))


def _house(show: Show, desk: Desk) -> Iterator[Finding]:
    names = {*show.strips(), *show.sources()}
    if show.sample_rate not in desk.rates:
        values = f"{show.sample_rate}; the desk runs at {', '.join(str(rate) for rate in desk.rates)}"
        yield Finding(
            "value-wrong",
            "sample_rate",
            "The desk does not run at this rate",
            values,
            "Choose one it has",
            ("sample_rate",),
        )
    for index, keep in enumerate(show.keep):
        group = desk.group(keep.ports.group)
        direction = group.direction if group else "in"
        yield from check_port(desk, keep.ports, direction, ("keep", index, "ports"), f"keep / {keep.for_}")
        for other in show.keep[:index]:
            if keep.ports.overlaps(other.ports):
                values = f"{keep.ports} for {keep.for_}, {other.ports} for {other.for_}"
                what, remedy = (
                    "One port is kept for two purposes",
                    "A port has one meaning: split the run of ports",
                )
                yield Finding("port-two-writers", f"keep / {keep.for_}", what, values, remedy, ("keep", index, "ports"))
    for index, name in enumerate(show.never):
        if name not in names:
            yield unknown(("never", index), "never", "strip or source", name, names)
    for group_name, members in show.siblings.items():
        for index, name in enumerate(members):
            if name not in show.strips():
                here: Path = ("siblings", group_name, index)
                yield unknown(here, f"siblings / {group_name}", "strip", name, show.strips())
    loops = {*show.strips(), *(output.name for output in show.outputs)}
    for group_name, members in show.bypass_groups.items():
        for index, name in enumerate(members):
            if name not in loops:
                yield unknown(
                    ("bypass_groups", group_name, index),
                    f"bypass_groups / {group_name}",
                    "strip or output",
                    name,
                    loops,
                )
    for index, item in enumerate(show.desk.hops):
        for name in (*item.from_, *item.to):
            places = {
                "insert",
                *(group.name for group in desk.ports),
                *(kind for pool in desk.strips for kind in pool.kinds),
            }
            if name not in places:
                yield unknown(("desk", "hops", index), "desk / hops", "strip kind or port group", name, places)


def _kept(show: Show) -> Iterator[Finding]:
    kept = [key for key in KEPT_KEYS if getattr(show, key) is not None]
    for key, fields in KEPT_FIELDS.items():
        kept += [
            f"{key}.{field}" for field in fields if any(getattr(item, field) is not None for item in getattr(show, key))
        ]
    if any(processor.settings for chain in show.chains.values() for processor in chain):
        kept.append("settings of processors")
    if kept:
        yield Finding(
            "kept",
            "show",
            "Kept, not used yet",
            ", ".join(kept),
            "Nothing to do; the plan does not depend on them",
            ("chains",) if kept[0].startswith("settings") else (kept[0].partition(".")[0],),
        )
