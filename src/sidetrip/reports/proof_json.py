"""A proof as JSON: what `sidetrip prove --json` prints, and how proofs are kept with a show.

Strict both ways: no NaN, no Infinity, and a file that this did not write is refused. Times are in seconds.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any, Literal

from pydantic import ConfigDict, TypeAdapter, ValidationError, with_config
from typing_extensions import TypedDict

from sidetrip.findings import Finding
from sidetrip.prove.proof import Proof
from sidetrip.reports.finding_json import finding_doc
from sidetrip.reports.plan_docs import FindingDoc

FORMAT = 1


@with_config(ConfigDict(extra="forbid", strict=True))
class ProofFile(TypedDict):
    """The whole file. proof: null when nothing could be proven; findings say why."""

    sidetrip_proof: Literal[1]
    proof: Proof | None
    findings: list[FindingDoc]


@dataclass(frozen=True, slots=True)
class ProofJson:
    """The real ProofTexts."""

    def write(self, proof: Proof | None, findings: Sequence[Finding]) -> str:
        """Return the JSON text."""
        document = {
            "sidetrip_proof": FORMAT,
            "proof": None if proof is None else _finite(asdict(proof)),
            "findings": [finding_doc(finding) for finding in findings],
        }
        return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)

    def read(self, text: str, file: str) -> Proof:
        """Return the proof in a text that `write` made. Raises ValueError, in words, for any other text."""
        try:
            proof = _reader().validate_json(text)["proof"]
        except ValidationError as error:
            raise ValueError(f"{file} is no proof that this program kept: {error.errors()[0]['msg']}") from error
        if proof is None:
            raise ValueError(f"{file} holds no proof, only why there is none")
        return proof


def proof_schema() -> dict[str, Any]:
    """Return the JSON schema of the file."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **_reader().json_schema()}


@cache
def _reader() -> TypeAdapter[ProofFile]:
    return TypeAdapter(ProofFile)


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


__all__ = ["ProofFile", "ProofJson", "proof_schema"]
