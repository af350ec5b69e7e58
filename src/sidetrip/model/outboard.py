"""What sits outside the desk: units, and the chains of processors that strips get there."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError
from pydantic_core import PydanticCustomError

from sidetrip.model.base import Decimal, Name, Strict, Whole, YesNo
from sidetrip.model.figure import Amount, Figure, read_figure
from sidetrip.model.ports import PortRun


class RoundTrip(Strict):
    """One measured round trip with an empty chain, in frames: from the socket's way out to its way back.

    The desk's own hops before and after (insert to card, card to insert) are not in it.
    """

    buffer: Whole = Field(ge=1, le=65536)
    rate: Whole = Field(ge=8000, le=768000)
    round_trip_frames: Amount
    when: Name | None = None
    state: Name | None = None


class Reported(Strict):
    """What a driver says of itself, in frames there and back. A claim: kept apart from what was measured."""

    buffer: Whole = Field(ge=1, le=65536)
    rate: Whole = Field(ge=8000, le=768000)
    frames: Amount


def _buffer(value: Any) -> Any:
    if value == "auto" or (isinstance(value, int) and 1 <= value <= 65536):
        return value if isinstance(value, str) else int(value)
    raise PydanticCustomError("buffer", "should be auto, or frames from 1 to 65536")


Buffer = Annotated[int | str, BeforeValidator(_buffer)]


Switch = Literal["by strip", "by block", "by box"]


class Unit(Strict):
    """A computer on a card, or a hardware box between two jacks. system_sound: where a computer's own alerts sound.

    stands_in_for: the unit whose loops this one takes over when it dies. switch: how somebody takes them over (each
    strip's insert to a place of its own; a block to its other source; a box in the returns), `by strip` if left out.
    switch_seconds: how long all of that takes, where somebody has timed it.
    """

    name: Name
    kind: Literal["computer", "hardware"]
    connects: Name | None = None
    out: PortRun | None = None
    back: PortRun | None = None
    aligns: Literal["all", "per chain", "unknown"] = "unknown"
    buffer: Buffer | None = Field(default=None, description="`auto`, or frames")
    measured: tuple[RoundTrip, ...] = ()
    reported: tuple[Reported, ...] = ()
    delay_ms: Amount | None = None
    unpowered: Literal["passes", "silent", "unknown"] = "unknown"
    load_limit: Decimal | None = Field(default=None, gt=0, le=1)
    level: Name | None = None
    system_sound: Literal["card", "elsewhere", "off", "unknown"] = "unknown"
    tail: YesNo = Field(default=False, description="`yes` where it gives back a tail only, as a reverb set all wet")
    stands_in_for: Name | None = Field(default=None, description="the unit whose loops it takes over")
    switch: Switch | None = None
    switch_seconds: Decimal | None = Field(default=None, gt=0, le=3600)


_COMMON = {"delay_frames", "load", "name", "protects"}
_LOOKAHEAD = {"lookahead_frames", "lookahead_ms"}

PARAMETERS: dict[str, frozenset[str]] = {
    kind: frozenset(_COMMON | {"tail_ms"} | parameters)
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
            "dry",
            *_LOOKAHEAD,
        },
        "limiter": {"threshold_db", "ceiling_db", "release_ms", *_LOOKAHEAD},
        "gate": {"threshold_db", "range_db", "attack_ms", "hold_ms", "release_ms", *_LOOKAHEAD},
        "de-esser": {"threshold_db", "frequency_hz", "range_db", *_LOOKAHEAD},
        "saturator": {"drive_db", "mix", "dry"},
        "de-noiser": {"range_db"},
        "pitch corrector": {"key"},
        "reverb": {"mix", "predelay_ms", "decay_s"},
        "black box": set[str](),
    }.items()
}
"""The kinds of processor and what each may say of itself."""

_SETTLED = frozenset({"eq", "compressor", "limiter", "gate", "de-esser", "saturator"})
"""Kinds that add nothing but their look-ahead when they do not declare a delay."""


class Processor(Strict):
    """One processor. `delay` declares its delay in frames at the show's rate, look-ahead in ms kept apart.

    protects: what would be hurt, or howl, without it.
    """

    kind: Name
    name: Name
    delay_frames: Figure
    lookahead_ms: Figure
    load: float
    settings: dict[str, Any]
    protects: Literal["feedback", "ears", "loudspeakers"] | None = None

    @property
    def mix(self) -> float:
        """The share of its own sound beside the dry one, from 0 to 1; 1 where the show does not say."""
        share = self.settings.get("mix", 1.0)
        return float(share) if isinstance(share, int | float) else 1.0

    @property
    def only_tail(self) -> bool:
        """Tell whether it gives back a tail without the sound itself."""
        return self.kind == "reverb" and self.mix >= 1


_PROTECTS = ("feedback", "ears", "loudspeakers")

_DRY = ("aligned", "early")

_SAID_TWICE = (("delay_frames", "lookahead_frames"), ("lookahead_frames", "lookahead_ms"))
"""Settings that would declare one delay two ways."""


def _number(kind: str, settings: dict[str, Any], key: str, otherwise: float | str) -> Figure:
    try:
        number = read_figure(settings.get(key, otherwise))
    except PydanticCustomError as error:
        raise _wrong(kind, key, error.message()) from error
    except ValidationError as error:
        raise _wrong(kind, key, "a figure in braces is written like {is: 64, standing: proven}") from error
    if number.low is not None and number.low < 0:
        raise _wrong(kind, key, "cannot be below zero")
    return number if number.standing else number.model_copy(update={"standing": "assumed"})


def _wrong(kind: str, key: str, why: str) -> PydanticCustomError:
    return PydanticCustomError("processor_value", "{why}", {"kind": kind, "key": key, "why": why})


def _not_a_processor(why: str) -> PydanticCustomError:
    return PydanticCustomError("processor", "{why}", {"why": why})


def _processor(value: Any) -> Any:
    if not isinstance(value, dict) or len(value) != 1:
        raise _not_a_processor("a processor is one kind with its settings, like {limiter: {lookahead_frames: 64}}")
    ((kind, settings),) = value.items()
    if kind not in PARAMETERS:
        raise PydanticCustomError("processor_kind", "'{kind}' is no kind of processor", {"kind": str(kind)})
    if settings is None:
        settings = {}
    if not isinstance(settings, dict):
        why = "should be keys and values, like {lookahead_frames: 64}"
        raise PydanticCustomError("processor_settings", "{why}", {"kind": kind, "why": why})
    for key in settings:
        if key not in PARAMETERS[kind]:
            raise PydanticCustomError(
                "processor_key", "'{key}' is no setting of '{kind}'", {"key": str(key), "kind": str(kind)}
            )
    settings = {key: item for key, item in settings.items() if item is not None}
    for first, second in _SAID_TWICE:
        if first in settings and second in settings:
            raise _wrong(kind, second, f"says again what '{first}' says: keep one of the two")
    load = settings.get("load", 0.0)
    if isinstance(load, bool) or not isinstance(load, int | float) or not 0 <= load <= 1:
        raise _wrong(kind, "load", "should be a share of the unit from 0 to 1")
    name = settings.get("name", kind)
    if not isinstance(name, str | int | float):
        raise _wrong(kind, "name", "should be text")
    protects = settings.get("protects")
    if protects is not None and protects not in _PROTECTS:
        raise _wrong(kind, "protects", f"should be one of {', '.join(_PROTECTS)}")
    if settings.get("dry") not in (None, *_DRY):
        raise _wrong(kind, "dry", f"should be one of {', '.join(_DRY)}: does its dry side wait for the wet one")
    share = settings.get("mix", 1)
    if isinstance(share, bool) or not isinstance(share, int | float) or not 0 <= share <= 1:
        raise _wrong(kind, "mix", "should be a share from 0 to 1, 1 for all wet")
    declared = "delay_frames" if "delay_frames" in settings else "lookahead_frames"
    return Processor(
        kind=kind,
        name=getattr(name, "written", str(name)),
        delay_frames=_number(kind, settings, declared, 0 if kind in _SETTLED else "unknown"),
        lookahead_ms=_number(kind, settings, "lookahead_ms", 0),
        load=float(load),
        settings={key: item for key, item in settings.items() if key not in _COMMON},
        protects=protects,
    )


Chain = tuple[Annotated[Processor, BeforeValidator(_processor)], ...]
