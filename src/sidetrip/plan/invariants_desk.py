"""Rules about the desk that every plan is held against: blocks and jacks, mirrored sends, faders, bypass.

The settings of blocks are worked out from the loops themselves: of the choices that serve all loops of a block, the one
that changes the fewest ports.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Block, Choice, Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.invariants_words import about


def check_desk_side(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> list[Finding]:
    """Return every rule about blocks, jacks, faders and bypass that these loops break."""
    needed = [need for block in desk.blocks if (need := _need(show, block, loops)) is not None]
    return [
        *_settings(show, needed),
        *_deaf(show, desk, needed, loops),
        *_mirrors(show, desk, loops),
        *_card_blocks(show, desk, loops),
        *_after_fader(show, desk, loops),
        *_bypasses(show, desk, loops),
    ]


@dataclass(frozen=True, slots=True)
class _Need:
    """What loops need of one block: the choice that serves them all, None when none does."""

    block: Block
    loops: tuple[PlacedLoop, ...]
    choice: Choice | None


def _need(show: Show, block: Block, loops: tuple[PlacedLoop, ...]) -> _Need | None:
    wanted: list[tuple[Port, Port]] = []
    mine: dict[str, PlacedLoop] = {}
    for loop in loops:
        for source, target in _links(show, loop):
            pairs = [pair for pair in zip(source.each, target.each, strict=False) if _within(pair[1], block.feeds)]
            if pairs:
                wanted += pairs
                mine[loop.name] = loop
    if not wanted:
        return None
    fits = [choice for choice in block.choices if all(_brings(block, choice, *pair) for pair in wanted)]
    return _Need(block, tuple(mine.values()), min(fits, key=lambda own: len(block.covered(own)), default=None))


def _links(show: Show, loop: PlacedLoop) -> list[tuple[Ports, Ports]]:
    """Return what a loop brings from where to where through blocks: its send to the unit, the unit to its return."""
    links = [(loop.send, loop.unit_in)]
    item = show.input(loop.strip)
    if loop.way == "in-line" and item is not None and item.ch is not None:
        links.append((loop.unit_out, Ports("channel", item.ch, item.ch + len(item.port) - 1)))
    else:
        links.append((loop.unit_out, loop.returns))
    return [(source, target) for source, target in links if source.group != target.group]


def _within(port: Port, ports: Ports) -> bool:
    return port.group == ports.group and ports.first <= port.number <= ports.last


def _brings(block: Block, choice: Choice, source: Port, target: Port) -> bool:
    """Tell whether a choice brings this source port to this port of the block."""
    covered = block.covered(choice)
    if not isinstance(choice.from_, Ports) or not _within(source, choice.from_) or not _within(target, covered):
        return False
    return source.number - choice.from_.first == target.number - covered.first


def _settings(show: Show, needed: list[_Need]) -> Iterator[Finding]:
    """A block has one source, and it must be one that brings all its loops out, or back."""
    for need in needed:
        if need.choice is None:
            names = ", ".join(loop.name for loop in need.loops)
            what, values = "No one source of this block serves its loops", f"{need.block.name}: loops {names}"
            remedy = "Move one of them to ports of another block, or to the port with the same place in the block"
            yield about(show, "block-conflict", need.loops[0].strip, what, values, remedy)


def _deaf(show: Show, desk: Desk, needed: list[_Need], loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Jacks that a block makes deaf carry nothing of the show; what a send takes over feeds nobody."""
    sockets = {name for socket in desk.connections for name in (socket.out, socket.back)}
    for need in needed:
        if need.choice is None or desk.group(need.block.feeds.group) is None:
            continue
        covered = need.block.covered(need.choice)
        names = ", ".join(loop.name for loop in need.loops)
        used = [
            (item.port, item.name)
            for item in show.inputs
            if not any(item.port.overlaps(loop.returns) for loop in loops)  # heard twice, which has a rule of its own
        ]
        used += [(loop.unit_out, f"loop {loop.name}") for loop in loops if loop.unit_out == loop.returns]
        if need.block.feeds.group not in sockets:  # recorder tracks are counted block by block
            used += [(keep.ports, keep.for_) for keep in show.keep]
        for ports, what in used:
            if ports.overlaps(covered):
                values = f"{covered} take {need.choice.from_} for loop {names}; {ports} is {what}"
                remedy = f"Move {what} to other ports, or the loops to other ports"
                text = f"{ports} would go deaf under {what}"
                yield about(show, "jack-deaf", need.loops[0].strip, text, values, remedy)


def _mirrors(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Jacks that repeat a send have nothing in them, or what is in them is listed and may carry it."""
    plugged = [(own.port, own.what) for own in show.plugged if not own.carries_sends]
    for loop in loops:
        if loop.way == "in-line":
            continue  # its send is an input
        group = desk.group(loop.send.group)
        at_jacks = [loop.send] if group is not None and group.jacks and loop.send != loop.unit_in else []
        mirrors = [_mirrored(jacks.name, jacks.mirrors, loop.send) for jacks in desk.ports if jacks.mirrors is not None]
        repeats = [ports for ports in mirrors if ports is not None]
        heard = [(port, what, at) for at in (*at_jacks, *repeats) for port, what in plugged if port.overlaps(at)]
        heard += [(own.port, own.name, at) for at in repeats for own in show.outputs if own.port.overlaps(at)]
        for port, what, at in heard:
            values = f"{at} repeats {loop.send}, the send of loop {loop.name}; {what} is plugged into {port}"
            remedy = f"Unplug {what}, or add 'carries_sends: yes' where it is listed and it may be heard"
            text = f"{what} would carry this loop's send"
            yield about(show, "mirror-plugged", loop.strip, text, values, remedy)


def _mirrored(jacks: str, mirrors: Ports, send: Ports) -> Ports | None:
    """Return the jacks that repeat these send ports, None where none do."""
    if not mirrors.overlaps(send):
        return None
    first, last = max(mirrors.first, send.first), min(mirrors.last, send.last)
    return Ports(jacks, first - mirrors.first + 1, last - mirrors.first + 1)


def _card_blocks(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Count, for each block of a socket, what recorder, playback and loops ask of it."""
    sockets = {name for socket in desk.connections for name in (socket.out, socket.back)}
    for block in desk.blocks:
        if block.feeds.group not in sockets:
            continue
        kept = [keep for keep in show.keep if keep.ports.overlaps(block.feeds)]
        asked = sum(_overlap(keep.ports, block.feeds) for keep in kept)
        # in-line sends what the recorder takes too, on the same channels
        ours = [loop for loop in loops if loop.unit_in.overlaps(block.feeds) and loop.way != "in-line"]
        asked += sum(_overlap(loop.unit_in, block.feeds) for loop in ours)
        if asked > len(block.feeds) or (kept and ours):
            names = ", ".join(
                [f"{keep.ports} for {keep.for_}" for keep in kept]
                + [f"{loop.unit_in} for loop {loop.name}" for loop in ours]
            )
            remedy = "Give the recorder fewer tracks, or move the loops to another block: a block has one source"
            values = f"{names}; {len(block.feeds)} channels, one source"
            what = "More is asked of a card block than it can carry"
            yield Finding("card-block-full", block.name, what, values, remedy)


def _overlap(ports: Ports, block: Ports) -> int:
    if ports.group != block.group:
        return 0
    return max(0, min(ports.last, block.last) - max(ports.first, block.first) + 1)


def _after_fader(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """An insert behind the fader is flagged: every move of the fader drives what is outside."""
    for loop in loops:
        pool = desk.pool(show.kind(loop.strip)) if loop.way == "insert" else None
        if pool is None or not {"fader", "insert"} <= set(pool.order):
            continue
        if pool.order.index("insert") > pool.order.index("fader"):
            what = "The insert sits behind the fader: the level into the unit moves with it"
            remedy = "Leave the fader where it was proven, or ride the level elsewhere"
            yield about(show, "insert-after-fader", loop.strip, what, ", ".join(pool.order), remedy)


def _bypasses(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Every loop has a bypass at the desk whose presses are known; one on a strip of its own has that strip's mute."""
    for loop in loops:
        if loop.way == "send-and-strip":
            continue
        presses = desk.bypass.presses if loop.way == "insert" else desk.bypass.output_presses
        if not presses.known:
            what = "How many presses take this loop OUT at the desk is unknown"
            remedy = "Try it at the desk and write the number into the desk file"
            yield about(show, "bypass-depends", loop.strip, what, "", remedy)


__all__ = ["check_desk_side"]
