"""A show in memory with its lists written, edited as people do, and read back."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence

from fakes.desks import DesksInMemory
from fakes.show_folder import ShowFolderInMemory
from showtext import DEMO_TEXT, DESK_TEXT, DESK_TYPE
from sidetrip.application.lists import ListsRead, read_lists
from sidetrip.reports.list_csv import Dialect
from sidetrip.reports.list_writing import ListsWritten, write_lists
from sidetrip.showfile.listvalues import Decimal

Cells = list[list[str]]
LIBRARY = DesksInMemory({DESK_TYPE: DESK_TEXT})


class Lists:
    """A show and its lists. The files are in `store`, lists under lists/."""

    def __init__(self, text: str = DEMO_TEXT, dialect: Dialect | None = None) -> None:
        self.store = ShowFolderInMemory({"show.yaml": text})
        self.before = text
        self.dialect = dialect or Dialect()

    @property
    def text(self) -> str:
        """The show as it is now."""
        return self.store.read_text("show.yaml")

    def write(self, dialect: Dialect | None = None) -> ListsWritten:
        """Write all lists."""
        return write_lists(self.store, LIBRARY, "show.yaml", None, dialect or self.dialect)

    def raw(self, section: str) -> str:
        """Return a list as text, without its mark."""
        return self.store.read_bytes(f"lists/{section}.csv").decode("utf-8-sig")

    def cells(self, section: str) -> Cells:
        """Return a list as cells: our line, the headings, the rows."""
        separator = {"comma": ",", "semicolon": ";", "tab": "\t"}[self.dialect.separator]
        return list(csv.reader(io.StringIO(self.raw(section), newline=""), delimiter=separator))

    def put(self, section: str, cells: Cells | str | bytes) -> None:
        """Put an edited list in place, as a spreadsheet saves it."""
        if isinstance(cells, list):
            text = io.StringIO(newline="")
            csv.writer(text, lineterminator="\r\n").writerows(cells)
            cells = "\ufeff" + text.getvalue()
        self.store.put(f"lists/{section}.csv", cells if isinstance(cells, bytes) else cells.encode())

    def edit(self, section: str, change: Callable[[Cells], object]) -> None:
        """Write the lists and change the cells of one."""
        self.write()
        cells = self.cells(section)
        change(cells)
        self.put(section, cells)

    def read(
        self, *sections: str, write: bool = False, decimal: Decimal | None = None, files: Sequence[str] = ()
    ) -> ListsRead:
        """Read lists back, all three unless some are named."""
        names = sections or ("inputs", "outputs", "requests")
        paths = files or [f"lists/{name}.csv" for name in names]
        return read_lists(self.store, LIBRARY, "show.yaml", paths, write=write, decimal=decimal)

    def changed_lines(self) -> list[tuple[str, str]]:
        """Return the lines of the show that differ from what it was, if as many stand in both."""
        old, new = self.before.splitlines(), self.text.splitlines()
        assert len(old) == len(new)
        return [(one, two) for one, two in zip(old, new, strict=True) if one != two]


def told(done: ListsRead) -> list[tuple[str, str, str, str]]:
    """Return changes in short: row, column, was, becomes."""
    return [(one.row, one.column, one.was, one.becomes) for one in done.changes]
