"""A proof as JSON: what `sidetrip prove --json` prints, and how proofs are kept; see docs/reference/proof.schema.json.

Strict both ways: no NaN, no Infinity, and a file that this did not write, or that was changed since, is refused. Times
are in seconds, exactly, so that a proof comes back as it was; beside them in ms for people. What is unknown is null.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any, Literal

from pydantic import ConfigDict, TypeAdapter, ValidationError, with_config
from typing_extensions import TypedDict

from sidetrip.findings import Finding
from sidetrip.prove.proof import Change, Heard, LegProof, Level, Proof, Row, Stop, StopKind, Verdict
from sidetrip.reports.finding_json import finding_doc
from sidetrip.reports.plan_docs import FindingDoc
from sidetrip.units import ms_from_seconds

FORMAT = 1

_FIGURES = ("measured", "expected", "error")  # some are counted, and all are read as no whole numbers
_LONE_HALVES = re.compile("[\ud800-\udfff]")


class RowDoc(TypedDict):
    """One question about one loop leg, its figures in `unit`; error is one standard error."""

    question: str
    level: Level
    verdict: Verdict
    measured: float | None
    expected: float | None
    error: float | None
    unit: str
    because: str
    at: StopKind


class StopDoc(TypedDict):
    """One stop of a loop, in the order that the signal passes it."""

    kind: StopKind
    name: str
    fault: str | None


class ExpectedDoc(TypedDict):
    """The time that the plan has for a loop: equal bounds for a plain figure, high null when unknown."""

    low_s: float
    high_s: float | None
    low_ms: float
    high_ms: float | None


class LegDoc(TypedDict):
    """One leg of one loop; heard says whose return it is by sound, chain what it was used with ("" when flat)."""

    loop: str
    side: str
    verdict: Verdict
    unit: str
    port: str
    heard: str | None
    chain: str
    delay_s: float | None
    delay_error_s: float | None
    delay_ms: float | None
    planned: ExpectedDoc
    stops: list[StopDoc]
    rows: list[RowDoc]


class BufferDoc(TypedDict):
    """A unit's buffer, null for hardware."""

    unit: str
    frames: int | None


class UnprovenDoc(TypedDict):
    """A loop that the take does not ask about."""

    loop: str
    because: str


class HeardDoc(TypedDict):
    """One entry found on one track; delay null without a reference, its error null when it is unbounded."""

    entry: str
    port: str
    carries: str
    delay_s: float | None
    delay_error_s: float | None
    delay_ms: float | None
    level_db: float
    inverted: bool


class ChangeDoc(TypedDict):
    """A loop's delay at every proof of the same take and settings, the latest last."""

    loop: str
    when: list[str]
    delays_s: list[float]
    delays_ms: list[float]
    spread_ms: float


class ProofDoc(TypedDict):
    """One take, proven."""

    verdict: Verdict
    show: str
    take: str
    state: str
    processors: str
    when: str
    recording: list[str]
    rate_hz: int
    buffers: list[BufferDoc]
    reference: str | None
    clock_kind: str
    clock_ppm: float
    clock_error_ppm: float
    start_s: float
    tested_s: float
    legs: list[LegDoc]
    unproven: list[UnprovenDoc]
    heard: list[HeardDoc]
    changes: list[ChangeDoc]


@with_config(ConfigDict(extra="forbid", strict=True))  # of all that it holds, too
class ProofFile(TypedDict):
    """The whole file. proof: null when nothing could be proven; findings say why."""

    sidetrip_proof: Literal[1]
    proof: ProofDoc | None
    findings: list[FindingDoc]


@dataclass(frozen=True, slots=True)
class ProofJson:
    """The real ProofTexts."""

    def write(self, proof: Proof | None, findings: Sequence[Finding]) -> str:
        """Return the JSON text."""
        return proof_text(proof, findings)

    def read(self, text: str, file: str) -> Proof:
        """Return the proof in a text that `write` made. Raises ValueError, in words, for any other text."""
        return read_proof(text, file)


def proof_schema() -> dict[str, Any]:
    """Return the JSON schema of the file."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **_shape().json_schema()}


def proof_text(proof: Proof | None, findings: Sequence[Finding]) -> str:
    """Return the JSON text, strict: no NaN, no Infinity."""
    document = {
        "sidetrip_proof": FORMAT,
        "proof": None if proof is None else _proof_doc(proof),
        "findings": [finding_doc(finding) for finding in findings],
    }
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    # A path of bytes that are no text holds halves of characters, which no file can take as they are.
    return _LONE_HALVES.sub(lambda half: f"\\u{ord(half[0]):04x}", text)


def read_proof(text: str, file: str) -> Proof:
    """Return the proof in a text that `proof_text` made. Raises ValueError, in words, for any other text."""
    try:
        document = json.loads(text, object_pairs_hook=_each_once)  # NaN and its like end below: none is kept
    except RecursionError as error:
        raise _refusal(file, "it is nested too deeply") from error
    except ValueError as error:
        raise _refusal(file, f"it is not JSON ({error})") from error
    if not isinstance(document, dict) or "sidetrip_proof" not in document:
        raise _refusal(file, "'sidetrip_proof' is missing")
    if document["sidetrip_proof"] is True or document["sidetrip_proof"] != FORMAT:
        raise _refusal(file, f"it is of another format than {FORMAT}, which this program reads")
    try:
        kept = _shape().validate_python(document)["proof"]
    except ValidationError as error:
        raise _refusal(file, _first(error)) from error
    if kept is None:
        raise ValueError(f"{file} holds no proof, only why there is none")
    try:
        wrong = _differing(kept, _proof_doc(proof := _proof(kept)), "proof")
    except ValueError:  # figures that no time of any loop has
        wrong = "proof"
    if wrong:
        raise _refusal(file, f"{wrong} does not fit the rest; it was changed since")
    return proof


def _refusal(file: str, why: str) -> ValueError:
    return ValueError(f"{file} is no proof that this program kept: {why}")


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(found := dict(pairs)) < len(pairs):
        raise ValueError("a key stands twice")
    return found


def _first(error: ValidationError) -> str:
    found = error.errors()[0]
    said = {"missing": "is missing", "extra_forbidden": "is not known"}.get(found["type"], "is not what it was")
    return f"{' / '.join(str(part) for part in found['loc'])} {said}"


def _differing(kept: Any, again: Any, where: str) -> str:
    """Return the first place where two documents differ, "" when they do not."""
    if isinstance(kept, dict) and isinstance(again, dict):
        each = ((str(key), kept.get(key), again.get(key)) for key in {**kept, **again})
    elif isinstance(kept, list) and isinstance(again, list) and len(kept) == len(again):
        each = ((str(place), *both) for place, both in enumerate(zip(kept, again, strict=True)))
    else:
        return "" if kept == again else where
    return next((found for key, one, two in each if (found := _differing(one, two, f"{where} / {key}"))), "")


@cache
def _shape() -> TypeAdapter[ProofFile]:
    return TypeAdapter(ProofFile)


def _plain(value: Any) -> Any:
    """Return a value with lists for tuples, and null for what is no number."""
    if isinstance(value, dict):
        return {
            key: _plain(float(item) if key in _FIGURES and item is not None else item) for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else round(ms_from_seconds(seconds), 6) + 0.0


def _proof_doc(proof: Proof) -> dict[str, Any]:
    """Return a proof with what people read beside what is exact."""
    doc: dict[str, Any] = {"verdict": proof.verdict, **_plain(asdict(proof))}
    doc["buffers"] = [{"unit": unit, "frames": frames} for unit, frames in proof.buffers]
    doc["unproven"] = [{"loop": loop, "because": why} for loop, why in proof.unproven]
    for leg, told in zip(doc["legs"], proof.legs, strict=True):
        low, high = leg.pop("expected_s")
        leg["planned"] = {"low_s": low, "high_s": high, "low_ms": _ms(low), "high_ms": _ms(high)}
        leg |= {"verdict": told.verdict, "delay_ms": _ms(leg["delay_s"])}
    for heard in doc["heard"]:
        heard["delay_ms"] = _ms(heard["delay_s"])
    for change in doc["changes"]:
        delays = change["delays_s"]
        change |= {"delays_ms": [_ms(delay) for delay in delays], "spread_ms": _ms(max(delays) - min(delays))}
    return doc


def _proof(doc: ProofDoc) -> Proof:
    whole: dict[str, Any] = {key: value for key, value in doc.items() if key != "verdict"}
    whole |= {
        "recording": tuple(doc["recording"]),
        "buffers": tuple((one["unit"], one["frames"]) for one in doc["buffers"]),
        "legs": tuple(_leg(leg) for leg in doc["legs"]),
        "unproven": tuple((one["loop"], one["because"]) for one in doc["unproven"]),
        "heard": tuple(_heard(one) for one in doc["heard"]),
        "changes": tuple(Change(one["loop"], tuple(one["when"]), tuple(one["delays_s"])) for one in doc["changes"]),
    }
    return Proof(**whole)


def _leg(doc: LegDoc) -> LegProof:
    whole: dict[str, Any] = {key: doc[key] for key in ("loop", "side", "unit", "port", "heard", "chain", "delay_s")}
    return LegProof(
        **whole,
        stops=tuple(Stop(**stop) for stop in doc["stops"]),
        rows=tuple(Row(**row) for row in doc["rows"]),
        delay_error_s=doc["delay_error_s"],
        expected_s=(doc["planned"]["low_s"], doc["planned"]["high_s"]),
    )


def _heard(doc: HeardDoc) -> Heard:
    whole: dict[str, Any] = {key: value for key, value in doc.items() if key != "delay_ms"}
    return Heard(**(whole | {"delay_error_s": math.inf} if doc["delay_error_s"] is None else whole))


__all__ = ["ProofFile", "ProofJson", "proof_schema", "proof_text", "read_proof"]
