"""`sidetrip questions`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.answering import Taken, house_questions, take_answers
from sidetrip.cli.show import console, print_blocks, print_findings, print_json
from sidetrip.errors import ShowChanged, WithFindings, WouldOverwrite
from sidetrip.findings import ordered


def run_questions(show: str, out: str | None, answers: str | None, *, write: bool, as_json: bool) -> int:
    """Ask what the house must say, or take its answers; returns the exit code."""
    from sidetrip.reports.answer_json import questions_doc

    if answers is not None and out is not None:
        console(errors=True).print("Ask or take answers: --out and --answers were both given. Leave one of them out.")
        return 2
    if write and answers is None:
        console(errors=True).print("There is nothing to write: --write was given without --answers. Name the list.")
        return 2
    try:
        if answers is not None:
            return _take(take_answers(wiring.show_store(), wiring.desk_library(), show, answers, write=write), as_json)
        return _ask(show, out, as_json=as_json)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            print_json(questions_doc((), (), findings))
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("Nothing was written.")
        return 1
    except (ShowChanged, WouldOverwrite) as error:
        console(errors=True).print(str(error))
        return 1


def _ask(show: str, out: str | None, *, as_json: bool) -> int:
    from sidetrip.reports.answer_json import questions_doc
    from sidetrip.reports.answer_words import question_blocks
    from sidetrip.showfile.known import shown_answers
    from sidetrip.showfile.question_list import question_list

    asked = house_questions(wiring.show_store(), wiring.desk_library(), show)
    written: tuple[str, ...] = ()
    if out is not None:
        rows = [(own.fact.id, f"{own.fact.question} ({shown_answers(own.fact)})", own.why) for own in asked.questions]
        folder, _, name = out.rpartition("/")
        written = wiring.show_store().create(folder or ".", {name: question_list(rows)})
    if as_json:
        print_json(questions_doc(asked.questions, asked.branches))
        return 0
    print_blocks(question_blocks(asked.questions))
    for path in written:
        console().print(f"wrote {path}")
    return 0


def _take(taken: Taken, as_json: bool) -> int:
    if as_json:
        answers = [{"id": own.id, "is": own.said, "by": own.by, "date": own.date} for own in taken.answers]
        print_json(
            {
                "sidetrip_answers": 1,
                "answers": answers,
                "written": taken.written,
                "differences": list(taken.differences),
            }
        )
        return 0
    count = f"{len(taken.answers)} {'answer' if len(taken.answers) == 1 else 'answers'}"
    for own in taken.answers:
        console().print(f"{own.id}: {own.said} ({own.by}, {own.date})")
    changes = "; ".join(taken.differences) or "who goes out, and all else, stays as it is"
    console().print(f"With {count} the plan changes so: {changes}." if taken.answers else "The list holds no answer.")
    if taken.written:
        console().print(f"wrote {taken.file}")
    elif taken.answers:
        console().print("Nothing was written. To put them into the show, add --write.")
    return 0
