"""Proofs made by hand, one for each thing that a report has to cope with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sidetrip.prove.proof import Change, Heard, LegProof, Level, Proof, Row, Stop, StopKind, Verdict

RATE_HZ = 48_000
WHEN = "2026-11-25T18:42:00+00:00"
NAMES = ("Bass", "Lamplighter", "Main", "Narrator", "Keys", "Violin", "Drums", "Chorus", "Choir", "Brass", "Pit", "Amb")
AWKWARD = (
    "<Vox> & \"Lead\" 'x'",
    "Second understudy of the narrator, left 7",
    "Хор и оркестр",
    "合唱團與鼓",
    "W" * 40,
)

Rows = tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question with what is found when all is well."""

    question: str
    level: Level
    measured: float | None
    expected: float | None
    error: float | None
    unit: str


_WELL = (
    _Asked("right return", "wiring", None, None, None, "dB"),
    _Asked("other loops", "wiring", None, None, None, ""),
    _Asked("delay", "transfer", 349.0, 349.0, 0.0004, "frames"),
    _Asked("polarity", "transfer", 1, 1, None, ""),
    _Asked("gain", "transfer", 0.0021, 0.0, 0.0004, "dB"),
    _Asked("dynamics", "transfer", 0.0, 0.0, 0.0004, "dB"),
    _Asked("response", "transfer", -0.02, 0.0, 0.001, "dB"),
    _Asked("distortion", "transfer", None, None, None, ""),
    _Asked("twice", "transfer", None, None, None, ""),
    _Asked("clock", "transfer", 0.0, 0.0, 0.0004, "ppm"),
    _Asked("dropouts", "transfer", 0.0, 0.0, None, ""),
    _Asked("idle noise", "transfer", -111.9, None, None, "dBFS"),
)
_OF_THE_SOUND = ("delay", "polarity", "gain", "dynamics", "response", "distortion", "twice", "clock", "dropouts")
_ELSEWHERE: Rows = (
    Row("endurance", "endurance", "cannot tell", None, None, None, "", "this take is 5 s long"),
    Row("escape", "escape", "cannot tell", None, None, None, "", "press the keys and pull the cable once"),
)


def good_leg(loop: str = "Bass", number: int = 1, side: str = "", unit: str = "laptop") -> LegProof:
    """Return a leg that passes all that one take can tell."""
    rows = tuple(Row(q.question, q.level, "pass", q.measured, q.expected, q.error, q.unit, "") for q in _WELL)
    stops = (
        Stop("strip", loop, None),
        Stop("send", f"aux out {number}", None),
        Stop("unit", f"{unit}, card out {24 + number}", None),
        Stop("return", f"aux in {number}", None),
        Stop("strip again", loop, None),
    )
    time = 349 / RATE_HZ
    rows = (*rows, *_ELSEWHERE)
    return LegProof(loop, side, unit, f"card out {number}", stops, rows, time, 8e-9, (time, time), loop)


def with_row(
    leg: LegProof, question: str, verdict: Verdict, because: str, at: StopKind = "unit", **more: float
) -> LegProof:
    """Return a leg with one row that says something else; the stop where it fails bends out."""
    rows = tuple(
        replace(row, verdict=verdict, because=because, at=at, **more) if row.question == question else row  # type: ignore[arg-type]
        for row in leg.rows
    )
    leg = replace(leg, rows=rows)
    if verdict != "fail":
        return leg
    return replace(leg, stops=tuple(replace(s, fault=because) if s.kind == at else s for s in leg.stops))


def blind(leg: LegProof, questions: Sequence[str], why: str) -> LegProof:
    """Return a leg that cannot tell some questions."""
    rows = tuple(
        Row(row.question, row.level, "cannot tell", None, None, None, "", why) if row.question in questions else row
        for row in leg.rows
    )
    no_time = {"delay_s": None, "delay_error_s": None} if "delay" in questions else {}
    return replace(leg, rows=rows, **no_time)  # type: ignore[arg-type]


def inverted(leg: LegProof) -> LegProof:
    """Return a leg that comes back inverted."""
    return with_row(leg, "polarity", "fail", "It comes back inverted", measured=-1)


def silent(leg: LegProof) -> LegProof:
    """Return a leg on which nothing comes back."""
    leg = blind(leg, _OF_THE_SOUND, "nothing comes back here")
    leg = blind(leg, ["other loops"], "its own send does not come back here")
    why = "Nothing above -127 dB of what was sent comes back here. A gate may be closed: raise the level or bypass it"
    return replace(with_row(leg, "right return", "fail", f"{why}; else follow the row", "send"), heard=None)


def swapped(one: LegProof, other: LegProof) -> tuple[LegProof, LegProof]:
    """Return two legs of which each carries the other's sound."""

    def wrong(leg: LegProof, whose: str) -> LegProof:
        leg = blind(leg, _OF_THE_SOUND, "something else comes back here")
        leg = blind(leg, ["other loops"], "its own send does not come back here")
        return replace(with_row(leg, "right return", "fail", f"{whose} comes back here", "return"), heard=whose)

    return wrong(one, other.loop), wrong(other, one.loop)


def quiet_look(leg: LegProof) -> LegProof:
    """Return a leg whose gain wants a look."""
    return with_row(leg, "gain", "look", "0.21 dB softer than sent", measured=-0.21)


def stereo(loop: str = "Main") -> tuple[LegProof, LegProof]:
    """Return both legs of a stereo loop, the right one with how it agrees with the left."""
    left, right = good_leg(loop, 1, "left"), good_leg(loop, 2, "right")
    agree = Row("sides", "transfer", "pass", 0.0, 0.0, 0.0005, "frames", "")
    level = Row("sides level", "transfer", "pass", 0.0, 0.0, 0.0005, "dB", "")
    return left, replace(right, rows=(*right.rows, agree, level))


def proof(*legs: LegProof, **other: object) -> Proof:
    """Return a proof of some legs; without any, of three that pass. other: fields that differ."""
    named = {
        "show": "The Tin Lantern",
        "take": "loops",
        "state": "all IN",
        "processors": "flat",
        "when": WHEN,
        "recording": ("somewhere/loops-1.wav",),
        "rate_hz": RATE_HZ,
        "buffers": (("laptop", 64), ("valve compressor", None)),
        "reference": "card out 7",
        "clock_kind": "one",
        "clock_ppm": 0.0,
        "clock_error_ppm": 0.0002,
        "start_s": 1.25,
        "tested_s": 5.46,
        "legs": legs or tuple(good_leg(name, number) for number, name in enumerate(NAMES[:3], 1)),
        "unproven": (),
        "heard": (Heard("stage 7", "aux in 1", "the return of Bass", 349 / RATE_HZ, 8e-9, -0.01, False),),
        **other,
    }
    return Proof(**named)  # type: ignore[arg-type]


def twelve() -> Proof:
    """Return a proof of twelve legs, most kinds of trouble among them."""
    legs = [good_leg(name, number) for number, name in enumerate(NAMES, 1)]
    legs[1] = inverted(legs[1])
    legs[3], legs[4] = swapped(legs[3], legs[4])
    legs[6] = silent(legs[6])
    legs[8] = quiet_look(legs[8])
    return proof(*legs)


def awkward() -> Proof:
    """Return a proof whose names hold markup, are long, are not Latin, or have no blank; all but one fail."""
    legs = [good_leg(name, number, unit=f"{name[:20]} box") for number, name in enumerate(AWKWARD, 1)]
    legs[0] = inverted(legs[0])
    legs[1], legs[2] = swapped(legs[1], legs[2])
    legs[3] = silent(legs[3])
    return proof(*legs, show=AWKWARD[0], take=AWKWARD[1], reference=AWKWARD[1])


def without_reference() -> Proof:
    """Return a proof of a take that has nothing to tell delays against."""
    legs = [blind(good_leg(name, n), ["delay"], "no reference in this take") for n, name in enumerate(NAMES[:4], 1)]
    why = "take 'loops' catches neither its return nor a copy behind its insert"
    return proof(*legs, reference=None, unproven=(("Keys", why), ("Violin", why)))


def changed() -> Proof:
    """Return a proof of a loop that opened otherwise each time, and of one that did not."""
    days = ("2026-11-23T18:00:00+00:00", "2026-11-24T18:00:00+00:00", WHEN)
    moved = Change("Bass", days, (1024 / RATE_HZ, 1280 / RATE_HZ, 768 / RATE_HZ))
    return replace(proof(), changes=(moved, Change("Main", days[1:], (349 / RATE_HZ, 349.04 / RATE_HZ))))
