"""The dangers of a tick, read from its line map: rings that patching closes, and outputs that fall silent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sidetrip.graph.linemap import LineMap, Node
from sidetrip.graph.rewire import loud_nodes
from sidetrip.plan.judge import leaving
from sidetrip.plan.tick import Item, Patch, Tick
from sidetrip.plan.tick_map import is_port, tick_map
from sidetrip.plan.wires import Wires

HazardKind = Literal["ring", "silent output", "lost", "dead return"]
Carried = Mapping[str, frozenset[str]]
"""For each output and each mix on somebody's ears, the inputs that reach it."""


@dataclass(frozen=True, slots=True, order=True)
class Hazard:
    """A danger of one tick.

    ring: what closes it (a strip fed by a return). silent output: an output that carried inputs and carries none. lost:
    an output that lost one of its inputs. dead return: a strip or output that is IN without its own signal coming
    back. at: the place where it shows. what: the input that is lost, empty otherwise.
    """

    kind: HazardKind
    at: str
    what: str = ""


def hazards(base: LineMap, wires: Wires, found: Carried, tick: Tick) -> tuple[Hazard, ...]:
    """Return what is dangerous at a tick, sorted. found: what each output carried before anything was changed."""
    line_map = tick_map(base, wires, tick)
    silent: list[Hazard] = []
    if not tick.value(Item("mute", "outputs")):
        now = carried(line_map, wires)
        for place, inputs in found.items():
            gone = inputs - now.get(place, frozenset())
            if inputs and gone == inputs:
                silent.append(Hazard("silent output", place))
            else:
                silent += [Hazard("lost", place, name) for name in gone]
    return tuple(sorted({*silent, *_dead(line_map, wires, tick), *_rings(line_map)}))


def carried(line_map: LineMap, wires: Wires) -> Carried:
    """Return the inputs that reach each output and each mix on somebody's ears, by the desk alone."""
    places = {place.node: place.name for place in line_map.places if place.kind in ("output", "ear")}
    found: dict[str, set[str]] = {name: set() for name in places.values()}
    for name in wires.legs:
        strip = Node("strip", name)
        port = next((node for node in _before(line_map, strip)), None)
        if name in wires.back_on or port is None:
            continue
        for node in _reached(line_map, strip) & places.keys():
            found[places[node]].add(name)
    return {name: frozenset(inputs) for name, inputs in found.items()}


def _before(line_map: LineMap, strip: Node) -> list[Node]:
    """Return where an input's own sound stands, if every leg of the strip is fed by it."""
    feeding: dict[Node, list[Node]] = {}
    for edge in line_map.edges:
        feeding.setdefault(edge.end, []).append(edge.start)
    legs = [node for node in feeding.get(strip, ()) if node.kind == "port"]
    own = [_origin(feeding, leg) for leg in legs]
    plugged = [node for node in own if node is not None]
    return plugged if legs and len(plugged) == len(legs) else []


def _origin(feeding: Mapping[Node, list[Node]], port: Node) -> Node | None:
    """Go back from a port through ports alone to the node of something plugged in."""
    seen: set[Node] = set()
    node: Node | None = port
    while node is not None and node not in seen:
        seen.add(node)
        if node.kind == "port" and node.at == 0:
            return node
        node = next((start for start in feeding.get(node, ()) if start.kind == "port"), None)
    return None


def _reached(line_map: LineMap, start: Node) -> set[Node]:
    reached: set[Node] = set()
    waiting = [start]
    while waiting:
        node = waiting.pop()
        if node not in reached:
            reached.add(node)
            waiting += [edge.end for edge in line_map.outgoing.get(node, ())]
    return reached


def _dead(line_map: LineMap, wires: Wires, tick: Tick) -> list[Hazard]:
    found = []
    for item, value in tick.values.items():
        if item.kind == "in":
            patch = tick.value(Item("insert", item.name))
            returns = patch.returns.each if isinstance(patch, Patch) else ()
        elif item.kind == "turn" and value is not None:
            returns = getattr(value, "each", ())
        else:
            continue
        here = leaving(wires.show, wires.desk, item.name)
        own = _along_ports(line_map, here)
        if not returns or not all(Node("port", port.group, port.number) in own for port in returns):
            found.append(Hazard("dead return", item.name))
    return found


def _along_ports(line_map: LineMap, start: Node) -> set[Node]:
    """Return the ports that a signal comes to from a node without passing a strip."""
    reached: set[Node] = set()
    waiting = [edge.end for edge in line_map.outgoing.get(start, ()) if edge.end.kind == "port"]
    while waiting:
        node = waiting.pop()
        if node not in reached:
            reached.add(node)
            waiting += [edge.end for edge in line_map.outgoing.get(node, ()) if edge.end.kind == "port"]
    return reached


def _rings(line_map: LineMap) -> list[Hazard]:
    """Name each ring that passes a port of the desk by what the ports feed in it."""
    found: list[Hazard] = []
    for knot in loud_nodes(line_map):
        ports = [node for node in knot if is_port(node)]
        if not ports:
            continue  # a ring of mixes alone is the show's own
        leaving_ports = [edge for node in ports for edge in line_map.outgoing.get(node, ()) if edge.end in knot]
        fed = {edge.end for edge in leaving_ports if edge.kind != "measured"}  # a return into its insert closes none
        names = sorted(f"{end.name} {end.at}" if end.kind == "port" else end.name for end in fed if not is_port(end))
        found += [Hazard("ring", name) for name in names or ["ports alone"]]
    return found
