"""A loop as one row of stops: strip, send, unit, return, strip again. A fault bends out of its row where it happens.

A row that is right is straight. Between send and return the way is outside the desk, and hatched as on every sheet.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from sidetrip.prove.proof import LegProof, Stop
from sidetrip.reports.draw.marks import safe, text
from sidetrip.reports.draw.palette import Palette

WIDTH = 1000
_STACKED_BELOW = 720
"""Narrower pictures carry a leg's name and verdict above its row, so that the stops get the whole width."""

_NAMES = ("strip", "send", "unit", "return", "strip again")
_BEND = 36.0
_LEADING = 15.0
_BESIDE = 24.0
"""From a bent stop to the words beside it: clear of the line on its way back into the row."""

_TITLE, _LABEL, _SMALL = 15, 13, 12
_TAIL = 5
"""Letters at the end of a name that stay when it is cut: what tells long names apart is often their number."""

_KEPT = "\N{NO-BREAK SPACE}"

_OUTSIDE = (1, 2)
"""The stretches that lie outside the desk: from send to unit, from unit to return."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """families: as CSS names them, the first that is there draws. width: of its letters beside those of a wide font."""

    families: str
    width: float


ON_SCREEN = Lettering("system-ui, 'DejaVu Sans', sans-serif", 1.0)
ON_SHEETS = Lettering("'Source Sans Pro', 'DejaVu Sans'", 0.86)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where things stand. left, right: ends of the rows. head: how much of a row is above its line."""

    width: float
    left: float
    right: float
    head: float
    palette: Palette
    letters: Lettering

    @property
    def stacked(self) -> bool:
        """Tell whether name and verdict stand above the row."""
        return self.width < _STACKED_BELOW

    @property
    def step(self) -> float:
        """From one stop to the next."""
        return (self.right - self.left) / len(_NAMES)

    @property
    def places(self) -> tuple[float, ...]:
        """The stops from left to right."""
        return tuple(self.left + self.step * (number + 0.5) for number in range(len(_NAMES)))

    def fit(self, words: str, size: int, room: float, most: int, *, bold: bool = False) -> list[str]:
        """Return words as at most so many lines that have room."""
        words = re.sub(rf"[^\S{_KEPT}]+", " ", words).strip()
        return _fitted(words, size * self.letters.width * (1.08 if bold else 1.0), room, most)

    def wide(self, words: str, size: int) -> float:
        """Return how wide words may be."""
        return _wide(words, size * self.letters.width)

    @property
    def hatch(self) -> str:
        """The hatch's name: pictures of several palettes may stand on one page."""
        return f"out-{self.palette.loop[1:]}-{self.palette.hatch[1:]}"


def stops_svg(legs: Sequence[LegProof], palette: Palette, width_px: int = WIDTH, letters: Lettering = ON_SCREEN) -> str:
    """Return the picture of all legs as SVG text, as high as it needs. Names that do not fit lose their middle."""
    width = float(max(width_px, 320))
    side = 0.0 if width < _STACKED_BELOW else 1.0
    left, right = 0.1 * width * side, width - 0.08 * width * side
    frame = _Frame(width, left, right, 13.0 if side else 36.0, palette, letters)
    y, rows = 22.0, []
    for leg in legs:
        drawn, y = _row(frame, leg, y)
        rows.append(drawn)
    title = "Loops as rows of stops"
    told = "; ".join(f"{leg.name}: {leg.verdict}{_faults_of(leg)}" for leg in legs)
    heads = "".join(
        text(x, 13, name, palette.quiet, _SMALL, "middle") for x, name in zip(frame.places, _NAMES, strict=True)
    )
    hatch = _pattern(frame.hatch, 45, palette) + _pattern(f"{frame.hatch}-back", -45, palette)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {y:.0f}" width="{width:.0f}" '
        f'height="{y:.0f}" font-family="{letters.families}" role="img" '
        f'aria-labelledby="stops-title stops-told"><title id="stops-title">{title}</title>'
        f'<desc id="stops-told">{safe(told)}</desc><defs>{hatch}</defs>'
        f"{heads if legs else ''}{''.join(rows)}</svg>"
    )


def _pattern(name: str, turned: int, palette: Palette) -> str:
    # Only lines: a ground of its own would show the seams between the pattern's tiles.
    return (
        f'<pattern id="{name}" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({turned})"><rect width="1.8" height="6" fill="{palette.hatch}"/></pattern>'
    )


def _faults_of(leg: LegProof) -> str:
    return "".join(f", at {stop.kind} ({stop.name}): {stop.fault}" for stop in leg.stops if stop.fault)


def _row(frame: _Frame, leg: LegProof, top: float) -> tuple[str, float]:
    """Return a leg's row and where the next one begins."""
    line = top + frame.head
    straight = [stop for stop in leg.stops if not stop.fault]
    names = [frame.fit(_port_kept(stop.name), _LABEL, frame.step - 10, 2) for stop in straight]
    low = line + 23 + max((len(words) - 1 for words in names), default=0) * _LEADING
    bend = _BEND + low - line - 23  # deep enough for its words to pass below those of its neighbours
    bent = [number for number, stop in enumerate(leg.stops) if stop.fault]
    parts = [_title(frame, leg, top, line), _way(frame, line, bend, bent)]
    for number, (x, stop) in enumerate(zip(frame.places, leg.stops, strict=True)):
        parts.append(_stop(x, line + (bend if number in bent else 0), stop, frame))
        if number not in bent:
            parts.append(_lines(names.pop(0), x, line + 23, frame.palette.text, "middle"))
    at = line + bend + 5
    for number in bent:
        drawn, at = _fault(frame, leg.stops[number], number, at)
        parts.append(drawn)
        low = max(low, at - _LEADING)
    return "".join(parts), low + 12


def _title(frame: _Frame, leg: LegProof, top: float, line: float) -> str:
    """Write whose row it is at its left end, and at its right end the verdict with the question that decides it."""
    colours = frame.palette
    weight = 400 if leg.verdict == "pass" else 700
    asked = [row for row in leg.rows if row.level in ("wiring", "transfer") and row.verdict == leg.verdict != "pass"]
    why = asked[0].question if asked else ""
    if frame.stacked:
        verdict = f"{leg.verdict}: {why}" if why else leg.verdict
        name = frame.fit(leg.name, _TITLE, frame.width - 1.1 * frame.wide(verdict, _TITLE) - 16, 1, bold=True)
        return text(0, top + 12, name[0], colours.text, _TITLE, weight=700) + text(
            frame.width, top + 12, verdict, colours.text, _TITLE, "end", weight
        )
    names = frame.fit(leg.name, _TITLE, frame.places[0] - 14, 2, bold=True)
    first = line + 5 if len(names) == 1 else line + 7 - _LEADING  # the second line stays above the strip's name
    parts = [text(0, first + nth * _LEADING, one, colours.text, _TITLE, weight=700) for nth, one in enumerate(names)]
    parts.append(text(frame.width, line + 5, leg.verdict, colours.text, _TITLE, "end", weight))
    if why:
        parts.append(text(frame.width, line + 21, why, colours.quiet, _SMALL, "end"))
    return "".join(parts)


def _way(frame: _Frame, line: float, bend: float, bent: Sequence[int]) -> str:
    """Draw the line from stop to stop: it leaves its row before a bent stop and comes back behind it."""
    out: list[str] = []
    low, slope = line + bend, min(bend, frame.step / 2 - 14)
    for number in range(len(_NAMES) - 1):
        x1, x2 = frame.places[number], frame.places[number + 1]
        points = [(x1, line), (x2, line)]
        if number in bent:
            points[:1] = [(x1, low), (x1 + 10, low), (x1 + 10 + slope, line)]
        if number + 1 in bent:
            points[-1:] = [(x2 - 10 - slope, line), (x2 - 10, low), (x2, low)]
        way = "M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        colours = frame.palette
        if number in _OUTSIDE:
            # Behind a bend the hatch leans the other way: along a rising line it could not be seen.
            hatch = f"{frame.hatch}-back" if number in bent else frame.hatch
            paints = (colours.hatch, 8.4), (colours.loop, 6.4), (f"url(#{hatch})", 6.4)
            out += [_stroke(way, paint, width) for paint, width in paints]
        else:
            out.append(_stroke(way, colours.desk, 3.2))
    return "".join(out)


def _stroke(way: str, colour: str, width: float) -> str:
    return f'<path d="{way}" fill="none" stroke="{colour}" stroke-width="{width}" stroke-linejoin="round"/>'


def _stop(x: float, y: float, stop: Stop, frame: _Frame) -> str:
    """A round stop is as planned; a pointed one sticks out. What is at the strip is full, the ports are open."""
    colours = frame.palette
    if stop.fault:
        points = f"{x:.1f},{y - 11:.1f} {x + 11:.1f},{y:.1f} {x:.1f},{y + 11:.1f} {x - 11:.1f},{y:.1f}"
        return f'<polygon points="{points}" fill="{colours.attention}" stroke="{colours.ground}" stroke-width="2"/>'
    size, fill, edge = 6.0, colours.ground, colours.desk
    if stop.kind == "unit":
        size, fill, edge = 9.0, colours.loop, colours.text
    elif stop.kind in ("strip", "strip again"):
        fill = colours.desk
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:g}" fill="{fill}" stroke="{edge}" stroke-width="2.2"/>'


def _fault(frame: _Frame, stop: Stop, number: int, y: float) -> tuple[str, float]:
    """Write a bent stop's name on one side and what is wrong on the roomier one; return both and the line below."""
    x = frame.places[number]
    before, behind = x - _BESIDE, frame.width - x - _BESIDE
    right = number < len(_NAMES) / 2
    words = frame.fit(stop.fault or "", _LABEL, behind if right else before, 8 if frame.stacked else 4, bold=True)
    room = min(before if right else behind, frame.step)
    name = frame.fit(_port_kept(stop.name), _LABEL, room, 2) if room > _TITLE else []  # the leg's own stands above
    ends = (x + _BESIDE, "start"), (x - _BESIDE, "end")
    (at, anchor), (name_at, name_anchor) = ends if right else (ends[1], ends[0])
    drawn = _lines(words, at, y, frame.palette.attention, anchor, 700)
    return drawn + _lines(name, name_at, y, frame.palette.text, name_anchor), y + max(len(words), len(name)) * _LEADING


def _lines(lines: Sequence[str], x: float, y: float, colour: str, anchor: str, weight: int = 400) -> str:
    return "".join(
        text(x, y + nth * _LEADING, words, colour, _LABEL, anchor, weight) for nth, words in enumerate(lines)
    )


# Lettering. Which font draws the picture is not known for sure, so that widths are those of a wide one.


def _port_kept(name: str) -> str:
    """Return "laptop, card out 25" with blanks in its port that do not break."""
    unit, comma, port = name.rpartition(", ")
    return f"{unit}{comma}{port.replace(' ', _KEPT)}"


def _wide(words: str, size: float) -> float:
    return sum(_em(letter) for letter in words) * size


def _em(letter: str) -> float:
    if unicodedata.combining(letter):
        return 0.0
    if unicodedata.east_asian_width(letter) in "WF":
        return 1.2
    if letter in "\"ijl.,:;'|!()[] \N{NO-BREAK SPACE}fItr-/":
        return 0.38
    if letter in "mwMW@%&—…":
        return 1.05
    return 0.7 if letter.isupper() else 0.6


def _fitted(words: str, size: float, room: float, most: int) -> list[str]:
    """Break words into lines; where they are more than `most`, take letters out of the middle until they are not."""
    keep = len(words)
    while True:
        shown = words if keep == len(words) else f"{words[:keep]}…{words[-_TAIL:]}"
        lines = _broken(shown, size, room)
        if len(lines) <= most or keep <= 1:
            return lines[:most]
        keep = min(keep, len(words) - _TAIL) - 1


def _broken(words: str, size: float, room: float) -> list[str]:
    lines = [""]
    for word in words.split(" "):
        if _wide(f"{lines[-1]} {word}".strip(), size) <= room:
            lines[-1] = f"{lines[-1]} {word}".strip()
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:  # a word that is wider than the room breaks between any two letters
            if lines[-1] and _wide(lines[-1] + letter, size) > room:
                lines.append("")
            lines[-1] += letter
    return [line.replace(_KEPT, " ") for line in lines]


__all__ = ["WIDTH", "stops_svg"]
