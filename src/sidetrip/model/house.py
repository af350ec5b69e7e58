"""What a show says of the house around its loops: clocks, scenes, what hangs on jacks, what was accepted."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from sidetrip.model.base import Name, Names, Strict, Whole, YesNo
from sidetrip.model.ports import PortRun
from sidetrip.model.scene import SceneSets


class ClockedDevice(Strict):
    """One digital device. follows: the leader, another device here, or `itself` where it runs free.

    rate: where it is not the show's. converter: the rate converter between it and the rest, by name.
    """

    name: Name
    follows: Name
    rate: Whole | None = Field(default=None, ge=8000, le=768000)
    converter: Name | None = None


class Clock(Strict):
    """Who leads the clocks, and what follows whom. A device that is not listed is taken to follow the leader."""

    leader: Name
    devices: tuple[ClockedDevice, ...] = ()

    def device(self, name: str) -> ClockedDevice | None:
        """Return the device of this name."""
        return next((device for device in self.devices if device.name == name), None)

    def led(self, device: ClockedDevice) -> bool:
        """Tell whether a device follows the leader in the end: through others, in no circle, and not itself."""
        passed: set[str] = set()
        here: ClockedDevice | None = device
        while here is not None and here.name not in passed:
            if self.leader in (here.name, here.follows):
                return True
            passed.add(here.name)
            here = self.device(here.follows)
        return False


def _as_tuple(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


Recalled = Literal["inserts", "sources"]


class Scene(Strict):
    """A scene or snapshot of the desk. recalls: what of it reaches a loop when it is recalled.

    inserts: which ports an insert has, and whether it is IN. sources: what blocks and card channels take.
    as_planned: what it stores of these is what this plan says. sets: what it is known to set, one by one.
    """

    name: Name
    recalls: Annotated[tuple[Recalled, ...], BeforeValidator(_as_tuple)] = ()
    as_planned: YesNo = False
    sets: SceneSets = SceneSets()


class Plugged(Strict):
    """Something in an output jack that is no output of the show. carries_sends: it may carry a loop's send."""

    port: PortRun
    what: Name
    carries_sends: YesNo = False


class Accepted(Strict):
    """A place where a source may arrive twice, on both sides of these loops, and who accepts it (a role)."""

    at: Name
    loops: Names
    by: Name
