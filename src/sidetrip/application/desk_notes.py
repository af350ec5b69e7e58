"""What the page keeps beside a show: which patch steps are done, and the texts that its changes replaced.

One small JSON file in the show's folder. Whoever deletes it loses ticks and undo, nothing of the show.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sidetrip.application.ports import ShowStore
from sidetrip.errors import ShowChanged, ShowUnreadable

FILE = ".sidetrip-page.json"
_VERSION = 1
_MOST_UNDO = 20
_MOST_TEXT = 600_000
"""Characters of earlier texts that are kept: a file of more than a megabyte would not be read."""


@dataclass(frozen=True, slots=True)
class Undo:
    """A change that the page made. before, after: the revisions on both sides of it. text: what stood there before."""

    what: str
    before: str
    text: str
    after: str


class DeskNotes:
    """Ticks and undo of one show."""

    def __init__(self, store: ShowStore, show_file: str) -> None:
        """show_file: the notes lie beside it."""
        self._store = store
        self._path = store.beside(show_file, FILE)
        self._folder = store.beside(show_file, "")

    def ticks(self) -> Mapping[str, str]:
        """Return when each step that is done was ticked, by the step's own words."""
        found = self._read()[0].get("ticks", {})
        return {str(key): str(value) for key, value in found.items()} if isinstance(found, dict) else {}

    def tick(self, step: str, when: str | None) -> None:
        """Tick a step, or take its tick away with None. Raises ShowUnreadable when it cannot be kept."""

        def changed(notes: dict[str, Any]) -> None:
            ticks = dict(notes["ticks"]) if isinstance(notes.get("ticks"), dict) else {}
            if when is None:
                ticks.pop(step, None)
            else:
                ticks[step] = when
            notes["ticks"] = ticks

        self._change(changed)

    def untick_all(self) -> None:
        """Begin the patch again."""
        self._change(lambda notes: notes.update(ticks={}))

    def last(self) -> Undo | None:
        """Return the last change that can be undone."""
        stack = self._stack(self._read()[0])
        return stack[-1] if stack else None

    def push(self, undo: Undo) -> None:
        """Remember a change; the oldest are forgotten when there are too many."""

        def changed(notes: dict[str, Any]) -> None:
            stack = [*self._stack(notes), undo][-_MOST_UNDO:]
            while len(stack) > 1 and sum(len(own.text) for own in stack) > _MOST_TEXT:
                stack.pop(0)
            notes["undo"] = [asdict(own) for own in stack if len(own.text) <= _MOST_TEXT]

        self._change(changed)

    def pop(self) -> None:
        """Forget the last change."""
        self._change(lambda notes: notes.update(undo=[asdict(own) for own in self._stack(notes)[:-1]]))

    def _stack(self, notes: Mapping[str, Any]) -> list[Undo]:
        found = notes.get("undo", [])
        names = set(Undo.__slots__)
        return [
            Undo(**own)
            for own in (found if isinstance(found, list) else [])
            if isinstance(own, dict) and set(own) == names and all(isinstance(text, str) for text in own.values())
        ]

    def _read(self) -> tuple[dict[str, Any], bytes | None]:
        """Return the notes and the bytes that they were read from; notes that do not read are as good as none."""
        try:
            data = self._store.read_bytes(self._path)
        except ShowUnreadable:
            return {}, None
        try:
            notes = json.loads(data)
        except ValueError:
            return {}, data
        return (notes if isinstance(notes, dict) else {}), data

    def _change(self, change: Any) -> None:
        for attempt in (1, 2, 3):
            notes, data = self._read()
            change(notes)
            notes["sidetrip_page"] = _VERSION
            text = json.dumps(notes, ensure_ascii=False, indent=1).encode("utf-8")
            try:
                self._store.exchange(self._folder, {FILE: text}, {FILE: data})
                return
            except ShowChanged:
                if attempt == 3:
                    raise


__all__ = ["FILE", "DeskNotes", "Undo"]
