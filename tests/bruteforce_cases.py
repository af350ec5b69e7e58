"""Shows drawn so that every rule of the allocation has something to decide, as plain facts and as text.

A case knows nothing of how the planner thinks: it says which ports there are, what stands on them, who asks for what
and what must not be. `bruteforce_rules` and `cpsat` solve it; `desk_of` and `show_text` write it out for the planner.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from sidetrip.model.desk import Desk
from smallshows import plain_desk

HUNDRED = 100
"""Loads are whole hundredths, so that sums are exact."""

ROUND_TRIP = {"left": 331, "right": 400}
BOX_FRAMES = 48
RATE = 48_000
DRY_FRAMES = 30
"""Frames from a stage port to its channel: the whole dry way inside the desk."""

HOPS = f"""
  - {{from: stage, to: channel, frames: {DRY_FRAMES}}}
  - {{from: stage, to: [left out, right out], frames: 4}}
  - {{from: [left in, right in], to: channel, frames: 9}}
  - {{from: [local in, aux in], to: channel, frames: 0}}
  - {{from: [channel, group, aux, main], to: [group, main, aux, aux out, local out], frames: 0}}
  - {{from: insert, to: [aux out, local out], frames: 3}}
  - {{from: aux out, to: [left out, right out], frames: 5}}
  - {{from: [left in, right in], to: aux in, frames: 6}}
  - {{from: [aux in, local in], to: insert, frames: 2}}
  - {{from: local in, to: local out, frames: 0}}
"""
INSERT_FRAMES = {"left": 3 + 5 + 331 + 6 + 2, "right": 3 + 5 + 400 + 6 + 2, "box": 3 + 48 + 2, "rack": 3 + 48 + 2}
"""What an insert loop adds on each unit beside its chain: the hops above and the unit's own time."""
IN_LINE_FRAMES = {"left": 4 + 331 + 9 - DRY_FRAMES, "right": 4 + 400 + 9 - DRY_FRAMES}
"""What going in-line adds: the way in through the unit in place of the channel's own."""

WayName = Literal["insert", "in-line", "send-and-strip", "output"]


@dataclass(frozen=True)
class Strip:
    """A channel (with the number of its strip, which is its stage port too), a group, an aux mix or the main.

    into: the mix it goes to. hears: a source in front of its microphone. of: the channel that an aux mix takes.
    """

    name: str
    kind: Literal["channel", "group", "aux", "main"]
    width: int
    ch: int = 0
    into: str = ""
    hears: str = ""
    of: str = ""


@dataclass(frozen=True)
class Ear:
    """An ear mix: the performer hears his own channel, by itself or from its group, before or after the insert."""

    name: str
    channel: str
    via: str
    dry: bool
    device_frames: int


@dataclass(frozen=True)
class Wish:
    """One request. late: frames of its chain. pin: the first carrier port it insists on. rings: its chain has a tail.

    send, back: for send-and-strip the first port out and the first port of the strip it comes back on; pin then only
    says that the ports are written into the request, in place of an output of the mix.
    """

    strip: str
    way: WayName
    width: int
    want: int | str
    load: int = 0
    late: int = 0
    unit: str | None = None
    pin: int | None = None
    one_press: bool = False
    rings: bool = False
    send: int = 0
    back: int = 0


@dataclass(frozen=True)
class Line:
    """A block of channels that could go in-line: its channels, and the first channel of the unit that would feed it."""

    first: int
    last: int
    source: int


@dataclass(frozen=True)
class Case:
    """A desk and a show.

    blocks: runs of return ports whose source is chosen together, each with how many of its ports a choice can bring.
    sends: runs of the socket's ways out. spare_out: the first of as many more ways out as the first line has channels,
    0 for none. rack: the carrier port on whose jacks a mono box sits, 0 for none. tape: an aux in with an input on it.
    """

    carriers: int
    cards: tuple[str, ...]
    blocks: tuple[tuple[int, int, tuple[int, ...]], ...]
    sends: tuple[tuple[int, int], ...]
    lines: tuple[Line, ...]
    spare_out: int
    rack: int
    tape: int
    limits: tuple[tuple[str, int], ...]
    strips: tuple[Strip, ...]
    ears: tuple[Ear, ...]
    wishes: tuple[Wish, ...]
    kept: tuple[tuple[str, int], ...]
    never: tuple[str, ...]
    siblings: tuple[tuple[str, ...], ...]
    groups: tuple[tuple[str, ...], ...]
    keys: int
    added_ms: float | None
    total_ms: float | None
    cues: tuple[tuple[int, tuple[tuple[str, str], ...]], ...]

    def strip(self, name: str) -> Strip:
        """Return the strip of this name."""
        return next(strip for strip in self.strips if strip.name == name)

    def units_for(self, wish: Wish) -> tuple[str, ...]:
        """Return the units that may serve a request: the one it names, else every computer."""
        return (wish.unit,) if wish.unit is not None else self.cards


# Written out


def desk_of(own: Case) -> Desk:
    """Return the desk of a case."""
    return _desk(own.carriers, own.cards, own.blocks, own.sends, own.lines, own.spare_out, own.keys)


@cache
def _desk(
    carriers: int,
    cards: tuple[str, ...],
    returns: tuple[tuple[int, int, tuple[int, ...]], ...],
    sends: tuple[tuple[int, int], ...],
    lines: tuple[Line, ...],
    spare_out: int,
    keys: int,
) -> Desk:
    blocks = []
    for first, last, nested in returns:
        choices = ["jacks"]
        choices += [
            f"{{from: {card} in {_run(first, n)}, covers: aux in {_run(first, n)}}}" for card in cards for n in nested
        ]
        blocks.append(f"  - {{feeds: aux in {first}-{last}, choices: [{', '.join(choices)}]}}")
    for card in cards:
        blocks += [f"  - {{feeds: {card} out {a}-{b}, choices: [stage {a}-{b}, aux out {a}-{b}]}}" for a, b in sends]
        if spare_out:
            first, width = lines[0].first, lines[0].last - lines[0].first + 1
            run = _run(spare_out, width)
            blocks.append(
                f"  - {{feeds: {card} out {run}, choices: [stage {_run(141, width)}, stage {_run(first, width)}]}}"
            )
    for line in lines:
        width = line.last - line.first + 1
        found = [f"stage {line.first}-{line.last}", *(f"{card} in {_run(line.source, width)}" for card in cards)]
        blocks.append(f"  - {{feeds: channel {line.first}-{line.last}, choices: [{', '.join(found)}]}}")
    count = carriers + 16
    ports = [
        f"  - {{name: {card} {way}, direction: {way}, count: {count}, jacks: no}}"
        for card in ("left", "right")
        for way in ("in", "out")
    ]
    return plain_desk(
        carriers=carriers,
        blocks="\n".join(blocks),
        more_ports="\n".join(ports),
        more_connections="\n".join(
            f"  - {{name: {card}, out: {card} out, back: {card} in}}" for card in ("left", "right")
        ),
        hops=HOPS,
        group_keys=keys,
    )


def _run(first: int, width: int) -> str:
    return str(first) if width == 1 else f"{first}-{first + width - 1}"


def _chain(wish: Wish) -> str:
    return f"c{wish.load}-{wish.late}" + ("-rings" if wish.rings else "")


def show_text(own: Case) -> str:
    """Return the sections of a show for `smallshows.show_from`."""
    return "\n".join([*_units(own), *_strips(own), *_asked(own), *_rules(own)])


def _units(own: Case) -> list[str]:
    lines = ["units:"]
    for card, limit in own.limits:
        measured = f"measured: [{{buffer: 64, rate: {RATE}, round_trip_frames: {ROUND_TRIP[card]}}}]"
        lines.append(
            f"  - {{name: {card}, kind: computer, connects: {card}, aligns: per chain, buffer: 64, "
            f"load_limit: {limit / HUNDRED}, {measured}}}"
        )
    lines.append("  - {name: box, kind: hardware, out: local out 21-22, back: local in 21-22, delay_ms: 1}")
    if own.rack:
        lines.append(
            f"  - {{name: rack, kind: hardware, out: aux out {own.rack}, back: aux in {own.rack}, delay_ms: 1}}"
        )
    for wish in own.wishes:
        if wish.unit == "plate":
            out, back = _run(wish.send, wish.width), _run(wish.back, wish.width)
            lines.append(f"  - {{name: plate, kind: hardware, out: aux out {out}, back: aux in {back}, delay_ms: 1}}")
    return lines


def _strips(own: Case) -> list[str]:
    lines = ["inputs:"]
    for strip in own.strips:
        if strip.kind == "channel":
            heard = [strip.hears] if strip.hears else []
            heard += [f"player of {strip.name}" for ear in own.ears if ear.channel == strip.name][:1]
            hears = "".join(f"{name}: {{m: 0}}, " for name in heard)
            more = f", hears: {{{hears[:-2]}}}" if heard else ""
            port = f"stage {_run(strip.ch, strip.width)}"
            lines.append(f"  - {{ch: {strip.ch}, name: {strip.name}, port: {port}, to: [{strip.into}]{more}}}")
    for number, wish in enumerate(_sent(own)):
        port = _run(wish.back, wish.width)
        ch = 121 + 2 * number
        lines.append(f"  - {{ch: {ch}, name: {wish.strip} back, port: aux in {port}, to: [Main]}}")
    if own.tape:
        lines.append(f"  - {{ch: 139, name: Tape, port: aux in {own.tape}, to: [Main]}}")
    lines.append("mixes:")
    for strip in own.strips:
        if strip.kind == "channel":
            continue
        words = f"name: {strip.name}, kind: {strip.kind}, width: {'stereo' if strip.width == 2 else 'mono'}"
        ear = next((ear for ear in own.ears if ear.name == strip.name), None)
        if ear is not None:
            tap = "before insert" if ear.dry else "after insert"
            ms = ear.device_frames * 1000 / RATE
            words += f", for: player of {ear.channel}, listens: in-ear, device_ms: {ms}"
            words += f", from: {{{ear.via}: {{db: 0, tap: {tap}}}}}"
        elif strip.of:
            words += f", from: {{{strip.of}: {{db: 0}}}}"
        if strip.into:
            words += f", to: [{strip.into}]"
        lines.append(f"  - {{{words}}}")
    lines += ["outputs:", "  - {name: PA, from: Main, port: local out 1-2}"]
    lines += [
        f"  - {{name: {wish.strip} out, from: {wish.strip}, port: aux out {_run(wish.send, wish.width)}}}"
        for wish in _sent(own)
        if wish.pin is None
    ]
    return lines


def _sent(own: Case) -> list[Wish]:
    return [wish for wish in own.wishes if wish.way == "send-and-strip"]


def _asked(own: Case) -> list[str]:
    chains: dict[str, str] = {}
    for wish in own.wishes:
        tail = ", tail_ms: 900" if wish.rings else ""
        load = wish.load / HUNDRED
        chains[_chain(wish)] = f"[{{black box: {{load: {load}, delay_frames: {wish.late}{tail}}}}}]"
    lines = ["chains: {" + ", ".join(f"{name}: {text}" for name, text in sorted(chains.items())) + "}"]
    lines.append("requests:" if own.wishes else "requests: []")
    for wish in own.wishes:
        words = f"strip: {wish.strip}, way: {wish.way}, want: {wish.want}"
        if wish.unit not in ("box", "rack", "plate"):
            words += f", chain: {_chain(wish)}"
        if wish.unit is not None:
            words += f", unit: {wish.unit}"
        if wish.way == "send-and-strip":
            words += f", back_on: {wish.strip} back"
        if wish.pin is not None:
            send, back = (wish.send, wish.back) if wish.way == "send-and-strip" else (wish.pin, wish.pin)
            words += f", ports: {{send: aux out {_run(send, wish.width)}, return: aux in {_run(back, wish.width)}}}"
        if wish.one_press:
            words += ", one_press: yes"
        lines.append(f"  - {{{words}}}")
    return lines


def _rules(own: Case) -> list[str]:
    lines = ["keep:" if own.kept else "keep: []"]
    lines += [f"  - {{ports: {group} {number}, for: house {group} {number}}}" for group, number in own.kept]
    lines.append(f"never: [{', '.join(own.never)}]")
    for key, named in (("siblings", own.siblings), ("bypass_groups", own.groups)):
        rows = [f"{key} {number}: [{', '.join(names)}]" for number, names in enumerate(named)]
        lines.append(f"{key}: {{{', '.join(rows)}}}")
    limits = []
    if own.added_ms is not None:
        limits.append(f"ear_added_ms: {own.added_ms}")
    if own.total_ms is not None:
        limits.append(f"ear_total_ms: {own.total_ms}")
    lines.append(f"limits: {{{', '.join(limits)}}}")
    lines.append("cues:" if own.cues else "cues: []")
    for number, changes in own.cues:
        said = ", ".join(f"{name}: {word}" for name, word in changes)
        lines.append(f"  - {{from: {number}, requests: {{{said}}}}}")
    return lines
