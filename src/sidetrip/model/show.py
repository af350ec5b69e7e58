"""The show: the whole document, as its file says it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from sidetrip.model.base import Decimal, Length, Name, Names, Strict, Typed, Whole, YesNo
from sidetrip.model.desk import Hop, StripName
from sidetrip.model.figure import Amount, AnyFigure
from sidetrip.model.house import Accepted, Clock, Plugged, Scene
from sidetrip.model.outboard import Chain, Unit
from sidetrip.model.ports import PortRun
from sidetrip.model.side_chain import SideChain
from sidetrip.model.split import OtherDesk, Split
from sidetrip.model.take import Take

Width = Literal["mono", "stereo"]
Way = Literal["insert", "in-line", "send-and-strip", "output"]

LEGS: dict[str, int] = {"mono": 1, "stereo": 2}


class Known(Strict):
    """An answer to a question about the desk or the show: what was said, by whom and when."""

    answer: Name = Field(alias="is")
    by: Name
    date: Name


class DeskChoice(Strict):
    """Which desk, and what is known better about this one than about its type.

    known: answers to the questions for the house, by the question's id.
    """

    type: Typed
    hops: tuple[Hop, ...] = ()
    known: dict[Name, Known] = Field(default_factory=dict, description="answers, see `sidetrip questions`")


class Air(Strict):
    """The air that sound crosses. With humidity Cramer's formula is used, without it ISO 9613-1."""

    temperature_c: Decimal = Field(default=20.0, ge=-20, le=50)
    humidity_percent: Decimal | None = Field(default=None, ge=0, le=100)


class Hearing(Strict):
    """How something is heard through air: the distance in metres, the level in dB beside the others."""

    m: Amount | None = None
    db: AnyFigure | None = None


class Send(Strict):
    """A copy taken from a strip into a mix: level in dB, and the exact place where it is taken.

    tie: for a mix on another desk, the place at FOH from where a cable takes it there, in place of the split.
    """

    db: AnyFigure | None = None
    tap: Name | None = None
    tie: Name | None = None


def _sends(value: Any) -> Any:
    if isinstance(value, str | int | float):
        value = (value,)
    if isinstance(value, tuple):
        if any(isinstance(name, dict | tuple) for name in value):
            raise PydanticCustomError("sends", "a list holds names only; with levels write {Name: {db: -6}}")
        return {getattr(name, "written", name): {} for name in value}
    if isinstance(value, dict):
        return {name: {} if send is None else send for name, send in value.items()}
    return value


Sends = Annotated[dict[Name, Send], BeforeValidator(_sends)]


class Input(Strict):
    """One input strip. A pair of ports makes it stereo. Without `ch` it sits on its port's own return strip.

    inverted: its polarity switch is in. split, gain: where other desks get it otherwise than most, see other_desks.
    """

    name: Name
    port: PortRun
    ch: Whole | None = Field(default=None, ge=1)
    group: Name | None = None
    to: Names = ()
    hears: dict[Name, Hearing] = Field(default_factory=dict)
    device_ms: Amount | None = None
    delay_ms: Amount | None = None
    inverted: YesNo = False
    split: Split | None = None
    gain: Name | None = Field(default=None, description="`FOH`, the other desk's name, or `unknown`")


class Mix(Strict):
    """A group, aux mix, main or matrix. desk: the other desk that it is mixed on."""

    name: Name
    desk: Name | None = None
    kind: Literal["group", "aux", "main", "matrix"]
    width: Width
    to: Names = ()
    from_: Sends = Field(default_factory=dict, alias="from")
    for_: Name | None = Field(default=None, alias="for")
    listens: Literal["in-ear", "wedge"] | None = None
    m: Amount | None = None
    device_ms: Amount | None = None
    delay_ms: Amount | None = None


class Output(Strict):
    """Where a mix leaves the desk for a loudspeaker, an encoder or a recorder."""

    name: Name
    from_: Name = Field(alias="from")
    port: PortRun
    device_ms: Amount | None = None
    delay_ms: Amount | None = None
    crossover_hz: Decimal | None = Field(default=None, gt=0, le=24000)
    picture_delay_ms: Amount | None = None
    loudness_target_lufs: Decimal | None = None


class Listener(Strict):
    """A place in the room; what is heard there are outputs, and sources through the air."""

    name: Name
    hears: dict[Name, Hearing] = Field(min_length=1)


class PinnedPorts(Strict):
    """Ports that a request insists on."""

    send: PortRun
    returns: PortRun = Field(alias="return")


def _want(value: Any) -> Any:
    if value == "must" or (isinstance(value, int) and 1 <= value <= 9):
        return value if isinstance(value, str) else int(value)
    raise PydanticCustomError("want", "should be must, or 1 to 9 with 9 wanted most")


class Request(Strict):
    """A strip that wants to go out. want: must, or 1 to 9, 9 wanted most.

    back_on: for the way send-and-strip the input strip on which it comes back. one_press: only if one press of one key
    takes it OUT. substitute: what on the desk does the work of the chain's protection while the loop is OUT. desk: the
    desk of the strip; loops go out from the show's own desk only, so any other is refused.
    """

    strip: Name
    desk: Name | None = None
    want: Annotated[int | str, BeforeValidator(_want), Field(description="`must`, or 1 to 9")]
    chain: Name | None = None
    unit: Name | None = None
    way: Way = "insert"
    ports: PinnedPorts | None = None
    back_on: Name | None = None
    one_press: YesNo = False
    substitute: Name | None = None


class Keep(Strict):
    """Ports that must stay as they are, and what for."""

    ports: PortRun
    for_: Name = Field(alias="for")


class Cue(Strict):
    """From this cue on, whose loops are IN and whose are OUT; who is not named stays as before."""

    from_: Decimal = Field(alias="from", ge=0)
    requests: dict[Name, Literal["in", "out"]] = Field(min_length=1)


class Limits(Strict):
    """What ears accept: the whole way from source to ear, and what loops add. And how many overruns a show may have."""

    ear_total_ms: Decimal | None = Field(default=None, gt=0)
    ear_added_ms: Decimal | None = Field(default=None, gt=0)
    overruns_per_show: Decimal | None = Field(default=None, gt=0)


class PatchRules(Strict):
    """How the patch may be done. outputs: muted meanwhile, or left open where they must not fall silent."""

    outputs: Literal["muted", "open"] = "muted"


class Show(Strict):
    """One show on one desk, with the other desks that share its microphones."""

    version: Whole = Field(alias="sidetrip")
    show: Name
    sample_rate: Whole = Field(ge=8000, le=768000)
    desk: DeskChoice
    other_desks: tuple[OtherDesk, ...] = ()
    length: Length | None = Field(default=None, description="like `2h30m`")
    clock: Clock | None = None
    air: Air = Air()
    units: tuple[Unit, ...] = ()
    inputs: tuple[Input, ...] = ()
    mixes: tuple[Mix, ...] = ()
    outputs: tuple[Output, ...] = ()
    listeners: tuple[Listener, ...] = ()
    requests: tuple[Request, ...] = ()
    chains: dict[Name, Chain] = Field(default_factory=dict)
    keep: tuple[Keep, ...] = ()
    never: Names = ()
    bypass_groups: dict[Name, Names] = Field(default_factory=dict)
    siblings: dict[Name, Names] = Field(
        default_factory=dict, description="strips that hear one source; one of them out without the others combs"
    )
    plays_together: dict[Name, Names] = Field(
        default_factory=dict, description="strips that play together and should be heard within 3 ms"
    )
    side_chains: tuple[SideChain, ...] = ()
    recorded_together: dict[Name, Names] = Field(
        default_factory=dict, description="outputs whose recordings are mixed with each other afterwards"
    )
    replays: dict[Name, Name] = Field(
        default_factory=dict, description="by input the output whose recording is played into it"
    )
    limits: Limits = Limits()
    trade: Literal["strict", "sum"] | None = None
    plugged: tuple[Plugged, ...] = ()
    accept: tuple[Accepted, ...] = ()
    scenes: tuple[Scene, ...] = ()
    patching: PatchRules = PatchRules()
    cues: tuple[Cue, ...] = ()
    recovery: dict[str, Any] | None = None
    probe: dict[str, Any] | None = None
    takes: tuple[Take, ...] = ()

    def strips(self) -> tuple[str, ...]:
        """Return the names of all inputs and mixes, in the order of the file."""
        return (*(item.name for item in self.inputs), *(mix.name for mix in self.mixes))

    def sources(self) -> tuple[str, ...]:
        """Return the names of what makes sound: what microphones hear, and inputs that hear nothing else."""
        heard = {source for item in self.inputs for source in item.hears}
        return tuple(sorted(heard | {item.name for item in self.inputs if not item.hears}))

    def input(self, name: str) -> Input | None:
        """Return the input of this name."""
        return next((item for item in self.inputs if item.name == name), None)

    def mix(self, name: str) -> Mix | None:
        """Return the mix of this name."""
        return next((item for item in self.mixes if item.name == name), None)

    def desk_of(self, mix: str) -> OtherDesk | None:
        """Return the other desk that this mix is on, None for what is on the show's own desk."""
        own = self.mix(mix)
        return None if own is None or own.desk is None else self.other_desk(own.desk)

    def other_desk(self, name: str) -> OtherDesk | None:
        """Return the other desk of this name."""
        return next((other for other in self.other_desks if other.name == name), None)

    def split_of(self, item: Input, other: OtherDesk) -> Split:
        """Return how an input comes to another desk."""
        return item.split or other.split

    def gain_of(self, item: Input, other: OtherDesk) -> str:
        """Return whose the gain of an input's shared preamp is: FOH, the other desk's name, or unknown."""
        return item.gain or other.gain

    def fed(self, mix: str) -> dict[str, Send]:
        """Return what goes into a mix, by strip: what it takes, then what inputs and mixes give it by themselves."""
        own = self.mix(mix)
        found = {} if own is None else dict(own.from_)
        for item in self.inputs:
            if mix in item.to or mix == item.group:
                found.setdefault(item.name, Send())
        for other in self.mixes:
            if mix in other.to:
                found.setdefault(other.name, Send())
        return dict(sorted(found.items()))

    def output(self, name: str) -> Output | None:
        """Return the output of this name."""
        return next((item for item in self.outputs if item.name == name), None)

    def unit(self, name: str) -> Unit | None:
        """Return the unit of this name."""
        return next((item for item in self.units if item.name == name), None)

    def request(self, strip: str) -> Request | None:
        """Return the request of this strip."""
        return next((item for item in self.requests if item.strip == strip), None)

    def take(self, name: str) -> Take | None:
        """Return the take of this name."""
        return next((item for item in self.takes if item.name == name), None)

    def legs(self, strip: str) -> int:
        """Return how many legs a strip or output has: 1 mono, 2 stereo. Raises KeyError for an unknown name."""
        if (item := self.input(strip)) is not None:
            return len(item.port)
        if (mix := self.mix(strip)) is not None:
            return LEGS[mix.width]
        if (output := self.output(strip)) is not None:
            return len(output.port)
        raise KeyError(strip)

    def kind(self, strip: str) -> StripName:
        """Return the kind of a strip. Raises KeyError for an unknown name."""
        if (item := self.input(strip)) is not None:
            return "channel" if item.ch is not None else "return"
        if (mix := self.mix(strip)) is not None:
            return mix.kind
        raise KeyError(strip)


KEPT_KEYS = ("trade", "recovery", "probe")
"""Top-level keys that are read and kept, but that nothing computes yet."""

KEPT_FIELDS: dict[str, tuple[str, ...]] = {"outputs": ("loudness_target_lufs",), "units": ("level",)}
"""The same inside lists."""
