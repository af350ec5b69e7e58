"""The plan under what nobody knows for sure: one fact varied at a time, and the questions that are worth asking.

Two facts are varied together only where both belong to one rule and neither changes the plan by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations, product

from sidetrip.errors import NoPlan
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Fact as Words
from sidetrip.model.show import Show
from sidetrip.plan.differences import Difference, differences
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.showfile.known import Fact, facts_of

MOST_QUESTIONS = 12


@dataclass(frozen=True, slots=True)
class Branch:
    """The plan if some facts are so. given: what was assumed, by fact. differences: from the plan as it is."""

    given: tuple[tuple[Fact, str], ...]
    differences: tuple[Difference, ...]

    @property
    def words(self) -> str:
        """Say what it is under which answer, without a full stop."""
        given = " and ".join(f"{fact.id}: {answer}" for fact, answer in self.given)
        return f"if {given}, {'; '.join(difference.words for difference in self.differences)}"


@dataclass(frozen=True, slots=True)
class Question:
    """A question whose answer changes the plan. why: what would be otherwise, by answer."""

    fact: Fact
    why: str
    branches: tuple[Branch, ...]


def branches(plan: Plan, told: Callable[[int, int], None] | None = None) -> tuple[Branch, ...]:
    """Return the plan under every answer that could be and is not taken for true, where it differs.

    told: called before each fact, with how many are done and how many there are.
    """
    facts = facts_of(plan.show, plan.desk)
    found: list[Branch] = []
    silent: list[Fact] = []
    for number, fact in enumerate(facts):
        if told is not None:
            told(number, len(facts))
        own = [_branch(plan, ((fact, answer),)) for answer in fact.tried if answer != fact.now]
        changed = [branch for branch in own if branch.differences]
        found += changed
        silent += [] if changed else [fact]
    for one, other in combinations(silent, 2):
        if one.rule == other.rule and one.rule in ("ports", "gain"):
            for answer, second in product(one.tried, other.tried):
                if answer != one.now and second != other.now:
                    branch = _branch(plan, ((one, answer), (other, second)))
                    found += [branch] if branch.differences else []
    return tuple(sorted(found, key=_consequence))


def _branch(plan: Plan, given: tuple[tuple[Fact, str], ...]) -> Branch:
    show, desk = plan.show, plan.desk
    for fact, answer in given:
        show, desk = fact.make(show, desk, Words(**{"is": answer}, standing="assumed"))
    return Branch(given, differences(plan, _plan(show, desk)))


def _plan(show: Show, desk: Desk) -> Plan | None:
    try:
        return make_plan(show, desk, dial=False)
    except NoPlan:
        return None


def _consequence(branch: Branch) -> tuple[int, int, tuple[str, ...]]:
    ranks = [difference.rank for difference in branch.differences]
    return min(ranks), -len(ranks), tuple(f"{fact.id} {answer}" for fact, answer in branch.given)


def questions(found: tuple[Branch, ...]) -> tuple[Question, ...]:
    """Return what to ask, no more than twelve, the most consequential first."""
    facts: dict[str, Fact] = {}
    for branch in found:
        for fact, _ in branch.given:
            facts.setdefault(fact.id, fact)
    asked = []
    for fact in list(facts.values())[:MOST_QUESTIONS]:
        own = tuple(branch for branch in found if any(other is fact for other, _ in branch.given))
        asked.append(Question(fact, _why(fact, own), own))
    return tuple(asked)


def _why(fact: Fact, own: tuple[Branch, ...]) -> str:
    """Say what hangs on it: what is taken for true now, and what would be otherwise."""
    taken = "Nobody has said" if fact.now == "unknown" else f"Taken for true: {fact.now}"
    parts = []
    for branch in own:
        answers = [answer for other, answer in branch.given if other is fact]
        beside = [f"{other.id} is {answer}" for other, answer in branch.given if other is not fact]
        if_ = f"{answers[0]}{' ms' if not fact.answers else ''}{' and ' if beside else ''}{' and '.join(beside)}"
        parts.append(f"If {if_}: {'; '.join(difference.words for difference in branch.differences)}")
    return f"{taken}. {'. '.join(parts)}."


__all__ = ["MOST_QUESTIONS", "Branch", "Question", "branches", "questions"]
