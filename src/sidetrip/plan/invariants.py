"""Rules that every plan is held against, whoever made it: the allocation, or hands that pinned ports.

Each is a finding with a code of its own. They do not trust the allocation: they look at the loops themselves.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.rings import ring_words
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.protect import never_passed
from sidetrip.showfile.check_strips import is_voice_alarm


def check_plan(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...], line_map: LineMap) -> list[Finding]:
    """Return every rule that these loops break."""
    return [
        *_widths(show, loops),
        *_pairs(show, desk, loops),
        *_writers(show, loops),
        *_rings(show, line_map),
        *_heard_twice(show, loops),
        *_card_blocks(show, desk, loops),
        *_bypasses(show, desk, loops),
        *_protected(show, desk, loops),
    ]


def check_requests(show: Show, desk: Desk) -> list[Finding]:
    """Return what pinned ports break by themselves, so that a refusal of theirs says why."""
    found: list[Finding] = []
    for request in show.requests:
        if request.ports is None or request.way != "insert":
            continue
        send, returns = request.ports.send, request.ports.returns
        loop = PlacedLoop(
            request.strip,
            request.strip,
            "insert",
            request.unit or "",
            request.chain,
            len(send),
            send,
            returns,
            send,
            returns,
        )
        found += [
            *_widths(show, (loop,)),
            *_pairs(show, desk, (loop,)),
            *_heard_twice(show, (loop,)),
            *_kept(show, loop),
        ]
    pinned = [r for r in show.requests if r.ports is not None]
    for index, request in enumerate(pinned):
        for other in pinned[:index]:
            assert request.ports is not None and other.ports is not None
            if request.ports.returns.overlaps(other.ports.returns) or request.ports.send.overlaps(other.ports.send):
                values = f"{request.strip} on {request.ports.returns}, {other.strip} on {other.ports.returns}"
                found.append(
                    _finding(
                        show,
                        "port-two-writers",
                        request.strip,
                        "Two requests are pinned to one port",
                        values,
                        "Move one of them",
                    )
                )
    return found


def _finding(show: Show, code: str, strip: str, what: str, values: str, remedy: str) -> Finding:
    strips = [request.strip for request in show.requests]
    path = ("requests", strips.index(strip)) if strip in strips else ()
    return Finding(code, f"loop {strip}", what, values, remedy, path)


def _widths(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    for loop in loops:
        output = show.output(loop.strip) if loop.way == "output" else None
        wide = len(output.port) if output is not None else show.legs(loop.strip)
        counts = (len(loop.send), len(loop.returns), len(loop.unit_in), len(loop.unit_out))
        if any(count != wide for count in counts):
            values = f"strip {wide}, send {loop.send}, return {loop.returns}"
            remedy = "Give it as many sends and returns as the strip is wide"
            yield _finding(show, "loop-width", loop.strip, "Sends, returns and strip differ in width", values, remedy)


def _pairs(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    for loop in loops:
        if loop.legs != 2:
            continue
        for ports in (loop.send, loop.returns):
            split = [block for block in desk.blocks if _partly(ports, block.feeds)]
            if not ports.odd_even or split:
                remedy = "Use 1-2, 3-4, 5-6 and so on: left on the odd port"
                what = "A stereo loop sits across odd-even pairs"
                yield _finding(show, "loop-pair", loop.strip, what, str(ports), remedy)


def _partly(ports: Ports, block: Ports) -> bool:
    return ports.overlaps(block) and not (block.first <= ports.first and ports.last <= block.last)


def _writers(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    writers: defaultdict[Port, list[str]] = defaultdict(list)
    meanings: defaultdict[Port, list[str]] = defaultdict(list)
    for loop in loops:
        for port in loop.returns.each:
            writers[port].append(f"loop {loop.name}")
        for ports in (loop.unit_in, loop.unit_out):
            if ports not in (loop.send, loop.returns):
                for port in ports.each:
                    meanings[port].append(f"loop {loop.name}")
        for port in loop.send.each:
            meanings[port].append(f"loop {loop.name}")
    for keep in show.keep:
        for port in keep.ports.each:
            writers[port].append(keep.for_)
            meanings[port].append(keep.for_)
    for output in show.outputs:
        for port in output.port.each:
            meanings[port].append(output.name)
    for table, what in ((writers, "A desk input has two writers"), (meanings, "A port has two meanings")):
        clashes = {
            port: names for port, names in table.items() if len(names) > 1 and any(n.startswith("loop ") for n in names)
        }
        for port, names in sorted(clashes.items()):
            loop_name = next(name for name in names if name.startswith("loop ")).removeprefix("loop ")
            yield _finding(
                show,
                "port-two-writers",
                loop_name,
                what,
                f"{port}: {', '.join(names)}",
                "Move one of them to another port",
            )


def _kept(show: Show, loop: PlacedLoop) -> Iterator[Finding]:
    for keep in show.keep:
        for ports in {loop.send, loop.returns}:
            if ports.overlaps(keep.ports):
                values = f"{ports}; {keep.ports} stay for {keep.for_}"
                yield _finding(
                    show,
                    "port-two-writers",
                    loop.strip,
                    "A pinned port must stay as it is",
                    values,
                    "Pin other ports",
                )


def _rings(show: Show, line_map: LineMap) -> Iterator[Finding]:
    for ring in line_map.rings:
        outside = any(node.kind in ("loop", "unit") for node in ring)
        remedy = "Take one of these mixes out of the other: it feeds back"
        if outside:
            remedy = "Mute and unassign the return's own strip, or take it out of the mix: it feeds back"
        words = ring_words(ring)
        yield Finding(
            "ring",
            "line map",
            "A ring: the signal reaches itself again and feeds back; it has no arrival time",
            words,
            remedy,
            _place(show, ring[0].name),
        )


def _place(show: Show, strip: str) -> tuple[str | int, ...]:
    """Return where a strip stands in the file."""
    for section, names in (("inputs", [i.name for i in show.inputs]), ("mixes", [m.name for m in show.mixes])):
        if strip in names:
            return (section, names.index(strip))
    return ()


def _heard_twice(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    for loop in loops:
        for item in show.inputs:
            if item.port.overlaps(loop.returns):
                values = f"{loop.returns} returns {loop.name} and feeds '{item.name}'"
                remedy = f"Move '{item.name}' to another port, or remove the strip from the show"
                yield _finding(
                    show,
                    "return-heard-twice",
                    loop.strip,
                    "A return is open on a strip of its own",
                    values,
                    remedy,
                )


def _card_blocks(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Count, for each block of a socket, what recorder, playback and loops ask of it."""
    sockets = {name for socket in desk.connections for name in (socket.out, socket.back)}
    for block in desk.blocks:
        if block.feeds.group not in sockets:
            continue
        kept = [keep for keep in show.keep if keep.ports.overlaps(block.feeds)]
        asked = sum(_overlap(keep.ports, block.feeds) for keep in kept)
        ours = [loop for loop in loops if loop.unit_in.overlaps(block.feeds)]
        asked += sum(_overlap(loop.unit_in, block.feeds) for loop in ours)
        sources = {"kept": bool(kept), "loops": bool(ours)}
        if asked > len(block.feeds) or all(sources.values()):
            names = ", ".join(
                [f"{keep.ports} for {keep.for_}" for keep in kept]
                + [f"{loop.unit_in} for loop {loop.name}" for loop in ours]
            )
            remedy = "Give the recorder fewer tracks, or move the loops to another block: a block has one source"
            values = f"{names}; {len(block.feeds)} channels, one source"
            yield Finding(
                "card-block-full",
                block.name,
                "More is asked of a card block than it can carry",
                values,
                remedy,
            )


def _overlap(ports: Ports, block: Ports) -> int:
    return max(0, min(ports.last, block.last) - max(ports.first, block.first) + 1)


def _bypasses(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    for loop in loops:
        presses = desk.bypass.output_presses if loop.way == "output" else desk.bypass.presses
        if not presses.known:
            what = "How many presses take this loop OUT at the desk is unknown"
            yield _finding(
                show,
                "bypass-depends",
                loop.strip,
                what,
                "",
                "Try it at the desk and write the number into the desk file",
            )


def _protected(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    passed = never_passed(show, desk, ((loop.strip, loop.way) for loop in loops))
    for loop in loops:
        name = passed.get((loop.strip, loop.way))
        if name is not None:
            alarm = is_voice_alarm(name)
            remedy = "Take the loop off this strip, or the path out of this mix"
            what = f"'{name}' would pass this loop"
            yield _finding(show, "voice-alarm-loop" if alarm else "never-passes", loop.strip, what, "", remedy)
