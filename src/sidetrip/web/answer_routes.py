"""What the page asks without changing anything: how things stand, and the pictures at another buffer or rate."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, HTTPException, Query, Request, Response
from pydantic import BaseModel

from sidetrip.plan.dialled import dialled_plan
from sidetrip.plan.hearing import HeardAt, heard_at
from sidetrip.plan.planner import Plan
from sidetrip.reports.draw.comb import Case, comb_svg
from sidetrip.web.asks import TheGuard, TheHost, TheRenderer, TheShow, planned
from sidetrip.web.views.when import INKS, map_svg, when_view

router = APIRouter(prefix="/api")

Buffer = Annotated[int | None, Query(ge=1, le=65536)]
Rate = Annotated[int | None, Query(ge=8000, le=768000)]
Place = Annotated[str | None, Query(max_length=200)]
Ink = Annotated[Literal["page", "dim", "print"], Query()]
Width = Annotated[int, Query(ge=200, le=4000)]


class Standing(BaseModel):
    """How things stand. token: what the page writes with, empty for those who look on."""

    open: bool
    revision: str
    aligned: bool
    readable: bool
    token: str


class When(BaseModel):
    """The time map of a place and what belongs to it, as HTML and SVG. picture: only the map and its sentence."""

    place: str
    buffer: int | None
    rate: int
    lead: str
    svg: str
    lists: str


@router.get("/state")
def get_state(request: Request, host: TheHost, guard: TheGuard) -> Standing:
    """Say how things stand. Only this machine gets the token; the guard lets nobody else write in any case."""
    token = guard.token if guard.owner(request) else ""
    if host.opened is None:
        return Standing(open=False, revision="", aligned=False, readable=False, token=token)
    seen = host.opened.seen()
    readable = seen.plan is not None
    return Standing(open=True, revision=seen.revision, aligned=seen.aligned, readable=readable, token=token)


@router.get("/when")
def get_when(
    host: TheHost,
    show: TheShow,
    render: TheRenderer,
    place: Place = None,
    buffer: Buffer = None,
    rate: Rate = None,
    ink: Ink = "page",
    width: Width = 1100,
    lists: bool = True,
) -> When:
    """Return what arrives at a place, at another buffer or rate if asked. lists: with what is heard twice, and ears."""
    seen = show.seen()
    stands = planned(seen)
    plan = show.at(buffer, rate)
    assert plan is not None
    host.ready_slider()
    rate_hz = plan.show.sample_rate
    if not lists:
        svg, lead = map_svg(plan, _place(plan, place), ink, width)
        return When(place=place or "", buffer=buffer, rate=rate_hz, lead=lead, svg=svg, lists="")
    view = when_view(plan, stands, place, ink, width, aligned=seen.aligned and plan is stands)
    html = render.text("_when_lists.html", when=view)
    return When(place=view.place, buffer=view.buffer, rate=rate_hz, lead=view.lead, svg=view.svg, lists=html)


def _place(plan: Plan, place: str | None) -> str:
    if place is None or all(row.place.name != place for row in plan.arrivals.rows):
        raise HTTPException(404, f"Nothing is heard at '{(place or '')[:60]}'")
    return place


@router.get("/comb", responses={200: {"content": {"image/svg+xml": {}}}})
def get_comb(
    show: TheShow,
    source: Annotated[str, Query(max_length=200)],
    place: Annotated[str, Query(max_length=200)],
    buffer: Buffer = None,
    rate: Rate = None,
    ink: Ink = "page",
) -> Response:
    """Return the comb of a source at a place, as planned and with what there is to dial."""
    seen = show.seen()
    planned(seen)
    plan = show.at(buffer, rate)
    assert plan is not None
    if all((row.source, row.place.name) != (source, place) for row in plan.arrivals.rows):
        raise HTTPException(404, f"'{source[:60]}' does not arrive at '{place[:60]}'")
    now = _case("as planned, all loops IN", heard_at(plan, source, place, plan.states[0]))
    if now is None:
        raise HTTPException(404, f"'{source[:60]}' is silent at '{place[:60]}', or its levels are not known")
    then = dialled_plan(plan) if seen.aligned and plan is seen.plan else None
    after = None
    if then is not None:
        after = _case("with what there is to dial", heard_at(then, source, place, then.states[0]))
    svg = comb_svg(f"{source} at {place}", now, after, INKS[ink])
    return Response(svg, media_type="image/svg+xml")


def _case(name: str, heard: HeardAt) -> Case | None:
    return Case(name, heard.mixed) if heard.usable else None


__all__ = ["router"]
