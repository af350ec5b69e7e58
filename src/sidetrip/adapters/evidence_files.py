"""Logs of block times on disk: read line by line, written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sidetrip.errors import ShowUnreadable, WouldOverwrite
from sidetrip.findings import Finding

_LONGEST_LINE = 16 * 1024 * 1024


class LogFiles:
    """The real EvidenceFiles."""

    @contextmanager
    def lines(self, path: str) -> Iterator[Iterator[str]]:
        """Open a log line by line."""
        try:
            file = Path(path).open(encoding="utf-8", errors="replace", newline=None)  # noqa: SIM115 (closed below)
        except FileNotFoundError as error:
            raise _unreadable("file-missing", "There is no such log", path, "Check the path") from error
        except (OSError, ValueError) as error:
            reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
            what = f"The log cannot be read: {reason}"
            raise _unreadable("file-unreadable", what, path, "Check that it is a file you may read") from error
        with file:
            yield _bounded(file)

    def write(self, path: str, lines: Iterable[str]) -> None:
        """Write a log beside its place, then move it there."""
        target = Path(path)
        waiting: str | None = None
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            if target.exists():
                raise WouldOverwrite(path)
            handle, waiting = tempfile.mkstemp(prefix=".sidetrip-", dir=target.parent)
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.writelines(lines)
            Path(waiting).chmod(0o644)
            Path(waiting).replace(target)
            waiting = None
        except (OSError, ValueError) as error:
            reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
            what = f"The log cannot be written: {reason}"
            raise _unreadable("file-unreadable", what, path, "Check that the show's folder may be written") from error
        finally:
            if waiting is not None:
                with contextlib.suppress(OSError):
                    Path(waiting).unlink()


def _bounded(file: Iterable[str]) -> Iterator[str]:
    readline = file.readline  # type: ignore[attr-defined]
    while line := readline(_LONGEST_LINE):
        yield line


def _unreadable(code: str, what: str, path: str, remedy: str) -> ShowUnreadable:
    return ShowUnreadable([Finding(code, "evidence", what, repr(path), remedy)])
