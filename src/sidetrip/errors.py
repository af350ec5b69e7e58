"""What cannot go on, as exceptions. Everything else is a Finding.

SidetripError
├── ShowUnreadable      the text is no show: the findings say why
├── RecordingUnreadable no sound comes out of a recording: the findings say why
├── NoPlan              the show is readable, but no plan can meet its musts
├── WouldOverwrite      a file that holds somebody's work is in the way
├── ShowChanged         a file is no longer what was read of it
└── Refused             a change that the page was asked for and did not make (in application.at_desk)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sidetrip.findings import Finding


class SidetripError(Exception):
    """The root of the tree: catch this to catch them all."""


class WithFindings(SidetripError):
    """An error whose reasons are findings, collected, not only the first."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("; ".join(str(finding) for finding in self.findings))


class ShowUnreadable(WithFindings):
    """A show file or desk file could not be read as what it should be."""


class RecordingUnreadable(WithFindings):
    """A recording could not be read as one."""


class NoPlan(WithFindings):
    """No plan meets every must; the findings name the set that conflicts."""


class WouldOverwrite(SidetripError):
    """Writing would destroy a file that is already there."""

    def __init__(self, path: str) -> None:
        self.path = path
        super().__init__(f"{path} is already there and was left alone. Choose another folder, or move it away.")


class ShowChanged(SidetripError):
    """Somebody changed a file between reading and writing it."""

    def __init__(self, path: str) -> None:
        self.path = path
        super().__init__(f"{path} was changed by somebody else in the meantime and was left alone. Run this again.")
