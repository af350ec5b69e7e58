"""A first show in four steps: the desk, the input list, mixes and ears, who wants out. It is kept as typed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import load_desk
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding, has_errors
from sidetrip.naming import slug
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.listedit import name_text
from sidetrip.showfile.read import place, read_show
from sidetrip.showfile.start import show_text
from sidetrip.showfile.tables import ListedInput, read_input_list

FILE = ".sidetrip-draft.json"
Short = Annotated[str, Field(max_length=120)]


class DraftMix(BaseModel):
    """A mix. takes: names of strips, with commas between. who: for whose ears, empty for nobody's."""

    model_config = ConfigDict(extra="forbid")
    name: Short
    kind: Literal["group", "aux", "main", "matrix"] = "aux"
    width: Literal["mono", "stereo"] = "stereo"
    who: Short = ""
    listens: Literal["", "in-ear", "wedge"] = ""
    takes: Annotated[str, Field(max_length=4000)] = ""


class DraftRequest(BaseModel):
    """A strip that wants out. want: "must", or 1 to 9, empty for no wish."""

    model_config = ConfigDict(extra="forbid")
    strip: Short
    want: Annotated[str, Field(pattern="^(|must|[1-9])$")] = ""
    chain: Short = ""


class Draft(BaseModel):
    """All that was typed so far. step: where the person is, 1 to 4. inputs: the list as it was pasted."""

    model_config = ConfigDict(extra="forbid")
    step: Annotated[int, Field(ge=1, le=4)] = 1
    show: Short = ""
    desk: Short = ""
    inputs: Annotated[str, Field(max_length=400_000)] = ""
    mixes: Annotated[list[DraftMix], Field(max_length=200)] = []
    requests: Annotated[list[DraftRequest], Field(max_length=600)] = []


@dataclass(frozen=True, slots=True)
class Understood:
    """How an input list was understood. notes: what was mended, and what was made of its columns."""

    rows: tuple[ListedInput, ...]
    notes: tuple[Finding, ...]


def read_draft(store: ShowStore, folder: str) -> Draft:
    """Return what was typed so far in a folder of shows; an empty draft where nothing is, or nothing that reads."""
    try:
        return Draft.model_validate_json(store.read_bytes(_path(store, folder)))
    except (ShowUnreadable, ValidationError):
        return Draft()


def keep_draft(store: ShowStore, folder: str, draft: Draft) -> None:
    """Keep what was typed. Raises ShowUnreadable, ShowChanged."""
    try:
        before: bytes | None = store.read_bytes(_path(store, folder))
    except ShowUnreadable:
        before = None
    text = json.dumps(draft.model_dump(), ensure_ascii=False, indent=1)
    store.exchange(folder, {FILE: text.encode("utf-8")}, {FILE: before})


def _path(store: ShowStore, folder: str) -> str:
    return store.beside(f"{folder}/show.yaml", FILE)


def understand(store: ShowStore, library: DeskLibrary, desk_name: str, text: str) -> Understood:
    """Read an input list as it was pasted. Raises ShowUnreadable with every row that is wrong."""
    desk = load_desk(store, library, desk_name)
    if not text.strip():
        return Understood((), ())
    rows, notes = read_input_list(text, "the pasted list", desk)
    return Understood(rows, notes)


def text_of(store: ShowStore, library: DeskLibrary, draft: Draft) -> str:
    """Return the show file of a draft. Raises ShowUnreadable with all that contradicts itself in it."""
    desk = load_desk(store, library, draft.desk)
    rows = understand(store, library, draft.desk, draft.inputs).rows
    text = show_text(draft.show.strip() or "New show", draft.desk, desk, rows)
    there = {mix.name for mix in read_show(text, "show.yaml").show.mixes}
    strips = [*there, *(mix.name.strip() for mix in draft.mixes), *(row.name for row in rows)]
    by_name = {name.lower(): name for name in reversed(strips)}
    mixes = "".join(
        f"  - {_mix(mix, by_name)}\n" for mix in draft.mixes if mix.name.strip() and mix.name.strip() not in there
    )
    text = text.replace("\noutputs:", f"{mixes}\noutputs:", 1) if mixes else text
    wants = [request for request in draft.requests if request.want]
    if wants:
        lines = "".join(f"  - {_request(request)}\n" for request in wants)
        text = text.replace("\nrequests: []\n", f"\nrequests:\n{lines}", 1)
        chains = dict.fromkeys(request.chain.strip() for request in wants if request.chain.strip())
        if chains:
            own = "".join(f"  {name_text(chain)}: []\n" for chain in chains)
            text = text.replace("\nchains: {}\n", f"\nchains:\n{own}", 1)
    reading = read_show(text, "show.yaml")
    found = place(check_show(reading.show, desk), reading.source)
    if has_errors(found):
        raise ShowUnreadable([finding for finding in found if has_errors([finding])])
    return text


def _mix(mix: DraftMix, strips: Mapping[str, str]) -> str:
    """Return a mix as a row. strips: what there is, by its name in small letters: nobody types capitals twice alike."""
    parts = [f"name: {name_text(mix.name.strip())}", f"kind: {mix.kind}", f"width: {mix.width}"]
    if mix.kind == "group":
        parts.append("to: [Main]")
    if mix.who.strip():
        parts.append(f"for: {name_text(mix.who.strip())}")
    if mix.listens:
        parts.append(f"listens: {mix.listens}")
    takes = [strips.get(name.strip().lower(), name.strip()) for name in mix.takes.split(",") if name.strip()]
    if takes and mix.kind != "group":
        parts.append(f"from: [{', '.join(name_text(name) for name in takes)}]")
    return "{" + ", ".join(parts) + "}"


def _request(request: DraftRequest) -> str:
    chain = f", chain: {name_text(request.chain.strip())}" if request.chain.strip() else ""
    return f"{{strip: {name_text(request.strip)}{chain}, want: {request.want}}}"


def make(store: ShowStore, library: DeskLibrary, folder: str, draft: Draft) -> str:
    """Write the show of a draft into a folder of its own beside the others, and return that folder's name.

    Raises ShowUnreadable, WouldOverwrite when there is a show of that name.
    """
    text = text_of(store, library, draft)
    name = slug(draft.show.strip() or "New show")
    store.create(store.beside(f"{folder}/show.yaml", name), {"show.yaml": text})
    keep_draft(store, folder, Draft())
    return name


__all__ = [
    "FILE",
    "Draft",
    "DraftMix",
    "DraftRequest",
    "Understood",
    "keep_draft",
    "make",
    "read_draft",
    "text_of",
    "understand",
]
