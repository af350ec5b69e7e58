"""What counts as pass and what wants a look. Common practice, no source, but where a row says otherwise.

Flat: every processor bypassed. Digital loops return what was sent; analogue ones return it nearly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from sidetrip.prove.proof import Verdict


@dataclass(frozen=True, slots=True)
class Limit:
    """Up to `good` passes, up to `fair` wants a look, more fails. Sizes, or levels that should be low."""

    good: float
    fair: float

    def judge(self, value: float) -> Verdict:
        """Return the verdict on a size."""
        return "pass" if value <= self.good else "look" if value <= self.fair else "fail"


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of one kind of loop: delays in frames, levels in dB, noise in dBFS rms."""

    delay: Limit
    gain: Limit
    response: Limit
    distortion: Limit
    idle: Limit


DIGITAL = Limits(
    delay=Limit(0.1, 1.0),
    gain=Limit(0.05, 0.3),
    response=Limit(0.1, 0.5),
    distortion=Limit(-100.0, -80.0),
    idle=Limit(-100.0, -80.0),
)
ANALOGUE = Limits(
    delay=Limit(0.2, 1.0),
    gain=Limit(0.3, 1.0),
    response=Limit(0.5, 1.0),
    distortion=Limit(-80.0, -60.0),
    idle=Limit(-80.0, -60.0),
)

SIDES_DELAY = Limit(0.1, 0.5)
SIDES_GAIN = Limit(0.1, 0.5)
CROSSTALK = Limit(-90.0, -60.0)
WRONG_RETURN = Limit(-40.0, -20.0)
DYNAMICS_DB = Limit(0.05, 0.15)
DRIFT_PPM = Limit(0.1, 1.0)
IN_MINUS_OUT = Limit(0.1, 1.0)

_MOVING = {"distortion": "a gain that moves within the test counts as distortion"}
_COLOUR = ("gain", "response", "distortion", "dynamics", "idle noise")
_PITCH = ("delay", "polarity", "gain", "response", "distortion", "dynamics", "twice")

SPOILT: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "eq": {},
        "compressor": {"gain": "a compressor moves it", "dynamics": "a compressor is meant to move it", **_MOVING},
        "limiter": {"gain": "a limiter may move it", "dynamics": "a limiter is meant to move it", **_MOVING},
        "gate": {
            "gain": "a gate moves it",
            "dynamics": "a gate is meant to move it",
            **_MOVING,
            "idle noise": "a gate closes on it",
        },
        "de-esser": {
            "response": "a de-esser moves it",
            "gain": "a de-esser moves it",
            "dynamics": "a de-esser is meant to move it",
            **_MOVING,
        },
        "saturator": {
            "gain": "a saturator changes it with level",
            "dynamics": "a saturator is meant to move it",
            "distortion": "a saturator is meant to distort",
        },
        "de-noiser": {
            "gain": "the test is noise to a de-noiser",
            "dynamics": "the test is noise to a de-noiser",
            "response": "the test is noise to a de-noiser",
            "distortion": "the test is noise to a de-noiser",
            "idle noise": "a de-noiser takes it away",
        },
        "reverb": dict.fromkeys(
            ("delay", "polarity", "gain", "response", "twice"),
            "a reverb smears the test",
        ),
        "pitch corrector": dict.fromkeys(
            ("delay", "polarity", "gain", "response", "distortion", "dynamics", "twice"),
            "a pitch corrector makes another sound of the test",
        ),
        "black box": dict.fromkeys(
            ("gain", "response", "distortion", "dynamics", "idle noise"), "nobody declares what it does"
        ),
    }
)
"""What each kind of processor, as used, no longer lets a capture tell, and why. All else is still judged."""

__all__ = [
    "ANALOGUE",
    "CROSSTALK",
    "DIGITAL",
    "DRIFT_PPM",
    "DYNAMICS_DB",
    "IN_MINUS_OUT",
    "SIDES_DELAY",
    "SIDES_GAIN",
    "SPOILT",
    "WRONG_RETURN",
    "Limit",
    "Limits",
]
