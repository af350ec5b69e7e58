"""Recordings in memory: sounds under their paths, with what a disk would have to say of them."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from sidetrip.application.recording_ports import WaveEncoding
from sidetrip.errors import RecordingUnreadable, WouldOverwrite
from sidetrip.findings import Finding, ordered

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Sound:
    """One file: samples (frames, channels), and what the real reader would have repaired."""

    samples: NDArray[np.floating[Any]]
    rate_hz: int = 48000
    encoding: str = "24-bit WAV"
    repairs: tuple[str, ...] = ()
    chunks: Mapping[bytes, bytes] = field(default_factory=dict)


class AudioFilesInMemory:
    """Recordings by path. A sound of no frames stands for a file that cannot be read."""

    def __init__(self, sounds: Mapping[str, Sound] | None = None) -> None:
        self.sounds = {posixpath.normpath(path): sound for path, sound in (sounds or {}).items()}
        self.broken = False  # the disk is full

    def open(self, paths: Sequence[str]) -> RecordingInMemory:
        findings: list[Finding] = []
        found = [named for path in paths for named in self._spread(path, findings)]
        if not paths:
            findings.append(_finding("recording-missing", "No recording was named", "no path"))
        for path, sound in found:
            if not len(sound.samples):
                findings.append(_finding("recording-unreadable", "The file holds no sound", path, path))
        rates = sorted({sound.rate_hz for _, sound in found})
        if len(rates) > 1:
            values = ", ".join(f"{rate_hz} Hz" for rate_hz in rates)
            findings.append(_finding("recording-unlike", "The files differ in sample rate", values))
        if findings:
            raise RecordingUnreadable(ordered(findings))
        return RecordingInMemory(found)

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
        place = posixpath.normpath(path)
        if any(name in {b"data", b"fmt ", b"ds64", b"JUNK"} or len(name) != 4 for name in chunks or {}):
            raise ValueError("cannot be the id of a chunk")
        if not replace and (place in self.sounds or self._inside(place)):
            raise WouldOverwrite(path)
        clipped, parts = 0, [np.empty((0, channels), np.float32)]
        for block in blocks:
            if block.ndim != 2 or block.shape[1] != channels:
                raise ValueError(f"A block of shape {block.shape} came; give (frames, {channels}).")
            stored, over = _stored(block, encoding)
            parts.append(stored)
            clipped += over
        if self.broken:
            raise RecordingUnreadable([_finding("recording-unreadable", "It cannot be written", path, path)])
        words = "32-bit float" if encoding == "float" else encoding
        self.sounds[place] = Sound(np.concatenate(parts), rate_hz, f"{words} WAV", (), dict(chunks or {}))
        return clipped

    def _inside(self, folder: str) -> list[str]:
        return sorted((path for path in self.sounds if posixpath.dirname(path) == folder), key=_natural)

    def _spread(self, path: str, findings: list[Finding]) -> list[tuple[str, Sound]]:
        place = posixpath.normpath(path)
        if place in self.sounds:
            return [(path, self.sounds[place])]
        if not (inside := self._inside(place)):
            findings.append(_finding("recording-missing", "There is no such file or folder", path, path))
        return [(name, self.sounds[name]) for name in inside]


class RecordingInMemory:
    """A Recording of sounds in memory."""

    def __init__(self, sounds: Sequence[tuple[str, Sound]]) -> None:
        self._sounds = sounds
        names = [posixpath.basename(path) for path, _ in sounds]
        named = [path if names.count(name) > 1 else name for (path, _), name in zip(sounds, names, strict=True)]
        self._names = named
        self.tracks = tuple(
            f"{name}, channel {n}" if sound.samples.shape[1] > 1 else name
            for name, (_, sound) in zip(named, sounds, strict=True)
            for n in range(1, sound.samples.shape[1] + 1)
        )
        self.rate_hz = sounds[0][1].rate_hz
        self.channels = len(self.tracks)
        self.frames = max(len(sound.samples) for _, sound in sounds)
        self.encoding = ", ".join(dict.fromkeys(sound.encoding for _, sound in sounds))
        self._whole = np.zeros((self.frames, self.channels), np.float32)
        first = 0
        for _, sound in sounds:
            self._whole[: len(sound.samples), first : first + sound.samples.shape[1]] = sound.samples
            first += sound.samples.shape[1]
        self._bad = ~np.isfinite(self._whole)
        self._read_bad = np.zeros_like(self._bad)
        self._whole[self._bad] = 0.0

    def findings(self) -> tuple[Finding, ...]:
        found = [
            _finding("recording-repaired", text, "as the test says", path)
            for path, sound in self._sounds
            for text in sound.repairs
        ]
        short = [
            name for name, (_, sound) in zip(self._names, self._sounds, strict=True) if len(sound.samples) < self.frames
        ]
        if short:
            found.append(_finding("recording-padded", "The files differ in length", ", ".join(short)))
        places = [f"{self.tracks[track]} frame {frame}" for frame, track in np.argwhere(self._read_bad)]
        if places:
            more = f"; and {len(places) - 20} more" if len(places) > 20 else ""
            values = "; ".join(places[:20]) + more
            found.append(_finding("samples-not-finite", "Some samples are no numbers", values))
        return ordered(found)

    def blocks(
        self, frames: int, start: int = 0, stop: int | None = None, tracks: Sequence[int] | None = None
    ) -> Iterator[Samples]:
        if frames < 1:
            raise ValueError(f"A block of {frames} frames cannot be.")
        end = self._end(start, stop, tracks)
        return (self.read(at, min(at + frames, end), tracks) for at in range(start, end, frames))

    def read(self, start: int = 0, stop: int | None = None, tracks: Sequence[int] | None = None) -> Samples:
        part = slice(start, max(start, self._end(start, stop, tracks)))
        wanted = list(range(self.channels) if tracks is None else tracks)
        self._read_bad[part, wanted] = self._bad[part, wanted]
        return self._whole[part, wanted].copy()

    def chunk(self, name: bytes) -> bytes | None:
        return self._sounds[0][1].chunks.get(name)

    def close(self) -> None:
        pass

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _end(self, start: int, stop: int | None, tracks: Sequence[int] | None) -> int:
        if start < 0 or (stop is not None and stop < 0) or any(not 0 <= t < self.channels for t in tracks or ()):
            raise ValueError("There is no such frame or track.")
        return self.frames if stop is None else min(stop, self.frames)


def _stored(block: NDArray[np.floating[Any]], encoding: str) -> tuple[Samples, int]:
    """Return a block as it would be read again, and how much of it was clipped."""
    if encoding == "float":
        return block.astype(np.float32), 0
    steps = 2.0**15 if encoding == "16-bit" else 2.0**23
    within = np.abs(block) <= 1.0
    held = np.nan_to_num(block.astype(np.float64), nan=0.0).clip(-1.0, 1.0)
    return (np.minimum(np.rint(held * steps), steps - 1) / steps).astype(np.float32), int((~within).sum())


def _natural(path: str) -> list[str | int]:
    return [int(part) if part.isdecimal() else part for part in re.split(r"([0-9]+)", path.casefold())]


def _finding(code: str, what: str, values: str, path: str | None = None) -> Finding:
    return Finding(code, "recording", what, values, "Look at the recording", file=path)
