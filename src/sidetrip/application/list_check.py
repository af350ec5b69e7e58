"""What edited lists make of a show, held against the show's own rules before anything is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidetrip.application.use_cases import Loaded
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding, Severity

if TYPE_CHECKING:
    from sidetrip.model.show import Show
    from sidetrip.showfile.listdiff import ListChange, ListDiff
    from sidetrip.showfile.listread import ReadList


@dataclass(frozen=True, slots=True)
class Side:
    """A list with its file's print, beside what the show says."""

    read: ReadList
    diff: ListDiff | None
    print_of_file: str


def held(
    text: str, loaded: Loaded, sides: Sequence[Side], findings: list[Finding]
) -> tuple[str, Show | None, list[ListChange]]:
    """Let names follow, and hold the show as it would be against its own rules: no new error may be in it."""
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.listdiff import ListChange
    from sidetrip.showfile.listfollow import follow, still_named
    from sidetrip.showfile.read import place, read_show

    file = loaded.source.file
    renamed = {old: new for side in sides if side.diff for old, new in side.diff.renamed.items()}
    sections = {old: side.read.found.form.section for side in sides if side.diff for old in side.diff.renamed}
    changes: list[ListChange] = []
    try:
        reading = read_show(text, file)
        found = check_show(reading.show, loaded.desk)
        if renamed:
            text, followed = follow(text, file, renamed, found)
            changes = [
                ListChange("followed", sections[one.old], one.where, "", one.old, one.new, one.line, file)
                for one in followed
            ]
            reading = read_show(text, file)
            found = check_show(reading.show, loaded.desk)
            for name, lines in still_named(text, file, renamed).items():
                what = f"'{name}' still stands elsewhere in the show and was left as it is"
                values = ("lines " if len(lines) > 1 else "line ") + ", ".join(map(str, sorted(lines)))
                remedy = "Look whether it means the row that has a new name"
                findings.append(Finding("name-left", "list", what, values, remedy, (), min(lines), file))
    except ShowUnreadable as error:
        findings += [_refused(one, sides, ()) for one in error.findings]
        return text, None, changes
    had = {(one.code, one.where, one.what, one.values) for one in loaded.findings}
    for one in place(found, reading.source):
        if one.severity is Severity.ERROR and (one.code, one.where, one.what, one.values) not in had:
            findings.append(_refused(one, sides, one.path))
    return text, reading.show, changes


def _refused(one: Finding, sides: Sequence[Side], path: Sequence[str | int]) -> Finding:
    """Return a finding about the show as it would be, at the line of the list that makes it so."""
    what = f"The show would not hold: {one.what[:1].lower()}{one.what[1:]}"
    for side in sides:
        section = side.read.found.form.section
        if side.diff and len(path) > 1 and path[0] == section and path[1] in side.diff.places:
            line, file = side.diff.places[int(path[1])], side.read.found.table.file
            return Finding("table-refused", one.where, what, one.values, one.remedy, (), line, file)
    remedy = f"{one.remedy}; the line is that of the show as it would be"
    return Finding("table-refused", one.where, what, one.values, remedy, (), one.line, one.file)
