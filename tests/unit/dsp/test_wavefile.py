"""The layout of WAV files, sound ones and broken ones."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.dsp.bext import Bext, Loudness, bext_bytes
from sidetrip.dsp.pcm import Encoding, decode
from sidetrip.dsp.wavefile import Layout, parse
from sidetrip.dsp.wavefmt import Format
from sidetrip.dsp.wavehead import wave_header
from sidetrip.dsp.wavewords import NotAWave, OtherEncoding, shown_s
from wavebytes import bytes_24, chunk, ds64, extensible, fmt, programme, wave

_LONG = 0xFFFFFFFF
_SOUND = bytes_24(programme(100, 2))


def _reader(data: bytes) -> Callable[[int, int], bytes]:
    return lambda offset, count: data[offset : offset + count]


def _parse(data: bytes) -> Layout:
    return parse(_reader(data), len(data))


def _sound(data: bytes, layout: Layout) -> bytes:
    size = layout.frames * layout.channels * layout.encoding.sample_bytes
    return data[layout.data_offset : layout.data_offset + size]


def _plain(**words: int) -> bytes:
    return chunk(b"fmt ", fmt(**words))


# Sound files


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (fmt(bits=8), Encoding.U8),
        (fmt(bits=16), Encoding.I16),
        (fmt(bits=12), Encoding.I16),
        (fmt(bits=24), Encoding.I24),
        (fmt(bits=20), Encoding.I24),
        (fmt(bits=32), Encoding.I32),
        (fmt(bits=32, tag=3), Encoding.F32),
        (fmt(bits=64, tag=3), Encoding.F64),
        (fmt(bits=32, tag=3) + bytes(2), Encoding.F32),
        (extensible(1, bits=16), Encoding.I16),
        (extensible(3, bits=32), Encoding.F32),
        (extensible(1, guid=bytes.fromhex("00002107d3118644c8c1ca000000")), Encoding.I24),
    ],
)
def test_every_way_to_store_samples_is_known(content: bytes, encoding: Encoding) -> None:
    """Formats of 16, 18 and 40 bytes; bits that are no whole bytes stand in the next larger ones."""
    data = wave(chunk(b"fmt ", content), chunk(b"data", bytes(16 * encoding.sample_bytes)))
    layout = _parse(data)
    assert (layout.encoding, layout.channels, layout.rate_hz, layout.frames) == (encoding, 2, 48000, 8)
    assert layout.repairs == ()


@pytest.mark.parametrize(
    ("container", "subtype"),
    [
        ("WAV", "PCM_U8"),
        ("WAV", "PCM_16"),
        ("WAV", "PCM_24"),
        ("WAV", "PCM_32"),
        ("WAV", "FLOAT"),
        ("WAV", "DOUBLE"),
        ("WAVEX", "PCM_24"),
        ("WAVEX", "FLOAT"),
        ("RF64", "PCM_24"),
        ("RF64", "FLOAT"),
    ],
)
def test_files_of_another_writer_are_read_bit_for_bit(container: str, subtype: str) -> None:
    """What libsndfile writes is found without a repair, and decodes to what libsndfile reads."""
    file = io.BytesIO()
    soundfile.write(file, programme(1001, 3) / 2.0**23, 44100, subtype, format=container)
    data = file.getvalue()
    layout = _parse(data)
    file.seek(0)
    peer, rate_hz = soundfile.read(file, dtype="float32", always_2d=True)
    assert (decode(_sound(data, layout), layout.encoding, 3) == peer).all()
    assert (layout.rate_hz, layout.frames, layout.repairs) == (rate_hz, 1001, ())


def test_chunks_that_mean_nothing_are_passed_over() -> None:
    """Unknown and odd chunks before and after the sound are listed and change nothing."""
    data = wave(
        chunk(b"JUNK", bytes(28)), chunk(b"odd ", b"abc"), _plain(), chunk(b"data", _SOUND), chunk(b"LIST", b"INFOx")
    )
    layout = _parse(data)
    assert [found.id for found in layout.chunks] == [b"JUNK", b"odd ", b"fmt ", b"data", b"LIST"]
    assert (layout.frames, layout.repairs) == (100, ())
    assert _sound(data, layout) == _SOUND
    odd = layout.chunk(b"odd ")
    assert odd is not None
    assert data[odd.offset : odd.offset + odd.size] == b"abc"
    assert layout.chunk(b"none") is None


def test_the_format_may_stand_behind_the_sound() -> None:
    """The order of the chunks is not needed to read them."""
    layout = _parse(wave(chunk(b"data", _SOUND), _plain()))
    assert (layout.frames, layout.repairs) == (100, ())


@pytest.mark.parametrize("form", [b"RF64", b"BW64"])
def test_long_sizes_are_taken_from_their_chunk(form: bytes) -> None:
    """Where the 32-bit sizes say ffffffff, ds64 has the real ones, also those of other chunks in its table."""
    table = ((b"big ", 6),)
    data = wave(
        ds64(0, len(_SOUND), 100, table),
        _plain(),
        chunk(b"big ", b"abcdef", size=_LONG),
        chunk(b"data", _SOUND, size=_LONG),
        form=form,
        size=_LONG,
    )
    data = data[:20] + struct.pack("<Q", len(data) - 8) + data[28:]
    layout = _parse(data)
    assert (layout.form, layout.frames, layout.repairs) == (form.decode(), 100, ())
    assert _sound(data, layout) == _SOUND


def test_an_empty_recording_is_one() -> None:
    """No bytes of sound, said by the header and true, are no damage: whoever opens it must judge."""
    for rest in ((), (chunk(b"LIST", b"INFO"), chunk(b"cue ", bytes(4)))):
        layout = _parse(wave(_plain(), chunk(b"data", b""), *rest))
        assert (layout.frames, layout.repairs) == (0, ())


def test_broadcast_times_are_read() -> None:
    """What a bext chunk tells comes back, texts without their filling."""
    told = Bext("Ünder the roof", "desk", "X1", "2024-05-01", "20:15:00", 3_500_000_000_0, 2, bytes(64), None, "A=PCM")
    layout = _parse(wave(chunk(b"bext", bext_bytes(told)), _plain(), chunk(b"data", _SOUND)))
    assert layout.bext == Bext(
        "Ünder the roof", "desk", "X1", "2024-05-01", "20:15:00", 35_000_000_000, 2, bytes(64), Loudness(), "A=PCM"
    )


def test_before_version_2_there_is_no_loudness() -> None:
    """The same places were reserved then; texts in an older code are read too."""
    content = bytearray(bext_bytes(Bext(version=1)))
    content[:3] = b"K\xfcr"
    layout = _parse(wave(chunk(b"bext", bytes(content)), _plain(), chunk(b"data", _SOUND)))
    assert layout.bext == Bext("Kür", version=1)


# Broken files: all that is sure is taken, everything is said


def _one(layout: Layout) -> str:
    """Return the only repair as one text."""
    (repair,) = layout.repairs
    assert repair.what
    assert repair.remedy
    return f"{repair.what} ({repair.values})"


@pytest.mark.parametrize("size", [0, _LONG, 0x7FFFF000, 0x7FFFFFFF, 0x80000000, _LONG - 44, _LONG - 36])
@pytest.mark.parametrize("stray", [0, 5])
def test_a_length_that_was_never_filled_in_is_found(size: int, stray: int) -> None:
    """Nothing, or what a writer puts that cannot go back: all there is is taken, in one repair."""
    data = wave(_plain(), chunk(b"data", _SOUND + bytes(stray), size=size, pad=False), size=size)
    layout = _parse(data)
    assert (layout.frames, _sound(data, layout)) == (100, _SOUND)
    text = _one(layout)
    assert "does not know how long" in text
    assert "100 frames" in text
    assert ("5 stray bytes" in text) == bool(stray)


@pytest.mark.parametrize("size", [0, _LONG, (1 << 64) - 1])
def test_long_sizes_that_were_never_filled_in_are_found(size: int) -> None:
    """The same for the long form, when its writer died or never knew."""
    data = wave(ds64(size, size, size), _plain(), chunk(b"data", _SOUND, size=_LONG), form=b"RF64", size=_LONG)
    layout = _parse(data)
    assert (layout.frames, _sound(data, layout)) == (100, _SOUND)
    assert "does not know how long" in _one(layout)


def test_a_long_form_without_its_sizes_is_taken_to_the_end() -> None:
    """No ds64 chunk is the same as one that was never filled in."""
    data = wave(_plain(), chunk(b"data", _SOUND, size=_LONG), form=b"RF64", size=_LONG)
    assert (_parse(data).frames, "does not know" in _one(_parse(data))) == (100, True)


def test_a_file_that_ends_too_early_keeps_its_channels_in_place() -> None:
    """Header of 10 s of eight channels, 204 000 frames and 13 bytes there: whole frames, 5.75 s missing."""
    sound = bytes_24(programme(2040, 8))
    data = wave(
        _plain(channels=8, rate_hz=480), chunk(b"data", sound + bytes(13), size=4800 * 24, pad=False), size=115236
    )
    layout = _parse(data)
    assert (layout.frames, layout.channels) == (2040, 8)
    assert _sound(data, layout) == sound
    text = _one(layout)
    assert "5.75 s missing (2760 frames)" in text
    assert "13 stray bytes" in text


def test_a_size_that_is_no_whole_frame_is_said() -> None:
    """The last part of a frame is left out, and how much it is."""
    layout = _parse(wave(_plain(), chunk(b"data", _SOUND + b"abc")))
    assert layout.frames == 100
    assert "3 stray bytes" in _one(layout)


def test_a_missing_pad_byte_is_seen_through() -> None:
    """The next chunk is found right behind an odd one, before and after the sound; at the end it is only said."""
    sound = bytes(299)
    before = _parse(wave(chunk(b"odd ", b"abc", pad=False), _plain(), chunk(b"data", _SOUND)))
    assert before.frames == 100
    assert "`odd `" in _one(before)
    after = _parse(wave(_plain(channels=1, bits=8), chunk(b"data", sound, pad=False), chunk(b"LIST", b"INFO")))
    assert [found.id for found in after.chunks] == [b"fmt ", b"data", b"LIST"]
    assert (after.frames, "`data`" in _one(after)) == (299, True)
    last = _parse(wave(_plain(channels=1, bits=8), chunk(b"data", sound, pad=False)))
    assert (last.frames, "odd size" in _one(last)) == (299, True)


def test_a_wrong_size_of_the_whole_is_said_when_nothing_else_is_wrong() -> None:
    """The sound is complete then; a size that is too small hides nothing, as every chunk is there."""
    for size in (0, _LONG, 99_999):
        layout = _parse(wave(_plain(), chunk(b"data", _SOUND), size=size))
        assert (layout.frames, "the sound is complete" in _one(layout)) == (100, True)
    assert _parse(wave(_plain(), chunk(b"data", _SOUND), size=100)).repairs == ()


def test_bytes_behind_the_end_are_said() -> None:
    """What belongs to no chunk is not taken for sound."""
    layout = _parse(wave(_plain(), chunk(b"data", _SOUND)) + bytes(600))
    assert layout.frames == 100
    assert "600 bytes at byte 644" in _one(layout)


def test_a_second_sound_is_left_out_and_said() -> None:
    """The first is taken."""
    data = wave(_plain(), chunk(b"data", _SOUND), chunk(b"data", bytes(6)))
    layout = _parse(data)
    assert _sound(data, layout) == _SOUND
    assert "second `data`" in _one(layout)


def test_a_chunk_that_is_cut_is_said() -> None:
    """A list behind the sound that ends early does not touch the sound."""
    layout = _parse(wave(_plain(), chunk(b"data", _SOUND), chunk(b"LIST", b"INFO", size=40)))
    assert (layout.frames, "`LIST` ends before" in _one(layout)) == (100, True)


def test_a_size_that_ran_over_is_put_right() -> None:
    """A plain file of over 4 GiB whose sizes lost 4 GiB: the rest of the file is sound."""
    head = wave(_plain(channels=32), chunk(b"data", b"", size=32 * 3 * 10_000))
    size = len(head) + 32 * 3 * 10_000 + (1 << 32)
    layout = parse(_reader(head), size)
    assert layout.frames == 10_000 + (1 << 32) // 96
    assert "4 GiB too few" in _one(layout)


def test_a_short_or_contradictory_format_is_worked_out_where_it_can_be() -> None:
    """Two fields against one: the frame's size, the bits, and an extensible format that is cut."""
    cases = [
        (fmt(block=0), "size of a frame is wrong"),
        (fmt(block=4), "size of a frame is wrong"),
        (fmt()[:14], "ends before the bits"),
        (extensible()[:18], "cut short"),
    ]
    for content, said in cases:
        data = wave(chunk(b"fmt ", content), chunk(b"data", _SOUND))
        layout = _parse(data)
        assert (layout.encoding, layout.frames) == (Encoding.I24, 100)
        assert said in _one(layout)


def test_a_short_bext_chunk_is_left_out_and_said() -> None:
    """The sound does not need it."""
    layout = _parse(wave(chunk(b"bext", bytes(600)), _plain(), chunk(b"data", _SOUND)))
    assert (layout.bext, layout.frames) == (None, 100)
    assert "600 bytes, not 602" in _one(layout)


def test_a_short_ds64_chunk_is_said() -> None:
    """Its sizes are not used; the length is taken from the file."""
    data = wave(chunk(b"ds64", bytes(20)), _plain(), chunk(b"data", _SOUND, size=_LONG), form=b"RF64", size=_LONG)
    layout = _parse(data)
    assert layout.frames == 100
    assert ["`ds64`" in repair.what for repair in layout.repairs] == [False, True]


# What is refused


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"RIFF", "does not begin"),
        (b"OggS" + bytes(60), "does not begin"),
        (b"RIFF" + bytes(4) + b"AVI " + bytes(40), "does not begin"),
        (wave(), "`data` chunk is missing"),
        (wave(_plain()), "`data` chunk is missing"),
        (wave(chunk(b"junk", b"", size=5000), chunk(b"data", _SOUND)), "`data` chunk is missing"),
        (wave(chunk(b"data", _SOUND)), "`fmt ` chunk is missing"),
        (wave(chunk(b"fmt ", fmt()[:12]), chunk(b"data", _SOUND)), "cut short"),
        (wave(chunk(b"fmt ", extensible(3, bits=32)[:18]), chunk(b"data", _SOUND)), "cut short"),
        (wave(_plain(channels=0), chunk(b"data", _SOUND)), "no channels"),
        (wave(_plain(rate_hz=0), chunk(b"data", _SOUND)), "sample rate"),
        (wave(_plain(rate_hz=400_000_000), chunk(b"data", _SOUND)), "sample rate"),
        (wave(_plain(bits=0), chunk(b"data", _SOUND)), "number of bits"),
        (wave(_plain(bits=40), chunk(b"data", _SOUND)), "number of bits"),
        (wave(_plain(bits=16, tag=3), chunk(b"data", _SOUND)), "number of bits"),
        (wave(_plain(block=8, byte_rate=384_000), chunk(b"data", _SOUND)), "size of a frame"),
        (wave(*[chunk(b"many", b"")] * 10_001), "too many chunks"),
    ],
)
def test_what_holds_no_sound_is_refused_with_the_reason(data: bytes, said: str) -> None:
    """The message has three parts, and names what was found."""
    with pytest.raises(NotAWave, match=said) as caught:
        _parse(data)
    assert caught.value.what
    assert caught.value.values
    assert caught.value.remedy


@pytest.mark.parametrize("content", [fmt(tag=2), fmt(tag=6, bits=8), extensible(guid=bytes(14))])
def test_other_encodings_are_told_apart(content: bytes) -> None:
    """A library may read what is neither integer nor float, so that has a name of its own."""
    with pytest.raises(OtherEncoding):
        _parse(wave(chunk(b"fmt ", content), chunk(b"data", _SOUND)))


_REAL = [
    wave(_plain(), chunk(b"data", _SOUND)),
    wave(
        chunk(b"bext", bext_bytes(Bext("x"))),
        chunk(b"fmt ", extensible()),
        chunk(b"data", _SOUND),
        chunk(b"odd ", b"a"),
    ),
    wave(ds64(690, 600, 100), _plain(), chunk(b"data", _SOUND, size=_LONG), form=b"RF64", size=_LONG),
    wave_header(Format(44100, 1, Encoding.F32), 20, {b"abcd": b"xyz"}) + bytes(80),
]


@given(
    data=st.sampled_from(_REAL),
    changes=st.lists(
        st.tuples(
            st.integers(0, 120), st.one_of(st.binary(max_size=4), st.sampled_from([b"\xff" * 4, bytes(4), b"data"]))
        ),
        max_size=6,
    ),
    keep=st.integers(0, 1400),
    more=st.binary(max_size=20),
)
def test_no_damage_leads_astray(data: bytes, changes: list[tuple[int, bytes]], keep: int, more: bytes) -> None:
    """Bytes changed, cut and added at will: a layout within the file comes out, or NotAWave, and nothing else."""
    changed = bytearray(data[:keep] + more)
    for at, new in changes:
        changed[at : at + len(new)] = new
    broken = bytes(changed)
    try:
        layout = _parse(broken)
    except NotAWave as error:
        assert error.what
        assert error.values
        assert error.remedy
        return
    sound = _sound(broken, layout)
    assert layout.data_offset + len(sound) <= len(broken)
    assert decode(sound, layout.encoding, layout.channels).shape == (layout.frames, layout.channels)
    assert all(found.offset + found.size <= len(broken) for found in layout.chunks)
    assert all(repair.what and repair.values and repair.remedy for repair in layout.repairs)


@given(frames=st.integers(0, 299), stray=st.integers(0, 5))
def test_a_cut_anywhere_in_the_sound_is_told_to_the_frame(frames: int, stray: int) -> None:
    """As many frames come out as there are whole ones, and the rest of the promise is named."""
    data = wave(_plain(), chunk(b"data", bytes_24(programme(300, 2))))
    cut = data[: 44 + frames * 6 + stray]
    layout = _parse(cut)
    assert layout.frames == frames
    assert f"({300 - frames} frames)" in _one(layout)


# Headers to be written


@given(
    frames=st.integers(0, 3_000_000_000),
    channels=st.integers(1, 64),
    encoding=st.sampled_from([Encoding.I16, Encoding.I24, Encoding.F32]),
    reserve=st.booleans(),
    content=st.binary(max_size=9),
)
def test_a_header_reads_as_what_it_was_made_from(
    frames: int, channels: int, encoding: Encoding, reserve: bool, content: bytes
) -> None:
    """However long the sound: the header keeps its length, and its own reader finds everything in it."""
    form = Format(48000, channels, encoding)
    size = frames * form.frame_bytes
    if size > 0xFFFFFF00 and not reserve:
        with pytest.raises(ValueError, match="long form"):
            wave_header(form, frames, {b"abcd": content}, reserve=False)
        return
    head = wave_header(form, frames, {b"abcd": content}, reserve=reserve)
    assert len(head) == len(wave_header(form, 0, {b"abcd": content}, reserve=reserve))
    layout = parse(_reader(head), len(head) + size + size % 2)
    assert (layout.rate_hz, layout.channels, layout.encoding, layout.frames) == (48000, channels, encoding, frames)
    assert (layout.data_offset, layout.repairs) == (len(head), ())
    assert layout.form == ("RF64" if size > 0xFFFFFF00 else "RIFF")
    own = layout.chunk(b"abcd")
    assert own is not None
    assert head[own.offset : own.offset + own.size] == content


@pytest.mark.parametrize("name", [b"data", b"fmt ", b"ds64", b"JUNK", b"abc", b"\xe4bcd"])
def test_a_chunk_may_not_pose_as_one_of_the_file(name: bytes) -> None:
    """Ids that the file needs itself, and what is no four letters, are refused."""
    with pytest.raises(ValueError, match="cannot be the id"):
        wave_header(Format(48000, 1, Encoding.I24), 0, {name: b""})


@pytest.mark.parametrize(
    ("frames", "shown"),
    [(0, "0 s"), (48000, "1 s"), (276_000, "5.75 s"), (47, "0 s"), (48, "0.001 s"), (4_800_000, "100 s")],
)
def test_lengths_are_shown_to_the_millisecond(frames: int, shown: str) -> None:
    """Without zeros that say nothing."""
    assert shown_s(frames, 48000) == shown


def test_loudness_that_does_not_fit_is_held_at_the_edge() -> None:
    """Nothing wraps; None stands for what was not measured."""
    told = Loudness(-23.0, None, 400.0, -400.0, 0.0)
    layout = _parse(wave(chunk(b"bext", bext_bytes(Bext(loudness=told))), _plain(), chunk(b"data", _SOUND)))
    assert layout.bext is not None
    assert layout.bext.loudness == Loudness(-23.0, None, 327.66, -327.67, 0.0)


def test_a_full_scale_of_another_reader_is_ours() -> None:
    """The extremes of 24 bits read as -1 and one step below 1."""
    data = wave(_plain(channels=1), chunk(b"data", bytes_24(np.array([-(2**23), 2**23 - 1], np.int32))))
    layout = _parse(data)
    assert decode(_sound(data, layout), layout.encoding, 1)[:, 0].tolist() == [-1.0, 1 - 2.0**-23]
