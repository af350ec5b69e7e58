"""One audio file: WAV by sidetrip's own reader, block by block; everything else by libsndfile."""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Sequence
from io import FileIO
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.pcm import decode
from sidetrip.dsp.wavefile import Layout, looks_like_wave, parse
from sidetrip.dsp.wavewords import NotAWave, OtherEncoding, Repair, shown_s

if TYPE_CHECKING:
    from soundfile import SoundFile

Samples = NDArray[np.float32]

_LARGEST_CHUNK = 16 << 20
_BUFFER_BYTES = 4 << 20
_COUNT_FRAMES = 65536
# A packed file that does not know its length says the largest number there is.
_NO_LENGTH = 1 << 62
_OTHER_COPY = "Use another copy, or convert the file to 24-bit WAV"
_WORDS = {
    "PCM_S8": "8-bit",
    "PCM_U8": "8-bit",
    "PCM_16": "16-bit",
    "PCM_24": "24-bit",
    "PCM_32": "32-bit",
    "FLOAT": "32-bit float",
    "DOUBLE": "64-bit float",
}


class NoFileError(Exception):
    """There is nothing at the path."""


class Source(Protocol):
    """One open file. may_be_odd: samples may be no numbers. repairs grows while reading."""

    rate_hz: int
    channels: int
    frames: int
    words: str
    may_be_odd: bool
    repairs: list[Repair]

    def read_into(self, out: Samples, start: int, columns: Sequence[int] | None) -> None:
        """Fill out (frames, columns) from frame `start` on; all of it lies within the file."""

    def chunk(self, name: bytes) -> bytes | None:
        """Return the content of a chunk."""

    def close(self) -> None:
        """Close the file."""


def open_source(path: str) -> Source:
    """Open one file. Raises NoFileError, NotAWave with the reason, or OSError."""
    try:
        kind = Path(path).stat().st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        raise NoFileError(path) from error
    if not stat.S_ISREG(kind):  # opening a pipe would wait for its other end
        raise NotAWave("This is no plain file", "a pipe, a device or a socket", "Save the sound to a file first")
    file = FileIO(path)
    try:
        size = os.fstat(file.fileno()).st_size
        if looks_like_wave(_read_at(file, 0, 12)) or size == 0:
            with contextlib.suppress(OtherEncoding):
                return WaveSource(file, parse(lambda offset, count: _read_at(file, offset, count), size))
    except BaseException:
        file.close()
        raise
    file.close()
    return LibrarySource(path)


def _read_at(file: FileIO, offset: int, count: int) -> bytes:
    room = bytearray(count)
    got = _fill(file, offset, memoryview(room))
    return bytes(room[:got])


def _fill(file: FileIO, offset: int, room: memoryview) -> int:
    """Read into a buffer until it is full or the file ends, and return how much came."""
    file.seek(offset)
    done = 0
    while done < len(room) and (got := file.readinto(room[done:])):
        done += got
    return done


class WaveSource:
    """A WAV, RF64 or BW64 file."""

    def __init__(self, file: FileIO, layout: Layout) -> None:
        self._file, self._layout = file, layout
        self.rate_hz, self.channels, self.frames = layout.rate_hz, layout.channels, layout.frames
        self.words = f"{layout.encoding.words} WAV"
        self.may_be_odd = layout.encoding.is_float
        self.repairs = list(layout.repairs)
        self._frame_bytes = layout.channels * layout.encoding.sample_bytes
        self._room = bytearray()

    def read_into(self, out: Samples, start: int, columns: Sequence[int] | None) -> None:
        """Read through one buffer of a few MiB that is used again and again."""
        most = max(1, _BUFFER_BYTES // self._frame_bytes)
        for first in range(0, len(out), most):
            part = out[first : first + most]
            wanted = len(part) * self._frame_bytes
            if len(self._room) < wanted:
                self._room = bytearray(wanted)
            room = memoryview(self._room)[:wanted]
            if _fill(self._file, self._layout.data_offset + (start + first) * self._frame_bytes, room) < wanted:
                raise OSError("the file became shorter while it was read")
            decode(room, self._layout.encoding, self.channels, columns, part)

    def chunk(self, name: bytes) -> bytes | None:
        """Return any chunk but the sound."""
        found = self._layout.chunk(name)
        if found is None or name == b"data" or found.size > _LARGEST_CHUNK:
            return None
        return _read_at(self._file, found.offset, found.size)

    def close(self) -> None:
        """Close the file."""
        self._file.close()


class LibrarySource:
    """A file that libsndfile reads."""

    may_be_odd = True

    def __init__(self, path: str) -> None:
        try:
            import soundfile
        except (ImportError, OSError) as error:  # OSError: the package is there, its library is not
            what = "Only WAV files can be read here: the library for others is missing"
            raise NotAWave(what, str(error), "Convert the file to WAV, or install soundfile") from error
        self._library = soundfile
        self._path = path
        self.repairs: list[Repair] = []
        try:
            self._file = self._open()
        except soundfile.LibsndfileError as error:
            raise NotAWave("This is no audio file that can be read", error.error_string, _OTHER_COPY) from error
        if self._file.format == "RAW":  # guessed from the file's name alone
            self._file.close()
            raise NotAWave("This is no audio file that can be read", "only its name looks like one", _OTHER_COPY)
        self.rate_hz, self.channels, self.frames = self._file.samplerate, self._file.channels, self._file.frames
        subtype = self._file.subtype
        self.words = f"{_WORDS.get(subtype, subtype)} {self._file.format}"
        self._exact = subtype in _WORDS  # of others, what comes depends on what was read before
        self._good = self.frames  # frames that can be unpacked, as far as is known
        if not 0 <= self.frames < _NO_LENGTH:
            self._count()

    def read_into(self, out: Samples, start: int, columns: Sequence[int] | None) -> None:
        """Read on from where the last read ended where possible: some formats do not find a place exactly."""
        whole = columns is None and out.flags.c_contiguous
        room = out if whole else np.empty((len(out), self.channels), np.float32)
        wanted = max(0, min(len(room), self._good - start))
        got = self._read(room[:wanted], start) if wanted else 0
        room[got:] = 0.0
        if got < wanted:
            self._tell_end(start + got)
        if not whole:
            out[...] = room if columns is None else room[:, list(columns)]

    def _open(self) -> SoundFile:
        self._at = 0
        return self._library.SoundFile(os.fsencode(self._path))

    def _read(self, room: Samples, start: int) -> int:
        """Return how many frames came; fewer than asked for where the file ends or is broken."""
        room[...] = np.nan  # where the library fails half-way, it does not say how far it came
        try:
            self._find(start)
            got = len(self._file.read(len(room), dtype="float32", always_2d=True, out=room))
            self._at += got
            return got
        except self._library.LibsndfileError:
            self._file.close()
            self._file = self._open()
            none = np.isnan(room).all(axis=1)
            return int(none.argmax()) if none.any() else len(room)

    def _find(self, start: int) -> None:
        """Go to a frame; by reading up to it where the library cannot jump, or would land beside."""
        if self._at == start:
            return
        if self._exact:
            with contextlib.suppress(self._library.LibsndfileError):
                self._file.seek(start)
                self._at = start
                return
        if self._at > start or self._exact:
            self._file.close()
            self._file = self._open()
        while self._at < start:
            got = len(self._file.read(min(_COUNT_FRAMES, start - self._at), dtype="float32"))
            self._at += got
            if got == 0:
                raise self._library.LibsndfileError(0)

    def _tell_end(self, good: int) -> None:
        """Note that nothing from a frame on can be unpacked: from now on that is silence, however it is read."""
        self._good = good
        lost = self.frames - good
        values = f"{shown_s(lost, self.rate_hz)} missing ({lost} frames), from {shown_s(good, self.rate_hz)} on"
        what = "The file is broken or cut short; what cannot be unpacked was taken as silence"
        self.repairs[:] = [repair for repair in self.repairs if repair.what != what]
        self.repairs.append(Repair(what, values, "Use another copy, or record the take again"))

    def _count(self) -> None:
        """Find the length by reading to the end."""
        room = np.empty((_COUNT_FRAMES, self.channels), np.float32)
        self.frames = 0
        while got := self._read(room, self.frames):
            self.frames += got
            if got < len(room):
                break
        self._good = self.frames
        what = "The header does not know how long the sound is; it was read to the end to find out"
        values = f"{shown_s(self.frames, self.rate_hz)}, {self.frames} frames are there"
        self.repairs.append(Repair(what, values, "Check that the end is the end of the take"))

    def chunk(self, _: bytes) -> bytes | None:
        """Return nothing: other formats have no such chunks."""
        return None

    def close(self) -> None:
        """Close the file."""
        self._file.close()
