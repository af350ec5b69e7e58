"""What every answer needs of a request: the host, the show that is open, and whether the asker may change it."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, HTTPException, Request

from sidetrip.application.at_desk import OpenShow, Seen
from sidetrip.plan.planner import Plan
from sidetrip.web.guards import Guard
from sidetrip.web.host import Host
from sidetrip.web.render import Renderer


def _host(request: Request) -> Host:
    host: Host = request.app.state.host
    return host


def _render(request: Request) -> Renderer:
    render: Renderer = request.app.state.render
    return render


def _guard(request: Request) -> Guard:
    guard: Guard = request.app.state.guard
    return guard


TheHost = Annotated[Host, Depends(_host)]
TheRenderer = Annotated[Renderer, Depends(_render)]
TheGuard = Annotated[Guard, Depends(_guard)]


def _show(host: TheHost) -> OpenShow:
    if host.opened is None:
        raise HTTPException(404, "No show is open. Open one, or start one, at the first page")
    return host.opened


TheShow = Annotated[OpenShow, Depends(_show)]


def planned(seen: Seen) -> Plan:
    """Return the plan that a show has. Raises the answer that says why it has none."""
    if seen.plan is None:
        first = seen.findings[0] if seen.findings else None
        why = "" if first is None else f": {first.what}. {first.remedy}"
        raise HTTPException(409, f"The show has no plan{why}")
    return seen.plan


__all__ = ["TheGuard", "TheHost", "TheRenderer", "TheShow", "planned"]
