"""What sits outside the desk: units, and the chains of processors that strips get there."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from sidetrip.model.base import Decimal, Name, Strict, Whole
from sidetrip.model.figure import Amount, Figure, bounds
from sidetrip.model.ports import PortRun


class RoundTrip(Strict):
    """One measured round trip with an empty chain: from the desk's send port to its return port, in frames."""

    buffer: Whole = Field(ge=1, le=65536)
    rate: Whole = Field(ge=8000, le=768000)
    round_trip_frames: Amount
    when: Name | None = None
    state: Name | None = None


def _buffer(value: Any) -> Any:
    if value == "auto" or (isinstance(value, int) and 1 <= value <= 65536):
        return value if isinstance(value, str) else int(value)
    raise PydanticCustomError("buffer", "should be auto, or frames from 1 to 65536")


Buffer = Annotated[int | str, BeforeValidator(_buffer)]


class Unit(Strict):
    """A computer on a card, or a hardware box between two jacks."""

    name: Name
    kind: Literal["computer", "hardware"]
    connects: Name | None = None
    out: PortRun | None = None
    back: PortRun | None = None
    aligns: Literal["all", "per chain", "unknown"] = "unknown"
    buffer: Buffer | None = None
    measured: tuple[RoundTrip, ...] = ()
    delay_ms: Amount | None = None
    unpowered: Literal["passes", "silent", "unknown"] = "unknown"
    load_limit: Decimal | None = Field(default=None, gt=0, le=1)
    level: Name | None = None


_COMMON = {"delay_frames", "load", "name"}
_LOOKAHEAD = {"lookahead_frames", "lookahead_ms"}

PARAMETERS: dict[str, frozenset[str]] = {
    kind: frozenset(_COMMON | parameters)
    for kind, parameters in {
        "eq": {"bands", "low_cut_hz", "high_cut_hz"},
        "compressor": {
            "threshold_db",
            "ratio",
            "knee_db",
            "attack_ms",
            "release_ms",
            "makeup_db",
            "mix",
            *_LOOKAHEAD,
        },
        "limiter": {"threshold_db", "ceiling_db", "release_ms", *_LOOKAHEAD},
        "gate": {"threshold_db", "range_db", "attack_ms", "hold_ms", "release_ms", *_LOOKAHEAD},
        "de-esser": {"threshold_db", "frequency_hz", "range_db", *_LOOKAHEAD},
        "saturator": {"drive_db", "mix"},
        "de-noiser": {"range_db"},
        "pitch corrector": {"key"},
        "black box": set[str](),
    }.items()
}
"""The kinds of processor and what each may say of itself."""

_SETTLED = frozenset({"eq", "compressor", "limiter", "gate", "de-esser", "saturator"})
"""Kinds that add nothing but their look-ahead when they do not declare a delay."""


class Processor(Strict):
    """One processor. `delay` declares its delay in frames at the show's rate, look-ahead in ms kept apart."""

    kind: Name
    name: Name
    delay_frames: Figure
    lookahead_ms: Figure
    load: float
    settings: dict[str, Any]


def _number(value: Any, key: str) -> Figure:
    low, high = bounds(value)
    if low is not None and low < 0:
        raise PydanticCustomError("negative", "{key} cannot be below zero", {"key": key})
    standing: Literal["assumed", "unknown"] = "unknown" if low is None else "assumed"
    return Figure(low=low, high=high, standing=standing)


def _processor(value: Any) -> Any:
    if not isinstance(value, dict) or len(value) != 1:
        raise PydanticCustomError("processor", "a processor is written like {{limiter: {{lookahead_frames: 64}}}}")
    ((kind, settings),) = value.items()
    if kind not in PARAMETERS:
        raise PydanticCustomError("processor_kind", "'{kind}' is no kind of processor", {"kind": str(kind)})
    if settings is None or settings is ...:
        settings = {}
    if not isinstance(settings, dict):
        raise PydanticCustomError("processor", "the settings of a processor are keys and values")
    for key in settings:
        if key not in PARAMETERS[kind]:
            raise PydanticCustomError(
                "processor_key", "'{key}' is no setting of '{kind}'", {"key": str(key), "kind": str(kind)}
            )
    declared = settings.get("delay_frames", settings.get("lookahead_frames"))
    if declared is None:
        declared = 0 if kind in _SETTLED else "unknown"
    load = settings.get("load", 0.0)
    if isinstance(load, bool) or not isinstance(load, int | float) or not 0 <= load <= 1:
        raise PydanticCustomError("load", "load is a share of the unit from 0 to 1")
    return Processor(
        kind=kind,
        name=str(settings.get("name", kind)),
        delay_frames=_number(declared, "delay_frames"),
        lookahead_ms=_number(settings.get("lookahead_ms", 0), "lookahead_ms"),
        load=float(load),
        settings={key: item for key, item in settings.items() if key not in ("delay_frames", "load", "name")},
    )


Chain = tuple[Annotated[Processor, BeforeValidator(_processor)], ...]
