"""A DeskLibrary in memory: desk files by the name in them."""

from __future__ import annotations

from collections.abc import Mapping


class DesksInMemory:
    """Texts of desk files by desk type."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._texts = dict(texts)

    def names(self) -> tuple[str, ...]:
        return tuple(sorted(self._texts))

    def text(self, name: str) -> tuple[str, str] | None:
        text = self._texts.get(name)
        return None if text is None else (text, "desk.yaml")
