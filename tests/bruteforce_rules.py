"""Every way to serve a drawn case, tried one by one, by the rules as they are said in words.

First every assignment (who goes out on which unit), held against all rules that are not about ports; then, the best
first, every setting of every block and every place. `without` leaves a rule out, to see whether it decided anything.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product

from bruteforce_cases import DRY_FRAMES, IN_LINE_FRAMES, INSERT_FRAMES, RATE, Case, Ear, Wish
from bruteforce_settings import NONE, Open, cheapest

Score = tuple[int, ...]
"""Served wants from 9 down to 1, minus siblings torn apart, places where cues matter, minus ports lost."""

Serving = tuple[str | None, ...]
"""The unit of each request in the order of the case, None for what stays in."""

Stretch = tuple[int, int]


# When


def stretches(own: Case, wish: Wish) -> Stretch:
    """Return the first and last stretch in which a request needs its ports: a tail rings one longer."""
    said = {number: word for number, changes in own.cues for name, word in changes if name == wish.strip}
    numbers = [number for number, _ in own.cues]
    state = said[min(said)] == "out" if said else True
    states = [state]
    for number in numbers:
        if number in said:
            state = said[number] == "in"
        states.append(state)
    needed = [index for index, there in enumerate(states) if there]
    if not needed:
        return 0, len(numbers)
    return needed[0], min(needed[-1] + int(wish.rings), len(numbers))


def together(one: Stretch, other: Stretch) -> bool:
    """Tell whether two loops need ports at the same time."""
    return not (one[1] < other[0] or other[1] < one[0])


# Rules that are not about ports


def line_of(own: Case, name: str) -> int:
    """Return the number of the block of channels that a strip belongs to, -1 for none."""
    strip = own.strip(name)
    return next(
        (
            number
            for number, line in enumerate(own.lines)
            if strip.kind == "channel" and line.first <= strip.ch <= line.last
        ),
        -1,
    )


def passed_by_never(own: Case) -> set[str]:
    """Return the strips that a protected path passes, the output of the main among them."""
    reached = {strip.name for strip in own.strips if strip.name in own.never or strip.hears in own.never}
    while True:
        more = {own.strip(name).into for name in reached if name != "PA"} - {""}
        more |= {strip.name for strip in own.strips if strip.of in reached}
        more |= {ear.name for ear in own.ears if ear.via in reached}
        more |= {"PA"} if "Main" in reached else set()
        if more <= reached:
            return reached
        reached |= more


def ear_adds(own: Case, ear: Ear, serving: Serving) -> int:
    """Return the frames that loops add to a performer's own sound in an ear mix, blank loops among them."""
    channel = own.strip(ear.channel)
    through = {ear.channel} if ear.via != ear.channel or not ear.dry else set()
    if ear.via != ear.channel and not ear.dry:
        through.add(ear.via)
    through.add(ear.name)
    frames = 0
    for wish, unit in zip(own.wishes, serving, strict=True):
        if unit is not None and wish.way == "insert" and wish.strip in through:
            frames += INSERT_FRAMES[unit] + wish.late
        if unit is not None and wish.way == "in-line" and wish.strip == channel.name:
            frames += wish.late
    for number, unit in lines_used(own, serving):
        if number == line_of(own, ear.channel):
            frames += IN_LINE_FRAMES[unit]
    return frames


def lines_used(own: Case, serving: Serving) -> set[tuple[int, str]]:
    """Return the blocks of channels that go in-line, each with its card."""
    return {
        (line_of(own, wish.strip), unit)
        for wish, unit in zip(own.wishes, serving, strict=True)
        if unit is not None and wish.way == "in-line"
    }


def lawful(own: Case, serving: Serving, without: frozenset[str] = NONE) -> bool:
    """Tell whether an assignment keeps every rule that is not about ports."""
    out = [(wish, unit) for wish, unit in zip(own.wishes, serving, strict=True) if unit is not None]
    protected = passed_by_never(own)
    if any(wish.strip in protected for wish, _ in out):
        return False
    turned = lines_used(own, serving)
    if any(number < 0 for number, _ in turned) or len({number for number, _ in turned}) < len(turned):
        return False
    if any(line_of(own, name) == number for number, _ in turned for name in protected & {s.name for s in own.strips}):
        return False
    if any(sum(wish.load for wish, unit in out if unit == card) > limit for card, limit in own.limits):
        return False
    for (one, unit), (other, same) in combinations(out, 2):
        if unit == same and unit not in own.cards and "hardware" not in without:
            alone = "output" in (one.way, other.way)
            if alone or together(stretches(own, one), stretches(own, other)):
                return False
    return _pressed(own, out) and _heard(own, serving)


def _pressed(own: Case, out: list[tuple[Wish, str]]) -> bool:
    """One key takes all loops OUT; each other key takes one bypass group; a return strip has a mute of its own."""
    wanting = {wish.strip for wish, _ in out if wish.one_press and wish.way == "insert"}
    if any(wish.one_press and wish.way in ("in-line", "output") for wish, _ in out):
        return False
    left = max(own.keys - 1, 0)
    return any(
        wanting <= {name for group in some for name in group}
        for count in range(left + 1)
        for some in combinations(own.groups, count)
    )


def _heard(own: Case, serving: Serving) -> bool:
    for ear in own.ears:
        added = ear_adds(own, ear, serving)
        if own.added_ms is not None and added > own.added_ms * RATE / 1000:
            return False
        total = DRY_FRAMES + ear.device_frames + added
        if own.total_ms is not None and total > own.total_ms * RATE / 1000:
            return False
    return True


def servings(own: Case, without: frozenset[str] = NONE) -> Iterator[Serving]:
    """Yield every lawful assignment."""
    choices = [
        [*([] if wish.want == "must" else [None]), *own.units_for(wish)] if wish.unit or own.cards else [None]
        for wish in own.wishes
    ]
    for serving in product(*choices):
        if lawful(own, serving, without):
            yield serving


# Places


def most_places(own: Case, serving: Serving, found: Open, without: frozenset[str] = NONE) -> int | None:
    """Return on how many places the free inserts can sit at most, None where not all that go out find one."""
    if found.lines != lines_used(own, serving) or found.lines != found.whole:
        return None
    legs, outs, backs = dict(found.legs), dict(found.out), dict(found.back)
    pinned: list[tuple[frozenset[int], Stretch]] = []
    free: list[tuple[str, list[frozenset[int]], Stretch]] = []
    for wish, unit in zip(own.wishes, serving, strict=True):
        if unit is None:
            continue
        when = stretches(own, wish)
        if wish.way == "send-and-strip":
            send = frozenset(range(wish.send, wish.send + wish.width))
            back = frozenset(range(wish.back, wish.back + wish.width))
            kept = {port for group, port in own.kept if group == "aux out"}
            if send & kept or any(("aux in", port) in own.kept for port in back):
                return None
            if not (back <= found.jacks if unit == "plate" else send <= outs[unit] and back <= backs[unit]):
                return None
            if wish.pin is not None:
                pinned.append((send, when))
        elif wish.way == "insert":
            places = [place for place in places_of(own, wish, unit, without) if place <= legs[unit]]
            if wish.pin is not None:
                if not places:
                    return None
                pinned.append((places[0], when))
            else:
                free.append((unit, places, when))
    for (one, when), (other, then) in combinations(pinned, 2):
        if one & other and together(when, then):
            return None
    claimed = frozenset(port for ports, _ in pinned for port in ports)
    return _most(free, claimed, count=bool(own.cues))


def places_of(own: Case, wish: Wish, unit: str, without: frozenset[str]) -> list[frozenset[int]]:
    """Return the sets of carrier ports on which an insert can sit: its pin, any port, or any odd-even pair."""
    if wish.pin is not None:
        return [frozenset(range(wish.pin, wish.pin + wish.width))]
    ports = range(21, 23) if unit == "box" else range(1, own.carriers + 1)
    if wish.width == 1:
        return [frozenset((port,)) for port in ports]
    if "pairs" in without:
        return [frozenset(two) for two in combinations(ports, 2)]
    pairs = [(port, port + 1) for port in ports if port % 2 == 1 and port + 1 in ports]
    if unit in own.cards:  # a pair is brought by one block each way
        runs = [(a, b) for a, b, _ in own.blocks], list(own.sends)
        pairs = [pair for pair in pairs if all(any(a <= pair[0] and pair[1] <= b for a, b in run) for run in runs)]
    return [frozenset(pair) for pair in pairs]


def _most(free: list[tuple[str, list[frozenset[int]], Stretch]], claimed: frozenset[int], *, count: bool) -> int | None:
    """Try every place for every free insert. A place serves loops one after the other, of one unit and width."""
    best: int | None = None
    free = sorted(free, key=lambda entry: len(entry[1]))

    def rest(number: int, held: list[tuple[str, frozenset[int], Stretch]]) -> bool:
        """Place the rest; True once nothing better can come."""
        nonlocal best
        if number == len(free):
            in_use = len({(unit, ports) for unit, ports, _ in held})
            best = in_use if best is None else max(best, in_use)
            return not count or best == len(free)
        unit, places, when = free[number]
        return any(
            rest(number + 1, [*held, (unit, place, when)])
            for place in places
            if not place & claimed
            and not any(
                place & ports and (together(when, then) or (unit, place) != (other, ports))
                for other, ports, then in held
            )
        )

    rest(0, [])
    return best if count or best is None else 0


# The best


def counts(own: Case, serving: Serving) -> Score:
    """Return how many requests of each want go out, from 9 down to 1."""
    wants = [wish.want for wish, unit in zip(own.wishes, serving, strict=True) if unit is not None]
    return tuple(wants.count(level) for level in range(9, 0, -1))


def torn(own: Case, serving: Serving) -> int:
    """Return how many pairs of siblings there are of which both ask, one goes out and the other stays in."""
    out: dict[str, bool] = {}
    for wish, unit in zip(own.wishes, serving, strict=True):
        if wish.way in ("insert", "in-line"):
            out[wish.strip] = unit is not None
    return sum(
        out[one] != out[other]
        for names in own.siblings
        for one, other in combinations(sorted(set(names) & set(out)), 2)
    )


def best(own: Case, without: frozenset[str] = NONE) -> Score | None:
    """Return the best score there is, None when the musts cannot all be met."""
    ranked: dict[Score, list[Serving]] = {}
    for serving in servings(own, without):
        ranked.setdefault((*counts(own, serving), -torn(own, serving)), []).append(serving)
    for rank in sorted(ranked, reverse=True):
        found = [score for serving in ranked[rank] for score in _scores(own, serving, without)]
        if found:
            return max(found)
    return None


def _scores(own: Case, serving: Serving, without: frozenset[str] = NONE) -> Iterator[Score]:
    """Yield the score of an assignment under every setting in which it finds its places."""
    rank = (*counts(own, serving), -torn(own, serving))
    for here, lost in cheapest(own, without):
        places = most_places(own, serving, here, without)
        if places is not None:
            yield (*rank, places, -lost)


def deciding_aims(own: Case) -> set[str]:
    """Return the aims below the wants that choose between answers which are equal by all aims before them."""
    top = best(own)
    if top is None:
        return set()
    equal = {score for serving in servings(own) if counts(own, serving) == top[:9] for score in _scores(own, serving)}
    found = set()
    for at, aim in ((9, "siblings"), (10, "places"), (11, "ports lost")):
        if len({score[at] for score in equal}) > 1:
            found.add(aim)
        equal = {score for score in equal if score[at] == top[at]}
    return found


def relaxed(own: Case, rule: str) -> tuple[Case, frozenset[str]]:
    """Return a case in which a rule does not hold, and the rules that solving it must leave out."""
    if rule == "keep":
        return replace(own, kept=()), NONE
    if rule == "never":
        return replace(own, never=()), NONE
    if rule == "pins":
        wishes = [replace(wish, pin=None) if wish.way == "insert" else wish for wish in own.wishes]
        return replace(own, wishes=tuple(wishes)), NONE
    if rule == "nested blocks":
        blocks = [(first, last, tuple(range(1, last - first + 2))) for first, last, _ in own.blocks]
        return replace(own, blocks=tuple(blocks)), NONE
    if rule == "one press":
        return replace(own, wishes=tuple(replace(wish, one_press=False) for wish in own.wishes)), NONE
    if rule == "load":
        return replace(own, limits=tuple((card, 10_000) for card, _ in own.limits)), NONE
    if rule == "ears, added":
        return replace(own, added_ms=None), NONE
    if rule == "ears, total":
        return replace(own, total_ms=None), NONE
    if rule == "cues":
        return replace(own, cues=()), NONE
    return own, frozenset({rule})


RULES = (
    "keep",
    "never",
    "pins",
    "nested blocks",
    "one press",
    "load",
    "ears, added",
    "ears, total",
    "cues",
    "pairs",
    "hardware",
    "one meaning",
)
"""Every rule that `relaxed` can take away."""
