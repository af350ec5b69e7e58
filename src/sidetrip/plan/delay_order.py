"""Copies that a mix takes from a strip before its delay line: what is dialled there does not count in them.

Where the delay line lies on a strip hangs on the desk; whether a copy should wait, on what it is for. Common practice,
no source.
"""

from __future__ import annotations

from sidetrip.findings import Finding
from sidetrip.graph.linemap import LineMap
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show

_STAGE = "delay"


def delay_order_findings(show: Show, desk: Desk, line_map: LineMap) -> list[Finding]:
    """Say of each strip with a delay of its own which mixes take it before that delay line."""
    found = []
    own = [(("inputs", number), item.name, item.delay_ms) for number, item in enumerate(show.inputs)]
    own += [(("mixes", number), mix.name, mix.delay_ms) for number, mix in enumerate(show.mixes)]
    for path, strip, delay_ms in own:
        pool = desk.pool(show.kind(strip))
        if delay_ms is None or delay_ms.high == 0 or pool is None or show.desk_of(strip) is not None:
            continue
        mixes = _before(line_map, strip, pool.order)
        if mixes:
            who = f"{', '.join(mixes)} {'takes' if len(mixes) == 1 else 'take'} {strip}"
            what = f"{who} before its delay line, so its delay does not count there"
            remedy = "Take it behind the delay line where it should wait; leave it where ears should not wait"
            found.append(Finding("tap-before-delay", f"{path[0]} / {strip}", what, f"{delay_ms} ms", remedy, path))
    return found


def _before(line_map: LineMap, strip: str, order: tuple[str, ...]) -> list[str]:
    """Return the mixes that take a strip before its delay line, by name; none where it has no such line."""
    if _STAGE not in order:
        return []
    ends = [(edge.start, edge.end) for edge in line_map.edges if edge.start.kind == edge.end.kind == "strip"]
    line = order.index(_STAGE)
    return sorted({end.name for start, end in ends if start.name == strip != end.name and start.at <= line})


__all__ = ["delay_order_findings"]
