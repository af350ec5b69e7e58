"""Facts that somebody must say: what is asked, what answers make of desk and show, and the list that comes back."""

import csv
import io
from difflib import unified_diff

import pytest

from showtext import DEMO_TEXT, desk, looped
from sidetrip.errors import ShowUnreadable
from sidetrip.showfile.known import Fact, answered, every_fact, facts_of, understood
from sidetrip.showfile.question_list import HEADER, Answer, question_list, read_answers, with_answers
from sidetrip.showfile.read import read_show

KEY = Answer("one key", "no", "house engineer", "2026-11-20", 2)


def _facts(text: str = DEMO_TEXT) -> dict[str, Fact]:
    return {fact.id: fact for fact in every_fact(read_show(text, "show.yaml").show, desk())}


def _changed(before: str, after: str) -> list[str]:
    lines = unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return [line for line in lines if line[0] in "+-" and line[:3] not in ("+++", "---")]


def test_the_facts_that_a_plan_breaks_on_are_asked() -> None:
    """Sends while OUT, parts of blocks, pairs, return strips and the key for all, each as the desk type says it now."""
    found = {fact.id: fact.now for fact in _facts().values()}
    expected = {
        "one key": "yes",
        "parts of aux in 1-8": "yes",
        "stereo pairs": "odd-even",
        "aux in strips open": "yes",
        "channel send when OUT": "yes",
        "main send when OUT": "yes",
    }
    assert expected.items() <= found.items()


def test_what_is_unknown_of_units_and_times_is_asked() -> None:
    """A computer that may align, a box without power, a time that is a range: by the words of the show."""
    units = (
        "[{name: laptop, kind: computer, connects: card, buffer: 64}, "
        "{name: box, kind: hardware, out: local out 15, back: local in 31, delay_ms: 1 to 3}]"
    )
    facts = _facts(looped(units=units))
    assert facts["laptop aligns"].answers == ("all", "per chain")
    assert facts["box unpowered"].answers == ("passes", "silent")
    assert facts["box delay"].tried == ("1", "3")


def test_an_answer_changes_the_desk_and_is_proven_by_whom() -> None:
    """The key that takes no inserts: the desk says so, with who said it and when, and it is asked no more."""
    show, on, wrong = answered(read_show(with_answers(DEMO_TEXT, [KEY]), "show.yaml").show, desk())
    fact = on.bypass.group_key_takes_inserts
    assert (fact.answer, fact.standing, fact.source) == ("no", "proven", "house engineer, 2026-11-20")
    assert wrong == ()
    assert "one key" not in {own.id for own in facts_of(show, on)}


@pytest.mark.parametrize("fact", sorted(_facts()))
def test_every_answer_makes_a_show_and_desk_that_say_it(fact: str) -> None:
    """Under each of its answers a fact is no longer what it was, or stays what it is."""
    own = _facts()[fact]
    for said in own.tried:
        entry = Answer(fact, said, "stage hand", "2026-11-20", 2)
        show, on, wrong = answered(read_show(with_answers(DEMO_TEXT, [entry]), "show.yaml").show, desk())
        assert wrong == ()
        blank = show.model_copy(update={"desk": show.desk.model_copy(update={"known": {}})})
        now = {other.id: other.now for other in facts_of(blank, on)}
        assert now.get(fact, said) == said  # one that is proven by the answer is asked no more


@pytest.mark.parametrize(
    ("said", "meant"), [("Yes", "yes"), ("y", "yes"), (" NO ", "no"), ("n", "no"), ("maybe", None), ("", None)]
)
def test_yes_and_no_are_understood_in_a_few_spellings(said: str, meant: str | None) -> None:
    """Capitals, blanks and first letters; nothing else is guessed at."""
    assert understood(_facts()["one key"], said) == meant


@pytest.mark.parametrize(("said", "meant"), [("3.5 ms", "3.5"), ("3.5", "3.5"), ("-1", None), ("soon", None)])
def test_a_time_is_a_number_of_milliseconds(said: str, meant: str | None) -> None:
    """With or without its unit, never below zero."""
    units = "[{name: box, kind: hardware, out: local out 15, back: local in 31, delay_ms: unknown}]"
    assert understood(_facts(looped(units=units, requests="[]"))["box delay"], said) == meant


def test_an_answer_to_nothing_and_an_answer_that_is_none_are_found_with_their_line() -> None:
    """The nearest question is named, and what can be answered."""
    text = with_answers(
        DEMO_TEXT, [Answer("one kee", "no", "x", "2026-11-20", 2), Answer("stereo pairs", "x", "y", "z", 3)]
    )
    _, _, wrong = answered(read_show(text, "show.yaml").show, desk())
    assert [finding.code for finding in wrong] == ["name-unknown", "value-wrong"]
    assert "Did you mean 'one key'?" in wrong[0].remedy
    assert "odd-even or any pair" in wrong[1].values


# Written into the show


def test_one_answer_changes_one_line() -> None:
    """The desk's line takes it; everything else stays as it was typed."""
    assert len(_changed(DEMO_TEXT, with_answers(DEMO_TEXT, [KEY]))) == 2  # the line before and after


def test_an_answer_in_a_desk_section_of_lines_adds_one() -> None:
    """A desk written in lines gets one line more, comments stay."""
    text = DEMO_TEXT.replace("desk: {type: 32-strip theatre desk}", "desk:\n  type: 32-strip theatre desk  # ours")
    once = with_answers(text, [KEY])
    assert [line[0] for line in _changed(text, once)] == ["+"]
    more = with_answers(once, [Answer("stereo pairs", "any pair", "house engineer", "2026-11-21", 3)])
    assert len(_changed(once, more)) == 2


def test_an_answer_given_anew_replaces_the_old_one() -> None:
    """The same question answered later: the line says the last."""
    text = with_answers(with_answers(DEMO_TEXT, [KEY]), [Answer("one key", "yes", "owner", "2026-11-22", 2)])
    known = read_show(text, "show.yaml").show.desk.known["one key"]
    assert (known.answer, known.by, known.date) == ("yes", "owner", "2026-11-22")
    assert len(_changed(DEMO_TEXT, text)) == 2


# The list


def _list(*rows: str) -> str:
    return "\r\n".join([",".join(HEADER), *rows, ""])


def test_the_list_goes_out_and_comes_back() -> None:
    """Written with commas and line breaks in questions, filled in by column, read as it was meant."""
    asked = [("one key", "Can one key, the last,\ntake all?", "=it matters"), ("stereo pairs", "Which?", "-")]
    rows = list(csv.reader(io.StringIO(question_list(asked), newline="")))
    assert tuple(rows[0]) == HEADER
    assert not rows[1][2].startswith("=")
    rows[1][3:] = ["Yes", "house engineer", "2026-11-20"]
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=";").writerows(rows)
    answers, _ = read_answers(text.getvalue(), "back.csv", _facts())
    assert [(own.id, own.said, own.by, own.date) for own in answers] == [
        ("one key", "yes", "house engineer", "2026-11-20")
    ]


@pytest.mark.parametrize(("day", "iso"), [("2026-11-2", "2026-11-02"), ("2.11.2026", "2026-11-02")])
def test_days_are_read_where_they_can_mean_one_thing(day: str, iso: str) -> None:
    """Year first, or day first with full stops."""
    answers, _ = read_answers(_list(f"one key,,,no,owner,{day}"), "back.csv", _facts())
    assert [own.date for own in answers] == [iso]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("one kee,,,no,owner,2026-11-20", "'one kee' is no question of this show"),
        (",,,no,owner,2026-11-20", "A row has an answer and no question id"),
        ("one key,,,perhaps,owner,2026-11-20", "'one key' has an answer that means nothing"),
        ("one key,,,no,,2026-11-20", "Nobody stands behind the answer to 'one key'"),
        ("one key,,,no,owner,3/4/2026", "The answer to 'one key' has no day"),
        ("one key,,,no,owner,", "The answer to 'one key' has no day"),
        ("one key,,,no,owner,2026-13-40", "The answer to 'one key' has no day"),
    ],
)
def test_a_row_that_cannot_be_taken_is_refused_with_its_line(row: str, words: str) -> None:
    """Nothing is guessed: the row, the value and what to write instead."""
    with pytest.raises(ShowUnreadable) as caught:
        read_answers(_list("stereo pairs,,,,,", row), "back.csv", _facts())
    (finding,) = caught.value.findings
    assert (finding.what, finding.line, finding.file) == (words, 3, "back.csv")
    assert finding.remedy


def test_a_question_answered_twice_and_not_alike_is_refused() -> None:
    """Both rows are named."""
    with pytest.raises(ShowUnreadable) as caught:
        read_answers(_list("one key,,,no,a,2026-11-20", "one key,,,yes,b,2026-11-21"), "back.csv", _facts())
    assert "'no' in line 2, 'yes' in line 3" in caught.value.findings[0].values


def test_rows_without_an_answer_are_passed_over() -> None:
    """Empty, or said not to be known."""
    answers, _ = read_answers(_list("one key,,,,,", "stereo pairs,,,unknown,,"), "back.csv", _facts())
    assert answers == ()
