"""Paper: every sheet of the plan, typeset once when it is first asked for, as PDF, as CSV and as pictures."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

from sidetrip.application.at_desk import Seen
from sidetrip.application.ports import Clock, Press
from sidetrip.reports.paper import csv_text, sheets
from sidetrip.reports.printing import stamp_of
from sidetrip.reports.sheet import Sheet

PPI = 110
_WHAT_FOR = {
    "patch-sheet": "For whoever patches: every step with what to see, and how it is undone.",
    "timing-sheet": "For whoever aligns loudspeakers, ears and stream: what arrives when, and what to dial.",
    "recovery-card": "For the worst minute: what anybody presses when it dies. Print it large and hang it at the desk.",
}


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One sheet. name: of its files. what_for: for whom it is."""

    name: str
    title: str
    what_for: str


@dataclass(slots=True)
class Printed:
    """The sheets of one text of a show."""

    press: Press
    sheets: tuple[Sheet, ...]
    _pdf: dict[str, bytes] = field(default_factory=dict)
    _pages: dict[str, list[bytes]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def lines(self) -> tuple[SheetLine, ...]:
        """Return what there is."""
        return tuple(SheetLine(own.name, own.title, _WHAT_FOR.get(own.name, "")) for own in self.sheets)

    def _sheet(self, name: str) -> Sheet | None:
        return next((own for own in self.sheets if own.name == name), None)

    def pdf(self, name: str) -> bytes | None:
        """Return a sheet as PDF, None where there is no such sheet."""
        sheet = self._sheet(name)
        if sheet is None:
            return None
        with self._lock:
            if name not in self._pdf:
                self._pdf[name] = self.press.pdf(sheet.template, sheet.data)
            return self._pdf[name]

    def csv(self, name: str) -> str | None:
        """Return a sheet as CSV, None where there is no such sheet."""
        sheet = self._sheet(name)
        return None if sheet is None else csv_text(sheet)

    def pages(self, name: str) -> list[bytes]:
        """Return a sheet as pictures, one a page; none where there is no such sheet."""
        sheet = self._sheet(name)
        if sheet is None:
            return []
        with self._lock:
            if name not in self._pages:
                self._pages[name] = self.press.png(sheet.template, sheet.data, PPI)
            return self._pages[name]


def print_sheets(press: Press, clock: Clock, seen: Seen) -> Printed:
    """Return the sheets of a plan; nothing is typeset before it is asked for."""
    planned = seen.planned
    assert planned is not None
    return Printed(press, sheets(planned.plan, stamp_of(clock, planned)))


__all__ = ["PPI", "Printed", "SheetLine", "print_sheets"]
