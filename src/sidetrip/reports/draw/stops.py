"""A loop as one row of stops: strip, send, unit, return, strip again. A fault bends out of its row where it happens."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from sidetrip.prove.proof import LegProof, Stop
from sidetrip.reports.draw.palette import Palette

WIDTH = 1000
_NAME, _VERDICT, _ROW, _BEND, _TOP = 150.0, 100.0, 46.0, 42.0, 26.0
_LETTERS = 22
_FAULT_LETTERS = 92


def stops_svg(legs: Sequence[LegProof], palette: Palette) -> str:
    """Return the picture of all legs, WIDTH wide and as high as it needs, as SVG text."""
    rows: list[str] = []
    y = _TOP
    for leg in legs:
        bent = any(stop.fault for stop in leg.stops)
        rows.append(_row(leg, y, palette))
        y += _ROW + (_BEND if bent else 0)
    height = y + 4
    title = "; ".join(f"{leg.name}: {leg.verdict}" for leg in legs)
    hatch = (
        '<pattern id="out" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<rect width="5" height="5" fill="{palette.ground}"/><rect width="1.6" height="5" fill="{palette.loop}"/>'
        "</pattern>"
    )
    heads = "".join(
        _text(x, 14, name, palette.quiet, 13, "middle")
        for x, name in zip(_places(), ("strip", "send", "unit", "return", "strip again"), strict=True)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" width="{WIDTH}" '
        f'height="{height:.0f}" font-family="Source Sans Pro, sans-serif" role="img"><title>{escape(title)}</title>'
        f"<defs>{hatch}</defs>{heads}{''.join(rows)}</svg>"
    )


def _places() -> list[float]:
    room = (WIDTH - _NAME - _VERDICT) / 5
    return [_NAME + room * (number + 0.5) for number in range(5)]


def _row(leg: LegProof, y: float, palette: Palette) -> str:
    places, line = _places(), y + 12
    at = next((number for number, stop in enumerate(leg.stops) if stop.fault), None)
    parts = [_text(0, line + 5, _cut(leg.name), palette.text, 15, weight=700), _path(places, line, at, palette)]
    for number, (x, stop) in enumerate(zip(places, leg.stops, strict=True)):
        here = line + (_BEND if number == at else 0)
        parts.append(_stop(x, here, stop, palette))
        if number != at:
            parts.append(_text(x, line + 24, _cut(stop.name), palette.text, 13, "middle"))
        else:
            parts.append(_text(x, line - 2, _cut(stop.name), palette.text, 13, "middle"))
    if at is not None:
        words = leg.stops[at].fault or ""
        words = words if len(words) <= _FAULT_LETTERS else words[: _FAULT_LETTERS - 1] + "…"
        side = "start" if at < 3 else "end"
        shift = 16 if at < 3 else -16
        parts.append(_text(places[at] + shift, line + _BEND + 5, words, palette.text, 14, side, 600))
    parts.append(_text(WIDTH, line + 5, leg.verdict, palette.text, 15, "end", 700 if leg.verdict == "fail" else 400))
    return "".join(parts)


def _path(places: Sequence[float], line: float, at: int | None, palette: Palette) -> str:
    """The desk's part is plain, the way outside between send and return is dashed; it leaves the row at a fault."""
    out: list[str] = []
    for number in range(4):
        x1, x2 = places[number], places[number + 1]
        y1 = line + (_BEND if number == at else 0)
        y2 = line + (_BEND if number + 1 == at else 0)
        outside = number in (1, 2)
        colour, dash = (palette.loop, ' stroke-dasharray="7 4"') if outside else (palette.desk, "")
        out.append(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
            f'stroke-width="2.4"{dash}/>'
        )
    return "".join(out)


def _stop(x: float, y: float, stop: Stop, palette: Palette) -> str:
    if stop.fault:
        points = f"{x:.1f},{y - 9:.1f} {x + 9:.1f},{y:.1f} {x:.1f},{y + 9:.1f} {x - 9:.1f},{y:.1f}"
        return f'<polygon points="{points}" fill="{palette.attention}" stroke="{palette.text}" stroke-width="1.5"/>'
    fill = "url(#out)" if stop.kind == "unit" else palette.ground
    edge = palette.loop if stop.kind == "unit" else palette.desk
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="{fill}" stroke="{edge}" stroke-width="2.2"/>'


def _text(x: float, y: float, words: str, colour: str, size: int, anchor: str = "start", weight: int = 400) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" font-size="{size}" text-anchor="{anchor}" '
        f'font-weight="{weight}">{escape(words)}</text>'
    )


def _cut(words: str) -> str:
    return words if len(words) <= _LETTERS else f"{words[: _LETTERS - 6]}…{words[-5:]}"


__all__ = ["WIDTH", "stops_svg"]
