"""The ways through another desk: from a microphone's split, or from a tie, into a mix there and out of it.

Such a way leaves the show's own desk out: a loop on a strip here is on it only where a tie is taken behind the loop.
The other desk has delays of its own. One measured figure for the whole of it (`through_ms`) goes before its type.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sidetrip.findings import Finding
from sidetrip.graph.linemap import Edge, Node
from sidetrip.graph.span import NOTHING, UNKNOWN, Span, span_of
from sidetrip.graph.taps import tap_of
from sidetrip.model.desk import Desk, Hop, StripName
from sidetrip.model.figure import Figure
from sidetrip.model.ports import Ports
from sidetrip.model.show import Input, Mix, Send, Show
from sidetrip.model.split import OtherDesk, there
from sidetrip.units import seconds_from_frames, seconds_from_ms

_DOUBLE_RATE_HZ = 80_000
_BARE = ("delay", "fader", "mute")
"""The order of a strip on a desk of which no type says more."""


def one_clock(show: Show, other: OtherDesk) -> bool:
    """Tell whether another desk runs at the show's rate and follows the show's leader, as far as the file says."""
    device = None if show.clock is None else show.clock.device(other.name)
    rates = {other.sample_rate or show.sample_rate, (device and device.rate) or show.sample_rate}
    return rates == {show.sample_rate} and (show.clock is None or device is None or show.clock.led(device))


class SecondDesks:
    """The other desks of one show. own: the show's own desk, for the places where ties are taken."""

    def __init__(self, show: Show, own: Desk) -> None:
        self._show, self._own = show, own
        self._sides = {other.name: _Side(show, other) for other in show.other_desks}
        self._mixes = {mix.name: self._sides[mix.desk] for mix in show.mixes if mix.desk in self._sides}

    def has(self, mix: str) -> bool:
        """Tell whether a mix is on another desk."""
        return mix in self._mixes

    def order(self, mix: str) -> tuple[str, ...]:
        """Return the stages of a mix on another desk."""
        return self._mixes[mix].order(self._show.kind(mix))

    def leaving(self, mix: str, end: Node, port: Ports | None) -> Edge:
        """Return the way out of a mix to its jack: these ports of that desk, or its first kind of output jack."""
        side, kind = self._mixes[mix], self._show.kind(mix)
        start = Node("strip", mix, len(side.order(kind)))
        label = f"{mix}, out of {side.name}"
        if side.through is not None:
            return Edge(start, end, side.through, "fixed", label, cause=f"the whole way through {side.name}")
        own = None if port is None else side.other.own_ports(port)
        return side.hop(start, end, kind, side.jacks("out")[0] if own is None else own.group, label)

    def edges(self, ports: Mapping[str, Node]) -> Iterator[Edge]:
        """Yield all that lies between the show's own desk and the stages of the mixes on others.

        ports: by input the node at which its microphone comes to the desk; those that come back from a unit have none.
        """
        made: set[str] = set()
        for mix, side in sorted(self._mixes.items()):
            kind = self._show.kind(mix)
            for name, send in self._show.fed(mix).items():
                item, feeder = self._show.input(name), self._show.mix(name)
                if send.tie is None and feeder is not None:
                    if name in self._mixes:  # a checked show has it on the same desk
                        yield from side.send(name, feeder.kind, mix, kind, send, self._waits(side, mix, feeder))
                    continue
                if send.tie is None and (item is None or name not in ports):
                    continue
                strip = there(name, side.name, send.tie)
                if strip not in made:
                    made.add(strip)
                    first = self._tied(side, name, send.tie, strip) if send.tie else ()
                    yield from first or side.split(self._show, item, ports[name], strip)
                    yield from side.stages(strip)
                yield from side.send(strip, "channel", mix, kind, send, self._waits(side, mix, None))

    def _tied(self, side: _Side, name: str, tie: str, strip: str) -> tuple[Edge, ...]:
        kind = self._show.kind(name)
        start = Node("strip", name, tap_of(self._own, kind, kind, tie))
        label = f"tie of {name} {tie} to {side.name}"
        port = Node("port", strip)
        cause = f"the tie to {side.name}"
        into = side.hop(port, Node("strip", strip), side.tie_jacks(), "channel", label)
        return Edge(start, port, side.tie, "fixed", label, cause=cause), into

    def _waits(self, side: _Side, mix: str, feeder: Mix | None) -> Span:
        """Return how long that desk itself holds a copy back at the entrance of a mix, for the latest copy there."""
        kind = self._show.kind(mix)
        limit = side.limit(kind, "channel" if feeder is None else feeder.kind)
        if limit is None or side.through is not None:
            return NOTHING
        own = side.between("channel" if feeder is None else feeder.kind, kind)
        own = own if feeder is None else self._latest(side, feeder.name, frozenset((mix,))) + own
        latest = self._latest(side, mix, frozenset())
        longest = latest.high - own.low
        if longest <= 1e-12:
            return NOTHING
        shortest = min(max(latest.low - own.high, 0.0), limit.low if limit.known else 0.0)
        return Span(shortest, min(longest, limit.high), "assumed" if latest.known and own.known else "unknown")

    def _latest(self, side: _Side, mix: str, passed: frozenset[str]) -> Span:
        """Return when the latest copy is in a mix, from the moment at which the strips take their input."""
        kind, found = self._show.kind(mix), [NOTHING]
        for name, send in self._show.fed(mix).items():
            feeder = self._show.mix(name) if send.tie is None else None
            if feeder is None:
                found.append(side.between("channel", kind))
            elif name in self._mixes and name not in passed:
                found.append(self._latest(side, name, passed | {mix}) + side.between(feeder.kind, kind))
        return max(found, key=lambda span: (span.high, span.low))

    def findings(self) -> list[Finding]:
        """Return one finding for each other desk of which a time that was asked for is unknown."""
        return [finding for _, side in sorted(self._sides.items()) for finding in side.findings(self._show)]


class _Side:
    """One other desk: its times, looked up once each, and which of them are unknown."""

    def __init__(self, show: Show, other: OtherDesk) -> None:
        self.other, self.name, self._type = other, other.name, other.described
        self._rate = other.sample_rate or show.sample_rate
        self._missing: dict[str, str] = {}
        known = other.through_ms is not None and other.through_ms.known
        alone = other.through_ms is not None and self._type is None
        self.through = span_of(other.through_ms, seconds_from_ms(1.0)) if known or alone else None
        self._converts = other.converter_ms is not None or not one_clock(show, other)

    def order(self, kind: StripName) -> tuple[str, ...]:
        pool = None if self._type is None else self._type.pool(kind)
        return _BARE if pool is None else pool.order

    def jacks(self, direction: str) -> tuple[str, ...]:
        """Return the kinds of jacks of one direction, in the order of the type."""
        groups = () if self._type is None else self._type.ports
        return tuple(own.name for own in groups if own.jacks and own.direction == direction) or ("jack",)

    def tie_jacks(self) -> tuple[str, ...]:
        """Return the kinds of jacks on which a tie can come in: those with a way to its channels."""
        hops = () if self._type is None else self._type.hops
        ways = [name for name in self.jacks("in") if any(name in hop.from_ and "channel" in hop.to for hop in hops)]
        return tuple(ways) or self.jacks("in")[:1]

    def hop(
        self, start: Node, end: Node, from_: str | tuple[str, ...], to: str, label: str, level_db: float | None = 0.0
    ) -> Edge:
        """Return an edge that takes a hop of that desk; from several kinds of jacks where it is not said which."""
        names = (from_,) if isinstance(from_, str) else from_
        spans = [self.between(name, to) for name in names]
        low, high = min(span.low for span in spans), max(span.high for span in spans)
        standing = "unknown" if any(not span.known for span in spans) else spans[0].standing
        cause = f"the delay of {self.name} from {' or '.join(names)} to {to}"
        span = spans[0] if len(spans) == 1 else Span(low, high, standing)
        return Edge(start, end, span, "fixed", label, level_db, cause="" if span is NOTHING else cause)

    def between(self, start: str, end: str) -> Span:
        """Return that desk's delay from one kind of place to another: nothing where one figure has the whole way."""
        if self.through is not None:
            if not self.through.known:
                self._missing["through_ms"] = "How late it is from a microphone's jack to the jack of a mix"
            return NOTHING
        hops: tuple[Hop, ...] = () if self._type is None else self._type.hops
        for hop in hops:
            if start in hop.from_ and end in hop.to:
                doubled = self._rate > _DOUBLE_RATE_HZ and hop.frames_at_96000 is not None
                figure: Figure | None = hop.frames_at_96000 if doubled else hop.frames
                assert self._type is not None
                span = span_of(figure, seconds_from_frames(1.0, self._rate), self._type.standing)
                break
        else:
            span = UNKNOWN
        if not span.known:
            key = "How late it is from a microphone's jack to the jack of a mix"
            self._missing["through_ms"] = key if self._type is None else f"Its delay from {start} to {end}"
        return span

    @property
    def tie(self) -> Span:
        span = span_of(self.other.tie_ms, seconds_from_ms(1.0))
        if not span.known:
            self._missing["tie_ms"] = "How late a tie is, from where it is taken at FOH to the input of this desk"
        return span

    def split(self, show: Show, item: Input | None, microphone: Node, strip: str) -> Iterator[Edge]:
        """Yield the way of a microphone to its strip there: a rate converter where both desks share the preamp."""
        assert item is not None
        port, way = Node("port", strip), show.split_of(item, self.other)
        delay = NOTHING
        if way != "analogue" and self._converts:
            delay = span_of(self.other.converter_ms, seconds_from_ms(1.0))
            if not delay.known:
                self._missing["converter_ms"] = "How late the rate converter between the two desks is"
            if way == "unknown":
                delay = Span(0.0, delay.high, delay.standing)
        cause = f"the rate converter of {self.name}" if delay is not NOTHING else ""
        yield Edge(microphone, port, delay, "fixed", f"{item.name}, by the split to {self.name}", cause=cause)
        own = None if self._type is None else self._type.group(item.port.group)
        group = item.port.group if own is not None and own.direction == "in" else self.jacks("in")[0]
        yield self.hop(port, Node("strip", strip), group, "channel", f"{group} to channel on {self.name}")

    def stages(self, strip: str) -> Iterator[Edge]:
        for index, stage in enumerate(self.order("channel")):
            yield Edge(Node("strip", strip, index), Node("strip", strip, index + 1), NOTHING, "fixed", stage)

    def send(self, strip: str, from_: StripName, mix: str, to: StripName, send: Send, waits: Span) -> Iterator[Edge]:
        """Yield the copy that a mix takes of a strip of its own desk."""
        at = len(self.order(from_)) if self._type is None else tap_of(self._type, from_, to, send.tap)
        level = 0.0 if send.db is None else send.db.typical
        edge = self.hop(Node("strip", strip, at), Node("strip", mix), from_, to, f"{strip} to {mix}", level)
        if waits is NOTHING:
            yield edge
            return
        waiting = Node("port", f"{strip} to {mix}")
        yield Edge(edge.start, waiting, edge.delay, "fixed", edge.label, level, cause=edge.cause)
        yield Edge(waiting, edge.end, waits, "fixed", f"held back by {self.name} at {mix}")

    def limit(self, mix: StripName, copy: StripName) -> Span | None:
        """Return the longest that a copy of this kind is held back at such a mix, None where it never is."""
        for own in () if self._type is None else self._type.compensation:
            if mix in own.at and copy in own.holds:
                return span_of(own.limit_frames, seconds_from_frames(1.0, self._rate))
        return None

    def findings(self, show: Show) -> list[Finding]:
        index = [other.name for other in show.other_desks].index(self.name)
        where, path = f"other_desks / {self.name}", ("other_desks", index)
        return [
            Finding("delay-unknown", where, f"{what} is unknown", "", f"Measure it, and write {{{key}: ...}}", path)
            for key, what in sorted(self._missing.items())
        ]


__all__ = ["SecondDesks", "one_clock"]
