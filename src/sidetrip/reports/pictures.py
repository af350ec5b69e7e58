"""Pictures of a plan: a time map of every place, and the comb of every cause of sound heard twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sidetrip.naming import slug
from sidetrip.plan.dialled import dialled_plan
from sidetrip.plan.hearing import HeardAt, heard_at
from sidetrip.plan.lanes import lanes_at
from sidetrip.plan.planner import Plan
from sidetrip.reports.draw.comb import Case, comb_svg
from sidetrip.reports.draw.palette import Palette
from sidetrip.reports.draw.time_map import time_map_svg

MOST_COMBS = 12
_COMBS = ("electrical", "two microphones", "two loudspeakers", "main and sub")


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture. name: of its file, without an ending. svg: its text."""

    name: str
    svg: str


def pictures(plan: Plan, palette: Palette, width_px: int = 1200) -> Iterator[Picture]:
    """Yield the pictures of a plan, all loops IN: time maps by place, then combs, the worst first."""
    state = plan.states[0]
    for place in plan.line_map.places:
        found = lanes_at(plan, place.name, state)
        if found.lanes:
            title = f"When does it arrive: {place.name}"
            yield Picture(f"time-map-{slug(place.name)}", time_map_svg(title, found, palette, width_px))
    apart = [meeting for meeting in plan.meetings if meeting.gap_in.verdict == "apart" and meeting.kind in _COMBS]
    heard = dict.fromkeys((meeting.sources[0], meeting.places[0]) for meeting in apart)  # several causes, one picture
    then = dialled_plan(plan) if heard else None
    for number, (source, place_name) in enumerate(list(heard)[:MOST_COMBS], 1):
        now = _case("as planned, all loops IN", heard_at(plan, source, place_name, state))
        after = None
        if then is not None:
            after = _case("with what there is to dial", heard_at(then, source, place_name, then.states[0]))
        if now is not None:
            title = f"{source} at {place_name}"
            yield Picture(f"comb-{number}-{slug(source)}-at-{slug(place_name)}", comb_svg(title, now, after, palette))


def _case(name: str, heard: HeardAt) -> Case | None:
    return Case(name, heard.mixed) if heard.usable else None


def picture_files(plan: Plan, palette: Palette) -> Mapping[str, bytes]:
    """Return the pictures as files."""
    return {f"{picture.name}.svg": picture.svg.encode("utf-8") for picture in pictures(plan, palette)}


__all__ = ["MOST_COMBS", "Picture", "picture_files", "pictures"]
