"""What the catalogue of broken timing is written with: one desk, one laptop, and a loop of 301 frames.

Frames of the plain desk at 48 kHz: stage to channel 30, local in to channel 20, channel to any mix 8, mix to mix 4,
strip to jack 16. A loop takes 16 frames of desk and 285 of laptop: 301 frames = 6.2708 ms. Air at 20 °C carries sound
at 343.2 m/s (ISO 9613-1:1993, formula A.5), so 1 m takes 2.9138 ms.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sidetrip.graph.arrivals import Arrivals, State
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.model.desk import Desk
from sidetrip.model.ports import parse_ports
from sidetrip.model.show import Show
from sidetrip.plan.compare import Compared
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from smallshows import ALL_IN, fixed, insert_loop, mapped, plain_desk, show_from

DESK = plain_desk()
LAPTOP = "units: [{name: laptop, kind: computer, connects: card, aligns: per chain}]"
TRIP = 285
L = 301
MAIN = "{name: Main, kind: main, width: stereo}"
PA = "{name: PA, from: Main, port: local out 1-2}"


def body(
    inputs: str, *mixes: str, outputs: tuple[str, ...] = (PA,), units: str = LAPTOP, more: str = "", **parts: str
) -> str:
    """Return the sections of a show: inputs as YAML, then each mix; the main is there anyhow unless it is given."""
    own = mixes if any("kind: main" in mix for mix in mixes) else (*mixes, MAIN)
    sections = [units, f"inputs: [{inputs}]", f"mixes: [{', '.join(own)}]", f"outputs: [{', '.join(outputs)}]"]
    return "\n".join([*sections, *(f"{name}: {text}" for name, text in parts.items()), more]) + "\n"


def loop(strip: str, number: int = 1, *, legs: int = 1, unit: str = "laptop", chain: str | None = None) -> PlacedLoop:
    """Return a loop on a strip's insert, on these ports of the laptop."""
    ports = f"{number}" if legs == 1 else f"{number}-{number + legs - 1}"
    return insert_loop(strip, f"aux out {ports}", f"aux in {ports}", unit=unit, card=ports, chain=chain)


def send_loop(mix: str, back_on: str, number: int = 1, chain: str | None = None) -> PlacedLoop:
    """Return a loop that leaves with a mix and comes back on a strip of its own."""
    own = loop(mix, number, chain=chain)
    return replace(own, way="send-and-strip", send=parse_ports(f"aux out {number}"), back_on=back_on)


def laid(
    text: str,
    *loops: PlacedLoop,
    desk: Desk = DESK,
    trip: float | UnitTime = TRIP,
    more: dict[str, UnitTime] | None = None,
) -> tuple[Show, LineMap, Arrivals]:
    """Return a show with these loops, as line map and arrivals."""
    show = show_from(text, desk)
    times = {"laptop": trip if isinstance(trip, UnitTime) else fixed(trip), **(more or {})}
    return (show, *mapped(show, desk, loops, times))


def judged(
    text: str,
    *loops: PlacedLoop,
    desk: Desk = DESK,
    trip: float | UnitTime = TRIP,
    more: dict[str, UnitTime] | None = None,
    states: Iterable[State] = (),
) -> tuple[Meeting, ...]:
    """Return the meetings of a show with these loops, judged IN, OUT and in more states."""
    return compared(text, *loops, desk=desk, trip=trip, more=more, states=states)[0]


def compared(
    text: str,
    *loops: PlacedLoop,
    desk: Desk = DESK,
    trip: float | UnitTime = TRIP,
    more: dict[str, UnitTime] | None = None,
    states: Iterable[State] = (),
) -> tuple[tuple[Meeting, ...], Compared]:
    """Return the meetings, and how much was compared for them."""
    show, line_map, arrivals = laid(text, *loops, desk=desk, trip=trip, more=more)
    return find_meetings(show, line_map, arrivals, (ALL_IN, *states))


def only(meetings: Iterable[Meeting], kind: str | None = None) -> Meeting:
    """Return the one meeting, of this class where one is named."""
    found = [meeting for meeting in meetings if kind is None or meeting.kind == kind]
    assert len(found) == 1, [meeting.sentence for meeting in found]
    return found[0]


def frames(seconds: float) -> float:
    """Return frames at 48 kHz, to a millionth."""
    return round(seconds * 48000, 6)


def verdicts(meeting: Meeting) -> tuple[str, str]:
    """Return the verdicts with all loops IN and all OUT."""
    return meeting.gap_in.verdict, meeting.gap_out.verdict


def everywhere_together(meetings: Iterable[Meeting]) -> bool:
    """Tell whether nothing is apart or open, IN or OUT: what a repair must reach."""
    return all(meeting.verdict in ("together", "alone") for meeting in meetings)
