"""The single changes that could serve a strip that stays in, each with the trial that tells whether it does.

In order of what they cost, the cheapest first: ports left open that a request had named, another tap for somebody's
ears, another unit, another way, an input or output on other ports, a keep given up (by how much of it), mono in place
of stereo, a unit that no longer stands in for another, a served strip that stays in (by its want).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import get_args

from sidetrip.findings import has_errors
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Request, Show, Way
from sidetrip.plan.allocation import Key, Options, key_of
from sidetrip.plan.places import Moved, emptied, moved, on
from sidetrip.plan.stand_in import left_out, stands_of, without_stand
from sidetrip.plan.trials import Trial
from sidetrip.plan.ways import holdings
from sidetrip.showfile.check_show import check_show

Harm = tuple[int, int]
"""What a change costs: its rank in the module's docstring, then how much of it."""

OPEN, TAP, UNIT, WAY, MOVE, KEEP, MONO, STAND, STAY = range(9)


@dataclass(slots=True)
class Change:
    """One change. keys: the requests it is for, by their keys in the trial, where these differ.

    only: for whom it is, None for anybody. ports: what it frees.
    """

    words: str
    harm: Harm
    trial: Trial
    keys: Mapping[Key, Key] = field(default_factory=dict)
    only: frozenset[Key] | None = None
    ports: Ports | None = None
    keep: Ports | None = None

    def key(self, key: Key) -> Key | None:
        """Return what a request is called in the trial, None when the change is not for it."""
        return None if self.only is not None and key not in self.only else self.keys.get(key, key)


def changes_of(show: Show, desk: Desk, options: Options, served: frozenset[Key]) -> tuple[Change, ...]:
    """Return every single change but freed ports and somebody staying in. Nothing is solved yet."""
    refused = [request for request in options.requests if key_of(request) not in served]
    found = [*_opened(show, desk, options, refused, served), *_units(show, desk, refused), *_ways(show, desk, refused)]
    found += _taps(show, desk, options, refused)
    for stand in stands_of(show):
        found.append(Change(left_out(stand), (STAND, 0), Trial(without_stand(show, stand), desk)))
    wide = frozenset(
        key for request in refused if options.width[key := key_of(request)] == 2 and request.way == "insert"
    )
    if wide:
        found.append(Change("it were mono", (MONO, 0), Trial(show, desk, mono=wide, base=options), only=wide))
    return tuple(sorted(found, key=lambda change: change.harm))


def rooms(show: Show, desk: Desk, base: Options | None = None) -> tuple[Change, ...]:
    """Return the changes that free ports: of each keep the parts that blocks and choices make of it, then all of it."""
    found: list[Change] = []
    keeps = {keep.ports: keep.for_ for keep in show.keep}
    runs = {holding.ports for holding in holdings(show, desk)}
    for kept in keeps:
        runs |= set(_parts(kept, desk))
    for ports in sorted(runs, key=lambda run: (len(run), run)):
        kept_by = [kept for kept in keeps if _inside(ports, kept)]
        harm = (KEEP, len(ports)) if kept_by else (MOVE, len(ports))
        words = f"{ports} did not stay for {keeps[kept_by[0]]}" if kept_by else ""
        trial = Trial(show, desk, freed=ports, base=base)
        found.append(Change(words, harm, trial, ports=ports, keep=next(iter(kept_by), None)))
    return tuple(found)


def _parts(kept: Ports, desk: Desk) -> Iterator[Ports]:
    """Yield the parts of a keep: by block, by what choices cover and take, and a port or pair at either end."""
    runs = [block.feeds for block in desk.blocks]
    runs += [block.covered(choice) for block in desk.blocks for choice in block.choices]
    runs += [choice.from_ for block in desk.blocks for choice in block.choices if isinstance(choice.from_, Ports)]
    for run in runs:
        if run.overlaps(kept):
            yield Ports(kept.group, max(run.first, kept.first), min(run.last, kept.last))
    for width in (1, 2):
        if width < len(kept):
            yield Ports(kept.group, kept.first, kept.first + width - 1)
            yield Ports(kept.group, kept.last - width + 1, kept.last)
    yield kept


def _inside(ports: Ports, other: Ports) -> bool:
    return ports.group == other.group and other.first <= ports.first and ports.last <= other.last


class Rooms:
    """Finds the smallest runs of ports that serve when they are freed, many of them in one question.

    Freeing more ports never hurts: where a set of runs freed together does not serve, no run of it does.
    """

    def __init__(self, show: Show, desk: Desk, base: Options | None = None) -> None:
        """Make ready; nothing is solved yet. base: the options of the show as it is."""
        self._show, self._desk, self._base = show, desk, base
        self.all = rooms(show, desk, base)
        self._whole = tuple(one for one in self.all if not any(_part(one, other) for other in self.all))
        self._together: dict[tuple[int, ...], Trial] = {}

    def serving(self, serves: Callable[[Trial], bool], may: Callable[[Trial], bool]) -> list[Change]:
        """Return every run that serves and of which no part does, the smallest first.

        may: tells the same fast, where no is sure and yes is not.
        """
        if not self.all or not may(self.together(self._whole)) or not serves(self.together(self._whole)):
            return []
        whole = self._among(self._whole, may)
        found: list[Change] = []
        for change in self.all:
            inside = change in whole or any(_part(change, other) for other in whole)
            if inside and not any(_part(other, change) for other in found) and serves(change.trial):
                found.append(change)
        return found

    def _among(self, changes: tuple[Change, ...], may: Callable[[Trial], bool]) -> list[Change]:
        if len(changes) < 2:
            return [change for change in changes if may(change.trial)]
        if not may(self.together(changes)):
            return []
        half = len(changes) // 2
        return self._among(changes[:half], may) + self._among(changes[half:], may)

    def whole(self, change: Change) -> Change:
        """Return the largest run that a change is a part of, itself where it is whole or frees no ports."""
        return next((other for other in self._whole if _part(change, other)), change)

    def together(self, changes: tuple[Change, ...]) -> Trial:
        """Return the trial in which all these runs are free at once."""
        ids = tuple(id(change) for change in changes)
        if ids not in self._together:
            self._together[ids] = everything_freed(self._show, self._desk, changes, None, self._base)
        return self._together[ids]


def _part(one: Change, other: Change) -> bool:
    """Tell whether a change frees a part of what another frees, of the same keep."""
    return (
        one is not other
        and one.ports is not None
        and other.ports is not None
        and one.ports != other.ports
        and one.keep == other.keep
        and _inside(one.ports, other.ports)
    )


def freeing_words(show: Show, change: Change, found: Moved) -> str:
    """Say what frees ports, and where what sits on them could go."""
    assert change.ports is not None
    homes = {home.name: home for home in found.homes}
    going = []
    for item in on(show, change.ports):
        if item.name in homes:
            going.append(f"{item.name} moved to {homes[item.name]}")
        else:
            going.append(f"{item.name} moved off {item.port} (no port that it could take is free)")
    return " and ".join([change.words] * bool(change.words) + going)


def place(show: Show, desk: Desk, change: Change, serves: Callable[[Trial], bool]) -> Moved:
    """Find where what sits on the ports that a change frees could go, so that the show still serves."""
    ports = change.ports
    assert ports is not None
    return moved(show, desk, ports, lambda placed: serves(Trial(placed, desk, freed=ports)))


def _with(show: Show, changed: Mapping[Key, Request]) -> Show:
    requests = tuple(changed.get(key_of(request), request) for request in show.requests)
    return show.model_copy(update={"requests": requests})


def _checked(show: Show, desk: Desk, changed: Mapping[Key, Request]) -> tuple[Show, dict[Key, Request]]:
    """Return the show with requests changed, without those changes that its checks refuse."""
    keys = [key_of(request) for request in show.requests]
    good: dict[Key, Request] = {}
    names = set(keys)
    for key, new in sorted(changed.items(), key=lambda entry: entry[0]):  # of two that come to be one the first by name
        if key_of(new) == key or key_of(new) not in names:
            good[key] = new
            names.add(key_of(new))
    while good:
        own = _with(show, good)
        bad = {
            keys[int(finding.path[1])]
            for finding in check_show(own, desk)
            if has_errors([finding]) and finding.path[:1] == ("requests",) and len(finding.path) > 1
        }
        if not bad & set(good):
            return own, good
        good = {key: new for key, new in good.items() if key not in bad}
    return show, {}


def _change(words: str, harm: Harm, show: Show, desk: Desk, changed: Mapping[Key, Request]) -> Iterator[Change]:
    own, good = _checked(show, desk, changed)
    if good:
        keys = {key: key_of(new) for key, new in good.items()}
        yield Change(words, harm, Trial(own, desk), keys, frozenset(good))


def _opened(
    show: Show, desk: Desk, options: Options, refused: list[Request], served: frozenset[Key]
) -> Iterator[Change]:
    """Yield the changes that leave ports open which a request insists on."""
    pinned = {key_of(one): one.model_copy(update={"ports": None}) for one in refused if one.ports is not None}
    yield from _change("its ports were left open", (OPEN, 0), show, desk, pinned)
    for request in options.requests:
        key = key_of(request)
        if key in served and request.ports is not None:
            left = {key: request.model_copy(update={"ports": None})}
            words = f"'{request.strip}' could take other ports than {request.ports.returns}"
            own, good = _checked(show, desk, left)
            if good:
                yield Change(words, (OPEN, 1), Trial(own, desk, base=options))


def _units(show: Show, desk: Desk, refused: list[Request]) -> Iterator[Change]:
    """Yield the changes to another unit: a chain to another computer, what needs none to another box."""
    for unit in sorted(show.units, key=lambda unit: unit.name):
        runs_chains = unit.kind == "computer"
        changed = {
            key_of(request): request.model_copy(update={"unit": unit.name})
            for request in refused
            if request.unit not in (None, unit.name) and (request.chain is not None) == runs_chains
        }
        yield from _change(f"it went to '{unit.name}'", (UNIT, 0), show, desk, changed)


def _taps(show: Show, desk: Desk, options: Options, refused: list[Request]) -> Iterator[Change]:
    """Yield the changes by which ears that would get a loop too late take the strip before its insert."""
    for request in refused:
        key = key_of(request)
        for name in sorted({room.mix for room in options.ears if any(other == key for other, _ in room.adds)}):
            mix = show.mix(name)
            send = mix.from_.get(request.strip) if mix is not None else None
            place = "tap" if send is None or send.tie is None else "tie"
            if mix is None or send is None or request.way != "insert" or getattr(send, place) == _DRY:
                continue
            taken = send.model_copy(update={place: _DRY})
            dry = mix.model_copy(update={"from_": {**mix.from_, request.strip: taken}})
            own = show.model_copy(update={"mixes": tuple(dry if other is mix else other for other in show.mixes)})
            if not any(has_errors([finding]) for finding in check_show(own, desk)):
                words = f"{name} took it {_DRY}"
                yield Change(words, (TAP, 0), Trial(own, desk), only=frozenset((key,)))


_DRY = "before insert"

_SAID = {
    "insert": "it went by insert",
    "in-line": "it went in-line, with all of its block",
    "output": "the loop sat behind its output",
}


def _ways(show: Show, desk: Desk, refused: list[Request]) -> Iterator[Change]:
    """Yield the changes to another way. Whether a desk has it is left to the checks and the trial."""
    for way in get_args(Way):
        changed: dict[Key, Request] = {}
        for request in refused:
            strip = _there(show, request, way)
            if request.way != way and way in _SAID and strip is not None:
                changed[key_of(request)] = request.model_copy(update={"way": way, "strip": strip, "ports": None})
        yield from _change(_SAID.get(way, way), (WAY, 0), show, desk, changed)


def _there(show: Show, request: Request, way: str) -> str | None:
    """Return what a request would name in another way: a strip, or for the way output the only output of its mix."""
    if way == "output":
        fed = [output.name for output in show.outputs if output.from_ == request.strip]
        return fed[0] if len(fed) == 1 else None
    if request.way == "output":
        output = show.output(request.strip)
        return output.from_ if output is not None else None
    return request.strip


def together(show: Show, desk: Desk, one: Change, other: Change) -> Change | None:
    """Return two changes as one; None where they do not go together. The first must free ports."""
    if one.ports is None or (other.ports is not None and one.ports.overlaps(other.ports)):
        return None
    if other.ports is not None:
        bare = emptied(show, other.ports)
        trial = Trial(show, desk, freed=one.ports, ground_show=bare, base=one.trial.base)
    else:
        trial = Trial(other.trial.show, desk, freed=one.ports, mono=other.trial.mono)
    return Change("", max(one.harm, other.harm), trial, other.keys, other.only)


def everything_freed(
    show: Show, desk: Desk, found: tuple[Change, ...], beside: Change | None, base: Options | None = None
) -> Trial:
    """Return a trial in which all these ports are free at once: where that does not serve, no part of it does."""
    bare = show
    for change in found:
        if change.ports is not None:
            bare = emptied(bare, change.ports)
    if beside is None:
        return Trial(show, desk, ground_show=bare, base=base)
    theirs = beside.trial.show
    own = bare.model_copy(update={"requests": theirs.requests, "units": theirs.units})
    return Trial(beside.trial.show, desk, ground_show=own, mono=beside.trial.mono)


__all__ = ["Change", "Harm", "Rooms", "changes_of", "everything_freed", "freeing_words", "place", "rooms", "together"]
