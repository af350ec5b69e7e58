"""The only file that names real adapters."""

from __future__ import annotations

from pathlib import Path

from sidetrip.adapters.clock import SystemClock
from sidetrip.adapters.desk_library import ShippedDesks
from sidetrip.adapters.show_folder import ShowFolder
from sidetrip.application.evidence_ports import EvidenceFiles, ThisSystem
from sidetrip.application.ports import Clock, DeskLibrary, Press, ShowStore
from sidetrip.application.proof_ports import ProofTexts
from sidetrip.application.recording_ports import Recordings

_PACKAGE = Path(__file__).parent


def show_store() -> ShowStore:
    """Return the shows on disk."""
    return ShowFolder()


def desk_library() -> DeskLibrary:
    """Return the desk types shipped with the package."""
    return ShippedDesks(_PACKAGE / "desks")


def demo_show() -> str | None:
    """Return the folder of the demo show, None where the program was installed without it."""
    demo = _PACKAGE.parent.parent / "demo" / "tin-lantern"
    return str(demo) if (demo / "show.yaml").is_file() else None


def clock() -> Clock:
    """Return the time of day."""
    return SystemClock()


def press() -> Press:
    """Return the press for paper; loads the typesetter only when something is printed."""
    from sidetrip.adapters.press import TypstPress

    return TypstPress(_PACKAGE / "reports" / "templates")


def recordings() -> Recordings:
    """Return the recordings on disk; loads the readers only when sound is read."""
    from sidetrip.adapters.audio_files import AudioFiles

    return AudioFiles()


def proof_texts() -> ProofTexts:
    """Return how proofs are written down."""
    from sidetrip.reports.proof_json import ProofJson

    return ProofJson()


def evidence_files() -> EvidenceFiles:
    """Return the logs of block times on disk."""
    from sidetrip.adapters.evidence_files import LogFiles

    return LogFiles()


def this_system() -> ThisSystem:
    """Return what this computer says of itself."""
    from sidetrip.adapters.this_system import LinuxSystem

    return LinuxSystem()
