"""A Clock that stands still."""

from __future__ import annotations

from datetime import UTC, datetime


class StoppedClock:
    """Always the same evening."""

    def now(self) -> datetime:
        return datetime(2026, 11, 20, 19, 30, tzinfo=UTC)
