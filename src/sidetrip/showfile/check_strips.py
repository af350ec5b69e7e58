"""Names, strips and block sources: each name means one thing, each strip is claimed once, each block has one source."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol, get_args

from sidetrip.findings import Finding
from sidetrip.model.desk import Block, Desk, StripName
from sidetrip.model.ports import Ports
from sidetrip.model.show import LEGS, Input, Show
from sidetrip.showfile.read import nearest
from sidetrip.showfile.syntax import Path

_STRIP_KINDS = frozenset(get_args(StripName))
_VOICE_ALARM = re.compile(r"\b(voice.?alarm|evac\w*|emergency|public.?address.?override)\b", re.IGNORECASE)


def is_voice_alarm(name: str) -> bool:
    """Tell by its name whether a path is a voice alarm or evacuation path."""
    return _VOICE_ALARM.search(name) is not None


def unknown(path: Path, where: str, kind: str, name: str, names: Iterable[str]) -> Finding:
    """Make the finding for a name that nothing carries, with the nearest that something does."""
    return Finding("name-unknown", where, f"There is no {kind} '{name}'", "", nearest(name, names), path)


def check_port(desk: Desk, ports: Ports, direction: str, path: Path, where: str) -> Iterator[Finding]:
    """Find ports that the desk does not have, or that go the other way."""
    group = desk.group(ports.group)
    if group is None:
        remedy = nearest(ports.group, (group.name for group in desk.ports))
        yield Finding("port-unknown", where, f"The desk has no ports '{ports.group}'", str(ports), remedy, path)
    elif ports.last > group.count:
        remedy = f"Choose from {group.name} 1 to {group.count}"
        yield Finding(
            "port-unknown",
            where,
            "The desk has no such port",
            f"{ports}, there are {group.count}",
            remedy,
            path,
        )
    elif group.direction != direction:
        values = f"{ports} goes {group.direction}"
        yield Finding(
            "port-unknown",
            where,
            f"A port that goes {direction} is needed",
            values,
            "Choose another port",
            path,
        )


class _Named(Protocol):
    @property
    def name(self) -> str: ...


def _named(items: Sequence[_Named], section: str) -> list[tuple[str, Path]]:
    return [(item.name, (section, index, "name")) for index, item in enumerate(items)]


def check_names(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find names that mean two things, that the desk will cut, or that look like a voice alarm nobody protects."""
    rows = {
        "strip": [*_named(show.inputs, "inputs"), *_named(show.mixes, "mixes")],
        "output": _named(show.outputs, "outputs"),
        "unit": _named(show.units, "units"),
        "listener": _named(show.listeners, "listeners"),
    }
    for kind, named in rows.items():
        count = Counter(name for name, _ in named)
        for name, path in named:
            if count[name] > 1:
                remedy = "Rename all but one; a name must mean one thing"
                yield Finding(
                    "name-twice",
                    f"{kind} {name}",
                    f"{count[name]} {kind}s carry the name '{name}'",
                    "",
                    remedy,
                    path,
                )
            if kind == "strip" and show.desk_of(name) is None and len(name) > desk.name_length:
                values = f"{len(name)} characters, the strip shows {desk.name_length}"
                yield Finding(
                    "name-long",
                    f"strip {name}",
                    "The name will be cut on the desk",
                    values,
                    "Shorten it",
                    path,
                )
    places = {output.name: "an output" for output in show.outputs}
    places |= {mix.name: f"the ears of {mix.for_}" for mix in show.mixes if mix.for_ is not None}
    for index, listener in enumerate(show.listeners):
        if listener.name in places:
            what = f"'{listener.name}' is both a listener and {places[listener.name]}"
            remedy = "Rename the listener; each place where sound is judged has a name of its own"
            yield Finding("name-twice", f"listener {listener.name}", what, "", remedy, ("listeners", index, "name"))
    for index, item in enumerate(show.inputs):
        if is_voice_alarm(item.name) and item.name not in show.never:
            remedy = f"Add '{item.name}' to never, so that no plan can send it through a loop"
            what = "This looks like a voice alarm path and is not protected"
            yield Finding("voice-alarm-unprotected", f"strip {item.name}", what, "", remedy, ("inputs", index, "name"))


def check_strips(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find strips that are not there or claimed twice, and more mixes than the desk has."""
    claims: defaultdict[tuple[str, int], list[tuple[Input, Path]]] = defaultdict(list)
    for index, item in enumerate(show.inputs):
        path: Path = ("inputs", index)
        yield from check_port(desk, item.port, "in", (*path, "port"), f"inputs / {item.name}")
        if len(item.port) > 2 or (len(item.port) == 2 and not item.port.odd_even):
            remedy = "Use one port, or an odd-even pair such as 9-10"
            yield Finding(
                "strip-missing",
                f"inputs / {item.name}",
                "A strip is mono or a pair",
                str(item.port),
                remedy,
                (*path, "port"),
            )
        legs = strip_legs(item, desk)
        kind = "channel" if item.ch is not None else "return"
        pool = desk.pool(kind)
        if legs is None:
            what = "The input names no strip, and its port has none of its own"
            yield Finding("strip-missing", f"inputs / {item.name}", what, str(item.port), "Add 'ch: ...'", path)
        elif pool is None or legs.last > pool.legs:
            values = f"{legs}, the desk has {pool.legs if pool else 0}"
            yield Finding(
                "strip-missing",
                f"inputs / {item.name}",
                "The desk has no such strip",
                values,
                "Choose another strip",
                (*path, "ch") if item.ch is not None else (*path, "port"),
            )
        elif len(legs) == 2 and not legs.odd_even:
            remedy = "Move it to an odd strip, so that its pair is odd-even"
            yield Finding(
                "strip-missing",
                f"inputs / {item.name}",
                "A stereo strip begins on an odd number",
                str(legs),
                remedy,
                (*path, "ch") if item.ch is not None else (*path, "port"),
            )
        if legs is not None:
            for leg in legs.each:
                claims[leg.group, leg.number].append((item, (*path, "ch") if item.ch is not None else path))
    for (kind, number), rows in claims.items():
        if len(rows) > 1:
            names = ", ".join(sorted(item.name for item, _ in rows))
            for item, path in rows[1:]:
                what = f"{kind.capitalize()} strip {number} is claimed {len(rows)} times"
                yield Finding(
                    "strip-twice",
                    f"inputs / {item.name}",
                    what,
                    names,
                    "Give each input a strip of its own",
                    path,
                )
    used: Counter[int] = Counter()
    for mix in (own for own in show.mixes if own.desk is None):
        used[_pool_index(desk, mix.kind)] += LEGS[mix.width]
    for index, count in sorted(used.items()):
        if index < 0 or count > desk.strips[index].legs:
            kinds = [mix.kind for mix in show.mixes if mix.desk is None and _pool_index(desk, mix.kind) == index]
            values = f"{count} wanted, {desk.strips[index].legs if index >= 0 else 0} there; a stereo mix takes two"
            what = f"More mixes of kind {', '.join(sorted(set(kinds)))} than the desk has"
            yield Finding(
                "strip-missing",
                "mixes",
                what,
                values,
                "Make some of them mono, or leave some out",
                ("mixes",),
            )


def strip_legs(item: Input, desk: Desk) -> Ports | None:
    """Return the strips an input sits on, as numbers of its kind; None when nothing says so."""
    width = len(item.port)
    if item.ch is not None:
        return Ports("channel", item.ch, item.ch + width - 1)
    group = desk.group(item.port.group)
    return group.strips_of(item.port) if group is not None else None


def _pool_index(desk: Desk, kind: str) -> int:
    return next((index for index, pool in enumerate(desk.strips) if kind in pool.kinds), -1)


def chosen_source(block: Block, show: Show, desk: Desk) -> dict[int, list[str]]:
    """Return which choices of a block (by index) the show's inputs need, with the inputs that need each.

    Index -1 holds the inputs that no choice can bring.
    """
    needs: defaultdict[int, list[str]] = defaultdict(list)
    if block.feeds.group not in _STRIP_KINDS:
        return {}  # ports, which no input sits on
    for item in show.inputs:
        legs = strip_legs(item, desk)
        if legs is None or not legs.overlaps(block.feeds) or not desk.has(item.port):
            continue
        for index, choice in enumerate(block.choices):
            if not isinstance(choice.from_, Ports) or not choice.from_.overlaps(item.port):
                continue
            if choice.from_.first - block.covered(choice).first == item.port.first - legs.first:
                needs[index].append(item.name)
                break
        else:
            free = next((index for index, choice in enumerate(block.choices) if choice.from_ == "any port"), -1)
            needs[free].append(item.name)
    return dict(needs)


def check_blocks(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find blocks of which the inputs ask two sources, and ports that a strip cannot take."""
    for block in desk.blocks:
        needs = chosen_source(block, show, desk)
        for name in needs.pop(-1, []):
            item = show.input(name)
            assert item is not None
            sources = ", ".join(str(choice.from_) for choice in block.choices)
            values = f"{item.port} for {strip_legs(item, desk)}; {block.feeds} takes {sources}"
            path: Path = ("inputs", show.inputs.index(item), "port")
            remedy = "Use the port with the same place in the block, or another strip"
            yield Finding(
                "block-conflict", f"inputs / {name}", "This strip cannot take this port", values, remedy, path
            )
        if len(needs) > 1:
            values = "; ".join(
                f"{block.choices[index].from_}: {', '.join(sorted(names))}" for index, names in sorted(needs.items())
            )
            item = show.input(sorted(min(needs.values(), key=lambda names: (len(list(names)), sorted(names))))[0])
            assert item is not None
            path = ("inputs", show.inputs.index(item), "port")
            remedy = "Move the inputs to ports of one source, or to strips of another block"
            yield Finding("block-conflict", block.name, "One block is asked for two sources", values, remedy, path)
