"""Shows on disk: read with their size checked first, written all or none."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from sidetrip.errors import ShowChanged, ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding
from sidetrip.showfile.limits import MAX_BYTES, too_large

_SHOW_FILE = "show.yaml"
_PAPER_MARK = ".sidetrip-paper"


class ShowFolder:
    """The real ShowStore."""

    def read_show(self, path: str) -> tuple[str, str]:
        """Return (text, shown path) of a show file, or of show.yaml in a folder."""
        found = Path(path)
        with contextlib.suppress(OSError):  # reading it says why
            found = found / _SHOW_FILE if found.is_dir() else found
        return self.read_text(str(found)), str(found)

    def read_text(self, path: str) -> str:
        """Return the text of a file. Raises ShowUnreadable: missing, too large, no UTF-8."""
        try:
            return self.read_bytes(path).decode("utf-8").removeprefix("\ufeff")
        except UnicodeDecodeError as error:
            line = error.object[: error.start].count(b"\n") + 1
            what, values = (
                "The file is not UTF-8 text",
                f"byte {error.start + 1} is 0x{error.object[error.start]:02x}",
            )
            raise ShowUnreadable(
                [Finding("file-unreadable", "file", what, values, "Save it as UTF-8", (), line, path)]
            ) from error

    def read_bytes(self, path: str) -> bytes:
        """Return a file as it is. Raises ShowUnreadable: missing, too large."""
        try:
            with Path(path).open("rb") as file:
                size = os.fstat(file.fileno()).st_size
                if size > MAX_BYTES:
                    raise ShowUnreadable([too_large(size, path)])
                data = file.read(MAX_BYTES + 1)  # what is no plain file says nothing of its size
            if len(data) > MAX_BYTES:
                raise ShowUnreadable([too_large(len(data), path)])
            return data
        except FileNotFoundError as error:
            remedy = "Check the path, or start a show with: sidetrip new FOLDER --desk TYPE"
            raise ShowUnreadable([Finding("file-missing", "file", "There is no such file", path, remedy)]) from error
        except (OSError, ValueError) as error:
            what = f"The file cannot be read: {_reason(error)}"
            raise ShowUnreadable(
                [Finding("file-unreadable", "file", what, repr(path), "Check that it is a file you may read")]
            ) from error

    def beside(self, path: str, name: str) -> str:
        """Return the path of a file named as if from the folder of another."""
        return str(Path(path).parent / name)

    def names(self, folder: str) -> tuple[str, ...]:
        """Return the names of the files in a folder."""
        try:
            return tuple(sorted(path.name for path in Path(folder).iterdir() if path.is_file()))
        except (OSError, ValueError):
            return ()

    def folders(self, folder: str) -> tuple[str, ...]:
        """Return the names of the folders in a folder, hidden ones left out."""
        try:
            inside = [path.name for path in Path(folder).iterdir() if path.is_dir()]
        except (OSError, ValueError):
            return ()
        return tuple(sorted(name for name in inside if not name.startswith(".")))

    def replace(self, path: str, before: str, after: str) -> None:
        """Write a file's text in place of what it was read as; line ends and a mark at the start stay."""
        file = Path(path)
        try:
            data = file.resolve().read_bytes()
        except (OSError, ValueError) as error:
            raise ShowChanged(path) from error
        mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
        if data.removeprefix(mark) != before.encode("utf-8"):
            raise ShowChanged(path)
        real = file.resolve()
        _write_all(real.parent, {real.name: mark + after.encode("utf-8")})

    def exchange(self, folder: str, files: Mapping[str, bytes], were: Mapping[str, bytes | None]) -> tuple[str, ...]:
        """Write files into a folder, all or none, if each still is what it was read as; links are followed."""
        root = Path(folder)
        real: dict[Path, dict[str, bytes]] = {}
        for name, data in files.items():
            path = root / name
            if _there(path) if were[name] is None else self._holds(path) != were[name]:
                raise ShowChanged(str(path))
            place = path.resolve() if path.is_symlink() else path
            real.setdefault(place.parent, {})[place.name] = data
        for place, inside in sorted(real.items(), key=lambda item: item[0] != root):
            _write_all(place, inside)
        return tuple(str(root / name) for name in sorted(files))

    def _holds(self, path: Path) -> bytes | None:
        try:
            return path.read_bytes()
        except (OSError, ValueError):
            return None

    def create(self, folder: str, files: Mapping[str, str]) -> tuple[str, ...]:
        """Write new files into a folder, all or none."""
        root = Path(folder)
        for name in files:
            if _there(root / name):
                raise WouldOverwrite(str(root / name))
        return _write_all(root, {name: text.encode("utf-8") for name, text in files.items()})

    def write_paper(self, folder: str, files: Mapping[str, bytes], *, beside: bool = False) -> tuple[str, ...]:
        """Put a set of sheets into a folder in place of the last set, or beside it."""
        root = Path(folder)
        if _there(root) and not root.is_dir():
            raise WouldOverwrite(folder)
        old = _sheets_of(root)
        prints: dict[str, set[str]] = {name: {_print_of(data)} for name, data in files.items()}
        for name in {**files, **old}:
            if beside and name not in files:  # keeps its place, and its print as it was written
                prints.setdefault(name, set()).update(old[name])
                continue
            if not _there(root / name):
                continue
            found = _print_of((root / name).read_bytes()) if (root / name).is_file() else ""
            if found not in old.get(name, set()):  # a stranger's, or ours with somebody's ticks in it
                raise WouldOverwrite(str(root / name))
            prints.setdefault(name, set()).add(found)
        # The list goes first: should the power fail half-way, the next run still knows old and new for its own.
        lines = [f"{one} {name}" for name in sorted(prints) for one in sorted(prints[name])]
        gone = set() if beside else set(old) - set(files)
        written = _write_all(root, {_PAPER_MARK: "\n".join(lines).encode(), **files}, gone)
        return tuple(path for path in written if not path.endswith(_PAPER_MARK))


def _there(path: Path) -> bool:
    """Tell whether anything has this name, be it a link that leads nowhere."""
    try:
        path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from error
    return True


def _print_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _sheets_of(root: Path) -> dict[str, set[str]]:
    """Return the sheets that an earlier run put there, by name, with the prints of what it wrote."""
    mark = root / _PAPER_MARK
    try:
        lines = mark.read_bytes().decode("utf-8", "replace").splitlines()
    except OSError:
        return {}
    found: dict[str, set[str]] = {}
    for one, _, name in (line.partition(" ") for line in lines):
        if Path(name).name == name and name not in ("", "..", _SHOW_FILE):
            found.setdefault(name, set()).add(one)
    return found


def _write_all(root: Path, files: Mapping[str, bytes], gone: Iterable[str] = ()) -> tuple[str, ...]:
    """Write everything beside its place first, then move it there: a failure leaves what was.

    gone: names to take away in the same step.
    """
    made = [folder for folder in (root, *root.parents) if not folder.exists()]
    waiting: Path | None = None
    try:
        root.mkdir(parents=True, exist_ok=True)
        waiting = Path(tempfile.mkdtemp(prefix=".sidetrip-", dir=root))
        new, old = waiting / "new", waiting / "old"
        new.mkdir()
        old.mkdir()
        for name, data in files.items():
            (new / name).write_bytes(data)
        _swap(root, new, old, files, gone)
        made = []
    except (OSError, ValueError) as error:
        raise _unwritable(root, error) from error
    finally:
        if waiting is not None:
            shutil.rmtree(waiting, ignore_errors=True)
        for folder in made:
            with contextlib.suppress(OSError):
                folder.rmdir()
    return tuple(str(root / name) for name in sorted(files))


def _swap(root: Path, new: Path, old: Path, names: Iterable[str], gone: Iterable[str]) -> None:
    """Put the new files in place, or everything back as it was."""
    done: list[str] = []
    try:
        for name in names:
            if _there(root / name):
                shutil.copy2(root / name, old / name, follow_symlinks=False)
        for name in names:
            done.append(name)
            (new / name).replace(root / name)
        for name in gone:
            if _there(root / name):
                done.append(name)
                (root / name).replace(old / name)
    except BaseException:
        for name in done:
            if (old / name).exists():
                (old / name).replace(root / name)
            elif not (new / name).exists():
                (root / name).unlink(missing_ok=True)
        raise


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def _unwritable(path: Path, error: OSError | ValueError) -> ShowUnreadable:
    what = f"The folder cannot be written: {_reason(error)}"
    return ShowUnreadable([Finding("file-unreadable", "folder", what, repr(str(path)), "Choose another folder")])
