"""Shows and desks as small texts, and all that reading, checking and planning finds in them."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from pathlib import Path

from fakes.desks import DesksInMemory
from fakes.show_folder import ShowFolderInMemory
from sidetrip.application.use_cases import plan
from sidetrip.errors import WithFindings
from sidetrip.findings import Finding
from sidetrip.model.desk import Desk
from sidetrip.showfile.read import read_desk

_ROOT = Path(__file__).parent.parent
DESK_TYPE = "32-strip theatre desk"
DESK_TEXT = (_ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
DEMO_TEXT = (_ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")

HOSTILE_NAMES = (
    r"""
=Main|NO|Off|y|on|yes: no|#x|1-2|808|010|1e5|.5|null|~|unknown|TRUE|- a|? a|a:|a: b|{a|{a}|]|[a]|,|a, b|&a|*a|!a|%a
@Talk|`a|>|'|"|\|a #b|a\b|<<|---|...|0x1|+48V OH L|-10 Line|a'|a-|a:b|2026-01-01|Bass <DI> & "Amp"|.|Übersicht|日本語|🥁
""".replace("\n", "|")
    .strip("|")
    .split("|")
)
"""Names that YAML, or a program further on, could take for something else."""

LAPTOP = (
    "[{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, "
    "measured: [{buffer: 64, rate: 48000, round_trip_frames: 331}]}]"
)
"""A computer on the card of the shipped desk, with nothing left open."""


@functools.cache
def desk() -> Desk:
    """Return the shipped desk."""
    return read_desk(DESK_TEXT, "desk.yaml")


def desk_with(old: str, new: str) -> str:
    """Return the text of the shipped desk with one place changed, once."""
    assert old in DESK_TEXT, f"the shipped desk has no {old!r}"
    return DESK_TEXT.replace(old, new, 1)


def desk_line(words: str) -> int:
    """Return the line of the shipped desk in which these words first stand."""
    return DESK_TEXT[: DESK_TEXT.index(words)].count("\n") + 1


def small(
    *,
    head: str = f"sidetrip: 1\nshow: small\nsample_rate: 48000\ndesk: {{type: {DESK_TYPE}}}\n",
    inputs: str = "[{name: Vox, ch: 1, port: stage 1, to: [Main]}]",
    mixes: str = "[{name: Main, kind: main, width: stereo}]",
    outputs: str = "[{name: PA, from: Main, port: local out 1-2}]",
    **more: str,
) -> str:
    """Return the text of a show with one section a line: inputs in line 5, mixes in 6, outputs in 7, then the rest.

    Each section is YAML, as it stands behind its colon.
    """
    sections = {"inputs": inputs, "mixes": mixes, "outputs": outputs, **more}
    return head + "".join(f"{section}: {text}\n" for section, text in sections.items())


def looped(requests: str = "[{strip: Vox, chain: thin, want: 5}]", **more: str) -> str:
    """Return a small show with a laptop, a chain and requests."""
    sections = {"units": LAPTOP, "chains": "{thin: [{eq: {}}]}", **more}
    return small(**sections, requests=requests)


def findings_of(
    text: str, *, desk_text: str = DESK_TEXT, files: Mapping[str, str] | None = None, buffer: int | None = None
) -> tuple[Finding, ...]:
    """Return everything found by reading, checking and planning a show, none of it on a disk."""
    store = ShowFolderInMemory({"show.yaml": text, **(files or {})})
    try:
        return plan(store, DesksInMemory({DESK_TYPE: desk_text}), "show.yaml", buffer_frames=buffer).findings
    except WithFindings as error:
        return error.findings


def codes(findings: Iterable[Finding]) -> list[str]:
    """Return the codes of findings, each once, sorted."""
    return sorted({finding.code for finding in findings})


def only(findings: Iterable[Finding], code: str) -> Finding:
    """Return the one finding of this code."""
    found = [finding for finding in findings if finding.code == code]
    assert len(found) == 1, [str(finding) for finding in findings]
    return found[0]
