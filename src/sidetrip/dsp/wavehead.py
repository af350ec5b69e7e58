"""The header of a WAV file to be written: as long for an empty file as for a full one, so it can be put in later.

A `JUNK` chunk of 28 bytes keeps the place of `ds64`; a file that outgrows 32-bit sizes becomes RF64 by writing the
header again (EBU Tech 3306). Other chunks stand before the sound, so that a file that is cut short still has them.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

from sidetrip.dsp.wavefmt import Format, format_bytes

LONGEST_RIFF = 0xFFFFFFFE
"""The largest size of a plain WAV file, as it counts itself; one more would read as "look in ds64"."""

_RESERVE_BYTES = 28
_OWN = frozenset({b"RIFF", b"RF64", b"BW64", b"JUNK", b"ds64", b"fmt ", b"fact", b"data"})


def wave_header(
    form: Format,
    frames: int,
    chunks: Mapping[bytes, bytes] | None = None,
    reserve: bool = True,
    longest: int = LONGEST_RIFF,
) -> bytes:
    """Return everything up to the first frame of a file of so many frames. An odd end needs one zero byte more.

    chunks: contents by four-letter id, in this order. reserve: keep the place for the long form; without, a file that
    is too long raises ValueError. longest: the size from which the long form is taken.
    """
    odd = [name for name in chunks or {} if len(name) != 4 or name in _OWN or not name.isascii()]
    if odd:
        raise ValueError(f"{odd[0]!r} cannot be the id of a chunk of your own; take four other letters.")
    fixed = format_bytes(form)
    data_bytes = frames * form.frame_bytes
    before = [(b"JUNK", bytes(_RESERVE_BYTES))] if reserve else []
    before.append((b"fmt ", fixed))
    if form.encoding.is_float:
        before.append((b"fact", struct.pack("<I", min(frames, 0xFFFFFFFF))))
    before.extend((chunks or {}).items())
    body = b"".join(map(_chunk, *zip(*before, strict=True)))
    riff = 4 + len(body) + 8 + data_bytes + data_bytes % 2
    if riff <= longest:
        return struct.pack("<4sI4s", b"RIFF", riff, b"WAVE") + body + struct.pack("<4sI", b"data", data_bytes)
    if not reserve:
        raise ValueError(f"{riff} bytes are too many for a plain WAV file; keep the reserve for its long form.")
    sizes = _chunk(b"ds64", struct.pack("<QQQI", riff, data_bytes, frames, 0))
    rest = body[len(sizes) :]
    return struct.pack("<4sI4s", b"RF64", 0xFFFFFFFF, b"WAVE") + sizes + rest + struct.pack("<4sI", b"data", 0xFFFFFFFF)


def _chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack("<4sI", name, len(content)) + content + bytes(len(content) % 2)
