"""Shows on disk: read with their size checked first, written all or none."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from sidetrip.errors import ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding
from sidetrip.showfile.syntax import MAX_BYTES, too_large

_SHOW_FILE = "show.yaml"
_PAPER_MARK = ".sidetrip-paper"


class ShowFolder:
    """The real ShowStore."""

    def read_show(self, path: str) -> tuple[str, str]:
        """Return (text, shown path) of a show file, or of show.yaml in a folder."""
        found = Path(path)
        if found.is_dir():
            found = found / _SHOW_FILE
        return self.read_text(str(found)), str(found)

    def read_text(self, path: str) -> str:
        """Return the text of a file. Raises ShowUnreadable: missing, too large, no UTF-8."""
        try:
            size = Path(path).stat().st_size
            if size > MAX_BYTES:
                raise ShowUnreadable([too_large(size, path)])
            return Path(path).read_bytes().decode("utf-8").removeprefix("\ufeff")
        except FileNotFoundError as error:
            remedy = "Check the path, or start a show with: sidetrip new FOLDER --desk TYPE"
            raise ShowUnreadable([Finding("file-missing", "file", "There is no such file", path, remedy)]) from error
        except UnicodeDecodeError as error:
            line = error.object[: error.start].count(b"\n") + 1
            what, values = (
                "The file is not UTF-8 text",
                f"byte {error.start + 1} is 0x{error.object[error.start]:02x}",
            )
            raise ShowUnreadable(
                [Finding("file-unreadable", "file", what, values, "Save it as UTF-8", (), line, path)]
            ) from error
        except OSError as error:
            what = f"The file cannot be read: {error.strerror or error}"
            raise ShowUnreadable(
                [Finding("file-unreadable", "file", what, path, "Check that it is a file you may read")]
            ) from error

    def beside(self, path: str, name: str) -> str:
        """Return the path of a file named as if from the folder of another."""
        return str(Path(path).parent / name)

    def create(self, folder: str, files: Mapping[str, str]) -> tuple[str, ...]:
        """Write new files into a folder, all or none."""
        root = Path(folder)
        for name in files:
            if (root / name).exists():
                raise WouldOverwrite(str(root / name))
        return _write_all(root, {name: text.encode("utf-8") for name, text in files.items()})

    def write_paper(self, folder: str, files: Mapping[str, bytes]) -> tuple[str, ...]:
        """Put a set of sheets into a folder in place of the last set."""
        root = Path(folder)
        if root.exists() and not root.is_dir():
            raise WouldOverwrite(folder)
        old = _sheets_of(root)
        strangers = [name for name in files if (root / name).exists() and name not in old]
        if strangers:
            raise WouldOverwrite(str(root / strangers[0]))
        written = _write_all(root, {**files, _PAPER_MARK: "\n".join(sorted(files)).encode()})
        for name in old - set(files):
            (root / name).unlink(missing_ok=True)
        return tuple(path for path in written if not path.endswith(_PAPER_MARK))


def _sheets_of(root: Path) -> set[str]:
    """Return the names of the sheets that an earlier run put there."""
    mark = root / _PAPER_MARK
    names = mark.read_text(encoding="utf-8").splitlines() if mark.is_file() else []
    return {name for name in names if name and Path(name).name == name}


def _write_all(root: Path, files: Mapping[str, bytes]) -> tuple[str, ...]:
    """Write everything beside its place first, then move it there: a failure leaves what was."""
    try:
        root.mkdir(parents=True, exist_ok=True)
        waiting = Path(tempfile.mkdtemp(prefix=".sidetrip-", dir=root))
    except OSError as error:
        raise ShowUnreadable(
            [
                Finding(
                    "file-unreadable",
                    "folder",
                    f"The folder cannot be written: {error.strerror or error}",
                    str(root),
                    "Choose another folder",
                )
            ]
        ) from error
    try:
        for name, data in files.items():
            (waiting / name).write_bytes(data)
        for name in files:
            (waiting / name).replace(root / name)
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
    return tuple(str(root / name) for name in sorted(files))
