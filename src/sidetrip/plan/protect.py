"""Paths that must never pass a loop: talkback, click, timecode, voice alarm."""

from __future__ import annotations

from collections.abc import Iterable

from sidetrip.graph.build import build
from sidetrip.graph.linemap import LineMap, Node
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import NOTHING
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show


def never_passed(show: Show, desk: Desk, loops: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
    """Return, for each loop (strip or output, way) that a protected path would pass, the name of that path."""
    wanted = sorted(set(loops))
    if not show.never or not wanted:
        return {}
    nothing = {unit.name: UnitTime(NOTHING, "hardware") for unit in show.units}
    line_map = build(show, desk, (), nothing)
    passed: dict[tuple[str, str], str] = {}
    for name in sorted(show.never):
        reached = _reached(line_map, name)
        for strip, way in wanted:
            if loop_node(show, desk, strip, way) in reached:
                passed.setdefault((strip, way), name)
    return passed


def loop_node(show: Show, desk: Desk, strip: str, way: str) -> Node:
    """Return the node at which a loop on this strip or output leaves."""
    if way == "output":
        return Node("output", strip)
    pool = desk.pool(show.kind(strip))
    order = pool.order if pool else ()
    return Node("strip", strip, order.index("insert") if "insert" in order else 0)


def _reached(line_map: LineMap, name: str) -> set[Node]:
    waiting = [Node("source", name), Node("strip", name)]
    reached: set[Node] = set()
    while waiting:
        node = waiting.pop()
        if node not in reached:
            reached.add(node)
            waiting.extend(edge.end for edge in line_map.outgoing.get(node, ()))
    return reached
