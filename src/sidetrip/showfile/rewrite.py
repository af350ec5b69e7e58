"""A show that was changed by the program, written into the text that it was read from: only what differs is touched."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from sidetrip.errors import ShowUnreadable
from sidetrip.model.ports import Ports
from sidetrip.model.show import Show
from sidetrip.showfile.edit import NoSuchField
from sidetrip.showfile.listedit import Item, add_row, remove_key, remove_row, set_item
from sidetrip.showfile.read import read_show
from sidetrip.showfile.syntax import Path

_LISTS = ("inputs", "outputs", "mixes", "requests", "units", "keep")


def rewritten(text: str, before: Show, after: Show, file: str = "show.yaml") -> str:
    """Return the text of a show changed to another: keys set and taken out, rows taken out and added at their end.

    before: what the text reads as, perhaps with answers of the house in it: rows that are the same before and after
    are left as they are written. Lists keep their order, and a row that is only in `after` goes to the end. Raises
    NoSuchField where the text cannot be changed so, or would not read as that.
    """
    written = read_show(text, file).show
    edited, wanted = text, {}
    for name in _LISTS:
        own = getattr(written, name)
        wanted[name] = _as_written(own, getattr(before, name), getattr(after, name))
        edited = _list(edited, name, own, wanted[name], file)
    try:
        read = read_show(edited, file).show
    except ShowUnreadable as error:
        raise NoSuchField(f"with this change the show does not read: {error}") from error
    if any(_unordered(getattr(read, name)) != _unordered(wanted[name]) for name in _LISTS):
        raise NoSuchField("the change cannot be written without rewriting what stands around it")
    return edited


def _as_written(
    written: Sequence[BaseModel], before: Sequence[BaseModel], after: Sequence[BaseModel]
) -> Sequence[BaseModel]:
    """Return the rows of a list after a change, those that do not change as they are written."""
    if before == after or len(written) != len(before):
        return written if before == after else after
    if len(before) == len(after):
        return [own if old == new else new for own, old, new in zip(written, before, after, strict=True)]
    own_of = list(zip(before, written, strict=True))
    return [next((own for old, own in own_of if old == new), new) for new in after]


def _unordered(items: Sequence[BaseModel]) -> list[str]:
    return sorted(repr(item) for item in items)


def _list(text: str, name: str, before: Sequence[BaseModel], after: Sequence[BaseModel], file: str) -> str:
    """Change one list. Rows are the same by place where there are as many of them, else by what they say."""
    if before == after:
        return text
    if len(before) == len(after):
        for index, (old, new) in enumerate(zip(before, after, strict=True)):
            for path, value in _differences((name, index), _plain(old), _plain(new)):
                text = remove_key(text, path, file) if value is None else set_item(text, path, value, file)
        return text
    left = list(after)
    gone = []
    for index, old in enumerate(before):
        if old in left:
            left.remove(old)
        else:
            gone.append(index)
    for index in reversed(gone):
        text = remove_row(text, name, index, file)
    for new in left:
        text = add_row(text, name, {key: _item(value) for key, value in _plain(new).items()}, file)
    return text


def _differences(path: Path, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[tuple[Path, Item]]:
    for key in (*old, *(key for key in new if key not in old)):
        was, becomes = old.get(key), new.get(key)
        if was == becomes:
            continue
        if isinstance(was, Mapping) and isinstance(becomes, Mapping):
            yield from _differences((*path, key), was, becomes)
        else:
            yield (*path, key), _item(becomes)


def _plain(item: BaseModel) -> dict[str, Any]:
    """Return what a row says, by the keys of the file; what it leaves out is left out."""
    return {
        (field.alias or name): _value(getattr(item, name))
        for name, field in type(item).model_fields.items()
        if name in item.model_fields_set and getattr(item, name) is not None
    }


def _value(value: Any) -> Any:
    if isinstance(value, Ports):
        return str(value)
    if isinstance(value, BaseModel):
        return _plain(value)
    if isinstance(value, Mapping):
        return {key: _value(own) for key, own in value.items()}
    return value


def _item(value: Any) -> Item:
    if value is None or isinstance(value, bool | str | int | float | Mapping):
        return value
    if isinstance(value, tuple) and all(isinstance(one, str) for one in value):
        return value
    raise NoSuchField(f"{value!r} cannot be written into a row")


__all__ = ["rewritten"]
