"""The page itself, its parts one by one, the entry for those who look on, and its paper."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from sidetrip.application.at_desk import Seen
from sidetrip.reports.printing import stamp_of
from sidetrip.reports.recovery_card import recovery_sheet
from sidetrip.web.asks import TheGuard, TheHost, TheRenderer, TheShow, planned
from sidetrip.web.guards import COOKIE, Guard
from sidetrip.web.host import Host
from sidetrip.web.views.when import when_view
from sidetrip.web.views.who import who_view

router = APIRouter()
PARTS = ("who", "when", "die", "paper")
FIRST_WIDTH = 1100


@router.get("/", response_class=HTMLResponse, include_in_schema=False)
def get_page(request: Request, host: TheHost, render: TheRenderer, guard: TheGuard) -> Response:
    """Return the whole page: every part is in it, the recovery card too; without an open show, the first visit."""
    if host.opened is None:
        return RedirectResponse("/start", 303)
    seen = host.opened.seen()
    host.align()
    common = _common(host, guard, request, seen)
    if seen.plan is None:
        return render.page("unplanned.html", **common)
    return render.page("page.html", **common, **{part: _part(host, seen, part) for part in PARTS})


@router.get("/part/{name}", response_class=HTMLResponse, include_in_schema=False)
def get_part(
    name: str, request: Request, host: TheHost, show: TheShow, render: TheRenderer, guard: TheGuard
) -> Response:
    """Return one part, as it stands in the page, with the revision that it is of in a header."""
    if name not in PARTS:
        raise HTTPException(404, f"The page has no part '{name[:40]}'. It has: {', '.join(PARTS)}")
    seen = show.seen()
    planned(seen)
    part = render.page(f"_{name}.html", **_common(host, guard, request, seen), **{name: _part(host, seen, name)})
    part.headers["X-Revision"] = seen.revision
    return part


def _common(host: Host, guard: Guard, request: Request, seen: Seen) -> dict[str, Any]:
    owner = guard.owner(request)
    last = host.opened.notes.last() if host.opened is not None and owner else None
    return {
        "token": guard.token if owner else "",
        "owner": owner,
        "seen": seen,
        "show": seen.loaded.show if seen.loaded is not None else None,
        "now": host.clock.now().strftime("%H:%M"),
        "undo": None if last is None else last.what,
        "findings": [finding for finding in seen.findings if str(finding.severity) == "error"],
    }


def _part(host: Host, seen: Seen, name: str) -> Any:
    plan = planned(seen)
    if name == "who":
        assert host.opened is not None
        return who_view(seen, host.opened.notes.ticks())
    if name == "when":
        return when_view(plan, plan, None, "page", FIRST_WIDTH, aligned=seen.aligned)
    if name == "die":
        assert seen.planned is not None
        return recovery_sheet(plan, stamp_of(host.clock, seen.planned)).data
    return host.printed(seen).lines()


@router.get("/look", response_class=HTMLResponse, include_in_schema=False)
def get_look(render: TheRenderer) -> Response:
    """Ask for the code."""
    return render.page("look.html", wrong=False)


@router.post("/look", response_class=HTMLResponse, include_in_schema=False)
def post_look(code: Annotated[str, Form(max_length=40)], render: TheRenderer, guard: TheGuard) -> Response:
    """Let in who has the code."""
    key = None if guard.viewers is None else guard.viewers.admit(code)
    if key is None:
        return render.page("look.html", 403, wrong=True)
    answer = RedirectResponse("/", 303)
    answer.set_cookie(COOKIE, key, httponly=True, samesite="strict")
    return answer


@router.get("/paper/{name}.pdf", responses={200: {"content": {"application/pdf": {}}}})
def get_paper_pdf(name: str, host: TheHost, show: TheShow) -> Response:
    """Return a sheet as PDF."""
    seen = show.seen()
    planned(seen)
    data = host.printed(seen).pdf(name)
    if data is None:
        raise HTTPException(404, f"There is no sheet '{name[:40]}'")
    return Response(data, media_type="application/pdf", headers=_as_file(name, "pdf"))


@router.get("/paper/{name}.csv", responses={200: {"content": {"text/csv": {}}}})
def get_paper_csv(name: str, host: TheHost, show: TheShow) -> Response:
    """Return a sheet as CSV."""
    seen = show.seen()
    planned(seen)
    text = host.printed(seen).csv(name)
    if text is None:
        raise HTTPException(404, f"There is no sheet '{name[:40]}'")
    return Response(text.encode("utf-8"), media_type="text/csv; charset=utf-8", headers=_as_file(name, "csv"))


@router.get("/paper/{name}/{page}.png", responses={200: {"content": {"image/png": {}}}})
def get_paper_page(name: str, page: int, host: TheHost, show: TheShow) -> Response:
    """Return one page of a sheet as a picture, counted from 1; how many there are is in a header."""
    seen = show.seen()
    planned(seen)
    pages = host.printed(seen).pages(name)
    if not 1 <= page <= len(pages):
        raise HTTPException(404, f"There is no page {page} of a sheet '{name[:40]}'")
    return Response(pages[page - 1], media_type="image/png", headers={"X-Pages": str(len(pages))})


def _as_file(name: str, ending: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}.{ending}"'}


__all__ = ["PARTS", "router"]
