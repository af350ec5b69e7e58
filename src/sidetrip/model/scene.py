"""What a scene of the desk sets of a patch, where that is known."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from sidetrip.model.base import Name, Strict


def _as_tuple(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


class SceneSets(Strict):
    """What a scene sets when it is recalled.

    as_found: all of these as they were before the patch, when the scene was stored. inserts: by strip. sources: by
    block, as the desk file writes them (`aux in 1-8: jacks`). strips: strips without an input of the show, by number
    (`return 1-2: open`). outputs: `its mix` takes an output's loop OUT.
    """

    as_found: Annotated[tuple[Literal["inserts", "sources", "strips", "outputs"], ...], BeforeValidator(_as_tuple)] = ()
    inserts: dict[Name, Literal["in", "out", "none"]] = Field(default_factory=dict)
    sources: dict[Name, Name] = Field(default_factory=dict)
    strips: dict[Name, Literal["open", "shut"]] = Field(default_factory=dict)
    outputs: dict[Name, Literal["its mix"]] = Field(default_factory=dict)
