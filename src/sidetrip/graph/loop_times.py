"""What each loop adds, part by part: the desk's ways out and back, the unit's own time, and its chain."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from sidetrip.graph.hops import Hops
from sidetrip.graph.linemap import Item, LoopTime, PlacedLoop
from sidetrip.graph.round_trip import UnitTime, chain_time, chain_time_on
from sidetrip.graph.span import NOTHING, DelayKind
from sidetrip.model.show import Show


class LoopTimes:
    """Times of loops as they are placed: a unit that aligns its chains makes all as late as the slowest."""

    def __init__(
        self, show: Show, placed: tuple[PlacedLoop, ...], unit_times: Mapping[str, UnitTime], hop: Hops
    ) -> None:
        self.show, self.placed, self.unit_times, self.hop = show, placed, unit_times, hop
        self._chain_times = {name: chain_time(chain, show.sample_rate) for name, chain in show.chains.items()}
        self._sharing: defaultdict[str, set[str]] = defaultdict(set)
        for loop in placed:
            self._sharing[loop.unit] |= {loop.chain} if loop.chain is not None else set()

    def __call__(self, loop: PlacedLoop) -> LoopTime:
        """Return what a loop adds when it is IN: out of the desk, through unit and chain, and back in."""
        unit = self.show.unit(loop.unit)
        assert unit is not None, "a placed loop has a unit of the show"
        sharing = [self._chain_times[chain] for chain in sorted(self._sharing[loop.unit])]
        own = self._chain_times.get(loop.chain, NOTHING) if loop.chain else NOTHING
        hops = self._loop_hops(loop)
        unit_time = self.unit_times[loop.unit]
        kind: DelayKind = "buffer" if unit.kind == "computer" else "fixed"
        items = [
            *hops[:1],
            Item(f"{unit.name}, round trip", kind, unit_time.span, f"the round trip of {unit.name}"),
            *hops[1:],
        ]
        chain_span = chain_time_on(unit, own, sharing)
        if loop.chain or chain_span.high > 0:  # an empty slot too waits for the slowest chain of an aligning unit
            words = f"chain {loop.chain}" if loop.chain else "no chain, in step with the others"
            aligned = unit.kind == "computer" and unit.aligns == "all"
            cause = f"the slowest chain of {unit.name}" if aligned else f"the delay of {words} on {unit.name}"
            items.insert(2, Item(words, "chain", chain_span, cause))
        tail = unit.tail or any(processor.only_tail for processor in self.show.chains.get(loop.chain or "", ()))
        return LoopTime(loop.name, tuple(items), parallel=loop.way == "send-and-strip", tail=tail, chain=loop.chain)

    def _loop_hops(self, loop: PlacedLoop) -> list[Item]:
        """Return the desk's hop out first, then its hop back, and for an output what the loop stands in for."""
        out_group, back_group = loop.unit_in.group, loop.unit_out.group
        if loop.way == "insert":
            out = self.hop("insert", loop.send.group)
            if out_group != loop.send.group:
                out = out + self.hop(loop.send.group, out_group)
            back = self.hop(loop.returns.group, "insert")
            if back_group != loop.returns.group:
                back = self.hop(back_group, loop.returns.group) + back
            ways = ("insert", loop.send.group, out_group), (back_group, loop.returns.group, "insert")
            causes = [desk_hop(*dict.fromkeys(way)) for way in ways]
            return [
                Item(f"insert to {loop.unit_in}", "fixed", out, causes[0]),
                Item(f"{loop.unit_out} to insert", "fixed", back, causes[1]),
            ]
        if loop.way == "in-line":
            return self._in_line_hops(loop)
        if loop.way == "send-and-strip":
            out = self.hop(loop.send.group, out_group) if out_group != loop.send.group else NOTHING
            back = self.hop(back_group, loop.returns.group) if back_group != loop.returns.group else NOTHING
            return [
                Item(f"{loop.send} to {loop.unit_in}", "fixed", out, desk_hop(loop.send.group, out_group)),
                Item(f"{loop.unit_out} to {loop.returns}", "fixed", back, desk_hop(back_group, loop.returns.group)),
            ]
        output = self.show.output(loop.strip)
        assert output is not None, "an output way belongs to an output of the show"
        kind = self.show.kind(output.from_)
        direct, out = self.hop(kind, output.port.group), self.hop(kind, out_group)
        instead = NOTHING if output.port.group == out_group else out + -direct
        return [
            Item(f"{output.from_} to {loop.unit_in}", "fixed", instead),
            Item(f"{loop.unit_out} to {output.port}", "fixed", self.hop(back_group, output.port.group)),
        ]

    def _in_line_hops(self, loop: PlacedLoop) -> list[Item]:
        """Return the input's way to the unit, then the way in from it in place of the input's own."""
        kind, sent, back = self.show.kind(loop.strip), loop.send.group, loop.unit_out.group
        instead = self.hop(back, kind) + -self.hop(sent, kind)
        return [
            Item(f"{loop.send} to {loop.unit_in}", "fixed", self.hop(sent, loop.unit_in.group)),
            Item(f"{loop.unit_out} to {kind}, in place of {sent}", "fixed", instead),
        ]


def desk_hop(*places: str) -> str:
    """Say which of the desk's delays a time comes from."""
    return f"the desk's delay from {' to '.join(places)}"
