"""What lies where in a WAV, RF64 or BW64 file, found from its bytes; a damaged one is read as far as it is sure.

Sources: the RIFF rules (a chunk is an id, a 32-bit size and its bytes; after an odd size comes one byte that the size
does not count); EBU Tech 3306 and ITU-R BS.2088 for the long form (sizes of ffffffff stand in `ds64`); EBU Tech 3285
for `bext`. Everything that had to be put right is returned as a Repair, never done in silence.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass

from sidetrip.dsp.bext import Bext, parse_bext
from sidetrip.dsp.pcm import Encoding
from sidetrip.dsp.wavefmt import Format, parse_format
from sidetrip.dsp.wavewords import NotAWave, Repair, shown_id, shown_s

Read = Callable[[int, int], bytes]
"""read(offset, count): the bytes of the file from there on, fewer at its end."""

UNKNOWN = 0xFFFFFFFF
"""A 32-bit size that says: look in ds64."""

_FORMS = (b"RIFF", b"RF64", b"BW64")
_MOST_CHUNKS = 10_000
_LONGEST_BEXT = 1 << 20
_LONGEST_FMT = 1 << 10
_LONGEST_TABLE = 1000
# Writers that cannot go back put one of these, less what their header takes, where the length belongs.
_PLACEHOLDERS = (range(0x7FFFE000, 0x80000001), range(0xFFFFE000, 0x100000000))


@dataclass(frozen=True, slots=True)
class Chunk:
    """One chunk: its id, where its content starts, and how many bytes of it the file holds."""

    id: bytes
    offset: int
    size: int


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the sound of a file is and how it is stored. Frames 0: the file is sound, but holds none.

    form: "RIFF", "RF64" or "BW64". data_offset: byte of the first frame; the frames lie behind each other from there.
    bext: None when there is none, or none that can be read.
    """

    form: str
    rate_hz: int
    channels: int
    encoding: Encoding
    data_offset: int
    frames: int
    chunks: tuple[Chunk, ...]
    bext: Bext | None
    repairs: tuple[Repair, ...]

    def chunk(self, wanted: bytes) -> Chunk | None:
        """Return the first chunk of this id."""
        return next((chunk for chunk in self.chunks if chunk.id == wanted), None)


def looks_like_wave(start: bytes) -> bool:
    """Tell from the first 12 bytes whether a file calls itself WAV, RF64 or BW64."""
    return start[:4] in _FORMS and start[8:12] == b"WAVE"


def parse(read: Read, size: int) -> Layout:
    """Return the layout of a file of `size` bytes. Raises NotAWave, with the reason, when no sound can be found."""
    start = read(0, 12)
    if not looks_like_wave(start) or len(start) < 12:
        what = "The file is empty" if size == 0 else "The file does not begin as a WAV file does"
        raise NotAWave(what, f"{size} bytes, the first are {start[:12].hex(' ') or 'none'}", "Use another copy")
    walk = _Walk(read, size)
    walk.run()
    if walk.data is None:
        what = "The file has no sound in it: its `data` chunk is missing"
        raise NotAWave(what, walk.seen(), "Use another copy, or record the take again")
    found = next((chunk for chunk in walk.chunks if chunk.id == b"fmt "), None)
    if found is None:
        what = "The file does not say how its sound is stored: its `fmt ` chunk is missing"
        raise NotAWave(what, walk.seen(), "Use another copy, or record the take again")
    form, repairs = parse_format(read(found.offset, min(found.size, _LONGEST_FMT)))
    frames = walk.data.size // form.frame_bytes
    repairs += _length_repairs(walk, form, frames)
    bext = None
    if (tag := next((chunk for chunk in walk.chunks if chunk.id == b"bext"), None)) is not None:
        bext, told = parse_bext(read(tag.offset, min(tag.size, _LONGEST_BEXT)))
        repairs += told
    return Layout(
        form=start[:4].decode(),
        rate_hz=form.rate_hz,
        channels=form.channels,
        encoding=form.encoding,
        data_offset=walk.data.offset,
        frames=frames,
        chunks=tuple(walk.chunks),
        bext=bext,
        repairs=(*repairs, *walk.repairs),
    )


def _length_repairs(walk: _Walk, form: Format, frames: int) -> tuple[Repair, ...]:
    """Say what was done about the length of the sound, in at most one repair; only now is the frame's size known."""
    data = walk.data
    assert data is not None
    stray = data.size % form.frame_bytes
    over = f"; {stray} stray bytes at the end, no whole frame, left out" if stray else ""
    there = f"{shown_s(frames, form.rate_hz)}, {frames} frames are there"
    if walk.promised is None:
        what = f"The header does not know how long the sound is ({walk.unfilled}); all to the end of the file was taken"
        remedy = "Check that the end is the end of the take, and let the recorder close its files"
        return (Repair(what, there + over, remedy),)
    if walk.promised > data.size:
        told = walk.promised // form.frame_bytes
        what = "The file ends before its own header says; the whole frames that are there were taken"
        missing = f"{shown_s(told - frames, form.rate_hz)} missing ({told - frames} frames)"
        values = f"{missing}: {shown_s(told, form.rate_hz)} promised, {there}{over}"
        return (Repair(what, values, "Look for a full disk or a second file; else record the take again"),)
    if stray:
        what = "The size of the sound is not a whole number of frames"
        values = f"{data.size} bytes in frames of {form.frame_bytes} bytes{over}"
        return (Repair(what, values, "Check the end of the take"),)
    return ()


class _Walk:
    """Goes from chunk to chunk to the end of the file.

    promised: the bytes of sound that the header tells of, None when it tells none; unfilled: what stands there then.
    """

    def __init__(self, read: Read, size: int) -> None:
        self.read, self.size = read, size
        self.chunks: list[Chunk] = []
        self.repairs: list[Repair] = []
        self.data: Chunk | None = None
        self.promised: int | None = None
        self.unfilled = ""
        self._whole = True  # the chunk just taken is all there
        self._long: dict[bytes, int] = {}
        self._riff = int.from_bytes(read(4, 4), "little")

    def run(self) -> None:
        """Fill in what there is."""
        at = 12
        while (head := self._head(at)) is not None:
            if len(self.chunks) >= _MOST_CHUNKS:
                raise NotAWave(
                    "The file has too many chunks to be a recording", f"over {_MOST_CHUNKS}", "Use another copy"
                )
            chunk = self._take(*head, at + 8)
            self.chunks.append(chunk)
            if chunk.id == b"ds64":
                self._read_ds64(chunk)
            at = self._after(chunk)
        self._judge_end(at)

    def seen(self) -> str:
        """Say which chunks there are, for a message."""
        listed = ", ".join(f"{shown_id(chunk.id)} of {chunk.size} bytes" for chunk in self.chunks[:8])
        return f"{self.size} bytes in all; chunks: {listed or 'none'}" + ("..." if len(self.chunks) > 8 else "")

    def _head(self, at: int) -> tuple[bytes, int] | None:
        """Return (id, size) of the chunk at a place, None when none can begin there."""
        head = self.read(at, 8) if at + 8 <= self.size else b""
        if len(head) < 8 or not all(0x20 <= byte < 0x7F for byte in head[:4]):
            return None
        return head[:4], struct.unpack_from("<I", head, 4)[0]

    def _fits(self, at: int) -> bool:
        """Tell whether a chunk that begins at a place ends within the file."""
        head = self._head(at)
        return head is not None and (head[1] == UNKNOWN or head[0] == b"data" or at + 8 + head[1] <= self.size)

    def _chain(self, at: int) -> bool:
        """Tell whether chunks, at least one, follow each other from a place exactly to the end of the file."""
        for _ in range(_MOST_CHUNKS):
            head = self._head(at)
            if head is None or at + 8 + head[1] > self.size:
                return False
            at += 8 + head[1] + head[1] % 2
            if at >= self.size:
                return True
        return False

    def _take(self, name: bytes, told: int, offset: int) -> Chunk:
        rest = self.size - offset
        wanted = self._long.get(name, told) if told == UNKNOWN or (told == 0 and name == b"data") else told
        if name == b"data" and self.data is None:
            self.data = Chunk(name, offset, self._data_size(wanted, told, rest, offset))
            self._whole = self.promised == self.data.size
            return self.data
        self._whole = wanted <= rest
        if name == b"data":
            what = "There is a second `data` chunk; the sound of the first alone was taken"
            self._repair(what, f"{min(wanted, rest)} bytes at byte {offset}", "Split the file if the second is wanted")
        elif wanted > rest:
            what = f"The chunk {shown_id(name)} ends before its own header says"
            self._repair(what, f"{wanted} bytes promised, {rest} there", "Do not rely on what it tells")
        return Chunk(name, offset, min(wanted, rest))

    def _data_size(self, wanted: int, told: int, rest: int, offset: int) -> int:
        """Return the bytes of sound that are there, and note what was promised."""
        lost = rest - wanted
        if wanted == 0 and rest > 0 and not self._chain(offset):
            self.unfilled = "it says 0"
        elif lost < 0 and (wanted >= 1 << 63 or (wanted == told and any(wanted in span for span in _PLACEHOLDERS))):
            self.unfilled = f"it says {wanted:x} in hexadecimal"
        elif wanted == told and wanted > 0 and lost > 0 and lost % (1 << 32) == 0:
            # What ran over 32 bits lost whole multiples of 4 GiB.
            self.unfilled = f"it says {wanted} bytes, which ran over and is {lost >> 30} GiB too few"
        else:
            self.promised = wanted
            return min(wanted, rest)
        return rest

    def _read_ds64(self, chunk: Chunk) -> None:
        """Note the long sizes: the file's, the sound's, and those of a table of other chunks."""
        content = self.read(chunk.offset, min(chunk.size, 28 + 12 * _LONGEST_TABLE))
        if len(content) < 24:
            self._repair(
                "The chunk `ds64` is too short for its sizes",
                f"{len(content)} bytes, not 28",
                "Check the end of the take",
            )
            return
        riff, data = struct.unpack_from("<QQ", content)
        self._long.setdefault(b"data", data)
        self._riff = riff if self._riff == UNKNOWN else self._riff
        count = struct.unpack_from("<I", content, 24)[0] if len(content) >= 28 else 0
        for at in list(range(28, len(content) - 11, 12))[:count]:
            self._long.setdefault(content[at : at + 4], struct.unpack_from("<Q", content, at + 4)[0])

    def _after(self, chunk: Chunk) -> int:
        """Return where the next chunk begins; say so where the byte after an odd size was left out."""
        end = chunk.offset + chunk.size
        if chunk.size % 2 == 0:
            return end
        if end < self.size and (self._fits(end + 1) or not self._fits(end)):
            return end + 1
        if self._whole:
            what = f"The byte that belongs after the odd size of the chunk {shown_id(chunk.id)} was left out"
            self._repair(what, f"{chunk.size} bytes at byte {chunk.offset}", "Nothing: the sound is not touched")
        return end

    def _judge_end(self, at: int) -> None:
        """Say what lies behind the last chunk, and whether the size of the whole is wrong where nothing else was."""
        if (over := self.size - at) > 0:
            last = shown_id(self.chunks[-1].id) if self.chunks else "header"
            what = f"Behind the {last} come bytes that belong to nothing; they were left out"
            self._repair(what, f"{over} bytes at byte {at}", "Check that the take is as long as it should be")
        cut = self.promised is not None and self.data is not None and self.promised > self.data.size
        if self.promised is None or cut or self.repairs:
            return
        if self._riff in {0, UNKNOWN} or self._riff + 8 > self.size + 1:
            what = "The size of the whole file is wrong in its header; the sound is complete"
            self._repair(what, f"{self._riff + 8} bytes promised, {self.size} there", "Nothing, or save it anew")

    def _repair(self, what: str, values: str, remedy: str) -> None:
        self.repairs.append(Repair(what, values, remedy))
