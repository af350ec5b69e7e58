"""What pictures are made of: lines, words and hatches as SVG text."""

from __future__ import annotations

import re
from xml.sax.saxutils import escape

from sidetrip.reports.draw.palette import Palette

_FORBIDDEN = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def safe(words: str) -> str:
    """Return words as XML may hold them: marked-up text stays text, and what XML forbids becomes a sign."""
    return escape(_FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", words))


def line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float, seen: float = 1.0) -> str:
    """Return a straight line. seen: how much of it, from 0 to 1."""
    faint = f' stroke-opacity="{seen:g}"' if seen < 1 else ""
    way = f"M{x1:.1f} {y1:.1f} L{x2:.1f} {y2:.1f}"
    return f'<path d="{way}" fill="none" stroke="{colour}" stroke-width="{width:g}"{faint}/>'


def text(x: float, y: float, words: str, colour: str, size: int, anchor: str = "start", weight: int = 400) -> str:
    """Return words on a line. anchor: start, middle or end of them is at x."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" font-size="{size}" text-anchor="{anchor}" '
        f'font-weight="{weight}">{safe(words)}</text>'
    )


def hatch_name(palette: Palette) -> str:
    """Return the hatch's name: pictures of several palettes may stand on one page."""
    return f"hatch-{palette.loop[1:]}-{palette.hatch[1:]}"


def hatch(palette: Palette) -> str:
    """Return the hatch that marks what is outside the desk, to be laid over its fill."""
    return (
        f'<defs><pattern id="{hatch_name(palette)}" width="8" height="8" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0 V8" stroke="{palette.hatch}" stroke-width="2.6"/></pattern>'
        "</defs>"
    )


__all__ = ["hatch", "hatch_name", "line", "safe", "text"]
