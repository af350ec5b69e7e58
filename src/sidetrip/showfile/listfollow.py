"""Names that follow: what names a row that a list renames gets the new name too."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.model.base import folded
from sidetrip.showfile.listedit import at_path, name_text, words_of
from sidetrip.showfile.syntax import Path, Source, parse


@dataclass(frozen=True, slots=True)
class Followed:
    """A place that names a row and was renamed with it. line: in the show."""

    where: str
    line: int
    old: str
    new: str


def follow(
    text: str, file: str, renamed: Mapping[str, str], found: Sequence[Finding]
) -> tuple[str, tuple[Followed, ...]]:
    """Rename what names a renamed row. found: findings of names that nothing carries, with their paths.

    Returns the text and what was renamed; nothing else is touched.
    """
    source = parse(text, file)
    spans: dict[int, tuple[int, Followed]] = {}
    for finding in found:
        if finding.code != "name-unknown":
            continue
        for path, as_key in _mentions(source, finding.path, renamed):
            place = source.keys[path] if as_key else source.values[path]
            old = folded(str(path[-1])) if as_key else folded(words_of(at_path(source.data, path)))
            where = finding.where
            spans[place.start] = place.end, Followed(where, place.line, old, renamed[old])
    for start in sorted(spans, reverse=True):
        end, one = spans[start]
        text = text[:start] + name_text(one.new) + text[end:]
    parse(text, file)
    return text, tuple(spans[start][1] for start in sorted(spans))


def still_named(text: str, file: str, names: Iterable[str]) -> dict[str, list[int]]:
    """Return the lines in which each name still stands as a whole value or key."""
    source = parse(text, file)
    wanted = set(names)
    found: dict[str, list[int]] = {}
    for path, place in source.values.items():
        word = folded(words_of(at_path(source.data, path)))
        if place.scalar and word in wanted:
            found.setdefault(word, []).append(place.line)
    for path, place in source.keys.items():
        if path[-1] in wanted:
            found.setdefault(str(path[-1]), []).append(place.line)
    return found


def _mentions(source: Source, path: Path, renamed: Mapping[str, str]) -> Iterable[tuple[Path, bool]]:
    """Yield where the value at a path, a key in it or an item of it is one of the old names."""
    known: Path = ()
    here = source.data
    for part in path:
        if isinstance(here, tuple) and isinstance(part, str):
            names = [folded(words_of(item)) for item in here]
            if part not in names:
                return
            part = names.index(part)  # noqa: PLW2901  # a name in the path finds itself in a list
        elif isinstance(here, dict) and part not in here:
            return
        elif not isinstance(here, dict | tuple):
            break
        known, here = (*known, part), here[part]
    if known and known[-1] in renamed and known in source.keys:
        yield known, True
    elif not isinstance(here, dict | tuple) and folded(words_of(here)) in renamed:
        yield known, False
