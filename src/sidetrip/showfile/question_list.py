"""The questions for the house as a list that goes out empty and comes back with answers."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding, has_errors
from sidetrip.showfile.edit import set_field
from sidetrip.showfile.known import Fact, shown_answers, understood
from sidetrip.showfile.listtable import Column, TableRow, read_table
from sidetrip.showfile.listwords import guarded, unguarded
from sidetrip.showfile.read import nearest
from sidetrip.showfile.syntax import parse

HEADER = ("question id", "question", "why it matters", "answer", "by whom", "date")

_COLUMNS = (
    Column("id", ("question id", "id"), needed=True, exact=True),
    Column("question", ("question",)),
    Column("why", ("why it matters", "why")),
    Column("answer", ("answer", "answers"), needed=True, exact=True),
    Column("by", ("by whom", "by", "who", "name"), needed=True, exact=True),
    Column("date", ("date", "when", "day"), needed=True, exact=True),
)
_NOT_KNOWN = ("unknown", "?", "-", "–", "don't know", "not known", "no idea")


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer as it goes into the show. date: as YYYY-MM-DD. line: in the list."""

    id: str
    said: str
    by: str
    date: str
    line: int


def question_list(asked: Iterable[tuple[str, str, str]]) -> str:
    """Return questions (id, question, why it matters) as CSV with room for answers, no cell a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEADER)
    writer.writerows([guarded(cell) for cell in row] + ["", "", ""] for row in asked)
    return text.getvalue()


def read_answers(
    text: str | bytes, file: str, facts: Mapping[str, Fact]
) -> tuple[tuple[Answer, ...], tuple[Finding, ...]]:
    """Read a list of questions that came back. Rows without an answer are passed over.

    facts: what can be asked of the show, by id. Raises ShowUnreadable with every bad row and its line.
    """
    table = read_table(text, file, _COLUMNS)
    problems: list[Finding] = []
    found: dict[str, Answer] = {}
    for row in table.rows:
        answer = _answer(row, file, facts, problems)
        if answer is None:
            continue
        before = found.get(answer.id)
        if before is not None and before.said != answer.said:
            values = f"'{before.said}' in line {before.line}, '{answer.said}' in line {answer.line}"
            what = f"'{answer.id}' is answered twice and not alike"
            problems.append(_wrong(what, values, "Keep one of the two", row.line, file))
        found.setdefault(answer.id, answer)
    problems = [*(finding for finding in table.findings if has_errors([finding])), *problems]
    if problems:
        raise ShowUnreadable(problems)
    return tuple(found.values()), tuple(table.findings)


def _answer(row: TableRow, file: str, facts: Mapping[str, Fact], problems: list[Finding]) -> Answer | None:
    key, said, by, day = (unguarded(row.cells.get(column, "")).strip() for column in ("id", "answer", "by", "date"))
    if not said or said.lower() in _NOT_KNOWN:
        return None
    fact = facts.get(key) or next((own for own in facts.values() if own.id.lower() == key.lower()), None)
    if fact is None:
        what = f"'{key}' is no question of this show" if key else "A row has an answer and no question id"
        problems.append(_wrong(what, f"answered '{said}'", nearest(key, facts), row.line, file))
        return None
    meant = understood(fact, said)
    if meant is None:
        remedy = f"Answer {shown_answers(fact)}, or leave it empty"
        problems.append(
            _wrong(f"'{fact.id}' has an answer that means nothing", f"found '{said}'", remedy, row.line, file)
        )
    written = _day(day)
    if not by:
        remedy = "Write who said so, by role"
        problems.append(
            _wrong(f"Nobody stands behind the answer to '{fact.id}'", f"answered '{said}'", remedy, row.line, file)
        )
    if written is None:
        values = f"found '{day}'" if day else "the date is empty"
        remedy = "Write the day it was said, like 2026-11-20"
        problems.append(_wrong(f"The answer to '{fact.id}' has no day", values, remedy, row.line, file))
    return Answer(fact.id, meant, by, written, row.line) if meant is not None and by and written is not None else None


def _day(text: str) -> str | None:
    """Return a day as YYYY-MM-DD, None for what is none or could be two: 3/4/2026 is not guessed at."""
    match = re.fullmatch(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})", text)
    parts = (match[1], match[2], match[3]) if match else None
    if parts is None and (match := re.fullmatch(r"([0-9]{1,2})\.\s?([0-9]{1,2})\.\s?([0-9]{4})", text)):
        parts = match[3], match[2], match[1]
    if parts is None:
        return None
    try:
        return date(int(parts[0]), int(parts[1]), int(parts[2])).isoformat()
    except ValueError:
        return None


def _wrong(what: str, values: str, remedy: str, line: int, file: str) -> Finding:
    return Finding("table-wrong", "questions", what, values, remedy, (), line, file)


def with_answers(text: str, answers: Iterable[Answer], file: str = "show.yaml") -> str:
    """Return a show's text with answers in its desk section; what is said there already stays as it is typed.

    Raises NoSuchField where the desk section cannot take them without rewriting it.
    """
    for answer in answers:
        data = parse(text, file).data
        section = data.get("desk") if isinstance(data, Mapping) else None
        known = section.get("known") if isinstance(section, Mapping) else None
        entry = {"is": answer.said, "by": answer.by, "date": answer.date}
        if not known:
            text = set_field(text, ("desk", "known"), {answer.id: entry}, file)
        elif answer.id not in known:
            text = set_field(text, ("desk", "known", answer.id), entry, file)
        else:
            for key, value in entry.items():
                text = set_field(text, ("desk", "known", answer.id, key), value, file)
    return text


__all__ = ["HEADER", "Answer", "question_list", "read_answers", "with_answers"]
