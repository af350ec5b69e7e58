"""The picture of late blocks: a falling line, posts where the deadlines are, and words for what cannot be seen."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from blocklogs import configuration, pauses, quiet_log
from sidetrip.hold.evidence import Tally
from sidetrip.reports.draw.late import Post, curve, late_svg
from sidetrip.reports.draw.palette import DIM, PAGE, PRINT, Palette

SVG = "{http://www.w3.org/2000/svg}"


def _tally(hours: float = 2.0) -> Tally:
    own = configuration(64)
    late = [(at, 0.0005 + number * 2e-5) for number, (at, _) in enumerate(pauses(20, 0.0))]
    return Tally(own, (quiet_log(hours, late, of=own),))


POSTS = (
    Post(32, 0.0009, 4, 9.0, advised=False),
    Post(64, 0.001333, 0, 0.4, advised=True),
    Post(128, 0.0022, 0, None, advised=False),
)


def test_the_line_falls_and_is_exact_above_the_floor() -> None:
    """Times rise, rates never do; the largest block is one in all hours, the first tick is all of them."""
    times, rates = curve(_tally())
    assert (np.diff(times) > 0).all()
    assert (np.diff(rates) <= 0).all()
    assert rates[-1] == pytest.approx(1 / 2)
    assert times[-1] == pytest.approx(0.0005 + 19 * 2e-5 + 0.35 * 64 / 48000)
    assert rates[0] <= 64 * 750 * 3600 / 64


@pytest.mark.parametrize("palette", [PAGE, DIM, PRINT])
@pytest.mark.parametrize("width", [360, 760, 1000])
def test_it_is_svg_in_the_colours_asked_for(palette: Palette, width: int) -> None:
    """It parses, keeps within its frame, and uses no colour but the palette's."""
    text = late_svg(_tally(), POSTS, 0.4, palette, width)
    root = ET.fromstring(text)
    assert root.get("width") == str(width)
    used = {value for node in root.iter() for key in ("fill", "stroke") if (value := node.get(key)) and value != "none"}
    assert used <= {palette.ground, palette.text, palette.quiet, palette.desk, palette.loop, palette.attention}
    for node in root.iter(f"{SVG}text"):
        assert 0 <= float(node.get("x", "0")) <= width


def test_posts_stand_in_order_and_the_advised_one_is_heaviest() -> None:
    """Further to the right the later the deadline; the advised post is wider and its name bold."""
    root = ET.fromstring(late_svg(_tally(), POSTS, 0.4, PAGE))
    names = {node.text: node for node in root.iter(f"{SVG}text") if node.text in ("32", "64", "128")}
    places = [float(names[name].get("x", "0")) for name in ("32", "64", "128")]
    assert places == sorted(places)
    assert names["64"].get("font-weight") == "700"
    assert names["32"].get("font-weight") == "400"


def test_words_say_what_the_picture_says() -> None:
    """Whoever cannot see it is told each post, what was seen and the bound; and what the log cannot see."""
    text = late_svg(_tally(), POSTS, 0.4, PAGE)
    assert "64 frames, advised: 0 seen, at most 1 in 2.5 h" in text
    assert "32 frames: 4 seen, at most 9 an hour" in text
    assert "the log sees nothing rarer: 1.5 an hour" in text
    assert "the show allows: 1 in 2.5 h" in text


def test_a_log_with_nothing_late_is_drawn_too() -> None:
    """A clean log has a line that ends, and no error."""
    own = configuration(64)
    ET.fromstring(late_svg(Tally(own, (quiet_log(1, of=own),)), (), 0.4, PRINT))


def test_names_stay_text() -> None:
    """Mark-up in a unit's name is no mark-up in the picture."""
    own = configuration(64, unit="<b>&")
    root = ET.fromstring(late_svg(Tally(own, (quiet_log(1, of=own),)), (), 0.4, PAGE))
    assert "<b>&" in (root.findtext(f"{SVG}title") or "")
