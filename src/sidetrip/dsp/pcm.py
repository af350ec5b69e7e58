"""Sound bytes as numbers and back: little-endian samples and float32 frames, full scale at 1.0.

Reading never rounds what float32 can hold: 8, 16 and 24 bits and 32-bit floats come out exactly, 32-bit integers
and 64-bit floats are rounded to the nearest float32. Writing rounds to the nearest step (an exact half to the even
one), never wraps, and counts what it had to clip.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Raw = bytes | bytearray | memoryview

_STEP_SAMPLES = 65536
"""Samples taken at once: what is between two passes stays in the processor's cache."""


class Encoding(Enum):
    """How one sample is stored: (bytes, words for people)."""

    U8 = (1, "8-bit")
    I16 = (2, "16-bit")
    I24 = (3, "24-bit")
    I32 = (4, "32-bit")
    F32 = (4, "32-bit float")
    F64 = (8, "64-bit float")

    @property
    def sample_bytes(self) -> int:
        """Bytes of one sample of one channel."""
        return self.value[0]

    @property
    def words(self) -> str:
        """The encoding in words, as "24-bit"."""
        return self.value[1]

    @property
    def is_float(self) -> bool:
        """Tell whether samples may exceed full scale, or be no numbers at all."""
        return self in {Encoding.F32, Encoding.F64}


def decode(
    raw: Raw, encoding: Encoding, channels: int, columns: Sequence[int] | None = None, out: Samples | None = None
) -> Samples:
    """Return interleaved bytes as (frames, channels) float32; a last part of a frame is left out.

    columns: the channels wanted, from 0, in the order wanted; None is all of them. out: where to put them, of the
    shape (frames, columns) and any strides; it is what is returned. Non-finite floats come out as they are.
    """
    frame_bytes = channels * encoding.sample_bytes
    frames = memoryview(raw).nbytes // frame_bytes
    wanted = range(channels) if columns is None else columns
    if out is None:
        out = np.empty((frames, len(wanted)), np.float32)
    elif out.shape != (frames, len(wanted)) or out.dtype != np.float32:
        raise ValueError(f"out is {out.dtype} {out.shape}; give float32 {(frames, len(wanted))}.")
    if frames == 0:
        return out
    if columns is None and out.flags.c_contiguous:
        _lane(raw, encoding, 0, encoding.sample_bytes, out.reshape(-1))
        return out
    for place, column in enumerate(wanted):
        if not 0 <= column < channels:
            raise ValueError(f"There is no channel {column} among {channels}; they count from 0.")
        _lane(raw, encoding, column * encoding.sample_bytes, frame_bytes, out[:, place])
    return out


def _lane(raw: Raw, encoding: Encoding, first: int, stride: int, out: Samples) -> None:
    """Decode the samples that start at byte `first` and every `stride` bytes from there, as many as out takes."""
    if encoding is Encoding.I24:
        _lane_24(raw, first, stride, out)
        return
    kind = {Encoding.U8: "u1", Encoding.I16: "<i2", Encoding.I32: "<i4", Encoding.F32: "<f4", Encoding.F64: "<f8"}
    stored: NDArray[Any] = np.ndarray(out.shape, kind[encoding], raw, first, (stride,))
    with np.errstate(all="ignore"):  # a double beyond float32 becomes infinite, which the caller looks for
        out[...] = stored
    if encoding is Encoding.U8:
        out -= 128
    if not encoding.is_float:
        out *= np.float32(2.0 ** (1 - 8 * encoding.sample_bytes))


def _lane_24(raw: Raw, first: int, stride: int, out: Samples) -> None:
    """Read 24-bit samples four bytes at a time; the fourth belongs to the next and is shifted out.

    That is several times as fast as gathering three bytes. The last sample has no byte behind it.
    """
    whole = out.size - 1
    stored: NDArray[np.int32] = np.ndarray((whole,), "<i4", raw, first, (stride,))
    room = np.empty(min(whole, _STEP_SAMPLES), np.int32)
    for start in range(0, whole, _STEP_SAMPLES):
        stop = min(start + _STEP_SAMPLES, whole)
        words, part = room[: stop - start], out[start:stop]
        words[...] = stored[start:stop]
        np.left_shift(words, 8, out=words)
        part[...] = words
        part *= np.float32(2.0**-31)
    last = first + whole * stride
    out[-1] = int.from_bytes(bytes(memoryview(raw)[last : last + 3]), "little", signed=True) / 2.0**23


def encode(samples: NDArray[np.floating[Any]], encoding: Encoding) -> tuple[bytes, int]:
    """Return (frames, channels) of any float type as interleaved bytes, and how many samples had to be clipped.

    16-bit, 24-bit and 32-bit float only. Clipped is what lies beyond ±1.0, which becomes the largest step, and what
    is no number, which becomes silence. +1.0 itself becomes the largest step without being counted: it is one step
    off. Floats are stored as they are, nothing of them counts as clipped.
    """
    if encoding is Encoding.F32:
        with np.errstate(over="ignore"):
            return samples.astype("<f4").tobytes(), 0
    if encoding not in {Encoding.I16, Encoding.I24}:
        raise ValueError(f"{encoding.words} samples are not written; choose 16-bit, 24-bit or 32-bit float.")
    if samples.dtype not in {np.dtype(np.float32), np.dtype(np.float64)}:
        samples = samples.astype(np.float64)
    within = np.abs(samples) <= 1.0  # False for what is no number, too
    clipped = samples.size - int(np.count_nonzero(within))
    if clipped:
        samples = np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0).clip(-1.0, 1.0)
    steps = 2 ** (8 * encoding.sample_bytes - 1)
    # A power of two loses nothing, not even in float32; the top step alone does not exist.
    scaled = np.rint(samples * samples.dtype.type(steps))
    whole = np.minimum(scaled, samples.dtype.type(steps - 1)).astype("<i4")
    if encoding is Encoding.I16:
        return whole.astype("<i2").tobytes(), clipped
    return np.ascontiguousarray(whole).view(np.uint8).reshape(-1, 4)[:, :3].tobytes(), clipped


def longest_s(limit_bytes: int, encoding: Encoding, channels: int, rate_hz: int) -> float:
    """Return the seconds of sound that fit in so many bytes."""
    return limit_bytes / data_rate(encoding, channels, rate_hz)


def data_rate(encoding: Encoding, channels: int, rate_hz: int) -> int:
    """Return the bytes that one second takes."""
    return encoding.sample_bytes * channels * rate_hz
