"""The changes that the page makes to a show, each as few lines of its text as can be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sidetrip.application.at_desk import OpenShow, Refused, Seen
from sidetrip.errors import NoPlan, ShowUnreadable
from sidetrip.findings import has_errors

if TYPE_CHECKING:
    from sidetrip.model.show import Show
    from sidetrip.plan.planner import Plan

Key = tuple[str, str]
"""A request: its strip and its way."""


def set_want(show: OpenShow, revision: str, key: Key, want: str) -> Seen:
    """Give a request another want: "must", or 1 to 9. Raises Refused."""

    def edit(seen: Seen) -> str:
        index = _request(seen, key)
        return _set(seen, seen.text, ("requests", index, "want"), want if want == "must" else int(want))

    return show.change(revision, f"want of {key[0]}", edit)


def make_mend(show: OpenShow, revision: str, key: Key, words: str) -> Seen:
    """Make the change that is said to serve a request. Raises Refused where it would not, after all, serve it."""
    from sidetrip.plan.mending import mends
    from sidetrip.plan.planner import make_plan
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.edit import NoSuchField
    from sidetrip.showfile.rewrite import rewritten

    def edit(seen: Seen) -> str:
        if seen.plan is None or seen.loaded is None:
            raise Refused("The show has no plan now, so nothing is known that would serve anybody")
        found = {mend.words: mend for mend in mends(seen.plan.show, seen.plan.desk, seen.plan.allocation, key)}
        mend = found.get(words)
        if mend is None:
            raise Refused(f"'{words}' is not what would serve {key[0]} any more. Look at it again")
        if mend.show is None:
            raise Refused(f"This needs a hand and a decision of yours: {words}. Change it in the show file")
        before, after = seen.plan.show, mend.show
        wrong = [finding for finding in check_show(after, seen.plan.desk) if has_errors([finding])]
        if wrong:
            raise Refused("With this change the show would contradict itself", tuple(wrong))
        try:
            plan = make_plan(after, seen.plan.desk, dial=False)
        except NoPlan as error:
            raise Refused("With this change the musts could not be met", error.findings) from error
        out = {(loop.strip, loop.way) for loop in plan.allocation.loops}
        if mend.key not in out:
            new = sorted({strip for strip, _ in out} - {loop.strip for loop in seen.plan.allocation.loops})
            who = f"{', '.join(new)} would go out, being wanted more" if new else "it would not be enough by itself"
            raise Refused(f"With this change {who}, and {key[0]} would still stay in. Nothing was written")
        try:
            return rewritten(seen.text, before, after, seen.file)
        except (NoSuchField, ValueError) as error:
            raise Refused(f"The show file cannot take this change by itself: {error}. Make it by hand") from error

    return show.change(revision, f"{key[0]} sent out", edit)


def set_buffer(show: OpenShow, revision: str, buffer_frames: int | None, rate_hz: int | None) -> Seen:
    """Set the buffer of every computer that has loops, and the show's rate. Raises Refused."""

    def edit(seen: Seen) -> str:
        own = _as_written(seen)
        text = seen.text
        if rate_hz is not None and rate_hz != own.sample_rate:
            text = _set(seen, text, ("sample_rate",), rate_hz)
        for index, unit in enumerate(own.units):
            if buffer_frames is not None and unit.kind == "computer":
                text = _set(seen, text, ("units", index, "buffer"), buffer_frames)
        return text

    what = [f"buffer {buffer_frames}"] * (buffer_frames is not None) + [f"rate {rate_hz}"] * (rate_hz is not None)
    return show.change(revision, " and ".join(what) or "nothing", edit)


def take_answer(show: OpenShow, revision: str, fact_id: str, said: str, by: str, date: str) -> Seen:
    """Put what the house said into the show. Raises Refused."""
    from sidetrip.showfile.edit import NoSuchField
    from sidetrip.showfile.known import every_fact, shown_answers, understood
    from sidetrip.showfile.question_list import Answer, with_answers

    def edit(seen: Seen) -> str:
        if seen.loaded is None:
            raise Refused("The show does not read now")
        facts = {fact.id: fact for fact in every_fact(seen.loaded.show, seen.loaded.desk)}
        if fact_id not in facts:
            raise Refused(f"The show asks nothing called '{fact_id[:60]}'")
        meant = understood(facts[fact_id], said)
        if meant is None:
            raise Refused(f"'{said[:60]}' is no answer to that. Give one of: {shown_answers(facts[fact_id])}")
        try:
            return with_answers(seen.text, [Answer(fact_id, meant, by, date, 1)], seen.file)
        except (NoSuchField, ValueError) as error:
            raise Refused(f"The answer cannot be written without rewriting what stands there: {error}") from error

    return show.change(revision, f"answer to {fact_id}", edit)


def moved(before: Plan | None, seen: Seen) -> str:
    """Say in a sentence who goes out now and did not before, and the other way round."""
    if seen.plan is None:
        first = seen.findings[0] if seen.findings else None
        return "The show has no plan now." if first is None else f"The show has no plan now: {first.what}."
    was = set() if before is None else {loop.strip for loop in before.allocation.loops if not loop.blank}
    now = {loop.strip for loop in seen.plan.allocation.loops if not loop.blank}
    new, gone = sorted(now - was), sorted(was - now)
    words = [f"{', '.join(new)} now {'goes' if len(new) == 1 else 'go'} out"] * bool(new)
    words += [f"{', '.join(gone)} now {'stays' if len(gone) == 1 else 'stay'} in"] * bool(gone)
    return f"{'; '.join(words)}." if words else "Who goes out does not change."


def _request(seen: Seen, key: Key) -> int:
    requests = _as_written(seen).requests
    found = next((index for index, own in enumerate(requests) if (own.strip, own.way) == key), None)
    if found is None:
        raise Refused(f"The show has no request of '{key[0]}' by {key[1]} any more. Look at it again")
    return found


def _set(seen: Seen, text: str, path: tuple[str | int, ...], value: str | int) -> str:
    from sidetrip.showfile.edit import NoSuchField, set_field

    try:
        return set_field(text, path, value, seen.file)
    except (NoSuchField, ValueError) as error:
        raise Refused(f"The show file cannot take this change by itself: {error}. Make it by hand") from error


def _as_written(seen: Seen) -> Show:
    from sidetrip.showfile.read import read_show

    try:
        return read_show(seen.text, seen.file).show
    except ShowUnreadable as error:
        raise Refused("The show does not read now", error.findings) from error


__all__ = ["Key", "make_mend", "moved", "set_buffer", "set_want", "take_answer"]
