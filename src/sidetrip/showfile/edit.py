"""One field changed, one line changed: everything else in the text stays as it was typed."""

from __future__ import annotations

from sidetrip.showfile.start import scalar
from sidetrip.showfile.syntax import Path, parse


class NoSuchField(KeyError):
    """The path leads to nothing that can be set."""


def set_field(text: str, path: Path, value: str | int | float, file: str = "show.yaml") -> str:
    """Return the text with one scalar replaced, or one key added to a mapping that stands there.

    path: keys and list positions, for example ("requests", 1, "want"). Comments, order, spacing and line ends stay.
    Raises ShowUnreadable when the text does not parse, NoSuchField when the path leads nowhere.
    """
    source = parse(text, file)
    written = scalar(value) if isinstance(value, str) else repr(value)
    place = source.values.get(path)
    if place is not None:
        if not place.scalar:
            raise NoSuchField(f"{path} is a list or mapping, not one value")
        found = text[place.start : place.end]
        if found == "":  # `key:` with nothing behind it
            written = f" {written}"
        return text[: place.start] + written + text[place.end :]
    parent = source.values.get(path[:-1])
    if parent is None or parent.scalar or not isinstance(path[-1], str):
        raise NoSuchField(f"nothing stands at {path[:-1]}")
    entry = f"{scalar(path[-1])}: {written}"
    if parent.flow:
        inner = text[parent.start + 1 : parent.end - 1]
        stripped = inner.rstrip()
        at = parent.start + 1 + len(stripped)
        return (
            text[:at]
            + (f", {entry}" if stripped and not stripped.endswith(",") else f" {entry}" if stripped else entry)
            + text[at:]
        )
    newline = "\r\n" if "\r\n" in text else "\n"
    first_key = min(
        (place for key, place in source.keys.items() if key[:-1] == path[:-1]), key=lambda place: place.start
    )
    indent = first_key.start - (text.rfind("\n", 0, first_key.start) + 1)
    last = max(
        place.end for key, place in source.values.items() if key[: len(path) - 1] == path[:-1] and key != path[:-1]
    )
    at = text.find("\n", last)
    if at < 0:
        return f"{text}{newline}{' ' * indent}{entry}{newline}"
    return text[: at + 1] + " " * indent + entry + newline + text[at + 1 :]


__all__ = ["NoSuchField", "set_field"]
