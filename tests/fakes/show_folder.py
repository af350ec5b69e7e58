"""A ShowStore in memory: a few files and folders under their paths, and one name that can be made to fail."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping

from sidetrip.errors import ShowChanged, ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding
from sidetrip.showfile.limits import MAX_BYTES, too_large

LONGEST_NAME = 255


class ShowFolderInMemory:
    """Files by path. `broken`: the name of a file that cannot be written."""

    def __init__(self, files: Mapping[str, str | bytes] | None = None) -> None:
        self.files: dict[str, bytes] = {}
        self.made_folders: set[str] = {".", "/"}
        self.ours: dict[str, dict[str, bytes]] = {}
        self.broken: str | None = None
        for path, text in (files or {}).items():
            self.put(path, text if isinstance(text, bytes) else text.encode())

    def put(self, path: str, data: bytes) -> None:
        """Place a file, whatever stands there."""
        self.make_folder(posixpath.dirname(posixpath.normpath(path)))
        self.files[posixpath.normpath(path)] = data

    def make_folder(self, path: str) -> None:
        """Make a folder and those above it."""
        path = posixpath.normpath(path or ".")
        while path not in self.made_folders:
            self.made_folders.add(path)
            path = posixpath.dirname(path) or "."

    def read_show(self, path: str) -> tuple[str, str]:
        found = posixpath.normpath(path)
        if found in self.made_folders:
            found = posixpath.normpath(posixpath.join(found, "show.yaml"))
        return self.read_text(found), found

    def read_text(self, path: str) -> str:
        data = self.read_bytes(path)
        try:
            return data.decode().removeprefix("\ufeff")
        except UnicodeDecodeError as error:
            line = data[: error.start].count(b"\n") + 1
            raise _unreadable(f"Byte {error.start + 1} is not UTF-8", path, line) from error

    def read_bytes(self, path: str) -> bytes:
        found = posixpath.normpath(path)
        if "\0" in found or len(posixpath.basename(found).encode()) > LONGEST_NAME:
            raise _unreadable("The name is no file name", path)
        if found in self.made_folders:
            raise _unreadable("The file cannot be read: Is a directory", path)
        if found not in self.files:
            raise ShowUnreadable([Finding("file-missing", "file", "There is no such file", path, "Check the path")])
        data = self.files[found]
        if len(data) > MAX_BYTES:
            raise ShowUnreadable([too_large(len(data), path)])
        return data

    def beside(self, path: str, name: str) -> str:
        return posixpath.join(posixpath.dirname(path), name)

    def names(self, folder: str) -> tuple[str, ...]:
        root = posixpath.normpath(folder)
        return tuple(
            sorted(posixpath.basename(path) for path in self.files if (posixpath.dirname(path) or ".") == root)
        )

    def folders(self, folder: str) -> tuple[str, ...]:
        root = posixpath.normpath(folder)
        inside = {path for path in self.made_folders if path != root and (posixpath.dirname(path) or ".") == root}
        names = {posixpath.basename(path) for path in inside}
        return tuple(sorted(name for name in names if name and not name.startswith(".")))

    def replace(self, path: str, before: str, after: str) -> None:
        found = posixpath.normpath(path)
        data = self.files.get(found)
        if data is None or data.removeprefix(b"\xef\xbb\xbf") != before.encode():
            raise ShowChanged(path)
        mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
        self._write_all(posixpath.dirname(found), {posixpath.basename(found): mark + after.encode()})

    def exchange(self, folder: str, files: Mapping[str, bytes], were: Mapping[str, bytes | None]) -> tuple[str, ...]:
        for name in files:
            path = posixpath.normpath(posixpath.join(folder, name))
            if path in self.made_folders or self.files.get(path) != were[name]:
                raise ShowChanged(path)
        return self._write_all(folder, files)

    def create(self, folder: str, files: Mapping[str, str]) -> tuple[str, ...]:
        for name in files:
            path = posixpath.normpath(posixpath.join(folder, name))
            if path in self.files or path in self.made_folders:
                raise WouldOverwrite(path)
        return self._write_all(folder, {name: text.encode() for name, text in files.items()})

    def write_paper(self, folder: str, files: Mapping[str, bytes], *, beside: bool = False) -> tuple[str, ...]:
        root = posixpath.normpath(folder)
        if root in self.files:
            raise WouldOverwrite(folder)
        old = self.ours.get(root, {})
        for name in files if beside else {**files, **old}:
            path = posixpath.join(root, name)
            if path in self.made_folders or (path in self.files and self.files[path] != old.get(name)):
                raise WouldOverwrite(path)
        written = self._write_all(folder, files)
        for name in () if beside else set(old) - set(files):
            self.files.pop(posixpath.join(root, name), None)
        self.ours[root] = {**old, **files} if beside else dict(files)
        return written

    def _write_all(self, folder: str, files: Mapping[str, bytes]) -> tuple[str, ...]:
        root = posixpath.normpath(folder)
        above = root
        while above not in self.made_folders:
            if above in self.files:
                raise _unreadable("The folder cannot be written: a file is in the way", folder)
            above = posixpath.dirname(above) or "."
        for name in files:
            if name == self.broken or len(name.encode()) > LONGEST_NAME or "\0" in name:
                raise _unreadable("The folder cannot be written: no room is left", folder)
        for name, data in files.items():
            self.put(posixpath.join(root, name), data)
        return tuple(posixpath.normpath(posixpath.join(root, name)) for name in sorted(files))


def _unreadable(what: str, path: str, line: int | None = None) -> ShowUnreadable:
    remedy = "Check that it is a file you may read"
    return ShowUnreadable([Finding("file-unreadable", "file", what, path, remedy, line=line, file=path)])
