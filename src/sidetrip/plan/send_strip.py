"""The way send-and-strip: out from a mix or a strip by a port of its own, back on an input strip of its own."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.model.desk import Desk
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.ways import Ground, Reach, at_jack, brought, each_port, reaches_out, returns_from


@dataclass(frozen=True, slots=True)
class Parallel:
    """One unit for one request. out, back: for each leg the ways to the unit and from it."""

    unit: str
    send: Ports
    returns: Ports
    out: tuple[tuple[Reach, ...], ...]
    back: tuple[tuple[Reach, ...], ...]


def ends_of(show: Show, request: Request) -> tuple[Ports | None, Ports | None]:
    """Return the ports by which a request leaves and comes back: pinned, or those of its output and its strip."""
    output = next((output.port for output in show.outputs if output.from_ == request.strip), None)
    item = show.input(request.back_on or "")
    send = request.ports.send if request.ports is not None else output
    return send, item.port if item is not None else None


def parallel(show: Show, desk: Desk, ground: Ground, request: Request, unit: Unit) -> Parallel | str:
    """Return how a unit is reached from the send of a request and back to its strip, or why it is not."""
    send, returns = ends_of(show, request)
    if send is None:
        return "it has no port to leave by; give it an output, or ports: {send: ..., return: ...}"
    assert returns is not None, "checked when the show was read"
    if len(send) != len(returns):
        return f"it leaves by {len(send)} ports ({send}) and comes back on {len(returns)} ({returns})"
    others = {name for ports, name in ground.taken if ports.overlaps(send)}
    others -= {output.name for output in show.outputs if output.from_ == request.strip}
    if others:
        return f"its port out, {send}, is in use or must stay for {', '.join(sorted(others))}"
    kept = {name for ports, name in ground.taken if ports.overlaps(returns)} & {keep.for_ for keep in show.keep}
    kept -= {request.back_on}
    if kept:
        return f"its port back, {returns}, must stay for {', '.join(sorted(kept))}"
    if unit.out is not None and unit.back is not None:
        if (send, returns) != (unit.out, unit.back):
            return (
                f"{unit.name} sits between {unit.out} and {unit.back}, and it leaves by {send} and is back on {returns}"
            )
        out = tuple(at_jack(desk, ground.allowed, port) for port in send.each)
        back = tuple(at_jack(desk, ground.allowed, port) for port in returns.each)
    else:
        socket = desk.connection(unit.connects or "")
        if socket is None:
            return f"{unit.name} is not connected"
        elsewhere = (entry for entry in ground.taken if not entry[0].overlaps(send) and not entry[0].overlaps(returns))
        held, by_groups = each_port(elsewhere), brought(desk, ground.allowed)
        out = tuple(reaches_out(by_groups, port, socket.out, held) for port in send.each)
        back = tuple(returns_from(by_groups, port, socket.back, held) for port in returns.each)
    if not all(out):
        return f"nothing brings {send} to {unit.name}"
    if not all(back):
        return f"nothing brings {unit.name} back to {returns}"
    return Parallel(unit.name, send, returns, out, back)


__all__ = ["Parallel", "ends_of", "parallel"]
