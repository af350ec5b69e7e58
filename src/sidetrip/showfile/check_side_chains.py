"""Side chains, and what is recorded and played back, held against the names of a show and the places on its strips."""

from __future__ import annotations

from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.showfile.check_desk import tap_position
from sidetrip.showfile.check_strips import unknown
from sidetrip.showfile.read import nearest


def check_side_chains(show: Show, desk: Desk) -> Iterator[Finding]:
    """Yield names of no strip, there and under plays_together, and places that a strip does not have."""
    yield from _recordings(show)
    for name, members in show.plays_together.items():
        for index, strip in enumerate(members):
            if strip not in show.strips():
                path = ("plays_together", name, index)
                yield unknown(path, f"plays_together / {name}", "strip", strip, show.strips())
    for index, chain in enumerate(show.side_chains):
        where = f"side_chains / {chain.strip}"
        for key, strip, tap_key, tap in (
            ("strip", chain.strip, "acts", chain.acts),
            ("by", chain.by, "tap", chain.tap),
        ):
            if strip not in show.strips():
                yield unknown(("side_chains", index, key), where, "strip", strip, show.strips())
                continue
            pool = desk.pool(show.kind(strip))
            if tap is not None and pool is not None and tap_position(tap, pool.order) is None:
                taps = ["input", *(f"{side} {stage}" for stage in pool.order for side in ("before", "after"))]
                what = f"'{strip}' has no tap '{tap}'"
                yield Finding("name-unknown", where, what, "", nearest(tap, taps), ("side_chains", index, tap_key))


def _recordings(show: Show) -> Iterator[Finding]:
    """Yield names of no output under recorded_together and replays, and of no input under replays."""
    outputs, inputs = [own.name for own in show.outputs], [own.name for own in show.inputs]
    for name, members in show.recorded_together.items():
        for index, output in enumerate(members):
            if output not in outputs:
                path = ("recorded_together", name, index)
                yield unknown(path, f"recorded_together / {name}", "output", output, outputs)
    for strip, output in show.replays.items():
        where = f"replays / {strip}"
        if strip not in inputs:
            yield unknown(("replays", strip), where, "input", strip, inputs)
        if output not in outputs:
            yield unknown(("replays", strip), where, "output", output, outputs)


__all__ = ["check_side_chains"]
