"""What the page changes: wants, the smallest change that serves a strip, buffer and rate, answers, ticks; and undo."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from sidetrip.application import desk_changes
from sidetrip.application.at_desk import Refused, Seen
from sidetrip.web.asks import TheHost, TheShow, planned
from sidetrip.web.views.who import open_needs, ticked_after, who_view

router = APIRouter(prefix="/api")

Name = Annotated[str, Field(min_length=1, max_length=200)]
Way = Literal["insert", "in-line", "send-and-strip", "output"]


class Told(BaseModel):
    """A change as asked. revision: of the text that the page showed."""

    model_config = ConfigDict(extra="forbid")
    revision: Annotated[str, Field(max_length=64)]


class WantAsked(Told):
    """Another want for a request: "must", or 1 to 9."""

    strip: Name
    way: Way = "insert"
    want: Annotated[str, Field(pattern="^(must|[1-9])$")]


class MendAsked(Told):
    """The change that would serve a strip, by its words."""

    strip: Name
    way: Way = "insert"
    words: Annotated[str, Field(min_length=1, max_length=600)]


class BufferAsked(Told):
    """A buffer for every computer, a sample rate, or both."""

    buffer: Annotated[int | None, Field(ge=1, le=65536)] = None
    rate: Annotated[int | None, Field(ge=8000, le=768000)] = None


class AnswerAsked(Told):
    """What the house said to a question."""

    id: Name
    answer: Name
    by: Name


class TickAsked(BaseModel):
    """A step of the patch, done or not."""

    model_config = ConfigDict(extra="forbid")
    step: Annotated[str, Field(min_length=1, max_length=64)]
    done: bool


class Changed(BaseModel):
    """What a change led to. says: in a sentence, for whoever cannot see it. parts: those that are to be shown anew."""

    revision: str
    says: str
    undo: str | None


def _changed(host: TheHost, seen: Seen, says: str) -> Changed:
    host.align()
    last = host.opened.notes.last() if host.opened is not None else None
    return Changed(revision=seen.revision, says=says, undo=None if last is None else last.what)


@router.post("/want")
def post_want(asked: WantAsked, host: TheHost, show: TheShow) -> Changed:
    """Give a request another want."""
    before = show.seen().plan
    seen = desk_changes.set_want(show, asked.revision, (asked.strip, asked.way), asked.want)
    return _changed(host, seen, f"{asked.strip} is now wanted {asked.want}. {desk_changes.moved(before, seen)}")


@router.post("/mend")
def post_mend(asked: MendAsked, host: TheHost, show: TheShow) -> Changed:
    """Make the change that serves a strip."""
    before = show.seen().plan
    seen = desk_changes.make_mend(show, asked.revision, (asked.strip, asked.way), asked.words)
    return _changed(host, seen, f"Done. {desk_changes.moved(before, seen)}")


@router.post("/buffer")
def post_buffer(asked: BufferAsked, host: TheHost, show: TheShow) -> Changed:
    """Set the buffer of every computer, and the rate."""
    seen = desk_changes.set_buffer(show, asked.revision, asked.buffer, asked.rate)
    return _changed(host, seen, "It is in the show now. Set it in the computer too, and measure the round trip there.")


@router.post("/answer")
def post_answer(asked: AnswerAsked, host: TheHost, show: TheShow) -> Changed:
    """Put what the house said into the show."""
    before = show.seen().plan
    today = host.clock.now().strftime("%Y-%m-%d")
    seen = desk_changes.take_answer(show, asked.revision, asked.id, asked.answer, asked.by, today)
    return _changed(host, seen, f"Noted. {desk_changes.moved(before, seen)}")


@router.post("/undo")
def post_undo(asked: Told, host: TheHost, show: TheShow) -> Changed:
    """Undo the last change that the page made."""
    seen, what = show.undo(asked.revision)
    return _changed(host, seen, f"Undone: {what}.")


@router.post("/tick")
def post_tick(asked: TickAsked, host: TheHost, show: TheShow) -> Changed:
    """Tick a step, or take its tick away; in no order that would be dangerous."""
    seen = show.seen()
    planned(seen)
    view = who_view(seen, show.notes.ticks())
    steps = {step.key: step for phase in view.phases for step in phase.steps}
    step = steps.get(asked.step)
    if step is None:
        raise Refused("The patch has no such step any more. Look at it again")
    first = open_needs(view, asked.step) if asked.done else ticked_after(view, asked.step)
    if first:
        numbers = f"step {first[0]}" if len(first) == 1 else f"steps {_runs(first)}"
        if asked.done:
            raise Refused(
                f"Step {step.number} comes after {numbers}: do {'that' if len(first) == 1 else 'those'} first"
            )
        raise Refused(
            f"Step {step.number} came before {numbers}: take back {'that' if len(first) == 1 else 'those'} first"
        )
    show.notes.tick(asked.step, host.clock.now().strftime("%H:%M") if asked.done else None)
    says = f"Step {step.number} done." if asked.done else f"Step {step.number} is open again. To undo it: {step.undo}."
    return _changed(host, seen, says)


def _runs(numbers: tuple[int, ...]) -> str:
    """Write numbers with runs of three and more as "5 to 8"."""
    words, at = [], 0
    while at < len(numbers):
        end = at
        while end + 1 < len(numbers) and numbers[end + 1] == numbers[end] + 1:
            end += 1
        own = numbers[at : end + 1]
        words += [f"{own[0]} to {own[-1]}"] if len(own) > 2 else [str(number) for number in own]
        at = end + 1
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]


@router.post("/untick")
def post_untick(host: TheHost, show: TheShow) -> Changed:
    """Begin the patch again: all ticks are taken away."""
    show.notes.untick_all()
    return _changed(host, show.seen(), "All ticks are gone: the patch begins again.")


__all__ = ["router"]
