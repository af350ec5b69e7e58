"""Loops drawn as rows of stops: well-formed, straight where all is well, bent where it is not, nothing overlapping."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import pytest

import proofs
from sidetrip.prove.proof import LegProof
from sidetrip.reports.draw.palette import DIM, PAGE, PRINT, Palette
from sidetrip.reports.draw.stops import ON_SHEETS, WIDTH, _wide, stops_svg

SPACE = "{http://www.w3.org/2000/svg}"
KINDS = ("strip", "send", "unit", "return", "strip again")
PALETTES = {"page": PAGE, "dim": DIM, "print": PRINT}
WIDTHS = (320, 360, 640, 760, WIDTH, 1600)


def drawn(legs: tuple[LegProof, ...], palette: Palette = PRINT, width: int = WIDTH) -> ElementTree.Element:
    """Return the picture, parsed."""
    return ElementTree.fromstring(stops_svg(legs, palette, width))


def words(picture: ElementTree.Element) -> list[str]:
    """Return what is written in a picture, in its order."""
    return [text.text or "" for text in picture.findall(f"{SPACE}text")]


def boxes(picture: ElementTree.Element) -> list[tuple[float, float, float, float, str]]:
    """Return (left, top, right, bottom, words) of every text, as wide as ordinary letters are."""
    found = []
    for text in picture.findall(f"{SPACE}text"):
        size, x, y, said = float(text.attrib["font-size"]), *(float(text.attrib[key]) for key in "xy"), text.text or ""
        wide = _wide(said, size) * 0.86
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[text.attrib["text-anchor"]]
        found.append((left, y - 0.7 * size, left + wide, y + 0.15 * size, said))
    return found


def as_legs(*legs: LegProof) -> tuple[LegProof, ...]:
    """Return legs as one thing."""
    return legs


ALL = {
    "passing": proofs.proof().legs,
    "stereo": proofs.stereo(),
    "twelve": proofs.twelve().legs,
    "awkward": proofs.awkward().legs,
    "no reference": proofs.without_reference().legs,
    "each stop": tuple(
        proofs.with_row(proofs.good_leg(f"Loop {kind}", n), "gain", "fail", f"At the {kind} it is much too loud", kind)  # type: ignore[arg-type]
        for n, kind in enumerate(KINDS, 1)
    ),
}


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("legs", ALL.values(), ids=ALL)
def test_nothing_overlaps_and_nothing_is_cut(legs: tuple[LegProof, ...], width: int) -> None:
    """No two texts touch, and none leaves the picture, whatever the width."""
    picture = drawn(legs, width=width)
    view = [float(part) for part in picture.attrib["viewBox"].split()]
    every = boxes(picture)
    for left, top, right, bottom, said in every:
        assert left >= -1 and right <= view[2] + 1 and top >= 0 and bottom <= view[3], said
    for one, other in combinations(every, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, f"{one[4]!r} touches {other[4]!r}"


@pytest.mark.parametrize("palette", PALETTES.values(), ids=PALETTES)
def test_a_loop_that_is_right_is_a_straight_row(palette: Palette) -> None:
    """Five round stops at one height, with the names of strip, ports and unit, and the verdict at the end."""
    picture = drawn(proofs.proof(proofs.good_leg("Bass", 1)).legs, palette)
    stops = picture.findall(f"{SPACE}circle")
    assert len(stops) == 5
    assert len({stop.attrib["cy"] for stop in stops}) == 1
    assert picture.findall(f"{SPACE}polygon") == []
    assert words(picture)[:5] == list(KINDS)
    assert words(picture)[5:] == ["Bass", "pass", "Bass", "aux out 1", "laptop, card out 25", "aux in 1", "Bass"]


@pytest.mark.parametrize("place", range(5), ids=KINDS)
def test_a_fault_bends_out_of_its_row_where_it_happens(place: int) -> None:
    """The stop is pointed and lies below the row, the line goes there and back, and says what is wrong."""
    leg = ALL["each stop"][place]
    picture = drawn(as_legs(leg))
    [pointed] = picture.findall(f"{SPACE}polygon")
    low = max(float(y) for y in re.findall(r",([\d.]+)", pointed.attrib["points"]))
    rows = {float(stop.attrib["cy"]) for stop in picture.findall(f"{SPACE}circle")}
    assert len(rows) == 1
    assert low > max(rows) + 30
    ways = [path.attrib["d"] for path in picture.findall(f"{SPACE}path")]
    bends = sum(way.count("L") == 3 for way in ways)
    assert bends == (1 if place in (0, 4) else 3 + 3 if place == 2 else 1 + 3)  # edges, fill and hatch outside
    assert f"At the {KINDS[place]} it is much too loud" in words(picture)
    assert words(picture).count("fail") == 1
    assert leg.stops[place].name in words(picture)


def test_two_faults_in_one_row_are_both_told() -> None:
    """Each bends out, and their words stand on lines of their own."""
    leg = proofs.inverted(proofs.with_row(proofs.good_leg(), "twice", "fail", "It takes two ways", "strip again"))
    picture = drawn(as_legs(leg))
    assert len(picture.findall(f"{SPACE}polygon")) == 2
    assert {"It comes back inverted", "It takes two ways"} <= set(words(picture))


def test_the_question_that_decides_stands_below_the_verdict() -> None:
    """What is no fault bends nothing, and still says which question wants a look."""
    picture = drawn(as_legs(proofs.quiet_look(proofs.good_leg())))
    assert picture.findall(f"{SPACE}polygon") == []
    assert words(picture)[6:8] == ["look", "gain"]


def test_the_picture_can_be_read_aloud() -> None:
    """It has a role, a title, and a description with every verdict and fault in full."""
    picture = drawn(proofs.twelve().legs)
    assert picture.attrib["role"] == "img"
    ids = [found.attrib["id"] for found in (picture[0], picture[1])]
    assert picture.attrib["aria-labelledby"].split() == ids
    told = picture[1].text or ""
    assert "Lamplighter: fail, at unit (laptop, card out 26): It comes back inverted" in told
    assert told.count(": pass") == 7


@pytest.mark.parametrize("name", proofs.AWKWARD)
def test_names_stay_text(name: str) -> None:
    """Markup in a name is never markup of the picture, and the name can be found in it whole."""
    picture = drawn(as_legs(proofs.good_leg(name)))
    assert name in (picture[1].text or "")
    kinds = {element.tag.removeprefix(SPACE) for element in picture.iter()}
    assert kinds <= {"svg", "title", "desc", "defs", "pattern", "rect", "circle", "path", "text"}


def test_a_name_that_is_too_long_keeps_its_end() -> None:
    """Letters go from the middle: what tells long names apart is often their number."""
    name = "The Hooded Stranger of the Northern Balcony, Second Cast, 17"
    said = " ".join(words(drawn(as_legs(proofs.good_leg(name)))))
    assert "…t, 17" in said


def test_what_xml_forbids_is_replaced() -> None:
    """A control character or half a character in a name does not break the picture."""
    leg = proofs.inverted(proofs.good_leg("Bell\x07 and half \ud800"))
    assert "Bell\N{REPLACEMENT CHARACTER} and half \N{REPLACEMENT CHARACTER}" in (drawn(as_legs(leg))[1].text or "")


def test_no_legs_are_an_empty_picture() -> None:
    """Nothing to draw is drawn as nothing, well-formed."""
    assert words(drawn(())) == []


def test_pictures_of_two_palettes_can_share_a_page() -> None:
    """Hatches have other names in other palettes, so that none takes the other's colours."""
    names = [set(re.findall(r'id="(out[^"]+)"', stops_svg(proofs.proof().legs, one))) for one in PALETTES.values()]
    assert not names[0] & names[1] and not names[0] & names[2] and not names[1] & names[2]


def test_the_same_legs_are_the_same_text() -> None:
    """Nothing but its arguments makes the picture."""
    legs = proofs.twelve().legs
    assert stops_svg(legs, PAGE) == stops_svg(list(legs), PAGE)
    assert stops_svg(legs, PRINT, 760, ON_SHEETS) != stops_svg(legs, PRINT, 760)
    assert stops_svg(legs, PRINT) != stops_svg(legs, replace(PRINT, text="#111111"))


@pytest.mark.parametrize("palette", PALETTES.values(), ids=PALETTES)
def test_every_colour_stands_off_the_ground(palette: Palette) -> None:
    """Words have a contrast of at least 4.5, lines and shapes of at least 3; one of hatch and fill is enough."""
    for colour in (palette.text, palette.quiet, palette.attention):
        assert _contrast(colour, palette.ground) >= 4.5
    assert _contrast(palette.desk, palette.ground) >= 3
    assert max(_contrast(palette.loop, palette.ground), _contrast(palette.hatch, palette.ground)) >= 3
    assert _contrast(palette.loop, palette.hatch) >= 1.8


def _contrast(one: str, other: str) -> float:
    """Return the ratio of two colours' luminances, as accessibility guidelines define it."""
    bright, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
