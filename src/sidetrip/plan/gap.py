"""A spread in one state, and the words for it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sidetrip.plan.crossover import loss_db, off_a_cycle
from sidetrip.units import frames_from_seconds, ms_from_seconds

MeetingClass = Literal["electrical", "two microphones", "two loudspeakers", "main and sub", "picture"]
Verdict = Literal["together", "apart", "alone", "cannot tell"]

FUSED_FROM_S = 0.005
WINDOW_S = 0.170
"""From 45 ms early to 125 ms late (ITU-R BT.1359-1): what one delay can bring within."""

MOVED_DB = 6.0
"""How far a send may move in a show: levels are judged as written, and that far up and down."""

_NOTHING_LEFT_DB = -30.5
_CANCELS_S = 1e-4  # below, two ways of opposite polarity leave little under 1 kHz
FUSED_S = 0.030
LOUDSPEAKERS_S = 0.001


@dataclass(frozen=True, slots=True)
class Gap:
    """The spread in one state, in seconds, later arrival positive; `alone` where fewer than two arrive."""

    low: float
    high: float
    verdict: Verdict

    @property
    def typical(self) -> float:
        """The middle of the range; not finite where unknown."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class Ways:
    """What the words need of two arrivals, the earlier one first.

    one, two: the loudspeakers at a listener, the microphones elsewhere. joined: the strip where they join. image: which
    of two loudspeakers is heard as the place of the sound, the earlier where None. octave_loss_db: what
    is lost around the crossover in that state. moved_db: the ripple when a level moves by 6 dB, where that turns a
    slight one into a deep one.
    """

    source: str
    place: str
    joined: str
    one: str
    two: str
    crossover_hz: float | None
    image: str | None = None
    octave_loss_db: float | None = None
    moved_db: float | None = None


def sentence(
    rate_hz: int,
    kind: MeetingClass,
    ways: Ways,
    gaps: list[Gap],
    null_hz: float | None,
    ripple_db: float | None,
    deciding: str | None,
) -> str:
    """Say in one sentence what a meeting does to the audience with the loops IN, and when."""
    source, where = ways.source, f"in {ways.joined}" if ways.joined else f"at {ways.place}"
    if deciding is not None and gaps[0].verdict == "cannot tell":
        known = math.isfinite(gaps[0].typical) and deciding.startswith("the level of")
        apart = f" {abs(ms_from_seconds(gaps[0].typical)):.2f} ms apart" if known else ""
        return f"Whether {source} meets itself{apart} {where} cannot be told: it hangs on {deciding}."
    gap, when = telling(gaps)
    ms = f"{abs(ms_from_seconds(gap.typical)):.2f} ms"
    together = gap.verdict == "together"
    comb = _comb(null_hz, ripple_db, ways.moved_db)
    if kind == "main and sub":
        assert ways.crossover_hz is not None
        angle = abs(gap.typical) * ways.crossover_hz * 360
        effect = "they add up" if together else f"{_crossover_loss(angle)} where both are alike loud"
        late = not together and off_a_cycle(gap.typical, ways.crossover_hz)
        trap = f", though the angle looks right: it is {_cycles(angle)} late" if late else ""
        if late and ways.octave_loss_db is not None:
            trap += f", with up to {_db(ways.octave_loss_db)} lost within half an octave of it"
        lead = f"{ways.two} comes {ms} after {ways.one} at {ways.place}{when}"
        return f"{lead}: {angle:.0f}° at {ways.crossover_hz:g} Hz, {effect}{trap}."
    if kind == "two loudspeakers":
        lead = f"At {ways.place} {ways.two} comes {ms} after {ways.one}{when}"
        if together:
            early = ways.one if abs(gap.typical) > LOUDSPEAKERS_S else ""
            image = early if ways.image is None else ways.image
            return f"{lead}: heard as one{f', from {image}' if image else ''}."
        return f"{lead}: an echo." if abs(gap.typical) > FUSED_S else f"{lead}: hollow where both are alike loud{comb}."
    if kind == "electrical":
        if not together and null_hz == 0 and abs(gap.typical) < _CANCELS_S:
            return f"{source} comes {where} by two ways of opposite polarity{when}: it cancels itself."
        if together:
            frames = frames_from_seconds(abs(gap.typical), rate_hz)
            return f"{source} comes {where} by two ways, together within {frames:.1f} frames."
        return f"{source} is heard twice {where}, {ms} apart{when}: hollow{comb}."
    both = f"{source} through {ways.one} and {ways.two}"
    if together:
        return f"{both} meets {where} no further apart than the distance between them makes it."
    return f"{both} meets {where} {ms} apart{when}: thin{comb}."


def with_untold(said: str, gaps: list[Gap], deciding: str | None) -> str:
    """Add what cannot be told of the state with all loops OUT, where the sentence is about the loops IN."""
    if deciding is None or gaps[0].verdict == "cannot tell" or gaps[1].verdict != "cannot tell":
        return said
    return f"{said.removesuffix('.')}; with all loops OUT it cannot be told: it hangs on {deciding}."


def telling(gaps: list[Gap]) -> tuple[Gap, str]:
    """Return the gap to speak of, and the words for the state it belongs to."""
    inside, outside = gaps
    if inside.verdict == "alone":
        return outside, ""
    if inside.verdict == "apart" and outside.verdict == "together":
        return inside, " while the loops are IN, together when all are OUT"
    if inside.verdict == "together" and outside.verdict == "apart":
        return outside, " when all loops are OUT, together while they are IN"
    return inside, ""


def _crossover_loss(angle: float) -> str:
    """Say how far the sum of two equal sounds is below the aligned sum at the crossover: 20 log |cos(angle / 2)|."""
    lost = loss_db(angle / 360, 1.0)
    return f"{_db(lost)} lost at the crossover" if lost > _NOTHING_LEFT_DB else "nothing left at the crossover"


def _cycles(angle: float) -> str:
    return "a whole cycle" if round(angle / 360) == 1 else f"{round(angle / 360)} whole cycles"


def _db(loss_db: float) -> str:
    return f"{abs(loss_db):.1f} dB" if math.isfinite(loss_db) else "everything"


def _comb(null_hz: float | None, ripple_db: float | None, moved_db: float | None) -> str:
    if null_hz is None or not math.isfinite(null_hz):
        return ""
    if null_hz == 0:
        return ", the low end cancels"
    ripples = (
        "" if ripple_db is None else ", complete dips" if math.isinf(ripple_db) else f", {ripple_db:.1f} dB of ripple"
    )
    if moved_db is not None:
        ripples += f" ({moved_db:.1f} dB if a level moves by {MOVED_DB:g} dB)"
    return f", first dip at {null_hz:.0f} Hz{ripples}"


def picture_sentence(output: str, gaps: list[Gap]) -> str:
    """Say where sound stands to its picture at an output, and what to dial."""
    if gaps[0].verdict == "cannot tell":
        return f"Whether sound and picture meet at {output} cannot be told: too little is known of a delay on the way."
    gap, when = telling(gaps)
    if gap.high - gap.low > WINDOW_S:
        late, early = -ms_from_seconds(gap.low), ms_from_seconds(gap.high)
        words = f"Sounds reach {output} from {late:.1f} ms after to {early:.1f} ms before its picture{when}"
        return f"{words}: no single delay cures both, so bring the sounds together first."
    lag = ms_from_seconds(gap.typical)
    words = f"Sound reaches {output} {abs(lag):.1f} ms {'before' if lag > 0 else 'after'} its picture{when}"
    if gap.verdict == "together":
        return f"{words}; viewers will not notice."
    remedy = f"delay the sound at the encoder by {lag:.1f} ms" if lag > 0 else f"delay the picture by {-lag:.1f} ms"
    return f"{words}, and viewers notice from 45 ms early or 125 ms late: {remedy}."
