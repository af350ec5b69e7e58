"""The price list of the last resource: who else would go out with one more port, pair, block, card channel, or load.

Each line is solved anew with that one thing added: ports as a way out and back straight to a computer, a channel of
its socket that somebody holds, or as much more load as the cheapest chain that stays in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.model.desk import Carrier, Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Ports
from sidetrip.model.show import Show
from sidetrip.plan.allocation import Choice, Options, key_of
from sidetrip.plan.answers import choose
from sidetrip.plan.options import find_options
from sidetrip.plan.ways import Ground, survey


@dataclass(frozen=True, slots=True)
class Price:
    """One more of something. serves: who goes out with it; displaces: who then stays in."""

    what: str
    serves: tuple[str, ...]
    displaces: tuple[str, ...]

    @property
    def words(self) -> str:
        """Say what it would serve, without a full stop."""
        if not self.serves:
            return f"{self.what} serves nobody more"
        words = f"{self.what} serves {', '.join(self.serves)}"
        return words + (f" in place of {', '.join(self.displaces)}" if self.displaces else "")


def price_list(show: Show, desk: Desk) -> tuple[Price, ...]:
    """Return what one more of each resource would serve; empty where nobody who asked stays in, or musts conflict."""
    ground = survey(show, desk)
    options = find_options(show, desk, ground)
    now = choose(show, desk, ground, options)
    if now is None or len(now.served) == len(show.requests):
        return ()
    found: list[Price] = []
    for unit in sorted(show.units, key=lambda unit: unit.name):
        found += _ports(show, desk, unit, now)
        found += _channels(show, desk, unit, now, ground)
        found += _load(show, desk, unit, now, options)
    return tuple(found)


def _price(what: str, show: Show, desk: Desk, now: Choice, freed: Ports | None = None) -> Price:
    ground = survey(show, desk, freed=freed)
    then = choose(show, desk, ground, find_options(show, desk, ground))
    served = set(then.served) if then is not None else set(now.served)
    gone = set(now.served) - served
    new = served - set(now.served)
    return Price(what, tuple(sorted(key[0] for key in new)), tuple(sorted(key[0] for key in gone)))


def _ports(show: Show, desk: Desk, unit: Unit, now: Choice) -> Iterator[Price]:
    """Yield what more ports out and back straight to a computer would serve: one, an odd-even pair, a block of them."""
    socket = desk.connection(unit.connects or "")
    if socket is None:
        return
    sizes = [("one more port", 1), ("one more pair", 2)]
    returns = {carrier.returns.group for carrier in desk.carriers}
    blocks = [len(block.feeds) for block in desk.blocks if block.feeds.group in returns]
    if blocks:
        sizes.append((f"one more block of {min(blocks)} ports", min(blocks)))
    for what, count in sizes:
        yield _price(f"{what} out and back to {unit.name}", show, _wider(desk, socket.out, socket.back, count), now)


def _wider(desk: Desk, out: str, back: str, count: int) -> Desk:
    """Return the desk with more ports behind those of a socket, each a way out and back by itself."""
    first = {group.name: group.count + 1 + group.count % 2 for group in desk.ports if group.name in (out, back)}
    ports = tuple(
        group.model_copy(update={"count": first[group.name] + count - 1}) if group.name in first else group
        for group in desk.ports
    )
    runs = {name: Ports(name, start, start + count - 1) for name, start in first.items()}
    carrier = Carrier(send=runs[out], **{"return": runs[back]})
    return desk.model_copy(update={"ports": ports, "carriers": (*desk.carriers, carrier)})


def _channels(show: Show, desk: Desk, unit: Unit, now: Choice, ground: Ground) -> Iterator[Price]:
    """Yield what channels of a socket would serve that somebody holds: the one at an end, and those of a block."""
    socket = desk.connection(unit.connects or "")
    if socket is None:
        return
    for ports, what in ground.taken:
        if ports.group not in (socket.out, socket.back):
            continue
        ends = [Ports(ports.group, number, number) for number in sorted({ports.first, ports.last})]
        single = [_price(f"one more card channel ({run}, held for {what})", show, desk, now, freed=run) for run in ends]
        yield max(single, key=lambda price: len(price.serves))
        for block in desk.blocks:
            if block.feeds.overlaps(ports):
                run = Ports(ports.group, max(ports.first, block.feeds.first), min(ports.last, block.feeds.last))
                if len(run) > 1:
                    yield _price(f"one more block of the card ({run}, held for {what})", show, desk, now, freed=run)


def _load(show: Show, desk: Desk, unit: Unit, now: Choice, options: Options) -> Iterator[Price]:
    """Yield what more load would serve: as much as the lightest chain that stays in, else as much as it takes."""
    if unit.load_limit is None:
        return
    waiting = [
        options.load[key_of(request)]
        for request in options.requests
        if key_of(request) not in now.served and unit.name in options.able[key_of(request)]
    ]
    loads = sorted(load for load in waiting if load > 0)
    if not loads:
        return
    for more in (loads[0], loads[-1]):
        units = tuple(
            own.model_copy(update={"load_limit": unit.load_limit + more}) if own.name == unit.name else own
            for own in show.units
        )
        price = _price(f"{more:g} more load on {unit.name}", show.model_copy(update={"units": units}), desk, now)
        if price.serves or more == loads[-1]:
            yield price
            return


__all__ = ["Price", "price_list"]
