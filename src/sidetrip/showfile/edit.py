"""One field changed, one line changed: everything else in the text stays as it was typed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from sidetrip.errors import ShowUnreadable
from sidetrip.model.base import folded
from sidetrip.showfile.start import scalar
from sidetrip.showfile.syntax import Path, Place, Source, forbidden, parse


class NoSuchField(KeyError):
    """The path leads to nothing that can be set."""


Scalar = str | int | float
Value = Scalar | Mapping[str, Any]
"""A scalar, or keys with scalars or such mappings, written in one line."""

_LONE_DASH = re.compile(r"^( *)-[ \t]*(?:#.*)?\r?$", re.MULTILINE)


def set_field(text: str, path: Path, value: Value, file: str = "show.yaml") -> str:
    """Return the text with one scalar replaced, or one key added to a mapping that stands there.

    path: keys and list positions, for example ("requests", 1, "want"). Comments, order, spacing and line ends stay.
    Raises ShowUnreadable when the text does not parse, NoSuchField when the path leads nowhere or only rewriting
    what stands around it could set it, ValueError for a value that no show can hold.
    """
    written = _written(value)
    source = parse(text, file)
    path = tuple(folded(part) if isinstance(part, str) else part for part in path)
    place = source.values.get(path)
    edited = _added(source, path, written) if place is None else _replaced(source, path, place, written)
    return _sure(edited, _with(source.data, path, value), path, file)


def add_item(text: str, path: Path, item: Value, file: str = "show.yaml") -> str:
    """Return the text with one item more at the end of a list, or a list of it where the key is not there yet.

    Everything else stays as it was typed. Raises as `set_field` does.
    """
    written = _written(item)
    source = parse(text, file)
    path = tuple(folded(part) if isinstance(part, str) else part for part in path)
    place = source.values.get(path)
    if place is None:
        edited = _added(source, path, f"[{written}]")
        return _sure(edited, _with(source.data, path, (item,)), path, file)
    items = _at(source.data, path)
    if items is None:  # a key with nothing behind it
        items = ()
        edited = _replaced(source, path, place, f"[{written}]")
    elif not isinstance(items, tuple):
        raise NoSuchField(f"{path} is no list")
    elif place.flow:
        last = source.values[*path, len(items) - 1].end if items else place.start + 1
        edited = text[:last] + (f", {written}" if items else written) + _room(text, last) + text[last:]
    else:
        last_item = (*path, len(items) - 1)
        edited = _below(text, _end(source, last_item), _dash(text, source.values[last_item].start) + written)
    return _sure(edited, _with(source.data, path, (*items, item)), path, file)


def _dash(text: str, start: int) -> str:
    """Return what an item like the one at `start` begins with; its dash may stand on a line above."""
    line = text.rfind("\n", 0, start) + 1
    before = text[line:start]
    if not before.strip():
        above = list(_LONE_DASH.finditer(text, 0, line))
        return f"{above[-1][1]}- " if above else before
    at = before.rfind("-")
    return " " * at + (before[at:] if before[at + 1 :] else "- ")


def _end(source: Source, path: Path) -> int:
    """Return where what stands at a path ends: a block's own place, and an empty value's, run on into what follows."""
    inside = [key for key in source.values if key[: len(path)] == path]
    ends = [source.keys[key].end for key in inside if key in source.keys and len(key) > len(path)]
    for key in inside:
        place = source.values[key]
        if (place.scalar or place.flow) and (place.end > place.start or isinstance(key[-1], int)):
            ends.append(place.end)
    return max(ends, default=source.values[path].end)


def _below(text: str, end: int, line: str) -> str:
    """Return the text with one line more, below the line in which `end` lies."""
    line_end = "\r\n" if "\r\n" in text else "\n"
    at = end - 1 if text[end - 1 : end] == "\n" else text.find("\n", end)  # block text ends with its line
    if at < 0:
        return text + line_end + line
    return text[: at + 1] + line + line_end + text[at + 1 :]


def _room(text: str, at: int) -> str:
    """Return the space that something written at a place in a flow needs behind it."""
    return "" if text[at : at + 1] in ("}", "]", ",", " ", "\n", "\r") else " "


def _written(value: Value) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_written(key)}: {_written(item)}" for key, item in value.items()) + "}"
    if isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value)):
        raise ValueError(f"{value} is no value of a show")
    if not isinstance(value, str):
        return repr(value)
    if forbidden(value):
        raise ValueError(f"a show cannot hold the character {forbidden(value)}")
    text = scalar(value)
    return _quoted(value) if text == value and any(mark in value for mark in ",[]{}") else text


def _quoted(value: str) -> str:
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _sure(edited: str, wanted: Any, path: Path, file: str) -> str:
    """Return the edited text if it reads as what was wanted. Raises NoSuchField when it does not."""
    try:
        done = parse(edited, file).data
    except ShowUnreadable:
        done = None
    if _spelled(done) != _spelled(wanted):
        raise NoSuchField(f"{path} cannot be set without rewriting what stands around it")
    return edited


def _replaced(source: Source, path: Path, place: Place, written: str) -> str:
    text = source.text
    if not place.scalar:
        raise NoSuchField(f"{path} is a list or mapping, not one value")
    start, end = place.start, place.end
    if text[place.start : place.start + 1] in ("|", ">"):  # block text runs to the start of the next line
        end = place.start + len(text[place.start : end].rstrip())
    if end == start:  # nothing there: behind a dash, behind a colon, or behind a key without one
        key = source.keys.get(path)
        colon = text.find(":", key.end, end) + 1 if key else start
        start = end = colon or start
        written = f" {written}" if colon else f": {written}"
    return text[:start] + written + text[end:]


def _added(source: Source, path: Path, written: str) -> str:
    above = path[:-1]
    parent = source.values.get(above)
    if parent is None or not isinstance(path[-1], str) or not isinstance(_at(source.data, above), dict):
        raise NoSuchField(f"no mapping stands at {above}")
    entry = f"{scalar(path[-1])}: {written}"
    inside = [place for key, place in source.values.items() if len(key) > len(above) and key[: len(above)] == above]
    end = max(inside, key=lambda place: place.end, default=None)
    last = parent.start + 1 if end is None else end.end
    if parent.flow and end is not None and end.start == end.end:  # behind an empty value a comma needs its room
        last = parent.end - 1
    text = source.text
    if parent.flow:
        return text[:last] + (f", {entry}" if inside else entry) + _room(text, last) + text[last:]
    first = min(place.start for key, place in source.keys.items() if key[:-1] == above)
    indent = " " * (first - (text.rfind("\n", 0, first) + 1))
    return _below(text, _end(source, above), indent + entry)


def _at(data: Any, path: Path) -> Any:
    for part in path:
        data = data[part]
    return data


def _with(data: Any, path: Path, value: Any) -> Any:
    """Return data with one value set."""
    if not path:
        return value
    if isinstance(data, tuple):
        return tuple(_with(item, path[1:], value) if index == path[0] else item for index, item in enumerate(data))
    return {**data, path[0]: _with(data.get(path[0]), path[1:], value)}


def _spelled(data: Any) -> Any:
    """Return data in which a number differs from a text that looks like it, and from another spelling."""
    if isinstance(data, Mapping):
        return {key: _spelled(value) for key, value in data.items()}
    if isinstance(data, tuple):
        return tuple(_spelled(value) for value in data)
    return data if isinstance(data, str | None) else ("number", getattr(data, "written", repr(data)))


__all__ = ["NoSuchField", "Value", "add_item", "set_field"]
