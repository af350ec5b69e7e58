"""Whatever is asked in the shape that the page publishes, or beside it: no answer is a fault of the program."""

import tempfile
from pathlib import Path
from typing import Any

import schemathesis
from hypothesis import HealthCheck, settings

from pages import PLACE, TOKEN, Asker, asker
from sidetrip.web.guards import TOKEN_HEADER

_FOLDER = tempfile.TemporaryDirectory(prefix="sidetrip-fuzz-")
_ASKER: Asker = asker(Path(_FOLDER.name))
_APP: Any = _ASKER.app
SHAPE = schemathesis.openapi.from_dict(_APP.openapi())


@SHAPE.parametrize()
@settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_no_answer_is_a_fault(case: Any) -> None:
    """Every operation, with values inside and outside of what it takes: refused in words at the worst."""
    sent = case.as_transport_kwargs(base_url=f"http://{PLACE}")
    body: dict[str, Any] = {"json": sent["json"]} if "json" in sent else {}
    if sent.get("data") is not None:
        data = sent["data"]
        body = {"content": data if isinstance(data, str | bytes) else repr(data)}
    headers = [(TOKEN_HEADER.encode(), TOKEN.encode()), (b"content-type", b"application/json")]
    answer = _ASKER.request(sent["method"], sent["url"], params=sent.get("params"), headers=headers, **body)
    assert answer.status_code < 500, f"{case.method} {case.path}: {answer.status_code} {answer.text[:400]}"
    if answer.status_code >= 400:
        assert answer.json().get("what"), f"{case.method} {case.path}: {answer.status_code} {answer.text[:400]}"
