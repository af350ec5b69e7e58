"""Blocks and findings on a terminal."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sidetrip.findings import Finding, Severity, has_errors
from sidetrip.reports.finding_json import finding_doc

if TYPE_CHECKING:
    from rich.console import Console

    from sidetrip.reports.summary import Block

_STYLE = {Severity.ERROR: "bold", Severity.WARNING: "", Severity.NOTE: "dim"}


def console(*, errors: bool = False) -> Console:
    """Return a console that never guesses at markup or numbers in people's names."""
    from rich.console import Console

    return Console(stderr=errors, highlight=False, markup=False, emoji=False, soft_wrap=False)


def print_blocks(blocks: Sequence[Block]) -> None:
    """Print headings, answers and tables."""
    from rich.table import Table
    from rich.text import Text

    out = console()
    for block in blocks:
        out.print(Text(block.heading, style="bold"))
        out.print(Text(block.answer))
        if block.rows:
            table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
            last = len(block.header) - 1
            for index, name in enumerate(block.header):
                table.add_column(Text(name), overflow="fold", ratio=1 if index == last else None)
            for row in block.rows:
                table.add_row(*(Text(cell) for cell in row))
            out.print(table)
        out.print()


def print_findings(findings: Sequence[Finding], *, errors: bool = False) -> None:
    """Print findings one a paragraph: place, what and values, remedy."""
    from rich.padding import Padding
    from rich.text import Text

    out = console(errors=errors)
    for finding in findings:
        place = f"{finding.file}:{finding.line}" if finding.line else finding.file or finding.where
        values = f" ({finding.values})" if finding.values else ""
        out.print(
            Text(
                f"{finding.severity.value}  {place}  {finding.where if finding.line else ''}".rstrip(),
                style=_STYLE[finding.severity],
            )
        )
        out.print(
            Padding(
                Text(f"{finding.what}{values}. {finding.remedy}{'' if finding.remedy.endswith(('?', '.')) else '.'}"),
                (0, 0, 0, 2),
            )
        )


def print_json(document: object) -> None:
    """Print strict JSON."""
    sys.stdout.write(json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def findings_json(findings: Sequence[Finding]) -> dict[str, object]:
    """Return findings with their lines, for `check --json`."""
    return {"findings": [{**finding_doc(f), "file": f.file, "line": f.line} for f in findings]}


def exit_code(findings: Sequence[Finding]) -> int:
    """Return 1 when a finding is an error, else 0."""
    return int(has_errors(findings))
