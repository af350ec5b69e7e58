"""`sidetrip evidence`."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip import wiring
from sidetrip.application.holding import Kept, keep_evidence
from sidetrip.cli.progress import Progress
from sidetrip.cli.show import console, exit_code, findings_json, print_blocks, print_findings, print_json
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import ordered


def run_evidence(show: str, add: Sequence[str], *, as_json: bool) -> int:
    """Add logs to the evidence of a show and list what there is; returns the exit code."""
    try:
        with Progress() as progress:
            progress("reading logs")
            kept = keep_evidence(wiring.show_store(), wiring.desk_library(), wiring.evidence_files(), show, add)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            print_json({"evidence": None, **findings_json(findings)})
        else:
            print_findings(findings, errors=True)
            if add:
                console(errors=True).print("No log was added.")
        return 1
    except WouldOverwrite as error:
        console(errors=True).print(str(error))
        return 1
    from sidetrip.reports.evidence_words import evidence_document

    if as_json:
        print_json({"evidence": evidence_document(kept), **findings_json(kept.findings)})
        return exit_code(kept.findings)
    _say(kept)
    return exit_code(kept.findings)


def _say(kept: Kept) -> None:
    from sidetrip.reports.evidence_words import evidence_blocks

    print_blocks(evidence_blocks(kept))
    print_findings(kept.findings)
    for path in kept.written:
        console().print(f"wrote {path}")
