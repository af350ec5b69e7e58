"""What else could go out: the runner-up and its price, and the want that flips the answer.

The runner-up is the best set by the same aims that serves at least one strip which stays in now.

A want flips the answer where another number, from 1 to 9, would change who goes out. Only lowering the want of a strip
that goes out, or raising that of one that stays in, can do so; and the set that then wins does not depend on the
number: it is the best without the one, or the best with the other. So one solution each tells the number.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Built, Choice, Key, Options, build_program, key_of, solve
from sidetrip.plan.likeness import Likeness
from sidetrip.plan.options import find_options
from sidetrip.plan.program import Row
from sidetrip.plan.ways import Ground, survey

_AT_ONCE = 2.0**16  # the largest weight in one aim: such sums stay exact in the solver
_LEVELS = range(9, 0, -1)

Counts = tuple[int, ...]
"""How many strips of each want go out, from 9 down to 1: compared as they stand, a higher want is never traded."""


@dataclass(frozen=True, slots=True)
class Instead:
    """Another set beside the one that goes out. ports: how many more lose what they had, below zero if fewer."""

    goes_out: tuple[str, ...]
    stays_in: tuple[str, ...]
    ports: int

    @property
    def words(self) -> str:
        """Say who is served instead, and what it costs, without a full stop."""
        words = f"{_and(self.goes_out) or 'nobody more'} {'go' if len(self.goes_out) > 1 else 'goes'} out"
        if self.stays_in:
            words += f", and {_and(self.stays_in)} {'stay' if len(self.stays_in) > 1 else 'stays'} in"
        if self.ports:
            many = abs(self.ports)
            kind = "more" if self.ports > 0 else "fewer"
            words += f"; {many} {kind} {'port loses' if many == 1 else 'ports lose'} what they had"
        return words


@dataclass(frozen=True, slots=True)
class Flip:
    """A want that changes who goes out when its number does. at: the nearest number that does."""

    strip: str
    way: str
    want: int
    at: int
    instead: Instead

    @property
    def words(self) -> str:
        """Say what flips the answer, without a full stop."""
        verb = "were raised" if self.at > self.want else "were lowered"
        return f"if the want of '{self.strip}' {verb} from {self.want} to {self.at}: {self.instead.words}"


def choose(
    show: Show, desk: Desk, ground: Ground, options: Options, *, must: Iterable[Key] = (), never: Iterable[Key] = ()
) -> Choice | None:
    """Return the best choice in which some go out and some stay in, whatever they want; None where there is none."""
    built = build_program(show, desk, ground, options)
    for rows in _told(built, must, never):
        built.program.row(*rows)
    return solve(built, options, ground, desk)


def _told(built: Built, must: Iterable[Key], never: Iterable[Key]) -> list[Row]:
    rows: list[Row] = [(built.of(key), 1, 1) for key in must]
    return rows + [(built.of(key), 0, 0) for key in never]


class Answers:
    """Asks about one solved choice; what is alike is solved once."""

    def __init__(self, show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice) -> None:
        """Make ready; nothing is solved before it is asked."""
        self._show, self._desk, self._ground, self._options, self._choice = show, desk, ground, options, choice
        self._likeness = Likeness(build_program(show, desk, ground, options))
        self._counted: dict[object, Counts | None] = {}
        self._now = self._counts_of(choice)

    @classmethod
    def of(cls, show: Show, desk: Desk) -> Answers | None:
        """Return the answers about a show as it is; None where its musts conflict."""
        ground = survey(show, desk)
        options = find_options(show, desk, ground)
        choice = choose(show, desk, ground, options)
        return cls(show, desk, ground, options, choice) if choice is not None else None

    @property
    def stay_in(self) -> tuple[Key, ...]:
        """Who asks and stays in."""
        return tuple(key for own in self._options.requests if (key := key_of(own)) not in self._choice.served)

    @property
    def refused(self) -> tuple[Key, ...]:
        """Who stays in and could go out at all."""
        return tuple(
            key_of(request)
            for request in self._options.requests
            if key_of(request) not in self._choice.served and self._options.able[key_of(request)]
        )

    def instead(self, other: Choice, show: Show | None = None) -> Instead:
        """Return how another choice differs from the one that is made."""
        wants = {key_of(request): request.want for request in (show or self._show).requests}
        new = sorted(set(other.served) - set(self._choice.served), key=lambda key: (_rank(wants[key]), key))
        gone = sorted(set(self._choice.served) - set(other.served), key=lambda key: (_rank(wants[key]), key))

        def named(keys: list[Key]) -> tuple[str, ...]:
            return tuple(f"{key[0]} ({wants[key]})" for key in keys)

        return Instead(named(new), named(gone), self._lost(other) - self._lost(self._choice))

    def runner_up(self) -> Instead | None:
        """Return the best set that serves somebody who stays in now; None where nobody of them can go out."""
        built = build_program(self._show, self._desk, self._ground, self._options)
        terms: dict[int, float] = {}
        for key in self.refused:
            terms |= built.of(key)
        if not terms:
            return None
        built.program.row(terms, low=1)
        other = solve(built, self._options, self._ground, self._desk)
        return None if other is None else self.instead(other)

    def best_with(self, key: Key) -> Instead | None:
        """Return the best set that has a strip which stays in; None where no set has."""
        if not self._options.able[key]:
            return None
        other = choose(self._show, self._desk, self._ground, self._options, must=(key,))
        return None if other is None else self.instead(other)

    def best_without(self, key: Key) -> Instead | None:
        """Return who goes out in place of a strip that does; None where nobody does, or where it must."""
        if any(key_of(request) == key and request.want == "must" for request in self._options.requests):
            return None
        other = choose(self._show, self._desk, self._ground, self._options, never=(key,))
        if other is None or set(other.served) < set(self._choice.served):
            return None
        beside = self.instead(other)
        return replace(beside, stays_in=tuple(name for name in beside.stays_in if name.rpartition(" (")[0] != key[0]))

    def flips(self) -> tuple[Flip, ...]:
        """Return the flip of every want that has one, the smallest change first."""
        found = [flip for request in self._options.requests if (flip := self.flip(request)) is not None]
        return tuple(sorted(found, key=lambda flip: (abs(flip.at - flip.want), -flip.want, flip.strip, flip.way)))

    def nearest_flips(self, most: int) -> tuple[Flip, ...]:
        """Return the flips of the smallest change, no more than `most` of them."""
        at = [(request, number) for request in self._options.requests if (number := self._at(request)) is not None]
        at.sort(key=lambda own: (abs(own[1] - int(own[0].want)), -int(own[0].want), key_of(own[0])))
        return tuple(self._flip(request, number) for request, number in at[:most])

    def flip(self, request: Request) -> Flip | None:
        """Return the nearest number of a want that changes who goes out, and who does then."""
        at = self._at(request)
        return None if at is None else self._flip(request, at)

    def _flip(self, request: Request, at: int) -> Flip:
        other = self._with_want(request, at)
        return Flip(request.strip, request.way, int(request.want), at, self.instead(other))

    def _at(self, request: Request) -> int | None:
        if request.want == "must" or not self._options.able[key_of(request)]:
            return None
        want, key = int(request.want), key_of(request)
        out = key in self._choice.served
        numbers = range(want - 1, 0, -1) if out else range(want + 1, 10)
        if not numbers:
            return None
        if self._show.trade == "sum":
            return next((number for number in numbers if self._changes(request, number)), None)
        other = self._best_otherwise(key, out=out)
        if other is None:
            return None
        for number in numbers:
            now, then = self._now, other
            if out:
                now = _plus(_plus(now, want, -1), number, 1)
            else:
                then = _plus(_plus(then, want, -1), number, 1)
            if then > now or (then == now and self._changes(request, number)):
                return number
        return None

    def _changes(self, request: Request, number: int) -> bool:
        return set(self._with_want(request, number).served) != set(self._choice.served)

    def _with_want(self, request: Request, number: int) -> Choice:
        changed = request.model_copy(update={"want": number})
        requests = tuple(changed if own is request else own for own in self._options.requests)
        show = self._show.model_copy(
            update={
                "requests": tuple(changed if key_of(own) == key_of(request) else own for own in self._show.requests)
            }
        )
        found = choose(show, self._desk, self._ground, replace(self._options, requests=requests))
        assert found is not None, "no must has changed"
        return found

    def _best_otherwise(self, key: Key, *, out: bool) -> Counts | None:
        """Return how many of each want the best set serves without a strip that goes out, or with one that stays in."""
        wants = {key_of(request): request.want for request in self._options.requests}
        alike = (out, wants[key], self._likeness.of(key))
        if alike not in self._counted:
            built = build_program(self._show, self._desk, self._ground, self._options)
            for row in _told(built, () if out else (key,), (key,) if out else ()):
                built.program.row(*row)
            self._counted[alike] = self._best_counts(built)
        return self._counted[alike]

    def _best_counts(self, built: Built) -> Counts | None:
        """Solve for the wants alone, several levels in one aim as far as their sum stays exact."""
        levels = {
            level: {
                index: 1.0
                for request in self._options.requests
                if request.want == level
                for index in built.of(key_of(request))
            }
            for level in _LEVELS
        }
        aims: list[dict[int, float]] = [{}]
        scale = 1.0
        for level in reversed(_LEVELS):
            many = len([request for request in self._options.requests if request.want == level])
            if scale * (many + 1) > _AT_ONCE:
                aims.append({})
                scale = 1.0
            aims[-1] |= dict.fromkeys(levels[level], scale)
            scale *= many + 1
        values: list[int] | None = None
        for aim in reversed(aims):
            values = built.program.maximise(aim)
            if values is None:
                return None
        assert values is not None
        return tuple(sum(values[index] for index in levels[level]) for level in _LEVELS)

    def _counts_of(self, choice: Choice) -> Counts:
        served = [request for request in self._options.requests if key_of(request) in choice.served]
        return tuple(sum(request.want == level for request in served) for level in _LEVELS)

    def _lost(self, choice: Choice) -> int:
        return sum(len(self._ground.lost(self._desk, setting) or ()) for setting in choice.settings)


def _plus(counts: Counts, level: int, more: int) -> Counts:
    at = 9 - level
    return (*counts[:at], counts[at] + more, *counts[at + 1 :])


def _and(names: tuple[str, ...]) -> str:
    return " and ".join([", ".join(names[:-1])] * bool(names[:-1]) + list(names[-1:]))


def _rank(want: int | str) -> int:
    return -10 if want == "must" else -int(want)


__all__ = ["Answers", "Flip", "Instead", "choose"]
