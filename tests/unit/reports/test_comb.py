"""The picture of a comb: its curve against closed forms, its words, its shapes."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from sidetrip.dsp.copies import Copy
from sidetrip.reports.draw.comb import Case, comb_svg, levels
from sidetrip.reports.draw.palette import DIM, PAGE, PRINT, Palette

APART = Case("as planned", (Copy(0.0, 1.0), Copy(0.004, 1.0)))
TOGETHER = Case("dialled", (Copy(0.0, 1.0), Copy(0.0, 1.0)))
SVG = "{http://www.w3.org/2000/svg}"


def test_the_first_tooth_is_at_half_of_one_over_the_gap() -> None:
    """4 ms apart: nothing at 125 Hz, twice as loud at 250 Hz."""
    hertz, low, high = levels(2000, APART.copies)
    first = (hertz > 60) & (hertz < 200)
    assert hertz[first][low[first].argmin()] == pytest.approx(125, rel=0.005)
    assert high[(hertz > 245) & (hertz < 255)].max() == pytest.approx(6.02, abs=0.01)


def test_teeth_that_are_close_are_one_band() -> None:
    """Ten octaves up the band spans from the deepest to the highest tooth, without a gap."""
    hertz, low, high = levels(900, APART.copies)
    far = hertz > 12_000
    assert high[far].min() > 5.9
    assert low[far].max() < -20


def test_copies_that_are_together_are_a_straight_line() -> None:
    """Two equal copies add 6 dB everywhere."""
    _, low, high = levels(600, TOGETHER.copies)
    np.testing.assert_allclose([low, high], 20 * np.log10(2), atol=1e-9)


@pytest.mark.parametrize("palette", [PAGE, DIM, PRINT])
@pytest.mark.parametrize("width", [360, 1000])
def test_it_is_svg_that_says_in_words_what_it_shows(palette: Palette, width: int) -> None:
    """A title, a text for who cannot see it, one band with a hatch, one line."""
    root = ET.fromstring(comb_svg("Kick & Co at row <F>", APART, TOGETHER, palette, width))
    assert root.attrib["width"] == str(width)
    assert root.findtext(f"{SVG}title") == "Kick & Co at row <F>"
    told = root.findtext(f"{SVG}desc") or ""
    assert "as planned: cuts to nothing near 125 Hz" in told or "as planned: cuts" in told
    assert "dialled: cuts by 0.0 dB" in told
    fills = [path.attrib.get("fill") for path in root.iter(f"{SVG}path")]
    assert sum((fill or "").startswith("url(#hatch-") for fill in fills) == 1
    words = [text.text for text in root.iter(f"{SVG}text")]
    assert {"as planned", "dialled", "Hz", "dB"} <= set(words)


def test_nothing_lies_outside_the_picture() -> None:
    """Words of the key end inside, at phone width too."""
    root = ET.fromstring(comb_svg("x", APART, TOGETHER, PAGE, 360))
    for text in root.iter(f"{SVG}text"):
        x, anchor = float(text.attrib["x"]), text.attrib["text-anchor"]
        wide = len(text.text or "") * 7.4
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[anchor]
        assert left >= -4
        assert left + wide <= 366, text.text
