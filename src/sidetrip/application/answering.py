"""What a person asks about a plan: why a strip goes out or stays in, and what the house must be asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import Loaded, Planned, load, load_desk, plan, with_other_desks
from sidetrip.errors import NoPlan, ShowUnreadable
from sidetrip.findings import Finding, has_errors, ordered

if TYPE_CHECKING:
    from sidetrip.plan.unknowns import Branch, Question
    from sidetrip.plan.why import Refused, Served
    from sidetrip.showfile.question_list import Answer


@dataclass(frozen=True, slots=True)
class Asked:
    """What hangs on facts that nobody knows for sure."""

    planned: Planned
    branches: tuple[Branch, ...]
    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True)
class Taken:
    """Answers that came back. text: the show with them. written: whether it was put in place of the show."""

    answers: tuple[Answer, ...]
    findings: tuple[Finding, ...]
    file: str
    text: str
    written: bool
    differences: tuple[str, ...]


def why_strip(
    store: ShowStore, library: DeskLibrary, path: str, strip: str
) -> tuple[tuple[Served | Refused, ...], Loaded]:
    """Say why a strip or output goes out or stays in; nothing is said of one that asks for nothing.

    Raises ShowUnreadable for a show with errors or a name that nothing carries, NoPlan when the musts conflict.
    """
    loaded = load(store, library, path)
    if has_errors(loaded.findings):
        raise ShowUnreadable(loaded.findings)
    from sidetrip.plan.why import why
    from sidetrip.showfile.read import nearest, place

    names = {*loaded.show.strips(), *(output.name for output in loaded.show.outputs)}
    own = next((name for name in sorted(names) if name == strip), None) or next(
        (name for name in sorted(names) if name.lower() == strip.lower()), None
    )
    if own is None:
        what = f"The show has no strip or output '{strip}'"
        values = f"looked for among {len(names)} names of {loaded.source.file}"
        raise ShowUnreadable([Finding("name-unknown", "strip", what, values, nearest(strip, names))])
    try:
        return why(loaded.show, loaded.desk, own), loaded
    except NoPlan as error:
        raise NoPlan(place(error.findings, loaded.source)) from error


def house_questions(store: ShowStore, library: DeskLibrary, path: str) -> Asked:
    """Plan a show under everything that could be otherwise. Raises ShowUnreadable, NoPlan."""
    planned = plan(store, library, path)
    from sidetrip.plan.unknowns import branches, questions

    found = branches(planned.plan)
    return Asked(planned, found, questions(found))


def take_answers(store: ShowStore, library: DeskLibrary, path: str, answers_path: str, *, write: bool) -> Taken:
    """Put answers from a list into a show; with `write` also on disk, if the show still reads and checks with them.

    Raises ShowUnreadable for a list or show that cannot be read, NoPlan when the musts conflict as they are,
    ShowChanged when somebody else wrote the show meanwhile.
    """
    from sidetrip.plan.differences import differences
    from sidetrip.plan.planner import Plan, make_plan
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.edit import NoSuchField
    from sidetrip.showfile.known import answered, every_fact
    from sidetrip.showfile.question_list import read_answers, with_answers
    from sidetrip.showfile.read import place, read_show

    text, file = store.read_show(path)
    reading = read_show(text, file)
    planned = plan(store, library, path)
    desk = load_desk(store, library, reading.show.desk.type, beside=file, source=reading.source)
    facts = {fact.id: fact for fact in every_fact(reading.show, desk)}
    answers, notes = read_answers(store.read_bytes(answers_path), answers_path, facts)
    try:
        after = with_answers(text, answers, file)
    except NoSuchField as error:
        remedy = "Write the desk section in one line like desk: {type: ...}, then give the answers again"
        what = "The desk section cannot take the answers without being rewritten"
        raise ShowUnreadable([Finding("value-wrong", "desk", what, str(error), remedy, ("desk",))]) from error
    changed = read_show(after, file)
    show, on, wrong = answered(with_other_desks(store, library, changed.show, file, changed.source), desk)
    found = ordered((*place((*check_show(show, on), *wrong), changed.source), *notes))
    if has_errors(found):
        raise ShowUnreadable(found)
    try:
        then: Plan | None = make_plan(show, on)
    except NoPlan:
        then = None
    written = write and after != text
    if written:
        store.replace(file, text, after)
    words = tuple(difference.words for difference in differences(planned.plan, then))
    return Taken(answers, found, file, after, written, words)


__all__ = ["Asked", "Taken", "house_questions", "take_answers", "why_strip"]
