"""sidetrip's audio files against the RIFF rules, EBU Tech 3306 and EBU Tech 3285 (audiofiles.toml)."""

import io
import struct
from collections.abc import Callable

import pytest
import soundfile

from checks.loader import Check, load
from sidetrip.dsp.bext import Bext, Loudness, bext_bytes, parse_bext
from sidetrip.dsp.pcm import Encoding, data_rate, longest_s
from sidetrip.dsp.wavefile import Layout, parse
from sidetrip.dsp.wavefmt import Format
from sidetrip.dsp.wavehead import wave_header
from wavebytes import bytes_24, programme

CHECKS = load("audiofiles")
_ENCODINGS = {16: Encoding.I16, 24: Encoding.I24, 32: Encoding.F32}
_TIME_REFERENCE = slice(338, 346)


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


def _form(check: Check) -> Format:
    return Format(int(check.one("rate_hz")), int(check.one("channels")), _ENCODINGS[int(check.one("bits"))])


def _layout(data: bytes) -> Layout:
    return parse(lambda offset, count: data[offset : offset + count], len(data))


def _u32(data: bytes, at: int) -> int:
    value: int = struct.unpack_from("<I", data, at)[0]
    return value


@_of("longest_plain")
def test_time_until_a_plain_file_is_full(check: Check) -> None:
    """Formula: all bytes that 32 bits can count, over the bytes of a second."""
    rows = zip(check.many("rate_hz"), check.many("bits"), check.many("channels"), strict=True)
    full = [longest_s(2**32 - 1, _ENCODINGS[int(bits)], int(count), int(rate)) for rate, bits, count in rows]
    check.assert_equal({"length_s": full})


@_of("data_rate")
def test_data_rates(check: Check) -> None:
    """Formula: rate × bytes × channels."""
    encoding, rate_hz = _ENCODINGS[int(check.one("bits"))], int(check.one("rate_hz"))
    rates = [data_rate(encoding, int(channels), rate_hz) for channels in check.many("channels")]
    check.assert_equal({"bytes_per_s": rates, "gb_per_hour": [rate * 3600 / 1e9 for rate in rates]})


def _written_plain(check: Check) -> bytes:
    return wave_header(_form(check), int(check.one("frames")), reserve=False) + bytes(600)


def _peer_plain(check: Check) -> bytes:
    file = io.BytesIO()
    sound = programme(int(check.one("frames")), 2) / 2.0**23
    soundfile.write(file, sound, int(check.one("rate_hz")), "PCM_24", format="WAV")
    return file.getvalue()


@_of("plain_wave")
@pytest.mark.parametrize("made", [_written_plain, _peer_plain])
def test_a_plain_file(check: Check, made: Callable[[Check], bytes]) -> None:
    """RIFF: sizes and places in a file written here without a reserve, and in one of another writer."""
    data = made(check)
    layout = _layout(data)
    fmt, sound = layout.chunk(b"fmt "), layout.chunk(b"data")
    assert fmt is not None
    assert sound is not None
    check.assert_equal(
        {
            "file_bytes": len(data),
            "riff_bytes": _u32(data, 4),
            "fmt_bytes": fmt.size,
            "data_at": sound.offset - 8,
            "data_bytes": sound.size,
        }
    )


@_of("long_form")
def test_the_long_form_of_another_writer(check: Check) -> None:
    """EBU Tech 3306: the old sizes say ffffffff, ds64 has the real ones, and the sound is found by them."""
    file, frames = io.BytesIO(), int(check.one("frames"))
    steps = programme(frames, 2)
    soundfile.write(file, steps / 2.0**23, int(check.one("rate_hz")), "PCM_24", format="RF64")
    data = file.getvalue()
    layout = _layout(data)
    assert layout.form == "RF64"
    assert layout.chunks[0].id == b"ds64"
    assert data[layout.data_offset :] == bytes_24(steps)
    riff_bytes, data_bytes, sample_count, rows = struct.unpack_from("<QQQI", data, layout.chunks[0].offset)
    check.assert_equal(
        {
            "riff_told": _u32(data, 4),
            "data_told": _u32(data, layout.data_offset - 4),
            "ds64_at": layout.chunks[0].offset - 8,
            "ds64_bytes": layout.chunks[0].size,
            "riff_bytes": riff_bytes,
            "data_bytes": data_bytes,
            "sample_count": sample_count,
            "table_rows": rows,
        }
    )
    assert layout.frames == frames


@_of("upgrade")
def test_a_file_that_outgrows_32_bits(check: Check) -> None:
    """EBU Tech 3306: a JUNK chunk keeps the place of ds64, so that nothing moves when it is needed."""
    lengths = [int(frames) for frames in check.many("frames")]
    short, long = (wave_header(_form(check), frames) for frames in lengths)
    assert (short[:4], short[12:16], long[:4], long[12:16]) == (b"RIFF", b"JUNK", b"RF64", b"ds64")
    data_bytes = lengths[1] * _form(check).frame_bytes
    assert struct.unpack_from("<QQQI", long, 20) == (len(long) - 8 + data_bytes, data_bytes, lengths[1], 0)
    check.assert_equal(
        {
            "reserve_at": [short.index(b"JUNK"), long.index(b"ds64")],
            "reserve_bytes": [_u32(short, 16), _u32(long, 16)],
            "riff_told": [_u32(short, 4), _u32(long, 4)],
            "data_told": [_u32(short, len(short) - 4), _u32(long, len(long) - 4)],
            "moved_bytes": len(long) - len(short),
        }
    )


@_of("bext_places")
def test_the_places_in_a_broadcast_chunk(check: Check) -> None:
    """EBU Tech 3285: each field is found where it should be by what was put into it, and read from there again."""
    told = Bext(
        "d" * 256, "o" * 32, "r" * 32, "2024-05-01", "20:15:00", 0x0102030405060708, int(check.one("version")),
        b"u" * 64, Loudness(1.0, 2.0, 3.0, 4.0, 5.0), "history",
    )  # fmt: skip
    data = bext_bytes(told)
    assert parse_bext(data) == (told, ())
    check.assert_equal(
        {
            "description_at": data.index(b"d" * 256),
            "originator_at": data.index(b"o" * 32),
            "reference_at": data.index(b"r" * 32),
            "date_at": data.index(b"2024-05-01"),
            "time_at": data.index(b"20:15:00"),
            "time_reference_at": data.index(bytes(range(8, 0, -1))),
            "version_at": data.index(bytes(range(8, 0, -1)) + b"\2\0") + 8,
            "umid_at": data.index(b"u" * 64),
            "loudness_at": data.index(struct.pack("<5h", 100, 200, 300, 400, 500)),
            "fixed_bytes": data.index(b"history"),
        }
    )


def _reference_bytes(frames: int) -> list[int]:
    data = bext_bytes(Bext(time_reference_frames=frames))
    found, _ = parse_bext(data)
    assert found is not None
    assert found.time_reference_frames == frames
    return list(data[_TIME_REFERENCE])


@_of("time_reference")
def test_samples_since_midnight(check: Check) -> None:
    """EBU Tech 3285: 64 bits, the least byte first."""
    rows = zip(check.many("hours"), check.many("rate_hz"), strict=True)
    frames = [int(hours * 3600 * rate_hz) for hours, rate_hz in rows]
    first, second, third = (_reference_bytes(count) for count in frames)
    check.assert_equal({"frames": frames, "first": first, "second": second, "third": third})


@_of("high_word")
def test_the_high_word_is_needed_in_the_afternoon(check: Check) -> None:
    """Formula: 2^32 samples after midnight the low word starts again."""
    check.assert_equal(
        {
            "full_s": 2**32 / check.one("rate_hz"),
            "before": _reference_bytes(2**32 - 1),
            "after": _reference_bytes(2**32),
        }
    )


@_of("loudness")
def test_loudness_fields(check: Check) -> None:
    """EBU Tech 3285 version 2: in hundredths, written and read."""
    told = Loudness(check.one("integrated_lufs"), None, check.one("max_true_peak_dbtp"))
    data = bext_bytes(Bext(loudness=told))
    found, _ = parse_bext(data)
    assert found is not None
    assert found.loudness is not None
    integrated, peak = found.loudness.integrated_lufs, found.loudness.max_true_peak_dbtp
    assert integrated is not None
    assert peak is not None
    check.assert_equal(
        {"integrated": list(data[412:414]), "max_true_peak": list(data[416:418]), "back": [integrated, peak]}
    )


@_of("pad_byte")
def test_odd_chunks_are_padded(check: Check) -> None:
    """RIFF: a zero byte follows an odd chunk and is not counted; the next chunk is found behind it."""
    told, taken, pads = [], [], []
    for size in (int(size) for size in check.many("content_bytes")):
        data = wave_header(Format(48000, 1, Encoding.I24), 2, {b"mine": b"\xff" * size}) + bytes(6)
        layout = _layout(data)
        own = layout.chunk(b"mine")
        assert own is not None
        assert layout.repairs == ()
        told.append(_u32(data, own.offset - 4))
        taken.append(layout.data_offset - 8 - (own.offset - 8))
        pads += list(data[own.offset + size : layout.data_offset - 8])
    (pad,) = pads
    check.assert_equal({"told": told, "taken": taken, "pad": pad})
