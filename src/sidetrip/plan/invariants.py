"""Rules that every plan is held against, whoever made it: the allocation, or hands that pinned ports.

Each is a finding with a code of its own. They do not trust the allocation: they look at the loops themselves. Here are
the rules of ports and rings; those of blocks, jacks and bypass are in invariants_desk, those of clocks, scenes and
protection in invariants_house.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations

from sidetrip.findings import Finding
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.rings import ring_words
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.invariants_desk import check_desk_side
from sidetrip.plan.invariants_house import check_house_side
from sidetrip.plan.invariants_words import about


def check_plan(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...], line_map: LineMap) -> list[Finding]:
    """Return every rule that these loops break."""
    return [
        *_widths(show, loops),
        *_pairs(show, desk, loops),
        *_writers(show, loops),
        *_rings(show, line_map),
        *_heard_twice(show, loops),
        *check_desk_side(show, desk, loops),
        *check_house_side(show, desk, loops),
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
                    about(
                        show,
                        "port-two-writers",
                        request.strip,
                        "Two requests are pinned to one port",
                        values,
                        "Move one of them",
                    )
                )
    return found


def _widths(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    for loop in loops:
        output = show.output(loop.strip) if loop.way == "output" else None
        wide = len(output.port) if output is not None else show.legs(loop.strip)
        counts = (len(loop.send), len(loop.returns), len(loop.unit_in), len(loop.unit_out))
        if any(count != wide for count in counts):
            values = f"strip {wide}, send {loop.send}, return {loop.returns}"
            remedy = "Give it as many sends and returns as the strip is wide"
            yield about(show, "loop-width", loop.strip, "Sends, returns and strip differ in width", values, remedy)


def _pairs(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    for loop in loops:
        if loop.legs != 2:
            continue
        for ports in (loop.send, loop.returns):
            split = [block for block in desk.blocks if len(block.feeds) > 1 and _partly(ports, block.feeds)]
            if split or not (ports.odd_even or (desk.stereo == "any pair" and len(ports) == 2)):
                remedy = "Use 1-2, 3-4, 5-6 and so on: left on the odd port"
                what = "A stereo loop sits across odd-even pairs"
                if desk.stereo == "any pair":
                    remedy, what = "Use two neighbouring ports of one block", "A stereo loop sits across blocks"
                yield about(show, "loop-pair", loop.strip, what, str(ports), remedy)


def _partly(ports: Ports, block: Ports) -> bool:
    return ports.overlaps(block) and not (block.first <= ports.first and ports.last <= block.last)


def _writers(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    writers: defaultdict[Port, list[str]] = defaultdict(list)
    meanings: defaultdict[Port, list[str]] = defaultdict(list)
    for loop in loops:
        for port in loop.returns.each:
            writers[port].append(f"loop {loop.name}")
        # in-line reads what a recorder may read too: several may read an output
        for ports in (loop.unit_in, loop.unit_out) if loop.way != "in-line" else (loop.unit_out,):
            if ports not in (loop.send, loop.returns):
                for port in ports.each:
                    meanings[port].append(f"loop {loop.name}")
        for port in loop.send.each if loop.way != "in-line" else ():  # an input port can be read by many
            meanings[port].append(f"loop {loop.name}")
    for keep in show.keep:
        for port in keep.ports.each:
            writers[port].append(keep.for_)
            meanings[port].append(keep.for_)
    leaving = {loop.strip for loop in loops if loop.way == "send-and-strip"}
    for output in show.outputs:
        for port in output.port.each if output.from_ not in leaving else ():  # that output is the send itself
            meanings[port].append(output.name)
    follow = {
        frozenset((f"loop {one.name}", f"loop {other.name}"))
        for one in loops
        for other in loops
        if not one.shares_time(other)
    }
    for table, what in ((writers, "A desk input has two writers"), (meanings, "A port has two meanings")):
        clashes = {
            port: names
            for port, names in table.items()
            if len(names) > 1
            and any(n.startswith("loop ") for n in names)
            and not all(frozenset(pair) in follow for pair in combinations(names, 2))  # one follows the other by cue
        }
        for port, names in sorted(clashes.items()):
            loop_name = next(name for name in names if name.startswith("loop ")).removeprefix("loop ")
            yield about(
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
                yield about(
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
            own = item.name in (loop.back_on, loop.strip if loop.way == "in-line" else None)
            shared = [ports for ports in (loop.returns, loop.unit_out) if item.port.overlaps(ports)]
            if shared and not own:
                values = f"{shared[0]} returns {loop.name} and feeds '{item.name}'"
                remedy = f"Move '{item.name}' to another port, or remove the strip from the show"
                yield about(
                    show,
                    "return-heard-twice",
                    loop.strip,
                    "A return is open on a strip of its own",
                    values,
                    remedy,
                )
