"""What a person asks of the program, over the ports.

The reader, the checks and the planner are loaded where they are used, after the file was found to be worth reading.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.errors import NoPlan, ShowUnreadable
from sidetrip.findings import Finding, has_errors, ordered

if TYPE_CHECKING:
    from sidetrip.model.desk import Desk
    from sidetrip.model.show import Show
    from sidetrip.plan.planner import Plan
    from sidetrip.showfile.read import Reading
    from sidetrip.showfile.syntax import Source


@dataclass(frozen=True, slots=True)
class Loaded:
    """A show that reads, with its desk. findings: all that checking found, with their lines."""

    show: Show
    desk: Desk
    source: Source
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan with the findings of reading and planning together, those of the file with their lines."""

    plan: Plan
    source: Source
    findings: tuple[Finding, ...]


def load(
    store: ShowStore,
    library: DeskLibrary,
    path: str,
    *,
    desk_name: str | None = None,
    reading: Reading | None = None,
) -> Loaded:
    """Read and check a show and its desk. Raises ShowUnreadable only when no show or desk comes out of it.

    desk_name: another desk type, or a desk file, in place of the show's; what the show measured on its own is left out.
    reading: what the path reads as, where that is known.
    """
    text, file = (None, reading.source.file) if reading is not None else store.read_show(path)
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.known import answered
    from sidetrip.showfile.read import place, read_show

    if reading is None:
        assert text is not None
        reading = read_show(text, file)
    written = reading.show
    if desk_name is None:
        desk = load_desk(store, library, written.desk.type, beside=file, source=reading.source)
    else:
        desk = load_desk(store, library, desk_name)
        written = written.model_copy(update={"desk": type(written.desk)(type=desk_name)})
    written = with_other_desks(store, library, written, file, reading.source)
    show, desk, wrong = answered(written, desk)
    findings = place((*check_show(show, desk), *wrong), reading.source)
    return Loaded(show, desk, reading.source, ordered(findings))


def with_other_desks(store: ShowStore, library: DeskLibrary, show: Show, file: str, source: Source) -> Show:
    """Return a show whose other desks know their types, read like its own. Raises ShowUnreadable."""
    others = tuple(
        other
        if other.type is None
        else other.with_type(
            load_desk(store, library, other.type, beside=file, source=source, at=("other_desks", index, "type"))
        )
        for index, other in enumerate(show.other_desks)
    )
    return show.model_copy(update={"other_desks": others}) if others else show


def load_desk(
    store: ShowStore,
    library: DeskLibrary,
    name: str,
    *,
    beside: str | None = None,
    source: Source | None = None,
    at: tuple[str | int, ...] = ("desk", "type"),
) -> Desk:
    """Read a desk type by name, or a desk file by its path (beside a show: from its folder). Raises ShowUnreadable.

    at: where the show names it, for the finding that there is none.
    """
    return _read_desk(*_desk_text(store, library, name, beside, source, at))


@lru_cache(maxsize=8)
def _read_desk(text: str, file: str) -> Desk:
    """Return the desk of a text; the page asks for the same one after every change."""
    from sidetrip.showfile.check_desk import check_desk
    from sidetrip.showfile.read import place, read_desk
    from sidetrip.showfile.syntax import parse

    desk = read_desk(text, file)
    problems = check_desk(desk)
    if problems:
        raise ShowUnreadable(place(problems, parse(text, file)))
    return desk


def _desk_text(
    store: ShowStore,
    library: DeskLibrary,
    name: str,
    beside: str | None,
    source: Source | None,
    at: tuple[str | int, ...],
) -> tuple[str, str]:
    from sidetrip.showfile.read import nearest, place

    shipped = library.text(name)
    if shipped is not None:
        return shipped
    if name.endswith((".yaml", ".yml")):
        file = store.beside(beside, name) if beside else name
        try:
            return store.read_text(file), file
        except ShowUnreadable as error:
            if [finding.code for finding in error.findings] != ["file-missing"]:
                raise
            what, values, remedy = f"There is no desk file '{name}'", f"looked for {file}", "Correct the path"
    else:
        what, values, remedy = f"There is no desk type '{name}'", "", nearest(name, library.names())
    finding = Finding("desk-unknown", f"{at[0]} / type", what, values, remedy, at)
    raise ShowUnreadable(place([finding], source) if source else [finding])


def plan(
    store: ShowStore,
    library: DeskLibrary,
    path: str,
    *,
    buffer_frames: int | None = None,
    rate_hz: int | None = None,
    desk_name: str | None = None,
    without: tuple[str, ...] = (),
    temperature_c: float | None = None,
) -> Planned:
    """Plan a show. Raises ShowUnreadable when it has errors, NoPlan when its musts conflict. desk_name: as for load.

    without: units that are not there. temperature_c: of the air.
    """
    loaded = load(store, library, path, desk_name=desk_name)
    from sidetrip.plan.planner import make_plan
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.read import place

    show, findings = loaded.show, loaded.findings
    if rate_hz is not None or without or temperature_c is not None:
        from sidetrip.plan.what_if import without_units

        air = show.air if temperature_c is None else show.air.model_copy(update={"temperature_c": temperature_c})
        show = without_units(show, without)
        show = show.model_copy(update={"sample_rate": rate_hz or show.sample_rate, "air": air})
        findings = ordered(place(check_show(show, loaded.desk), loaded.source))
    if has_errors(findings):
        raise ShowUnreadable(findings)
    try:
        made = make_plan(show, loaded.desk, buffer_frames)
    except NoPlan as error:
        raise NoPlan(place(error.findings, loaded.source)) from error
    return Planned(made, loaded.source, ordered((*findings, *place(made.findings, loaded.source))))


def new_show(
    store: ShowStore, library: DeskLibrary, folder: str, desk_name: str, inputs_path: str | None
) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Start a show folder. Returns the paths written and how the input list was understood.

    A desk file of one's own is copied beside the show, so that the folder can move. Raises ShowUnreadable for a desk
    or list that cannot be read, WouldOverwrite when the folder holds a show.
    """
    from sidetrip.showfile.read import read_show
    from sidetrip.showfile.start import show_text
    from sidetrip.showfile.tables import read_input_list

    desk = load_desk(store, library, desk_name)
    copied = _desk_beside(store, library, folder, desk_name)
    rows, notes = read_input_list(store.read_bytes(inputs_path), inputs_path, desk) if inputs_path else ((), ())
    last = "".join(letter if letter.isprintable() else " " for letter in folder.rstrip("/").rpartition("/")[2]).strip()
    title = "New show" if last in ("", ".", "..") else last
    text = show_text(title, _last(desk_name) if copied is not None else desk_name, desk, rows)
    read_show(text, "show.yaml")  # what we write must read
    return store.create(folder, {"show.yaml": text, **(copied or {})}), notes


def _desk_beside(store: ShowStore, library: DeskLibrary, folder: str, desk_name: str) -> Mapping[str, str] | None:
    """Return the desk file to put beside a new show, nothing in it if it is there; None for a shipped type."""
    if library.text(desk_name) is not None:
        return None
    text = store.read_text(desk_name)
    try:
        there = store.read_text(store.beside(f"{folder}/show.yaml", _last(desk_name)))
    except ShowUnreadable:
        there = None
    return {} if there == text else {_last(desk_name): text}


def _last(path: str) -> str:
    return path.rpartition("/")[2]


__all__ = ["Loaded", "Planned", "load", "load_desk", "new_show", "plan", "with_other_desks"]
