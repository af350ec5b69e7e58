"""How much delay musicians rated good or fair in their own monitoring. Ratings of a few, never a promise.

Source: M. Lester and J. Boley, "The Effects of Latency on Live Sound Monitoring", AES 123rd Convention, New York, 2007,
paper 7198, table 1: 19 musicians, six instruments, wedge at 4 to 6 ft or in-ear, the time up to which the rating stays
in the named band, at the lower end of an 85 % confidence interval. Taken from a thesis that quotes the table, so within
about 1 ms. The rig of the study was 1.4 ms late by itself, so 0 and 1 lie below what it could present, and musicians
differed a lot: one case has a mean of 7.9 ms and a standard deviation of 8.5.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sidetrip.units import ms_from_seconds

Listening = Literal["in-ear", "wedge"]

UNCERTAIN_MS = 1.0
"""How far the quoted figures may be from the paper's."""


@dataclass(frozen=True, slots=True)
class Rated:
    """The delay in ms up to which one instrument's monitoring was rated good, and fair."""

    good_ms: float
    fair_ms: float


RATED: dict[tuple[str, Listening], Rated] = {
    ("saxophone", "in-ear"): Rated(0, 3),
    ("voice", "in-ear"): Rated(1, 6.5),
    ("guitar", "in-ear"): Rated(4.5, 14.5),
    ("drums", "in-ear"): Rated(8, 24.5),
    ("bass", "in-ear"): Rated(4.5, 25.5),
    ("keyboard", "in-ear"): Rated(27, 43),
    ("saxophone", "wedge"): Rated(1.5, 10),
    ("voice", "wedge"): Rated(10, 26),
    ("guitar", "wedge"): Rated(6.5, 16),
    ("drums", "wedge"): Rated(9, 25),
    ("bass", "wedge"): Rated(8, 30),
    ("keyboard", "wedge"): Rated(22, 40.5),
}
"""By instrument and how it is heard."""

_WORDS = {
    "saxophone": ("sax",),
    "voice": ("voice", "vocal", "vox", "singer", "choir", "chorus"),
    "guitar": ("guitar", "gtr"),
    "drums": ("drum", "kick", "snare", "percussion"),
    "bass": ("bass",),
    "keyboard": ("key", "piano", "organ", "synth"),
}


def rated(instrument: str, listens: Listening) -> Rated | None:
    """Return the ratings of an instrument of the study, None for any other."""
    return RATED.get((instrument, listens))


def instrument_of(*names: str) -> str | None:
    """Guess the instrument of the study from names in a show; None where none or more than one is named."""
    said = " ".join(names).lower()
    found = [instrument for instrument, words in _WORDS.items() if any(word in said for word in words)]
    if "drums" in found and "bass" in found and "bass drum" in said:
        found.remove("bass")
    return found[0] if len(found) == 1 else None


def rating_words(instrument: str | None, listens: Listening, delay_s: float) -> str:
    """Say how the study's musicians rated such a delay: "voice in-ear: rated good up to 1 ms, fair up to 6.5 ms".

    Nothing where the study has no such instrument.
    """
    own = rated(instrument, listens) if instrument is not None else None
    if own is None:
        return ""
    up_to = f"{instrument} {listens}: rated good up to {own.good_ms:g} ms, fair up to {own.fair_ms:g} ms"
    if not math.isfinite(delay_s):
        return up_to
    ms = ms_from_seconds(delay_s)
    return f"{up_to}; this is {'good' if ms <= own.good_ms else 'fair' if ms <= own.fair_ms else 'below fair'}"


@dataclass(frozen=True, slots=True)
class Limit:
    """Times in ms that sound may be early and late before somebody notices or objects. source: who says so."""

    what: str
    early_ms: float
    late_ms: float
    source: str


PICTURE = (
    Limit("noticed", 45, 125, "ITU-R BT.1359-1 (1998), considering g)"),
    Limit("accepted at most", 90, 185, "ITU-R BT.1359-1 (1998), considering g) and recommends 2"),
    Limit("one stage of production", 5, 15, "EBU R 37"),
    Limit("on the way to the transmitter", 40, 60, "EBU R 37"),
)
"""Sound against picture."""

SPEECH_COMFORTABLE_MS, SPEECH_AT_MOST_MS = 150.0, 400.0
"""One-way delay of a conversation: ITU-T G.114 (05/2003)."""

ENSEMBLE_STEADY_MS = 11.5
"""One-way delay at which pairs clapping kept their tempo: C. Chafe and M. Gurevich, AES 117th Convention, 2004."""

OWN_VOICE_UNCOLOURED_MS, OWN_VOICE_COLOURED_MS = 7.0, 10.0
"""Own voice in-ear, 10 dB over the acoustic path: no more coloured than an analogue reference up to the first, more
from the second on. Marentakis, Kranzler, Frank, Opitz and Sontacchi, DAGA 2012, as quoted by others."""


__all__ = ["PICTURE", "RATED", "Limit", "Rated", "instrument_of", "rated", "rating_words"]
