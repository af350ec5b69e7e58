"""What the use cases need of logs of block times."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol


class EvidenceFiles(Protocol):
    """Logs on disk, which may be large."""

    def lines(self, path: str) -> AbstractContextManager[Iterator[str]]:
        """Open a text file line by line; what is no UTF-8 comes as signs of replacement.

        Raises ShowUnreadable: missing, or no file that can be read.
        """

    def write(self, path: str, lines: Iterable[str]) -> None:
        """Write a new file, whole or not at all. Raises WouldOverwrite, ShowUnreadable."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing that this system says of itself. value: in plain words; fine: None where it cannot be judged."""

    key: str
    value: str
    fine: bool | None


class ThisSystem(Protocol):
    """What the computer that this runs on says of itself; nothing is changed."""

    def look(self) -> tuple[Seen, ...]:
        """Return what can be read here; none where nothing can."""


__all__ = ["EvidenceFiles", "Seen", "ThisSystem"]
