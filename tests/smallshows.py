"""Small shows and desks made from text in memory, checked before anybody plans them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from importlib.resources import files
from textwrap import dedent

from sidetrip.graph.arrivals import Arrival, Arrivals, State, find_arrivals
from sidetrip.graph.build import build
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import Span
from sidetrip.model.desk import Desk
from sidetrip.model.ports import parse_ports
from sidetrip.model.show import Show
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.showfile.check_desk import check_desk
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

RATE = 48000
FRAME_S = 1 / RATE

_ALIVE = '{send_alive_when_out: "yes", send_alive_when_muted: "yes"}'
_HOPS = """
  - {from: stage, to: [channel, return], frames: 30}
  - {from: [local in, aux in, card in], to: [channel, return], frames: 20}
  - {from: [channel, return], to: [group, main, aux, matrix], frames: 8}
  - {from: [group, aux, main], to: [group, main, aux, matrix], frames: 4}
  - {from: [channel, group, aux, main, matrix], to: [local out, aux out], frames: 16}
  - {from: insert, to: [aux out, local out, card out], frames: 3}
  - {from: aux out, to: card out, frames: 5}
  - {from: card in, to: aux in, frames: 6}
  - {from: [aux in, local in, card in], to: insert, frames: 2}
  - {from: local in, to: local out, frames: 26}
"""


def theatre_desk() -> Desk:
    """Return the desk type that ships, of 32 strips."""
    return desk_from((files("sidetrip") / "desks" / "32-strip-theatre.yaml").read_text("utf-8"))


def desk_from(text: str) -> Desk:
    """Read a desk from its text. Raises AssertionError when the desk contradicts itself."""
    desk = read_desk(dedent(text), "desk.yaml")
    assert not check_desk(desk), check_desk(desk)
    return desk


def plain_desk(
    *,
    carriers: int = 8,
    blocks: str = "",
    more_ports: str = "",
    more_carriers: str = "",
    more_connections: str = "",
    hops: str = _HOPS,
    rates: str = "[44100, 48000, 96000]",
    tail: str = "",
    bypass_seconds: str = "3",
    output_seconds: str = "12",
    group_keys: int = 8,
    takes_inserts: str = '"yes"',
) -> Desk:
    """Return a desk without 1:1 blocks, so that any strip takes any port: `blocks` adds choices as YAML lines.

    Its carriers run over aux out and aux in; a computer sits on the card, with as many channels as carriers.
    """
    return desk_from(f"""
sidetrip_desk: 1
name: plain desk
summary: made for tests
source: invented
rates: {rates}
name_length: 20
strips:
  - {{kinds: [channel], legs: 160, order: [trim, eq, insert, compressor, delay, fader, mute], insert: {_ALIVE}}}
  - {{kinds: [return], legs: 16, order: [trim, fader, mute]}}
  - {{kinds: [group, aux], legs: 128, order: [insert, eq, delay, fader, mute], insert: {_ALIVE}}}
  - {{kinds: [main], legs: 2, order: [insert, eq, delay, fader, mute], insert: {_ALIVE}}}
  - {{kinds: [matrix], legs: 16, order: [insert, eq, delay, fader, mute], insert: {_ALIVE}}}
taps: {{aux: before fader, group: after mute, main: after mute, matrix: after mute}}
ports:
  - {{name: stage, direction: in, count: 160, jacks: yes}}
  - {{name: local in, direction: in, count: 32, jacks: yes}}
  - {{name: aux in, direction: in, count: {carriers}, jacks: yes}}
  - {{name: card in, direction: in, count: 64, jacks: no}}
  - {{name: local out, direction: out, count: 128, jacks: yes}}
  - {{name: aux out, direction: out, count: {carriers}, jacks: yes}}
  - {{name: card out, direction: out, count: 64, jacks: no}}
{more_ports}
blocks:
{blocks or _open_blocks(carriers)}
carriers:
  - {{send: aux out 1-{carriers}, return: aux in 1-{carriers}}}
  - {{send: local out 21-24, return: local in 21-24}}
{more_carriers}
connections:
  - {{name: card, out: card out, back: card in}}
{more_connections}
output_ways: [{{out: [local out, aux out], back: [local in, aux in]}}]
hops: {hops}
delay_step_frames: 1
delay_max_ms: 500
bypass: {{key: INSERT key, presses: 2, seconds: {bypass_seconds}, output_key: routing, output_presses: 4,
  output_seconds: {output_seconds}, group_keys: {group_keys}, group_key_takes_inserts: {takes_inserts}}}
{tail}
""")


def _open_blocks(carriers: int) -> str:
    return f"""
  - {{feeds: aux in 1-{carriers}, choices: [jacks, card in 1-{carriers}]}}
  - {{feeds: card out 1-{carriers}, choices: [stage 1-{carriers}, aux out 1-{carriers}]}}
"""


def show_from(body: str, desk: Desk, *, rate: int = RATE, hops: str = "[]") -> Show:
    """Read a show from its sections and check it; hops: what it knows of its own desk.

    Raises AssertionError when checking finds an error.
    """
    head = f"sidetrip: 1\nshow: small\nsample_rate: {rate}\ndesk: {{type: small.yaml, hops: {hops}}}\n"
    text = head + dedent(body)
    show = read_show(text, "show.yaml").show
    errors = [str(finding) for finding in check_show(show, desk) if finding.severity == "error"]
    assert not errors, "\n".join(errors)
    return show


def plan_from(body: str, desk: Desk, *, rate: int = RATE, buffer: int | None = None) -> Plan:
    """Plan a show from its sections."""
    return make_plan(show_from(body, desk, rate=rate), desk, buffer)


def insert_loop(
    strip: str, send: str, returns: str, *, unit: str = "box", chain: str | None = None, card: str | None = None
) -> PlacedLoop:
    """Place a loop by hand. card: the channels of the card, where the unit sits behind one ("1-2")."""
    out, back = parse_ports(send), parse_ports(returns)
    unit_in, unit_out = (parse_ports(f"card out {card}"), parse_ports(f"card in {card}")) if card else (out, back)
    return PlacedLoop(strip, strip, "insert", unit, chain, len(out), out, back, unit_in, unit_out)


def output_loop(output: str, out: str, back: str, *, unit: str = "box", chain: str | None = None) -> PlacedLoop:
    """Place a loop on an output by hand."""
    return replace(insert_loop(output, out, back, unit=unit, chain=chain), way="output")


def fixed(frames: float, rate: int = RATE) -> UnitTime:
    """Return a unit's time of so many frames."""
    return UnitTime(Span(frames / rate, frames / rate, "proven"), "measured")


def mapped(
    show: Show, desk: Desk, loops: Iterable[PlacedLoop] = (), unit_times: Mapping[str, UnitTime] | None = None
) -> tuple[LineMap, Arrivals]:
    """Build the line map and find its arrivals."""
    line_map = build(show, desk, loops, unit_times or {})
    return line_map, find_arrivals(line_map)


def frames_at(
    arrivals: Arrivals,
    source: str,
    place: str,
    state: State | None = None,
    *,
    via: Iterable[str] = (),
    rate: int = RATE,
) -> float:
    """Return the frames of the only arrival of a source at a place whose route holds `via`. All IN unless told."""
    low, high = bounds_at(arrivals, source, place, state, via=via, rate=rate)
    assert abs(high - low) < 1e-6, (low, high)
    return low


def bounds_at(
    arrivals: Arrivals,
    source: str,
    place: str,
    state: State | None = None,
    *,
    via: Iterable[str] = (),
    rate: int = RATE,
) -> tuple[float, float]:
    """Return low and high frames of the only arrival of a source at a place whose route holds `via`."""
    wanted = set(via)
    found = [
        index
        for index, row in enumerate(arrivals.rows)
        if row.source == source and row.place.name == place and wanted <= {*row.route, row.output}
    ]
    assert len(found) == 1, [arrivals.rows[index].route for index in found]
    times = arrivals.times(state or ALL_IN)
    return float(times.low[found[0]]) * rate, float(times.high[found[0]]) * rate


def rows_at(arrivals: Arrivals, source: str, place: str) -> list[Arrival]:
    """Return the arrivals of a source at a place."""
    return [row for row in arrivals.rows if row.source == source and row.place.name == place]


ALL_IN = State("all IN", "all in")


def all_out(arrivals: Arrivals) -> State:
    """Return the state with every loop OUT."""
    return State("all OUT", "all out", out=frozenset(arrivals.loops))
