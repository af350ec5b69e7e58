"""The test signal: who sounds when and how loud, and the chunk that tells of it."""

from __future__ import annotations

import base64
import json
import re
import zlib
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.dsp.testsignal import (
    FIRST_DBFS,
    LOUDEST_DBFS,
    STEP_DB,
    TOGETHER_DBFS,
    TestSignal,
    from_chunk,
    slate_burst,
    usual_levels_dbfs,
)
from sidetrip.dsp.tones import Tones, make_tones
from signals import RATE, played, signal_of, tones_of

Json = Any


def level_dbfs(samples: np.ndarray[Any, Any]) -> float:
    """Return the rms level: a full-scale sine reads 0."""
    return float(10 * np.log10(2 * np.mean(samples.astype(np.float64) ** 2)))


@pytest.mark.parametrize("entries", [1, 4, 32])
def test_all_sends_on_one_mix_stay_below_the_limit(entries: int) -> None:
    """The rms of the sum of all channels at the high level is at most -12 dBFS, and none is louder than -20 dBFS."""
    signal = signal_of(entries)
    total = np.zeros(signal.frames)
    for entry in range(1, entries + 1):
        channel = signal.channel(entry)
        total += channel
        section = signal.sections[1]
        one = channel[section.start : section.start + signal.tones.period_frames]
        assert level_dbfs(one) <= LOUDEST_DBFS + 0.01
    section = signal.sections[1]
    loud = total[section.start : section.start + section.periods * signal.tones.period_frames]
    assert level_dbfs(loud) <= TOGETHER_DBFS + 0.01


@pytest.mark.parametrize("entries", [1, 6])
def test_no_single_channel_comes_near_full_scale(entries: int) -> None:
    """The peak of every channel stays 10 dB below full scale."""
    assert np.abs(played(signal_of(entries))).max() < 10 ** (-10 / 20)


def test_one_entry_sounds_at_a_time_before_all_do() -> None:
    """Before all begin together, no frame carries two entries, every entry sounds, and they come in order."""
    signal = signal_of(6)
    alone = played(signal)[: signal.together] != 0
    assert alone.sum(axis=1).max() == 1
    firsts = [int(np.flatnonzero(alone[:, entry])[0]) for entry in range(6)]
    lasts = [int(np.flatnonzero(alone[:, entry])[-1]) for entry in range(6)]
    assert all(last < first for last, first in zip(lasts[:-1], firsts[1:], strict=True))
    assert set(np.diff(firsts)) == {signal.slot_frames}


def test_every_entry_begins_at_the_lowest_level_with_three_bursts() -> None:
    """The first thing heard of an entry is a maximum-length sequence at -40 dBFS, three times, with pauses between."""
    signal = signal_of(6)
    burst = slate_burst()
    for entry in (0, 3):
        channel = played(signal)[:, entry]
        at = int(np.flatnonzero(channel)[0])
        gap = at + len(burst)
        step = int(np.flatnonzero(channel[gap:])[0]) + len(burst)
        for number in range(3):
            piece = channel[at + number * step : at + number * step + len(burst)]
            assert np.allclose(piece, burst * piece[0] * burst[0], atol=1e-9)
            assert level_dbfs(piece) == pytest.approx(FIRST_DBFS, abs=0.01)
            assert not channel[at + number * step + len(burst) : at + (number + 1) * step].any()


def test_an_entry_rises_from_the_lowest_level_to_the_low_one() -> None:
    """Alone, the tones never get louder than the low level by more than their crest, and grow all the way."""
    signal = signal_of(6)
    channel = played(signal)[: signal.together, 2].astype(np.float64)
    ramp = channel[np.flatnonzero(channel)[-1] - RATE // 2 : np.flatnonzero(channel)[-1] + 1]
    parts = [level_dbfs(part) for part in np.array_split(ramp[RATE // 50 : -RATE // 50], 5)]
    assert parts == sorted(parts)
    assert parts[0] < FIRST_DBFS + 4
    assert parts[-1] < signal.levels_dbfs[0] + 0.5


@pytest.mark.parametrize("periods", [3, 4])
def test_measured_periods_repeat_exactly_at_two_levels(periods: int) -> None:
    """Each section holds its periods, the same to the last bit of a 24-bit file, 12 dB below the other."""
    signal = signal_of(2, periods=periods)
    period = signal.tones.period_frames
    heard = []
    for section in signal.sections:
        assert section.periods == periods
        whole = played(signal)[section.start : section.start + periods * period, 1].reshape(periods, period)
        assert np.abs(whole - whole[0]).max() < 2**-24
        assert level_dbfs(whole) == pytest.approx(section.level_dbfs, abs=0.01)
        heard.append(level_dbfs(whole))
    assert heard[1] - heard[0] == pytest.approx(STEP_DB, abs=0.01)


def test_a_period_settles_before_each_section_and_goes_on_behind_it() -> None:
    """A path as long as a period still shows whole periods: before and behind a section its tones sound on."""
    signal = signal_of(2)
    period = signal.tones.period_frames
    channel = played(signal)[:, 0]
    for section in signal.sections:
        start, stop = section.start, section.start + section.periods * period
        assert np.allclose(
            channel[start - period // 2 : start], channel[start + period // 2 : start + period], atol=1e-7
        )
        assert np.allclose(
            channel[stop : stop + signal.guard // 2], channel[start : start + signal.guard // 2], atol=1e-7
        )
    assert not channel[signal.end :].any()


def test_tones_keep_their_phase_from_beginning_to_end() -> None:
    """The step between the levels changes nothing but the gain: divided by their levels, both sections agree."""
    signal = signal_of(2)
    period = signal.tones.period_frames
    low, high = (played(signal)[section.start : section.start + period, 0] for section in signal.sections)
    shift = (signal.sections[1].start - signal.sections[0].start) % period
    assert np.allclose(np.roll(low, -shift) * 10 ** (STEP_DB / 20), high, atol=2e-7)


def test_usual_levels() -> None:
    """One entry may reach -20 dBFS; ten share -12 dBFS; the low level is 12 dB below."""
    assert usual_levels_dbfs(1) == (-32.0, -20.0)
    assert usual_levels_dbfs(10) == (-34.0, -22.0)


@pytest.mark.parametrize("entries", [1, 6, 32])
def test_the_chunk_gives_back_the_signal(entries: int) -> None:
    """What is read from the chunk makes the very same samples, padded by a zero byte or not."""
    signal = signal_of(entries)
    for chunk in (signal.chunk(), signal.chunk() + b"\0"):
        back = from_chunk(chunk)
        assert (back.levels_dbfs, back.periods, back.name) == (signal.levels_dbfs, signal.periods, signal.name)
        assert np.array_equal(back.tones.owners, signal.tones.owners)
        assert np.array_equal(back.tones.phases, signal.tones.phases)
        assert np.array_equal(back.channel(entries), signal.channel(entries))
        assert back.chunk() == signal.chunk()


def _small() -> bytes:
    tones = make_tones(2, RATE, period_frames=1024)
    return TestSignal(tones, (-40.0, -28.0), 3, "small").chunk()


_SMALL = _small()
_IN_WORDS = re.compile(r"(it|its|an entry|some tones)\b[a-z ,;]+")


def _refused_in_words_or_sound(chunk: bytes) -> None:
    try:
        signal = from_chunk(chunk)
    except ValueError as error:
        assert _IN_WORDS.fullmatch(str(error)), str(error)
    else:
        assert from_chunk(signal.chunk()).chunk() == signal.chunk()
        assert signal.frames < 1 << 26
        assert all(len(signal.tones.bins(owner)) for owner in range(signal.tones.entries + 1))


@given(st.binary(max_size=300))
def test_any_bytes_are_refused_in_words(chunk: bytes) -> None:
    """Whatever the chunk holds, the answer is a ValueError that a person can read."""
    with pytest.raises(ValueError, match=_IN_WORDS):
        from_chunk(chunk)


@given(st.data())
def test_a_chunk_with_damaged_bytes_is_refused_or_sound(data: st.DataObject) -> None:
    """Bytes changed, cut off or doubled give a sentence, or a signal that is whole."""
    chunk = bytearray(_SMALL)
    for _ in range(data.draw(st.integers(1, 4))):
        chunk[data.draw(st.integers(0, len(chunk) - 1))] = data.draw(st.integers(0, 255))
    stop = data.draw(st.integers(0, len(chunk)) | st.just(len(chunk)))
    _refused_in_words_or_sound(bytes(chunk[:stop]))


_ANY_JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=20)
    | st.sampled_from([0, 1, -1, 1023, 1024, 1025, 1 << 19, 1 << 20, 48_000, 10**400, "abc", "é", 0.0, -30.5]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@given(st.data())
def test_a_chunk_with_other_values_is_refused_or_sound(data: st.DataObject) -> None:
    """Any entry of the tables taken away or given any other value gives a sentence, or a signal that is whole."""
    body: dict[str, Json] = json.loads(_SMALL)
    for key in data.draw(st.lists(st.sampled_from(sorted(body)), min_size=1, max_size=3, unique=True)):
        if data.draw(st.booleans()):
            body[key] = data.draw(_ANY_JSON)
        else:
            del body[key]
    _refused_in_words_or_sound(json.dumps(body).encode())


def _changed(**values: Json) -> bytes:
    return json.dumps({**json.loads(_SMALL), **values}).encode()


def _table(*values: int) -> str:
    return base64.b85encode(zlib.compress(bytes(values))).decode()


_HOSTILE = {
    "nested a hundred thousand deep": b"[" * 100_000,
    "a list": b"[]",
    "a number with more digits than are read": b'{"sidetrip test signal": ' + b"9" * 5000 + b"}",
    "another version": _changed(**{"sidetrip test signal": 2}),
    "a level that is no number": _changed(levels_dbfs=[float("nan"), -20]),
    "a level beyond any float": _changed(levels_dbfs=[-(10**400), -20]),
    "a level as text": _changed(levels_dbfs=["quiet", "loud"]),
    "three levels": _changed(levels_dbfs=[-40, -30, -20]),
    "levels upside down": _changed(levels_dbfs=[-20, -32]),
    "a level that leaves nothing": _changed(levels_dbfs=[-1e300, -20]),
    "an odd period": _changed(period_frames=1025),
    "a test of hours": _changed(periods=1000, period_frames=1 << 20),
    "tables that are no text": _changed(owners=5),
    "tables in no alphabet": _changed(owners="é"),
    "tables that are not packed": _changed(owners="abcde"),
    "tables of two lengths": _changed(owners=_table(*[0, 1, 2] * 20)),
    "an entry that is not there": _changed(owners=_table(*[0, 1, 2, 9] * 20), phases=_table(*[0] * 80)),
    "nobody's bins left out": _changed(owners=_table(*[1, 2] * 20), phases=_table(*[0] * 40)),
    "a tone at 0 Hz": _changed(first_bin=0),
    "tables beyond half the rate": _changed(first_bin=500),
    "a bomb": _changed(owners=base64.b85encode(zlib.compress(bytes(1 << 26))).decode()),
}


@pytest.mark.parametrize("chunk", _HOSTILE.values(), ids=_HOSTILE)
def test_a_hostile_chunk_is_refused_in_words(chunk: bytes) -> None:
    """Each of these would crash, hang or fill the memory if it were believed."""
    with pytest.raises(ValueError, match=_IN_WORDS):
        from_chunk(chunk)


def test_a_table_of_another_period_still_makes_its_signal() -> None:
    """A chunk from other rates and periods is read as well."""
    tones: Tones = tones_of(3, 4096)
    signal = TestSignal(tones, (-50.0, -30.0), 5, "née Ω")
    assert from_chunk(signal.chunk()).name == "née Ω"
    assert from_chunk(signal.chunk()).frames == signal.frames
