"""The computer sheet onto paper, as PDF and CSV, beside the other sheets of a folder."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip.application.evidence_ports import Seen
from sidetrip.application.holding import Held
from sidetrip.application.ports import Clock, Press, ShowStore
from sidetrip.findings import Finding
from sidetrip.reports.computer_sheet import computer_sheet
from sidetrip.reports.paper import csv_text
from sidetrip.reports.printing import revision
from sidetrip.reports.sheet import Stamp


def print_hold(
    store: ShowStore, press: Press, clock: Clock, held: Held, seen: Sequence[Seen], folder: str
) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Write the sheet into a folder, beside what else is there. Returns the paths, and what cannot be drawn.

    Raises WouldOverwrite when the folder holds somebody else's file of that name.
    """
    planned = held.planned
    stamp = Stamp(
        show=planned.plan.show.show,
        revision=revision(planned.source.text),
        printed=clock.now().strftime("%Y-%m-%d %H:%M"),
        desk=planned.plan.desk.name,
        file=planned.source.file,
    )
    sheet = computer_sheet(held, seen, stamp)
    files = {f"{sheet.name}.pdf": press.pdf(sheet.template, sheet.data), f"{sheet.name}.csv": csv_text(sheet).encode()}
    names = [planned.plan.show.show, *(own.unit for own in held.advice.units)]
    findings = tuple(
        Finding(
            "glyph-missing",
            f"paper / {name}",
            f"No font here can draw all of the name '{name}'",
            " ".join(f"U+{ord(character):04X}" for character in characters),
            "Install a font that has these characters, or write the name with others",
        )
        for name, characters in sorted(press.undrawable(names).items())
    )
    return store.write_paper(folder, files, beside=True), findings


__all__ = ["print_hold"]
