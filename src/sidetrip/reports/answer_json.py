"""Answers about who goes out as JSON: why a strip, and the questions for the house with what hangs on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sidetrip.findings import Finding
from sidetrip.plan.answers import Flip, Instead
from sidetrip.plan.unknowns import Branch, Question
from sidetrip.plan.why import Refused, Served
from sidetrip.reports.finding_json import finding_doc

FORMAT = 1


def why_doc(strip: str, found: Iterable[Served | Refused], findings: Sequence[Finding] = ()) -> dict[str, object]:
    """Return the answer about one strip; no requests where it asks for nothing."""
    return {
        "sidetrip_why": FORMAT,
        "strip": strip,
        "requests": [_served(one) if isinstance(one, Served) else _refused(one) for one in found],
        "findings": [finding_doc(finding) for finding in findings],
    }


def _served(one: Served) -> dict[str, object]:
    return {
        "way": one.request.way,
        "want": one.request.want,
        "goes_out": True,
        "unit": one.loop.unit,
        "send": str(one.loop.send),
        "return": str(one.loop.returns),
        "because": list(one.because),
        "without_it": _instead(one.without),
        "flips": _flip(one.flip),
    }


def _refused(one: Refused) -> dict[str, object]:
    return {
        "way": one.request.way,
        "want": one.request.want,
        "goes_out": False,
        "reason": one.refusal.reason,
        "would_fit_if": list(one.refusal.would_fit_if),
        "pair": list(one.refusal.pair),
        "tried": one.refusal.tried,
        "with_it": _instead(one.instead),
        "flips": _flip(one.flip),
    }


def _instead(own: Instead | None) -> dict[str, object] | None:
    if own is None:
        return None
    return {"goes_out": list(own.goes_out), "stays_in": list(own.stays_in), "ports_more": own.ports, "words": own.words}


def _flip(own: Flip | None) -> dict[str, object] | None:
    return None if own is None else {"want": own.want, "at": own.at, "then": _instead(own.instead), "words": own.words}


def questions_doc(
    asked: Sequence[Question], branches: Sequence[Branch], findings: Sequence[Finding] = ()
) -> dict[str, object]:
    """Return the questions, and the plan under each answer as differences from the plan."""
    return {
        "sidetrip_questions": FORMAT,
        "questions": [
            {
                "id": own.fact.id,
                "question": own.fact.question,
                "answers": list(own.fact.answers),
                "taken_for_true": own.fact.now,
                "why": own.why,
            }
            for own in asked
        ],
        "branches": [
            {
                "if": {fact.id: answer for fact, answer in branch.given},
                "differences": [difference.words for difference in branch.differences],
            }
            for branch in branches
        ],
        "findings": [finding_doc(finding) for finding in findings],
    }


__all__ = ["questions_doc", "why_doc"]
