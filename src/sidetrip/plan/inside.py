"""Dry and wet inside one processor: a mix knob whose dry side may not wait for the look-ahead of the wet one."""

from __future__ import annotations

import math

from sidetrip.graph.linemap import LineMap
from sidetrip.graph.round_trip import chain_time
from sidetrip.model.outboard import Processor
from sidetrip.model.show import Show
from sidetrip.plan.comb import null_hz, ripple
from sidetrip.plan.gap import MOVED_DB, Gap
from sidetrip.plan.meeting import Meeting
from sidetrip.units import db_from_gain, ms_from_seconds

_WHOLE = 1.0


def find_inside(show: Show, line_map: LineMap) -> list[Meeting]:
    """Return one meeting for each processor in a loop that mixes dry and wet and is late, but for those that wait.

    A show says of a processor `dry: aligned` or `dry: early`; where it does not, nobody can tell without a null test.
    """
    found: dict[tuple[str, str], tuple[Processor, list[str]]] = {}
    for loop in line_map.loops:
        for processor in show.chains.get(loop.chain or "", ()):
            late = chain_time((processor,), show.sample_rate)
            mixes = 0 < processor.mix < _WHOLE and processor.kind != "reverb"
            if mixes and late.high > 0 and processor.settings.get("dry") != "aligned":
                found.setdefault((loop.chain or "", processor.name), (processor, []))[1].append(loop.loop)
    return [_meeting(show, chain, processor, tuple(loops)) for (chain, _), (processor, loops) in sorted(found.items())]


def _meeting(show: Show, chain: str, processor: Processor, loops: tuple[str, ...]) -> Meeting:
    late = chain_time((processor,), show.sample_rate)
    early = processor.settings.get("dry") == "early"
    difference = db_from_gain(processor.mix / (1 - processor.mix))
    known = math.isfinite(late.high)
    middle = (late.low + late.high) / 2
    what = f"the dry side of {processor.name} in chain {chain}"
    deciding = None
    if early and known:
        gap = Gap(late.low, late.high, "apart")
        depth = ripple(difference).ripple_db
        deep = "complete dips" if math.isinf(depth) else f"{depth:.1f} dB of ripple"
        said = f"{what[0].upper()}{what[1:]} comes {ms_from_seconds(middle):.2f} ms before the wet one: hollow"
        said += f", first dip at {null_hz(middle):.0f} Hz, {deep}."
    else:
        gap = Gap(late.low, late.high, "cannot tell")
        deciding = f"whether {what} waits for the wet one, or how long that is; a null test tells"
        said = f"Whether {what} and its wet side meet in time cannot be told: a null test tells."
    return Meeting(
        "electrical",
        f"chain {chain}",
        loops,
        loops,
        "dry",
        "wet",
        (),
        gap,
        Gap(0.0, 0.0, "alone"),
        0.0,
        difference,
        False,
        null_hz(middle) if known and middle > 0 else None,
        ripple(difference).ripple_db if known else None,
        deciding,
        said,
        ripple_moved_db=ripple(min(0.0, MOVED_DB - abs(difference))).ripple_db if known else None,
        worst_state="all IN",
        gap_worst=gap,
        apart_in=("all IN",) if gap.verdict == "apart" else (),
        inside=True,
    )


__all__ = ["find_inside"]
