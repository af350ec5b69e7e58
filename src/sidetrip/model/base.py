"""What all models share: strictness, and scalars that remember how they were written."""

from __future__ import annotations

import re
import unicodedata
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError


class Strict(BaseModel):
    """Base of every model: frozen, no unknown keys, no silent conversion."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _empty_is_absent(cls, data: Any) -> Any:
        """Read `key:` with nothing behind it as if the line were not there, if it is a key that could be there."""
        if not isinstance(data, dict):
            return data
        known = {info.alias or name for name, info in cls.model_fields.items()}
        return {key: value for key, value in data.items() if value is not None or key not in known}


class WrittenInt(int):
    """A whole number that remembers its spelling, so that a strip may be called 808 or 010."""

    written: str


class WrittenFloat(float):
    """A decimal number that remembers its spelling."""

    written: str


def folded(text: str) -> str:
    """Return text as names are compared: no space around it, letters with their accents in one piece."""
    return unicodedata.normalize("NFC", text.strip())


def _as_typed(value: Any) -> Any:
    written = getattr(value, "written", None)
    if written is not None:
        return written
    if not isinstance(value, str):
        return value
    text = value.strip()
    if not text:
        raise PydanticCustomError("name_empty", "is empty: write a word, or leave the key out")
    if any(unicodedata.category(character) in ("Cc", "Zl", "Zp") for character in text):
        raise PydanticCustomError("name_lines", "should be one line, without tabs or control characters")
    return text


def _as_name(value: Any) -> Any:
    text = _as_typed(value)
    return folded(text) if isinstance(text, str) else text


def _as_bool(value: Any) -> Any:
    if isinstance(value, str) and value.lower() in _BOOLS:
        return _BOOLS[value.lower()]
    return value


def _as_plain_number(value: Any) -> Any:
    if isinstance(value, WrittenFloat):
        return float(value)
    return int(value) if isinstance(value, WrittenInt) else value


def _as_tuple(value: Any) -> Any:
    return (value,) if isinstance(value, str | int | float) else value


_BOOLS = {"yes": True, "on": True, "true": True, "no": False, "off": False, "false": False}

_LENGTH = re.compile(r"(?:([0-9]{1,4})h)?(?:([0-9]{1,4})m(?:in)?)?")


def _as_seconds(value: Any) -> Any:
    match = _LENGTH.fullmatch(value.replace(" ", "")) if isinstance(value, str) else None
    if match and (match[1] or match[2]):
        return int(match[1] or 0) * 3600.0 + int(match[2] or 0) * 60.0
    raise PydanticCustomError("length", "a length is written like 2h30m or 95m")


Name = Annotated[str, BeforeValidator(_as_name), Field(max_length=1000)]
Typed = Annotated[str, BeforeValidator(_as_typed)]
YesNo = Annotated[bool, BeforeValidator(_as_bool)]
Whole = Annotated[int, BeforeValidator(_as_plain_number)]
Decimal = Annotated[float, BeforeValidator(_as_plain_number)]
Length = Annotated[float, BeforeValidator(_as_seconds)]
Names = Annotated[tuple[Name, ...], BeforeValidator(_as_tuple)]
