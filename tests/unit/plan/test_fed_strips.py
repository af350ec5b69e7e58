"""Strips that a return port feeds beside its loop: each must be closed before the port carries a return."""

from __future__ import annotations

from pathlib import Path

from sidetrip.model.ports import Ports
from sidetrip.plan.patching import fed_strips
from sidetrip.plan.planner import make_plan
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
DESK = read_desk((ROOT / "src/sidetrip/desks/32-strip-theatre.yaml").read_text(encoding="utf-8"), "desk.yaml")
DEMO = read_show((ROOT / "demo/tin-lantern/show.yaml").read_text(encoding="utf-8"), "show.yaml").show


def test_a_return_port_closes_the_strip_that_belongs_to_it() -> None:
    """Aux inputs are return strips of the same number, open as delivered."""
    assert fed_strips(DEMO, DESK, Ports("aux in", 3, 4)) == [(Ports("return", 3, 4), "open as delivered")]


def test_a_jack_closes_the_channel_whose_block_takes_it() -> None:
    """With channels 25-32 on the local inputs, local in 31 is also channel 31; on the stage box it is not."""
    assert fed_strips(DEMO, DESK, Ports("local in", 31, 31)) == [(Ports("channel", 31, 31), "as found")]
    elsewhere = DEMO.model_copy(update={"inputs": tuple(i for i in DEMO.inputs if i.port.group == "stage")})
    assert fed_strips(elsewhere, DESK, Ports("local in", 31, 31)) == []


def test_every_fed_strip_is_closed_before_a_source_or_cable_changes() -> None:
    """In the demo's steps all strips are closed first, the hardware unit's channel among them."""
    steps = make_plan(DEMO, DESK).steps
    closed = [step for step in steps if step.kind == "close"]
    assert "channel strip 31" in {step.item for step in closed}
    later = [step.number for step in steps if step.kind in ("source", "cable", "assign", "in")]
    assert max(step.number for step in closed) < min(later)
    names = [step.becomes.rpartition("named ")[2] for step in closed]
    assert all(len(name) <= DESK.name_length for name in names)


def test_every_strip_that_a_changed_block_or_its_source_feeds_is_closed() -> None:
    """With a channel block on the card, the channels of all card ports that come back are closed, spares too."""
    moved = read_show(
        (ROOT / "demo/tin-lantern/show.yaml")
        .read_text(encoding="utf-8")
        .replace("port: local in 25-26", "port: card in 25-26")
        .replace("port: local in 27", "port: card in 27")
        .replace("port: local in 28", "port: card in 28")
        .replace("port: local in 29", "port: card in 29"),
        "show.yaml",
    ).show
    kept = moved.model_copy(
        update={"inputs": tuple(i for i in moved.inputs if i.port.group != "card in" or i.ch == 29)}
    )
    plan = make_plan(kept, DESK)
    returns = {port for loop in plan.allocation.loops for port in loop.unit_out.each if port.group == "card in"}
    closed = " ".join(step.item for step in plan.steps if step.kind == "close")
    assert returns
    assert all(f"channel strip {port.number}" in closed or f"-{port.number}" in closed for port in returns)
    assert "channel strip 28" in closed or "-28" in closed


def test_a_strip_that_carries_an_input_is_never_closed() -> None:
    """Channel 29 plays a card input that a widened block also brings to a spare return: it is not muted."""
    text = (ROOT / "demo/tin-lantern/show.yaml").read_text(encoding="utf-8")
    show = read_show(text.replace("port: local in 29", "port: card in 29"), "show.yaml").show
    inputs = tuple(i for i in show.inputs if i.name != "Interval" and i.port.group != "local in")
    keep = tuple(keep for keep in show.keep if keep.ports.group != "aux in")
    plan = make_plan(show.model_copy(update={"inputs": inputs, "keep": keep, "never": ("Evac voice",)}), DESK)
    assert any(setting.source == Ports("card in", 25, 32) for setting in plan.allocation.settings)
    closed = [step.item for step in plan.steps if step.kind == "close"]
    assert any(item.startswith("channel strip") for item in closed)
    for item in closed:
        group, _, numbers = item.partition(" strip ")
        first, _, last = numbers.partition("-")
        assert not (group == "channel" and int(first) <= 29 <= int(last or first)), item
