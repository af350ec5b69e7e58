"""A Press that sets no type: its PDF is the data as text, and its one font has the letters of Western Europe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


class PressInMemory:
    """Prints nothing. `printed`: the templates in the order in which they were asked for."""

    def __init__(self) -> None:
        self.printed: list[str] = []

    def pdf(self, template: str, data: Mapping[str, Any]) -> bytes:
        self.printed.append(template)
        return f"%PDF {template} {data!r}".encode()

    def png(self, template: str, data: Mapping[str, Any], ppi: float) -> list[bytes]:
        self.printed.append(template)
        return [f"PNG {template} at {ppi:g}: {data!r}".encode()]

    def undrawable(self, texts: Sequence[str]) -> dict[str, str]:
        lacking = {text: "".join(letter for letter in text if not _drawn(letter)) for text in texts}
        return {text: letters for text, letters in lacking.items() if letters}


def _drawn(letter: str) -> bool:
    return letter.encode("cp1252", "ignore") != b""
