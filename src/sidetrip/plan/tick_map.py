"""The line map of exactly one tick: every port that carries something, and what it feeds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sidetrip.graph.linemap import Edge, LineMap, Node
from sidetrip.graph.rewire import rewired
from sidetrip.graph.span import NOTHING, Span
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Port, Ports
from sidetrip.model.show import Show
from sidetrip.plan.judge import leaving
from sidetrip.plan.tick import Item, Patch, Tick
from sidetrip.plan.wires import Links, Wires


def port_node(port: Port) -> Node:
    """Return the node of a port of the desk; nodes of the show's inputs carry its number 0."""
    return Node("port", port.group, port.number)


_SPARE = " strip"


def spare_node(leg: Port) -> Node:
    """Return the node of a strip that carries no input of the show."""
    return Node("port", leg.group + _SPARE, leg.number)


def is_port(node: Node) -> bool:
    """Tell whether a node is a port of the desk."""
    return node.kind == "port" and node.at > 0 and not node.name.endswith(_SPARE)


def tick_map(base: LineMap, wires: Wires, tick: Tick, times: Mapping[str, Span] | None = None) -> LineMap:
    """Return the line map of a tick.

    base: the show's line map without loops. times: the whole time of each loop, by the strip or output on which it
    comes back, with ", in-line" behind it for that way; it is put there, and the ports on its way take none. A strip
    without an input is open, unless it is shut, into every mix at a level that nobody knows. Muted outputs are left as
    they are: `safe` looks at those.
    """
    return _Map(base, wires, tick, times or {}).build()


class _Map:
    def __init__(self, base: LineMap, wires: Wires, tick: Tick, times: Mapping[str, Span]) -> None:
        self.base, self.wires, self.tick, self.times = base, wires, tick, times
        self.show: Show = wires.show
        self.desk: Desk = wires.desk
        self.links: Links = wires.links(tick)
        self.cut: list[tuple[Node, Node]] = []
        self.added: list[Edge] = []

    def build(self) -> LineMap:
        sent = [*self._inserts(), *self._outputs()]
        self.added += sent
        self._desk_ports()
        for name in sorted(self.wires.legs):
            self._input(name)
        sending = {edge.end for edge in sent if edge.end.kind == "port"}
        for leg in self.wires.spare:
            self._spare(leg, sending)
        return rewired(self.base, self.cut, self.added)

    def _inserts(self) -> Iterator[Edge]:
        for item, value in self.tick.values.items():
            if item.kind != "insert" or not isinstance(value, Patch):
                continue
            here = leaving(self.show, self.desk, item.name)
            for port in value.send.each:
                yield _edge(here, port_node(port), f"{item.name} to {port}")
        for item in self.tick.values:
            if item.kind != "in":
                continue
            here = leaving(self.show, self.desk, item.name)
            there = Node(here.kind, here.name, here.at + 1)
            self.cut.append((here, there))
            patch = self.tick.value(Item("insert", item.name))
            for port in patch.returns.each if isinstance(patch, Patch) else ():
                yield self._back(port_node(port), there, item.name, f"{port} to {item.name}")

    def _outputs(self) -> Iterator[Edge]:
        for output in self.show.outputs:
            for port in output.port.each:
                yield _edge(Node("output", output.name, 1), port_node(port), f"{output.name} on {port}")
        for item, value in self.tick.values.items():
            if item.kind == "copy" and isinstance(value, Ports):
                here = leaving(self.show, self.desk, item.name)
                for port in value.each:
                    yield _edge(here, port_node(port), f"{item.name} to {port}")
            elif item.kind == "turn" and isinstance(value, Ports):
                here = Node("output", item.name)
                there = Node("output", item.name, 1)
                self.cut.append((here, there))
                for port in value.each:
                    yield self._back(port_node(port), there, item.name, f"{port} to {item.name}")

    def _desk_ports(self) -> None:
        """Add what blocks, cables and slots bring from port to port."""
        for index, block in enumerate(self.desk.blocks):
            choice = block.choices[self.tick.choice(str(block.feeds), index)]
            if block.feeds.group == "channel" or not isinstance(choice.from_, Ports):
                continue
            for start, end in zip(choice.from_.each, block.covered(choice).each, strict=False):
                self.added.append(_edge(port_node(start), port_node(end), block.name))
        for back, (out, item) in self.links.items():
            if len(self.wires.trace(self.tick, self.links, back).ports) > 1:
                self.added.append(_edge(port_node(out), port_node(back), f"through {item.name}"))

    def _input(self, name: str) -> None:
        """Lead an input from its jack through the desk's ports to its strip, with the delay it has in the base."""
        item, strip = self.show.input(name), Node("strip", name)
        into = [e for e in self.base.edges if e.end == strip and e.start.kind == "port" and e.start.at == 0]
        if item is None or not into:
            return
        edge = into[0]
        self.cut.append((edge.start, strip))
        if name not in self.wires.back_on:
            for port in item.port.each:
                if len(self.wires.trace(self.tick, self.links, port).ports) == 1:
                    self.added.append(_edge(edge.start, port_node(port), f"{name} on {port}"))
        elif not self.tick.value(Item("back", name)):
            return
        for leg in self.wires.legs[name]:
            fed = self.wires.feeds(self.tick, leg)
            if fed is not None and not self.tick.value(Item("strip", leg.group, leg.number)):
                delay = edge.delay
                if self.wires.trace(self.tick, self.links, fed).through_unit:
                    own = name if name in self.wires.back_on else f"{name}, in-line"
                    delay = delay + self.times.get(own, NOTHING)
                label = f"{fed} to {name}"
                self.added.append(Edge(port_node(fed), strip, delay, edge.kind, label, 0.0, edge.inverted))

    def _spare(self, leg: Port, sending: set[Node]) -> None:
        fed = self.wires.feeds(self.tick, leg)
        if fed is None or self.tick.value(Item("strip", leg.group, leg.number)):
            return
        trace = self.wires.trace(self.tick, self.links, fed)
        if not trace.ringed and port_node(trace.start) not in sending:
            return  # nothing that the desk sends comes back on it
        here = spare_node(leg)
        self.added.append(_edge(port_node(fed), here, f"{fed} to {leg}"))
        for mix in self.show.mixes:
            self.added.append(_edge(here, Node("strip", mix.name), f"{leg}, open, to {mix.name}", None))

    def _back(self, start: Node, end: Node, name: str, label: str) -> Edge:
        return Edge(start, end, self.times.get(name, NOTHING), "measured", label)


def _edge(start: Node, end: Node, label: str, level_db: float | None = 0.0) -> Edge:
    return Edge(start, end, NOTHING, "fixed", label, level_db)
