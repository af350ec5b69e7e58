"""EvidenceFiles in memory, on the files of a show store in memory."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from fakes.show_folder import ShowFolderInMemory
from sidetrip.errors import ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding


class EvidenceInMemory:
    """Logs among the files of a store."""

    def __init__(self, store: ShowFolderInMemory) -> None:
        self._store = store

    @contextmanager
    def lines(self, path: str) -> Iterator[Iterator[str]]:
        found = posixpath.normpath(path)
        if found in self._store.made_folders:
            raise ShowUnreadable([Finding("file-unreadable", "evidence", "Is a folder", path, "Name a file")])
        if found not in self._store.files:
            raise ShowUnreadable([Finding("file-missing", "evidence", "There is no such log", path, "Check the path")])
        yield iter(self._store.files[found].decode(errors="replace").splitlines(keepends=True))

    def write(self, path: str, lines: Iterable[str]) -> None:
        if posixpath.normpath(path) in self._store.files:
            raise WouldOverwrite(path)
        self._store.put(path, "".join(lines).encode())
