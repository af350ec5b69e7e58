"""A show that is open at the desk: read again when its file changes, planned, changed line by line, and undone.

One person writes at a time. Every change names the text that it was made for; when the file holds something else by
then it is refused, with the difference.
"""

from __future__ import annotations

import difflib
import hashlib
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sidetrip.application.desk_notes import DeskNotes, Undo
from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import Loaded, Planned, load
from sidetrip.errors import NoPlan, ShowChanged, ShowUnreadable, SidetripError, WithFindings
from sidetrip.findings import Finding, has_errors, ordered
from sidetrip.plan.planner import Plan, make_plan, with_alignment

if TYPE_CHECKING:
    from sidetrip.showfile.read import Reading

_MOST_PLANS = 64
"""Plans at other buffers and rates that are kept: one for each place of both sliders, and some."""

_MOST_SHOWN = 8
"""Texts that were shown and are kept, so that a refused change can say what differs."""


class Refused(SidetripError):
    """A change that was not made, and why: nothing was written."""

    def __init__(self, what: str, findings: tuple[Finding, ...] = (), difference: tuple[str, ...] = ()) -> None:
        self.what, self.findings, self.difference = what, findings, difference
        super().__init__(what)


@dataclass(frozen=True, slots=True)
class Seen:
    """What the file says now. revision: a hash of its text. plan: None where there is none, and findings say why.

    aligned: whether what to dial is in the plan yet.
    """

    file: str
    text: str
    revision: str
    loaded: Loaded | None
    plan: Plan | None
    findings: tuple[Finding, ...]
    aligned: bool

    @property
    def planned(self) -> Planned | None:
        """The plan as the sheets take it."""
        if self.plan is None or self.loaded is None:
            return None
        return Planned(self.plan, self.loaded.source, self.findings)


def revision_of(text: str) -> str:
    """Return the hash by which a text is known again."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


@dataclass(slots=True)
class OpenShow:
    """The one show that the page has open. path: as the person gave it."""

    store: ShowStore
    library: DeskLibrary
    path: str
    _seen: Seen | None = None
    _shown: dict[str, str] = field(default_factory=dict)
    _others: dict[tuple[str, int | None, int | None], Plan] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    @property
    def notes(self) -> DeskNotes:
        """What is kept beside the show: ticks, and how to undo."""
        return DeskNotes(self.store, self.seen().file)

    def title(self) -> str:
        """Return what the show is called, empty where it does not read; nothing is planned."""
        from sidetrip.showfile.read import read_show

        try:
            return read_show(*self.store.read_show(self.path)).show.show
        except ShowUnreadable:
            return ""

    def seen(self) -> Seen:
        """Return what the file says now, planned anew if it says something else than last time."""
        with self._lock:
            try:
                text, file = self.store.read_show(self.path)
            except ShowUnreadable as error:
                return Seen(self.path, "", "", None, None, error.findings, aligned=False)
            revision = revision_of(text)
            if self._seen is None or self._seen.revision != revision:
                self._take(text, file)
            assert self._seen is not None
            return self._seen

    def _take(self, text: str, file: str, reading: Reading | None = None) -> None:
        self._shown.pop(revision_of(text), None)
        self._shown[revision_of(text)] = text
        while len(self._shown) > _MOST_SHOWN:
            self._shown.pop(next(iter(self._shown)))
        self._seen = self._read(text, file, revision_of(text), reading)
        self._others.clear()

    def _read(self, text: str, file: str, revision: str, reading: Reading | None) -> Seen:
        nothing = Seen(file, text, revision, None, None, (), aligned=False)
        try:
            loaded = load(self.store, self.library, self.path, reading=reading)
        except WithFindings as error:
            return replace(nothing, findings=ordered(error.findings))
        if has_errors(loaded.findings):
            return replace(nothing, loaded=loaded, findings=loaded.findings)
        from sidetrip.showfile.read import place

        try:
            plan = make_plan(loaded.show, loaded.desk, dial=False)
        except NoPlan as error:
            found = ordered((*loaded.findings, *place(error.findings, loaded.source)))
            return replace(nothing, loaded=loaded, findings=found)
        return replace(nothing, loaded=loaded, plan=plan, findings=_all_findings(loaded, plan))

    def align(self) -> Seen:
        """Find what to dial, if it is not found yet; the page may be used meanwhile."""
        seen = self.seen()
        if seen.plan is None or seen.aligned or seen.loaded is None:
            return seen
        aligned = with_alignment(seen.plan)
        with self._lock:
            if self._seen is not None and self._seen.revision == seen.revision:
                found = _all_findings(seen.loaded, aligned)
                self._seen = replace(self._seen, plan=aligned, findings=found, aligned=True)
                return self._seen
        return self.seen()

    def at(self, buffer_frames: int | None, rate_hz: int | None) -> Plan | None:
        """Return the plan at another buffer or rate, without what to dial; None where there is none.

        Raises ShowUnreadable where the desk or a unit does not run at that rate.
        """
        seen = self.seen()
        if seen.plan is None or (buffer_frames is None and rate_hz in (None, seen.plan.show.sample_rate)):
            return seen.plan
        rate = rate_hz or seen.plan.show.sample_rate
        key = seen.revision, buffer_frames, rate
        if key not in self._others:
            like: Plan | None = seen.plan
            if rate != seen.plan.show.sample_rate:
                like = self._at_rate(seen.plan, rate)
            assert like is not None
            made = like
            if buffer_frames is not None:
                made = make_plan(like.show, like.desk, buffer_frames, dial=False, like=like)
            with self._lock:
                while len(self._others) >= _MOST_PLANS:
                    self._others.pop(next(iter(self._others)))
                self._others[key] = made
        return self._others[key]

    def _at_rate(self, plan: Plan, rate_hz: int) -> Plan:
        key = self.seen().revision, None, rate_hz
        if key not in self._others:
            from sidetrip.showfile.check_show import check_show

            show = plan.show.model_copy(update={"sample_rate": rate_hz})
            wrong = [finding for finding in check_show(show, plan.desk) if has_errors([finding])]
            if wrong:
                raise ShowUnreadable(wrong)
            self._others[key] = make_plan(show, plan.desk, dial=False)
        return self._others[key]

    def change(self, revision: str, what: str, edit: Callable[[Seen], str]) -> Seen:
        """Change the text of the show and plan it anew. what: in words, for undo. Raises Refused; nothing is lost.

        A change after which the show does not read is refused; one after which it has no plan is made, since the next
        change may mend it.
        """
        with self._lock:
            seen = self.seen()
            if seen.revision != revision:
                lines = difference(self._shown.get(revision, seen.text), seen.text)
                what = "The show was changed elsewhere since this page showed it. Look at it again, then decide"
                raise Refused(what, (), lines)
            text = edit(seen)
            if text == seen.text:
                return seen
            from sidetrip.showfile.read import read_show

            try:
                reading = read_show(text, seen.file)
            except ShowUnreadable as error:
                raise Refused("With this change the show would not read", error.findings) from error
            self._write(seen, text)
            DeskNotes(self.store, seen.file).push(Undo(what, revision, seen.text, revision_of(text)))
            self._take(text, seen.file, reading)
            return self.seen()

    def undo(self, revision: str) -> tuple[Seen, str]:
        """Put back what stood there before the last change of this page; returns what was undone. Raises Refused."""
        with self._lock:
            seen = self.seen()
            last = self.notes.last()
            if last is None:
                raise Refused("There is nothing to undo: this page has changed nothing in this show")
            if seen.revision != revision or last.after != seen.revision:
                lines = difference(last.text, seen.text)
                what = f"'{last.what}' cannot be undone: the show was changed elsewhere since. Undo it in the file"
                raise Refused(what, (), lines)
            self._write(seen, last.text)
            self.notes.pop()
            return self.seen(), last.what

    def _write(self, seen: Seen, text: str) -> None:
        try:
            self.store.replace(seen.file, seen.text, text)
        except ShowChanged as error:
            raise Refused("The show was changed elsewhere just now. Look at it again, then decide") from error
        except ShowUnreadable as error:
            raise Refused("The show file cannot be written", error.findings) from error


def _all_findings(loaded: Loaded, plan: Plan) -> tuple[Finding, ...]:
    from sidetrip.showfile.read import place

    return ordered((*loaded.findings, *place(plan.findings, loaded.source)))


def difference(before: str, after: str) -> tuple[str, ...]:
    """Return the lines that differ, with - for those that are gone and + for those that came."""
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return tuple(line for line in lines if not line.startswith(("---", "+++", "@@")))


__all__ = ["OpenShow", "Refused", "Seen", "difference", "revision_of"]
