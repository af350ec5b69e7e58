"""`sidetrip why`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.answering import why_strip
from sidetrip.cli.show import console, print_blocks, print_findings, print_json
from sidetrip.errors import WithFindings
from sidetrip.findings import ordered


def run_why(show: str, strip: str, *, as_json: bool) -> int:
    """Say why a strip goes out or stays in; returns the exit code."""
    from sidetrip.reports.answer_json import why_doc
    from sidetrip.reports.answer_words import why_blocks

    try:
        found, _ = why_strip(wiring.show_store(), wiring.desk_library(), show, strip)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            print_json(why_doc(strip, (), findings))
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("Nothing can be said about it.")
        return 1
    if as_json:
        print_json(why_doc(strip, found))
    else:
        print_blocks(why_blocks(strip, found))
    return 0
