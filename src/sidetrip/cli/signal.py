"""`sidetrip signal`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.proving import make_signal
from sidetrip.cli.progress import Progress
from sidetrip.cli.show import console, exit_code, findings_json, print_blocks, print_findings, print_json
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import ordered


def run_signal(show: str, take: str | None, out: str | None, *, as_json: bool) -> int:
    """Make a take's test signal and say how to play it; returns the exit code."""
    try:
        with Progress() as progress:
            made = make_signal(
                wiring.show_store(),
                wiring.desk_library(),
                wiring.recordings(),
                show,
                take,
                out,
                progress=lambda done, of: progress(f"making the test signal: {done} of {of} channels"),
            )
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            print_json({"signal": None, **findings_json(findings)})
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("No test signal was made.")
        return 1
    except WouldOverwrite as error:
        console(errors=True).print(str(error))
        return 1
    from sidetrip.prove.patch import patch_for, reached
    from sidetrip.prove.remarks import take_findings
    from sidetrip.reports.take_words import take_blocks, take_document

    plan, expected = made.planned.plan, made.expected
    steps, wrong = patch_for(plan, expected)
    findings = ordered((*wrong, *take_findings(plan, expected)))
    if as_json:
        print_json({"signal": take_document(made.signal, expected, steps, made.path), **findings_json(findings)})
        return exit_code(findings)
    print_blocks(take_blocks(made.signal, expected, steps, reached(plan, expected)))
    print_findings(findings)
    there = "is this very signal already; left as it is"
    console().print(f"wrote {made.path}" if made.made else f"{made.path} {there}")
    return exit_code(findings)
