"""Draws the cases of `bruteforce_cases`: small ones to try every way on, and large ones for a second solver."""

from __future__ import annotations

import random
from dataclasses import replace

from bruteforce_cases import HUNDRED, Case, Ear, Line, Strip, Wish

FLAVOURS = ("in-line", "sends", "keys", "ears", "cues", "siblings", "outputs", "pins", "pairs", "never", "mixed")
"""What a small case is mostly about, by its seed; everything else comes up now and then in each."""


def small(seed: int) -> Case:
    """Draw a case of at most six requests on at most six carriers."""
    draw = random.Random(seed)
    flavour = FLAVOURS[seed % len(FLAVOURS)]

    def with_(name: str, others: float = 0.15) -> bool:
        return flavour == name or draw.random() < (0.5 if flavour == "mixed" else others)

    carriers = draw.choice(
        {"siblings": [2, 2, 4], "pairs": [6], "cues": [2, 2, 4], "keys": [2, 4]}.get(flavour, [2, 4, 4, 6])
    )
    cards = ("left", "right")[: draw.choice([1, 1, 2])]
    lines: list[Line] = []
    if with_("in-line"):
        width = draw.choice([2, 4])
        lines.append(Line(1, width, draw.choice([1, 1, carriers + 1])))
        if draw.random() < 0.4:
            lines.append(Line(width + 1, 2 * width, draw.choice([1, width + 1, carriers + 1])))
    half = carriers // 2
    sends = ((1, half), (half + 1, carriers)) if carriers % 4 == 0 and draw.random() < 0.5 else ((1, carriers),)
    spare = carriers + 9 if lines and draw.random() < 0.5 else 0
    stereo = {"pairs": 0.8, "cues": 0.1}.get(flavour, 0.3)
    strips = _strips(draw, draw.randint(2, 5), ears=with_("ears"), lines=lines, stereo=stereo)
    ears: list[Ear] = []
    if with_("ears"):
        ears = _ears(draw, strips, draw.randint(1, 2))
        strips += [Strip(ear.name, "aux", 1) for ear in ears]
    wishes = _wishes(draw, strips, cards, carriers, ears, flavour, in_line=bool(lines))
    tape = carriers if draw.random() < 0.1 else 0
    rack = draw.randint(1, carriers) if with_("outputs", 0.1) else 0
    if with_("sends", 0.05):
        wishes += _sends(draw, strips, carriers, tape, cards)
        spoken = {wish.back for wish in wishes if wish.way == "send-and-strip"}
        tape = 0 if tape in spoken or carriers - 1 in spoken else tape
    if rack and any(wish.unit == "plate" for wish in wishes):
        rack = 0
    if rack:
        wishes += _on_hardware(draw, strips, wishes, rack=True)
    if with_("outputs", 0.1):
        wishes += _on_hardware(draw, strips, wishes, rack=False)
        if draw.random() < 0.6:
            wishes.append(Wish("PA", "output", 2, _want(draw), unit="box"))
    groups = ["aux in", "aux in", "aux out", *(f"{card} {way}" for card in cards for way in ("in", "out"))]
    kept = {(draw.choice(groups), draw.randint(1, carriers)) for _ in range(draw.choice([0, 0, 1, 2]))}
    if flavour == "cues":
        kept = set()
        wishes = [replace(wish, load=0, pin=wish.pin if wish.way != "insert" else None) for wish in wishes]
    if flavour == "pairs":
        kept = {(f"{card} in", port) for card in cards for port in (draw.randint(1, 2), draw.randint(3, 4))}
    if flavour == "sends":
        kept |= {("aux in", wish.back) for wish in wishes if wish.back and draw.random() < 0.25}
    kept -= {("aux in", tape)}
    never: list[str] = []
    if with_("never", 0.05):
        channels = [strip for strip in strips if strip.kind == "channel"]
        some = draw.choice(channels)
        if draw.random() < 0.5:
            strips[strips.index(some)] = replace(some, hears="siren")
            never.append("siren")
        else:
            never.append(some.name)
    if with_("keys"):
        own = [wish for wish in wishes if draw.random() < 0.7]
        wishes = [replace(wish, one_press=True) if wish in own else wish for wish in wishes]
    names = [strip.name for strip in strips]
    bypass = [tuple(sorted(draw.sample(names, draw.randint(1, min(3, len(names)))))) for _ in range(draw.randint(0, 3))]
    cues = _cues(draw, wishes) if with_("cues") else ()
    if flavour == "cues" and draw.random() < 0.85:
        cues = _hand_over(draw, wishes)
    return Case(
        carriers,
        cards,
        ((1, carriers, _nested(draw, carriers)),),
        sends,
        tuple(lines),
        spare,
        rack,
        tape,
        tuple((card, draw.choice([HUNDRED, 60, 40])) for card in cards),
        tuple(strips),
        tuple(ears),
        tuple(wishes[:7]),
        tuple(sorted(kept)),
        tuple(never),
        _siblings(draw, wishes) if with_("siblings") else (),
        tuple(dict.fromkeys(bypass)),
        draw.choice([0, 1, 2, 2, 3]),
        draw.choice([7.3, 7.5, 8.05, 14.6]) if ears and draw.random() < 0.8 else None,
        draw.choice([8.55, 9.55, 16.55]) if ears and draw.random() < 0.5 else None,
        cues,
    )


def large(seed: int) -> Case:
    """Draw a case of 40 to 80 requests on 32 to 64 carriers, with something of everything in it."""
    draw = random.Random(10_000 + seed)
    carriers = draw.choice([32, 48, 64])
    cards = ("left", "right")[: draw.choice([1, 2])]
    strips = _strips(draw, draw.randint(36, 58), ears=True, lines=[Line(1, 16, 1)])
    ears = _ears(draw, strips, 5)
    strips += [Strip(ear.name, "aux", 1) for ear in ears]
    wishes: list[Wish] = []
    for strip in strips:
        wishes.append(_insert(draw, strip, cards, carriers, pinned=0.08))
        if strip.kind == "channel" and strip.ch <= 16 and draw.random() < 0.5:
            wishes.append(replace(_insert(draw, strip, cards, carriers, pinned=0), way="in-line"))
    wishes = [wish if wish.want != "must" or draw.random() < 0.1 else replace(wish, want=9) for wish in wishes]
    wishes += [replace(wish, want=_want(draw, must=0)) for wish in _sends(draw, strips, carriers, 0, cards)]
    plate = any(wish.unit == "plate" for wish in wishes)
    rack = 0 if plate else draw.randint(1, carriers)
    wishes.append(Wish("PA", "output", 2, _want(draw, must=0), unit="box"))
    wishes += [replace(wish, want=_want(draw, must=0)) for wish in _on_hardware(draw, strips, wishes, rack=False)]
    wishes = [replace(w, one_press=True) if w.way == "insert" and draw.random() < 0.2 else w for w in wishes]
    wishes = [replace(wish, load=wish.load // 10) for wish in wishes]
    draw.shuffle(wishes)
    wishes = wishes[: draw.randint(40, 80)]
    names = [strip.name for strip in strips]
    groups = ["aux in", "aux out", *(f"{card} {way}" for card in cards for way in ("in", "out"))]
    kept = {(draw.choice(groups), draw.randint(1, carriers)) for _ in range(draw.randint(0, 3))}
    first = next(strip for strip in strips if strip.kind == "channel")
    never = draw.random() < 0.3
    if never:
        strips[strips.index(first)] = replace(first, hears="siren")
    return Case(
        carriers,
        cards,
        tuple((a, a + 15, _nested(draw, 16)) for a in range(1, carriers + 1, 16)),
        tuple((a, a + 7) for a in range(1, carriers + 1, 8)),
        (Line(1, 8, draw.choice([1, carriers + 1])), Line(9, 16, draw.choice([9, carriers + 9]))),
        0,
        rack,
        0,
        tuple((card, draw.choice([40, 60, 90])) for card in cards),
        tuple(strips),
        tuple(ears),
        tuple(wishes),
        tuple(sorted(kept)),
        ("siren",) if never else (),
        tuple(tuple(sorted(draw.sample(_asking_once(wishes), 3))) for _ in range(4)),
        tuple(tuple(sorted(draw.sample(names, draw.randint(3, 8)))) for _ in range(5)),
        draw.choice([2, 3, 4]),
        draw.choice([7.5, 8.05, 15.5]),
        draw.choice([None, 9.55, 17.05]),
        _cues(draw, wishes, 4) if draw.random() < 0.6 else (),
    )


def _strips(draw: random.Random, count: int, *, ears: bool, lines: list[Line], stereo: float = 0.3) -> list[Strip]:
    groups = [Strip("Band", "group", draw.choice([1, 2]), into="Main")] if ears or draw.random() < 0.5 else []
    found: list[Strip] = []
    ch = 1
    for number in range(count):
        width = 2 if draw.random() < stereo and ch % 2 else 1
        if any(line.first <= ch <= line.last < ch + width - 1 for line in lines):
            width = 1
        into = "Band" if groups and draw.random() < 0.5 else "Main"
        found.append(Strip(f"S{number}", "channel", width, ch, into))
        ch += width + (ch + width) % 2 * draw.choice([0, 1])
    return [*found, *groups, Strip("Main", "main", 2)]


def _ears(draw: random.Random, strips: list[Strip], count: int) -> list[Ear]:
    channels = [strip for strip in strips if strip.kind == "channel"]
    found = []
    for number, channel in enumerate(draw.sample(channels, min(count, len(channels)))):
        via = channel.into if channel.into == "Band" and draw.random() < 0.5 else channel.name
        found.append(Ear(f"Ears {number}", channel.name, via, draw.random() < 0.25, draw.choice([48, 96])))
    return found


def _want(draw: random.Random, must: float = 0.06) -> int | str:
    return "must" if draw.random() < must else draw.choice([9, 8, 8, 7, 5, 5, 5, 1])


def _insert(draw: random.Random, strip: Strip, cards: tuple[str, ...], carriers: int, pinned: float) -> Wish:
    pin = draw.randrange(1, carriers, strip.width) if draw.random() < pinned else None
    if pin is not None and strip.width == 2 and pin % 2 == 0:
        pin -= 1
    unit = draw.choice(cards) if draw.random() < 0.25 else None
    load, late = draw.choice([0, 0, 10, 25, 40]), draw.choice([0, 0, 10, 40])
    return Wish(strip.name, "insert", strip.width, _want(draw), load, late, unit, pin)


def _wishes(
    draw: random.Random,
    strips: list[Strip],
    cards: tuple[str, ...],
    carriers: int,
    ears: list[Ear],
    flavour: str,
    *,
    in_line: bool,
) -> list[Wish]:
    wanted = draw.sample(strips, min(len(strips), draw.randint(2, 5)))
    if flavour == "ears":
        heard = {name for ear in ears for name in (ear.channel, ear.via)}
        wanted = [strip for strip in strips if strip.name in heard or strip in wanted][:5]
    pinned = 0.5 if flavour == "pins" else 0.08
    found = []
    for strip in wanted:
        wish = _insert(draw, strip, cards, carriers, pinned)
        if in_line and strip.kind == "channel" and strip.ch <= 4 and draw.random() < 0.5:
            found.append(replace(wish, way="in-line", pin=None))
            if draw.random() < 0.3:
                found.append(replace(wish, want=_want(draw)))
        else:
            found.append(wish)
    if flavour == "siblings":
        level = draw.choice([5, 9])
        found = [replace(wish, want=level, load=0, pin=None) for wish in found]
    return found[:6]


def _sends(draw: random.Random, strips: list[Strip], carriers: int, tape: int, cards: tuple[str, ...]) -> list[Wish]:
    channel = draw.choice([strip.name for strip in strips if strip.kind == "channel"])
    width = draw.choice([1, 2])
    places = [port for port in range(1, carriers + 1, width) if not port <= tape < port + width]
    if not places:
        return []
    back = draw.choice(places)
    send = back if draw.random() < 0.5 else draw.choice(range(1, carriers + 1, width))
    unit = draw.choice([None, None, "plate", cards[0]])
    pin = send if draw.random() < 0.4 else None
    strips.append(Strip("Fx", "aux", width, of=channel))
    load, late = (0, 0) if unit == "plate" else (draw.choice([0, 25]), 0)
    return [Wish("Fx", "send-and-strip", width, _want(draw), load, late, unit, pin, send=send, back=back)]


def _on_hardware(draw: random.Random, strips: list[Strip], wishes: list[Wish], *, rack: bool) -> list[Wish]:
    asked = {wish.strip for wish in wishes if wish.way == "insert"}
    free = [strip for strip in strips if strip.name not in asked and (strip.width == 1 or not rack)]
    unit = "rack" if rack else "box"
    count = min(len(free), draw.randint(1, 2))
    return [Wish(strip.name, "insert", strip.width, _want(draw), unit=unit) for strip in draw.sample(free, count)]


def _nested(draw: random.Random, carriers: int) -> tuple[int, ...]:
    return tuple(sorted({carriers, *(n for n in (2, 4, 8) if n < carriers and draw.random() < 0.7)}))


def _siblings(draw: random.Random, wishes: list[Wish]) -> tuple[tuple[str, ...], ...]:
    """Return sets of strips of which each asks once, so that there is no doubt which of its loops is meant."""
    once = _asking_once(wishes)
    if len(once) < 2:
        return ()
    found = [tuple(sorted(draw.sample(once, draw.randint(2, min(3, len(once))))))]
    if draw.random() < 0.3:
        found.append(tuple(sorted(draw.sample(once, 2))))
    return tuple(dict.fromkeys(found))


def _cues(
    draw: random.Random, wishes: list[Wish], most: int = 3
) -> tuple[tuple[int, tuple[tuple[str, str], ...]], ...]:
    names = sorted({wish.strip for wish in wishes if wish.way != "output"})
    found = []
    for number in range(draw.randint(1, most)):
        some = draw.sample(names, draw.randint(1, max(1, len(names) * 2 // 3))) if names else []
        if some:
            found.append((10 * (number + 1), tuple((name, draw.choice(["in", "out"])) for name in sorted(some))))
    return tuple(found)


def _hand_over(draw: random.Random, wishes: list[Wish]) -> tuple[tuple[int, tuple[tuple[str, str], ...]], ...]:
    """Return one cue at which some leave and the others come."""
    names = sorted({wish.strip for wish in wishes if wish.way != "output"})
    return ((10, tuple((name, draw.choice(["in", "out"])) for name in names)),) if names else ()


def _asking_once(wishes: list[Wish]) -> list[str]:
    asked = [wish.strip for wish in wishes if wish.way in ("insert", "in-line")]
    return sorted(name for name in set(asked) if asked.count(name) == 1)
