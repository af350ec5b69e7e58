"""A line map with some edges taken out and others put in, its rings found anew; and which rings are loud."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from sidetrip.graph.linemap import Edge, LineMap, Node
from sidetrip.graph.rings import find_rings

_SLACK_DB = 1e-9


def rewired(line_map: LineMap, cut: Iterable[tuple[Node, Node]], added: Iterable[Edge]) -> LineMap:
    """Return the line map without the edges between these pairs of nodes, and with the added ones."""
    gone = frozenset(cut)
    kept = [edge for edge in line_map.edges if (edge.start, edge.end) not in gone]
    edges = (*kept, *sorted(added, key=lambda edge: (edge.start, edge.end, edge.label)))
    outgoing: defaultdict[Node, list[Edge]] = defaultdict(list)
    for edge in edges:
        outgoing[edge.start].append(edge)
    frozen = {node: tuple(leaving) for node, leaving in outgoing.items()}
    return replace(line_map, edges=edges, rings=find_rings(frozen) if _ringed(frozen) else (), outgoing=frozen)


def _ringed(outgoing: Mapping[Node, tuple[Edge, ...]]) -> bool:
    """Tell whether there is any ring, without looking for its name."""
    before = Counter(edge.end for edges in outgoing.values() for edge in edges)
    left = before.total()
    free = [node for node in outgoing if not before[node]]
    while free:
        for edge in outgoing.get(free.pop(), ()):
            before[edge.end] -= 1
            left -= 1
            if not before[edge.end]:
                free.append(edge.end)
    return left > 0


def loud_nodes(line_map: LineMap) -> tuple[frozenset[Node], ...]:
    """Return, for each knot of rings that feeds back, its nodes; none where every ring loses level.

    A knot is a set of nodes that all reach each other. It feeds back when a ring in it gains 0 dB or more, or when a
    gain on the way is unknown. Found as a walk that never gets quieter (Bellman and Ford's relaxation: a ring that
    still improves after as many rounds as there are nodes).
    """
    if not line_map.rings:
        return ()
    return tuple(knot for knot in _knots(line_map.outgoing) if _gains(knot, line_map.outgoing))


def _knots(outgoing: Mapping[Node, tuple[Edge, ...]]) -> list[frozenset[Node]]:
    """Return the strongly connected sets of more than one node, or of one that feeds itself (Tarjan, 1972)."""
    number: dict[Node, int] = {}
    low: dict[Node, int] = {}
    stack: list[Node] = []
    held: set[Node] = set()
    found: list[frozenset[Node]] = []
    for root in sorted(outgoing):
        if root in number:
            continue
        work = [(root, iter(outgoing.get(root, ())))]
        number[root] = low[root] = len(number)
        stack.append(root)
        held.add(root)
        while work:
            node, edges = work[-1]
            edge = next(edges, None)
            if edge is None:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[node])
                if low[node] == number[node]:
                    knot: set[Node] = set()
                    while node not in knot:
                        knot.add(stack.pop())
                    held -= knot
                    if len(knot) > 1 or any(own.end == node for own in outgoing.get(node, ())):
                        found.append(frozenset(knot))
            elif edge.end not in number:
                number[edge.end] = low[edge.end] = len(number)
                stack.append(edge.end)
                held.add(edge.end)
                work.append((edge.end, iter(outgoing.get(edge.end, ()))))
            elif edge.end in held:
                low[node] = min(low[node], number[edge.end])
    return found


def _gains(knot: frozenset[Node], outgoing: Mapping[Node, tuple[Edge, ...]]) -> bool:
    inside = [edge for node in sorted(knot) for edge in outgoing.get(node, ()) if edge.end in knot]
    if any(edge.level_db is None for edge in inside):
        return True
    best = dict.fromkeys(knot, 0.0)
    for _ in range(len(knot)):
        changed = False
        for edge in inside:
            assert edge.level_db is not None
            level = best[edge.start] + edge.level_db + _SLACK_DB
            if level > best[edge.end]:
                best[edge.end], changed = level, True
        if not changed:
            return False
    return True
