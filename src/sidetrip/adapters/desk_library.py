"""Desk types shipped as package data."""

from __future__ import annotations

import re
from pathlib import Path

_NAME = re.compile(r"^name: *(.+?) *$", re.MULTILINE)


class ShippedDesks:
    """The real DeskLibrary: one YAML file each, found by the name in it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def names(self) -> tuple[str, ...]:
        """Return the names of all shipped desk types, sorted."""
        return tuple(sorted(self._by_name()))

    def text(self, name: str) -> tuple[str, str] | None:
        """Return (text, file name) of a desk type, None if it is not shipped."""
        file = self._by_name().get(name)
        return (file.read_text(encoding="utf-8"), file.name) if file else None

    def _by_name(self) -> dict[str, Path]:
        found = {}
        for file in sorted(self._folder.glob("*.yaml")):
            match = _NAME.search(file.read_text(encoding="utf-8"))
            if match:
                found[match[1]] = file
        return found
