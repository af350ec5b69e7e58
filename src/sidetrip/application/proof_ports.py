"""What the use cases need of proofs kept as files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from sidetrip.findings import Finding
    from sidetrip.prove.proof import Proof


class ProofTexts(Protocol):
    """Proofs as text, one file each."""

    def write(self, proof: Proof | None, findings: Sequence[Finding]) -> str:
        """Return a proof with its findings as the text of a file; None says that there is none, and why."""

    def read(self, text: str, file: str) -> Proof:
        """Return the proof in a text that `write` made. Raises ValueError, in words, for any other text."""
