"""A show that the program changed, written into its text: only the rows that differ are touched."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.model.ports import parse_ports
from sidetrip.model.show import Keep, Show
from sidetrip.showfile.edit import NoSuchField
from sidetrip.showfile.read import read_show
from sidetrip.showfile.rewrite import rewritten

TEXT = """# ours
sidetrip: 1
show: Small
sample_rate: 48000
desk: {type: x}
inputs:
  - {ch: 1, name: One, port: stage 1, to: [Main]}   # the first
  - name: Two
    ch: 2
    port: stage 2
    to: [Main]
mixes:
  - {name: Main, kind: main, width: stereo}
  - {name: Ears, kind: aux, width: stereo, from: {One: {db: 0}, Two: {db: -6, tap: after mute}}}
requests:
  - {strip: One, want: 5}    # he asked
  - {strip: Two, want: 4}
keep: [{ports: aux in 7-8, for: music}, {ports: aux in 1-2, for: us}]
"""


def small() -> Show:
    """Return the show of the text."""
    return read_show(TEXT, "show.yaml").show


def test_nothing_changed_is_the_same_text() -> None:
    """Written again it is the same, byte for byte."""
    assert rewritten(TEXT, small(), small()) == TEXT


def test_a_figure_in_flow_and_in_block() -> None:
    """A port in braces and one on a line of its own; comments stay."""
    show = small()
    one, two = show.inputs
    moved = read_show(TEXT.replace("stage 1", "stage 8").replace("stage 2", "stage 9"), "x").show.inputs
    after = show.model_copy(update={"inputs": moved})
    text = rewritten(TEXT, show, after)
    assert text == TEXT.replace("stage 1", "stage 8").replace("stage 2", "stage 9")
    assert (one.port, two.port) != (moved[0].port, moved[1].port)


def test_a_tap_inside_a_send() -> None:
    """A tap is set where its send is."""
    show = small()
    want = TEXT.replace("{db: 0}", "{db: 0, tap: before insert}")
    after = show.model_copy(update={"mixes": read_show(want, "x").show.mixes})
    assert rewritten(TEXT, show, after) == want


def test_a_row_taken_out_and_one_that_comes() -> None:
    """A keep is split: one row goes, two come, and the other stays."""
    show = small()
    parts = tuple(Keep(ports=parse_ports(ports), **{"for": "music"}) for ports in ("aux in 7", "aux in 8"))
    text = rewritten(TEXT, show, show.model_copy(update={"keep": (*parts, show.keep[1])}))
    assert [str(keep.ports) for keep in read_show(text, "x").show.keep] == ["aux in 1-2", "aux in 7", "aux in 8"]
    assert text.replace(text.splitlines()[-1], "") == TEXT.replace(TEXT.splitlines()[-1], "")


def test_a_request_taken_out_takes_its_line() -> None:
    """The line goes, with the comment that was about it."""
    show = small()
    text = rewritten(TEXT, show, show.model_copy(update={"requests": show.requests[1:]}))
    assert text == TEXT.replace("  - {strip: One, want: 5}    # he asked\n", "")


def test_rows_that_answers_changed_stay_as_they_are_written() -> None:
    """What the house answered is in the show that is planned, and must not get into rows that nobody changed."""
    written = small()
    planned = written.model_copy(
        update={"inputs": (written.inputs[0].model_copy(update={"inverted": True}), written.inputs[1])}
    )
    after = planned.model_copy(update={"requests": planned.requests[1:]})
    text = rewritten(TEXT, planned, after)
    assert "inverted" not in text


def test_what_cannot_be_written_is_refused() -> None:
    """Keys that stand over several lines as a block cannot be set as one value: nothing half-way comes out."""
    text = TEXT.replace("to: [Main]}   # the first", "to: [Main]}").replace(
        "    to: [Main]\nmixes", "    to:\n      - Main\nmixes"
    )
    show = read_show(text, "x").show
    two = show.inputs[1].model_copy(update={"to": ("Main", "Ears")})
    with pytest.raises(NoSuchField):
        rewritten(text, show, show.model_copy(update={"inputs": (show.inputs[0], two)}))


@given(st.integers(1, 9), st.integers(1, 9))
def test_any_wants_read_back(one: int, other: int) -> None:
    """Whatever wants are given, the text reads as the show that was meant."""
    show = small()
    requests = tuple(
        own.model_copy(update={"want": want}) for own, want in zip(show.requests, (one, other), strict=True)
    )
    after = show.model_copy(update={"requests": requests})
    assert read_show(rewritten(TEXT, show, after), "x").show.requests == requests
