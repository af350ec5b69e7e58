"""Names as parts of file names."""

from __future__ import annotations


def slug(name: str) -> str:
    """Return a name as part of a file name: letters and figures kept, all else a dash."""
    kept = "".join(letter if letter.isalnum() else "-" for letter in name.lower())
    return "-".join(part for part in kept.split("-") if part) or "take"


__all__ = ["slug"]
