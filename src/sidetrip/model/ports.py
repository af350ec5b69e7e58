"""Ports as people write them: "stage 9-10", "aux in 7", counted from 1."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

_PORTS = re.compile(r"(\D*?[a-z])\s+([0-9]{1,3})\s*(?:(?:-|–|&|/|\bto\b)\s*([0-9]{1,3}))?", re.IGNORECASE)
_LONGEST = 80  # the pattern looks back and forth over runs of spaces, which no port name has


@dataclass(frozen=True, slots=True, order=True)
class Port:
    """One port: its group and its number from 1."""

    group: str
    number: int

    def __str__(self) -> str:
        return f"{self.group} {self.number}"


@dataclass(frozen=True, slots=True, order=True)
class Ports:
    """A run of neighbouring ports of one group, first to last, counted from 1."""

    group: str
    first: int
    last: int

    def __str__(self) -> str:
        return f"{self.group} {self.first}" if self.first == self.last else f"{self.group} {self.first}-{self.last}"

    def __len__(self) -> int:
        return self.last - self.first + 1

    @property
    def each(self) -> tuple[Port, ...]:
        """The ports one by one."""
        return tuple(Port(self.group, number) for number in range(self.first, self.last + 1))

    @property
    def odd_even(self) -> bool:
        """Tell whether this is one odd-even pair."""
        return len(self) == 2 and self.first % 2 == 1

    def overlaps(self, other: Ports) -> bool:
        """Tell whether any port is in both runs."""
        return self.group == other.group and self.first <= other.last and other.first <= self.last


def parse_ports(text: str) -> Ports:
    """Read "stage 9-10" or "aux in 7".

    Raises ValueError when the text is no run of ports or runs backwards.
    """
    words = text.strip()
    match = _PORTS.fullmatch(words) if len(words) <= _LONGEST else None
    if not match:
        raise ValueError("ports are written like 'aux in 7-8' or 'stage 1'")
    first = int(match[2])
    last = int(match[3] or first)
    if first < 1 or last < first:
        raise ValueError("ports count from 1 and run upwards, like 'aux in 7-8'")
    return Ports(" ".join(match[1].lower().split()), first, last)


def _read(value: Any) -> Any:
    if isinstance(value, Ports):
        return value
    if not isinstance(value, str):
        raise PydanticCustomError("ports", "ports are written like 'aux in 7-8' or 'stage 1'")
    try:
        return parse_ports(value)
    except ValueError as error:
        raise PydanticCustomError("ports", "{reason}", {"reason": str(error)}) from error


PortRun = Annotated[Ports, BeforeValidator(_read)]
