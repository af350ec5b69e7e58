"""A proof onto paper."""

from __future__ import annotations

from sidetrip.application.ports import Clock, Press, ShowStore
from sidetrip.application.proving import Proved
from sidetrip.findings import Finding
from sidetrip.reports.paper import csv_text
from sidetrip.reports.printing import revision
from sidetrip.reports.proof_sheet import proof_sheet
from sidetrip.reports.sheet import Stamp


def print_proof(
    store: ShowStore, press: Press, clock: Clock, proved: Proved, folder: str
) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Write the proof sheet into a folder, beside what else is there. Returns the paths and what cannot be drawn.

    Raises WouldOverwrite when the folder holds somebody else's file of that name.
    """
    planned = proved.before
    stamp = Stamp(
        show=planned.plan.show.show,
        revision=revision(planned.source.text),
        printed=clock.now().strftime("%Y-%m-%d %H:%M"),
        desk=planned.plan.desk.name,
        file=planned.source.file,
    )
    sheet = proof_sheet(proved.proof, stamp)
    files = {f"{sheet.name}.pdf": press.pdf(sheet.template, sheet.data), f"{sheet.name}.csv": csv_text(sheet).encode()}
    return store.write_paper(folder, files, beside=True), ()


__all__ = ["print_proof"]
