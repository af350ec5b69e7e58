"""The first visit: the demo, the shows that lie here, and a show of one's own in four steps."""

from __future__ import annotations

import contextlib
from typing import Annotated

from fastapi import APIRouter, HTTPException, Request, Response
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field

from sidetrip.application.start_mine import Draft, keep_draft, make, read_draft, understand
from sidetrip.errors import WouldOverwrite
from sidetrip.web.asks import TheGuard, TheHost, TheRenderer
from sidetrip.web.host import SHOW_FILE

router = APIRouter()
DEMO = "tin-lantern"


class Pasted(BaseModel):
    """An input list as it was pasted, and the desk that it is for."""

    model_config = ConfigDict(extra="forbid")
    desk: Annotated[str, Field(max_length=120)]
    text: Annotated[str, Field(max_length=400_000)]


class PastedRow(BaseModel):
    """One input as it was understood."""

    ch: int
    name: str
    port: str
    group: str


class Understanding(BaseModel):
    """How a list was understood. notes: in sentences."""

    rows: list[PastedRow]
    notes: list[str]


class Opened(BaseModel):
    """The show that is open now, by the name of its folder."""

    name: str


class OpenAsked(BaseModel):
    """A show to open, by the name of its folder."""

    model_config = ConfigDict(extra="forbid")
    name: Annotated[str, Field(max_length=200)]


@router.get("/start", response_class=HTMLResponse, include_in_schema=False)
def get_start(request: Request, host: TheHost, render: TheRenderer, guard: TheGuard) -> Response:
    """Return the first page."""
    desks = []
    for name in host.library.names():
        found = host.library.text(name)
        summary = "" if found is None else _summary(found[0])
        desks.append({"name": name, "summary": summary})
    owner = guard.owner(request)
    return render.page(
        "start.html",
        token=guard.token if owner else "",
        owner=owner,
        shows=host.shows(),
        demo=host.demo is not None,
        desks=desks,
        draft=read_draft(host.store, host.folder),
        folder=host.folder,
    )


def _summary(text: str) -> str:
    line = next((line for line in text.splitlines() if line.startswith("summary:")), "")
    return line.removeprefix("summary:").strip().strip("\"'")


@router.get("/api/start/draft")
def get_draft(host: TheHost) -> Draft:
    """Return what was typed so far."""
    return read_draft(host.store, host.folder)


@router.post("/api/start/draft")
def post_draft(draft: Draft, host: TheHost) -> Draft:
    """Keep what was typed so far."""
    keep_draft(host.store, host.folder, draft)
    return draft


@router.post("/api/start/inputs")
def post_inputs(pasted: Pasted, host: TheHost) -> Understanding:
    """Say how a pasted input list is understood."""
    found = understand(host.store, host.library, pasted.desk, pasted.text)
    rows = [PastedRow(ch=own.ch, name=own.name, port=str(own.port), group=own.group or "") for own in found.rows]
    notes = [f"{own.where}: {own.what}{f': {own.values}' if own.values else ''}. {own.remedy}." for own in found.notes]
    return Understanding(rows=rows, notes=notes)


@router.post("/api/start/make")
def post_make(draft: Draft, host: TheHost) -> Opened:
    """Make the show of a draft, and open it."""
    name = make(host.store, host.library, host.folder, draft)
    host.open(host.path_of(name))
    return Opened(name=name)


@router.post("/api/start/demo")
def post_demo(host: TheHost) -> Opened:
    """Copy the demo beside the other shows, where it is not there yet, and open the copy."""
    if host.demo is None:
        raise HTTPException(404, "The demo is not on this machine")
    text, _ = host.store.read_show(host.demo)
    with contextlib.suppress(WouldOverwrite):  # looked at before: it is as it was left
        host.store.create(host.path_of(DEMO), {SHOW_FILE: text})
    host.open(host.path_of(DEMO))
    return Opened(name=DEMO)


@router.post("/api/start/open")
def post_open(asked: OpenAsked, host: TheHost) -> Opened:
    """Open one of the shows that lie here."""
    names = [name for name, _ in host.shows()]
    if asked.name not in names:
        raise HTTPException(404, f"No show called '{asked.name[:60]}' lies in {host.folder}")
    host.open(host.path_of(asked.name))
    return Opened(name=asked.name)


__all__ = ["DEMO", "router"]
