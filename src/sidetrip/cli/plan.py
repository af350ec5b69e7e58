"""`sidetrip plan`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Literal

from sidetrip import wiring
from sidetrip.application.use_cases import Planned, plan
from sidetrip.cli.show import console, exit_code, print_blocks, print_findings
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import Finding, Severity, ordered

if TYPE_CHECKING:
    from sidetrip.plan.asked import Asked
    from sidetrip.plan.what_if import WhatIf


def run_plan(show: str, *, as_json: bool, paper: str | None, draw: str | None, ink: Ink, asked: Asked) -> int:
    """Plan a show, print it, write its paper and pictures; returns the exit code. asked: what is to be otherwise."""
    for folder, of, option in ((paper, "paper", "--paper paper"), (draw, "pictures", "--draw pictures")):
        if folder is not None and not folder.strip():
            console(errors=True).print(f"The folder for the {of} has no name. Give one: {option}")
            return 2
    try:
        planned, found = _planned(show, asked)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            from sidetrip.reports.plan_json import plan_text

            sys.stdout.write(plan_text(None, findings) + "\n")
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("No plan was made; nothing was written.")
        return 1
    findings = planned.findings
    written: tuple[str, ...] = ()
    if paper is not None:
        try:
            written, more = _print_paper(planned, paper)
        except (WouldOverwrite, WithFindings) as error:
            console(errors=True).print(str(error))
            return 1
        findings = ordered((*findings, *more))
    if draw is not None:
        try:
            written += _draw(planned, draw, ink)
        except WouldOverwrite as error:
            console(errors=True).print(str(error))
            return 1
    from sidetrip.reports.answer_words import plan_blocks
    from sidetrip.reports.plan_json import plan_text
    from sidetrip.reports.summary import summary

    if as_json:
        sys.stdout.write(plan_text(planned.plan, findings, found) + "\n")
        return exit_code(findings)
    if found is not None:
        from sidetrip.reports.what_if_words import what_if_blocks

        print_blocks(what_if_blocks(planned.plan, found))
        if not asked.another_plan:
            _print_written(written)
            return exit_code(findings)
        console().print("The plan then:\n")
    console().print(f"{planned.plan.show.show}, on a {planned.plan.desk.name} at {planned.plan.show.sample_rate} Hz\n")
    print_blocks(plan_blocks(summary(planned.plan), planned.plan))
    _print_rest(findings)
    _print_written(written)
    return exit_code(findings)


def _planned(show: str, asked: Asked) -> tuple[Planned, WhatIf | None]:
    """Return the plan that is asked for, and how it differs from the plan as it stands where anything is asked."""
    if not asked.anything:
        return plan(wiring.show_store(), wiring.desk_library(), show), None
    from sidetrip.application.what_if import ask

    found = ask(wiring.show_store(), wiring.desk_library(), show, asked)
    return found.other, found.what_if


Ink = Literal["page", "dim", "print"]
"""Colours of pictures: on a dark page, dimmer, or black on white."""


def _print_rest(findings: tuple[Finding, ...]) -> None:
    from sidetrip.reports.summary import SAID

    rest = [finding for finding in findings if finding.code not in SAID]
    if not rest:
        return
    worst = sum(finding.severity is Severity.ERROR for finding in rest)
    console().print(f"Findings: {len(rest)}{f', {worst} of them errors' if worst else ''}")
    print_findings(rest)
    console().print()


def _print_written(paths: tuple[str, ...]) -> None:
    for path in paths:
        console().print(f"wrote {path}")


def _draw(planned: Planned, folder: str, ink: Ink) -> tuple[str, ...]:
    from sidetrip.reports.draw.palette import DIM, PAGE, PRINT
    from sidetrip.reports.pictures import picture_files

    palette = {"page": PAGE, "dim": DIM, "print": PRINT}[ink]
    return wiring.show_store().write_paper(folder, picture_files(planned.plan, palette), beside=True)


def _print_paper(planned: Planned, folder: str) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    from sidetrip.reports.printing import print_paper

    return print_paper(wiring.show_store(), wiring.press(), wiring.clock(), planned, folder)
