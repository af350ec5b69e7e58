"""How often blocks finish later than x: a falling line over time, with the deadlines as posts.

Both ways are logarithmic: to the right each octave, upwards each tenfold. What the log cannot see is said in words
at a line of its own; a bound is an open mark on its post.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sidetrip.hold.advice import UnitAdvice
from sidetrip.hold.counts import rule_of_three
from sidetrip.hold.evidence import Tally
from sidetrip.reports.draw.marks import line, safe, text
from sidetrip.reports.draw.palette import Palette
from sidetrip.reports.draw.stops import ON_SCREEN, Lettering
from sidetrip.units import period_s

HEIGHT = 400
_TOP, _LOW, _LEFT, _RIGHT = 66.0, 58.0, 84.0, 14.0
_SMALL, _LABEL = 12, 13
_HOUR_S = 3600.0
_TICKS_MS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True)
class Post:
    """A deadline. at_s: how late a block of this log may finish before the buffer would overrun; bound: per hour."""

    buffer: int
    at_s: float
    seen: int
    bound: float | None
    advised: bool


@dataclass(frozen=True, slots=True)
class _Frame:
    width: float
    height: float
    first_s: float
    last_s: float
    most: float
    least: float
    palette: Palette
    letters: Lettering

    def x(self, seconds: float) -> float:
        room = self.width - _LEFT - _RIGHT
        part = math.log(max(seconds, self.first_s) / self.first_s) / math.log(self.last_s / self.first_s)
        return _LEFT + room * min(part, 1.0)

    def y(self, per_hour: float) -> float:
        room = self.height - _TOP - _LOW
        part = math.log(max(per_hour, self.least) / self.least) / math.log(self.most / self.least)
        return self.height - _LOW - room * min(part, 1.0)


def posts_of(own: UnitAdvice, tally: Tally) -> tuple[Post, ...]:
    """Return the posts of the buffers around the one that was logged, from half to eight times as long.

    Bounds are on the advised one, and where there is evidence of the buffer itself.
    """
    mine = tally.configuration
    work = sum(log.work_s_mean * log.blocks for log in tally.logs) / max(tally.blocks, 1)
    posts: list[Post] = []
    for one in own.candidates:
        if not mine.buffer / 2 <= one.buffer <= max(mine.buffer * 8, own.advised or 0) or one.rate != mine.rate:
            continue
        at = period_s(one.buffer, one.rate) - work * one.buffer / mine.buffer + work
        found = one.overruns
        shown = found is not None and math.isfinite(found.bound) and (one.buffer == own.advised or not found.carried)
        bound = found.bound / own.show_s * _HOUR_S if found is not None and shown else None
        seen = found.seen if found is not None else 0
        posts.append(Post(one.buffer, at, seen, bound, one.buffer == own.advised))
    return tuple(posts)


def late_svg(
    tally: Tally,
    posts: Sequence[Post],
    allowed_per_hour: float,
    palette: Palette,
    width_px: int = 1000,
    height_px: int = HEIGHT,
    letters: Lettering = ON_SCREEN,
) -> str:
    """Return the picture of a tally as SVG text. posts: from `posts_of`; allowed_per_hour: what the show accepts."""
    times, rates = curve(tally)
    hours = tally.logged_s / _HOUR_S
    least = min([rule_of_three(hours) / 20, allowed_per_hour / 2, *(post.bound / 2 for post in posts if post.bound)])
    last = max([float(times[-1]) * 1.3, *(post.at_s * 1.35 for post in posts)])
    busy = times[rates < 0.9 * rates.max()]
    first = max(float(busy[0] if len(busy) else times[0]) * 0.7, last / 3000)
    most = 10 ** math.ceil(math.log10(float(rates.max())))
    frame = _Frame(float(max(width_px, 320)), float(height_px), first, last, most, max(least, 1e-9), palette, letters)
    own = tally.configuration
    name = f"{own.unit}, {own.buffer} frames at {own.rate} Hz: blocks an hour that finish later than a time"
    told = "; ".join(_told(post) for post in posts)
    parts = [_axes(frame), _curve(frame, times, rates), *(_post(frame, post, nth) for nth, post in enumerate(posts))]
    levels = sorted(((rule_of_three(hours), "the log sees nothing rarer"), (allowed_per_hour, "the show allows")))
    parts += [_level(frame, *level, above=nth == 1) for nth, level in enumerate(levels)]
    if posts:
        where = frame.x(posts[0].at_s) - 12
        parts.append(text(where, _TOP - 18, "frames", palette.quiet, _SMALL, "end"))
    for post in posts:
        if post.advised:
            parts.append(text(frame.width - _RIGHT, 14, _told(post), palette.text, _LABEL, "end", 700))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {frame.width:.0f} {frame.height:.0f}" '
        f'width="{frame.width:.0f}" height="{frame.height:.0f}" font-family="{letters.families}" role="img" '
        f'aria-labelledby="late-title late-told"><title id="late-title">{safe(name)}</title>'
        f'<desc id="late-told">{safe(told)}</desc>{"".join(parts)}</svg>'
    )


def curve(
    tally: Tally,
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """Return rising times in seconds and how many blocks an hour finish later; exact above the floor of the logs."""
    floor = max(log.floor_s for log in tally.logs)
    width = max(log.bin_s for log in tally.logs)
    edges = np.arange(1, max(len(log.counts) for log in tally.logs) + 1) * width
    over = np.zeros(len(edges))
    for log in tally.logs:
        spots = np.minimum(((np.arange(len(log.counts)) + 0.5) * log.bin_s / width).astype(int), len(edges) - 1)
        counts = np.bincount(spots, weights=log.counts, minlength=len(edges))
        over += counts.sum() - np.cumsum(counts)
    late = np.sort(np.concatenate([log.lateness_s + log.work_s for log in tally.logs]))
    late = late[late > floor]
    low = (edges <= floor) & (over > 0)
    times = np.concatenate([edges[low], late])
    counts = np.concatenate([over[low], np.arange(len(late) - 1, -1, -1) + 1.0])
    if len(times) == 0:
        times, counts = edges[:1], np.array([float(tally.blocks)])
    return times, counts / (tally.logged_s / _HOUR_S)


def _told(post: Post) -> str:
    bound = "" if post.bound is None else f", at most {_rate_words(post.bound)}"
    return f"{post.buffer} frames{', advised' if post.advised else ''}: {post.seen} seen{bound}"


def _axes(frame: _Frame) -> str:
    colours, low = frame.palette, frame.height - _LOW
    parts = [line(_LEFT, low, frame.width - _RIGHT, low, colours.quiet, 1.2)]
    decade = math.ceil(math.log10(frame.least))
    step = 2 if math.log10(frame.most / frame.least) > 7 else 1
    while decade <= math.log10(frame.most) + 1e-9:
        y = frame.y(10.0**decade)
        parts.append(line(_LEFT - 5, y, _LEFT, y, colours.quiet, 1.2))
        words = _rate_words(10.0**decade).removesuffix(" an hour")
        parts.append(text(_LEFT - 9, y + 4, words, colours.quiet, _SMALL, "end"))
        decade += step
    for tick in _TICKS_MS:
        if frame.first_s <= tick / 1000 <= frame.last_s:
            x = frame.x(tick / 1000)
            parts.append(line(x, low, x, low + 5, colours.quiet, 1.2))
            parts.append(text(x, low + 19, f"{tick:g}", colours.quiet, _SMALL, "middle"))
    words = "ms from when a block is due until it is done"
    parts.append(text((_LEFT + frame.width - _RIGHT) / 2, low + 40, words, colours.text, _LABEL, "middle"))
    parts.append(text(4, 14, "blocks an hour that are later", colours.text, _LABEL))
    return "".join(parts)


def _rate_words(per_hour: float) -> str:
    """Say how often: "1,000 an hour", "1 in 10 h"."""
    if per_hour >= 0.95:
        return (
            f"{per_hour:,.0f} an hour"
            if per_hour >= 9.5 or abs(per_hour - round(per_hour)) < 0.05
            else f"{per_hour:.1f} an hour"
        )
    return f"1 in {1 / per_hour:,.0f} h" if per_hour < 0.095 else f"1 in {1 / per_hour:.2g} h"


def _curve(
    frame: _Frame,
    times: np.ndarray[tuple[int], np.dtype[np.float64]],
    rates: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> str:
    low = frame.height - _LOW
    points = [(frame.x(frame.first_s), frame.y(float(rates[0])))]
    for time, rate in zip(times.tolist(), rates.tolist(), strict=True):
        x, y = frame.x(time), frame.y(rate)
        if x - points[-1][0] >= 0.5 or points[-1][1] - y >= 0.5 or y - points[-1][1] >= 0.5:
            points += [(x, points[-1][1]), (x, y)]
    points.append((points[-1][0], low))
    way = " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    area = f'<path d="M{points[0][0]:.1f} {low:.1f} L{way} Z" fill="{frame.palette.loop}"/>'
    return (
        area + f'<path d="M{way}" fill="none" stroke="{frame.palette.text}" stroke-width="2" stroke-linejoin="round"/>'
    )


def _level(frame: _Frame, per_hour: float, words: str, *, above: bool) -> str:
    y, colours = frame.y(per_hour), frame.palette
    dashes = f'<path d="M{_LEFT:.1f} {y:.1f} H{frame.width - _RIGHT:.1f}" fill="none" stroke="{colours.text}" '
    dashes += 'stroke-width="1.2" stroke-dasharray="2 5"/>'
    at = y - 6 if above else y + 16
    return dashes + _halo(frame.width - _RIGHT, at, f"{words}: {_rate_words(per_hour)}", colours)


def _post(frame: _Frame, post: Post, number: int) -> str:
    """Draw a deadline as a post with a foot; its bound, where there is one, as an open mark, and what was seen."""
    colours, low = frame.palette, frame.height - _LOW
    x = frame.x(post.at_s)
    colour, wide = (colours.attention, 5.0) if post.advised else (colours.desk, 2.4)
    top = _TOP - 4 - (0 if number % 2 else 14)
    parts = [line(x, top + 4, x, low, colour, wide), line(x - 6, low, x + 6, low, colour, wide)]
    weight = 700 if post.advised else 400
    parts.append(text(x, top, f"{post.buffer}", colours.text, _LABEL, "middle", weight))
    if post.bound is not None:
        y = frame.y(post.bound)
        parts.append(
            f'<path d="M{x - 8:.1f} {y - 7:.1f} H{x + 8:.1f} L{x:.1f} {y + 6:.1f} Z" fill="{colours.ground}" '
            f'stroke="{colour}" stroke-width="2"/>'
        )
    return "".join(parts)


def _halo(x: float, y: float, words: str, colours: Palette) -> str:
    """Write words that end at x with the ground around them, so that lines behind do not cut them."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{colours.text}" font-size="{_SMALL}" text-anchor="end" '
        f'stroke="{colours.ground}" stroke-width="4" paint-order="stroke">{safe(words)}</text>'
    )


__all__ = ["Post", "curve", "late_svg", "posts_of"]
