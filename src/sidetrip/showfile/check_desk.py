"""A desk file held against itself: ports that exist, blocks that fit, carriers that come back."""

from __future__ import annotations

from sidetrip.findings import Finding
from sidetrip.model.desk import FACTS, Desk
from sidetrip.model.ports import Ports, parse_ports
from sidetrip.showfile.read import nearest
from sidetrip.showfile.syntax import Path

_INSERT = "insert"


def check_desk(desk: Desk) -> list[Finding]:
    """Return what contradicts itself in a desk file, all of it, with paths into the file."""
    return [
        *_names(desk),
        *_strips(desk),
        *_blocks(desk),
        *_carriers(desk),
        *_hops(desk),
        *_compensation(desk),
        *_facts(desk),
    ]


def _wrong(path: Path, where: str, what: str, values: str, remedy: str) -> Finding:
    return Finding("desk-inconsistent", f"desk / {where}", what, values, remedy, path)


def _ports(desk: Desk, ports: Ports, direction: str | None, path: Path, where: str) -> list[Finding]:
    group = desk.group(ports.group)
    if group is None:
        remedy = nearest(ports.group, (group.name for group in desk.ports))
        return [Finding("port-unknown", f"desk / {where}", f"There is no port group '{ports.group}'", "", remedy, path)]
    if ports.last > group.count:
        values = f"{ports}, there are {group.count}"
        return [
            Finding(
                "port-unknown",
                f"desk / {where}",
                "The ports run past their group",
                values,
                "Correct the numbers",
                path,
            )
        ]
    if direction and group.direction != direction:
        values = f"{ports} is an {group.direction} port"
        return [
            _wrong(
                path,
                where,
                f"An {direction} port is needed here",
                values,
                "Name a port of the other direction",
            )
        ]
    return []


def _names(desk: Desk) -> list[Finding]:
    """Find names that mean two things, or that nobody could write as a port."""
    found: list[Finding] = []
    kinds = {kind for pool in desk.strips for kind in pool.kinds}
    for section, names in (
        ("ports", [group.name for group in desk.ports]),
        ("connections", [socket.name for socket in desk.connections]),
    ):
        for index, name in enumerate(names):
            path: Path = (section, index, "name")
            if name in names[:index]:
                found.append(_wrong(path, section, f"'{name}' stands twice", "", "Rename one of the two"))
            if section == "ports" and name in kinds | {_INSERT}:
                remedy = f"Rename the ports, for example '{name} in'"
                found.append(_wrong(path, section, f"'{name}' is a kind of strip too", "", remedy))
            if section == "ports" and not _writable(name):
                remedy = "Use small letters and spaces, no figures, with a letter last"
                found.append(_wrong(path, section, f"No port can be written with the name '{name}'", "", remedy))
    if not any(group.direction == "out" and group.jacks for group in desk.ports):
        remedy = "Add the outputs with 'direction: out' and 'jacks: yes'"
        found.append(_wrong(("ports",), "ports", "The desk has no output with jacks", "", remedy))
    return found


def _writable(name: str) -> bool:
    try:
        return parse_ports(f"{name} 1").group == name
    except ValueError:
        return False


def _strips(desk: Desk) -> list[Finding]:
    found: list[Finding] = []
    seen: set[str] = set()
    for index, pool in enumerate(desk.strips):
        path: Path = ("strips", index)
        for kind in pool.kinds:
            if kind in seen:
                found.append(_wrong(path, "strips", f"'{kind}' stands in two pools", "", "Keep it in one"))
            seen.add(kind)
        if (_INSERT in pool.order) != (pool.insert is not None):
            values = f"order: {', '.join(pool.order)}"
            remedy = "Put 'insert' into the order and describe it, or do neither"
            found.append(_wrong(path, "strips", "The insert point stands in one place only", values, remedy))
        if len(set(pool.order)) != len(pool.order):
            found.append(
                _wrong(
                    (*path, "order"),
                    "strips",
                    "A stage stands twice in the order",
                    "",
                    "Name each stage once",
                )
            )
    for kind, tap in desk.taps.items():
        orders = [pool.order for pool in desk.strips]
        if not any(tap_position(tap, order) is not None for order in orders):
            found.append(
                _wrong(
                    ("taps", kind),
                    "taps",
                    f"No strip has a tap '{tap}'",
                    "",
                    "Write input, before X or after X",
                )
            )
    for index, group in enumerate(desk.ports):
        if group.mirrors is not None:
            here = ("ports", index, "mirrors")
            found += _ports(desk, group.mirrors, "out", here, "ports")
            if group.direction != "out" or len(group.mirrors) != group.count:
                values = f"{group.count} ports {group.direction}, mirrors {group.mirrors}"
                what = f"'{group.name}' cannot repeat these ports one to one"
                found.append(_wrong(here, "ports", what, values, "Name as many outputs as there are jacks"))
        fed = desk.pool(group.strip) if group.strip else None
        if group.strip and (fed is None or fed.legs < group.count + group.strip_from - 1):
            values = f"{group.count} ports, {fed.legs if fed else 0} strips"
            found.append(
                _wrong(
                    ("ports", index),
                    "ports",
                    f"'{group.name}' feeds strips that are not there",
                    values,
                    "Correct the count",
                )
            )
    return found


def tap_position(tap: str, order: tuple[str, ...]) -> int | None:
    """Return after how many stages of the order a tap sits: input 0, before X, after X; None if it is no tap."""
    if tap == "input":
        return 0
    side, _, stage = tap.partition(" ")
    if side not in ("before", "after") or stage not in order:
        return None
    return order.index(stage) + (side == "after")


def _blocks(desk: Desk) -> list[Finding]:
    found: list[Finding] = []
    fed: list[Ports] = []
    for index, block in enumerate(desk.block_lines):
        path: Path = ("blocks", index)
        if (pool := desk.pool(block.feeds.group)) is not None:
            if block.feeds.last > pool.legs:
                remedy = "Correct 'legs' of these strips, or what the block feeds"
                found.append(_wrong(path, block.name, "The block runs past the strips", f"{pool.legs} legs", remedy))
        else:
            found += _ports(desk, block.feeds, None, (*path, "feeds"), block.name)
        if any(block.feeds.overlaps(other) for other in fed):
            found.append(_wrong(path, block.name, "Two blocks feed the same ports", str(block.feeds), "Keep one block"))
        fed.append(block.feeds)
        if block.each is not None and len(block.feeds) % block.each:
            values = f"{len(block.feeds)} ports, {block.each} each"
            remedy = "Let 'each' divide them, or write the rest as a line of its own"
            found.append(
                _wrong((*path, "each"), block.name, "The blocks of this line leave ports over", values, remedy)
            )
        for number, choice in enumerate(block.choices):
            here = (*path, "choices", number)
            if choice.from_ == "any port" and block.each != 1:
                remedy = "Add 'each: 1', or name the ports"
                found.append(_wrong(here, block.name, "Any port can be chosen for one port at a time only", "", remedy))
            if choice.covers is not None and block.each is not None:
                remedy = "Write the nested choices as blocks of their own, without 'each'"
                found.append(_wrong(here, block.name, "'covers' cannot step along with 'each'", "", remedy))
            covered = block.covered(choice)
            if (
                covered.group != block.feeds.group
                or covered.first < block.feeds.first
                or covered.last > block.feeds.last
            ):
                found.append(
                    _wrong(
                        here,
                        block.name,
                        "A choice covers ports outside its block",
                        str(covered),
                        "Correct 'covers'",
                    )
                )
            if isinstance(choice.from_, Ports):
                found += _ports(desk, choice.from_, None, here, block.name)
                if len(choice.from_) not in (len(covered), block.each or len(covered)):
                    values = f"{choice.from_} for {covered}"
                    found.append(
                        _wrong(
                            here,
                            block.name,
                            "Source and covered ports differ in number",
                            values,
                            "Make them alike",
                        )
                    )
    return found


def _carriers(desk: Desk) -> list[Finding]:
    found: list[Finding] = []
    for index, carrier in enumerate(desk.carriers):
        path: Path = ("carriers", index)
        found += _ports(desk, carrier.send, "out", (*path, "send"), "carriers")
        found += _ports(desk, carrier.returns, "in", (*path, "return"), "carriers")
        if len(carrier.send) != len(carrier.returns) or (carrier.send.first - carrier.returns.first) % 2:
            values = f"send {carrier.send}, return {carrier.returns}"
            found.append(
                _wrong(
                    path,
                    "carriers",
                    "Sends and returns do not match one to one, odd to odd",
                    values,
                    "Correct them",
                )
            )
        for other in desk.carriers[:index]:
            if carrier.send.overlaps(other.send) or carrier.returns.overlaps(other.returns):
                values = f"{carrier.send}, {carrier.returns} and {other.send}, {other.returns}"
                found.append(
                    _wrong(path, "carriers", "Two carriers share ports", values, "Keep each port in one carrier")
                )
    for index, socket in enumerate(desk.connections):
        for name, direction in ((socket.out, "out"), (socket.back, "in")):
            found += _ports(desk, Ports(name, 1, 1), direction, ("connections", index), f"connections / {socket.name}")
    for index, way in enumerate(desk.output_ways):
        for names, direction in ((way.out, "out"), (way.back, "in")):
            for name in names:
                found += _ports(desk, Ports(name, 1, 1), direction, ("output_ways", index), "output ways")
    return found


def _hops(desk: Desk) -> list[Finding]:
    places = {
        _INSERT,
        *(group.name for group in desk.ports),
        *(kind for pool in desk.strips for kind in pool.kinds),
    }
    return [
        _wrong(("hops", index), "hops", f"'{name}' is no strip kind and no port group", "", nearest(name, places))
        for index, hop in enumerate(desk.hops)
        for name in (*hop.from_, *hop.to)
        if name not in places
    ]


def _compensation(desk: Desk) -> list[Finding]:
    kinds = {kind for pool in desk.strips for kind in pool.kinds}
    mixes = kinds - {"channel", "return"}
    found: list[Finding] = []
    seen: set[str] = set()
    for index, own in enumerate(desk.compensation):
        path: Path = ("compensation", index)
        for key, names, good, what in (
            ("at", own.at, mixes, "kind of mix"),
            ("holds", own.holds, kinds, "kind of strip"),
        ):
            for name in names:
                if name not in good:
                    words = f"'{name}' is no {what} of this desk"
                    found.append(_wrong((*path, key), "compensation", words, "", nearest(name, good)))
        for name in own.at:
            if name in seen:
                what = f"'{name}' holds copies back by two lines"
                found.append(_wrong(path, "compensation", what, "", "Keep one line for each kind of mix"))
            seen.add(name)
        if own.external_inserts.answer not in ("yes", "no", "unknown"):
            values = f"found {own.external_inserts.answer}"
            what, remedy = "'external_inserts' is answered by yes, no or unknown", "Write one of the three"
            found.append(_wrong((*path, "external_inserts"), "compensation", what, values, remedy))
    return found


def _facts(desk: Desk) -> list[Finding]:
    return [
        _wrong(("facts", fact), "facts", f"'{fact}' is no question asked of a desk", "", nearest(fact, FACTS))
        for fact in desk.facts
        if fact not in FACTS
    ]
