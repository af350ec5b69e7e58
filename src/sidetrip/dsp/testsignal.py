"""The test signal of a take: who sounds when, how loud, and all of it told in one chunk of its WAV file.

One entry at a time comes first, each from -40 dBFS up: a slate of three bursts of a maximum-length sequence, which
nobody takes for music, then its own tones. Then all together at two levels 12 dB apart, several periods each
without a break in the tones, then silence. Levels are dBFS after AES17: a full-scale sine reads 0.
"""

from __future__ import annotations

import base64
import json
import math
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.tones import MOST_ENTRIES, Tones
from sidetrip.units import gain_from_db

CHUNK = b"stts"
"""The id of the chunk that carries the tables."""

SLATE_ORDER = 12
FIRST_DBFS = -40.0
"""Where every entry starts."""

LOUDEST_DBFS = -20.0
TOGETHER_DBFS = -12.0
"""What all sends may reach on one mix that adds them all, as rms."""

STEP_DB = 12.0
_VERSION = 1
_LEAD_S, _BURST_GAP_S, _RAMP_S, _SLOT_GAP_S, _TAIL_S = 0.25, 0.06, 0.5, 0.12, 1.5
_FADE_S = 0.01
_SINE_RMS = math.sqrt(0.5)
_LOWEST_DBFS = -120.0
_LEAST_TONES = 8
_LONGEST_FRAMES = 1 << 25
"""A file may say of itself what it likes: an analysis sets aside memory for as much as this, and no more."""


@dataclass(frozen=True, slots=True)
class Section:
    """Some periods that are measured: the frame where the first begins, how many, the level of each entry."""

    start: int
    periods: int
    level_dbfs: float


@dataclass(frozen=True, slots=True)
class TestSignal:
    """A test signal of one channel for each entry.

    levels_dbfs: of each entry, low then high. periods: measured at each level, after one to settle.
    """

    __test__ = False  # pytest would take it for a test

    tones: Tones
    levels_dbfs: tuple[float, float]
    periods: int
    name: str = ""

    @property
    def rate_hz(self) -> int:
        """The sample rate."""
        return self.tones.rate_hz

    @property
    def slot_frames(self) -> int:
        """How long one entry sounds alone, slate and ramp and pauses together."""
        bursts = 3 * ((1 << SLATE_ORDER) - 1 + self._frames(_BURST_GAP_S))
        return bursts + self._frames(_RAMP_S) + self._frames(_SLOT_GAP_S)

    @property
    def together(self) -> int:
        """The frame where all entries begin to sound together; their tones start a period there."""
        return self._frames(_LEAD_S) + self.tones.entries * self.slot_frames

    @property
    def guard(self) -> int:
        """Frames that a level is held on behind its last measured period: a quarter period."""
        return self.tones.period_frames // 4

    @property
    def sections(self) -> tuple[Section, Section]:
        """The measured periods at the low and at the high level."""
        one, low, high = self.tones.period_frames, *self.levels_dbfs
        first = self.together + one
        second = first + self.periods * one + self.guard + one
        return Section(first, self.periods, low), Section(second, self.periods, high)

    @property
    def end(self) -> int:
        """The frame where the sound ends."""
        return self.sections[1].start + self.periods * self.tones.period_frames + self.guard

    @property
    def frames(self) -> int:
        """The length of the whole signal."""
        return self.end + self._frames(_TAIL_S)

    def _frames(self, seconds: float) -> int:
        return round(seconds * self.rate_hz)

    def channel(self, entry: int) -> NDArray[np.float32]:
        """Return all samples of an entry, counted from 1, shape (frames,)."""
        period = self.tones.period(entry) * _SINE_RMS
        low, high = (gain_from_db(level) for level in self.levels_dbfs)
        out = np.zeros(self.frames)
        at = self._frames(_LEAD_S) + (entry - 1) * self.slot_frames
        slate = slate_burst() * (gain_from_db(FIRST_DBFS) * _SINE_RMS)
        for _ in range(3):
            out[at : at + len(slate)] = slate
            at += len(slate) + self._frames(_BURST_GAP_S)
        ramp = self._frames(_RAMP_S)
        rise_db = np.linspace(FIRST_DBFS, self.levels_dbfs[0], ramp)
        out[at : at + ramp] = _from(period, ramp) * 10 ** (rise_db / 20) * self._fades(ramp)
        whole = self.end - self.together
        gain = np.full(whole, low)
        step = self.sections[1].start - self.tones.period_frames - self.together
        glide = self.guard // 2
        gain[step : step + glide] = np.geomspace(low, high, glide)
        gain[step + glide :] = high
        out[self.together : self.end] = _from(period, whole) * gain * self._fades(whole)
        return out.astype(np.float32)

    def _fades(self, frames: int) -> NDArray[np.float64]:
        fade = self._frames(_FADE_S)
        shape = np.ones(frames)
        shape[:fade] = np.sin(np.linspace(0, np.pi / 2, fade)) ** 2
        shape[-fade:] = shape[:fade][::-1]
        return shape

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Yield all of it in blocks of shape (frames, entries)."""
        channels = np.stack([self.channel(entry) for entry in range(1, self.tones.entries + 1)], axis=1)
        for start in range(0, self.frames, self.rate_hz):
            yield channels[start : start + self.rate_hz]

    def chunk(self) -> bytes:
        """Return what an analysis needs to know, for the file's chunk CHUNK."""
        tones = self.tones
        body = {
            "sidetrip test signal": _VERSION,
            "name": self.name,
            "rate_hz": tones.rate_hz,
            "period_frames": tones.period_frames,
            "entries": tones.entries,
            "first_bin": tones.first_bin,
            "levels_dbfs": list(self.levels_dbfs),
            "periods": self.periods,
            "owners": _packed(tones.owners),
            "phases": _packed(tones.phases),
        }
        return json.dumps(body, separators=(",", ":")).encode()


def slate_burst() -> NDArray[np.float64]:
    """Return one burst of the slate: a maximum-length sequence of +1 and -1, shape (2^SLATE_ORDER - 1,)."""
    from scipy.signal import max_len_seq

    return max_len_seq(SLATE_ORDER)[0].astype(np.float64) * 2 - 1


def usual_levels_dbfs(entries: int) -> tuple[float, float]:
    """Return the low and high level of each entry, so that all of them on one mix stay below TOGETHER_DBFS."""
    high = min(LOUDEST_DBFS, TOGETHER_DBFS - 10 * math.log10(entries))
    return high - STEP_DB, high


def from_chunk(chunk: bytes) -> TestSignal:
    """Read what `chunk` wrote. Raises ValueError, in words, for anything else."""
    try:
        body = json.loads(chunk.rstrip(b"\0"))
        version = body["sidetrip test signal"]
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise ValueError("its tables cannot be read") from error
    if version != _VERSION:
        raise ValueError("it is of another version; make the signal again")
    try:
        owners, phases = _unpacked(body["owners"]), _unpacked(body["phases"])
        low, high = (float(level) for level in body["levels_dbfs"])
        name = str(body["name"])
    except (KeyError, TypeError, ValueError, OverflowError, zlib.error) as error:
        raise ValueError("its tables cannot be read") from error
    period, entries = _whole(body, "period_frames", 1024, 1 << 20), _whole(body, "entries", 1, MOST_ENTRIES)
    tones = Tones(
        _whole(body, "rate_hz", 8000, 768_000), period, entries, _whole(body, "first_bin", 1, 1 << 19), owners, phases
    )
    signal = TestSignal(tones, (low, high), _whole(body, "periods", 1, 1000), name)
    if period % 2 or len(owners) != len(phases) or tones.first_bin + len(owners) > period // 2:
        raise ValueError("its tables do not fit its period")
    if not _LOWEST_DBFS <= low < high <= 0:
        raise ValueError("its levels are impossible")
    if any(len(tones.bins(entry)) < _LEAST_TONES for entry in range(entries + 1)):
        raise ValueError("an entry, or the silence between them, has no tones of its own")
    if owners.max() > entries:
        raise ValueError("some tones belong to no entry")
    if signal.frames > _LONGEST_FRAMES:
        raise ValueError("it is too long to be a test")
    return signal


def _whole(body: dict[str, Any], key: str, least: int, most: int) -> int:
    value = body.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise ValueError(f"its {key.replace('_', ' ')} is impossible")
    return value


def _packed(table: NDArray[np.uint8]) -> str:
    return base64.b85encode(zlib.compress(table.tobytes(), 9)).decode()


def _unpacked(text: str) -> NDArray[np.uint8]:
    out = zlib.decompressobj()
    data = out.decompress(base64.b85decode(text), 1 << 20)
    return np.frombuffer(data, dtype=np.uint8)


def _from(period: NDArray[np.float64], frames: int) -> NDArray[np.float64]:
    return np.resize(period, frames)


__all__ = ["CHUNK", "SLATE_ORDER", "Section", "TestSignal", "from_chunk", "slate_burst", "usual_levels_dbfs"]
