"""May these go out together? One built program, asked many times; of requests that are alike, one answer holds for all.

What fits with the heavier of two fits with the lighter. Before a change is tried in full it is tried without limits for
ears, which is fast and tells what cannot fit.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Limits, Show
from sidetrip.plan.allocation import Built, Key, Options, build_program
from sidetrip.plan.likeness import Kind, Likeness, Weights
from sidetrip.plan.options import find_options
from sidetrip.plan.program import Row, Wider
from sidetrip.plan.ways import Ground, survey


@dataclass(slots=True)
class _Known:
    """Answers by how hard the question was: (weights, whether it fits)."""

    fits: list[Weights] = field(default_factory=list)
    fails: list[Weights] = field(default_factory=list)

    def answer(self, weights: Weights) -> bool | None:
        if any(_no_harder(weights, other) for other in self.fits):
            return True
        return False if any(_no_harder(other, weights) for other in self.fails) else None


def _no_harder(one: Weights, other: Weights) -> bool:
    return all(mine <= theirs for mine, theirs in zip(one, other, strict=True))


def loosened(show: Show) -> Show:
    """Return the show in which ears accept anything and nothing is protected: what goes out in it is told fast."""
    limits = show.limits
    if not show.never and limits.ear_total_ms is None and limits.ear_added_ms is None:
        return show
    return show.model_copy(update={"limits": Limits(), "never": ()})


@dataclass(slots=True)
class _Groups:
    """Requests that are alike, one of which stands for all. members: by who stands for them. wider: its bounds."""

    members: dict[Key, list[Key]]
    wider: Wider


@dataclass(slots=True)
class Trial:
    """A show and desk, perhaps with a change made, and who must go out in it. Built when first asked.

    show, ground_show: the show asked about, and the show from which the ground is surveyed. given: ground and options
    where they are known already. mono: requests taken as one leg wide. base: the options of the same requests with
    fewer ports free.
    """

    show: Show
    desk: Desk
    freed: Ports | None = None
    ground_show: Show | None = None
    mono: frozenset[Key] = frozenset()
    with_loads: bool = True
    given: tuple[Ground, Options] | None = None
    base: Options | None = None
    asked: int = 0
    _known: dict[object, _Known] = field(default_factory=dict)
    _cheapest: dict[object, tuple[Key, ...]] = field(default_factory=dict)
    _made: tuple[Ground, Options, Built, Likeness] | None = None
    _loose: Trial | None = None
    _strict: Trial | None = None
    _terms: dict[Key, dict[int, float]] = field(default_factory=dict)

    def _make(self) -> tuple[Ground, Options, Built, Likeness]:
        if self._made is None:
            if self.given is not None:
                ground, options = self.given
            else:
                ground = survey(self.ground_show or self.show, self.desk, freed=self.freed)
                known = self.base if self.mono and self.freed is None and self.ground_show is None else None
                options = known or find_options(self.show, self.desk, ground)
            if self.mono:
                options = self._narrow(ground, options)
            built = build_program(self.show, self.desk, ground, options, with_loads=self.with_loads, musts=False)
            self._made = ground, options, built, Likeness(built)
        return self._made

    def _narrow(self, ground: Ground, options: Options) -> Options:
        """Return the options with some requests one leg wide, and what can serve them then."""
        strips = {strip for strip, _ in self.mono}
        inputs = tuple(
            item.model_copy(update={"port": Ports(item.port.group, item.port.first, item.port.first)})
            if item.name in strips
            else item
            for item in self.show.inputs
        )
        mixes = tuple(
            mix.model_copy(update={"width": "mono"}) if mix.name in strips else mix for mix in self.show.mixes
        )
        show = self.show.model_copy(update={"inputs": inputs, "mixes": mixes})
        narrow = find_options(loosened(show), self.desk, ground)
        able = {key: () if key in options.protected else narrow.able[key] for key in self.mono}
        ears = options.ears
        if any(set(units) - set(options.able[key]) for key, units in able.items()):  # somebody new may reach ears
            narrow = find_options(show, self.desk, ground)
            able, ears = {key: narrow.able[key] for key in self.mono}, narrow.ears
        return replace(options, width=options.width | dict.fromkeys(self.mono, 1), able=options.able | able, ears=ears)

    def _looser(self) -> Trial | None:
        """Return the trial in which ears accept anything and nothing is protected, while this one is not built.

        It is built much faster, and what does not fit in it does not fit here either.
        """
        if self._made is not None or self.given is not None or loosened(self.show) is self.show:
            return None
        if self._loose is None:
            show, ground_show = loosened(self.show), self.ground_show or self.show
            self._loose = Trial(show, self.desk, self.freed, ground_show, self.mono, self.with_loads)
        return self._loose

    def _stricter(self) -> Trial | None:
        """Return the trial that asks as much for ears as with fewer ports free; what fits in it fits here too.

        More ports make no loop later; and nobody goes out in it who could not before.
        """
        loose, base = self._loose, self.base
        if loose is None or base is None or self._made is not None:
            return None
        if self._strict is None:
            able = {
                key: () if key in base.protected else tuple(unit for unit in units if unit in base.able.get(key, ()))
                for key, units in loose.options.able.items()
            }
            options = replace(loose.options, able=able, ears=base.ears, protected=base.protected, in_line=base.in_line)
            self._strict = Trial(self.show, self.desk, with_loads=self.with_loads, given=(loose.ground, options))
        return self._strict

    @property
    def ground(self) -> Ground:
        """What is free in it."""
        return self._make()[0]

    @property
    def options(self) -> Options:
        """What is allowed in it."""
        return self._make()[1]

    @property
    def built(self) -> Built:
        """Its program."""
        return self._make()[2]

    def kind(self, key: Key) -> tuple[Kind, Weights]:
        """Return how a request stands in it."""
        return self._make()[3].of(key)

    def terms(self, key: Key) -> dict[int, float]:
        """Return the sum of a request's variables, 1 when it goes out; empty where it cannot."""
        if key not in self._terms:
            self._terms[key] = self.built.of(key)
        return self._terms[key]

    def fits(self, keys: Collection[Key], new: Key, *, without: Key | None = None) -> bool:
        """Tell whether a request can go out beside others, one of which may be told to stay in.

        keys: the same at every call, but for `new`.
        """
        loose = self._looser()
        if loose is not None and not loose.fits(keys, new, without=without):
            return False
        strict = self._stricter()
        if strict is not None and strict.fits(keys, new, without=without):
            return True
        if not self.terms(new):
            return False
        question, weights = self._question(new, without)
        known = self._known.setdefault(question, _Known())
        answer = known.answer(weights)
        if answer is None:
            answer = self._ask([*(key for key in keys if key not in (without, new)), new])
            (known.fits if answer else known.fails).append(weights)
        return answer

    def may_fit(self, keys: Collection[Key], new: Key) -> bool:
        """Tell fast whether a request may go out beside others; no is sure, yes is not."""
        loose = self._looser()
        return (loose or self).fits(keys, new)

    def _question(self, new: Key, without: Key | None) -> tuple[object, Weights]:
        kind, weights = self.kind(new)
        if without is None:
            return kind, weights
        other, their = self.kind(without)
        return (kind, other), (*weights, *(-weight for weight in their))

    def whose_staying_serves(self, keys: Collection[Key], new: Key, others: Sequence[Key]) -> list[Key]:
        """Return those of the others each of whose staying in, alone, makes room for a request beside all keys.

        As many as can be are told at once: one answer that nobody's staying serves holds for all that are left, and
        one solution in which somebody stays in is tried with each of the others in its place.
        """
        if not self.terms(new):
            return []
        left = [key for key in others if key in keys and self.terms(key)]
        found = [key for key in others if key in keys and not self.terms(key)]
        while True:
            open_ = [key for key in left if self._told(new, key) is None]
            if not open_:
                return sorted(found + [key for key in left if self._told(new, key)], key=list(others).index)
            groups = self._grouped([*(key for key in keys if key != new), new], set(open_))
            free = [one for one, members in groups.members.items() if members[0] in open_]
            values = self._with_one_in(groups, new, free)
            if values is None:
                for key in free:
                    self._learn(new, key, False)
                continue
            gone = [one for one in free if self._count(values, one) < len(groups.members[one])]
            for key in gone or free:
                self._learn(new, key, True)
            for key in free:
                if gone and self._told(new, key) is None and self._swaps(values, gone[0], key, groups.wider):
                    self._learn(new, key, True)

    def _grouped(self, keys: list[Key], apart: set[Key]) -> _Groups:
        """Gather requests that are alike. apart: those that are not to be mixed with the others."""
        likeness, upper = self._make()[3], self.built.program.upper
        members: dict[Key, list[Key]] = {}
        standing: dict[object, Key] = {}
        for key in keys:
            once = likeness.once(key)
            one = key if once is None else standing.setdefault((key in apart, *likeness.of(key)), key)
            members.setdefault(one, []).append(key)
        many = {one: len(own) for one, own in members.items() if len(own) > 1}
        variables = {index: count * upper[index] for one, count in many.items() for index in self.terms(one)}
        rows = {once: float(count) for one, count in many.items() if (once := likeness.once(one)) is not None}
        return _Groups(members, Wider(variables, rows))

    def _told(self, new: Key, without: Key) -> bool | None:
        question, weights = self._question(new, without)
        return self._known.setdefault(question, _Known()).answer(weights)

    def _learn(self, new: Key, without: Key, serves: bool) -> None:
        question, weights = self._question(new, without)
        known = self._known.setdefault(question, _Known())
        (known.fits if serves else known.fails).append(weights)

    def _count(self, values: list[int], key: Key) -> int:
        return sum(values[index] for index in self.terms(key))

    def _with_one_in(self, groups: _Groups, new: Key, free: list[Key]) -> list[int] | None:
        """Return a solution in which the request goes out with all others, but for at most one of the free groups."""
        rows: list[Row] = []
        spared: dict[int, float] = {}
        for one, members in groups.members.items():
            if one in free:
                spared |= self.terms(one)
            else:
                rows.append((self.terms(one), len(members), len(members)))
        if not all(terms for terms, _, _ in rows):
            return None
        rows.append((spared, sum(len(groups.members[one]) for one in free) - 1, float("inf")))
        self.asked += 1
        return self._find(rows, groups)

    def _swaps(self, values: list[int], gone: Key, key: Key, wider: Wider) -> bool:
        """Tell whether who stays in could take the place of another in a solution, on the same unit."""
        served = self.built.served
        for (own, unit), index in served.items():
            if own == key and values[index] and (gone, unit) in served:
                tried = list(values)
                tried[index] -= 1
                tried[served[gone, unit]] += 1
                return self.built.program.satisfied(tried, wider)
        return False

    def _idle(self, asked: set[Key]) -> list[Row]:
        """Return rows that leave everybody in who is not asked about: whoever else goes out makes no room."""
        return [({index: 1.0}, 0, 0) for (key, _), index in self.built.served.items() if key not in asked]

    def may_all_fit(self, keys: Iterable[Key]) -> bool:
        """Tell fast whether all of these may go out together; no is sure, yes is not."""
        return (self._looser() or self).all_fit(keys)

    def all_fit(self, keys: Iterable[Key]) -> bool:
        """Tell whether all of these can go out together."""
        asked = list(keys)
        loose = self._looser()
        return (loose is None or loose.all_fit(asked)) and self._ask(asked)

    def _ask(self, keys: list[Key]) -> bool:
        self.asked += 1
        if not all(self.terms(key) for key in keys):
            return False
        groups = self._grouped(keys, set())
        rows = [(self.terms(one), len(own), len(own)) for one, own in groups.members.items()]
        return self._find(rows, groups) is not None

    def _find(self, rows: Sequence[Row], groups: _Groups) -> list[int] | None:
        asked = [*rows, *self._idle(set(groups.members))]
        return self.built.program.find(asked, groups.wider, tuple(self.built.choices.values()))

    def cheapest_without(
        self, keys: Collection[Key], new: Key, most: int, price: Callable[[Key], float]
    ) -> tuple[Key, ...] | None:
        """Return whose staying in makes room for a request at the least price in all; None where `most` do not.

        keys: who else must go out; price: of their staying in; both the same at every call. A key whose price is
        infinite goes out whatever happens.
        """
        loose = self._looser()
        if loose is not None and loose.cheapest_without(keys, new, most, price) is None:
            return None
        built = self.built
        own = self.terms(new)
        kind, weights = self.kind(new) if own else ((), ())
        known = self._known.setdefault(("without", most, kind), _Known())
        if not own or known.answer(weights) is False:
            return None
        if (most, kind, weights) in self._cheapest:
            return self._cheapest[most, kind, weights]
        others = sorted(key for key in keys if key != new)
        rows: list[Row] = [(own, 1, 1)]
        aim: dict[int, float] = {}
        spared: dict[int, float] = {}
        for key in others:
            terms = self.terms(key)
            if price(key) == float("inf"):
                if not terms:
                    return None
                rows.append((terms, 1, 1))
            else:
                aim |= dict.fromkeys(terms, price(key))
                spared |= terms
        rows.append((spared, sum(price(key) != float("inf") for key in others) - most, float("inf")))
        self.asked += 1
        values = built.program.best(aim, [*rows, *self._idle({*others, new})])
        if values is None:
            known.fails.append(weights)
            return None
        found = tuple(key for key in others if not self._count(values, key))
        self._cheapest[most, kind, weights] = found
        return found


__all__ = ["Trial", "loosened"]
