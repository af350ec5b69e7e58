"""What copies of a sound that come apart do to it: level over frequency, now and then.

To the right each octave, upwards each 6 dB. Where teeth are closer than the picture can show, a band spans from the
deepest to the highest of them. Now is the hatched band, then the plain line, so that neither needs a colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.copies import Copy, response
from sidetrip.reports.draw.marks import hatch, hatch_name, line, safe, text
from sidetrip.reports.draw.palette import Palette
from sidetrip.reports.draw.stops import ON_SCREEN, Lettering

HEIGHT = 340
_TOP, _LOW, _LEFT, _RIGHT = 52.0, 56.0, 64.0, 16.0
_SMALL, _LABEL, _TITLE = 12, 13, 15
_WIDE = 7.4
"""A letter of the key, at most, in pixels."""

_FIRST_HZ, _LAST_HZ = 20.0, 20_000.0
_HIGH_DB, _LOW_DB = 9.0, -27.0
_TICKS_HZ = (
    (31.5, "31"),
    (63, "63"),
    (125, "125"),
    (250, "250"),
    (500, "500"),
    (1000, "1 k"),
    (2000, "2 k"),
    (4000, "4 k"),
    (8000, "8 k"),
    (16000, "16 k"),
)
_EACH = 6
"""Frequencies looked at in each pixel."""

_AROUND = 15
"""Pixels over which teeth closer than four pixels are gathered to a band."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case to draw. name: in words. copies: what arrives, gains beside the loudest of them."""

    name: str
    copies: tuple[Copy, ...]


@dataclass(frozen=True, slots=True)
class _Frame:
    width: float
    height: float
    palette: Palette

    def x(self, hertz: float) -> float:
        part = math.log(hertz / _FIRST_HZ) / math.log(_LAST_HZ / _FIRST_HZ)
        return _LEFT + (self.width - _LEFT - _RIGHT) * part

    def y(self, level_db: float) -> float:
        part = (min(max(level_db, _LOW_DB), _HIGH_DB) - _LOW_DB) / (_HIGH_DB - _LOW_DB)
        return self.height - _LOW - (self.height - _TOP - _LOW) * part


def comb_svg(
    title: str,
    now: Case,
    then: Case | None,
    palette: Palette,
    width_px: int = 1000,
    height_px: int = HEIGHT,
    letters: Lettering = ON_SCREEN,
) -> str:
    """Return the picture as SVG text. Levels are beside the loudest copy alone. then: drawn over it, where there is."""
    frame = _Frame(float(max(width_px, 320)), float(height_px), palette)
    told = [f"{now.name}: {_told(now)}", *([f"{then.name}: {_told(then)}"] if then is not None else [])]
    ground = f'<rect width="{frame.width:.0f}" height="{frame.height:.0f}" fill="{palette.ground}"/>'
    parts = [hatch(palette), ground, _axes(frame), _band(frame, now)]
    parts += [_curve(frame, then)] if then is not None else []
    parts.append(text(_LEFT, 18 if frame.width >= 620 else frame.height - 8, title, palette.text, _TITLE, weight=600))
    parts.append(_key(frame, now, then))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {frame.width:.0f} {frame.height:.0f}" '
        f'width="{frame.width:.0f}" height="{frame.height:.0f}" font-family="{letters.families}" role="img" '
        f'aria-labelledby="comb-title comb-told"><title id="comb-title">{safe(title)}</title>'
        f'<desc id="comb-told">{safe("; ".join(told))}</desc>{"".join(parts)}</svg>'
    )


def levels(
    width_px: int, copies: Sequence[Copy]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return frequencies, and the lowest and highest level in dB around each, all shape (width_px,)."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    edges = np.geomspace(_FIRST_HZ, _LAST_HZ, width_px * _EACH + 1)
    with np.errstate(divide="ignore"):
        level = 20 * np.log10(np.abs(response(edges, copies)))
    each = level[:-1].reshape(width_px, _EACH)
    following = level[_EACH::_EACH]  # the next pixel's first, so that neighbours meet
    low, high = np.minimum(each.min(axis=1), following), np.maximum(each.max(axis=1), following)
    middle = edges[:-1].reshape(width_px, _EACH)[:, _EACH // 2]
    apart_s = max((copy.late_s for copy in copies), default=0.0) - min((copy.late_s for copy in copies), default=0.0)
    close = middle * (math.log(_LAST_HZ / _FIRST_HZ) / width_px) * apart_s > 0.25
    low = np.where(close, minimum_filter1d(low, _AROUND), low)
    high = np.where(close, maximum_filter1d(high, _AROUND), high)
    return middle, low, high


def _told(case: Case) -> str:
    """Say how deep it cuts between 100 Hz and 10 kHz."""
    hertz, low, high = levels(600, case.copies)
    inside = (hertz >= 100) & (hertz <= 10_000)
    deep, loud = float(low[inside].min()), float(high[inside].max())
    at = float(hertz[inside][int(low[inside].argmin())])
    deepest = "to nothing" if deep < -40 else f"by {max(-deep, 0.0):.1f} dB"
    return f"cuts {deepest} near {at:.0f} Hz, adds up to {max(loud, 0.0):.1f} dB"


def _columns(frame: _Frame) -> int:
    return int(frame.width - _LEFT - _RIGHT) // 2


def _band(frame: _Frame, case: Case) -> str:
    hertz, low, high = levels(_columns(frame), case.copies)
    up = [f"{frame.x(f):.1f} {frame.y(level):.1f}" for f, level in zip(hertz.tolist(), high.tolist(), strict=True)]
    down = [
        f"{frame.x(f):.1f} {frame.y(level) + 1.2:.1f}" for f, level in zip(hertz.tolist(), low.tolist(), strict=True)
    ]
    way = " L".join([*up, *reversed(down)])
    colours = frame.palette
    return (
        f'<path d="M{way} Z" fill="{colours.loop}" stroke="{colours.loop}" stroke-width="1.6" stroke-linejoin="round"/>'
        f'<path d="M{way} Z" fill="url(#{hatch_name(colours)})"/>'
    )


def _curve(frame: _Frame, case: Case) -> str:
    """Draw a line where the case is even, and its band's edges where it is not."""
    hertz, low, high = levels(_columns(frame), case.copies)
    parts = []
    for level in (low, high) if float((high - low).max()) > 1.0 else ((low + high) / 2,):
        way = " L".join(
            f"{frame.x(f):.1f} {frame.y(own):.1f}" for f, own in zip(hertz.tolist(), level.tolist(), strict=True)
        )
        parts.append(f'<path d="M{way}" fill="none" stroke="{frame.palette.ground}" stroke-width="5"/>')
        parts.append(f'<path d="M{way}" fill="none" stroke="{frame.palette.text}" stroke-width="2.4"/>')
    return "".join(parts)


def _axes(frame: _Frame) -> str:
    colours, low = frame.palette, frame.height - _LOW
    right = frame.width - _RIGHT
    parts = []
    for level in range(int(_LOW_DB) + 3, int(_HIGH_DB), 6):
        y = frame.y(level)
        wide = 1.6 if level == 0 else 0.6
        parts.append(line(_LEFT, y, right, y, colours.quiet, wide))
        parts.append(text(_LEFT - 8, y + 4, f"{level:+d}" if level else "0", colours.quiet, _SMALL, "end"))
    step = 1 if frame.width >= 620 else 2
    for hertz, words in _TICKS_HZ[::step]:
        x = frame.x(hertz)
        parts.append(line(x, low, x, low + 5, colours.quiet, 1.2))
        parts.append(text(x, low + 19, words, colours.quiet, _SMALL, "middle"))
    parts.append(line(_LEFT, low, right, low, colours.quiet, 1.2))
    parts.append(text((_LEFT + right) / 2, low + 40, "Hz", colours.text, _LABEL, "middle"))
    parts.append(text(_LEFT - 8, _TOP - 8, "dB", colours.text, _LABEL, "end"))
    return "".join(parts)


def _key(frame: _Frame, now: Case, then: Case | None) -> str:
    colours, y = frame.palette, 38.0
    at = frame.width - _RIGHT - 33 - _WIDE * max(len(now.name), len(then.name) if then is not None else 0)
    at = max(at, _LEFT)
    parts = [
        f'<rect x="{at:.0f}" y="{y - 28:.0f}" width="26" height="12" fill="{colours.loop}"/>',
        f'<rect x="{at:.0f}" y="{y - 28:.0f}" width="26" height="12" fill="url(#{hatch_name(colours)})"/>',
        text(at + 33, y - 18, now.name, colours.text, _LABEL),
    ]
    if then is not None:
        parts += [
            line(at, y - 4, at + 26, y - 4, colours.text, 2.4),
            text(at + 33, y, then.name, colours.text, _LABEL),
        ]
    return "".join(parts)


__all__ = ["Case", "comb_svg", "levels"]
