"""The lists of a show written into a folder, over none that holds more than the show does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sidetrip.application.lists import load_memory, print_of
from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import load
from sidetrip.errors import ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding
from sidetrip.reports.list_csv import Dialect, list_csv
from sidetrip.showfile.listforms import FORMS, shown_rows
from sidetrip.showfile.listmemory import FILE, Memory, memory_text, row_keys, with_file

FOLDER = "lists"
"""Where lists go when no folder is named: inside the show's own."""


@dataclass(frozen=True, slots=True)
class ListsWritten:
    """What was written. rows: how many, by path. findings: cells that belong to no row any more."""

    rows: Mapping[str, int]
    findings: tuple[Finding, ...]


def write_lists(
    store: ShowStore, library: DeskLibrary, path: str, folder: str | None, dialect: Dialect
) -> ListsWritten:
    """Write the input, output and request list of a show.

    A list that is there is replaced only if all that it holds is in the show or kept beside it: as it was written,
    or as it was read in. Raises WouldOverwrite otherwise, ShowUnreadable when the show cannot be read.
    """
    loaded = load(store, library, path)
    memory, memory_bytes = load_memory(store, loaded.source.file)
    where = folder or store.beside(loaded.source.file, FOLDER)
    groups = [group.name for group in loaded.desk.ports]
    files: dict[str, bytes] = {}
    were: dict[str, bytes | None] = {}
    counts: dict[str, int] = {}
    findings: list[Finding] = []
    for form in reversed(FORMS):
        rows = shown_rows(form, loaded.show, loaded.source)
        kept = memory.of(form.section)
        files[form.file] = list_csv(form, loaded.show.show, rows, kept, groups, dialect)
        were[form.file] = _there(store, f"{where}/{form.file}", memory)
        counts[form.file] = len(rows)
        left = sorted(set(kept.cells) - set(row_keys([row.name for row in rows])))
        if left:
            what = f"Cells of your own columns belong to {form.section} that the show does not have"
            remedy = f"They stay in {FILE}; give a row that name again, or read a list in without them"
            findings.append(Finding("table-kept", form.section, what, ", ".join(left)[:200], remedy, file=FILE))
    after = memory
    for data in files.values():
        after = with_file(after, print_of(data))
    store.exchange(where, files, were)
    if (text := memory_text(after).encode("utf-8")) != memory_bytes:
        store.exchange(store.beside(loaded.source.file, "") or ".", {FILE: text}, {FILE: memory_bytes})
    return ListsWritten({f"{where}/{name}": count for name, count in counts.items()}, tuple(findings))


def _there(store: ShowStore, path: str, memory: Memory) -> bytes | None:
    """Return what a list that may be replaced holds, None where nothing is. Raises WouldOverwrite."""
    try:
        data = store.read_bytes(path)
    except ShowUnreadable as error:
        if [finding.code for finding in error.findings] == ["file-missing"]:
            return None
        raise WouldOverwrite(path) from error
    if not memory.knows(print_of(data)):
        raise WouldOverwrite(path)
    return data
