"""Every way to set the blocks of a drawn case: what each opens, and what it costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from bruteforce_cases import Case, Line

NONE: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Open:
    """What a setting of all blocks opens.

    legs: carrier ports by unit. out, back: aux outs that reach a card and aux ins that it feeds. jacks: aux ins left
    at their jacks. lines: blocks of channels that come from a card, by number and card; whole: those that may.
    """

    legs: tuple[tuple[str, frozenset[int]], ...]
    out: tuple[tuple[str, frozenset[int]], ...]
    back: tuple[tuple[str, frozenset[int]], ...]
    jacks: frozenset[int]
    lines: frozenset[tuple[int, str]]
    whole: frozenset[tuple[int, str]]


@dataclass(frozen=True)
class Change:
    """A block that changes: from port `first` on, `count` ports of `to` get those of `source` from `start` on.

    becomes: the new source in the words of the desk.
    """

    block: str
    becomes: str
    to: str
    first: int
    source: str
    start: int
    count: int


def words(group: str, first: int, count: int) -> str:
    """Write a run of ports."""
    return f"{group} {first}" if count == 1 else f"{group} {first}-{first + count - 1}"


def cheapest(own: Case, without: frozenset[str] = NONE) -> tuple[tuple[Open, int], ...]:
    """Return what can be opened, each with the fewest ports that lose their source for it, the cheapest first."""
    return _cheapest(own, without)


@lru_cache(maxsize=8)
def _cheapest(own: Case, without: frozenset[str]) -> tuple[tuple[Open, int], ...]:
    best: dict[Open, int] = {}
    for changes in every_setting(own, without):
        lost = sum(change.count for change in changes)
        found = opened(own, changes)
        best[found] = min(lost, best.get(found, lost))
    return tuple(sorted(best.items(), key=lambda row: row[1]))


def blocks_of(own: Case) -> list[list[Change | None]]:
    """Return for each block what it may change to, None for as it is found."""
    blocks: list[list[Change | None]] = []

    def change(feeds: str, to: str, first: int, source: str, start: int, count: int, part: bool = False) -> Change:
        becomes = words(source, start, count) + (f" on {words(to, first, count)}" if part else "")
        return Change(f"source of {feeds}", becomes, to, first, source, start, count)

    for first, last, nested in own.blocks:
        feeds = words("aux in", first, last - first + 1)
        blocks.append(
            [
                None,
                *(
                    change(feeds, "aux in", first, f"{card} in", first, count, part=True)
                    for card, count in product(own.cards, nested)
                ),
            ]
        )
    for card in own.cards:
        to = f"{card} out"
        for a, b in own.sends:
            count = b - a + 1
            blocks.append([None, change(words(to, a, count), to, a, "aux out", a, count)])
        if own.spare_out:
            line = own.lines[0]
            count = line.last - line.first + 1
            feeds = words(to, own.spare_out, count)
            blocks.append([None, change(feeds, to, own.spare_out, "stage", line.first, count)])
    for line in own.lines:
        count = line.last - line.first + 1
        feeds = words("channel", line.first, count)
        blocks.append(
            [
                None,
                *(change(feeds, "channel", line.first, f"{card} in", line.source, count) for card in own.cards),
            ]
        )
    return blocks


def stays(own: Case) -> set[tuple[str, int]]:
    """Return the ports whose source may not change: what is kept, and where an input sits that no send returns to."""
    return set(own.kept) | ({("aux in", own.tape)} if own.tape else set())


def every_setting(own: Case, without: frozenset[str] = NONE) -> Iterator[tuple[Change, ...]]:
    """Yield every setting of all blocks that the desk and the show allow, as the blocks that change."""
    fixed = stays(own)
    free: list[list[Change | None]] = [
        [
            change
            for change in row
            if change is None or not any((change.to, change.first + n) in fixed for n in range(change.count))
        ]
        for row in blocks_of(own)
    ]
    for chosen in product(*free):
        changes = tuple(change for change in chosen if change is not None)
        if "one meaning" in without or one_meaning(changes):
            yield changes


def one_meaning(changes: tuple[Change, ...]) -> bool:
    """Tell whether no channel of a card comes back in two places."""
    taken = [
        (change.source, change.start + n)
        for change in changes
        if change.source.endswith(" in")
        for n in range(change.count)
    ]
    return len(set(taken)) == len(taken)


def held_ports(own: Case) -> set[tuple[str, int]]:
    """Return the ports on which no insert can sit: kept, or with an input or output of the show on them."""
    held = stays(own)
    for wish in own.wishes:
        if wish.way == "send-and-strip":
            held |= {("aux in", wish.back + leg) for leg in range(wish.width)}
            held |= {("aux out", wish.send + leg) for leg in range(wish.width) if wish.pin is None}
    return held


def opened(own: Case, changes: tuple[Change, ...]) -> Open:
    """Return what the changed blocks open, with what stands on ports taken into account."""
    held, kept = held_ports(own), set(own.kept)
    feeds = {
        (change.to, change.first + n): (change.source, change.start + n)
        for change in changes
        for n in range(change.count)
    }
    as_found = {(f"{card} out", a): ("stage", a) for card in own.cards for x, y in own.sends for a in range(x, y + 1)}
    outward = as_found | {to: source for to, source in feeds.items() if to[0].endswith(" out")}
    legs, outs, backs = [], [], []
    ports = range(1, own.carriers + 1)
    for card in own.cards:
        out = {
            source[1]
            for to, source in outward.items()
            if to[0] == f"{card} out" and source[0] == "aux out" and to not in kept
        }
        back = {
            port
            for port in ports
            if (source := feeds.get(("aux in", port))) and source[0] == f"{card} in" and source not in kept
        }
        free = {port for port in ports if ("aux in", port) not in held and ("aux out", port) not in held}
        legs.append((card, frozenset(out & back & free)))
        outs.append((card, frozenset(out)))
        backs.append((card, frozenset(back)))
    jacks = frozenset(port for port in ports if ("aux in", port) not in feeds)
    rack = {own.rack} & jacks if not {("aux in", own.rack), ("aux out", own.rack)} & held else set()
    legs += [("rack", frozenset(rack)), ("box", frozenset({21, 22}))]
    lines = {
        (number, source[0].removesuffix(" in"))
        for number, line in enumerate(own.lines)
        if (source := feeds.get(("channel", line.first))) is not None
    }
    whole = {entry for entry in lines if _goes_whole(own, own.lines[entry[0]], entry[1], outward)}
    return Open(tuple(legs), tuple(outs), tuple(backs), jacks, frozenset(lines), frozenset(whole))


def _goes_whole(own: Case, line: Line, card: str, outward: dict[tuple[str, int], tuple[str, int]]) -> bool:
    """Tell whether every channel of a block reaches the card and comes back from it.

    A raw input that the card gets anyway may be shared with whoever keeps that channel.
    """
    reached = {source[1] for to, source in outward.items() if to[0] == f"{card} out" and source[0] == "stage"}
    return all(
        ch in reached and (f"{card} in", line.source + ch - line.first) not in own.kept
        for strip in own.strips
        if strip.kind == "channel" and line.first <= strip.ch <= line.last
        for ch in range(strip.ch, strip.ch + strip.width)
    )
