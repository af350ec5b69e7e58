"""Samples as bytes and back."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.dsp.pcm import Encoding, data_rate, decode, encode, longest_s

_HAND_MADE = [
    (Encoding.U8, b"\x00\x80\xff", [-1.0, 0.0, 127 / 128]),
    (Encoding.I16, struct.pack("<3h", -32768, 1, 32767), [-1.0, 2.0**-15, 1 - 2.0**-15]),
    (Encoding.I24, b"\x00\x00\x80" + b"\x01\x00\x00" + b"\xff\xff\x7f", [-1.0, 2.0**-23, 1 - 2.0**-23]),
    (Encoding.I32, struct.pack("<3i", -(2**31), 256, 2**30), [-1.0, 2.0**-23, 0.5]),
    (Encoding.F32, struct.pack("<3f", -2.5, 0.0, 1e-30), [-2.5, 0.0, 1e-30]),
    (Encoding.F64, struct.pack("<3d", -2.5, 0.0, 0.25), [-2.5, 0.0, 0.25]),
]


@pytest.mark.parametrize(("encoding", "raw", "expected"), _HAND_MADE, ids=lambda value: getattr(value, "name", ""))
def test_every_encoding_is_read_to_full_scale_one(encoding: Encoding, raw: bytes, expected: list[float]) -> None:
    """The smallest, the largest and a small step of each encoding come out as worked out by hand."""
    got = decode(raw, encoding, 1)
    assert got.shape == (3, 1)
    assert got[:, 0].tolist() == [np.float32(value) for value in expected]


@given(st.binary(max_size=400), st.sampled_from(list(Encoding)), st.integers(1, 5))
def test_any_bytes_are_read_and_a_part_of_a_frame_is_left_out(raw: bytes, encoding: Encoding, channels: int) -> None:
    """As many whole frames come out as fit, whatever the bytes are."""
    got = decode(raw, encoding, channels)
    assert got.shape == (len(raw) // (channels * encoding.sample_bytes), channels)


@given(st.binary(min_size=3, max_size=900))
def test_24_bits_are_read_as_three_bytes_would_be_put_together(raw: bytes) -> None:
    """Reading four bytes at a time gives what int.from_bytes gives for each three."""
    steps = [int.from_bytes(raw[at : at + 3], "little", signed=True) for at in range(0, len(raw) - 2, 3)]
    assert (decode(raw, Encoding.I24, 1)[:, 0] * 2.0**23).tolist() == steps


@pytest.mark.parametrize("encoding", list(Encoding), ids=lambda encoding: encoding.name)
def test_channels_can_be_picked_and_put_into_any_array(encoding: Encoding) -> None:
    """Columns come in the order wanted, also into every second column of a larger array, over several inner steps."""
    raw = np.random.default_rng(3).integers(0, 100, 70_000 * 3 * encoding.sample_bytes, np.uint8).tobytes()
    whole = decode(raw, encoding, 3)
    room = np.full((70_000, 4), 7, np.float32)
    back = decode(raw, encoding, 3, columns=[2, 0], out=room[:, ::2])
    assert np.shares_memory(back, room)
    assert (room[:, ::2] == whole[:, [2, 0]]).all()
    assert (room[:, 1::2] == 7).all()


def test_what_cannot_be_picked_is_refused() -> None:
    """A channel that is not there, and an array of another shape or type, raise ValueError."""
    raw = bytes(12)
    with pytest.raises(ValueError, match="no channel 2"):
        decode(raw, Encoding.I16, 2, columns=[2])
    with pytest.raises(ValueError, match="float32"):
        decode(raw, Encoding.I16, 2, out=np.empty((2, 2), np.float32))
    with pytest.raises(ValueError, match="float32"):
        decode(raw, Encoding.I16, 2, out=np.empty((3, 2), np.float64))


@pytest.mark.parametrize("encoding", [Encoding.I16, Encoding.I24, Encoding.F32])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_what_was_read_is_written_back_bit_for_bit(encoding: Encoding, kind: type) -> None:
    """Every 16-bit step and many others survive reading and writing."""
    steps = np.arange(-(2**15), 2**15, dtype="<i4")
    raw = {
        Encoding.I16: steps.astype("<i2").tobytes(),
        Encoding.I24: (steps * 255 + 7).view(np.uint8).reshape(-1, 4)[:, :3].tobytes(),
        Encoding.F32: (steps / np.float32(999)).astype("<f4").tobytes(),
    }[encoding]
    assert encode(decode(raw, encoding, 2).astype(kind), encoding) == (raw, 0)


@pytest.mark.parametrize(("encoding", "top"), [(Encoding.I16, 2**15 - 1), (Encoding.I24, 2**23 - 1)])
def test_too_loud_is_clipped_and_counted_never_wrapped(encoding: Encoding, top: int) -> None:
    """Beyond ±1.0 the sign stays; +1.0 is the top step and not counted; what is no number becomes silence."""
    loud = np.array([[2.0, -2.0, 1.0, -1.0, 1.0000001, np.inf, -np.inf, np.nan, 3e38]], np.float32)
    raw, clipped = encode(loud, encoding)
    steps = (decode(raw, encoding, 9)[0].astype(np.float64) * (top + 1)).tolist()
    assert steps == [top, -top - 1, top, -top - 1, top, top, -top - 1, 0, top]
    assert clipped == 7


@pytest.mark.parametrize("encoding", [Encoding.I16, Encoding.I24])
@given(samples=st.lists(st.floats(-1.1, 1.1), min_size=1, max_size=50))
def test_writing_is_never_off_by_more_than_half_a_step(encoding: Encoding, samples: list[float]) -> None:
    """Rounding goes to the nearest step; only the top step, and what is clipped, may be further away."""
    given_samples = np.array(samples)[:, np.newaxis]
    raw, clipped = encode(given_samples, encoding)
    steps = 2 ** (8 * encoding.sample_bytes - 1)
    got = decode(raw, encoding, 1).astype(np.float64)
    off = np.abs(got - given_samples.clip(-1, 1 - 1 / steps)) * steps
    assert off.max() <= 0.5
    assert clipped == sum(abs(value) > 1 for value in samples)


def test_floats_are_written_as_they_are() -> None:
    """Nothing is clipped in a float file, not even what is no number."""
    loud = np.array([[4.0], [np.nan], [1e300]])
    raw, clipped = encode(loud, Encoding.F32)
    assert struct.unpack("<3f", raw)[0] == 4.0
    assert np.isnan(struct.unpack("<3f", raw)[1])
    assert clipped == 0


def test_half_precision_is_not_lost_on_the_way() -> None:
    """A float type too small for the steps is widened first."""
    raw, clipped = encode(np.array([[0.5], [-0.25]], np.float16), Encoding.I24)
    assert decode(raw, Encoding.I24, 1)[:, 0].tolist() == [0.5, -0.25]
    assert clipped == 0


def test_nothing_is_read_and_written_as_nothing() -> None:
    """No frames are no bytes, and the other way round."""
    for encoding in (Encoding.I16, Encoding.I24, Encoding.F32):
        assert encode(np.empty((0, 2), np.float32), encoding) == (b"", 0)
        assert decode(b"", encoding, 2).shape == (0, 2)


def test_other_encodings_are_not_written() -> None:
    """Nothing writes 8-bit, 32-bit integer or 64-bit float."""
    with pytest.raises(ValueError, match="choose 16-bit"):
        encode(np.zeros((1, 1), np.float32), Encoding.I32)


def test_rates_and_lengths() -> None:
    """A second takes rate × channels × bytes, and a size holds size over that many seconds."""
    assert data_rate(Encoding.I16, 2, 44100) == 176_400
    assert longest_s(352_800, Encoding.I16, 2, 44100) == 2.0
