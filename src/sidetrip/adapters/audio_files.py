"""Recordings on disk: files and folders of them, opened as one."""

from __future__ import annotations

import contextlib
import os
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from sidetrip.adapters.audio_sources import NoFileError, Samples, Source, open_source
from sidetrip.adapters.odd_samples import OddSamples
from sidetrip.adapters.wave_writer import write_wave
from sidetrip.application.recording_ports import WaveEncoding
from sidetrip.dsp.wavewords import NotAWave, shown_s
from sidetrip.errors import RecordingUnreadable
from sidetrip.findings import Finding, ordered

_SUFFIXES = (
    *(".wav", ".wave", ".bwf", ".bw64", ".rf64", ".w64", ".flac", ".aif", ".aiff", ".aifc"),
    *(".au", ".snd", ".caf", ".mp3", ".oga", ".ogg", ".opus"),
)
_MOST_NAMED = 20
_ANOTHER_PATH = "Check the path"
_ANOTHER_COPY = "Use another copy of the file"


@dataclass(frozen=True, slots=True)
class _File:
    """One open file, its path as typed, the name it goes by, and the first of its tracks."""

    source: Source
    path: str
    name: str
    first: int


class AudioFiles:
    """The real Recordings."""

    def open(self, paths: Sequence[str]) -> FileRecording:
        """Open files, or folders of files, as one recording. Raises RecordingUnreadable."""
        findings: list[Finding] = []
        with contextlib.ExitStack() as opened:
            sources: list[tuple[str, Source]] = []
            for path in _spread(paths, findings):
                if isinstance(source := _open(path), Finding):
                    findings.append(source)
                else:
                    opened.callback(source.close)
                    sources.append((path, source))
            findings.extend(_unlike(sources))
            if findings:
                raise RecordingUnreadable(ordered(findings))
            opened.pop_all()
        return FileRecording(sources)

    def write_wave(
        self,
        path: str,
        blocks: Iterable[NDArray[np.floating[Any]]],
        rate_hz: int,
        channels: int,
        encoding: WaveEncoding = "24-bit",
        chunks: Mapping[bytes, bytes] | None = None,
        replace: bool = False,
    ) -> int:
        """Write one WAV file, whole or not at all, and return how many samples were clipped."""
        return write_wave(path, blocks, rate_hz, channels, encoding, chunks, replace)


class FileRecording:
    """The real Recording. Takes the files over: they are closed with it."""

    def __init__(self, sources: Sequence[tuple[str, Source]]) -> None:
        names = [shown(Path(path).name) for path, _ in sources]
        often = Counter(names)
        files: list[_File] = []
        tracks: list[str] = []
        for (path, source), short in zip(sources, names, strict=True):
            name = short if often[short] == 1 else shown(path)
            files.append(_File(source, shown(path), name, len(tracks)))
            several = source.channels > 1
            tracks += [f"{name}, channel {n}" if several else name for n in range(1, source.channels + 1)]
        self._files = tuple(files)
        self._owners = tuple(file for file in files for _ in range(file.source.channels))
        self.tracks = tuple(tracks)
        self.channels = len(tracks)
        self.rate_hz = files[0].source.rate_hz
        self.frames = max(file.source.frames for file in files)
        self.encoding = ", ".join(dict.fromkeys(file.source.words for file in files))
        self._odd = OddSamples(self.tracks, self.rate_hz)

    def findings(self) -> tuple[Finding, ...]:
        """Return what was repaired, padded or no number, as far as is known by now."""
        found = [
            Finding("recording-repaired", file.name, repair.what, repair.values, repair.remedy, file=file.path)
            for file in self._files
            for repair in file.source.repairs
        ]
        return ordered([*found, *self._padded(), *self._odd.findings()])

    def blocks(
        self, frames: int, start: int = 0, stop: int | None = None, tracks: Sequence[int] | None = None
    ) -> Iterator[Samples]:
        """Yield (frames, tracks) arrays in order, each its own."""
        if frames < 1:
            raise ValueError(f"A block of {frames} frames cannot be; give 1 or more.")
        end = self._checked(start, stop, tracks)
        return (self._read(at, min(at + frames, end), tracks) for at in range(start, end, frames))

    def read(self, start: int = 0, stop: int | None = None, tracks: Sequence[int] | None = None) -> Samples:
        """Return (frames, tracks) in one array."""
        end = self._checked(start, stop, tracks)
        return self._read(start, max(start, end), tracks)

    def chunk(self, name: bytes) -> bytes | None:
        """Return the content of a chunk of the first file."""
        with _told(self._files[0]):
            return self._files[0].source.chunk(name)

    def close(self) -> None:
        """Close the files."""
        for file in self._files:
            file.source.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _checked(self, start: int, stop: int | None, tracks: Sequence[int] | None) -> int:
        """Return where to stop. Raises ValueError for what cannot be asked."""
        if start < 0 or (stop is not None and stop < 0):
            raise ValueError(f"Frames count from 0; there are none from {start} to {stop}.")
        if wrong := [track for track in tracks or () if not 0 <= track < self.channels]:
            raise ValueError(f"There is no track {wrong[0]} among {self.channels}; they count from 0.")
        return self.frames if stop is None else min(stop, self.frames)

    def _read(self, start: int, stop: int, tracks: Sequence[int] | None) -> Samples:
        wanted = range(self.channels) if tracks is None else tracks
        out = np.empty((stop - start, len(wanted)), np.float32)
        place = 0
        # Neighbours from one file are read together.
        for file, group in groupby(wanted, self._owners.__getitem__):
            numbers = list(group)
            columns = [number - file.first for number in numbers]
            part = out[:, place : place + len(columns)]
            there = max(0, min(stop, file.source.frames) - start)
            part[there:] = 0.0
            if there:
                whole = columns == list(range(file.source.channels))
                with _told(file):
                    file.source.read_into(part[:there], start, None if whole else columns)
                if file.source.may_be_odd:
                    self._odd.clean(part[:there], start, numbers)
            place += len(columns)
        return out

    def _padded(self) -> Iterator[Finding]:
        lost = [(file.name, self.frames - file.source.frames) for file in self._files]
        short = [f"{name} {shown_s(frames, self.rate_hz)} ({frames} frames)" for name, frames in lost if frames]
        if short:
            more = f" and {len(short) - _MOST_NAMED} more" if len(short) > _MOST_NAMED else ""
            length = shown_s(self.frames, self.rate_hz)
            what = f"The files differ in length; the shorter were filled with silence to {length}"
            values = "shorter by: " + ", ".join(short[:_MOST_NAMED]) + more
            yield Finding("recording-padded", "recording", what, values, "Check that they belong to one take")


def shown(text: str) -> str:
    """Return a path or name as it can be printed: bytes that are no text are marked, all else is unchanged."""
    return os.fsencode(text).decode("utf-8", "replace")


def natural(name: str) -> tuple[list[str | int], str]:
    """Return what sorts names as people do: runs of digits by value, capitals and ways to write umlauts alike."""
    plain = unicodedata.normalize("NFC", name).casefold()
    return [int(part) if part.isdecimal() else part for part in re.split(r"([0-9]+)", plain)], name


def _spread(paths: Sequence[str], findings: list[Finding]) -> Iterator[str]:
    """Yield the paths, and for a folder its audio files in natural order."""
    if not paths:
        findings.append(_missing("No recording was named", "no path", "Name a file, several, or a folder", None))
    for path in paths:
        try:
            if not Path(path).is_dir():
                yield path
                continue
            inside = [found.name for found in Path(path).iterdir() if found.name[0] != "." and not found.is_dir()]
        except (OSError, ValueError) as error:
            findings.append(_unreadable(path, f"It cannot be read: {_reason(error)}", repr(shown(path)), _ANOTHER_PATH))
            continue
        audio = [name for name in inside if Path(name).suffix.casefold() in _SUFFIXES]
        if not audio:
            others = ", ".join(shown(name) for name in sorted(inside)[:5]) or "nothing"
            remedy = "Name the folder with the files in it, or the files themselves"
            findings.append(_missing("The folder holds no audio files", f"it holds {others}", remedy, path))
        yield from (str(Path(path) / name) for name in sorted(audio, key=natural))


def _open(path: str) -> Source | Finding:
    """Open one file, or say why not."""
    try:
        source = open_source(path)
    except NoFileError:
        return _missing("There is no such file or folder", repr(shown(path)), _ANOTHER_PATH, path)
    except NotAWave as error:
        return _unreadable(path, error.what, error.values, error.remedy)
    except (OSError, ValueError) as error:
        what = f"The file cannot be read: {_reason(error)}"
        return _unreadable(path, what, repr(shown(path)), "Check that it is a file you may read")
    if source.frames > 0:
        return source
    source.close()
    told = "; ".join(f"{repair.what}: {repair.values}" for repair in source.repairs)
    values = f"0 frames of {source.channels} channels at {source.rate_hz} Hz" + (f"; {told}" if told else "")
    return _unreadable(path, "The file holds no sound", values, "Use another copy, or record the take again")


def _unlike(sources: Sequence[tuple[str, Source]]) -> Iterator[Finding]:
    """Yield what is wrong when files differ in rate."""
    rates: dict[int, list[str]] = {}
    for path, source in sources:
        rates.setdefault(source.rate_hz, []).append(shown(Path(path).name))
    if len(rates) > 1:
        values = "; ".join(
            f"{rate_hz} Hz: {', '.join(names[:_MOST_NAMED])}"
            + (f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else "")
            for rate_hz, names in sorted(rates.items())
        )
        remedy = "Open those of one rate together, or convert them to one rate first"
        yield Finding("recording-unlike", "recording", "The files differ in sample rate", values, remedy)


@contextlib.contextmanager
def _told(file: _File) -> Iterator[None]:
    """Turn a failing disk into a finding."""
    try:
        yield
    except OSError as error:
        what = f"The file failed while it was read: {_reason(error)}"
        raise RecordingUnreadable([_unreadable(file.path, what, repr(file.path), _ANOTHER_COPY)]) from error


def _missing(what: str, values: str, remedy: str, path: str | None) -> Finding:
    return Finding("recording-missing", "recording", what, values, remedy, file=None if path is None else shown(path))


def _unreadable(path: str, what: str, values: str, remedy: str) -> Finding:
    return Finding("recording-unreadable", shown(Path(path).name), what, values, remedy, file=shown(path))


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
