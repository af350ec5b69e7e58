"""What the readers of a WAV file say: what was put right, and why a file cannot be read."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Repair:
    """One thing that was wrong with a file and what was done about it: what was found, the values, what to do."""

    what: str
    values: str
    remedy: str


class NotAWave(ValueError):
    """No sound can be had from the file: what was found, the values, what to do."""

    def __init__(self, what: str, values: str, remedy: str) -> None:
        self.what, self.values, self.remedy = what, values, remedy
        super().__init__(f"{what} ({values}). {remedy}.")


class OtherEncoding(NotAWave):
    """A WAV file whose sound is stored in a way that is not read here; a library may."""


def shown_s(frames: int, rate_hz: int) -> str:
    """Return a length as "5.75 s", to the millisecond."""
    seconds, rest = divmod(frames * 1000 // rate_hz, 1000)
    return f"{seconds}.{rest:03}".rstrip("0").rstrip(".") + " s"


def shown_id(name: bytes) -> str:
    """Return the id of a chunk as text."""
    return f"`{name.decode('latin-1')}`"
