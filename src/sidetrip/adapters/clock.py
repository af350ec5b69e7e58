"""The time of day."""

from __future__ import annotations

from datetime import datetime


class SystemClock:
    """The real Clock."""

    def now(self) -> datetime:
        """Return the local time with its zone."""
        return datetime.now().astimezone()
