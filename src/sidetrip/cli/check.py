"""`sidetrip check`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.use_cases import load
from sidetrip.cli.show import console, exit_code, findings_json, print_findings, print_json
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding, Severity, ordered


def run_check(show: str, *, as_json: bool) -> int:
    """Check a show file; returns the exit code."""
    findings: tuple[Finding, ...]
    try:
        findings = load(wiring.show_store(), wiring.desk_library(), show).findings
    except ShowUnreadable as error:
        findings = ordered(error.findings)
    if as_json:
        print_json(findings_json(findings))
        return exit_code(findings)
    print_findings(findings)
    counts = {severity: sum(f.severity is severity for f in findings) for severity in Severity}
    words = ", ".join(
        f"{count} {severity.value}{'' if count == 1 else 's'}" for severity, count in counts.items() if count
    )
    console().print(f"{words or 'nothing found'}: {'not ready to plan' if counts[Severity.ERROR] else 'ready to plan'}")
    return exit_code(findings)
