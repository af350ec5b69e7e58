"""The `bext` chunk of a broadcast WAV file (EBU Tech 3285): who recorded it and when, to the sample.

602 bytes in fixed places, then the coding history as free text. The five loudness fields came with version 2; before
it they were reserved.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from sidetrip.dsp.wavewords import Repair

# Description, originator, reference, date, time, time reference, version, UMID, loudness, reserved.
_FIXED = struct.Struct("<256s32s32s10s8sQH64s5h180x")
_NOT_SET = 0x7FFF
_FULL_HUNDREDTHS = 32767


@dataclass(frozen=True, slots=True)
class Loudness:
    """The loudness of the whole take as its writer measured it; None where it did not."""

    integrated_lufs: float | None = None
    range_lu: float | None = None
    max_true_peak_dbtp: float | None = None
    max_momentary_lufs: float | None = None
    max_short_term_lufs: float | None = None


@dataclass(frozen=True, slots=True)
class Bext:
    """The content of a `bext` chunk. time_reference_frames: samples since midnight at the first frame."""

    description: str = ""
    originator: str = ""
    originator_reference: str = ""
    date: str = ""
    time: str = ""
    time_reference_frames: int = 0
    version: int = 2
    umid: bytes = bytes(64)
    loudness: Loudness | None = None
    coding_history: str = ""


def parse_bext(content: bytes) -> tuple[Bext | None, tuple[Repair, ...]]:
    """Read the content of a chunk; what is too short for the fixed part is left out, and said."""
    if len(content) < _FIXED.size:
        what = "The `bext` chunk is cut short; what it tells of the take was left out"
        return None, (Repair(what, f"{len(content)} bytes, not {_FIXED.size}", "Nothing: the sound is not touched"),)
    texts = _FIXED.unpack_from(content)
    description, originator, originator_reference, date, time = map(_text, texts[:5])
    reference, version, umid = texts[5:8]
    stored = (None if value == _NOT_SET else value / 100 for value in texts[8:13])
    loudness = Loudness(*stored) if version >= 2 else None
    history = _text(content[_FIXED.size :])
    found = Bext(description, originator, originator_reference, date, time, reference, version, umid, loudness, history)
    return found, ()


def bext_bytes(bext: Bext) -> bytes:
    """Return the content of a chunk. Texts that are too long for their place are cut."""
    told = bext.loudness or Loudness()
    values = (
        told.integrated_lufs,
        told.range_lu,
        told.max_true_peak_dbtp,
        told.max_momentary_lufs,
        told.max_short_term_lufs,
    )
    texts = (bext.description, bext.originator, bext.originator_reference, bext.date, bext.time)
    stored = (_hundredths(value) for value in values) if bext.version >= 2 else (0,) * 5
    fixed = _FIXED.pack(
        *(text.encode("utf-8") for text in texts), bext.time_reference_frames, bext.version, bext.umid, *stored
    )
    return fixed + bext.coding_history.encode("utf-8")


def _hundredths(value: float | None) -> int:
    if value is None:
        return _NOT_SET
    return max(-_FULL_HUNDREDTHS, min(round(value * 100), _FULL_HUNDREDTHS - 1))


def _text(stored: bytes) -> str:
    """Return text up to its first zero byte; the standard says ASCII, writers use what they have."""
    written = stored.partition(b"\0")[0]
    try:
        return written.decode("utf-8").rstrip()
    except UnicodeDecodeError:
        return written.decode("latin-1").rstrip()
