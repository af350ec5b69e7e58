"""Makes the pictures of the README's tour from the demo: the first page of each sheet as PNG, a time map as SVG.

Run after the sheets' look has changed: `.venv/bin/python tools/pictures.py`.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import typer

from sidetrip import wiring
from sidetrip.adapters.press import TypstPress
from sidetrip.application.proving import make_signal, prove_take, record_stand_in
from sidetrip.application.use_cases import plan
from sidetrip.plan.lanes import lanes_at
from sidetrip.prove.proof import Proof
from sidetrip.reports.draw.palette import PAGE
from sidetrip.reports.draw.time_map import time_map_svg
from sidetrip.reports.paper import sheets
from sidetrip.reports.printing import revision
from sidetrip.reports.proof_sheet import proof_sheet
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
    sheet = proof_sheet(_proof(), stamp)
    (TOUR / f"{sheet.name}.png").write_bytes(press.png(sheet.template, sheet.data, PPI)[0])
    typer.echo(f"wrote docs/tour/{sheet.name}.png")
    lanes = lanes_at(made, "Encoder", made.states[0])
    (TOUR / "time-map.svg").write_text(time_map_svg("When does it arrive: Encoder", lanes, PAGE), encoding="utf-8")
    typer.echo("wrote docs/tour/time-map.svg")


class _ThatEvening:
    """The clock of the pictures, which stands still."""

    def now(self) -> datetime:
        """Return the time on the sheets."""
        return datetime(2026, 11, 25, 18, 42, tzinfo=UTC)


def _proof() -> Proof:
    """Return the proof of the demo's take on a stand-in with one loop inverted."""
    with TemporaryDirectory() as folder:
        show = Path(folder) / "show.yaml"
        show.write_bytes((ROOT / "demo" / "tin-lantern" / "show.yaml").read_bytes())
        store, library, files = wiring.show_store(), wiring.desk_library(), wiring.recordings()
        made = make_signal(store, library, files, str(show), None)
        recording = record_stand_in(store, files, made, None, ["inverted: Narrator"], 1)
        texts = wiring.proof_texts()
        return prove_take(store, library, files, _ThatEvening(), texts, str(show), [recording], keeping=False).proof


if __name__ == "__main__":
    main()
