"""The advice as JSON: what `sidetrip hold --json` prints; see docs/reference/hold.schema.json.

Strict: no NaN, no Infinity; what is unknown is null. Times are in seconds.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from functools import cache
from typing import Any, Literal

from pydantic import ConfigDict, TypeAdapter, with_config
from typing_extensions import TypedDict

from sidetrip.application.holding import Held
from sidetrip.findings import Finding
from sidetrip.hold.accept import Objection
from sidetrip.hold.advice import Candidate, UnitAdvice
from sidetrip.hold.evidence import Tally
from sidetrip.hold.overruns import Overruns
from sidetrip.model.figure import Standing
from sidetrip.reports.finding_json import finding_doc
from sidetrip.reports.hold_words import headline, sureness, surer
from sidetrip.reports.plan_docs import FindingDoc

FORMAT = 1

_STRICT = ConfigDict(extra="forbid")


@with_config(_STRICT)
class ObjectionDoc(TypedDict):
    """A limit that a buffer is over; seconds null where the time is unknown."""

    kind: Literal["ears", "picture"]
    of: str
    what: str
    seconds: float | None
    limit_s: float
    key: str


@with_config(_STRICT)
class TailDoc(TypedDict):
    """A generalised Pareto tail over a threshold; fits: the share of such tails that fit worse."""

    peaks: int
    shape: float
    scale_s: float
    fits: float


@with_config(_STRICT)
class OverrunsDoc(TypedDict):
    """What evidence says of a buffer; per show, at 95 %. bound: the least that can be claimed, null for nothing."""

    of_buffer: int
    of_rate_hz: int
    carried: bool
    logged_s: float
    used_s: float
    seen: int
    blocks: int
    largest_s: float
    how: Literal["counted", "fitted", "refused"]
    bound_per_show: float | None
    counted_per_show: float | None
    rarest_per_show: float | None
    because: str
    warm_up_s: float
    clock_s: float | None
    tail: TailDoc | None


@with_config(_STRICT)
class CandidateDoc(TypedDict):
    """One buffer; round trip null where unknown; load: the share of a block that steady work takes."""

    buffer: int
    round_trip_low_s: float | None
    round_trip_high_s: float | None
    round_trip_from: Literal["measured", "line", "range", "other rate", "nothing"]
    load: float | None
    accepted: bool
    objections: list[ObjectionDoc]
    holds: Standing
    fails: bool
    overruns: OverrunsDoc | None


@with_config(_STRICT)
class FitDoc(TypedDict):
    """What was measured at one rate, frames by buffer, and a + k buffers through it; null with fewer than three."""

    rate_hz: int
    frames: dict[str, list[float]]
    a_frames: float | None
    k: float | None
    residual_frames: float | None
    spread_frames: float


@with_config(_STRICT)
class ClaimDoc(TypedDict):
    """What the driver reports; impossible: why it cannot be, or empty."""

    buffer: int
    rate_hz: int
    frames: float
    impossible: str


@with_config(_STRICT)
class TallyDoc(TypedDict):
    """Hours of one frozen configuration."""

    fingerprint: str
    system: str
    driver: str
    session: str
    buffer: int
    rate_hz: int
    logs: int
    blocks: int
    logged_s: float


@with_config(_STRICT)
class ChainDoc(TypedDict):
    """What a chain declares, each time it is used."""

    chain: str
    load: float
    loops: list[str]


@with_config(_STRICT)
class UnitDoc(TypedDict):
    """One computer at one rate. window: smallest that holds, largest that is accepted; null where there is none."""

    unit: str
    rate_hz: int
    set_in_show: int | None
    advised: int | None
    smallest_that_holds: int | None
    largest_accepted: int | None
    empty: bool
    give_up: list[ObjectionDoc]
    allowed_per_show: float
    show_s: float
    hours_to_go: float | None
    words: list[str]
    candidates: list[CandidateDoc]
    round_trips: list[FitDoc]
    reported: list[ClaimDoc]
    evidence: list[TallyDoc]
    chains: list[ChainDoc]


@with_config(_STRICT)
class HoldFile(TypedDict):
    """The whole answer; show null when nothing could be advised. elsewhere: other rates that something is known of."""

    sidetrip_hold: int
    show: str | None
    units: list[UnitDoc]
    elsewhere: list[UnitDoc]
    findings: list[FindingDoc]


def hold_text(held: Held | None, findings: Sequence[Finding]) -> str:
    """Return the advice with its findings as JSON text."""
    document = HoldFile(
        sidetrip_hold=FORMAT,
        show=None if held is None else held.planned.plan.show.show,
        units=[] if held is None else [_unit(own) for own in held.advice.units],
        elsewhere=[] if held is None else [_unit(own) for own in held.advice.elsewhere],
        findings=[finding_doc(finding) for finding in findings],
    )
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)


@cache
def hold_schema() -> dict[str, Any]:
    """Return the JSON schema of what `hold_text` writes."""
    return TypeAdapter(HoldFile).json_schema()


def _unit(own: UnitAdvice) -> UnitDoc:
    return UnitDoc(
        unit=own.unit,
        rate_hz=own.rate,
        set_in_show=own.fixed,
        advised=own.advised,
        smallest_that_holds=own.smallest,
        largest_accepted=own.largest,
        empty=own.empty,
        give_up=[_objection(one) for one in own.give_up],
        allowed_per_show=own.allowed,
        show_s=own.show_s,
        hours_to_go=own.hours,
        words=[words for words in (headline(own), sureness(own), surer(own)) if words],
        candidates=[_candidate(one) for one in own.candidates],
        round_trips=[
            FitDoc(
                rate_hz=fit.rate,
                frames={str(one.buffer): list(one.frames) for one in fit.opened},
                a_frames=fit.a_frames,
                k=fit.k,
                residual_frames=fit.residual_frames,
                spread_frames=fit.spread_frames,
            )
            for fit in own.fits
        ],
        reported=[
            ClaimDoc(buffer=one.buffer, rate_hz=one.rate, frames=one.frames, impossible=one.impossible)
            for one in own.claims
        ],
        evidence=[_tally(one) for one in own.tallies],
        chains=[ChainDoc(chain=one.chain, load=one.share, loops=list(one.loops)) for one in own.loads],
    )


def _candidate(one: Candidate) -> CandidateDoc:
    return CandidateDoc(
        buffer=one.buffer,
        round_trip_low_s=one.trip.low_s,
        round_trip_high_s=one.trip.high_s,
        round_trip_from=one.trip.basis,
        load=one.share,
        accepted=one.accepted,
        objections=[_objection(each) for each in one.objections],
        holds=one.holds,
        fails=one.fails,
        overruns=None if one.overruns is None else _overruns(one.overruns),
    )


def _overruns(one: Overruns) -> OverrunsDoc:
    tail = one.tail
    return OverrunsDoc(
        of_buffer=one.of[0],
        of_rate_hz=one.of[1],
        carried=one.carried,
        logged_s=one.logged_s,
        used_s=one.used_s,
        seen=one.seen,
        blocks=one.blocks,
        largest_s=one.largest_s,
        how=one.how,
        bound_per_show=_finite(one.bound),
        counted_per_show=_finite(one.counted_per_show) if one.stands else None,
        rarest_per_show=_finite(one.rarest_per_show),
        because=one.because,
        warm_up_s=one.warm_up_s,
        clock_s=one.clock_s,
        tail=None
        if tail is None
        else TailDoc(peaks=tail.peaks, shape=tail.shape, scale_s=tail.scale_s, fits=tail.fits),
    )


def _objection(one: Objection) -> ObjectionDoc:
    return ObjectionDoc(
        kind=one.kind, of=one.of, what=one.what, seconds=_finite(one.seconds), limit_s=one.limit_s, key=one.key
    )


def _tally(one: Tally) -> TallyDoc:
    own = one.configuration
    return TallyDoc(
        fingerprint=own.fingerprint,
        system=own.system,
        driver=own.driver,
        session=own.session,
        buffer=own.buffer,
        rate_hz=own.rate,
        logs=len(one.logs),
        blocks=one.blocks,
        logged_s=one.logged_s,
    )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


__all__ = ["HoldFile", "hold_schema", "hold_text"]
