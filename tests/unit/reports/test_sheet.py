"""Numbers, ports and names as every sheet writes them."""

import math
from pathlib import Path

import pytest

from sidetrip.graph.span import UNKNOWN, Span
from sidetrip.model.ports import parse_ports
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.sheet import Wording, cut, db, frames, hz, listed, ms, names_in, number, ports, span_ms
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
SHOW = (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
DESK = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")


def planned(show: str) -> Plan:
    """Plan a show on the theatre desk."""
    return make_plan(read_show(show, "show.yaml").show, read_desk(DESK, "desk.yaml"))


@pytest.mark.parametrize(
    ("written", "text"),
    [
        (ms(0.0082708333), "8.27"),
        (ms(0.002, 0.004), "2.00 to 4.00"),
        (ms(0.002, 0.0020000001), "2.00"),
        (ms(-0.00218), "−2.18"),
        (ms(-1e-9), "0.00"),
        (ms(math.inf), "unknown"),
        (ms(0.001, math.inf), "unknown"),
        (span_ms(UNKNOWN), "unknown"),
        (span_ms(Span(0.001, 0.001, "proven")), "1.00"),
        (frames(397 / 48000, rate_hz=48000), "397"),
        (frames(0.00339, rate_hz=48000), "162.7"),
        (frames(0.001, 0.002, rate_hz=48000), "48 to 96"),
        (frames(math.inf, rate_hz=48000), "unknown"),
        (db(18.84), "18.8"),
        (db(-0.04), "0.0"),
        (db(None), "unknown"),
        (hz(148.4), "148"),
        (hz(None), "unknown"),
    ],
)
def test_numbers_are_written_in_one_way(written: str, text: str) -> None:
    """Milliseconds have two decimals, dB one, Hz none; a range says to, and what is unknown says so."""
    assert written == text


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("8.27", 8.27),
        ("−2.18", -2.18),
        ("397", 397),
        ("unknown", "unknown"),
        ("−2.00 to 4.00", "−2.00 to 4.00"),
        ("", ""),
    ],
)
def test_a_spreadsheet_gets_numbers(text: str, cell: object) -> None:
    """A plain figure becomes a number that can be computed with; ranges and words stay text."""
    assert number(text) == cell
    assert type(number(text)) is type(cell)


@pytest.mark.parametrize(
    ("run", "text"), [("aux in 7", "aux in 7"), ("aux in 1-2", "aux in 1 & 2"), ("card out 25-32", "card out 25 to 32")]
)
def test_ports_are_no_dates(run: str, text: str) -> None:
    """A run of ports is never written with a hyphen, which spreadsheets read as a day and a month."""
    assert ports(parse_ports(run)) == text


def test_ports_inside_sentences_are_rewritten_and_names_are_not() -> None:
    """A strip that is called like ports keeps its name beside ports that are rewritten."""
    words = Wording(planned(SHOW.replace("Narrator", "Vox aux in 1-2")))
    assert words("aux in 1-2 Main, return strip 3-4 for Vox aux in 1-2") == (
        "aux in 1 & 2 Main, return strip 3 & 4 for Vox aux in 1-2"
    )
    assert words("card in 25-28 on aux in 1-4") == "card in 25 to 28 on aux in 1 to 4"
    assert words("a name such as Take 1-2 is nobody's port") == "a name such as Take 1-2 is nobody's port"


def test_a_long_name_is_cut_in_its_middle() -> None:
    """The number at the end of a name is what tells it from its neighbour."""
    name = "Chorus headset on the far left of the upper balcony, second row, number 117"
    short = cut(name, 40)
    assert len(short) == 40
    assert short.startswith("Chorus headset")
    assert short.endswith("117")
    assert cut("Main", 40) == "Main"


def test_lists_end_with_and() -> None:
    """Names are joined as one would say them."""
    assert [listed(""), listed("a"), listed("ab"), listed("abc")] == ["", "a", "a and b", "a, b and c"]


def test_every_kind_of_name_is_known() -> None:
    """Show, desk, units, strips, sources, chains, listeners, groups, keys: whatever is printed can be asked for."""
    names = set(names_in(planned(SHOW)))
    for name in (
        "The Tin Lantern",
        "32-strip theatre desk",
        "valve compressor",
        "Lamplighter",
        "lamplighter",
        "drummer",
        "Lip fills",
        "row F",
        "glue",
        "interval music",
        "Evac voice",
        "voices",
        "VOICES OUT",
        "INSERT key of the strip",
    ):
        assert name in names
