"""Where an input or output could go when its ports are wanted for a loop: free ports that the show's checks accept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice

from sidetrip.findings import Finding, has_errors
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Input, Keep, Output, Show
from sidetrip.showfile.check_show import check_show

_MOST_TRIED = 40
"""How many places are tried before it is said that none was found."""


@dataclass(frozen=True, slots=True)
class Home:
    """A new place for an input or output. ch: its strip, where that changes too."""

    name: str
    port: Ports
    ch: int | None = None

    def __str__(self) -> str:
        return f"{self.port} on channel {self.ch}" if self.ch is not None else str(self.port)


@dataclass(frozen=True, slots=True)
class Moved:
    """A show in which some ports are free. homes: where what sat on them went; homeless: what found no place."""

    show: Show
    homes: tuple[Home, ...]
    homeless: tuple[str, ...]


def on(show: Show, ports: Ports) -> tuple[Input | Output, ...]:
    """Return the inputs and outputs on any of these ports, by name."""
    found: list[Input | Output] = [item for item in show.inputs if item.port.overlaps(ports)]
    found += [output for output in show.outputs if output.port.overlaps(ports)]
    return tuple(sorted(found, key=lambda item: item.name))


def without_keep(show: Show, ports: Ports) -> Show:
    """Return the show in which nothing of these ports is kept."""
    keeps = [Keep(ports=part, **{"for": keep.for_}) for keep in show.keep for part in less(keep.ports, ports)]
    return show.model_copy(update={"keep": tuple(keeps)})


def less(ports: Ports, freed: Ports) -> tuple[Ports, ...]:
    """Return what is left of a run when some of it is freed."""
    if not ports.overlaps(freed):
        return (ports,)
    left = [(ports.first, freed.first - 1), (freed.last + 1, ports.last)]
    return tuple(Ports(ports.group, first, last) for first, last in left if first <= last)


def emptied(show: Show, ports: Ports) -> Show:
    """Return the show for a survey: the ports are not kept, and what sits on them is gone."""
    bare = without_keep(show, ports)
    inputs = tuple(item for item in bare.inputs if not item.port.overlaps(ports))
    outputs = tuple(output for output in bare.outputs if not output.port.overlaps(ports))
    return bare.model_copy(update={"inputs": inputs, "outputs": outputs})


def moved(show: Show, desk: Desk, ports: Ports, serves: Callable[[Show], bool]) -> Moved:
    """Free some ports: drop what is kept of them, and give what sits there the first free place each that will do.

    A place will do when the show's checks accept it, and when the show still `serves` with it there and with the
    ports taken as free.
    """
    here = without_keep(show, ports)
    before = _errors(check_show(here, desk))
    homes: list[Home] = []
    homeless: list[str] = []
    for item in on(show, ports):
        for home in islice(_homes(here, desk, item, ports), _MOST_TRIED):
            placed = _placed(here, item, home)
            if not _errors(check_show(placed, desk)) - before and serves(placed):
                here = placed
                homes.append(home)
                break
        else:
            homeless.append(item.name)
    return Moved(here, tuple(homes), tuple(homeless))


def _errors(findings: list[Finding]) -> set[tuple[str, str]]:
    return {(finding.code, finding.where) for finding in findings if has_errors([finding])}


def _placed(show: Show, item: Input | Output, home: Home) -> Show:
    update: dict[str, object] = {"port": home.port} | ({"ch": home.ch} if home.ch is not None else {})
    changed = item.model_copy(update=update)
    if isinstance(item, Input):
        inputs = tuple(changed if other.name == item.name else other for other in show.inputs)
        return show.model_copy(update={"inputs": inputs})
    outputs = tuple(changed if other.name == item.name else other for other in show.outputs)
    return show.model_copy(update={"outputs": outputs})


def _homes(show: Show, desk: Desk, item: Input | Output, closed: Ports) -> Iterator[Home]:
    taken = [closed, *(keep.ports for keep in show.keep)]
    taken += [ports for unit in show.units for ports in (unit.out, unit.back) if ports is not None]
    taken += [*(other.port for other in show.inputs), *(other.port for other in show.outputs)]
    legs = len(item.port)
    loops = {ports.group for carrier in desk.carriers for ports in (carrier.send, carrier.returns)}
    groups = sorted(desk.ports, key=lambda group: group.name in loops)
    if isinstance(item, Output):
        for group in groups:
            if group.direction == "out" and group.jacks:
                for run in _runs(group.name, group.count, legs, taken):
                    yield Home(item.name, run)
        return
    if item.ch is None:
        for group in groups:
            if group.direction == "in" and group.strip is not None:
                yield from (Home(item.name, run) for run in _runs(group.name, group.count, legs, taken))
    for ch in _channels(show, desk, item):
        for port in _sources(desk, ch, legs, taken):
            yield Home(item.name, port, None if ch == item.ch else ch)


def _runs(group: str, count: int, legs: int, taken: list[Ports]) -> Iterator[Ports]:
    for first in range(1, count - legs + 2, legs):
        run = Ports(group, first, first + legs - 1)
        if not any(run.overlaps(other) for other in taken):
            yield run


def _channels(show: Show, desk: Desk, item: Input) -> Iterator[int]:
    """Yield the strip an input has, then every free one."""
    pool = desk.pool("channel")
    if item.ch is not None:
        yield item.ch
    legs = len(item.port)
    used = {
        ch
        for other in show.inputs
        if other.ch is not None and other.name != item.name
        for ch in range(other.ch, other.ch + len(other.port))
    }
    for ch in range(1, (pool.legs if pool else 0) - legs + 2, legs):
        if ch != item.ch and not used & set(range(ch, ch + legs)):
            yield ch


def _sources(desk: Desk, ch: int, legs: int, taken: list[Ports]) -> Iterator[Ports]:
    """Yield free ports that a strip can take, jacks before others."""
    found: list[Ports] = []
    own = Ports("channel", ch, ch + legs - 1)
    blocks = [block for block in desk.blocks if block.feeds.overlaps(own)]
    for block in blocks:
        for choice in block.choices:
            covered = block.covered(choice)
            if isinstance(choice.from_, Ports) and covered.first <= own.first and own.last <= covered.last:
                first = choice.from_.first + own.first - covered.first
                found.append(Ports(choice.from_.group, first, first + legs - 1))
    if not blocks or any(choice.from_ == "any port" for block in blocks for choice in block.choices):
        for group in desk.ports:
            if group.direction == "in" and group.jacks:
                found += [*_runs(group.name, group.count, legs, taken)][:1]
    groups = {group.name: group.jacks for group in desk.ports if group.direction == "in"}
    for port in sorted(found, key=lambda port: not groups.get(port.group, False)):
        if port.group in groups and not any(port.overlaps(other) for other in taken):
            yield port


__all__ = ["Home", "Moved", "emptied", "less", "moved", "on", "without_keep"]
