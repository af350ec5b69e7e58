"""The whole paper of a plan: its sheets in order, each as CSV too, and the names that have to be drawable."""

from __future__ import annotations

import csv
import io

from sidetrip.plan.planner import Plan
from sidetrip.reports.patch_sheet import patch_sheet
from sidetrip.reports.recovery_card import recovery_sheet
from sidetrip.reports.sheet import Cell, Sheet, Stamp, names_in
from sidetrip.reports.timing_sheet import timing_sheet

# What makes a spreadsheet compute, wide forms included, or shifts a cell.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def sheets(plan: Plan, stamp: Stamp) -> tuple[Sheet, ...]:
    """Return every sheet: the one to patch from, the one to align from, the one for the worst minute."""
    return patch_sheet(plan, stamp), timing_sheet(plan, stamp), recovery_sheet(plan, stamp)


def csv_text(sheet: Sheet) -> str:
    """Return a sheet's rows as CSV: header first, CRLF, and no text that a spreadsheet would take for a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(sheet.csv_header)
    writer.writerows([_guarded(cell) for cell in row] for row in sheet.csv_rows)
    return text.getvalue()


def all_names(plan: Plan) -> tuple[str, ...]:
    """Return every name that somebody typed and that the sheets print, sorted."""
    return names_in(plan)


def _guarded(cell: Cell) -> Cell:
    if not isinstance(cell, str):
        return cell
    # Some programs skip blanks before they look for a formula.
    return f"'{cell}" if cell.lstrip(" \u00a0").startswith(_FORMULA) else cell
