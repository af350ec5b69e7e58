"""Side chains and time: does what steers a processor come with the sound that it belongs to, IN and OUT.

The gain that a side chain sets reaches the mix where both strips join by the way of the steered strip; the sound that
set it comes by its own way. Positive: the gain comes later than the sound, so that an onset is chopped. Negative: it
comes first and cuts in before the word, as a look-ahead would. The desk's own way from strip to processor is taken as
nothing, which is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import State
from sidetrip.graph.linemap import Edge, LineMap, Node
from sidetrip.graph.span import NOTHING, Span, total
from sidetrip.graph.taps import tap_of
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.model.side_chain import SideChain
from sidetrip.plan.gap import LOUDSPEAKERS_S, Gap
from sidetrip.units import ms_from_seconds, seconds_from_ms

MOST_WAYS = 500  # from one strip to the mix where both join


@dataclass(frozen=True, slots=True)
class SideChainTime:
    """How much later the gain comes than the sound that set it, with all loops IN and all OUT.

    joined: the mix where both meet. loops: those that only one of the two passes.
    """

    chain: SideChain
    joined: str
    gap_in: Gap
    gap_out: Gap
    loops: tuple[str, ...]


def find_side_chains(show: Show, desk: Desk, line_map: LineMap) -> tuple[SideChainTime, ...]:
    """Return the time of every side chain whose two strips join somewhere."""
    found = []
    all_in = State("all IN", "all in")
    all_out = State("all OUT", "all out", out=frozenset(time.loop for time in line_map.loops))
    for chain in sorted(show.side_chains, key=lambda own: (own.strip, own.by, own.tap or "", own.acts or "")):
        acts = Node("strip", chain.strip, _place(show, desk, chain.strip, chain.acts))
        heard = Node("strip", chain.by, _place(show, desk, chain.by, chain.tap))
        joined = _joined(show, line_map, acts, heard)
        if joined is None:
            continue
        gain, sound = (list(ways_between(line_map, start, joined)) for start in (acts, heard))
        gaps = [_gap(line_map, chain, gain, sound, state) for state in (all_in, all_out)]
        passed = [{edge.loop for way in ways for edge in way if edge.loop} for ways in (gain, sound)]
        loops = tuple(sorted(passed[0] ^ passed[1]))
        found.append(SideChainTime(chain, joined.name, gaps[0], gaps[1], loops))
    return tuple(found)


def _place(show: Show, desk: Desk, strip: str, tap: str | None) -> int:
    if tap is None:
        pool = desk.pool(show.kind(strip))
        return len(pool.order) if pool is not None else 0
    return tap_of(desk, show.kind(strip), "main", tap)


def _joined(show: Show, line_map: LineMap, one: Node, other: Node) -> Node | None:
    """Return the first mix that both reach; of several that are as near, the first by name."""
    steps = [_reached(line_map, node) for node in (one, other)]
    both = [Node("strip", mix.name) for mix in show.mixes if all(Node("strip", mix.name) in own for own in steps)]
    return min(both, key=lambda node: (sum(own[node] for own in steps), node.name), default=None)


def _reached(line_map: LineMap, start: Node) -> dict[Node, int]:
    reached, waiting = {start: 0}, [start]
    while waiting:
        node = waiting.pop(0)
        for edge in line_map.outgoing.get(node, ()):
            if edge.end not in reached:
                reached[edge.end] = reached[node] + 1
                waiting.append(edge.end)
    return reached


def ways_between(line_map: LineMap, start: Node, end: Node) -> Iterator[tuple[Edge, ...]]:
    """Yield the ways between two nodes that pass no node twice, at most MOST_WAYS of them."""
    stack: list[tuple[Node, tuple[Edge, ...]]] = [(start, ())]
    given = 0
    while stack and given < MOST_WAYS:
        node, edges = stack.pop()
        if node == end:
            given += 1
            yield edges
            continue
        passed = {start, *(edge.end for edge in edges)}
        stack.extend((e.end, (*edges, e)) for e in line_map.outgoing.get(node, ()) if e.end not in passed)


def first_way(line_map: LineMap, ways: list[tuple[Edge, ...]], state: State) -> Span:
    """Return when the first of these ways arrives, as a span."""
    times = []
    for way in ways:
        own = total(edge.delay for edge in way)
        for edge in way:
            if edge.loop is not None and edge.loop not in state.out:
                own = own + line_map.loop(edge.loop).delay
        times.append(own)
    return min(times, key=lambda own: (own.low, own.high), default=NOTHING)


def _gap(
    line_map: LineMap, chain: SideChain, gain: list[tuple[Edge, ...]], sound: list[tuple[Edge, ...]], state: State
) -> Gap:
    one, other = first_way(line_map, gain, state), first_way(line_map, sound, state)
    if not (one.known and other.known):
        return Gap(-math.inf, math.inf, "cannot tell")
    low, high = one.low - other.high, one.high - other.low
    limit = max(LOUDSPEAKERS_S, seconds_from_ms(chain.attack_ms or 0.0)) * (1 + 1e-9)
    near = 0.0 if low <= 0 <= high else min(abs(low), abs(high))
    if max(abs(low), abs(high)) <= limit:
        return Gap(low, high, "together")
    return Gap(low, high, "cannot tell" if near <= limit else "apart")


def side_chain_findings(times: tuple[SideChainTime, ...]) -> list[Finding]:
    """Say which side chains act too early or too late for the sound that steers them."""
    found = []
    for time in times:
        where = f"side_chains / {time.chain.strip}"
        verdicts = [gap.verdict for gap in (time.gap_in, time.gap_out)]
        if "apart" in verdicts:
            gap, when = (time.gap_in, "IN") if verdicts[0] == "apart" else (time.gap_out, "OUT")
            late = gap.typical > 0
            ms = f"{abs(ms_from_seconds(gap.typical)):.2f} ms"
            does = "so that an onset is chopped" if late else "so that it cuts in before the word"
            what = (
                f"With all loops {when} {time.chain.by} moves {time.chain.strip} {ms} {'after' if late else 'before'} "
                f"it is heard in {time.joined} itself, {does}"
            )
            loops = f"loop {', '.join(time.loops)}" if time.loops else ""
            remedy = "Take the key from the same side of the loop as the sound, or act on the far side of it"
            found.append(Finding("side-chain-off", where, what, loops, remedy))
        elif "cannot tell" in verdicts:
            what = f"Whether {time.chain.by} moves {time.chain.strip} in time cannot be told"
            found.append(Finding("meeting-untold", where, what, "", "Find out the unknown delay on one of their ways"))
    return found


__all__ = ["SideChainTime", "find_side_chains", "first_way", "side_chain_findings", "ways_between"]
