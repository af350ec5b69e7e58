"""Sound against picture: ITU-R BT.1359-1 finds 45 ms early and 125 ms late detectable."""

from __future__ import annotations

import math

from sidetrip.graph.arrivals import Arrivals, Times
from sidetrip.graph.linemap import Place
from sidetrip.model.show import Show
from sidetrip.plan.gap import Gap, picture_sentence
from sidetrip.plan.meeting import Meeting

PICTURE_EARLY_S = 0.045
PICTURE_LATE_S = 0.125


def find_pictures(show: Show, arrivals: Arrivals, times: tuple[Times, Times]) -> list[Meeting]:
    """Return one meeting an output with a picture: its latest and earliest sound against the picture."""
    found = []
    for output in sorted(show.outputs, key=lambda output: output.name):
        if output.picture_delay_ms is None:
            continue
        rows = [index for index, row in enumerate(arrivals.rows) if row.place == _place(arrivals, output.name)]
        if not rows:
            continue
        gaps = [_picture_gap(output.picture_delay_ms.low, output.picture_delay_ms.high, time, rows) for time in times]
        sources = tuple(dict.fromkeys(arrivals.rows[index].source for index in rows))
        deciding = f"picture delay of {output.name}" if "cannot tell" in (gaps[0].verdict, gaps[1].verdict) else None
        words = picture_sentence(output.name, gaps)
        found.append(
            Meeting(
                "picture",
                "",
                (output.name,),
                sources,
                "sound",
                "picture",
                (),
                gaps[0],
                gaps[1],
                0.0,
                None,
                False,
                None,
                None,
                deciding,
                words,
            )
        )
    return found


def _place(arrivals: Arrivals, name: str) -> Place | None:
    return next((row.place for row in arrivals.rows if row.place.kind == "output" and row.place.name == name), None)


def _picture_gap(low: float | None, high: float | None, times: Times, rows: list[int]) -> Gap:
    heard = [index for index in rows if not times.silent[index]]
    if not heard:
        return Gap(0.0, 0.0, "alone")
    if low is None or high is None or not all(math.isfinite(times.high[index]) for index in heard):
        return Gap(-math.inf, math.inf, "cannot tell")
    early = low / 1000 - max(float(times.high[index]) for index in heard)
    late = high / 1000 - min(float(times.low[index]) for index in heard)
    fine = early >= -PICTURE_LATE_S and late <= PICTURE_EARLY_S
    return Gap(early, late, "together" if fine else "apart")
