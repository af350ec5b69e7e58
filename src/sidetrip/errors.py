"""What cannot go on, as exceptions. Everything else is a Finding.

SidetripError
├── ShowUnreadable      the text is no show: the findings say why
├── NoPlan              the show is readable, but no plan can meet its musts
└── WouldOverwrite      a file that holds somebody's work is in the way
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


class NoPlan(WithFindings):
    """No plan meets every must; the findings name the set that conflicts."""


class WouldOverwrite(SidetripError):
    """Writing would destroy a file that is already there."""

    def __init__(self, path: str) -> None:
        self.path = path
        super().__init__(f"{path} is already there and was left alone. Choose another folder, or move it away.")
