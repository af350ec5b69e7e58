"""WAV files byte by byte, whole or wrong, put together without sidetrip's own writer."""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

SUBFORMAT = bytes.fromhex("000000001000800000aa00389b71")


def fmt(
    channels: int = 2,
    rate_hz: int = 48000,
    bits: int = 24,
    tag: int = 1,
    block: int | None = None,
    byte_rate: int | None = None,
) -> bytes:
    """Return the 16 bytes of a plain format; block and byte_rate may be given wrong."""
    block = channels * -(-bits // 8) if block is None else block
    byte_rate = rate_hz * channels * -(-bits // 8) if byte_rate is None else byte_rate
    return struct.pack("<HHIIHH", tag, channels, rate_hz, byte_rate, block, bits)


def extensible(tag: int = 1, channels: int = 2, rate_hz: int = 48000, bits: int = 24, guid: bytes = SUBFORMAT) -> bytes:
    """Return the 40 bytes of an extensible format."""
    return fmt(channels, rate_hz, bits, 0xFFFE) + struct.pack("<HHIH", 22, bits, 0, tag) + guid


def chunk(name: bytes, content: bytes, size: int | None = None, pad: bool = True) -> bytes:
    """Return one chunk; size: what it says instead of the truth; pad: the byte after an odd content."""
    told = len(content) if size is None else size
    return name + struct.pack("<I", told) + content + bytes(len(content) % 2 if pad else 0)


def wave(*chunks: bytes, form: bytes = b"RIFF", size: int | None = None) -> bytes:
    """Return a file; size: what it says of its own instead of the truth."""
    body = b"WAVE" + b"".join(chunks)
    return form + struct.pack("<I", len(body) if size is None else size) + body


def ds64(riff: int, data: int, frames: int, table: tuple[tuple[bytes, int], ...] = ()) -> bytes:
    """Return the chunk with the long sizes."""
    rows = b"".join(name + struct.pack("<Q", size) for name, size in table)
    return chunk(b"ds64", struct.pack("<QQQI", riff, data, frames, len(table)) + rows)


def bytes_24(steps: NDArray[np.int32]) -> bytes:
    """Return integers as interleaved 24-bit samples."""
    return np.ascontiguousarray(steps.astype("<i4")).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()


def programme(frames: int, channels: int, seed: int = 1) -> NDArray[np.int32]:
    """Return 24-bit integers of noise, each channel louder than the one before."""
    draw = np.random.default_rng(seed)
    loud = np.linspace(2.0**18, 2.0**21, channels)
    return (draw.standard_normal((frames, channels)) * loud).clip(-(2**23), 2**23 - 1).astype(np.int32)
