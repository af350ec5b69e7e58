"""A spread in one state, and the words for it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sidetrip.units import frames_from_seconds, ms_from_seconds

MeetingClass = Literal["electrical", "two microphones", "two loudspeakers", "main and sub", "picture"]
Verdict = Literal["together", "apart", "alone", "cannot tell"]

FUSED_FROM_S = 0.005
WINDOW_S = 0.170
"""From 45 ms early to 125 ms late (ITU-R BT.1359-1): what one delay can bring within."""

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

    one, two: the loudspeakers at a listener, the microphones elsewhere. joined: the strip where they join.
    """

    source: str
    place: str
    joined: str
    one: str
    two: str
    crossover_hz: float | None


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
        return f"Whether {source} meets itself {where} cannot be told: it hangs on {deciding}."
    gap, when = _telling(gaps)
    ms = f"{abs(ms_from_seconds(gap.typical)):.2f} ms"
    together = gap.verdict == "together"
    comb = _comb(null_hz, ripple_db)
    if kind == "main and sub":
        assert ways.crossover_hz is not None
        angle = abs(gap.typical) * ways.crossover_hz * 360
        effect = "they add up" if together else f"{_crossover_loss(angle)} where both are alike loud"
        late = not together and _near_cycle(angle)
        trap = ", though the angle looks right: it is a whole cycle late" if late else ""
        lead = f"{ways.two} comes {ms} after {ways.one} at {ways.place}{when}"
        return f"{lead}: {angle:.0f}° at {ways.crossover_hz:g} Hz, {effect}{trap}."
    if kind == "two loudspeakers":
        lead = f"At {ways.place} {ways.two} comes {ms} after {ways.one}{when}"
        if together:
            return f"{lead}: heard as one" + ("." if abs(gap.typical) <= LOUDSPEAKERS_S else f", from {ways.one}.")
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


def _telling(gaps: list[Gap]) -> tuple[Gap, str]:
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
    remains = abs(math.cos(math.radians(angle / 2)))
    if remains < 0.03:
        return "nothing left at the crossover"
    return f"{-20 * math.log10(remains):.1f} dB lost at the crossover"


def _near_cycle(angle: float) -> bool:
    return angle >= 315 and (angle + 45) % 360 <= 90


def _comb(null_hz: float | None, ripple_db: float | None) -> str:
    if null_hz is None or not math.isfinite(null_hz):
        return ""
    if null_hz == 0:
        return ", the low end cancels"
    ripples = (
        "" if ripple_db is None else ", complete dips" if math.isinf(ripple_db) else f", {ripple_db:.1f} dB of ripple"
    )
    return f", first dip at {null_hz:.0f} Hz{ripples}"


def picture_sentence(output: str, gaps: list[Gap]) -> str:
    """Say where sound stands to its picture at an output, and what to dial."""
    if gaps[0].verdict == "cannot tell":
        return f"Whether sound and picture meet at {output} cannot be told: too little is known of a delay on the way."
    gap, when = _telling(gaps)
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
