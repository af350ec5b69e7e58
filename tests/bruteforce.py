"""Every way to serve a small show, tried one by one: an answer to hold the allocation against.

A case is drawn from a seed: carriers over aux out and aux in, one or two computers on cards behind blocks with nested
choices, a box on jacks, kept ports, loads, pins. It knows nothing of how the planner thinks; it is written out as a
desk and a show, and solved here by trying.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from itertools import product

from sidetrip.model.desk import Desk
from smallshows import plain_desk

ROOM = 100
"""Loads are whole hundredths here, so that sums are exact."""


@dataclass(frozen=True)
class Wish:
    """One request. units: who may serve it. pin: the first port it insists on."""

    name: str
    width: int
    want: int | str
    load: int
    units: tuple[str, ...]
    named: bool = False
    pin: int | None = None


@dataclass(frozen=True)
class Case:
    """A small desk and show. nested: how many ports each choice of the return block brings from a card."""

    carriers: int
    cards: tuple[str, ...]
    nested: tuple[int, ...]
    split_sends: bool
    kept: tuple[tuple[str, int], ...]
    limits: dict[str, int] = field(hash=False)
    wishes: tuple[Wish, ...]

    @property
    def send_blocks(self) -> list[tuple[str, int, int]]:
        """The blocks that bring aux outs to each card, as card, first and last channel."""
        half = self.carriers // 2
        runs = [(1, half), (half + 1, self.carriers)] if self.split_sends else [(1, self.carriers)]
        return [(card, first, last) for card in self.cards for first, last in runs]


def case(seed: int) -> Case:
    """Draw a case."""
    draw = random.Random(seed)
    carriers = draw.choice([4, 6, 6, 8])
    cards = ("card", "tab")[: draw.choice([1, 1, 2])]
    nested = tuple(n for n in (2, 4, carriers) if n == carriers or draw.random() < 0.8)
    groups = ["aux in", "aux in", "aux out", "card in", "card out"]
    kept = {(draw.choice(groups), draw.randint(1, carriers)) for _ in range(draw.choice([0, 1, 1, 2]))}
    split = draw.random() < 0.5 and carriers % 4 == 0
    limits = {card: draw.choice([ROOM, 60, 40]) for card in cards}
    count = draw.randint(1, 6)
    wishes = tuple(_wish(draw, number, cards, carriers) for number in range(count))
    return Case(carriers, cards, tuple(dict.fromkeys(sorted(nested))), split, tuple(sorted(kept)), limits, wishes)


def _wish(draw: random.Random, number: int, cards: tuple[str, ...], carriers: int) -> Wish:
    width = draw.choice([1, 1, 2])
    want = "must" if draw.random() < 0.12 else draw.choice([9, 8, 8, 7, 5, 5, 1])
    if draw.random() < 0.15:
        return Wish(f"S{number}", width, want, 0, ("box",), named=True)
    named = draw.random() < 0.25
    units = (draw.choice(cards),) if named else cards
    pin = draw.randrange(1, carriers, width) if draw.random() < 0.15 else None
    if pin is not None and width == 2 and pin % 2 == 0:
        pin -= 1
    return Wish(f"S{number}", width, want, draw.choice([0, 0, 10, 25, 40]), units, named, pin)


# Written out


def desk_of(own: Case) -> Desk:
    """Return the desk of a case."""
    return _desk(own.carriers, own.cards, own.nested, tuple(own.send_blocks))


@cache
def _desk(
    n: int, cards: tuple[str, ...], nested: tuple[int, ...], send_blocks: tuple[tuple[str, int, int], ...]
) -> Desk:
    choices = ["jacks"]
    choices += [f"{{from: {card} in 1-{k}, covers: aux in 1-{k}}}" for card in cards for k in nested]
    blocks = [f"  - {{feeds: aux in 1-{n}, choices: [{', '.join(choices)}]}}"]
    blocks += [
        f"  - {{feeds: {card} out {a}-{b}, choices: [stage {a}-{b}, aux out {a}-{b}]}}" for card, a, b in send_blocks
    ]
    more_ports = f"""
  - {{name: tab in, direction: in, count: {n}, jacks: no}}
  - {{name: tab out, direction: out, count: {n}, jacks: no}}
"""
    hops = "[{from: [insert, aux in, tab in, local in], to: [insert, aux in, tab out, aux out], frames: 1}]"
    return plain_desk(
        carriers=n,
        blocks="\n".join(blocks),
        more_ports=more_ports,
        more_connections="  - {name: tab, out: tab out, back: tab in}",
        hops=hops,
    )


def show_text(own: Case) -> str:
    """Return the sections of a show for `smallshows.show_from`."""
    lines = ["units:"]
    for card in own.cards:
        limit = own.limits[card] / ROOM
        lines.append(f"  - {{name: {card}, kind: computer, connects: {card}, aligns: per chain, load_limit: {limit}}}")
    lines.append("  - {name: box, kind: hardware, out: local out 21-22, back: local in 21-22, delay_ms: 0}")
    lines.append("inputs:")
    for number, wish in enumerate(own.wishes):
        ch = 2 * number + 1
        port = f"stage {ch}" if wish.width == 1 else f"stage {ch}-{ch + 1}"
        lines.append(f"  - {{ch: {ch}, name: {wish.name}, port: {port}, to: [Main]}}")
    lines.append("mixes: [{name: Main, kind: main, width: stereo}]")
    lines.append("outputs: [{name: PA, from: Main, port: local out 1-2}]")
    loads = sorted({wish.load for wish in own.wishes})
    lines.append("chains: {" + ", ".join(f"c{x}: [{{eq: {{load: {x / ROOM}}}}}]" for x in loads) + "}")
    lines.append("requests:" if own.wishes else "requests: []")
    for wish in own.wishes:
        unit = f", unit: {wish.units[0]}" if wish.named else ""
        pin = ""
        if wish.pin is not None:
            run = f"{wish.pin}" if wish.width == 1 else f"{wish.pin}-{wish.pin + 1}"
            pin = f", ports: {{send: aux out {run}, return: aux in {run}}}"
        lines.append(f"  - {{strip: {wish.name}, chain: c{wish.load}, want: {wish.want}{unit}{pin}}}")
    lines.append("keep:" if own.kept else "keep: []")
    lines += [f"  - {{ports: {group} {number}, for: house {group} {number}}}" for group, number in own.kept]
    return "\n".join(lines)


# Solved by trying

Score = tuple[int, ...]
"""Served wants from 9 down to 1, then minus the ports that lose their source."""


def best(own: Case) -> Score | None:
    """Return the best score there is, None when the musts cannot all be met."""
    scores = [score for legs, lost in _settings(own) if (score := _best_on(own, legs, lost)) is not None]
    return max(scores, default=None)


def score_of(own: Case, served: set[str], lost: int) -> Score:
    """Return the score of an answer."""
    counts = [sum(wish.want == level and wish.name in served for wish in own.wishes) for level in range(9, 0, -1)]
    return (*counts, -lost)


def _settings(own: Case) -> Iterator[tuple[dict[str, frozenset[int]], int]]:
    """Yield each setting of all blocks: the ports that each card can use out and back, and how many ports it costs."""
    kept = set(own.kept)
    blocks = own.send_blocks
    for back in [None, *product(own.cards, own.nested)]:
        if back is not None and any(("aux in", port) in kept for port in range(1, back[1] + 1)):
            continue
        for turned in product((False, True), repeat=len(blocks)):
            changed = [block for block, on in zip(blocks, turned, strict=True) if on]
            if any((f"{card} out", port) in kept for card, a, b in changed for port in range(a, b + 1)):
                continue
            lost = (back[1] if back else 0) + sum(b - a + 1 for _, a, b in changed)
            yield {card: _ports(card, back, changed, kept) for card in own.cards}, lost


def _ports(
    card: str, back: tuple[str, int] | None, changed: list[tuple[str, int, int]], kept: set[tuple[str, int]]
) -> frozenset[int]:
    if back is None or back[0] != card:
        return frozenset()
    out = {port for own, a, b in changed if own == card for port in range(a, b + 1)}
    free = {
        port for port in range(1, back[1] + 1) if ("aux out", port) not in kept and (f"{card} in", port) not in kept
    }
    return frozenset(out & free)


def _best_on(own: Case, legs: dict[str, frozenset[int]], lost: int) -> Score | None:
    @cache
    def rest(number: int, used: frozenset[int], box_free: bool, loads: tuple[int, ...]) -> Score | None:
        if number == len(own.wishes):
            return (0,) * 9
        wish = own.wishes[number]
        found = [] if wish.want == "must" else [rest(number + 1, used, box_free, loads)]
        gain = tuple(int(wish.want == level) for level in range(9, 0, -1))
        if "box" in wish.units and box_free:
            found.append(_plus(rest(number + 1, used, False, loads), gain))
        for place, card in enumerate(own.cards):
            if card not in wish.units or loads[place] + wish.load > own.limits[card]:
                continue
            heavier = (*loads[:place], loads[place] + wish.load, *loads[place + 1 :])
            for ports in places(wish, own.carriers):
                if ports <= legs[card] and not ports & used:
                    found.append(_plus(rest(number + 1, used | ports, box_free, heavier), gain))
        return max((score for score in found if score is not None), default=None)

    score = rest(0, frozenset(), True, (0,) * len(own.cards))
    return None if score is None else (*score, -lost)


def places(wish: Wish, carriers: int) -> list[frozenset[int]]:
    """Return the ports a wish may sit on: its pin, any odd-even pair, or any single port."""
    if wish.pin is not None:
        return [frozenset(range(wish.pin, wish.pin + wish.width))]
    if wish.width == 2:
        return [frozenset((port, port + 1)) for port in range(1, carriers, 2)]
    return [frozenset((port,)) for port in range(1, carriers + 1)]


def _plus(score: Score | None, gain: Score) -> Score | None:
    return None if score is None else tuple(a + b for a, b in zip(score, gain, strict=True))
