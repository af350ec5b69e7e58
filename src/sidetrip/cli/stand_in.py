"""`sidetrip stand-in`."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip import wiring
from sidetrip.application.proving import make_signal, record_stand_in
from sidetrip.cli.progress import Progress
from sidetrip.cli.show import console, print_findings
from sidetrip.errors import WithFindings, WouldOverwrite
from sidetrip.findings import ordered


def run_stand_in(show: str, take: str | None, out: str | None, faults: Sequence[str], seed: int) -> int:
    """Record a take on the stand-in; returns the exit code."""
    recordings = wiring.recordings()
    try:
        with Progress() as progress:
            made = make_signal(wiring.show_store(), wiring.desk_library(), recordings, show, take)
            progress("playing the take on the stand-in")
            path = record_stand_in(wiring.show_store(), recordings, made, out, faults, seed)
    except WithFindings as error:
        print_findings(ordered(error.findings), errors=True)
        return 1
    except (WouldOverwrite, ValueError) as error:
        console(errors=True).print(str(error))
        return 1
    console().print(f"wrote {path}")
    return 0
