"""What the use cases need of the world, in a few methods each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Protocol


class ShowStore(Protocol):
    """Show files and the folders around them. Paths are text as the person typed them."""

    def read_show(self, path: str) -> tuple[str, str]:
        """Return (text, shown path) of a show file, or of show.yaml in a folder.

        Raises ShowUnreadable: missing, no text, or over 1 MB (found from its size, without reading it).
        """

    def read_text(self, path: str) -> str:
        """Return the text of any other file, UTF-8 with or without its mark. Raises ShowUnreadable."""

    def read_bytes(self, path: str) -> bytes:
        """Return a file as it is, whatever it holds. Raises ShowUnreadable: missing, or over 1 MB."""

    def beside(self, path: str, name: str) -> str:
        """Return the path of a file named as if from the folder of another."""

    def names(self, folder: str) -> tuple[str, ...]:
        """Return the names of the files in a folder, sorted; none when there is no such folder."""

    def folders(self, folder: str) -> tuple[str, ...]:
        """Return the names of the folders in a folder, sorted, hidden ones left out; none when there is none."""

    def replace(self, path: str, before: str, after: str) -> None:
        """Write a file's text in place of what it was read as, whole or not at all.

        Raises ShowChanged when it holds something else by now, ShowUnreadable when it cannot be written.
        """

    def exchange(self, folder: str, files: Mapping[str, bytes], were: Mapping[str, bytes | None]) -> tuple[str, ...]:
        """Write files into a folder, all or none, if each still is what it was read as, and return their paths.

        were: what each of them must hold now, None where nothing may be. Raises ShowChanged otherwise.
        """

    def create(self, folder: str, files: Mapping[str, str]) -> tuple[str, ...]:
        """Write new files into a folder, all or none, and return their paths. Raises WouldOverwrite."""

    def write_paper(self, folder: str, files: Mapping[str, bytes], *, beside: bool = False) -> tuple[str, ...]:
        """Put a set of sheets into a folder in place of the last set, all or none, and return their paths.

        beside: leave the other sheets that are there.
        Raises WouldOverwrite when a sheet of the same name is not ours, or was changed since.
        """


class DeskLibrary(Protocol):
    """Desk types shipped with the program."""

    def names(self) -> tuple[str, ...]:
        """Return the names of all shipped desk types, sorted."""

    def text(self, name: str) -> tuple[str, str] | None:
        """Return (text, shown path) of a desk type by its name, None if it is not shipped."""


class Press(Protocol):
    """Prints sheets."""

    def pdf(self, template: str, data: Mapping[str, Any]) -> bytes:
        """Set a template with its data and return one PDF."""

    def png(self, template: str, data: Mapping[str, Any], ppi: float) -> list[bytes]:
        """Set a template with its data and return one picture a page."""

    def undrawable(self, texts: Sequence[str]) -> dict[str, str]:
        """Return, for each text that no font here can draw, the characters it lacks."""


class Clock(Protocol):
    """The time of day."""

    def now(self) -> datetime:
        """Return the local time with its zone."""
