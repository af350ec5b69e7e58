"""What all models share: strictness, and scalars that remember how they were written."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, model_validator
from pydantic_core import PydanticCustomError


class Strict(BaseModel):
    """Base of every model: frozen, no unknown keys, no silent conversion."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _empty_is_absent(cls, data: Any) -> Any:
        """Read `key:` with nothing behind it as if the line were not there."""
        return {key: value for key, value in data.items() if value is not None} if isinstance(data, dict) else data


class WrittenInt(int):
    """A whole number that remembers its spelling, so that a strip may be called 808 or 010."""

    written: str


class WrittenFloat(float):
    """A decimal number that remembers its spelling."""

    written: str


def _as_text(value: Any) -> Any:
    written = getattr(value, "written", None)
    if written is not None:
        return written
    return value.strip() if isinstance(value, str) else value


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

_LENGTH = re.compile(r"(?:(\d+)h)?(?:(\d+)m(?:in)?)?")


def _as_seconds(value: Any) -> Any:
    match = _LENGTH.fullmatch(value.replace(" ", "")) if isinstance(value, str) else None
    if match and (match[1] or match[2]):
        return int(match[1] or 0) * 3600.0 + int(match[2] or 0) * 60.0
    raise PydanticCustomError("length", "a length is written like 2h30m or 95m")


Name = Annotated[str, BeforeValidator(_as_text)]
YesNo = Annotated[bool, BeforeValidator(_as_bool)]
Whole = Annotated[int, BeforeValidator(_as_plain_number)]
Decimal = Annotated[float, BeforeValidator(_as_plain_number)]
Length = Annotated[float, BeforeValidator(_as_seconds)]
Names = Annotated[tuple[Name, ...], BeforeValidator(_as_tuple)]
