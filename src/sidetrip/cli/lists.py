"""`sidetrip lists`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sidetrip import wiring
from sidetrip.cli.show import console, exit_code, findings_json, print_findings, print_json
from sidetrip.errors import ShowChanged, ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding, ordered

if TYPE_CHECKING:
    from sidetrip.application.lists import ListsRead
    from sidetrip.reports.list_csv import Order, Separator
    from sidetrip.showfile.listdiff import ListChange
    from sidetrip.showfile.listvalues import Decimal


_SEPARATORS: dict[str, Separator] = {"comma": "comma", "semicolon": "semicolon", "tab": "tab"}
_CHOICES = {
    "--order": ("desk", "stage"),
    "--separator": ("comma", "semicolon", "tab"),
    "--decimal": ("point", "comma"),
}


def run_lists(
    show: str,
    files: Sequence[str],
    folder: str | None,
    order: str,
    separator: str,
    decimal: str | None,
    *,
    read: bool,
    write: bool,
    as_json: bool,
) -> int:
    """Write lists, or read edited ones; returns the exit code: 2 for options that do not go together."""
    for option, value in (("--order", order), ("--separator", separator), ("--decimal", decimal)):
        if value is not None and value not in _CHOICES[option]:
            return _usage(f"{option} {value} is none of: {', '.join(_CHOICES[option])}")
    mark: Decimal | None = None if decimal is None else "comma" if decimal == "comma" else "point"
    if not read:
        if write or files:
            return _usage("--write, and files, go with --read: sidetrip lists SHOW --read FILE --write")
        way: Order = "stage" if order == "stage" else "desk"
        return _write(show, folder, way, _SEPARATORS[separator], mark, as_json=as_json)
    if folder is not None:
        return _usage("--read and --out are two steps: read first, then write the lists anew")
    return _read(show, files, mark, write=write, as_json=as_json)


def _usage(words: str) -> int:
    console(errors=True).print(words, soft_wrap=True)
    return 2


def _write(
    show: str, folder: str | None, order: Order, separator: Separator, decimal: Decimal | None, *, as_json: bool
) -> int:
    from sidetrip.reports.list_csv import Dialect
    from sidetrip.reports.list_writing import write_lists

    dialect = Dialect(separator, decimal or "point", order)
    try:
        done = write_lists(wiring.show_store(), wiring.desk_library(), show, folder, dialect)
    except ShowUnreadable as error:
        return _refused(error.findings, as_json=as_json)
    except WouldOverwrite as error:
        return _stopped(str(error), f"Read it in first: sidetrip lists {show} --read {error.path}", as_json=as_json)
    except ShowChanged as error:
        return _stopped(str(error), "", as_json=as_json)
    if as_json:
        print_json({**findings_json(done.findings), "lists": [{"file": f, "rows": n} for f, n in done.rows.items()]})
        return exit_code(done.findings)
    print_findings(done.findings)
    for path, count in done.rows.items():
        console().print(f"wrote {path}, {count} row{'' if count == 1 else 's'}")
    console().print(f"Edit them in any spreadsheet, save as CSV, then: sidetrip lists {show} --read FILE")
    return exit_code(done.findings)


def _read(show: str, files: Sequence[str], decimal: Decimal | None, *, write: bool, as_json: bool) -> int:
    from sidetrip.application.lists import read_lists

    try:
        done = read_lists(wiring.show_store(), wiring.desk_library(), show, files, decimal=decimal, write=write)
    except ShowUnreadable as error:
        return _refused(error.findings, as_json=as_json)
    except ShowChanged as error:
        return _stopped(str(error), "", as_json=as_json)
    if as_json:
        print_json(_document(done))
        return exit_code(done.findings)
    print_findings(done.findings)
    _print_changes(done.changes)
    console().print(_closing(done, show, files, write=write), soft_wrap=True)
    return exit_code(done.findings)


def _document(done: ListsRead) -> dict[str, object]:
    changes = [
        {
            "kind": one.kind,
            "list": one.section,
            "row": one.row,
            "column": one.column,
            "was": one.was,
            "becomes": one.becomes,
            "file": one.file,
            "line": one.line,
        }
        for one in done.changes
    ]
    head = {"show": done.file, "possible": done.possible, "changes": changes}
    return {**head, **findings_json(done.findings), "written": list(done.written), "undo": done.undo}


def _print_changes(changes: Sequence[ListChange]) -> None:
    from rich.table import Table
    from rich.text import Text

    if not changes:
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for name in ("Line", "List", "Row", "Column", "Was", "Becomes"):
        table.add_column(Text(name), overflow="fold")
    words = {"added": "new row", "removed": "row taken out", "followed": "named there", "changed": "", "beside": ""}
    for one in changes:
        column = one.column or words[one.kind]
        column += " (kept beside the show)" if one.kind == "beside" else ""
        name = one.file.rpartition("/")[2]
        line = f"{name}:{one.line}" if one.line else name
        cells = (line, one.section, one.row, column, one.was, one.becomes)
        table.add_row(*(Text(cell) for cell in cells))
    console().print(table)


def _closing(done: ListsRead, show: str, files: Sequence[str], *, write: bool) -> str:
    count = len(done.changes)
    changes = f"{count} change{'' if count == 1 else 's'}" if count else "no changes"
    if not done.possible and not count:
        return "nothing was compared or written: correct what is said above first"
    if not done.possible:
        return f"{changes}; nothing was written: correct what is said above first"
    if done.undo:
        return f"{changes}, written to {done.file}. The show as it was is in {done.undo}: copy it back to undo them."
    if done.written:
        return f"{changes} to the show's own cells; columns and cells beside the show: {', '.join(done.written)}"
    if write or not count:
        return f"{changes}; nothing to write"
    return f"{changes}; nothing was written. To write them: sidetrip lists {show} --read {' '.join(files)} --write"


def _refused(findings: Sequence[Finding], *, as_json: bool) -> int:
    if as_json:
        print_json(findings_json(ordered(findings)))
    else:
        print_findings(ordered(findings), errors=True)
    return 1


def _stopped(words: str, more: str, *, as_json: bool) -> int:
    text = f"{words} {more}".strip()
    if as_json:
        print_json({"findings": [], "stopped": text})
    else:
        console(errors=True).print(text, soft_wrap=True)
    return 1
