"""How large a show file may be; apart from the reader, so that a refusal needs none of it."""

from __future__ import annotations

from sidetrip.findings import Finding

MAX_BYTES = 1_000_000


def too_large(size: int, file: str) -> Finding:
    """Make the finding for a file over the limit; size in bytes."""
    return Finding(
        "file-too-large",
        "file",
        "The file is too large to be a show",
        f"{size:,} bytes, at most {MAX_BYTES:,}",
        "Check that this is the show file and not a recording or an export",
        file=file,
    )
