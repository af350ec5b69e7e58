"""Writes a WAV file beside its place and moves it there when it is whole."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.pcm import Encoding, encode
from sidetrip.dsp.wavefmt import Format
from sidetrip.dsp.wavehead import LONGEST_RIFF, wave_header
from sidetrip.errors import RecordingUnreadable, WouldOverwrite
from sidetrip.findings import Finding

_ENCODINGS = {"16-bit": Encoding.I16, "24-bit": Encoding.I24, "float": Encoding.F32}
_MOST_CHANNELS = 65535 // 4  # a frame's size is a 16-bit number


def write_wave(
    path: str,
    blocks: Iterable[NDArray[np.floating[Any]]],
    rate_hz: int,
    channels: int,
    encoding: str = "24-bit",
    chunks: Mapping[bytes, bytes] | None = None,
    replace: bool = False,
    longest: int = LONGEST_RIFF,
) -> int:
    """Write (frames, channels) blocks; as Recordings.write_wave. longest: the size from which it becomes RF64."""
    if encoding not in _ENCODINGS:
        raise ValueError(f"{encoding!r} is not written; choose {', '.join(_ENCODINGS)}.")
    if not (1 <= channels <= _MOST_CHANNELS and rate_hz >= 1):
        raise ValueError(f"{channels} channels at {rate_hz} Hz cannot be written; give 1 or more of both.")
    form = Format(rate_hz, channels, _ENCODINGS[encoding])
    header = wave_header(form, 0, chunks, longest=longest)  # a wrong id is found before anything is touched
    target = Path(path)
    try:
        if "\0" in path or not target.name:
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        _check_free(target, replace)
        target.parent.mkdir(parents=True, exist_ok=True)
        waiting = target.with_name(f".sidetrip-{secrets.token_hex(6)}.part")
        try:
            with waiting.open("xb") as file:
                file.write(header)
                frames, clipped = _write_sound(file, blocks, form)
                file.seek(0)
                file.write(wave_header(form, frames, chunks, longest=longest))
                file.flush()
                os.fsync(file.fileno())
            _check_free(target, replace)  # somebody may have been faster
            waiting.replace(target)
        except BaseException:
            with contextlib.suppress(OSError):
                waiting.unlink(missing_ok=True)
            raise
    except OSError as error:
        what = f"The recording cannot be written: {error.strerror or error}"
        shown = os.fsencode(path).decode("utf-8", "replace")
        remedy = "Free some space, or choose another folder"
        raise RecordingUnreadable(
            [Finding("recording-unreadable", "recording", what, repr(shown), remedy, file=shown)]
        ) from error
    return clipped


def _check_free(target: Path, replace: bool) -> None:
    if replace:
        return
    with contextlib.suppress(FileNotFoundError, NotADirectoryError):
        target.lstat()
        raise WouldOverwrite(str(target))


def _write_sound(file: BinaryIO, blocks: Iterable[NDArray[np.floating[Any]]], form: Format) -> tuple[int, int]:
    """Write the sound and its last byte, if one is needed; return (frames, clipped)."""
    frames = clipped = 0
    for block in blocks:
        if block.ndim != 2 or block.shape[1] != form.channels:
            raise ValueError(f"A block of shape {block.shape} came; give (frames, {form.channels}).")
        stored, over = encode(block, form.encoding)
        file.write(stored)
        frames += len(block)
        clipped += over
    file.write(bytes(frames * form.frame_bytes % 2))
    return frames, clipped
