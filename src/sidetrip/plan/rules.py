"""Rules of the allocation beside ports: what ears accept, keys that take loops OUT, and strips that hear one source."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sidetrip.model.desk import Desk
from sidetrip.model.show import Show

if TYPE_CHECKING:
    from sidetrip.plan.allocation import Built, Options


def add_rules(built: Built, show: Show, desk: Desk, options: Options) -> None:
    """Add the rows of what ears accept, and of keys for what wants a bypass in one press."""
    for room in options.ears:
        terms = {built.served[entry]: seconds for entry, seconds in room.adds.items() if entry in built.served}
        if terms:
            # in units of the room, so that coefficients are near 1
            scale = max(room.room_s, 1e-6)
            built.program.row(
                {index: seconds / scale for index, seconds in terms.items()}, high=room.room_s / scale + 1e-6
            )
    _keys(built, show, desk, options)


def _keys(built: Built, show: Show, desk: Desk, options: Options) -> None:
    """Let as many groups carry loops that want one press as there are keys; the first key takes all loops OUT."""
    presses = desk.bypass.presses
    if presses.high is not None and presses.high <= 1:
        return
    pressing = [request for request in options.requests if request.one_press and request.way == "insert"]
    keyed: dict[int, float] = {}
    held: dict[str, dict[int, float]] = {request.strip: {} for request in pressing}
    for _, members in sorted(show.bypass_groups.items()):
        own = [request for request in pressing if request.strip in members]
        if own:
            key = built.program.variable()
            keyed[key] = 1.0
            for request in own:
                held[request.strip][key] = -1.0
    for request in pressing:
        terms = built.of((request.strip, request.way))
        if terms:
            built.program.row({**terms, **held[request.strip]}, high=0)
    if keyed:
        built.program.row(keyed, high=max(desk.bypass.group_keys - 1, 0))


def harm(built: Built, show: Show) -> dict[int, float]:
    """Return the aim that counts strips that go out while a sibling of theirs, which asks too, stays in.

    That comb is cured by no delay on the desk that holds IN and OUT. The aim is to be made largest: 0 is no harm.
    """
    aim: dict[int, float] = {}
    for _, names in sorted(show.siblings.items()):
        asking = sorted({key for key, _ in built.served if key[0] in names and key[1] in ("insert", "in-line")})
        for number, one in enumerate(asking):
            for other in asking[number + 1 :]:
                if one[0] == other[0]:
                    continue
                apart = built.program.variable()
                aim[apart] = -1.0
                for first, second in ((one, other), (other, one)):
                    terms = built.of(first) | dict.fromkeys(built.of(second), -1.0)
                    built.program.row({**terms, apart: -1.0}, high=0)
    return aim
