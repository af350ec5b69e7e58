"""The press: Typst templates with their data to PDF or PNG, and what its fonts cannot draw."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import typst

# The time of printing is on the page; in the file it would make two prints of one plan differ.
_TIMESTAMP = 946_684_800
# Never assigned to a character, so that whatever is drawn for it is the sign for "no such glyph".
_NO_CHARACTER = "\ufdd1"
# Controls, marks of format, blanks and lone halves have nothing to draw.
_UNSEEN = {"Cc", "Cf", "Cs", "Zs", "Zl", "Zp"}


class TypstPress:
    """The real Press. templates: the folder with the templates and what they share."""

    def __init__(self, templates: Path) -> None:
        self._templates = templates

    def pdf(self, template: str, data: Mapping[str, Any]) -> bytes:
        """Set a template with its data and return one PDF, byte for byte the same for the same data."""
        import typst

        return typst.compile(
            self._templates / template,
            root=self._templates,
            font_paths=_fonts(),
            format="pdf",
            sys_inputs=_inputs(data),
            timestamp=_TIMESTAMP,
        )

    def png(self, template: str, data: Mapping[str, Any], ppi: float) -> list[bytes]:
        """Set a template with its data and return one picture a page."""
        import typst

        made: bytes | list[bytes] = typst.compile(
            self._templates / template,
            root=self._templates,
            font_paths=_fonts(),
            format="png",
            ppi=ppi,
            sys_inputs=_inputs(data),
        )
        return [made] if isinstance(made, bytes) else made

    def undrawable(self, texts: Sequence[str]) -> dict[str, str]:
        """Return, for each text that no font here can draw, the characters it lacks, each once."""
        asked = {character for text in texts for character in text}
        missing = {character for character in asked if not _drawable(character)}
        lacking = {text: "".join(dict.fromkeys(c for c in text if c in missing)) for text in texts}
        return {text: characters for text, characters in lacking.items() if characters}


def _inputs(data: Mapping[str, Any]) -> dict[str, str]:
    """Return what a template is given: data beside its source, never a part of it."""
    return {"data": json.dumps(data, ensure_ascii=False, allow_nan=False)}


@cache
def _fonts() -> typst.Fonts:
    import font_source_sans_pro
    import typst

    return typst.Fonts(font_paths=[Path(font_source_sans_pro.__file__).parent / "files"])


@cache
def _drawable(character: str) -> bool:
    if unicodedata.category(character) in _UNSEEN:
        return True
    return any(ord(character) in _characters(*file) for file in _font_files()) or _embedded_draws(character)


@cache
def _font_files() -> tuple[tuple[str, int], ...]:
    """Return (path, index in the file) of every font that lies in a file, our own first: it has most of the names."""
    fonts = [(font.family != "Source Sans Pro", font.path, font.index) for font in _fonts().fonts() if font.path]
    return tuple((path, index) for _, path, index in sorted(fonts))


@cache
def _characters(path: str, index: int) -> frozenset[int]:
    """Return the code points that a font maps to glyphs; none for a file that cannot be read."""
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(path, fontNumber=index, lazy=True) as font:
            return frozenset(font.getBestCmap() or ())
    except (OSError, TTLibError):
        return frozenset()


@cache
def _embedded_draws(character: str) -> bool:
    """Tell whether Typst's own fonts draw a character: they lie in no file, so it is drawn and looked at."""
    return _drawing(character) != _drawing(_NO_CHARACTER)


@cache
def _drawing(character: str) -> bytes:
    import typst

    source = b"#set page(width: auto, height: auto)\n#json(bytes(sys.inputs.data))"
    return typst.compile(source, font_paths=_fonts(), format="svg", sys_inputs={"data": json.dumps(character)})
