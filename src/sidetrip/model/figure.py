"""A figure: a number, a range or unknown, and how far it can be trusted."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError

from sidetrip.model.base import Name, Strict, WrittenFloat, WrittenInt

Standing = Literal["proven", "assumed", "unknown"]

_RANGE = re.compile(r"([-+]?[0-9]+(?:\.[0-9]+)?)\s+to\s+([-+]?[0-9]+(?:\.[0-9]+)?)")
_MOST = 10_000_000.0
_MOST_DB = 200.0


class Figure(Strict):
    """A number with its standing. The unit is in the name of the field that holds it.

    low, high: bounds, equal for a plain number, both None when unknown.
    standing: None means "as the file says", which is assumed unless the file says otherwise.
    """

    low: float | None = None
    high: float | None = None
    standing: Standing | None = None
    when: Name | None = None
    state: Name | None = None
    source: Name | None = None

    @property
    def known(self) -> bool:
        """Tell whether there is any number at all."""
        return self.low is not None

    @property
    def typical(self) -> float | None:
        """The middle of the range, None when unknown."""
        return None if self.low is None or self.high is None else (self.low + self.high) / 2

    def __str__(self) -> str:
        if self.low is None or self.high is None:
            return "unknown"
        return f"{self.low:g}" if self.low == self.high else f"{self.low:g} to {self.high:g}"


class Spelled(Strict):
    """A figure in a file with what is known about it."""

    is_: Any = Field(alias="is")
    standing: Standing | None = None
    when: Name | None = None
    state: Name | None = None
    source: Name | None = None


def bounds(value: Any) -> tuple[float | None, float | None]:
    """Read a number, "2 to 4" or "unknown" as (low, high).

    Raises PydanticCustomError when it is none of these, not finite, or a range that runs backwards.
    """
    if isinstance(value, str) and value.strip().lower() == "unknown":
        return None, None
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        return _sane(float(value)), _sane(float(value))
    match = _RANGE.fullmatch(value.strip()) if isinstance(value, str) else None
    if match:
        low, high = float(match[1]), float(match[2])
        if low <= high:
            return _sane(low), _sane(high)
        raise PydanticCustomError("range", "a range runs from low to high, like '2 to 4'")
    raise PydanticCustomError("figure", "a figure is a number, a range like '2 to 4', or unknown")


def _sane(value: float) -> float:
    if abs(value) > _MOST:
        raise PydanticCustomError("figure_large", "should be no larger than {most}", {"most": f"{_MOST:,.0f}"})
    return value


def read_figure(value: Any) -> Figure:
    """Read a figure as a file spells it: plain, or with what is known about it as {is: ..., standing: ...}.

    Raises PydanticCustomError or ValidationError when it is none.
    """
    if isinstance(value, Figure):
        return value
    if isinstance(value, dict):
        spelled = Spelled.model_validate(value)
        low, high = bounds(spelled.is_)
        rest = {key: getattr(spelled, key) for key in ("when", "state", "source")}
        standing: Standing | None = "unknown" if low is None else spelled.standing
        return Figure(low=low, high=high, standing=standing, **rest)
    low, high = bounds(float(value) if isinstance(value, WrittenFloat | WrittenInt) else value)
    return Figure(low=low, high=high, standing="unknown" if low is None else None)


def _level(figure: Figure) -> Figure:
    if max(abs(figure.low or 0.0), abs(figure.high or 0.0)) > _MOST_DB:
        raise PydanticCustomError("level", "should be between -{most} and {most} dB", {"most": f"{_MOST_DB:g}"})
    return figure


def _not_negative(figure: Figure) -> Figure:
    if figure.low is not None and figure.low < 0:
        raise PydanticCustomError("negative", "a time or distance cannot be below zero")
    return figure


AnyFigure = Annotated[Figure, BeforeValidator(read_figure), AfterValidator(_level)]
"""A level in dB, of either sign."""

Amount = Annotated[Figure, BeforeValidator(read_figure), AfterValidator(_not_negative)]
"""A figure that cannot be below zero: times, distances, counts."""


def figure(value: float, *, standing: Standing = "assumed", source: str | None = None) -> Figure:
    """Make a plain figure in code."""
    return Figure(low=float(value), high=float(value), standing=standing, source=source)


class Fact(Strict):
    """An answer in words about a desk, with its standing; `unknown` is an answer too."""

    answer: Name = Field(alias="is")
    standing: Standing | None = None
    source: Name | None = None


def _read_fact(value: Any) -> Any:
    if isinstance(value, dict):
        return {**value, "standing": "unknown"} if value.get("is") == "unknown" else value
    if isinstance(value, Fact):
        return value
    text = getattr(value, "written", value)
    return {"is": text, "standing": "unknown" if text == "unknown" else None}


AnyFact = Annotated[Fact, BeforeValidator(_read_fact)]

__all__ = ["Amount", "AnyFact", "AnyFigure", "Fact", "Figure", "Spelled", "Standing", "bounds", "figure", "read_figure"]
