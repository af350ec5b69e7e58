"""Makes the pictures of the README's tour from the demo: the first page of each sheet as PNG.

Run after the sheets' look has changed: `.venv/bin/python tools/pictures.py`.
"""

from __future__ import annotations

from pathlib import Path

import typer

from sidetrip import wiring
from sidetrip.adapters.press import TypstPress
from sidetrip.application.use_cases import plan
from sidetrip.reports.paper import sheets
from sidetrip.reports.printing import revision
from sidetrip.reports.sheet import Stamp

ROOT = Path(__file__).parent.parent
TOUR = ROOT / "docs" / "tour"
PPI = 90


def main() -> None:
    """Write one picture a sheet."""
    planned = plan(wiring.show_store(), wiring.desk_library(), str(ROOT / "demo" / "tin-lantern"))
    made = planned.plan
    stamp = Stamp(
        show=made.show.show,
        revision=revision(planned.source.text),
        printed="2026-11-25 18:42",
        desk=made.desk.name,
        file="show.yaml",
    )
    press = TypstPress(ROOT / "src" / "sidetrip" / "reports" / "templates")
    TOUR.mkdir(parents=True, exist_ok=True)
    for sheet in sheets(made, stamp):
        (TOUR / f"{sheet.name}.png").write_bytes(press.png(sheet.template, sheet.data, PPI)[0])
        typer.echo(f"wrote docs/tour/{sheet.name}.png")


if __name__ == "__main__":
    main()
