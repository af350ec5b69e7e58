"""Lists that were edited in a spreadsheet, held against the show and read back into it."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sidetrip.application.list_check import Side, held
from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import Loaded, load
from sidetrip.errors import ShowChanged, ShowUnreadable
from sidetrip.findings import Finding, has_errors, ordered

if TYPE_CHECKING:
    from sidetrip.model.show import Show
    from sidetrip.showfile.listdiff import ListChange
    from sidetrip.showfile.listforms import ShownRow
    from sidetrip.showfile.listmemory import Memory
    from sidetrip.showfile.listread import FoundList
    from sidetrip.showfile.listvalues import Decimal
    from sidetrip.showfile.syntax import Source

_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class ListsRead:
    """What edited lists say. changes: all of them, in the order of the lists. file: the show.

    possible: whether they can be written. written: paths, if they were. undo: where the show as it was is kept.
    """

    file: str
    changes: tuple[ListChange, ...]
    findings: tuple[Finding, ...]
    possible: bool
    written: tuple[str, ...] = ()
    undo: str | None = None


def load_memory(store: ShowStore, show_file: str) -> tuple[Memory, bytes | None]:
    """Return what is kept beside a show, and the bytes that it was read from. Raises ShowUnreadable."""
    from sidetrip.showfile.listmemory import FILE, Memory, read_memory

    path = store.beside(show_file, FILE)
    try:
        data = store.read_bytes(path)
    except ShowUnreadable as error:
        if [finding.code for finding in error.findings] == ["file-missing"]:
            return Memory(), None
        raise
    return read_memory(data.decode("utf-8", "replace"), path), data


def print_of(data: bytes) -> str:
    """Return the print by which a list's file is known again: SHA-256, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def read_lists(
    store: ShowStore,
    library: DeskLibrary,
    path: str,
    files: Sequence[str],
    *,
    decimal: Decimal | None = None,
    write: bool = False,
) -> ListsRead:
    """Hold edited lists against a show and, if asked and nothing speaks against it, write what they change.

    Every change is in the result before anything is written; the show as it was is kept beside it. Raises
    ShowUnreadable when the show cannot be read, ShowChanged when it, or what is kept beside it, changed meanwhile.
    """
    from sidetrip.showfile.listdiff import apply
    from sidetrip.showfile.listforms import FORMS, shown_rows

    loaded = load(store, library, path)
    source = loaded.source
    raw = store.read_bytes(source.file)
    if raw.removeprefix(_MARK) != source.text.encode("utf-8"):
        raise ShowChanged(source.file)
    memory, memory_bytes = load_memory(store, source.file)
    shown = {form.section: shown_rows(form, loaded.show, source) for form in FORMS}
    findings: list[Finding] = []
    sides = _sides(store, loaded, memory, shown, files, decimal, findings)
    changes = [change for side in sides for change in _changes(side, memory, shown)]
    edits = [edit for side in sides if side.diff for edit in side.diff.edits]
    text, show = source.text, loaded.show
    if not has_errors(findings) and edits:
        text, problems = apply(text, edits, source.file)
        findings += problems
        if not has_errors(findings):
            text, show_after, followed = held(text, loaded, sides, findings)
            changes += followed
            show = show_after or show
    result = ListsRead(source.file, tuple(changes), ordered(findings), not has_errors(findings))
    if not write or not result.possible:
        return result
    after = _remembered(memory, sides, shown, show, text, source)
    return _written(store, result, raw, text, source, memory_bytes, after)


def _sides(
    store: ShowStore,
    loaded: Loaded,
    memory: Memory,
    shown: Mapping[str, Sequence[ShownRow]],
    files: Sequence[str],
    decimal: Decimal | None,
    findings: list[Finding],
) -> list[Side]:
    """Read every file; findings gets all that is wrong with any of them."""
    from sidetrip.showfile.listdiff import compare
    from sidetrip.showfile.listnotes import names_for, order_notes, understood
    from sidetrip.showfile.listread import find_list, read_list

    sides: list[Side] = []
    taken: dict[str, str] = {}
    for file in files:
        try:
            data = _bytes(store, file)
            found = find_list(data, file)
        except ShowUnreadable as error:
            findings += error.findings
            continue
        section = found.form.section
        if section in taken:
            what, values = f"Two files are lists of {section}", f"{taken[section]} and {file}"
            findings.append(Finding("table-wrong", "list", what, values, "Read them one after the other", (), 1, file))
            continue
        taken[section] = file
        ids = _ids(found, memory, shown[section], findings)
        read = read_list(
            found, shown[section], loaded.desk, ids=ids, decimal=decimal, names=names_for(loaded.show, section)
        )
        findings += read.findings
        findings += understood(found, len(read.rows))
        diff = None if has_errors(read.findings) else compare(read, shown[section], loaded.source)
        findings += (*diff.findings, *order_notes(read, shown[section], loaded.desk)) if diff else ()
        sides.append(Side(read, diff, print_of(data)))
    return sides


def _bytes(store: ShowStore, file: str) -> bytes:
    """Return a list's bytes, with refusals that speak of a list."""
    try:
        return store.read_bytes(file)
    except ShowUnreadable as error:
        words = {
            "file-missing": ("There is no such list", "Check the path"),
            "file-too-large": ("The file is too large to be a list", "Give the list alone"),
        }
        raise ShowUnreadable(
            [
                replace(one, where="list", what=words[one.code][0], remedy=words[one.code][1], file=file)
                if one.code in words
                else one
                for one in error.findings
            ]
        ) from error


def _ids(
    found: FoundList, memory: Memory, rows: Sequence[ShownRow], findings: list[Finding]
) -> Mapping[str, int] | None:
    from sidetrip.showfile.listforms import state_of
    from sidetrip.showfile.listmemory import ids_of

    form, stamp = found.form, found.stamp
    if stamp is None:
        return None
    now = state_of(form, rows)
    ids = ids_of(memory.of(form.section), form, stamp.state, now, len(rows))
    if ids is None:
        what = f"The {form.section} of the show changed since this list was written"
        values = f"the list is of state {stamp.state or 'unknown'}, the show is in state {now}"
        remedy = (
            "Write the lists anew and make the changes there; or take the first row away, then rows are matched by name"
        )
        findings.append(Finding("table-stale", "list", what, values, remedy, (), 1, found.table.file))
        return {}
    return ids


def _changes(side: Side, memory: Memory, shown: Mapping[str, Sequence[ShownRow]]) -> list[ListChange]:
    from sidetrip.showfile.listmemory import own_changes

    if side.diff is None:
        return []
    section = side.read.found.form.section
    changes = [*side.diff.changes, *own_changes(side.read, memory.of(section), shown[section])]
    return sorted(changes, key=lambda change: change.line or 0)


def _remembered(
    memory: Memory,
    sides: Sequence[Side],
    shown: Mapping[str, Sequence[ShownRow]],
    show: Show,
    text: str,
    source: Source,
) -> Memory:
    from sidetrip.showfile.listforms import FORMS, shown_rows, state_of
    from sidetrip.showfile.listmemory import moved, remember, with_file
    from sidetrip.showfile.syntax import parse

    after_source = parse(text, source.file)
    before = {form.section: state_of(form, shown[form.section]) for form in FORMS}
    after = {form.section: state_of(form, shown_rows(form, show, after_source)) for form in FORMS}
    read = {side.read.found.form.section for side in sides}
    for side in sides:
        memory = with_file(
            remember(memory, side.read, shown[side.read.found.form.section], before, after), side.print_of_file
        )
    for form in FORMS:
        if form.section not in read and before[form.section] != after[form.section]:
            count = len(shown[form.section])
            memory = moved(memory, form, count, before[form.section], after[form.section])
    return memory


def _written(
    store: ShowStore,
    result: ListsRead,
    raw: bytes,
    text: str,
    source: Source,
    memory_bytes: bytes | None,
    memory: Memory,
) -> ListsRead:
    from sidetrip.showfile.listmemory import FILE, memory_text

    folder = store.beside(source.file, "")
    name = source.file.rpartition("/")[2]
    files: dict[str, bytes] = {}
    were: dict[str, bytes | None] = {}
    undo: str | None = None
    kept = memory_text(memory).encode("utf-8")
    if kept != memory_bytes:
        files[FILE], were[FILE] = kept, memory_bytes
    if text != source.text:
        mark = _MARK if raw.startswith(_MARK) else b""
        undo = _free_name(name, store.names(folder or "."))
        files |= {name: mark + text.encode("utf-8"), undo: raw}
        were |= {name: raw, undo: None}
    if not files:
        return result
    paths = store.exchange(folder or ".", files, were)
    return replace(result, written=paths, undo=None if undo is None else store.beside(source.file, undo))


def _free_name(name: str, there: Sequence[str]) -> str:
    """Return a name for the show as it was that nothing has yet."""
    stem = name.removesuffix(".yaml").removesuffix(".yml")
    number = 1
    while (found := f"{stem}.before-lists-{number}.yaml") in there:
        number += 1
    return found
