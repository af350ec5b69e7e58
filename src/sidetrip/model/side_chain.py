"""Side chains: one strip's processor that another strip steers."""

from __future__ import annotations

from pydantic import Field

from sidetrip.model.base import Decimal, Name, Strict


class SideChain(Strict):
    """A processor on a strip that listens to another strip, or to another place on its own.

    by: the strip that steers it, tap: where it is listened to, acts: where on its own strip the processor sits; both as
    for a send, the end of the strip where not given. attack_ms: how slowly it acts; what is quicker does no harm.
    """

    strip: Name
    by: Name
    tap: Name | None = None
    acts: Name | None = None
    attack_ms: Decimal | None = Field(default=None, ge=0, le=10000)


__all__ = ["SideChain"]
