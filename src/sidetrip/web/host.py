"""What the page is about: the show that is open, the folder where shows lie, and the long work that runs."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import Any

from sidetrip.application.at_desk import OpenShow, Seen
from sidetrip.application.ports import Clock, DeskLibrary, Press, ShowStore
from sidetrip.application.recording_ports import Recordings
from sidetrip.web.jobs import Job, Jobs, Told
from sidetrip.web.views.paper import Printed, print_sheets

SHOW_FILE = "show.yaml"
_PAUSE_S = 0.3
"""Before long work that a change causes: the answer to the change goes out first."""


@dataclass(slots=True)
class Host:
    """Everything that answers share. folder: where shows lie. demo: the demo show's folder, None where it is not here.

    opened: the show that the page is about, None at a first visit.
    """

    store: ShowStore
    library: DeskLibrary
    clock: Clock
    press: Press
    recordings: Recordings
    folder: str
    demo: str | None
    opened: OpenShow | None = None
    jobs: Jobs = field(default_factory=Jobs)
    _printed: dict[str, Printed] = field(default_factory=dict)

    def open(self, path: str) -> OpenShow:
        """Open a show and begin to find what there is to dial."""
        self.opened = OpenShow(self.store, self.library, path)
        self.align()
        return self.opened

    def align(self) -> Job | None:
        """Find what to dial beside the page, for the text as it is now; None where it is known or cannot be."""
        show = self.opened
        if show is None:
            return None
        seen = show.seen()
        if seen.plan is None or seen.aligned:
            return None

        def work(told: Told) -> Any:
            told("finding what to dial", 0, 0)
            time.sleep(_PAUSE_S)
            return {"revision": show.align().revision}

        return self.jobs.start("dial", seen.revision, "finding what to dial", work, anew=True)

    def ready_slider(self) -> Job | None:
        """Plan at every place of the buffer's slider beside the page, once for each text, when somebody looks at it."""
        show = self.opened
        seen = None if show is None else show.seen()
        if show is None or seen is None or seen.plan is None:
            return None

        def work(told: Told) -> Any:
            for number, buffer in enumerate(buffers := _stops_of(seen)):
                told("making the slider ready", number, len(buffers))
                show.at(buffer, None)
            return {"revision": seen.revision}

        return self.jobs.start("slider", seen.revision, "making the slider ready", work)

    def printed(self, seen: Seen) -> Printed:
        """Return the sheets of a plan, typeset once for each text of the show."""
        key = f"{seen.revision} {seen.aligned}"
        if key not in self._printed:
            self._printed.clear()
            self._printed[key] = print_sheets(self.press, self.clock, seen)
        return self._printed[key]

    def shows(self) -> tuple[tuple[str, str], ...]:
        """Return (folder name, title) of every show in the folder."""
        found = []
        for name in self.store.folders(self.folder):
            if SHOW_FILE in self.store.names(self.path_of(name)):
                found.append((name, OpenShow(self.store, self.library, self.path_of(name)).title() or name))
        return tuple(found)

    def path_of(self, name: str) -> str:
        """Return the path of a show by the name of its folder."""
        return self.store.beside(f"{self.folder}/{SHOW_FILE}", name)


def _stops_of(seen: Seen) -> tuple[int, ...]:
    from sidetrip.web.views.when import BUFFERS, buffer_of

    return () if seen.plan is None or buffer_of(seen.plan) is None else BUFFERS


__all__ = ["SHOW_FILE", "Host"]
