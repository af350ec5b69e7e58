"""Text to Show or Desk, with every mistake as a finding that names its line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
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


def read_show(text: str, file: str) -> Reading:
    """Read a show file. Raises ShowUnreadable with all findings."""
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
                    "a list" if isinstance(data, tuple) else f"only the word {data}",
                    "Begin it with: sidetrip: 1",
                )
            ]
        )
    if data.get(version_key) != version:
        found = data.get(version_key, "missing")
        raise ShowUnreadable(
            [
                Finding(
                    "version-unknown",
                    version_key,
                    f"The version key '{version_key}' is missing or not of a version this program knows",
                    f"found {found}, known {version}",
                    f"Begin the file with: {version_key}: {version}",
                    line=source.line((version_key,)) or 1,
                    file=source.file,
                )
            ]
        )
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise ShowUnreadable([_finding(model, source, item) for item in error.errors(include_url=False)]) from error


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


def _finding(model: type[BaseModel], source: Source, error: Mapping[str, Any]) -> Finding:
    path = _known(source, error["loc"])
    kind = error["type"]
    last = str(error["loc"][-1])
    context = error.get("ctx", {})
    if kind == "extra_forbidden":
        fields = _fields_at(model, error["loc"][:-1])
        return Finding(
            "key-unknown",
            _words(path),
            f"'{last}' means nothing here",
            "",
            nearest(last, fields),
            path,
            source.line(path),
            source.file,
        )
    if kind == "processor_kind":
        word = context["kind"]
        return _wrong(source, path, f"'{word}' is no kind of processor", "", nearest(word, PARAMETERS))
    if kind == "processor_key":
        return Finding(
            "key-unknown",
            _words(path),
            f"'{context['key']}' means nothing for '{context['kind']}'",
            "",
            nearest(context["key"], PARAMETERS[context["kind"]]),
            path,
            source.line(path),
            source.file,
        )
    if kind == "literal_error":
        options = [option.strip("' ") for option in str(context["expected"]).replace(" or ", ", ").split(",")]
        return _wrong(
            source,
            path,
            f"'{error['input']}' is not a value of '{last}'",
            "",
            nearest(str(error["input"]), options),
        )
    shown = "" if kind == "missing" or isinstance(error["input"], dict | tuple) else f"found {error['input']}"
    if kind == "missing":
        return _wrong(source, path, f"'{last}' is missing", "", f"Add '{last}: ...'")
    message = _WORDS.get(kind, error["msg"].removeprefix("Value error, "))
    message = message.replace("Input should be", "should be")
    return _wrong(
        source,
        path,
        f"'{_field(error['loc'])}' {message}" if message[0].islower() else message,
        shown,
        "Correct the value",
    )


def _field(location: Path) -> str:
    return str(next((part for part in reversed(location) if isinstance(part, str) and "[" not in part), "file"))


def _wrong(source: Source, path: Path, what: str, values: str, remedy: str) -> Finding:
    return Finding("value-wrong", _words(path), what, values, remedy, path, source.line(path) or 1, source.file)


def _words(path: Path) -> str:
    return " / ".join(str(part + 1) if isinstance(part, int) else part for part in path) or "file"


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
        inner = _inner_model(here)
        if inner is None:
            return []
        if isinstance(part, int):
            continue
        found = next((info for name, info in inner.model_fields.items() if part in (name, info.alias)), None)
        if found is not None:
            here = found.annotation
        # else: the key of a dictionary of models, which leaves us at its values
    inner = _inner_model(here)
    return [info.alias or name for name, info in inner.model_fields.items()] if inner else []


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    """Return the one model inside an annotation: through tuples, dictionaries, options and Annotated."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    origin = get_origin(annotation)
    if origin in (Annotated, Union, UnionType, tuple, dict):
        for argument in get_args(annotation):
            if (inner := _inner_model(argument)) is not None:
                return inner
    return None


__all__ = ["Reading", "nearest", "place", "read_desk", "read_show"]
