"""Another desk that shares microphones with the show's own: how it gets them, whose gain it is, how late it is."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, PrivateAttr

from sidetrip.model.base import Name, Strict, Typed, Whole
from sidetrip.model.desk import Desk
from sidetrip.model.figure import Amount
from sidetrip.model.ports import Ports

FOH = "FOH"
"""The show's own desk, where a gain or a table needs a name for it."""

Split = Literal["analogue", "shared", "none", "unknown"]


class OtherDesk(Strict):
    """A second desk, for monitors or broadcast. Its mixes say `desk: NAME`; no loop is placed on it.

    split: how it gets the microphones. `analogue`: the cable splits before the preamps, each desk has its own;
    `shared`: one preamp on the stage box serves both; `none`: only what a tie brings. gain: whose the gain of shared
    preamps is, FOH or this desk. compensated: whether the desk that does not own the gain takes a turn of it back with
    its digital trim. through_ms: from a microphone's jack to the jack of a mix; it goes before what the type says.
    tie_ms: from where a tie is taken at FOH to this desk's input. converter_ms: the rate converter between the two,
    where there is one. sample_rate: where it is not the show's.
    """

    name: Name
    type: Typed | None = None
    split: Split = "unknown"
    gain: Name = Field(default="unknown", description="`FOH`, this desk's name, or `unknown`")
    compensated: Literal["yes", "no", "unknown"] = "unknown"
    through_ms: Amount | None = None
    tie_ms: Amount | None = None
    converter_ms: Amount | None = None
    sample_rate: Whole | None = Field(default=None, ge=8000, le=768000)
    _described: Desk | None = PrivateAttr(default=None)

    @property
    def described(self) -> Desk | None:
        """The desk type as read, None where none was named or it was not looked up yet."""
        return self._described

    def with_type(self, desk: Desk) -> OtherDesk:
        """Return the same desk with its type as read."""
        own = self.model_copy()
        own._described = desk
        return own

    def own_ports(self, ports: Ports) -> Ports | None:
        """Return ports that are written with this desk's name in front as ports of its type; None for others."""
        start = f"{' '.join(self.name.lower().split())} "
        if not ports.group.startswith(start):
            return None
        return Ports(ports.group.removeprefix(start), ports.first, ports.last)


def there(strip: str, other: str, tie: str | None = None) -> str:
    """Return the name of the strip on another desk that takes this one from the split, or by a tie."""
    return f"{strip}{f' {tie}' if tie else ''} on {other}"


__all__ = ["FOH", "OtherDesk", "Split", "there"]
