"""`sidetrip hold`."""

from __future__ import annotations

import sys

from sidetrip import wiring
from sidetrip.application.holding import Held, hold
from sidetrip.cli.show import console, exit_code, print_blocks, print_findings
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import Finding, ordered


def run_hold(show: str, *, as_json: bool, paper: str | None, rate: int | None, here: bool) -> int:
    """Advise on buffer and rate, print it, write the computer sheet; returns the exit code."""
    try:
        held = hold(wiring.show_store(), wiring.desk_library(), wiring.evidence_files(), show, rate_hz=rate)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            from sidetrip.reports.hold_json import hold_text

            sys.stdout.write(hold_text(None, findings) + "\n")
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("Nothing can be advised.")
        return 1
    seen = wiring.this_system().look() if here else ()
    written: tuple[str, ...] = ()
    findings = held.findings
    if paper is not None:
        try:
            written, more = _print_sheet(held, paper, here=here)
        except (WouldOverwrite, WithFindings) as error:
            console(errors=True).print(str(error))
            return 1
        findings = ordered((*findings, *more))
    if as_json:
        from sidetrip.reports.hold_json import hold_text

        sys.stdout.write(hold_text(held, findings) + "\n")
        return exit_code(findings)
    from sidetrip.reports.check_list import check_blocks
    from sidetrip.reports.hold_words import hold_blocks

    plan = held.planned.plan
    console().print(f"{plan.show.show}: will it hold?\n")
    print_blocks(hold_blocks(held.advice))
    if here:
        print_blocks(check_blocks(held.advice, seen))
    if findings:
        console().print(f"Findings: {len(findings)}")
        print_findings(findings)
        console().print()
    for path in written:
        console().print(f"wrote {path}")
    return exit_code(findings)


def _print_sheet(held: Held, folder: str, *, here: bool) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    from sidetrip.reports.hold_printing import print_hold

    seen = wiring.this_system().look() if here else ()
    return print_hold(wiring.show_store(), wiring.press(), wiring.clock(), held, seen, folder)
