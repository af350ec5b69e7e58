"""Text to Show or Desk, with every mistake as a finding that names its line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Figure, Spelled
from sidetrip.model.outboard import PARAMETERS
from sidetrip.model.show import Show
from sidetrip.showfile.syntax import Path, Source, parse

SHOW_VERSION = 1
DESK_VERSION = 1

M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Reading:
    """A show and the text it came from."""

    show: Show
    source: Source


@lru_cache(maxsize=4)
def read_show(text: str, file: str) -> Reading:
    """Read a show file; the last few are kept. Raises ShowUnreadable with all findings."""
    source = parse(text, file)
    return Reading(_model(Show, source, "sidetrip", SHOW_VERSION), source)


def read_desk(text: str, file: str) -> Desk:
    """Read a desk file. Raises ShowUnreadable with all findings."""
    return _model(Desk, parse(text, file), "sidetrip_desk", DESK_VERSION)


def place(findings: Iterable[Finding], source: Source) -> tuple[Finding, ...]:
    """Give findings that know their path the line it has in this text."""
    return tuple(
        finding
        if finding.line is not None
        else finding.at(source.line(finding.path) if finding.path else None, source.file)
        for finding in findings
    )


def nearest(word: str, words: Iterable[str]) -> str:
    """Return "Did you mean 'x'?" or the list of what there is, as a remedy without its full stop."""
    choices = sorted(set(words))
    folded = {choice.lower(): choice for choice in reversed(choices)}
    close = get_close_matches(word.lower(), list(folded), n=1, cutoff=0.6)
    if close:
        return f"Did you mean '{folded[close[0]]}'?"
    if not choices:
        return "There is nothing of the kind in this file yet"
    shown = ", ".join(choices[:12]) + (" ..." if len(choices) > 12 else "")
    return f"Use one of: {shown}"


def _model(model: type[M], source: Source, version_key: str, version: int) -> M:
    data = source.data
    if not isinstance(data, dict):
        raise ShowUnreadable(
            [
                _wrong(
                    source,
                    (),
                    "The file is not made of keys and values",
                    "a list" if isinstance(data, tuple) else f"only: {_shown(data)}",
                    "Begin it with: sidetrip: 1",
                )
            ]
        )
    if data.get(version_key) != version:
        remedy = f"Begin the file with: {version_key}: {version}"
        if data.get(version_key) is None:
            what, values = f"The version key '{version_key}' is missing", f"known {version}"
        else:
            found = data[version_key]
            shown = f"the text '{found}'" if isinstance(found, str) else _shown(found)
            what = f"The version key '{version_key}' is not of a version this program knows"
            values = f"found {shown}, known {version}"
        line = source.line((version_key,)) or 1
        raise ShowUnreadable(
            [Finding("version-unknown", version_key, what, values, remedy, (version_key,), line, source.file)]
        )
    try:
        return model.model_validate(data)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        raise ShowUnreadable(
            [_finding(model, source, item) for item in errors if not _follows(item, errors)]
        ) from error


_WORDS = {
    "missing": "is missing",
    "int_type": "should be a whole number",
    "float_type": "should be a number",
    "string_type": "should be text",
    "bool_type": "should be yes or no",
    "tuple_type": "should be a list, one '- ' line each or in [ ]",
    "dict_type": "should be keys and values",
    "model_type": "should be keys and values, in { } or one a line",
    "too_short": "is empty",
}


def _follows(error: Mapping[str, Any], errors: Iterable[Mapping[str, Any]]) -> bool:
    """Tell whether a list is called too short only because its items were refused."""
    place: Path = error["loc"]
    return error["type"] == "too_short" and any(
        len(other["loc"]) > len(place) and other["loc"][: len(place)] == place for other in errors
    )


def _finding(model: type[BaseModel], source: Source, error: Mapping[str, Any]) -> Finding:
    location: Path = error["loc"]
    kind, context = error["type"], error.get("ctx", {})
    if kind.startswith("processor_"):
        return _processor_finding(source, location, kind, context)
    path, last = _known(source, location), str(location[-1])
    if kind == "extra_forbidden":
        remedy = nearest(last, _fields_at(model, location[:-1]))
        if last.isdecimal():
            remedy = "If this is the part behind a decimal comma, write a point instead"
        return _unknown_key(source, path, f"'{last}' means nothing here", remedy)
    if kind == "missing":
        return _wrong(source, path, f"'{last}' is missing", "", f"Add '{last}: ...'")
    if kind == "literal_error":
        options = [option.strip("' ") for option in str(context["expected"]).replace(" or ", ", ").split(",")]
        word = _shown(error["input"])
        remedy = nearest(word, options)
        if last == "[key]":
            return _unknown_key(source, path, f"'{word}' means nothing here", remedy)
        return _wrong(source, path, f"'{word}' is not a value of '{last}'", "", remedy)
    message = _WORDS.get(kind, error["msg"]).replace("Input should be", "should be")
    values = "" if kind in ("too_short", "name_empty") else f"found {_shown(error['input'])}"
    return _wrong(source, path, _sentence(_field(location), message), values, "Correct the value")


def _processor_finding(source: Source, location: Path, kind: str, context: Mapping[str, Any]) -> Finding:
    word, key = str(context["kind"]), str(context.get("key", ""))
    path = _known(source, (*location, word, key) if key else (*location, word))
    if kind == "processor_kind":
        return _wrong(source, path, f"'{word}' is no kind of processor", "", nearest(word, PARAMETERS))
    if kind == "processor_key":
        return _unknown_key(source, path, f"'{key}' means nothing for '{word}'", nearest(key, PARAMETERS[word]))
    values = f"found {_shown(_at(source.data, path))}"
    return _wrong(source, path, _sentence(key or word, context["why"]), values, "Correct the value")


def _unknown_key(source: Source, path: Path, what: str, remedy: str) -> Finding:
    return Finding("key-unknown", _words(source, path), what, "", remedy, path, source.line(path) or 1, source.file)


def _sentence(field: str, message: str) -> str:
    verb = message.startswith(("should ", "is ", "cannot ", "says "))
    return f"'{field}' {message}" if verb else f"'{field}': {message}"


_LONGEST = 80


def _shown(value: Any) -> str:
    """Return a value in few words: texts cut, lists and mappings by name."""
    if isinstance(value, tuple | dict):
        return ("a list" if isinstance(value, tuple) else "keys and values") if value else "nothing in it"
    words = str(getattr(value, "written", "nothing" if value is None else value))
    return words if len(words) <= _LONGEST else f"{words[:_LONGEST]}..."


def _at(data: Any, path: Path) -> Any:
    for part in path:
        data = data[part]
    return data


def _field(location: Path) -> str:
    return str(next((part for part in reversed(location) if isinstance(part, str) and "[" not in part), "file"))


def _wrong(source: Source, path: Path, what: str, values: str, remedy: str) -> Finding:
    return Finding("value-wrong", _words(source, path), what, values, remedy, path, source.line(path) or 1, source.file)


def _words(source: Source, path: Path) -> str:
    """Return a place in words: what stands in a list by its name, or by its number from 1."""
    words = []
    here = source.data
    for part in path:
        here = here[part]
        own = [here.get(key) for key in ("name", "strip")] if isinstance(here, dict) else []
        names = [_shown(name) for name in own if isinstance(name, str | int | float)]
        words.append(part if isinstance(part, str) else names[0] if names else str(part + 1))
    return " / ".join(words) or "file"


def _known(source: Source, location: Path) -> Path:
    """Trim what the validator added (names of union members) from a location."""
    length = len(location)
    while length and location[:length] not in source.values:
        length -= 1
    return location[:length]


def _fields_at(model: type[BaseModel], location: Path) -> list[str]:
    """Return the keys that are good where `location` points."""
    here: Any = model
    for part in location:
        here = _unwrapped(here)
        if isinstance(here, type) and issubclass(here, BaseModel):
            found = next((info for name, info in here.model_fields.items() if part in (name, info.alias)), None)
            if found is not None:
                here = found.annotation
            # else: a name that the validator added, which leads nowhere
        elif get_origin(here) in (tuple, dict):
            here = get_args(here)[0 if get_origin(here) is tuple else 1]
    inner = _unwrapped(here)
    if not (isinstance(inner, type) and issubclass(inner, BaseModel)):
        return []
    spelled = Spelled if inner is Figure else inner
    return [info.alias or name for name, info in spelled.model_fields.items()]


def _unwrapped(annotation: Any) -> Any:
    """Return what is inside Annotated and options: the model, list or mapping, if there is one."""
    while get_origin(annotation) in (Annotated, Union, UnionType):
        inside = [argument for argument in get_args(annotation) if argument is not type(None)]
        annotation = inside[0]
    return annotation


__all__ = ["Reading", "nearest", "place", "read_desk", "read_show"]
