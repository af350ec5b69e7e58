"""Shows in which one computer stands in for another, on desks where blocks, sockets or boxes let it; all invented."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip.model.desk import Desk
from smallshows import plain_desk

_SOCKET = """
  - {name: tab in, direction: in, count: 16, jacks: no}
  - {name: tab out, direction: out, count: 16, jacks: no}
"""
_TAB = "  - {name: tab, out: tab out, back: tab in}"
_ALIKE = """
  - {from: stage, to: [channel, return], frames: 30}
  - {from: [aux in, local in], to: [channel, return], frames: 20}
  - {from: channel, to: [main, aux, group], frames: 8}
  - {from: [group, aux, main], to: [main, local out, aux out], frames: 16}
  - {from: insert, to: aux out, frames: 3}
  - {from: aux out, to: [card out, tab out], frames: 5}
  - {from: [stage, local in], to: [card out, tab out], frames: 5}
  - {from: [card in, tab in], to: [aux in, channel], frames: 6}
  - {from: aux in, to: insert, frames: 2}
"""


def two_sockets(
    ports: int = 8, *, each: int = 2, alone: bool = False, strips: bool = False, more_blocks: str = ""
) -> Desk:
    """Return a desk with two sockets: each block of `each` aux inputs takes its jacks, the card or the tab.

    alone: an insert can take another return while its send stays. strips: aux inputs also feed strips that are open.
    Both sockets take the same time.
    """
    blocks = f"""
  - {{feeds: aux in 1-{ports}, each: {each}, choices: [jacks, card in 1-{ports}, tab in 1-{ports}]}}
  - {{feeds: card out 1-{ports}, choices: [stage 1-{ports}, aux out 1-{ports}]}}
  - {{feeds: tab out 1-{ports}, choices: [stage 1-{ports}, aux out 1-{ports}]}}
{more_blocks}"""
    desk = plain_desk(carriers=ports, blocks=blocks, more_ports=_SOCKET, more_connections=_TAB, hops=_ALIKE)
    groups = tuple(
        group.model_copy(update={"strip": "return", "strip_open": True}) if strips and group.name == "aux in" else group
        for group in desk.ports
    )
    return desk.model_copy(update={"returns_alone": alone, "ports": groups})


LAPTOP = (
    "{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, load_limit: 0.5, "
    "measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}"
)


def spare(switch: str = "by strip", socket: str = "tab", *, frames: int | str = 459, more: str = "") -> str:
    """Return the line of the unit that stands in for the laptop."""
    measured = f"measured: [{{buffer: 128, rate: 48000, round_trip_frames: {frames}}}]"
    return (
        f"{{name: spare, kind: computer, connects: {socket}, aligns: per chain, buffer: 128, {measured}, "
        f"stands_in_for: laptop, switch: {switch}{more}}}"
    )


_INPUTS = """{name: A, ch: 1, port: stage 11, to: [Main]}, {name: B, ch: 2, port: stage 12, to: [Main]},
  {name: C, ch: 3, port: stage 13, to: [Main]}"""


def stand_in_show(
    *units: str,
    requests: Sequence[str] = (),
    inputs: str = _INPUTS,
    chain: str = "{compressor: {}}",
    clock: str = "desk",
    more: str = "",
) -> str:
    """Return a show with three mono inputs, a stereo main mix, and these units; by default all four ask to go out."""
    wants = {"Main": 6, "A": 5, "B": 4, "C": 3}
    asked = requests or [f"{{strip: {name}, chain: c, want: {want}}}" for name, want in wants.items()]
    lines = "".join(f"\n  - {unit}" for unit in units or (LAPTOP, spare()))
    return f"""
clock: {{leader: {clock}}}
units:{lines}
inputs: [{inputs}]
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{chain}]}}
requests: [{", ".join(asked)}]
{more}
"""


__all__ = ["LAPTOP", "spare", "stand_in_show", "two_sockets"]
