"""A plan onto paper: every sheet as PDF and CSV, all or none, and what the fonts here cannot draw."""

from __future__ import annotations

import hashlib

from sidetrip.application.ports import Clock, Press, ShowStore
from sidetrip.application.use_cases import Planned
from sidetrip.findings import Finding
from sidetrip.reports.paper import all_names, csv_text, sheets
from sidetrip.reports.sheet import Stamp


def revision(text: str) -> str:
    """Return the short hash of a show's text that is printed on every page."""
    return hashlib.sha256(text.encode()).hexdigest()[:7]


def stamp_of(clock: Clock, planned: Planned) -> Stamp:
    """Return what stands on every page of a plan's sheets."""
    return Stamp(
        show=planned.plan.show.show,
        revision=revision(planned.source.text),
        printed=clock.now().strftime("%Y-%m-%d %H:%M"),
        desk=planned.plan.desk.name,
        file=planned.source.file,
    )


def print_paper(
    store: ShowStore, press: Press, clock: Clock, planned: Planned, folder: str
) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Write every sheet into a folder. Returns the paths and a finding for each name that cannot be drawn.

    Raises WouldOverwrite when the folder holds files of somebody else under the same names.
    """
    plan, stamp = planned.plan, stamp_of(clock, planned)
    files: dict[str, bytes] = {}
    for sheet in sheets(plan, stamp):
        files[f"{sheet.name}.pdf"] = press.pdf(sheet.template, sheet.data)
        files[f"{sheet.name}.csv"] = csv_text(sheet).encode("utf-8")
    missing = press.undrawable(all_names(plan))
    findings = tuple(
        Finding(
            "glyph-missing",
            f"paper / {name}",
            f"No font here can draw all of the name '{name}'",
            " ".join(f"U+{ord(character):04X}" for character in characters),
            "Install a font that has these characters, or write the name with others",
        )
        for name, characters in sorted(missing.items())
    )
    return store.write_paper(folder, files), findings
