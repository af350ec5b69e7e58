"""Why one strip goes out, and on these ports; or why it stays in. What else would be, in each case."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.errors import NoPlan
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Key, key_of
from sidetrip.plan.answers import Answers, Flip, Instead
from sidetrip.plan.assign import Allocation, BlockSetting, allocate
from sidetrip.plan.reasons import Refusal


@dataclass(frozen=True, slots=True)
class Served:
    """A request that goes out. opened: the settings that bring its ports to the unit. because: why these ports.

    without: who would go out in its place if it asked for nothing; None where nobody would.
    """

    request: Request
    loop: PlacedLoop
    because: tuple[str, ...]
    without: Instead | None
    flip: Flip | None


@dataclass(frozen=True, slots=True)
class Refused:
    """A request that stays in. instead: the best set that has it, None where none can."""

    request: Request
    refusal: Refusal
    instead: Instead | None
    flip: Flip | None


def why(show: Show, desk: Desk, strip: str) -> tuple[Served | Refused, ...]:
    """Answer for every request of a strip or output; none where it asks for nothing. Raises NoPlan."""
    requests = [request for request in show.requests if request.strip == strip]
    if not requests:
        return ()
    allocation = allocate(show, desk)
    answers = Answers.of(show, desk)
    if answers is None:
        raise NoPlan(list(allocation.findings))
    loops: dict[Key, PlacedLoop] = {(loop.strip, loop.way): loop for loop in allocation.loops}
    refusals = {(refusal.strip, refusal.way): refusal for refusal in allocation.refusals}
    found: list[Served | Refused] = []
    for request in sorted(requests, key=key_of):
        key, flip = key_of(request), answers.flip(request)
        if key in refusals:
            found.append(Refused(request, refusals[key], answers.best_with(key), flip))
        else:
            without = answers.best_without(key)
            found.append(Served(request, loops[key], _because(allocation, request, loops[key]), without, flip))
    return tuple(found)


def _because(allocation: Allocation, request: Request, loop: PlacedLoop) -> tuple[str, ...]:
    """Say why a loop sits on its ports: what the request says, what opens them, what they cost, and the order."""
    found: list[str] = []
    if request.ports is not None:
        found.append("the request names these ports")
    if request.unit is not None:
        found.append(f"the request names {request.unit}")
    found += [_opened(setting) for setting in allocation.settings if _opens(setting, loop)]
    if loop.way == "insert" and request.ports is None:
        width = "odd-even pairs" if loop.legs == 2 else "ports"
        order = "pairs before single ports, then by want and by name"
        found.append(f"of the {width} that reach {loop.unit} and back it takes the lowest left: {order}")
    if loop.way == "in-line":
        found.append("in-line a block goes as a whole, each strip on the port in its place")
    if loop.way == "output":
        found.append(f"they are the jacks of {loop.unit}, between the mix and its loudspeakers")
    return tuple(found)


def _opens(setting: BlockSetting, loop: PlacedLoop) -> bool:
    return any(setting.lost.overlaps(ports) for ports in (loop.send, loop.returns, loop.unit_in, loop.unit_out))


def _opened(setting: BlockSetting) -> str:
    kind = "jacks" if setting.jacks else "channels"
    return f"{setting.block} becomes {setting.becomes}, which costs {kind} {setting.lost}"


__all__ = ["Refused", "Served", "why"]
