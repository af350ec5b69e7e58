"""What a show says of the house around its loops, held against itself: clocks, scenes, jacks, what was accepted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.showfile.check_strips import check_port, unknown


def check_house(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find clocks that follow nothing, scenes with one name, jacks that are taken, and places that are not there."""
    yield from _clock(show)
    yield from _scenes(show)
    yield from _plugged(show, desk)
    yield from _accepted(show)
    yield from _cues(show)


def _clock(show: Show) -> Iterator[Finding]:
    if show.clock is None:
        return
    names = [device.name for device in show.clock.devices]
    for index, device in enumerate(show.clock.devices):
        if names.count(device.name) > 1:
            what, remedy = f"{names.count(device.name)} devices carry the name '{device.name}'", "Keep one of them"
            yield Finding("name-twice", f"clock / {device.name}", what, "", remedy, ("clock", "devices", index, "name"))
        good = {show.clock.leader, "itself", *names}
        if device.follows not in good:
            path = ("clock", "devices", index, "follows")
            yield unknown(path, f"clock / {device.name}", "leader or device", device.follows, good)


def _cues(show: Show) -> Iterator[Finding]:
    """Find cues of strips that are not there or ask for no loop, and cues that are written twice."""
    strips, asking = show.strips(), {request.strip for request in show.requests}
    outputs = {output.name for output in show.outputs}
    for index, cue in enumerate(show.cues):
        where = f"cues / {cue.from_:g}"
        for name in cue.requests:
            path = ("cues", index, "requests", name)
            if name not in strips and name not in outputs:
                yield unknown(path, where, "strip", name, strips)
            elif name not in asking:
                what, remedy = f"'{name}' asks for no loop, so that no cue can change it", "Add a request for it"
                yield Finding("cue-idle", where, what, "", remedy, path)
        if any(other.from_ == cue.from_ for other in show.cues[:index]):
            remedy = "Write all that one cue changes in one place"
            yield Finding("cue-twice", where, "One cue is written twice", "", remedy, ("cues", index, "from"))


def _scenes(show: Show) -> Iterator[Finding]:
    count = Counter(scene.name for scene in show.scenes)
    for index, scene in enumerate(show.scenes):
        if count[scene.name] > 1:
            what, remedy = f"{count[scene.name]} scenes carry the name '{scene.name}'", "Rename all but one"
            yield Finding("name-twice", f"scenes / {scene.name}", what, "", remedy, ("scenes", index, "name"))


def _plugged(show: Show, desk: Desk) -> Iterator[Finding]:
    for index, own in enumerate(show.plugged):
        where, path = f"plugged / {own.what}", ("plugged", index, "port")
        yield from check_port(desk, own.port, "out", path, where)
        group = desk.group(own.port.group)
        if group is not None and not group.jacks:
            yield Finding("port-unknown", where, "There is no jack to plug it into", str(own.port), "Name a jack", path)
        for output in show.outputs:
            if output.port.overlaps(own.port):
                values, remedy = f"{output.name} leaves by {output.port}", "Keep it in one of the two lists"
                what = "This jack is an output of the show already"
                yield Finding("port-two-writers", where, what, values, remedy, path)


def _accepted(show: Show) -> Iterator[Finding]:
    places = {output.name for output in show.outputs} | {listener.name for listener in show.listeners}
    places |= {mix.name for mix in show.mixes if mix.for_ is not None}
    loops = {*show.strips(), *(output.name for output in show.outputs)}
    for index, own in enumerate(show.accept):
        where = f"accept / {own.at}"
        if own.at not in places:
            yield unknown(("accept", index, "at"), where, "output, listener or ear mix", own.at, places)
        for name in own.loops:
            if name not in loops:
                yield unknown(("accept", index, "loops"), where, "strip or output", name, loops)
