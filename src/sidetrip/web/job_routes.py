"""Long work: questions for the house, what else could be, and files to listen to. It runs on; the page asks how far."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException
from fastapi.responses import FileResponse
from pydantic import BaseModel, ConfigDict, Field

from sidetrip.application.hearing import FOLDER, hear
from sidetrip.naming import slug
from sidetrip.plan.unknowns import branches, questions
from sidetrip.reports.answer_words import what_else
from sidetrip.reports.hear_words import hear_doc
from sidetrip.showfile.known import shown_answers
from sidetrip.web.asks import TheHost, TheShow, planned
from sidetrip.web.jobs import Job, Told

router = APIRouter(prefix="/api/jobs")


class JobAsked(BaseModel):
    """Work to start. source, place: for `hear` only."""

    model_config = ConfigDict(extra="forbid")
    kind: Literal["questions", "else", "hear", "dial"]
    source: Annotated[str, Field(max_length=200)] = ""
    place: Annotated[str, Field(max_length=200)] = ""


class JobTold(BaseModel):
    """How far it is. of: 0 while nobody knows how much there is. result: once it is done."""

    number: int
    kind: str
    about: str
    words: str
    state: Literal["running", "done", "stopped", "failed"]
    done: int
    of: int
    result: Any = None
    what: str


def _told(job: Job) -> JobTold:
    return JobTold(**asdict(job))


@router.get("")
def get_jobs(host: TheHost) -> list[JobTold]:
    """Return all work since the start, the last first."""
    return [_told(job) for job in host.jobs.all()]


@router.get("/{number}")
def get_job(number: int, host: TheHost) -> JobTold:
    """Say how far a piece of work is."""
    job = host.jobs.get(number)
    if job is None:
        raise HTTPException(404, f"There is no work number {number}")
    return _told(job)


@router.post("/{number}/stop")
def post_stop(number: int, host: TheHost) -> JobTold:
    """Stop a piece of work."""
    host.jobs.stop(number)
    return get_job(number, host)


@router.post("")
def post_job(asked: JobAsked, host: TheHost, show: TheShow) -> JobTold:
    """Start a piece of work, or return it where it runs already, or is done for the show as it is."""
    seen = show.seen()
    plan = planned(seen)
    if asked.kind == "dial":
        job = host.align()
        if job is None:
            raise HTTPException(409, "What to dial is known already")
        return _told(job)
    if asked.kind == "questions":

        def ask(told: Told) -> Any:
            found = branches(plan, lambda done, of: told("asking what would change the plan", done, of))
            return [
                {"id": own.fact.id, "question": own.fact.question, "answers": shown_answers(own.fact), "why": own.why}
                for own in questions(found)
            ]

        return _told(host.jobs.start("questions", seen.revision, "asking what would change the plan", ask))
    if asked.kind == "else":

        def look(told: Told) -> Any:
            told("looking for what else could be", 0, 0)
            return [
                {"heading": own.heading, "answer": own.answer, "rows": [list(row) for row in own.rows]}
                for own in what_else(plan.show, plan.desk)
            ]

        return _told(host.jobs.start("else", seen.revision, "looking for what else could be", look))
    if all((row.source, row.place.name) != (asked.source, asked.place) for row in plan.arrivals.rows):
        raise HTTPException(404, f"'{asked.source[:60]}' does not arrive at '{asked.place[:60]}'")

    def listen(told: Told) -> Any:
        told("working out what it sounds like", 0, 0)
        found = hear(host.store, host.library, host.recordings, show.path, f"{asked.source}@{asked.place}")
        return hear_doc(found)

    about = f"{seen.revision} {asked.source}@{asked.place}"
    return _told(host.jobs.start("hear", about, f"{asked.source} at {asked.place}", listen))


@router.get("/hear/{source}/{place}/{name}.wav", responses={200: {"content": {"audio/wav": {}}}})
def get_sound(
    source: str, place: str, name: Literal["planned", "out", "dialled"], host: TheHost, show: TheShow
) -> FileResponse:
    """Return a file to listen to, once it was worked out. Names become letters, figures and dashes first."""
    folder = Path(host.store.beside(show.seen().file, FOLDER))
    file = folder / f"{slug(source)[:120]}-at-{slug(place)[:120]}-{name}.wav"
    if not file.is_file():
        raise HTTPException(404, "It is not worked out yet")
    return FileResponse(file, media_type="audio/wav")


__all__ = ["router"]
