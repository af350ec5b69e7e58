"""Answers about who goes out, for a terminal: why a strip, what else could be, and the questions for the house."""

from __future__ import annotations

from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.answers import Answers
from sidetrip.plan.planner import Plan
from sidetrip.plan.price import price_list
from sidetrip.plan.unknowns import Question
from sidetrip.plan.why import Refused, Served
from sidetrip.reports.summary import Block
from sidetrip.showfile.known import shown_answers

_MOST_FLIPS = 3
_MOST_CHANGES = 12


def what_else(show: Show, desk: Desk) -> tuple[Block, ...]:
    """Return, where somebody stays in, the runner-up, the wants that flip the answer, and the price list, shortly."""
    answers = Answers.of(show, desk)
    if answers is None or not answers.stay_in:
        return ()
    other = answers.runner_up()
    rows = [("next best", other.words)] if other is not None else []
    rows += [("it flips", flip.words) for flip in answers.nearest_flips(_MOST_FLIPS)]
    prices = price_list(show, desk)
    rows += [("one more", price.words) for price in prices if price.serves]
    idle = [price.what for price in prices if not price.serves]
    answer = "What else could be, and what it would take."
    if idle:
        answer += f" Of no use: {'; '.join(idle[:3])}{f' and {len(idle) - 3} more' if len(idle) > 3 else ''}."
    return (Block("What else could be", answer, ("", "then"), tuple(rows)),) if rows else ()


def plan_blocks(blocks: tuple[Block, ...], plan: Plan) -> tuple[Block, ...]:
    """Return the blocks of a plan with what else could be behind who stays in."""
    at = next((number + 1 for number, block in enumerate(blocks) if block.heading == "Who stays in"), len(blocks))
    more = what_else(plan.show, plan.desk) if plan.allocation.refusals else ()
    return (*blocks[:at], *more, *blocks[at:])


def why_blocks(strip: str, found: tuple[Served | Refused, ...]) -> tuple[Block, ...]:
    """Return a block for each request of a strip."""
    if not found:
        return (Block(strip, "It asks for nothing: no request of the show names it, and so it stays on the desk."),)
    return tuple(_served(one) if isinstance(one, Served) else _refused(one) for one in found)


def _served(one: Served) -> Block:
    loop = one.loop
    answer = f"It goes out to {loop.unit}: send {loop.send}, return {loop.returns} (want {one.request.want})."
    rows = [("because", because) for because in one.because]
    without = one.without
    if one.request.want == "must":
        rows.append(("displaces", "it must go out, whoever stays in for it"))
    elif without is None:
        rows.append(("displaces", "nobody: without it nobody more would go out"))
    else:
        rows.append(("displaces", f"without it {without.words}"))
    rows.append(("it flips", one.flip.words if one.flip is not None else _no_flip(one.request.want)))
    return Block(one.request.strip, answer, ("", ""), tuple(rows))


def _no_flip(want: int | str) -> str:
    return "a must has no number" if want == "must" else "no other number of its want changes who goes out"


def _refused(one: Refused) -> Block:
    refusal = one.refusal
    answer = f"It stays in: {refusal.reason} (want {refusal.want})."
    changes = refusal.would_fit_if
    rows = [("out, if", change) for change in changes[:_MOST_CHANGES]]
    if len(changes) > _MOST_CHANGES:
        rows.append(("", f"and {len(changes) - _MOST_CHANGES} more"))
    if not changes:
        rows.append(("out, if", " and ".join(refusal.pair)) if refusal.pair else ("tried", f"{refusal.words}"))
    if one.instead is not None:
        rows.append(("with it", one.instead.words))
    rows.append(("it flips", one.flip.words if one.flip is not None else _no_flip(refusal.want)))
    return Block(refusal.strip, answer, ("", ""), tuple(rows))


def question_blocks(asked: tuple[Question, ...]) -> tuple[Block, ...]:
    """Return the questions for the house, the most consequential first."""
    if not asked:
        return (Block("Questions for the house", "None: nothing that is unknown or assumed would change the plan."),)
    rows = tuple((own.fact.id, f"{own.fact.question} ({shown_answers(own.fact)})", own.why) for own in asked)
    count = f"{len(asked)} {'question' if len(asked) == 1 else 'questions'}, the most consequential first."
    return (Block("Questions for the house", count, ("id", "question", "why it matters"), rows),)


__all__ = ["plan_blocks", "question_blocks", "what_else", "why_blocks"]
