"""`sidetrip hear`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.hearing import hear
from sidetrip.cli.show import console, exit_code, findings_json, print_blocks, print_findings, print_json
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import ordered


def run_hear(show: str, words: str, *, file: str | None, out: str | None, seconds: float, as_json: bool) -> int:
    """Render a source at a place to files, and say what is in them; returns the exit code."""
    store, library, recordings = wiring.show_store(), wiring.desk_library(), wiring.recordings()
    try:
        found = hear(store, library, recordings, show, words, file=file, out=out, seconds=seconds)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            print_json({"hear": None, **findings_json(findings)})
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("Nothing was rendered.")
        return 1
    except WouldOverwrite as error:
        console(errors=True).print(str(error))
        return 1
    from sidetrip.reports.hear_words import hear_blocks, hear_doc

    findings = ordered(found.findings)
    if as_json:
        print_json({"hear": hear_doc(found), **findings_json(findings)})
        return exit_code(findings)
    at = f"{found.source} at {found.place}, of {found.of}"
    console().print(f"{at}: every file at {found.lufs:.1f} LUFS. Start with the volume down.\n")
    print_blocks(hear_blocks(found))
    print_findings(findings)
    return exit_code(findings)
