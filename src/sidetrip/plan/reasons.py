"""Why a strip stays in, what would serve it, which musts conflict, and where only the name decided."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Choice, Key, Options, build_program, key_of
from sidetrip.plan.changes import Change, Rooms, changes_of, freeing_words, place
from sidetrip.plan.likeness import Kind, Likeness, Weights
from sidetrip.plan.options import find_options
from sidetrip.plan.pairs import Pair, Pairs
from sidetrip.plan.program import Row as SumRow
from sidetrip.plan.rules import sibling_pairs
from sidetrip.plan.stand_in import Stand, left_out, no_load, no_room, stands_of, without_stand
from sidetrip.plan.trials import Trial
from sidetrip.plan.ways import Ground, survey
from sidetrip.showfile.check_strips import is_voice_alarm
from sidetrip.units import ms_from_seconds


@dataclass(frozen=True, slots=True)
class Refusal:
    """A strip that stays in.

    would_fit_if: single changes, each of which alone would serve it beside all that goes out, the cheapest first.
    pair: the cheapest two that do so together, where no single one does; empty where none do either. tried: how many
    single changes, and pairs of them, were tried.
    """

    strip: str
    want: int | str
    chain: str | None
    reason: str
    would_fit_if: tuple[str, ...]
    pair: tuple[str, ...] = ()
    tried: int = 0
    way: str = "insert"

    @property
    def words(self) -> str:
        """What would serve it, as one sentence without its full stop."""
        if self.would_fit_if:
            return f"It would go out if {' or if '.join(self.would_fit_if)}"
        if self.pair:
            return f"No single change serves it; it would go out if {' and '.join(self.pair)}"
        return f"None of {self.tried} changes tried, single and in pairs, would serve it: leave it in"


@dataclass(frozen=True, slots=True)
class Serving:
    """What would serve a strip that stays in: the single changes, the cheapest first, then who could stay in for it.

    pair: where there is neither, the cheapest two together, a strip that would stay in by its words.
    """

    changes: tuple[Change, ...]
    staying: tuple[Key, ...]
    pair: Pair | tuple[()]
    tried: int


def staying_words(strip: str) -> str:
    """Say that a strip stays in, as words that follow "if"."""
    return f"'{strip}' stayed in"


def rank(request: Request) -> tuple[int, Key]:
    """Return the order in which requests get their ports: musts, high wants, names."""
    return (-10 if request.want == "must" else -int(request.want), key_of(request))


def conflict(show: Show, desk: Desk, ground: Ground, options: Options) -> list[Finding]:
    """Name a set of musts that cannot be had together, none of which can be spared from it, and what would free it."""
    musts = [request for request in options.requests if request.want == "must"]
    alone = [request for request in musts if not options.able[key_of(request)]]
    if alone:
        return [
            _conflicting(
                show, [request], f"'{request.strip}' must go out, but {options.refused[key_of(request)]}{cure}"
            )
            for request in alone
            for cure in [
                "".join(f"; it could, if {words}" for words in _stands_left_out(show, desk, [key_of(request)]))
            ]
        ]
    trial = Trial(show, desk, given=(ground, options))
    needed = list(musts)
    for request in musts:
        fewer = [other for other in needed if other is not request]
        if not trial.all_fit(key_of(other) for other in fewer):
            needed = fewer
    keys = [key_of(request) for request in needed]
    found = Rooms(show, desk, options).serving(lambda trial: trial.all_fit(keys), lambda trial: trial.may_all_fit(keys))
    changes = [
        freeing_words(show, change, place(show, desk, change, lambda trial: trial.all_fit(keys))) for change in found
    ]
    changes += _stands_left_out(show, desk, keys)
    names = ", ".join(f"'{request.strip}'" for request in needed)
    words = f"These musts cannot be met together: {names}"
    if changes:
        words += f"; they could, if {' or if '.join(changes)}"
    return [_conflicting(show, needed, words)]


def _on_its_own(show: Show, desk: Desk, options: Options, stand: Stand) -> Trial:
    """Return the trial in which nobody must be able to take over from a unit, and all go where they could before."""
    alone = without_stand(show, stand)
    ground = survey(alone, desk)
    free = find_options(alone, desk, ground)
    able = {key: tuple(unit for unit in units if unit in options.able[key]) for key, units in free.able.items()}
    return Trial(alone, desk, given=(ground, replace(free, able=able)))


def _stands_left_out(show: Show, desk: Desk, keys: list[Key]) -> list[str]:
    """Return the units that stand in without which all of these could go out, in words that follow "if"."""
    return [left_out(stand) for stand in stands_of(show) if Trial(without_stand(show, stand), desk).all_fit(keys)]


def _conflicting(show: Show, requests: list[Request], words: str) -> Finding:
    values = "; ".join(f"{request.strip}, {show.legs(request.strip)} wide" for request in requests)
    remedy = "Make one of them a want of 1 to 9, or free what stands in the way"
    return Finding(
        "musts-conflict",
        "requests",
        words,
        values,
        remedy,
        ("requests", show.requests.index(requests[0]), "want"),
    )


def refusals_of(
    show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice, loops: tuple[PlacedLoop, ...]
) -> tuple[tuple[Refusal, ...], list[Finding]]:
    """Return every request that stays in, with its reason, and a finding for each."""
    explainer = Explainer(show, desk, ground, options, choice, loops)
    refused = sorted((request for request in options.requests if key_of(request) not in choice.served), key=rank)
    refusals = explainer.explain_all(refused)
    findings: list[Finding] = []
    for request, refusal in zip(refused, refusals, strict=True):
        key = key_of(request)
        findings.append(
            Finding(
                _code(options.protected.get(key)),
                f"requests / {request.strip}",
                f"'{request.strip}' stays in: {refusal.reason}",
                f"want {request.want}",
                refusal.words,
                ("requests", show.requests.index(request)),
            )
        )
    return refusals, findings


def _code(protected: str | None) -> str:
    if protected is None:
        return "request-refused"
    return "voice-alarm-loop" if is_voice_alarm(protected) else "never-passes"


class Explainer:
    """Explains refusals of one allocation; what one of them has found out serves the next."""

    def __init__(
        self,
        show: Show,
        desk: Desk,
        ground: Ground,
        options: Options,
        choice: Choice,
        loops: tuple[PlacedLoop, ...],
        only: Request | None = None,
    ) -> None:
        """Make ready; nothing is solved before it is asked. only: the one request that will be, which is faster."""
        if only is not None:  # whoever else stays in makes no difference to it
            kept = {*choice.served, key_of(only)}
            requests = tuple(request for request in show.requests if key_of(request) in kept)
            show = show.model_copy(update={"requests": requests})
            own = tuple(request for request in options.requests if key_of(request) in kept)
            beside = {entry: way for entry, way in options.parallel.items() if entry[0] in kept}
            options = replace(options, requests=own, parallel=beside)
        self._show, self._desk, self._options, self._loops = show, desk, options, loops
        self._units, self._served = choice.served, frozenset(choice.served)
        given = ground, options
        self._base = Trial(show, desk, given=given)
        self._unloaded = Trial(show, desk, with_loads=False, given=given)
        slow = tuple(request.model_copy(update={"one_press": False}) for request in options.requests)
        anything = replace(options, ears=(), requests=slow)
        self._unbound = Trial(show, desk, with_loads=False, given=(ground, anything))
        self._any_ears = Trial(show, desk, given=(ground, replace(options, ears=())))
        self._any_keys = Trial(show, desk, given=(ground, replace(options, requests=slow)))
        self._without = [(stand, _on_its_own(show, desk, options, stand)) for stand in options.stands]
        self._limited = any(unit.load_limit is not None for unit in show.units)
        self._pressed = any(request.one_press for request in options.requests)
        self._rooms = Rooms(show, desk, options)
        self._changes = changes_of(show, desk, options, self._served)
        self._stays = sorted(
            (request for request in options.requests if key_of(request) in self._served and request.want != "must"),
            key=rank,
            reverse=True,
        )
        self._said: dict[int, list[tuple[Trial, str]]] = {}
        self._pairs = Pairs(show, desk, self._base, self._changes, self._rooms, self._served, self._stays)

    def explain_all(self, requests: Sequence[Request]) -> tuple[Refusal, ...]:
        """Explain many, each as `explain` does. Of those that differ in weight the lightest and heaviest go first:

        what the lightest cannot have no other can, and what the heaviest can have all others can.
        """
        alike: defaultdict[Kind, list[tuple[Weights, int]]] = defaultdict(list)
        for number, request in enumerate(requests):
            kind, weights = self._base.kind(key_of(request))
            alike[kind].append((weights, number))
        order: list[int] = []
        for entries in alike.values():
            entries.sort()
            order += [number for _, number in (entries[0], entries[-1], *entries[1:-1])]
        found = {number: self.explain(requests[number]) for number in order}
        return tuple(found[number] for number in range(len(requests)))

    def explain(self, request: Request) -> Refusal:
        """Return the reason, and every smallest single change that would serve it; else the cheapest pair."""
        key, found = key_of(request), self.serving(request)
        changes = [self._words(change, key) for change in found.changes]
        changes += [staying_words(strip) for strip, _ in found.staying]
        pair = tuple(each if isinstance(each, str) else self._words(each, None) for each in found.pair)
        reason = self._reason(key)
        return Refusal(
            request.strip, request.want, request.chain, reason, tuple(changes), pair, found.tried, request.way
        )

    def serving(self, request: Request) -> Serving:
        """Return what would serve a request, as `explain` puts it in words."""
        key = key_of(request)
        protected = key in self._options.protected  # on any ports and any unit
        own = [
            (change, there)
            for change in self._changes
            if (there := change.key(key)) is not None and not (protected and there == key)
        ]
        found = [change for change, there in own if change.trial.fits(self._served, there)]
        if not protected:
            found += self._rooms.serving(
                lambda trial: trial.fits(self._served, key), lambda trial: trial.may_fit(self._served, key)
            )
        found.sort(key=lambda change: change.harm)
        tried = len(own) + len(self._rooms.all) + len(self._stays)
        stays = [key_of(other) for other in self._stays]
        staying = tuple(self._base.whose_staying_serves(self._served, key, stays))
        pair: Pair | tuple[()] = ()
        if not found and not staying:
            pair, count = self._pairs.cheapest(key)
            tried += count
        return Serving(tuple(found), staying, pair, tried)

    def _words(self, change: Change, key: Key | None) -> str:
        """Say what a change is, and where what must move could go. key: whom it must serve alone, None in a pair."""
        if change.ports is None:
            return change.words
        said = self._said.setdefault(id(change), [])
        for trial, words in said:
            if key is None or trial.fits(self._served, key):
                return words

        def serves(trial: Trial) -> bool:
            return key is None or trial.fits(self._served, key)

        found = place(self._show, self._desk, change, serves)
        words = freeing_words(self._show, change, found)
        said.append((Trial(found.show, self._desk, freed=change.ports), words))
        return words

    def _reason(self, key: Key) -> str:
        options = self._options
        if key in options.refused:
            return options.refused[key]
        for stand, trial in self._without:
            if stand.unit in options.able[key] and trial.fits(self._served, key):
                loaded = self._limited and self._unloaded.fits(self._served, key)
                return no_load(stand) if loaded else no_room(stand, options.width[key])
        if not self._unbound.fits(self._served, key):
            return self._no_port(key)
        if self._limited and self._unloaded.fits(self._served, key):
            return f"{' or '.join(options.able[key])} has no load left for it"
        if options.ears and self._any_ears.fits(self._served, key):
            return self._too_late(key)
        if self._pressed and self._any_keys.fits(self._served, key):
            return "no key of the desk is left that would take it OUT in one press"
        return self._no_port(key)

    def _no_port(self, key: Key) -> str:
        options = self._options
        held: defaultdict[str, list[str]] = defaultdict(list)
        for loop in sorted(self._loops, key=lambda loop: loop.returns):
            if loop.unit in options.able[key]:
                held[loop.unit].append(f"{loop.returns} {loop.name}")
        pair = "a pair of neighbouring ports" if self._desk.stereo == "any pair" else "an odd-even pair of ports"
        width = pair if options.width[key] == 2 else "a port"
        holders = "; ".join(", ".join(names) for _, names in sorted(held.items()))
        return f"{width} is needed out and back, and none is left beside {holders or 'what stays as it is'}"

    def _too_late(self, key: Key) -> str:
        """Say whose ears would get it too late beside the loops that they hear already."""
        for room in self._options.ears:
            own = [seconds for (other, _), seconds in room.adds.items() if other == key]
            beside = {other: seconds for other, seconds in room.adds.items() if self._units.get(other[0]) == other[1]}
            if own and min(own) + sum(beside.values()) > room.room_s:
                late = f"{ms_from_seconds(min(own)):.2f} ms more for {room.source} in {room.mix}"
                names = ", ".join(sorted({other[0] for other, _ in beside}))
                return f"it is {late}, and {room.what} leaves no room for it beside {names}"
            for line in self._options.in_line if key[1] == "in-line" else ():
                seconds, (other, _) = room.along.get(line.setting, (0.0, (key, "")))
                if line.holds(key[0]) and other != key and seconds + sum(beside.values()) > room.room_s:
                    late = f"{ms_from_seconds(seconds):.2f} ms later for {room.source} in {room.mix}"
                    return f"{other[0]} would go along with it, {late}, and {room.what} leaves no room for that"
        return "ears would get it later than the show's limits, beside the loops that they hear already"


def ties(show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice) -> list[Finding]:
    """Say where equal wants competed and only the name decided: one could go out in place of the other."""
    fixed = [request for request in options.requests if key_of(request) in choice.served]
    built = build_program(show, desk, ground, options, musts=False)
    likeness = Likeness(built)
    lost = {index: float(len(ground.lost(desk, setting) or ())) for setting, index in built.choices.items()}
    as_many = (lost, 0.0, sum(lost[built.choices[setting]] for setting in choice.settings if setting in built.choices))
    as_good: list[SumRow] = [as_many]
    if built.apart:
        torn = sum((one in choice.served) != (other in choice.served) for one, other in sibling_pairs(show, options))
        as_good.append((built.apart, -float(torn), float("inf")))
    if built.places:
        as_good.append((built.places, float(sum(choice.stereo.values()) + sum(choice.mono.values())), float("inf")))
    answers: dict[tuple[object, object], bool] = {}

    def aimed(key: Key) -> tuple[float, ...]:
        """Return what a request counts for by itself where siblings are torn apart."""
        return tuple(built.apart.get(index, 0.0) for index in built.of(key))

    def exchangeable(one: Request, other: Request) -> bool:
        first, second = key_of(one), key_of(other)
        kinds = (likeness.of(first), aimed(first)), (likeness.of(second), aimed(second))
        if kinds not in answers:
            terms = [built.of(key_of(request)) for request in fixed if request is not one] + [built.of(key_of(other))]
            wanted = [*((term, 1.0, 1.0) for term in terms), *as_good]
            answers[kinds] = kinds[0] == kinds[1] or (all(terms) and built.program.feasible(wanted))
        return answers[kinds]

    found = []
    for level in range(9, 0, -1):
        own = [request for request in options.requests if request.want == level and options.able[key_of(request)]]
        out = [request for request in own if key_of(request) in choice.served]
        stay = [request for request in own if key_of(request) not in choice.served]
        rivals = [(one, other) for one in out for other in stay if exchangeable(one, other)]
        if rivals:
            went = ", ".join(dict.fromkeys(one.strip for one, _ in rivals))
            stayed = ", ".join(sorted({other.strip for _, other in rivals}))
            values = f"want {level}: out {went}; in {stayed}"
            remedy = "Give them different wants, so that you decide and not the alphabet"
            what = "Equal wants compete and the name decided"
            found.append(Finding("tie", "requests", what, values, remedy, ("requests",)))
    return found


__all__ = ["Explainer", "Refusal", "Serving", "conflict", "rank", "refusals_of", "staying_words", "ties"]
