"""A take: what is played into the desk, what is recorded, and what went round no loop."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from sidetrip.model.base import Name, Strict
from sidetrip.model.ports import PortRun, Ports

TakeState = Literal["all IN", "all OUT"]
Processors = Literal["flat", "as used"]


class Caught(Strict):
    """What a desk output port carries to the recorder: one of the three.

    dry: a plain copy of input ports, round no loop. return: what comes back from a strip's (or output's) loop, as it
    arrives at the desk. strip: a copy of a strip at a tap, the end of the strip if left out.
    """

    port: PortRun
    dry: PortRun | None = None
    return_: Name | None = Field(default=None, alias="return")
    strip: Name | None = None
    tap: Name | None = None

    @model_validator(mode="after")
    def _one_of_three(self) -> Self:
        said = sum(item is not None for item in (self.dry, self.return_, self.strip))
        if said != 1 or (self.tap is not None and self.strip is None):
            raise PydanticCustomError(
                "caught", "says one of dry: (ports), return: (a strip) or strip: (a strip, with a tap if not its end)"
            )
        return self

    @property
    def words(self) -> str:
        """Say what it carries."""
        if self.dry is not None:
            return f"{self.dry} dry"
        return f"return of {self.return_}" if self.return_ is not None else f"{self.strip}, {self.tap or 'its end'}"


def _entries(value: Any) -> Any:
    return value if isinstance(value, tuple | list) else (value,)


class Take(Strict):
    """One recording of the test signal.

    enter: desk input ports, in the order of the test signal's channels. catch: what is recorded. recorder: the ports
    whose tracks the recording holds, the first on track 1; without it the tracks follow `catch`. reference: the
    caught port that went round no loop. processors: flat (all bypassed in the unit) or as used.
    """

    name: Name
    enter: Annotated[tuple[PortRun, ...], BeforeValidator(_entries), Field(min_length=1)]
    catch: tuple[Caught, ...] = Field(min_length=1)
    recorder: PortRun | None = None
    reference: PortRun | None = None
    state: TakeState = "all IN"
    processors: Processors = "flat"

    @property
    def tracks(self) -> tuple[tuple[int, Ports, Caught, int], ...]:
        """Each caught port as (track from 0, port, what it carries, which leg of it from 0)."""
        out: list[tuple[int, Ports, Caught, int]] = []
        for caught in self.catch:
            for leg, port in enumerate(caught.port.each):
                track = port.number - self.recorder.first if self.recorder is not None else len(out)
                out.append((track, Ports(port.group, port.number, port.number), caught, leg))
        return tuple(out)


__all__ = ["Caught", "Processors", "Take", "TakeState"]
