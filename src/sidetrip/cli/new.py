"""`sidetrip new`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.use_cases import new_show
from sidetrip.cli.show import console, print_findings
from sidetrip.errors import ShowUnreadable, WouldOverwrite


def run_new(folder: str, desk: str, inputs: str | None) -> int:
    """Start a show folder; returns the exit code."""
    try:
        paths, notes = new_show(wiring.show_store(), wiring.desk_library(), folder, desk, inputs)
    except ShowUnreadable as error:
        print_findings(error.findings, errors=True)
        return 1
    except WouldOverwrite as error:
        console(errors=True).print(str(error))
        return 1
    print_findings(notes)
    for path in paths:
        console().print(f"wrote {path}")
    console().print(f"Next: say in it what is outside and who wants out, then run: sidetrip plan {folder}")
    return 0
