"""What long work says while it runs: one line on a terminal, nothing anywhere else."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self


class Progress:
    """A line on standard error that is written over, and gone when the work is done."""

    def __init__(self) -> None:
        self.live = sys.stderr.isatty()
        self.longest = 0

    def __call__(self, what: str) -> None:
        """Say what is being done."""
        if self.live:
            self.longest = max(self.longest, len(what))
            sys.stderr.write(f"\r{what.ljust(self.longest)}")
            sys.stderr.flush()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.live and self.longest:
            sys.stderr.write(f"\r{' ' * self.longest}\r")
            sys.stderr.flush()


__all__ = ["Progress"]
