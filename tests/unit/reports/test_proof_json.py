"""A proof as JSON: written strictly, read as strictly, and the same when it comes back."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any, get_type_hints

import jsonschema
import pytest

import proofs
from sidetrip.findings import Finding
from sidetrip.prove.proof import Change, Heard, LegProof, Proof, Row, Stop
from sidetrip.reports import proof_json
from sidetrip.reports.proof_json import ProofJson, proof_schema, proof_text, read_proof

FINDING = Finding("proof-failed", "loop Narrator", "Polarity: it comes back inverted", "", "Turn one of them back")
MADE = {
    "passing": proofs.proof(),
    "stereo": proofs.proof(*proofs.stereo()),
    "twelve": proofs.twelve(),
    "awkward": proofs.awkward(),
    "no reference": proofs.without_reference(),
    "changed": proofs.changed(),
    "nothing": replace(proofs.proof(), legs=(), heard=(), recording=(), buffers=()),
}


@pytest.mark.parametrize("proof", MADE.values(), ids=MADE)
def test_a_proof_comes_back_as_it_was(proof: Proof) -> None:
    """Every figure is equal to the last bit, and writing it again gives the same text."""
    text = proof_text(proof, [FINDING])
    assert read_proof(text, "kept.json") == proof
    assert proof_text(read_proof(text, "kept.json"), [FINDING]) == text
    assert ProofJson().read(ProofJson().write(proof, []), "kept.json") == proof


def test_a_figure_that_no_decimals_hold_comes_back_exactly() -> None:
    """A time is kept as it is in seconds, and beside it rounded in ms."""
    odd = math.nextafter(349 / 48_000, 1)
    proof = proofs.proof(replace(proofs.good_leg(), delay_s=odd))
    document = json.loads(proof_text(proof, []))
    assert read_proof(json.dumps(document), "kept.json").legs[0].delay_s == odd
    assert document["proof"]["legs"][0]["delay_ms"] == 7.270833
    assert document["proof"]["legs"][0]["planned"] == {
        "low_s": 349 / 48_000,
        "high_s": 349 / 48_000,
        "low_ms": 7.270833,
        "high_ms": 7.270833,
    }


def test_the_version_comes_first_and_the_verdicts_are_told() -> None:
    """A reader that knows no rule of ours finds the format, the take's verdict and each leg's."""
    document = json.loads(proof_text(proofs.twelve(), [FINDING]))
    assert list(document) == ["sidetrip_proof", "proof", "findings"]
    assert document["sidetrip_proof"] == 1
    assert document["proof"]["verdict"] == "fail"
    assert [leg["verdict"] for leg in document["proof"]["legs"]].count("fail") == 4
    assert document["findings"][0]["code"] == "proof-failed"


def test_what_is_no_number_is_null() -> None:
    """Neither NaN nor Infinity is written; an error without bound is one again when it is read."""
    row = Row("delay", "transfer", "look", math.nan, math.inf, math.inf, "frames", "")
    heard = Heard("stage 1", "aux in 1", "Bass", None, math.inf, -3.0, False)
    proof = proofs.proof(replace(proofs.good_leg(), rows=(row,), expected_s=(0.0, None)), heard=(heard,))
    text = proof_text(proof, [])
    document = json.loads(text, parse_constant=pytest.fail)
    assert document["proof"]["legs"][0]["rows"][0]["measured"] is None
    assert document["proof"]["legs"][0]["planned"]["high_ms"] is None
    again = read_proof(text, "kept.json")
    assert again.heard == (heard,)
    assert again.legs[0].rows[0].error is None


def test_a_path_that_is_no_text_can_still_be_kept() -> None:
    """Bytes of a file's name that are no characters come back, and the text can be stored as UTF-8."""
    proof = proofs.proof(recording=("tr\udcffack.wav",))
    text = proof_text(proof, [])
    assert read_proof(text.encode("utf-8").decode("utf-8"), "kept.json") == proof


def test_nothing_proven_is_a_file_too_but_no_proof() -> None:
    """Findings stand alone, and reading says that they do."""
    text = proof_text(None, [FINDING])
    assert json.loads(text)["proof"] is None
    with pytest.raises(ValueError, match=r"kept\.json holds no proof, only why there is none"):
        read_proof(text, "kept.json")


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", "NaN", "[" * 100_000, '{"a": 1, "a": 2}', '{"proof": null}'])
def test_another_file_is_refused_in_words(text: str) -> None:
    """Whatever else lies in the folder is a ValueError that names the file."""
    with pytest.raises(ValueError, match=r"kept\.json is no proof that this program kept: "):
        read_proof(text, "kept.json")


CHANGED: dict[str, tuple[Callable[[Any], Any], str]] = {
    "another format": (lambda d: d.update(sidetrip_proof=2), "another format than 1"),
    "a format that is no number": (lambda d: d.update(sidetrip_proof=True), "another format than 1"),
    "a missing key": (lambda d: d["proof"].pop("legs"), "proof / legs is missing"),
    "an unknown key": (lambda d: d["proof"].update(more=1), "proof / more is not known"),
    "an unknown key deep down": (lambda d: d["proof"]["legs"][1]["rows"][0].update(x=1), "legs / 1 / rows / 0 / x is"),
    "a number as text": (lambda d: d["proof"].update(rate_hz="48000"), "rate_hz is not what it was"),
    "a truth as a number": (lambda d: d["proof"].update(rate_hz=True), "rate_hz is not what it was"),
    "another verdict": (lambda d: d["proof"]["legs"][0].update(verdict="fail"), "legs / 0 / verdict does not fit"),
    "a word of ours misspelt": (lambda d: d["proof"]["legs"][0]["rows"][0].update(verdict="ok"), "is not what it was"),
    "another time": (lambda d: d["proof"]["legs"][0].update(delay_s=0.0072), "legs / 0 / delay_ms does not fit"),
    "another ms": (lambda d: d["proof"]["heard"][0].update(delay_ms=1.0), "heard / 0 / delay_ms does not fit"),
    "no number": (lambda d: d["proof"].update(start_s=math.nan), "start_s does not fit"),
    "a change without values": (lambda d: d["proof"]["changes"][0].update(delays_s=[]), "does not fit"),
    "a finding that is none": (lambda d: d["findings"].append({"code": 3}), "findings / 0 / code"),
}


@pytest.mark.parametrize(("change", "said"), CHANGED.values(), ids=CHANGED)
def test_a_proof_that_was_changed_is_refused(change: Callable[[Any], Any], said: str) -> None:
    """The message says where, in plain words, and nothing of the library that noticed."""
    document = json.loads(proof_text(proofs.changed(), []))
    change(document)
    with pytest.raises(ValueError, match=r"kept\.json is no proof that this program kept: ") as error:
        read_proof(json.dumps(document), "kept.json")
    assert said in str(error.value)
    assert "pydantic" not in str(error.value)


def test_the_file_is_described_by_its_schema() -> None:
    """The schema accepts what is written, and refuses another version and what it does not know."""
    for proof in (*MADE.values(), None):
        document = json.loads(proof_text(proof, [FINDING]))
        jsonschema.validate(document, proof_schema())
        for wrong in ({**document, "sidetrip_proof": 2}, {**document, "more": 1}):
            with pytest.raises(jsonschema.ValidationError):
                jsonschema.validate(wrong, proof_schema())


@pytest.mark.parametrize(
    ("kind", "shape", "other"),
    [
        (Proof, "ProofDoc", {}),
        (LegProof, "LegDoc", {"expected_s": "planned"}),
        (Row, "RowDoc", {}),
        (Stop, "StopDoc", {}),
        (Heard, "HeardDoc", {}),
        (Change, "ChangeDoc", {}),
    ],
)
def test_no_field_of_a_proof_is_forgotten(kind: type, shape: str, other: dict[str, str]) -> None:
    """Whoever adds a field to a proof is told here that files have to keep it."""
    kept = set(get_type_hints(getattr(proof_json, shape)))
    assert {other.get(field.name, field.name) for field in fields(kind)} <= kept
