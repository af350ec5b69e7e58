"""The changes that would serve a strip which stays in, as shows: each can be made with one press.

What is said of a change is what `reasons` says of it. A change that nothing but hands can make has no show: an input
would have to move and no port is free for it, or a pair of microphones would have to become one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.allocation import Key, build_program, key_of, solve
from sidetrip.plan.assign import Allocation
from sidetrip.plan.changes import Change, freeing_words, place
from sidetrip.plan.options import find_options
from sidetrip.plan.reasons import Explainer, staying_words
from sidetrip.plan.trials import Trial
from sidetrip.plan.ways import survey


@dataclass(frozen=True, slots=True)
class Mend:
    """A change. words: what follows "if". key: what the request is called then. show: with the change; None by hand."""

    words: str
    key: Key
    show: Show | None


def mends(show: Show, desk: Desk, allocation: Allocation, key: Key) -> tuple[Mend, ...]:
    """Return the single changes that would serve a request which stays in, the cheapest first; none for any other.

    allocation: of the same show and desk.
    """
    request = next((one for one in show.requests if key_of(one) == key), None)
    if request is None or all((one.strip, one.way) != key for one in allocation.refusals):
        return ()
    ground = survey(show, desk)
    options = find_options(show, desk, ground)
    choice = solve(build_program(show, desk, ground, options), options, ground, desk)
    if choice is None:
        return ()
    served = frozenset(choice.served)
    explainer = Explainer(show, desk, ground, options, choice, allocation.loops)
    found = explainer.serving(request)
    return (
        *(_mend(show, desk, served, change, key) for change in found.changes),
        *(_staying(show, key, other) for other in found.staying),
    )


def _mend(show: Show, desk: Desk, served: frozenset[Key], change: Change, key: Key) -> Mend:
    if change.ports is not None:

        def serves(trial: Trial) -> bool:
            return trial.fits(served, key)

        found = place(show, desk, change, serves)
        return Mend(freeing_words(show, change, found), key, None if found.homeless else found.show)
    there = change.key(key) or key
    return Mend(change.words, there, _changed(show, change, key, there))


def _changed(show: Show, change: Change, key: Key, there: Key) -> Show | None:
    """Return the show with a change, made for one request only: trials make it for all that are alike."""
    if change.trial.mono:
        mixes = tuple(_narrow(show, key[0]))
        return None if mixes == show.mixes else show.model_copy(update={"mixes": mixes})
    own = change.trial.show
    if not change.keys:
        return own
    new = next(request for request in own.requests if key_of(request) == there)
    requests = tuple(new if key_of(request) == key else request for request in show.requests)
    return show.model_copy(update={"requests": requests})


def _narrow(show: Show, strip: str) -> Iterator[object]:
    for mix in show.mixes:
        yield mix.model_copy(update={"width": "mono"}) if mix.name == strip else mix


def _staying(show: Show, key: Key, other: Key) -> Mend:
    requests = tuple(request for request in show.requests if key_of(request) != other)
    return Mend(staying_words(other[0]), key, show.model_copy(update={"requests": requests}))


__all__ = ["Mend", "mends"]
