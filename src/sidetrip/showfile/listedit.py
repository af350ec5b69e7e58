"""What a list changes, written into the text of the show: keys set and taken out, rows added and removed.

Each step changes only the lines it is about; whatever would need more is refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from sidetrip.errors import ShowUnreadable
from sidetrip.model.base import folded
from sidetrip.showfile.edit import NoSuchField, add_item, set_field
from sidetrip.showfile.edit import Value as Written
from sidetrip.showfile.start import scalar
from sidetrip.showfile.syntax import Path, Source, parse

Item = None | bool | str | int | float | tuple[str, ...] | Mapping[str, str]
"""What a key is set to; None takes it out, a tuple is a list of names."""

_RANGE = re.compile(r"-?[0-9]+(?:\.[0-9]+)? to -?[0-9]+(?:\.[0-9]+)?")


def set_item(text: str, path: Path, value: Item, file: str) -> str:
    """Return the text with one key set, added or taken out. Raises NoSuchField where more would have to change."""
    if value is None:
        return remove_key(text, path, file)
    if _is_raw(value):
        source = parse(text, file)
        place = source.values.get(path)
        raw = _raw(value)
        if place is not None and not place.scalar:
            if not place.flow:
                raise NoSuchField(f"{path} is a list over several lines")
            return _sure(text[: place.start] + raw + text[place.end :], path, value, file)
        token = _token(text)
        return _sure(set_field(text, path, token, file).replace(token, raw, 1), path, value, file)
    if isinstance(value, tuple):
        place = parse(text, file).values.get(path)
        if place is not None and not place.scalar:
            if not place.flow:
                raise NoSuchField(f"{path} is a list over several lines")
            return _sure(text[: place.start] + f"[{name_text(value[0])}]" + text[place.end :], path, value, file)
        value = value[0]
    return set_field(text, path, value, file)


def set_items(text: str, items: Mapping[Path, Item], file: str) -> tuple[str, tuple[Path, ...]]:
    """Set as many keys as can be set in one step: values that stand there, and new ones in braces.

    Returns the text and the paths that are set in it; `set_item` does the others, one by one.
    """
    source = parse(text, file)
    spans: dict[int, tuple[int, str]] = {}
    done: list[Path] = []
    for path, value in items.items():
        place, parent = source.values.get(path), source.values.get(path[:-1])
        if value is None or isinstance(value, Mapping):
            continue
        if place is not None and (place.scalar or place.flow) and place.end > place.start:
            if text[place.start] not in "|>" and (place.scalar or isinstance(at_path(source.data, path), tuple)):
                in_brackets = isinstance(value, tuple) and not place.scalar
                spans[place.start] = place.end, _raw(value) if in_brackets else _written(value)
                done.append(path)
        elif place is None and parent is not None and parent.flow and isinstance(path[-1], str):
            last = [source.values[*path[:-1], key] for key in at_path(source.data, path[:-1])][-1:]
            if last and last[0].end > last[0].start:
                at = last[0].end
                end, before = spans.get(at, (at, ""))
                spans[at] = end, f"{before}, {path[-1]}: {_written(value)}"
                done.append(path)
    edited = text
    for start in sorted(spans, reverse=True):
        edited = edited[:start] + spans[start][1] + edited[spans[start][0] :]
    return (edited, tuple(done)) if _only(source, edited, {path: items[path] for path in done}) else (text, ())


def _only(source: Source, edited: str, items: Mapping[Path, Item]) -> bool:
    """Tell whether a text says what was set, and else what it said before."""
    try:
        data = rest = _data(edited, source.file)
        for path, value in items.items():
            there = at_path(data, path)
            words = (
                tuple(folded(words_of(one)) for one in there) if isinstance(there, tuple) else folded(words_of(there))
            )
            wanted = tuple(map(folded, value)) if isinstance(value, tuple) else folded(_plain(value))
            if words not in (wanted, wanted[0] if isinstance(wanted, tuple) and len(wanted) == 1 else wanted):
                return False
            rest = _without(rest, path)
        before = source.data
        for path in items:
            before = _without(before, path)
    except (NoSuchField, KeyError, IndexError, TypeError):
        return False
    return bool(rest == before)


def _plain(value: Item) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def _written(value: Item) -> str:
    if isinstance(value, tuple):
        return name_text(value[0]) if len(value) == 1 else _raw(value)
    if _is_raw(value):
        return _raw(value)
    return name_text(value) if isinstance(value, str) else repr(value)


def add_row(text: str, section: str, item: Mapping[str, Item], file: str) -> str:
    """Return the text with one row more at the end of a section."""
    plain: dict[str, Any] = {}
    later: dict[str, Item] = {}
    for key, value in item.items():
        if value is None or value == ():
            continue
        if _is_raw(value):
            plain[key] = f"{_token(text)}{len(later)}x"
            later[plain[key]] = value
        else:
            plain[key] = value[0] if isinstance(value, tuple) else value
    written: Written = plain
    edited = add_item(text, (section,), written, file)
    for token, value in later.items():
        edited = edited.replace(token, _raw(value), 1)
    parse(edited, file)
    return edited


def remove_row(text: str, section: str, index: int, file: str) -> str:
    """Return the text without one row of a section; what stands around it stays. Raises NoSuchField."""
    source = parse(text, file)
    items, place = source.data[section], source.values[section, index]
    if source.values[(section,)].flow:
        start, end = place.start, place.end
        if index:
            start = source.values[section, index - 1].end
        elif len(items) > 1:
            end = source.values[section, 1].start
        edited = text[:start] + text[end:]
    else:
        start = text.rfind("\n", 0, place.start) + 1
        if text[start : place.start].strip() != "-":
            raise NoSuchField(f"{section} {index} does not begin with its dash")
        last = _end(source, (section, index))
        end = text.find("\n", last - 1 if text[last - 1 : last] == "\n" else last) + 1 or len(text)
        edited = text[:start] + text[end:]
    wanted = tuple(item for at, item in enumerate(items) if at != index) or None
    done = _data(edited, file)
    if (done.get(section) or None) != wanted or {**done, section: 0} != {**source.data, section: 0}:
        raise NoSuchField(f"{section} {index} cannot be taken out alone")
    return edited


def remove_key(text: str, path: Path, file: str) -> str:
    """Return the text without one key of a mapping, or with nothing behind it where its line holds more."""
    source = parse(text, file)
    parent, key = source.values[path[:-1]], source.keys.get(path)
    if key is None:
        return text
    place = source.values[path]
    if parent.flow:
        names = list(at_path(source.data, path[:-1]))
        at = names.index(path[-1])
        start, end = key.start, place.end
        if at + 1 < len(names):
            end = source.keys[*path[:-1], names[at + 1]].start
        elif at:
            start = source.values[*path[:-1], names[at - 1]].end
    else:
        start = text.rfind("\n", 0, key.start) + 1
        last = _end(source, path)
        end = text.find("\n", last) + 1 or len(text)
        if text[start : key.start].strip() or source.line_at(max(last - 1, 0)) != place.line:
            if not place.scalar:
                raise NoSuchField(f"{path} cannot be taken out alone")
            start, end = place.start, place.end
    edited = text[:start] + text[end:]
    done, wanted = _data(edited, file), _without(source.data, path)
    if done != wanted and _without(done, path) != wanted:
        raise NoSuchField(f"{path} cannot be taken out alone")
    return edited


def words_of(value: Any) -> str:
    """Return a value as it was written."""
    return str(getattr(value, "written", value))


def _end(source: Source, path: Path) -> int:
    """Return where the last thing inside a path ends."""
    inside = [key for key in source.values if key[: len(path)] == path]
    ends = [source.keys[key].end for key in inside if key in source.keys]
    ends += [source.values[key].end for key in inside if source.values[key].scalar or source.values[key].flow]
    return max(ends, default=source.values[path].end)


def _token(text: str) -> str:
    token = "heldplace"
    while token in text:
        token += "x"
    return token


def name_text(value: str) -> str:
    """Return a name as YAML that can stand anywhere, in braces too."""
    text = scalar(value)
    unsafe = text == value and any(mark in value for mark in ",[]{}")
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"' if unsafe else text


def _is_raw(value: Item) -> bool:
    """Tell whether a value is written in a way that `set_field` does not write: a list, yes or no, a bare figure."""
    if isinstance(value, str):
        return value == "unknown" or _RANGE.fullmatch(value) is not None
    return isinstance(value, bool) or (isinstance(value, tuple) and len(value) != 1)


def _raw(value: Item) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    assert isinstance(value, tuple)
    return f"[{', '.join(name_text(name) for name in value)}]"


def _sure(edited: str, path: Path, value: Item, file: str) -> str:
    there = at_path(_data(edited, file), path)
    words = tuple(folded(words_of(one)) for one in there) if isinstance(there, tuple) else words_of(there)
    if words != (value if isinstance(value, tuple) else _raw(value)):
        raise NoSuchField(f"{path} cannot be set without rewriting what stands around it")
    return edited


def _data(text: str, file: str) -> Any:
    try:
        return parse(text, file).data
    except ShowUnreadable as error:
        raise NoSuchField("the text would not read any more") from error


def at_path(data: Any, path: Path) -> Any:
    """Return what stands at a path."""
    for part in path:
        data = data[part]
    return data


def _without(data: Any, path: Path) -> Any:
    if isinstance(data, tuple):
        return tuple(_without(item, path[1:]) if index == path[0] else item for index, item in enumerate(data))
    if len(path) == 1:
        return {key: value for key, value in data.items() if key != path[0]}
    return {key: _without(value, path[1:]) if key == path[0] else value for key, value in data.items()}
