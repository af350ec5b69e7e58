"""What the use cases need of recordings: sound in, block by block, and sound out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import TracebackType
from typing import Any, Literal, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from sidetrip.findings import Finding

Samples = NDArray[np.float32]
WaveEncoding = Literal["16-bit", "24-bit", "float"]


class Recording(Protocol):
    """Sound of one or more files side by side, one rate, one length. Full scale is 1.0; floats may exceed it.

    Every sample handed out is finite. Reading twice gives the same, and blocks give what one long read gives, bit
    for bit. Not for two threads at once.
    """

    @property
    def rate_hz(self) -> int:
        """The sample rate."""

    @property
    def channels(self) -> int:
        """How many tracks there are, 1 or more."""

    @property
    def frames(self) -> int:
        """The length of the longest file, 1 or more; shorter ones are followed by silence."""

    @property
    def tracks(self) -> tuple[str, ...]:
        """The name of each track: "Kick.wav", or "Desk.wav, channel 3" (from 1) where the file holds several."""

    @property
    def encoding(self) -> str:
        """How the sound is stored, in words: "24-bit WAV", or several of them joined by commas."""

    def findings(self) -> tuple[Finding, ...]:
        """Return what was repaired, padded or no number, as far as is known by now; worst first.

        `samples-not-finite` and what is missing inside packed files (FLAC) come up only while reading.
        """

    def blocks(
        self, frames: int, start: int = 0, stop: int | None = None, tracks: Sequence[int] | None = None
    ) -> Iterator[Samples]:
        """Yield (frames, tracks) float32 arrays in order, each its own; the last may be shorter.

        start, stop: frames from 0; None is the end. What lies beyond the recording is not yielded. tracks: numbers
        from 0 in the order wanted; None is all. Raises ValueError for a track or size that cannot be, and
        RecordingUnreadable when a file fails under way.
        """

    def read(self, start: int = 0, stop: int | None = None, tracks: Sequence[int] | None = None) -> Samples:
        """Return (frames, tracks) float32 in one array. Start, stop, tracks and errors as in blocks."""

    def chunk(self, name: bytes) -> bytes | None:
        """Return the content of the first chunk of this four-letter id in the first file, None without one.

        Also None for a file that has no such chunks (FLAC), for the sound itself, and for more than 16 MiB.
        """

    def close(self) -> None:
        """Close the files; a second time does nothing."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...


class Recordings(Protocol):
    """Recordings on disk. Paths are text as the person typed them."""

    def open(self, paths: Sequence[str]) -> Recording:
        """Open files, or folders of files, as one recording, side by side in the order given.

        A folder stands for its audio files in natural order, "Track 2" before "Track 10"; hidden files and folders
        inside it are passed over. Raises RecordingUnreadable, with a finding for every file that is wrong.
        """

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
        """Write (frames, channels) blocks as one WAV file, whole or not at all; return how many samples were clipped.

        Clipped: beyond ±1.0 in an integer file, or no number at all; a float file keeps what it is given. chunks: id
        and content, written before the sound. Over 4 GiB the file becomes RF64, where some other readers stumble over
        chunks of odd length: even ones are the better choice. Raises WouldOverwrite unless replace,
        RecordingUnreadable when it cannot be written, ValueError for a block of another shape or a chunk id that is
        the file's own.
        """
