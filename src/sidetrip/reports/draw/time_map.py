"""The time map: a lane for each source, time is distance. What sticks out is pointed and says what it does.

The desk's own time is plain, what goes out and back is hatched, air is dotted. A ring lands with the rest of its
source, a point sticks out; the line across says where most sources land. IN and OUT stand as figures at the right.
"""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.plan.lanes import Bar, Lane, LanePart, Lanes
from sidetrip.reports.draw.marks import hatch, hatch_name, line, safe, text
from sidetrip.reports.draw.palette import Palette
from sidetrip.reports.draw.stops import ON_SCREEN, Lettering
from sidetrip.units import ms_from_seconds

_TOP, _FOOT, _GAP, _BAR, _STEP = 96.0, 86.0, 22.0, 18.0, 30.0
_LEFT, _COLUMNS, _RIGHT = 150.0, 128.0, 14.0
_SMALL, _LABEL, _TITLE = 12, 13, 18
_LETTER = 6.6
_NARROW = 720
_NICE = (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where things stand. narrow: names stand above their lanes, and only IN has a column."""

    width: float
    last_s: float
    palette: Palette
    narrow: bool

    @property
    def left(self) -> float:
        return 14.0 if self.narrow else _LEFT

    @property
    def columns(self) -> float:
        return _COLUMNS / 2 if self.narrow else _COLUMNS

    @property
    def right(self) -> float:
        return self.width - _RIGHT - self.columns

    def x(self, seconds: float) -> float:
        return self.left + (self.right - self.left) * min(seconds / self.last_s, 1.0)


def time_map_svg(
    title: str, found: Lanes, palette: Palette, width_px: int = 1200, letters: Lettering = ON_SCREEN
) -> str:
    """Return the picture of what arrives at a place as SVG text; its height follows from the lanes."""
    width = float(max(width_px, 340))
    latest = max((bar.in_s for lane in found.lanes for bar in lane.bars), default=0.01)
    frame = _Frame(width, max(latest, 1e-3) * 1.04, palette, width < _NARROW)
    parts: list[str] = []
    y = _TOP
    for lane in found.lanes:
        drawn, y = _lane(frame, lane, y)
        parts.append(drawn)
        y += _GAP
    bottom = y - _GAP / 2
    height = bottom + _FOOT + (40 if frame.narrow else 0)
    head = [
        f'<rect width="{width:.0f}" height="{height:.0f}" fill="{palette.ground}"/>',
        text(frame.left if frame.narrow else 24, 30, title, palette.text, _TITLE, weight=600),
        text(frame.left if frame.narrow else 24, 52, first_line(found), palette.quiet, _LABEL),
        _ticks(frame, bottom),
    ]
    most = _most(frame, found, bottom) if found.most_s is not None else ""
    told = "; ".join(_told(lane) for lane in found.lanes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" '
        f'height="{height:.0f}" font-family="{letters.families}" font-variant-numeric="tabular-nums" role="img" '
        'aria-labelledby="map-title map-told">'
        f'<title id="map-title">{safe(title)}</title><desc id="map-told">{safe(told)}</desc>{hatch(palette)}'
        f"{''.join(head)}{most}{''.join(parts)}{_key(frame, bottom + 44)}</svg>"
    )


def first_line(found: Lanes) -> str:
    """Say in one sentence how many sources are heard twice at a place."""
    apart = sum(any(bar.verdict == "apart" for bar in lane.bars) for lane in found.lanes)
    untold = sum(any(bar.verdict == "cannot tell" or not bar.known for bar in lane.bars) for lane in found.lanes)
    if not apart and untold:
        return f"{untold} of {len(found.lanes)} cannot be told: a time is not known. None of the rest is heard twice."
    words = f"{apart} of {len(found.lanes)} sources are heard twice" if apart else "No source is heard twice"
    words = words.replace("sources are", "sources is") if apart == 1 else words
    return words + (f", {untold} cannot be told." if untold else ".")


def _told(lane: Lane) -> str:
    ways = []
    for bar in lane.bars:
        when = f"{ms_from_seconds(bar.in_s):.2f} ms" if bar.known else "unknown"
        ways.append(f"{when} by {bar.words}" + (f", {bar.says}" if bar.says else ""))
    return f"{lane.source}: {', '.join(ways)}"


def _lane(frame: _Frame, lane: Lane, y: float) -> tuple[str, float]:
    colours = frame.palette
    more = f" (+{lane.dropped} softer)" if lane.dropped else ""
    parts = []
    if frame.narrow:
        parts.append(text(frame.left, y + 12, lane.source + more, colours.text, _LABEL, weight=600))
        y += 18
    else:
        parts.append(text(frame.left - 12, y + 14, _cut(lane.source, 20), colours.text, 15, "end", 500))
        if more:
            parts.append(text(frame.left - 12, y + 30, more.strip(" ()"), colours.quiet, _SMALL, "end"))
    for bar in lane.bars:
        parts.append(_bar(frame, bar, y))
        y += _STEP + (14 if bar.says and not _fits(frame, bar) else 0)
    if more and not frame.narrow and len(lane.bars) == 1:
        y += 8
    return "".join(parts), y - _STEP + _BAR


def _beside(bar: Bar) -> str:
    """Return the words beside a mark: by what it came, and what it does."""
    return f"{bar.by}, {bar.says}" if bar.says else bar.by


def _fits(frame: _Frame, bar: Bar) -> bool:
    """Tell whether what a bar says has room behind its mark."""
    return frame.x(bar.in_s) + 18 + _LETTER * len(_beside(bar)) < frame.right


def _bar(frame: _Frame, bar: Bar, y: float) -> str:
    colours, middle = frame.palette, y + _BAR / 2
    parts, at = [], 0.0
    for part in bar.parts:
        start, end = frame.x(at), frame.x(at + part.seconds)
        parts.append(_part(frame, part, start, end, y))
        at += part.seconds
    x = frame.x(bar.in_s)
    if not bar.known:
        parts.append(text(x + 4, middle + 4, "…", colours.text, 15))
    elif bar.verdict == "apart":
        parts.append(
            f'<path d="M{x:.1f} {middle - 9:.1f} l12 9 l-12 9 z" fill="{colours.attention}" stroke="{colours.text}" '
            'stroke-width="0.8"/>'
        )
    else:
        dash = ' stroke-dasharray="3 2"' if bar.verdict == "cannot tell" else ""
        parts.append(
            f'<circle cx="{x:.1f}" cy="{middle:.1f}" r="6.5" fill="{colours.ground}" stroke="{colours.text}" '
            f'stroke-width="2.2"{dash}/>'
        )
    words, colour = _beside(bar), colours.text if bar.says else colours.quiet
    if _fits(frame, bar):
        parts.append(text(x + 18, middle + 4, words, colour, _SMALL))
    elif bar.says:
        words = words if _LETTER * len(words) < frame.right - frame.left else bar.says
        parts.append(text(frame.right - 4, y + _BAR + 13, words, colour, _SMALL, "end"))
    known = f"{ms_from_seconds(bar.in_s):.2f}" if bar.known else "unknown"
    column = frame.right + (56.0 if not frame.narrow else frame.columns)
    parts.append(text(column, middle + 4, known, colours.text, _LABEL, "end"))
    if not frame.narrow:
        out = "–" if bar.out_s is None else f"{ms_from_seconds(bar.out_s):.2f}"
        parts.append(text(frame.width - _RIGHT, middle + 4, out, colours.quiet, _LABEL, "end"))
    return f"<g><title>{safe(bar.words)}</title>{''.join(parts)}</g>"


def _part(frame: _Frame, part: LanePart, start: float, end: float, y: float) -> str:
    colours, wide = frame.palette, max(end - start - 1.0, 0.6)
    if part.kind == "air":
        return (
            f'<path d="M{start:.1f} {y + _BAR / 2:.1f} H{end:.1f}" stroke="{colours.quiet}" stroke-width="2" '
            'stroke-dasharray="1 6" stroke-linecap="round" fill="none"/>'
        )
    shape = f'x="{start:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{_BAR:.0f}" rx="2"'
    if part.kind == "desk":
        return f'<rect {shape} fill="{colours.desk}"/>'
    figure = f"loop {ms_from_seconds(part.seconds):.1f}"
    named = f"loop {part.label} {ms_from_seconds(part.seconds):.1f}"
    words = named if part.label and wide > _LETTER * len(named) + 12 else figure
    label = ""
    if wide > _LETTER * len(words) + 12:
        middle = start + wide / 2
        label = (
            f'<text x="{middle:.1f}" y="{y + 13:.1f}" fill="{colours.on_loop}" font-size="{_SMALL}" '
            f'text-anchor="middle" font-weight="600" stroke="{colours.loop}" stroke-width="4" '
            f'paint-order="stroke">{words}</text>'
        )
    return f'<rect {shape} fill="{colours.loop}"/><rect {shape} fill="url(#{hatch_name(colours)})"/>{label}'


def _ticks(frame: _Frame, bottom: float) -> str:
    colours = frame.palette
    span = ms_from_seconds(frame.last_s)
    room = (frame.right - frame.left) / 46
    step = next((nice for nice in _NICE if span / nice <= room), _NICE[-1])
    parts = []
    for number in range(int(span / step) + 1):
        x = frame.x(number * step / 1000)
        parts.append(line(x, _TOP - 12, x, bottom, colours.quiet, 0.5, 0.45))
        parts.append(text(x, _TOP - 18, f"{number * step:g}", colours.quiet, _SMALL, "middle"))
    if not frame.narrow:
        parts.append(text(frame.left - 12, _TOP - 18, "ms after the sound", colours.quiet, _SMALL, "end"))
        parts.append(text(frame.width - _RIGHT, _TOP - 18, "OUT, ms", colours.quiet, _SMALL, "end"))
    column = frame.right + (56.0 if not frame.narrow else frame.columns)
    parts.append(text(column, _TOP - 18, "IN, ms", colours.quiet, _SMALL, "end"))
    return "".join(parts)


def _most(frame: _Frame, found: Lanes, bottom: float) -> str:
    assert found.most_s is not None
    at, colours = frame.x(found.most_s), frame.palette
    x, words = at, f"where most sources land: {ms_from_seconds(found.most_s):.1f} ms"
    wide = 7 * len(words)
    anchor = "middle" if x - wide / 2 > 4 and x + wide / 2 < frame.width - 4 else "start" if x < wide else "end"
    x = x if anchor == "middle" or not frame.narrow else (8.0 if anchor == "start" else frame.width - 8)
    return (
        f'<path d="M{at:.1f} {_TOP - 10:.1f} V{bottom + 4:.1f}" stroke="{colours.text}" stroke-width="1.4" '
        f'stroke-dasharray="7 5" fill="none"/>' + text(x, bottom + 20, words, colours.text, _LABEL, anchor)
    )


def _key(frame: _Frame, y: float) -> str:
    colours = frame.palette
    entries = (
        (_part(frame, LanePart("desk", 0), 0, 31, -9), "the desk's own time"),
        (_part(frame, LanePart("loop", 0), 0, 31, -9), "out and back"),
        (_part(frame, LanePart("air", 0), 0, 31, -9), "through the air"),
        (
            f'<circle cx="15" cy="0" r="6.5" fill="{colours.ground}" stroke="{colours.text}" stroke-width="2.2"/>',
            "lands together",
        ),
        (
            f'<path d="M9 -9 l12 9 l-12 9 z" fill="{colours.attention}" stroke="{colours.text}" stroke-width="0.8"/>',
            "sticks out",
        ),
    )
    parts, x = [], frame.left
    for mark, words in entries:
        wide = 40 + 7 * len(words) + 22
        if x + wide > frame.width and x > frame.left:
            x, y = frame.left, y + 24
        parts.append(f'<g transform="translate({x:.0f} {y:.0f})">{mark}{text(40, 4, words, colours.quiet, _LABEL)}</g>')
        x += wide
    return "".join(parts)


def _cut(words: str, most: int) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"


__all__ = ["first_line", "time_map_svg"]
