"""A show with a second desk held against itself: who is mixed where, what comes there, and what is asked of it."""

from __future__ import annotations

from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.show import LEGS, Mix, Send, Show
from sidetrip.model.split import FOH, OtherDesk, there
from sidetrip.showfile.check_desk import tap_position
from sidetrip.showfile.check_strips import check_port, unknown
from sidetrip.showfile.read import nearest
from sidetrip.showfile.syntax import Path


def check_two_desks(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find desks, mixes, splits and ties that cannot be as they are written, and what nobody can do for another desk.

    What a type would say is held against it only where the type was read.
    """
    yield from _desks(show)
    yield from _inputs(show)
    for index, mix in enumerate(show.mixes):
        path: Path = ("mixes", index)
        other = show.desk_of(mix.name)
        if mix.desk is not None and other is None:
            names = [own.name for own in show.other_desks]
            yield unknown((*path, "desk"), f"mixes / {mix.name}", "other desk", mix.desk, names)
        elif other is not None:
            yield from _mix(show, mix, other, path)
        yield from _feeds(show, desk, mix, other, path)
    yield from _outputs(show)
    yield from _asked(show)


def _desks(show: Show) -> Iterator[Finding]:
    for index, other in enumerate(show.other_desks):
        where, path = f"other_desks / {other.name}", ("other_desks", index)
        if [own.name.lower() for own in show.other_desks].count(other.name.lower()) > 1:
            what, remedy = f"Two desks carry the name '{other.name}'", "Rename all but one"
            yield Finding("name-twice", where, what, "", remedy, (*path, "name"))
        if other.name.lower() == FOH.lower() or any(letter.isdigit() for letter in other.name):
            remedy = "Call it by a word without figures, like monitors: its ports are written with that word in front"
            yield Finding(
                "value-wrong", where, "Another desk cannot have this name", other.name, remedy, (*path, "name")
            )
        if other.gain not in (FOH, other.name, "unknown"):
            yield unknown((*path, "gain"), where, "desk", other.gain, (FOH, other.name, "unknown"))
        yield from _room(show, other, where, path)


def _room(show: Show, other: OtherDesk, where: str, path: Path) -> Iterator[Finding]:
    """Find what does not fit the desk's type: its rate, and how many strips and mixes it must have."""
    own = other.described
    if own is None:
        return
    rate = other.sample_rate or show.sample_rate
    if rate not in own.rates:
        values = f"{rate}; {own.name} runs at {', '.join(str(one) for one in own.rates)}"
        remedy = "Give it a rate it has: {sample_rate: ...}"
        yield Finding("value-wrong", where, "This desk does not run at this rate", values, remedy, path)
    legs: dict[str, int] = {}
    wanted: dict[int, list[Mix]] = {}
    for mix in show.mixes:
        if mix.desk != other.name:
            continue
        pool = next((number for number, pool in enumerate(own.strips) if mix.kind in pool.kinds), -1)
        wanted.setdefault(pool, []).append(mix)
        for name, send in show.fed(mix.name).items():
            if send.tie is not None and name in show.strips():
                legs[there(name, other.name, send.tie)] = show.legs(name)
            elif show.input(name) is not None:
                legs[there(name, other.name)] = show.legs(name)
    channels = own.pool("channel")
    if channels is None or sum(legs.values()) > channels.legs:
        values = f"{sum(legs.values())} wanted, {channels.legs if channels else 0} there; a pair takes two"
        remedy = "Leave some of them out of its mixes, or bring a group by a tie"
        yield Finding("strip-missing", where, "Its mixes take more channels than this desk has", values, remedy, path)
    for number, mixes in sorted(wanted.items()):
        count, room = sum(LEGS[mix.width] for mix in mixes), own.strips[number].legs if number >= 0 else 0
        if count > room:
            what = f"More mixes of kind {', '.join(sorted({mix.kind for mix in mixes}))} than this desk has"
            values = f"{count} wanted, {room} there; a stereo mix takes two"
            yield Finding("strip-missing", where, what, values, "Make some of them mono, or leave some out", path)


def _inputs(show: Show) -> Iterator[Finding]:
    good = (FOH, *(other.name for other in show.other_desks), "unknown")
    for index, item in enumerate(show.inputs):
        where, path = f"inputs / {item.name}", ("inputs", index)
        if item.gain is not None and item.gain not in good:
            yield unknown((*path, "gain"), where, "desk", item.gain, good)
        for key in ("split", "gain") if not show.other_desks else ():
            if getattr(item, key) is not None:
                what, remedy = "There is no other desk to share this input with", "Add other_desks, or remove it"
                yield Finding("value-wrong", where, what, f"{key}: {getattr(item, key)}", remedy, (*path, key))


def _mix(show: Show, mix: Mix, other: OtherDesk, path: Path) -> Iterator[Finding]:
    where, own = f"mixes / {mix.name}", other.described
    if own is None:
        return
    if len(mix.name) > own.name_length:
        values = f"{len(mix.name)} characters, the strip shows {own.name_length}"
        yield Finding("name-long", f"strip {mix.name}", "The name will be cut on the desk", values, "Shorten it", path)
    longest = own.delay_max_ms.low
    if None not in (longest, mix.delay_ms) and mix.delay_ms is not None and (mix.delay_ms.high or 0) > (longest or 0):
        values = f"{mix.delay_ms} ms, the delay lines of {other.name} hold {own.delay_max_ms} ms"
        remedy = "Dial the rest where it is heard: at the amplifier or in the system's own delay"
        what = "This delay is longer than the desk can make"
        yield Finding("value-wrong", where, what, values, remedy, (*path, "delay_ms"))


def _feeds(show: Show, desk: Desk, mix: Mix, other: OtherDesk | None, path: Path) -> Iterator[Finding]:
    """Find what cannot come into a mix, or not from the place that is written."""
    where = f"mixes / {mix.name}"
    strips = show.strips()
    for name, send in show.fed(mix.name).items():
        here: Path = (*path, "from", name) if name in mix.from_ else path
        feeder = show.mix(name)
        if name not in strips or (mix.desk is not None and other is None):
            continue  # a finding of its own
        if feeder is not None and feeder.desk not in (None, mix.desk):
            remedy = "Bring it in on an input of this desk, and put that into the mix"
            what = f"'{name}' is mixed on {feeder.desk} and cannot come in as a mix"
            yield Finding("other-desk", where, what, "", remedy, here)
        elif other is None or (feeder is not None and feeder.desk is not None):
            if send.tie is not None:
                what, values = "A tie goes from FOH to a mix on another desk", f"tie: {send.tie}"
                yield Finding("value-wrong", where, what, values, "Write 'tap' in its place", here)
        else:
            yield from _comes(show, desk, mix, other, name, send, here)
        if other is not None and send.tap is not None:
            own, kind = other.described, "channel" if feeder is None or feeder.desk is None else feeder.kind
            pool = None if own is None else own.pool(kind)
            order = () if pool is None else pool.order
            if other.type is None or (pool is not None and tap_position(send.tap, order) is None):
                taps = ["input", *(f"{side} {stage}" for stage in order for side in ("before", "after"))]
                remedy = nearest(send.tap, taps) if pool is not None else "Name its type, or leave the tap out"
                yield Finding("name-unknown", where, f"{other.name} has no tap '{send.tap}'", "", remedy, here)


def _comes(show: Show, desk: Desk, mix: Mix, other: OtherDesk, name: str, send: Send, path: Path) -> Iterator[Finding]:
    """Find what has no way from FOH to another desk: by the split, or by a tie from a place that the strip has."""
    where, item = f"mixes / {mix.name}", show.input(name)
    if send.tie is not None:
        pool = desk.pool(show.kind(name))
        if pool is not None and tap_position(send.tie, pool.order) is None:
            taps = ["input", *(f"{side} {stage}" for stage in pool.order for side in ("before", "after"))]
            what = f"'{name}' has no place '{send.tie}' for a tie at FOH"
            yield Finding("name-unknown", where, what, "", nearest(send.tie, taps), path)
        return
    why = ""
    if item is None:
        why = f"it is a {show.kind(name)} at FOH"
    elif any(request.back_on == name for request in show.requests):
        why = "it comes back from a unit at FOH"
    elif show.split_of(item, other) == "none":
        why = "split: none"
    elif (group := desk.group(item.port.group)) is not None and not group.jacks:
        why = f"it comes from {item.port}, which is no jack"
    if why:
        remedy = "Take it by a tie: {tie: after insert} or another place, or leave it out"
        yield Finding("no-split", where, f"'{name}' does not come to {other.name}", why, remedy, path)


def _outputs(show: Show) -> Iterator[Finding]:
    """Find outputs of another desk whose ports are not written as that desk's, or that it does not have."""
    for index, output in enumerate(show.outputs):
        other = show.desk_of(output.from_)
        if other is None:
            continue
        path, where, own = ("outputs", index, "port"), f"outputs / {output.name}", other.own_ports(output.port)
        if own is None:
            what = f"'{output.from_}' is mixed on {other.name}, and this is a port of the show's own desk"
            remedy = f"Write the port with that desk's name in front: {other.name} {output.port}"
            yield Finding("port-unknown", where, what, str(output.port), remedy, path)
        elif other.described is not None:
            yield from check_port(other.described, own, "out", path, where)


def _asked(show: Show) -> Iterator[Finding]:
    """Find loops and takes that are asked of a strip on another desk."""
    for index, request in enumerate(show.requests):
        path: Path = ("requests", index)
        where = f"requests / {request.strip}"
        output = show.output(request.strip) if request.way == "output" else None
        other = show.desk_of(output.from_ if output is not None else request.strip)
        name = request.desk if request.desk not in (None, FOH) else None if other is None else other.name
        if name is not None and show.other_desk(name) is None:
            yield unknown((*path, "desk"), where, "desk", name, (FOH, *(own.name for own in show.other_desks)))
        elif name is not None:
            what = f"'{request.strip}' would go out on {name}, and loops are placed on the show's own desk only"
            type_ = (show.other_desk(name) or OtherDesk(name=name)).type or "its type"
            remedy = f"Plan it in a show of its own with desk: {{type: {type_}}}, or bring it by a tie behind a loop"
            yield Finding("other-desk", where, what, f"way: {request.way}", remedy, path)
    for index, take in enumerate(show.takes):
        for number, caught in enumerate(take.catch):
            other = show.desk_of(caught.strip or caught.return_ or "")
            if other is not None:
                what = f"'{caught.strip or caught.return_}' is mixed on {other.name}, and no port here carries it"
                remedy = "Catch it on that desk's own recorder, in a show of its own"
                path = ("takes", index, "catch", number)
                yield Finding("other-desk", f"takes / {take.name}", what, str(caught.port), remedy, path)


__all__ = ["check_two_desks"]
