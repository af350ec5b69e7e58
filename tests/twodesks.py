"""Shows with a second desk, made from text in memory, the types of both desks read."""

from __future__ import annotations

import re
from pathlib import Path
from textwrap import dedent

from showtext import DEMO_TEXT
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show
from smallshows import RATE

_PAGE = Path(__file__).parent.parent / "docs" / "two-desks.md"


def two_desks(body: str, desk: Desk, other: Desk | None = None, *, rate: int = RATE) -> Show:
    """Read a show from its sections and check it; every other desk that names a type gets `other`.

    Raises AssertionError when checking finds an error.
    """
    text = f"sidetrip: 1\nshow: small\nsample_rate: {rate}\ndesk: {{type: small.yaml}}\n" + dedent(body)
    show = read_show(text, "show.yaml").show
    others = tuple(own if own.type is None or other is None else own.with_type(other) for own in show.other_desks)
    show = show.model_copy(update={"other_desks": others})
    errors = [str(finding) for finding in check_show(show, desk) if finding.severity == "error"]
    assert not errors, "\n".join(errors)
    return show


def lantern() -> str:
    """Return the demo with a monitor desk at stage left, as the page about two desks spells it."""
    block = re.search(r"```yaml\n(.*?)```", _PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert block is not None
    text, section = DEMO_TEXT, ""
    for line in block[1].splitlines():
        name = re.search(r"name: ([^,]+),", line)
        if line.startswith("  - ") and name is not None and section != "other_desks":
            old = re.compile(rf"^  - \{{[^\n]*name: {re.escape(name[1])},[^\n]*\n(?:     [^\n]*\n)?", re.MULTILINE)
            text, count = old.subn(line.replace("\\", "\\\\") + "\n", text, count=1)
            assert count == 1, f"the demo has no {name[1]}"
        elif line.startswith("  - "):
            text = text.replace("\nunits:", f"\nother_desks:\n{line}\n\nunits:", 1)
        elif line.strip():
            section = line.partition(":")[0]
            if not line.endswith(":"):
                text = re.sub(rf"^{section}:.*$", line, text, count=1, flags=re.MULTILINE)
    return text
