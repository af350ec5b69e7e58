"""`sidetrip plan`."""

from __future__ import annotations

import sys

from sidetrip import wiring
from sidetrip.application.use_cases import Planned, plan
from sidetrip.cli.show import console, exit_code, print_blocks, print_findings
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import Finding, Severity, ordered


def run_plan(show: str, *, as_json: bool, paper: str | None, buffer: int | None, rate: int | None) -> int:
    """Plan a show, print it, write its paper; returns the exit code."""
    if paper is not None and not paper.strip():
        console(errors=True).print("The folder for the paper has no name. Give one: --paper paper")
        return 2
    try:
        planned = plan(wiring.show_store(), wiring.desk_library(), show, buffer_frames=buffer, rate_hz=rate)
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
    from sidetrip.reports.answer_words import plan_blocks
    from sidetrip.reports.plan_json import plan_text
    from sidetrip.reports.summary import summary

    if as_json:
        sys.stdout.write(plan_text(planned.plan, findings) + "\n")
        return exit_code(findings)
    console().print(f"{planned.plan.show.show}, on a {planned.plan.desk.name} at {planned.plan.show.sample_rate} Hz\n")
    print_blocks(plan_blocks(summary(planned.plan), planned.plan))
    _print_rest(findings)
    for path in written:
        console().print(f"wrote {path}")
    return exit_code(findings)


_SAID = ("request-refused", "heard-twice", "picture-off", "meeting-untold")
"""Findings that the summary has already said."""


def _print_rest(findings: tuple[Finding, ...]) -> None:
    rest = [finding for finding in findings if finding.code not in _SAID]
    if not rest:
        return
    worst = sum(finding.severity is Severity.ERROR for finding in rest)
    console().print(f"Findings: {len(rest)}{f', {worst} of them errors' if worst else ''}")
    print_findings(rest)
    console().print()


def _print_paper(planned: Planned, folder: str) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    from sidetrip.reports.printing import print_paper

    return print_paper(wiring.show_store(), wiring.press(), wiring.clock(), planned, folder)
