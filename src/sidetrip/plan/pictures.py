"""Sound against picture: ITU-R BT.1359-1 finds 45 ms early and 125 ms late detectable."""

from __future__ import annotations

import math
from collections.abc import Mapping

from sidetrip.graph.arrivals import Arrivals, State, Times
from sidetrip.graph.linemap import LoopTime, Place
from sidetrip.model.show import Show
from sidetrip.plan.gap import Gap, picture_sentence
from sidetrip.plan.meeting import WORSE, Meeting, width
from sidetrip.plan.spread import deciding, figures_of, parts_of

PICTURE_EARLY_S = 0.045
PICTURE_LATE_S = 0.125


_InStates = tuple[tuple[State, Times], ...]


def find_pictures(show: Show, arrivals: Arrivals, loops: Mapping[str, LoopTime], times: _InStates) -> list[Meeting]:
    """Return one meeting an output with a picture: its latest and earliest sound against the picture.

    times: all loops IN first, all OUT second, then any other states.
    """
    found = []
    for output in sorted(show.outputs, key=lambda output: output.name):
        if output.picture_delay_ms is None:
            continue
        rows = [index for index, row in enumerate(arrivals.rows) if row.place == _place(arrivals, output.name)]
        if not rows:
            continue
        picture = output.picture_delay_ms
        every = [_picture_gap(picture.low, picture.high, time, rows) for _, time in times]
        gaps = every[:2]
        worst = max(range(len(every)), key=lambda n: (WORSE.index(every[n].verdict), width(every[n]), -n))
        sources = tuple(dict.fromkeys(arrivals.rows[index].source for index in rows))
        untold = next((own for own, gap in zip(times[:2], gaps, strict=True) if gap.verdict == "cannot tell"), None)
        decides = None if untold is None else f"picture delay of {output.name}"
        if untold is not None and picture.low is not None and picture.low == picture.high:
            decides = _least_known(arrivals, loops, untold, rows) or decides
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
                decides,
                words,
                worst_state=times[worst][0].name,
                gap_worst=every[worst],
                apart_in=tuple(own.name for (own, _), gap in zip(times, every, strict=True) if gap.verdict == "apart"),
                taken_over=tuple(
                    (own.name, gap) for (own, _), gap in zip(times, every, strict=True) if own.kind == "taken over"
                ),
            )
        )
    return found


def _least_known(
    arrivals: Arrivals, loops: Mapping[str, LoopTime], untold: tuple[State, Times], rows: list[int]
) -> str | None:
    """Name the figure that leaves most open on the way of the sound of which least is known."""
    state, time = untold
    heard = [index for index in rows if not time.silent[index]]
    worst = max(heard, key=lambda index: float(time.high[index] - time.low[index]))
    return deciding(parts_of((), figures_of(arrivals.rows[worst], loops, state, arrivals.holding)))


def _place(arrivals: Arrivals, name: str) -> Place | None:
    return next((row.place for row in arrivals.rows if row.place.kind == "output" and row.place.name == name), None)


def _picture_gap(low: float | None, high: float | None, times: Times, rows: list[int]) -> Gap:
    heard = [index for index in rows if not times.silent[index]]
    if not heard:
        return Gap(0.0, 0.0, "alone")
    if low is None or high is None or not all(math.isfinite(times.high[index]) for index in heard):
        return Gap(-math.inf, math.inf, "cannot tell")
    # picture minus sound, from the latest and the earliest that each sound can come
    leads = [(low / 1000 - float(times.high[i]), high / 1000 - float(times.low[i])) for i in heard]
    early, late = min(least for least, _ in leads), max(most for _, most in leads)
    if early >= -PICTURE_LATE_S and late <= PICTURE_EARLY_S:
        return Gap(early, late, "together")
    surely = any(most < -PICTURE_LATE_S or least > PICTURE_EARLY_S for least, most in leads)
    return Gap(early, late, "apart" if surely else "cannot tell")
