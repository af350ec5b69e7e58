"""Show, desk and placed loops to a line map."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from sidetrip.findings import Finding
from sidetrip.graph.air import air_delay_s
from sidetrip.graph.holding import find_holding, held_back
from sidetrip.graph.hops import Hops
from sidetrip.graph.linemap import Edge, LineMap, Node, Place, PlacedLoop
from sidetrip.graph.loop_times import LoopTimes, desk_hop
from sidetrip.graph.rings import find_rings, nodes_on_rings
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.second_desk import SecondDesks
from sidetrip.graph.span import NOTHING, UNKNOWN, DelayKind, Span, span_of, total
from sidetrip.graph.taps import tap_of
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Figure
from sidetrip.model.ports import Ports
from sidetrip.model.show import LEGS, Hearing, Input, Mix, Output, Show
from sidetrip.units import seconds_from_ms


def build(show: Show, desk: Desk, loops: Iterable[PlacedLoop], unit_times: Mapping[str, UnitTime]) -> LineMap:
    """Build the line map of a show that was checked, with these loops placed.

    unit_times: each unit's own time by name. Findings name every delay that is unknown.
    """
    return _Builder(show, desk, tuple(loops), unit_times).build()


class _Builder:
    def __init__(
        self, show: Show, desk: Desk, loops: tuple[PlacedLoop, ...], unit_times: Mapping[str, UnitTime]
    ) -> None:
        self.show, self.desk, self.placed, self.unit_times = show, desk, loops, unit_times
        self.hop = Hops(show, desk)
        self.edges: list[Edge] = []
        self.places: list[Place] = []
        self.findings: list[Finding] = []
        self.insert_loops = {loop.strip: loop for loop in loops if loop.way == "insert"}
        self.output_loops = {loop.strip: loop for loop in loops if loop.way == "output"}
        self.in_line = {loop.strip: loop for loop in loops if loop.way == "in-line"}
        self.loop_times = LoopTimes(show, self.placed, unit_times, self.hop)
        self.sharing = _sharing(show.inputs)
        self.second = SecondDesks(show, desk)
        self.own_ports: dict[str, Node] = {}
        self.coming_back = {loop.back_on: loop for loop in loops if loop.way == "send-and-strip"}

    def build(self) -> LineMap:
        for item in self.show.inputs:
            self._input(item)
        for mix in self.show.mixes:
            self._mix(mix)
        for output in self.show.outputs:
            self._output(output)
        for mix in self.show.mixes:
            if mix.for_ is not None:
                self._ears(mix, mix.for_)
        self.edges += self.second.edges(self.own_ports)
        self._listeners()
        self._open_returns()
        edges = tuple(sorted(self.edges, key=lambda edge: (edge.start, edge.end, edge.label)))
        frozen = _leaving(edges)
        rings = find_rings(frozen)
        times = tuple(self.loop_times(loop) for loop in sorted(self.placed, key=lambda loop: loop.name))
        holding = find_holding(self.show, self.desk, edges, times, nodes_on_rings(rings, frozen))
        if holding is not None:
            edges = held_back(edges, holding)
            frozen = _leaving(edges)
        return LineMap(
            edges,
            tuple(sorted(self.places, key=lambda place: (place.kind, place.name))),
            times,
            rings,
            (*self.findings, *self.hop.findings(), *self.second.findings()),
            frozen,
            holding,
        )

    def _edge(
        self,
        start: Node,
        end: Node,
        delay: Span,
        kind: DelayKind,
        label: str,
        level_db: float | None = 0.0,
        loop: str | None = None,
        cause: str = "",
        inverted: bool = False,
    ) -> None:
        self.edges.append(Edge(start, end, delay, kind, label, level_db, inverted, loop, cause))

    def _hop(self, start: Node, end: Node, kinds: tuple[str, str], label: str, level_db: float | None = 0.0) -> None:
        """Add an edge that takes a hop of the desk, from one kind of place to another."""
        self._edge(start, end, self.hop(*kinds), "fixed", label, level_db, cause=desk_hop(*kinds))

    def _ms(self, figure: Figure | None, where: str, what: str) -> Span:
        """Return a figure in ms as a span; nothing when not given, a finding when unknown."""
        if figure is None:
            return NOTHING
        span = span_of(figure, seconds_from_ms(1.0))
        if not span.known:
            remedy = "Measure it, or write a range such as '2 to 4'"
            self.findings.append(
                Finding("delay-unknown", where, f"{what} is unknown", "", remedy, _path(self.show, where))
            )
        return span

    def _air(self, hearing: Hearing, what: str, where: str) -> Span:
        if hearing.m is None or hearing.m.low is None or hearing.m.high is None:
            remedy = "Give the distance in metres: {m: ...}"
            self.findings.append(
                Finding(
                    "delay-unknown",
                    where,
                    f"The distance to {what} is unknown",
                    "",
                    remedy,
                    _path(self.show, where),
                )
            )
            return UNKNOWN
        air = self.show.air
        low, high = (
            air_delay_s(metres, air.temperature_c, air.humidity_percent) for metres in (hearing.m.low, hearing.m.high)
        )
        return Span(low, high, hearing.m.standing or "assumed")

    def _input(self, item: Input) -> None:
        where = f"inputs / {item.name}"
        # one port can feed several strips: they share what is connected there, under the name of the first
        sharing = self.sharing[item.name]
        if item.name in self.coming_back:
            self._coming_back(item, self.coming_back[item.name])
            return
        microphone, first = Node("microphone", sharing[0].name), item.name == sharing[0].name
        if first:
            hears = {source: heard for other in reversed(sharing) for source, heard in other.hears.items()}
            if not hears:
                self._edge(Node("source", item.name), microphone, NOTHING, "fixed", item.name)
            for source, hearing in sorted(hears.items()):
                label = f"air, {source} to {item.name}"
                air = self._air(hearing, source, where)
                self._edge(Node("source", source), microphone, air, "acoustic", label, _level(hearing.db))
        given = [other.device_ms for other in (item, *sharing) if other.device_ms is not None]
        one_device = all(figure == given[0] for figure in given)
        own_port = self.own_ports[item.name] = Node("port", sharing[0].name if one_device else item.name)
        if first or not one_device:
            device = self._ms(given[0] if given else None, where, "The delay of its device")
            self._edge(microphone, own_port, device, "fixed", f"{own_port.name}, before the desk")
        kind = self.show.kind(item.name)
        hop = self.hop(item.port.group, kind)
        label, cause = f"{item.port.group} to {kind}", desk_hop(item.port.group, kind)
        strip = Node("strip", item.name)
        into = strip if item.name not in self.in_line else Node("port", item.name, 1)
        self._edge(own_port, into, hop, "fixed", label, cause=cause, inverted=item.inverted)
        if into != strip:
            loop = self.in_line[item.name]
            self._edge(into, strip, NOTHING, "measured", f"loop {loop.name}", loop=loop.name)
        self._into_the_desk(item, where)

    def _coming_back(self, item: Input, loop: PlacedLoop) -> None:
        """Feed an input strip from the loop that comes back on it, in place of anything connected there."""
        there = Node("loop", loop.name)
        kind, out = self.show.kind(loop.strip), Node("strip", loop.strip, len(self._order(loop.strip)))
        self._hop(out, there, (kind, loop.send.group), f"{loop.strip} to {loop.send}")
        port = Node("port", item.name)
        self._edge(there, port, NOTHING, "measured", f"loop {loop.name}", loop=loop.name)
        kinds = loop.returns.group, self.show.kind(item.name)
        self._edge(
            port, Node("strip", item.name), self.hop(*kinds), "fixed", " to ".join(kinds), cause=desk_hop(*kinds)
        )
        self._into_the_desk(item, f"inputs / {item.name}")

    def _into_the_desk(self, item: Input, where: str) -> None:
        """Add the stages of an input's strip and its ways into mixes."""
        self._stages(item.name, item.delay_ms, where)
        for target in sorted({*item.to, *([item.group] if item.group else [])}):
            into = self.show.mix(target)
            if into is None or self.second.has(target):
                continue
            if item.name not in into.from_:  # a send spelled out knows its level and tap
                self._send(item.name, target, None, 0.0)

    def _stages(self, strip: str, delay_ms: Figure | None, where: str) -> None:
        order = self._order(strip)
        delay = self._ms(delay_ms, where, "Its delay line")
        for index, stage in enumerate(order):
            here, there = Node("strip", strip, index), Node("strip", strip, index + 1)
            loop = self.insert_loops.get(strip) if stage == "insert" else None
            if loop is not None:
                self._edge(here, there, NOTHING, "measured", f"loop {loop.name}", loop=loop.name)
            else:
                set_here = stage == "delay" and delay_ms is not None
                self._edge(here, there, delay if set_here else NOTHING, "configured" if set_here else "fixed", stage)
        if delay_ms is not None and "delay" not in order:
            remedy = "Remove the delay, or set it on another strip"
            self.findings.append(
                Finding(
                    "value-wrong",
                    where,
                    "This strip has no delay line on this desk",
                    f"{delay_ms} ms",
                    remedy,
                    _path(self.show, where),
                )
            )

    def _order(self, strip: str) -> tuple[str, ...]:
        if self.second.has(strip):
            return self.second.order(strip)
        pool = self.desk.pool(self.show.kind(strip))
        assert pool is not None, "a checked show has no strips of a kind the desk lacks"
        return pool.order

    def _send(self, strip: str, mix: str, tap: str | None, level_db: float | None) -> None:
        target = self.show.kind(mix)
        position = tap_of(self.desk, self.show.kind(strip), target, tap)
        start, end = Node("strip", strip, position), Node("strip", mix)
        label = f"{strip} to {mix}"
        self._hop(start, end, (self.show.kind(strip), target), label, level_db)

    def _mix(self, mix: Mix) -> None:
        where = f"mixes / {mix.name}"
        self._stages(mix.name, mix.delay_ms, where)
        if self.second.has(mix.name):
            return
        for strip, send in sorted(mix.from_.items()):
            self._send(strip, mix.name, send.tap, _level(send.db))
        for target in sorted(mix.to):
            into = self.show.mix(target)
            if into is not None and mix.name not in into.from_ and not self.second.has(target):
                self._send(mix.name, target, None, 0.0)

    def _output(self, output: Output) -> None:
        where = f"outputs / {output.name}"
        port, sounding = Node("output", output.name), Node("sounding", output.name)
        loop = self.output_loops.get(output.name)
        between = Node("output", output.name, 1)
        if self.second.has(output.from_):
            self.edges.append(self.second.leaving(output.from_, port, output.port))
        else:
            start = Node("strip", output.from_, len(self._order(output.from_)))
            kinds = self.show.kind(output.from_), output.port.group
            self._hop(start, port, kinds, f"{output.from_} to {output.port}")
        if loop is not None:
            self._edge(port, between, NOTHING, "measured", f"loop {loop.name}", loop=loop.name)
        else:
            self._edge(port, between, NOTHING, "fixed", str(output.port))
        dialled = self._ms(output.delay_ms, where, "Its delay line")
        device = self._ms(output.device_ms, where, "The delay of what is connected")
        after = Node("output", output.name, 2)
        self._edge(between, after, dialled, "configured", f"{output.name}, delay dialled")
        self._edge(after, sounding, device, "fixed", f"{output.name}, after the desk")
        self.places.append(Place(output.name, "output", sounding))

    def _ears(self, mix: Mix, performer: str) -> None:
        where = f"mixes / {mix.name}"
        ear = Node("place", mix.name, 1)  # a listener may carry the same name
        device = self._ms(mix.device_ms, where, "The delay of the ears")
        if mix.listens == "wedge":
            device = device + self._air(Hearing(m=mix.m), performer, where)
        outputs = [output for output in self.show.outputs if output.from_ == mix.name]
        for output in outputs:
            self._edge(Node("sounding", output.name), ear, device, "fixed", f"{mix.name}, to the ear")
        if not outputs and self.second.has(mix.name):
            jack = Node("place", mix.name, 2)
            self.edges.append(self.second.leaving(mix.name, jack, None))
            self._edge(jack, ear, device, "fixed", f"{mix.name}, to the ear")
        elif not outputs:
            outs = sorted(
                (group for group in self.desk.ports if group.direction == "out"), key=lambda own: not own.jacks
            )
            group = outs[0].name if outs else ""
            end = Node("strip", mix.name, len(self._order(mix.name)))
            self._edge(end, ear, self.hop(mix.kind, group) + device, "fixed", f"{mix.name}, to the ear")
        if performer in self.show.sources():
            self._edge(
                Node("source", performer),
                ear,
                NOTHING,
                "acoustic",
                f"{performer}, own voice through the head",
            )
        self.places.append(Place(mix.name, "ear", ear))

    def _listeners(self) -> None:
        outputs = {output.name for output in self.show.outputs}
        for listener in self.show.listeners:
            where = f"listeners / {listener.name}"
            there = Node("place", listener.name)
            for name, hearing in sorted(listener.hears.items()):
                start = Node("sounding", name) if name in outputs else Node("source", name)
                label = f"air, {name} to {listener.name}"
                self._edge(start, there, self._air(hearing, name, where), "acoustic", label, _level(hearing.db))
            self.places.append(Place(listener.name, "listener", there))

    def _open_returns(self) -> None:
        """Add the ways that a return takes through strips of its own, and units that stand between two ports."""
        for loop in self.placed:
            start = self._start(loop)
            if loop.way in ("in-line", "send-and-strip"):
                continue  # what they come back on is their own strip
            there = total(item.delay for item in self.loop_times(loop).items[:-1])  # all but the desk's way back in
            if loop.returns.group != loop.unit_out.group:
                there = there + self.hop(loop.unit_out.group, loop.returns.group)
            self._leak(start, Node("loop", loop.name), loop.returns, loop.name, there)
        for unit in self.show.units:
            if unit.out is None or unit.back is None:
                continue
            time = self.unit_times[unit.name].span
            looped = any(loop.unit == unit.name and loop.way == "send-and-strip" for loop in self.placed)
            for output in self.show.outputs if not looped else ():
                if output.port.overlaps(unit.out):
                    back = _behind(unit.out, unit.back, output.port)
                    through = Node("unit", unit.name, back.first if back != unit.back else 0)
                    self._leak(Node("output", output.name, 2), through, back, unit.name, time)

    def _start(self, loop: PlacedLoop) -> Node:
        """Return the node at which a loop leaves the desk."""
        if loop.way == "insert":
            return Node("strip", loop.strip, self._order(loop.strip).index("insert"))
        if loop.way == "in-line":
            return Node("port", loop.strip, 1)
        return Node("loop", loop.name) if loop.way == "send-and-strip" else Node("output", loop.strip)

    def _leak(self, start: Node, through: Node, returns: Ports, label: str, delay: Span) -> None:
        # what comes back on a strip of its own has taken the place of what is connected there
        inputs = [item for item in self.show.inputs if item.name not in self.coming_back]
        open_strips = [item for item in inputs if item.port.overlaps(returns)]
        if open_strips:
            self._edge(start, through, delay, "measured", f"{label}, out and back")
        for item in open_strips:
            kinds = item.port.group, self.show.kind(item.name)
            self._hop(through, Node("strip", item.name), kinds, f"{item.port}, open on {item.name}")


def _sharing(inputs: Iterable[Input]) -> dict[str, list[Input]]:
    """Return by input all inputs that hang on the same ports, one by another, by name, the input itself among them."""
    found: dict[str, list[Input]] = {}
    together: list[Input] = []
    last = 0
    for item in sorted(inputs, key=lambda own: own.port):
        if not together or item.port.group != together[0].port.group or item.port.first > last:
            together, last = [], 0
        together.append(item)
        last = max(last, item.port.last)
        found[item.name] = together
    return {name: sorted(own, key=lambda other: other.name) for name, own in found.items()}


def _leaving(edges: tuple[Edge, ...]) -> dict[Node, tuple[Edge, ...]]:
    """Return the edges by the node that they leave."""
    outgoing: defaultdict[Node, list[Edge]] = defaultdict(list)
    for edge in edges:
        outgoing[edge.start].append(edge)
    return {node: tuple(leaving) for node, leaving in outgoing.items()}


def _behind(out: Ports, back: Ports, sent: Ports) -> Ports:
    """Return the ports on which a unit gives back what is sent to it: channel by channel, but for a box of two."""
    if len(out) != len(back) or len(out) <= LEGS["stereo"]:
        return back
    first, last = max(sent.first, out.first) - out.first, min(sent.last, out.last) - out.first
    return Ports(back.group, back.first + first, back.first + last)


def _level(figure: Figure | None) -> float | None:
    """Return a level in dB: 0 when not given, None when unknown."""
    return 0.0 if figure is None else figure.typical


def _path(show: Show, where: str) -> tuple[str | int, ...]:
    """Return the place in the file of "inputs / Name" and its like."""
    section, _, name = where.partition(" / ")
    names = [item.name for item in getattr(show, section)]
    return (section, names.index(name)) if name in names else (section,)
