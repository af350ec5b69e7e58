"""Rings: a signal that reaches itself again. Named in order, and nothing is summed through them."""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

from sidetrip.graph.linemap import Edge, Node


def find_rings(outgoing: Mapping[Node, tuple[Edge, ...]]) -> tuple[tuple[Node, ...], ...]:
    """Return every ring found, each opened at one edge before the next is sought.

    Each is a tuple of nodes in the order of the signal, beginning with its first strip by name; the last node leads
    back to the first.
    """
    before: dict[Node, set[Node]] = {}
    for node, edges in outgoing.items():
        for edge in edges:
            before.setdefault(edge.end, set()).add(node)
    rings: list[tuple[Node, ...]] = []
    while True:
        try:
            TopologicalSorter({node: sorted(starts) for node, starts in sorted(before.items())}).prepare()
        except CycleError as error:
            ring = _from_first_strip(error.args[1][1:])
            rings.append(ring)
            before[ring[0]].discard(ring[-1])
        else:
            return tuple(sorted(rings))


def nodes_on_rings(rings: tuple[tuple[Node, ...], ...], outgoing: Mapping[Node, tuple[Edge, ...]]) -> frozenset[Node]:
    """Return every node on any ring: `find_rings` opens each edge once, and other rings may share it."""
    ahead: dict[Node, set[Node]] = {}
    behind: dict[Node, set[Node]] = {}
    for node, edges in outgoing.items():
        for edge in edges:
            ahead.setdefault(node, set()).add(edge.end)
            behind.setdefault(edge.end, set()).add(node)
    found: set[Node] = set()
    for ring in rings:
        found |= _reach(ring[0], ahead) & _reach(ring[0], behind)
    return frozenset(found)


def _reach(start: Node, steps: Mapping[Node, set[Node]]) -> set[Node]:
    reached: set[Node] = set()
    waiting = [start]
    while waiting:
        node = waiting.pop()
        if node not in reached:
            reached.add(node)
            waiting.extend(steps.get(node, ()))
    return reached


def _from_first_strip(ring: list[Node]) -> tuple[Node, ...]:
    start = ring.index(min([node for node in ring if node.kind == "strip"] or ring))
    return (*ring[start:], *ring[:start])


def ring_words(ring: tuple[Node, ...]) -> str:
    """Return a ring in words, each strip once: "mix 3 → box → Return 3 → mix 3"."""
    words = [f"loop {node.name}" if node.kind == "loop" else node.name for node in ring]
    once = [word for index, word in enumerate(words) if index == 0 or word != words[index - 1]]
    if len(once) > 1 and once[0] == once[-1]:
        once.pop()
    return " → ".join([*once, once[0]])
