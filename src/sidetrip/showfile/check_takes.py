"""Takes held against the show and its desk: ports that exist, entries that reach a strip, a reference that is dry."""

from __future__ import annotations

from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.model.take import Caught, Take
from sidetrip.showfile.check_desk import tap_position
from sidetrip.showfile.check_strips import check_port, is_voice_alarm, unknown
from sidetrip.showfile.read import nearest
from sidetrip.showfile.syntax import Path

MOST_ENTRIES = 64


def check_takes(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find takes that cannot be played or caught as they are written."""
    names = [take.name for take in show.takes]
    for index, take in enumerate(show.takes):
        path: Path = ("takes", index)
        if names.index(take.name) != index:
            yield _wrong(take, (*path, "name"), "Two takes carry this name", "", "Rename one of them")
        yield from _enter(show, desk, take, path)
        yield from _catch(show, desk, take, path)
        yield from _reference(take, path)


def _wrong(take: Take, path: Path, what: str, values: str, remedy: str) -> Finding:
    return Finding("take-wrong", f"takes / {take.name}", what, values, remedy, path)


def _enter(show: Show, desk: Desk, take: Take, path: Path) -> Iterator[Finding]:
    where = f"takes / {take.name}"
    if sum(len(ports) for ports in take.enter) > MOST_ENTRIES:
        yield _wrong(take, path, "Too many entries for one test signal", f"more than {MOST_ENTRIES}", "Make two takes")
    for number, ports in enumerate(take.enter):
        here: Path = (*path, "enter", number)
        yield from check_port(desk, ports, "in", here, where)
        if any(ports.overlaps(other) for other in take.enter[:number]):
            yield _wrong(take, here, "A port is entered twice", str(ports), "Enter each port once")
        feeds = [item for item in show.inputs if item.port.overlaps(ports)]
        bare = [str(port) for port in ports.each if not any(_holds(item.port, port) for item in feeds)]
        if bare:
            remedy = "Enter where an input of the show is connected, or add the input"
            yield _wrong(take, here, "No input of the show is on these ports", ", ".join(bare), remedy)
        for item in feeds:
            if item.name in show.never or is_voice_alarm(item.name):
                remedy = "Enter the test somewhere else"
                yield _wrong(take, here, f"'{item.name}' must not be sent round", str(ports), remedy)


def _catch(show: Show, desk: Desk, take: Take, path: Path) -> Iterator[Finding]:
    where = f"takes / {take.name}"
    if take.recorder is not None:
        yield from check_port(desk, take.recorder, "out", (*path, "recorder"), where)
    for number, caught in enumerate(take.catch):
        here: Path = (*path, "catch", number)
        yield from check_port(desk, caught.port, "out", (*here, "port"), where)
        if any(caught.port.overlaps(other.port) for other in take.catch[:number]):
            yield _wrong(take, here, "A port is caught twice", str(caught.port), "Catch each port once")
        if take.recorder is not None and not _within(caught.port, take.recorder):
            values = f"{caught.port}, the recorder takes {take.recorder}"
            yield _wrong(take, here, "This port is on no track of the recorder", values, "Catch one that is")
        yield from _carries(show, desk, take, caught, here)


def _carries(show: Show, desk: Desk, take: Take, caught: Caught, here: Path) -> Iterator[Finding]:
    where = f"takes / {take.name}"
    if caught.dry is not None:
        yield from check_port(desk, caught.dry, "in", (*here, "dry"), where)
        if len(caught.dry) != len(caught.port):
            values = f"{caught.dry} on {caught.port}"
            yield _wrong(take, here, "Not as many ports as are copied to them", values, "Write as many of each")
        if not all(any(_holds(ports, port) for ports in take.enter) for port in caught.dry.each):
            values = f"{caught.dry}; entered are {', '.join(map(str, take.enter))}"
            yield _wrong(take, here, "A dry copy of ports where nothing enters", values, "Copy a port that is entered")
        return
    if caught.return_ is not None:
        outputs = [output.name for output in show.outputs]
        if caught.return_ not in (*show.strips(), *outputs):
            yield unknown((*here, "return"), where, "strip or output", caught.return_, (*show.strips(), *outputs))
            return
        legs = show.legs(caught.return_)
    else:
        assert caught.strip is not None
        if caught.strip not in show.strips():
            yield unknown((*here, "strip"), where, "strip", caught.strip, show.strips())
            return
        legs = show.legs(caught.strip)
        pool = desk.pool(show.kind(caught.strip))
        if caught.tap and pool and tap_position(caught.tap, pool.order) is None:
            taps = ["input", *(f"{side} {stage}" for stage in pool.order for side in ("before", "after"))]
            what = f"'{caught.strip}' has no tap '{caught.tap}'"
            yield Finding("name-unknown", where, what, "", nearest(caught.tap, taps), (*here, "tap"))
    if len(caught.port) != legs:
        values = f"{caught.port} for {legs}"
        yield _wrong(take, here, "Not as many ports as what it carries has legs", values, "Write one port for each leg")


def _reference(take: Take, path: Path) -> Iterator[Finding]:
    if take.reference is None:
        return
    here: Path = (*path, "reference")
    caught = next((item for item in take.catch if _within(take.reference, item.port)), None)
    if len(take.reference) != 1 or caught is None:
        ports = ", ".join(str(item.port) for item in take.catch)
        remedy = "Name one of the caught ports"
        yield _wrong(take, here, "The reference is no single caught port", f"{take.reference}; caught: {ports}", remedy)
    elif caught.dry is None:
        remedy = "Catch a dry copy of an entered port, and name that"
        yield _wrong(take, here, "The reference is not dry", f"{take.reference} carries {caught.words}", remedy)


def _within(one: Ports, other: Ports) -> bool:
    return one.group == other.group and other.first <= one.first and one.last <= other.last


def _holds(ports: Ports, port: Port) -> bool:
    return ports.group == port.group and ports.first <= port.number <= ports.last


__all__ = ["check_takes"]
