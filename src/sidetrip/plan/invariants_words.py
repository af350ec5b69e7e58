"""The finding of a broken rule: about a loop, with the place of its request in the file."""

from __future__ import annotations

from sidetrip.findings import Finding
from sidetrip.model.show import Show


def about(show: Show, code: str, strip: str, what: str, values: str, remedy: str) -> Finding:
    """Return the finding about the loop of a strip or output."""
    strips = [request.strip for request in show.requests]
    path = ("requests", strips.index(strip)) if strip in strips else ()
    return Finding(code, f"loop {strip}", what, values, remedy, path)
