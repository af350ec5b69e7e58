"""The `fmt ` chunk of a WAV file: rate, channels and how a sample is stored, read and written.

Its fields say some things twice. Where they disagree, the one that two others speak against is put right and told;
where nothing decides, the file is refused.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from sidetrip.dsp.pcm import Encoding, data_rate
from sidetrip.dsp.wavewords import NotAWave, OtherEncoding, Repair

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_HIGHEST_RATE_HZ = 10_000_000
_OTHER_COPY = "Use another copy, or convert the file to 24-bit WAV"
# What follows the two bytes of the tag in a subformat: of any encoding, and of a sound field (B-format).
_SUBFORMATS = (bytes.fromhex("000000001000800000aa00389b71"), bytes.fromhex("00002107d3118644c8c1ca000000"))
_INTEGERS = {1: Encoding.U8, 2: Encoding.I16, 3: Encoding.I24, 4: Encoding.I32}
_FLOATS = {4: Encoding.F32, 8: Encoding.F64}


@dataclass(frozen=True, slots=True)
class Format:
    """How the sound is stored."""

    rate_hz: int
    channels: int
    encoding: Encoding

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame of all channels."""
        return self.channels * self.encoding.sample_bytes


def parse_format(content: bytes) -> tuple[Format, tuple[Repair, ...]]:
    """Read the content of a `fmt ` chunk. Raises NotAWave, or OtherEncoding for what is neither integer nor float."""
    if len(content) < 14:
        raise NotAWave("The `fmt ` chunk is cut short", f"{len(content)} bytes, at least 16 are needed", _OTHER_COPY)
    tag, channels, rate_hz, byte_rate, block = struct.unpack_from("<HHIIH", content)
    if channels == 0:
        raise NotAWave("The file says that it has no channels", "0 channels", _OTHER_COPY)
    if not 0 < rate_hz <= _HIGHEST_RATE_HZ:
        raise NotAWave("The file gives an impossible sample rate", f"{rate_hz} Hz", _OTHER_COPY)
    repairs: tuple[Repair, ...] = ()
    if len(content) >= 16:
        bits: int = struct.unpack_from("<H", content, 14)[0]
    else:
        bits = block // channels * 8
        what = "The `fmt ` chunk ends before the bits of a sample; they were worked out from the size of a frame"
        repairs = (Repair(what, f"{block} bytes a frame of {channels} channels: {bits} bits", "Listen to the take"),)
    if tag == _EXTENSIBLE:
        tag, told = _subformat(content, bits)
        repairs += told
    encoding = _encoding(tag, bits)
    found = Format(rate_hz, channels, encoding)
    if block != found.frame_bytes:
        told_rate = data_rate(encoding, channels, rate_hz)
        values = f"{block} bytes a frame given, {channels} channels of {bits} bits make {found.frame_bytes}"
        if block != 0 and byte_rate != told_rate:
            raise NotAWave("The file gives an impossible size of a frame", values, _OTHER_COPY)
        repairs += (
            Repair("The size of a frame is wrong in the header; it was worked out", values, "Listen to the take"),
        )
    return found, repairs


def _subformat(content: bytes, bits: int) -> tuple[int, tuple[Repair, ...]]:
    """Return the tag that stands at the end of an extensible `fmt ` chunk."""
    if len(content) >= 40:
        tag: int = struct.unpack_from("<H", content, 24)[0]
        if content[26:40] not in _SUBFORMATS:
            raise OtherEncoding("The sound is stored in an unknown way", content[24:40].hex(), _OTHER_COPY)
        return tag, ()
    values = f"{len(content)} bytes, 40 are needed; {bits} bits a sample"
    if bits > 24:  # integer or float, and no way to tell
        raise NotAWave("The `fmt ` chunk is cut short before it says how samples are stored", values, _OTHER_COPY)
    what = "The `fmt ` chunk is cut short; so few bits a sample are stored as integers only"
    return _PCM, (Repair(what, values, "Listen to the take"),)


def _encoding(tag: int, bits: int) -> Encoding:
    found = None
    if tag == _PCM:
        found = _INTEGERS.get(-(-bits // 8))
    elif tag == _FLOAT and bits % 8 == 0:
        found = _FLOATS.get(bits // 8)
    else:
        raise OtherEncoding("The sound is stored in a way that is not read here", f"format {tag:#06x}", _OTHER_COPY)
    if found is None:
        raise NotAWave("The file gives an impossible number of bits a sample", f"{bits} bits", _OTHER_COPY)
    return found


def format_bytes(form: Format) -> bytes:
    """Return the content of a `fmt ` chunk: 16 bytes for integers; for floats 18, as no tag but 1 goes without."""
    rate, bits = data_rate(form.encoding, form.channels, form.rate_hz), 8 * form.encoding.sample_bytes
    tag = _FLOAT if form.encoding.is_float else _PCM
    plain = struct.pack("<HHIIHH", tag, form.channels, form.rate_hz, rate, form.frame_bytes, bits)
    return plain + b"\0\0" if form.encoding.is_float else plain
