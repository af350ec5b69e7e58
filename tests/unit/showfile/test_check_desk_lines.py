"""Lines that stand for many blocks, jacks that repeat others, and copies held back: what contradicts itself in them."""

from __future__ import annotations

from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.desk import Block
from sidetrip.model.ports import Ports
from sidetrip.showfile.check_desk import check_desk
from sidetrip.showfile.read import place, read_desk
from sidetrip.showfile.syntax import parse

TEXTS = {
    name: (files("sidetrip") / "desks" / f"{name}.yaml").read_text("utf-8")
    for name in ("48-strip-theatre", "large-96k")
}


def _checked(name: str, old: str, new: str) -> tuple[tuple[Finding, ...], int]:
    """Return what is found with one place changed, and the line of that place."""
    text = TEXTS[name]
    assert text.count(old) >= 1
    line = text[: text.index(old)].count("\n") + 1
    text = text.replace(old, new, 1)
    return place(check_desk(read_desk(text, "desk.yaml")), parse(text, "desk.yaml")), line


@pytest.mark.parametrize(
    ("name", "old", "new", "what"),
    [
        (
            "48-strip-theatre",
            "channel 1-32, each: 2",
            "channel 1-32, each: 3",
            "The blocks of this line leave ports over",
        ),
        (
            "48-strip-theatre",
            "stage 33-48, local in 1-16]}",
            "stage 33-48, local in 1-15]}",
            "Source and covered ports",
        ),
        ("48-strip-theatre", "[jacks, card in 17-32]", "[jacks, any port]", "Any port can be chosen for one port"),
        (
            "48-strip-theatre",
            "[jacks, card in 17-32]",
            "[jacks, {from: card in 17-18, covers: insert in 1-2}]",
            "'covers' cannot step along with 'each'",
        ),
        ("48-strip-theatre", "at: main", "at: channel", "'channel' is no kind of mix of this desk"),
        ("large-96k", "holds: [channel, group", "holds: [return, group", "'return' is no kind of strip of this desk"),
        (
            "48-strip-theatre",
            'external_inserts: "no"',
            "external_inserts: perhaps",
            "'external_inserts' is answered by",
        ),
        (
            "48-strip-theatre",
            "compensation:\n",
            'compensation:\n  - {at: [main], holds: channel, limit_frames: 1, external_inserts: "no"}\n',
            "'main' holds copies back by two lines",
        ),
        (
            "48-strip-theatre",
            "stage out, direction: out, count: 16, jacks: yes",
            "stage out, direction: out, count: 16, jacks: yes, mirrors: local out 1-8",
            "'stage out' cannot repeat these ports",
        ),
        (
            "48-strip-theatre",
            "name: insert in, direction: in, count: 16, jacks: yes",
            "name: insert in, direction: in, count: 16, jacks: yes, mirrors: local out 1-16",
            "'insert in' cannot repeat these ports",
        ),
    ],
)
def test_a_contradiction_is_found(name: str, old: str, new: str, what: str) -> None:
    """In its line (or just below it), with a remedy."""
    found, line = _checked(name, old, new)
    mine = [finding for finding in found if finding.what.startswith(what)]
    assert mine, found
    assert mine[0].code == "desk-inconsistent" and mine[0].line is not None
    assert line <= mine[0].line <= line + 2
    assert mine[0].remedy


def test_repeated_ports_must_be_there() -> None:
    """A group that nobody has, or one that is too short, is named."""
    old = "stage out, direction: out, count: 16, jacks: yes"
    for ports in ("rear out 1-16", "local out 5-20"):
        found, line = _checked("48-strip-theatre", old, f"{old}, mirrors: {ports}")
        assert [(finding.code, finding.line) for finding in found] == [("port-unknown", line)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("each: 2", "each: 0"),
        ("each: 2", "each: two"),
        ("limit_frames: 64", "limit_frames: -1"),
        ("holds: [channel,", "holds: [chanel,"),
        ("at: main,", "at: [],"),
        ("stereo, odd", "x"),
    ],
)
def test_what_cannot_be_read_is_refused(old: str, new: str) -> None:
    """Numbers below one, words for numbers, kinds that are none, a rule for stereo that nobody knows."""
    text = TEXTS["48-strip-theatre"]
    text = text.replace(old, new, 1) if old in text else f"{text}stereo: {new}\n"
    with pytest.raises(ShowUnreadable) as raised:
        read_desk(text, "desk.yaml")
    assert {finding.code for finding in raised.value.findings} == {"value-wrong"}
    assert all(finding.line for finding in raised.value.findings)


@given(st.integers(1, 12), st.integers(1, 12), st.integers(1, 40), st.integers(1, 40))
def test_the_blocks_of_a_line_cover_it_once_and_keep_step(each: int, count: int, first: int, source: int) -> None:
    """Together they feed all its ports in order; the n-th port of the line gets the n-th of its source."""
    wide = each * count
    line = Block.model_validate(
        {
            "feeds": Ports("card out", first, first + wide - 1),
            "each": each,
            "choices": (f"stage {source}-{source + wide - 1}",),
        }
    )
    blocks = line.parts
    assert [port for block in blocks for port in block.feeds.each] == list(line.feeds.each)
    stepped = [choice.from_ for block in blocks for choice in block.choices]
    assert all(isinstance(ports, Ports) and len(ports) == each for ports in stepped)
    brought = [port.number for ports in stepped if isinstance(ports, Ports) for port in ports.each]
    assert brought == list(range(source, source + wide))
    assert all(block.each is None and block.parts == (block,) for block in blocks)
