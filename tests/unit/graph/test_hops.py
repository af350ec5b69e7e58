"""The desk's own delays: first match wins, what is known of this desk goes first, and gaps are named."""

import pytest

from sidetrip.graph.hops import Hops
from sidetrip.graph.span import UNKNOWN
from smallshows import plain_desk, show_from

DESK = plain_desk(
    hops="""
  - {from: stage, to: [channel, return], frames: 30, frames_at_96000: 45}
  - {from: channel, to: main, frames: 8 to 12}
  - {from: [channel, group], to: [main, aux], frames: 4}
  - {from: group, to: matrix, frames: unknown}
  - {from: main, to: local out, frames: {is: 16, standing: proven}}
"""
)


def _hops(rate: int = 48000, own: str = "[]") -> Hops:
    return Hops(show_from("", DESK, rate=rate, hops=own), DESK)


def _frames(hops: Hops, start: str, end: str, rate: int = 48000) -> tuple[float, float]:
    span = hops(start, end)
    return round(span.low * rate, 9), round(span.high * rate, 9)


def test_a_hop_is_in_frames_of_the_shows_rate() -> None:
    """30 frames from stage to channel, and to a return strip, which stands in the same line."""
    assert _frames(_hops(), "stage", "channel") == (30, 30)
    assert _frames(_hops(), "stage", "return") == (30, 30)
    assert _hops()("stage", "channel").low == pytest.approx(30 / 48000)
    assert _hops(44100)("stage", "channel").low == pytest.approx(30 / 44100)


def test_at_double_rate_its_own_figure_holds_where_there_is_one() -> None:
    """45 frames at 96 kHz in place of 30; a hop without such a figure keeps its number of frames."""
    assert _frames(_hops(96000), "stage", "channel", 96000) == (45, 45)
    assert _frames(_hops(96000), "group", "main", 96000) == (4, 4)


def test_the_first_line_that_fits_wins() -> None:
    """Channel to main stands twice: the range above counts, the figure below serves channel to aux."""
    assert _frames(_hops(), "channel", "main") == (8, 12)
    assert _frames(_hops(), "channel", "aux") == (4, 4)


def test_standing_is_the_figures_own_or_that_of_the_desk_file() -> None:
    """One figure is proven in a file of assumed ones."""
    assert _hops()("main", "local out").standing == "proven"
    assert _hops()("stage", "channel").standing == "assumed"


def test_what_the_show_says_of_its_desk_goes_first() -> None:
    """A measured hop of this desk replaces that of its type, and only that one."""
    hops = _hops(own="[{from: stage, to: channel, frames: 33}]")
    assert _frames(hops, "stage", "channel") == (33, 33)
    assert _frames(hops, "stage", "return") == (30, 30)


@pytest.mark.parametrize(("start", "end"), [("group", "matrix"), ("aux", "main"), ("channel", "stage")])
def test_a_hop_that_nobody_gave_is_unknown_and_named_once(start: str, end: str) -> None:
    """Marked unknown, missing, or the wrong way round: no number, and one finding however often it is asked for."""
    hops = _hops()
    assert hops(start, end) == UNKNOWN
    hops(start, end)
    assert [(finding.code, finding.where) for finding in hops.findings()] == [
        ("delay-unknown", f"desk / {start} to {end}")
    ]


def test_hops_that_are_known_make_no_finding() -> None:
    """Only gaps are named, and only those that somebody came upon."""
    hops = _hops()
    hops("stage", "channel")
    assert hops.findings() == []
