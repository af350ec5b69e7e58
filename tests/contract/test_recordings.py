"""The promises of Recordings, kept by the real ones on a disk and by those in memory; then what only a disk can do."""

from __future__ import annotations

import errno
import os
import struct
import sys
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fakes.audio_files import AudioFilesInMemory, Sound
from sidetrip.adapters import wave_writer
from sidetrip.adapters.audio_files import AudioFiles
from sidetrip.application.recording_ports import Recordings, WaveEncoding
from sidetrip.dsp.wavehead import LONGEST_RIFF
from sidetrip.errors import RecordingUnreadable, WouldOverwrite
from sidetrip.findings import Finding, Severity
from wavebytes import bytes_24, chunk, ds64, fmt, programme, wave

ODD_NAMES = ["Bühne.wav", unicodedata.normalize("NFD", "Bühne.wav"), "two words.wav", "-rf.wav", "100% #1.wav"]
LONGEST_NAME = "x" * 196 + ".wav"


class _Disk:
    """The real recordings in a folder of their own."""

    def __init__(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.recordings: Recordings = AudioFiles()
        self._root, self._monkeypatch = root, monkeypatch

    def path(self, name: str) -> str:
        return str(self._root / name)

    def put(self, name: str, samples: NDArray[np.float32], rate_hz: int = 48000, subtype: str = "PCM_24") -> None:
        (self._root / name).parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(os.fsencode(self._root / name), samples, rate_hz, subtype, format="WAV")

    def fill_up(self) -> None:
        """Let the disk be full when the file should be closed."""

        def full(_: int) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        self._monkeypatch.setattr(os, "fsync", full)


class _Memory:
    """The recordings in memory."""

    def __init__(self) -> None:
        self._recordings = AudioFilesInMemory()
        self.recordings: Recordings = self._recordings

    def path(self, name: str) -> str:
        return f"/takes/{name}"

    def put(self, name: str, samples: NDArray[np.float32], rate_hz: int = 48000, subtype: str = "PCM_24") -> None:
        words = {"PCM_16": "16-bit WAV", "PCM_24": "24-bit WAV", "FLOAT": "32-bit float WAV"}[subtype]
        self._recordings.sounds[self.path(name)] = Sound(
            samples if samples.ndim == 2 else samples[:, np.newaxis], rate_hz, words
        )

    def fill_up(self) -> None:
        self._recordings.broken = True


Place = _Disk | _Memory


@pytest.fixture(params=["disk", "memory"])
def place(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Place:
    """Both kinds, empty."""
    return _Disk(tmp_path, monkeypatch) if request.param == "disk" else _Memory()


def _noise(frames: int, channels: int = 1, seed: int = 1) -> NDArray[np.float32]:
    """Return what 24 bits hold exactly."""
    return (programme(frames, channels, seed) / 2.0**23).astype(np.float32)


def _refused(recordings: Recordings, *paths: str) -> tuple[Finding, ...]:
    with pytest.raises(RecordingUnreadable) as caught:
        recordings.open(paths)
    for finding in caught.value.findings:
        assert finding.severity is Severity.ERROR
        assert finding.what
        assert finding.values
        assert finding.remedy
    return caught.value.findings


def _codes(findings: tuple[Finding, ...]) -> list[str]:
    return [finding.code for finding in findings]


# Both


def test_a_file_of_several_channels_is_one_recording(place: Place) -> None:
    """Rate, length, tracks and samples are those of the file; channels count from 1."""
    sound = _noise(1000, 3)
    place.put("Desk.wav", sound, 44100)
    with place.recordings.open([place.path("Desk.wav")]) as recording:
        assert (recording.rate_hz, recording.channels, recording.frames) == (44100, 3, 1000)
        assert recording.tracks == ("Desk.wav, channel 1", "Desk.wav, channel 2", "Desk.wav, channel 3")
        assert recording.encoding == "24-bit WAV"
        assert recording.read().dtype == np.float32
        assert (recording.read() == sound).all()
        assert recording.findings() == ()


def test_files_stand_side_by_side_in_the_order_given(place: Place) -> None:
    """Mono files and a stereo one make one recording; the encodings are all told."""
    kick, keys, vox = _noise(500, 1, 1), _noise(500, 2, 2), _noise(500, 1, 3)
    place.put("Vox.wav", vox)
    place.put("Keys.wav", keys, subtype="FLOAT")
    place.put("Kick.wav", kick)
    with place.recordings.open([place.path(name) for name in ("Kick.wav", "Keys.wav", "Vox.wav")]) as recording:
        assert recording.tracks == ("Kick.wav", "Keys.wav, channel 1", "Keys.wav, channel 2", "Vox.wav")
        assert (recording.read() == np.hstack([kick, keys, vox])).all()
        assert recording.encoding == "24-bit WAV, 32-bit float WAV"


def test_a_folder_stands_for_its_files_in_natural_order(place: Place) -> None:
    """Track 2 comes before Track 10, capitals aside."""
    for number in (10, 2, 1):
        place.put(f"take/{'T' if number % 2 else 't'}rack {number}.wav", np.full((10, 1), number / 100, np.float32))
    with place.recordings.open([place.path("take")]) as recording:
        assert recording.tracks == ("Track 1.wav", "track 2.wav", "track 10.wav")
        assert np.rint(recording.read()[0] * 100).tolist() == [1, 2, 10]


def test_files_of_one_name_are_told_apart_by_their_path(place: Place) -> None:
    """Two decks may both have recorded a Kick."""
    place.put("a/Kick.wav", _noise(10))
    place.put("b/Kick.wav", _noise(10))
    paths = [place.path("a/Kick.wav"), place.path("b/Kick.wav")]
    with place.recordings.open(paths) as recording:
        assert list(recording.tracks) == paths


def test_blocks_are_the_whole_in_parts(place: Place) -> None:
    """Whatever the size, start, stop and choice of tracks, bit for bit; the last block may be shorter."""
    sound = _noise(1000, 4)
    place.put("a.wav", sound[:, :3])
    place.put("b.wav", sound[:700, 3])
    sound[700:, 3] = 0
    with place.recordings.open([place.path("a.wav"), place.path("b.wav")]) as recording:
        for size in (1, 7, 300, 1000, 5000):
            assert (np.concatenate(list(recording.blocks(size))) == sound).all()
        parts = list(recording.blocks(128, 600, 900, [3, 0, 0]))
        assert [len(part) for part in parts] == [128, 128, 44]
        assert (np.concatenate(parts) == sound[600:900][:, [3, 0, 0]]).all()
        assert (recording.read(990, 2000, [1]) == sound[990:, [1]]).all()
        assert recording.read(2000).shape == (0, 4)
        assert list(recording.blocks(10, 1000)) == []
        assert recording.read(5, 6, []).shape == (1, 0)


def test_a_block_belongs_to_whoever_got_it(place: Place) -> None:
    """Changing one changes no other and nothing that is read later."""
    sound = _noise(30)
    place.put("a.wav", sound)
    with place.recordings.open([place.path("a.wav")]) as recording:
        blocks = list(recording.blocks(10))
        for block in blocks:
            np.add(block, 1, out=block)
        assert (np.concatenate(blocks) == sound + np.float32(1)).all()
        assert (recording.read() == sound).all()


def test_what_cannot_be_asked_raises(place: Place) -> None:
    """A track that is not there, a frame before the first, a block of nothing: at the call, not at the first block."""
    place.put("a.wav", _noise(10, 2))
    with place.recordings.open([place.path("a.wav")]) as recording:
        for ask in (
            lambda: recording.read(tracks=[2]),
            lambda: recording.read(tracks=[-1]),
            lambda: recording.read(-1),
            lambda: recording.read(0, -1),
            lambda: recording.blocks(0),
            lambda: recording.blocks(8, tracks=[0, 5]),
        ):
            with pytest.raises(ValueError, match=r"There is no|there are none|cannot be"):
                ask()


def test_what_is_not_there_is_said(place: Place) -> None:
    """No path, a wrong path: an error that names it; every wrong file gets its own."""
    place.put("good.wav", _noise(10))
    assert _codes(_refused(place.recordings)) == ["recording-missing"]
    findings = _refused(place.recordings, place.path("good.wav"), place.path("b.wav"), place.path("c.wav"))
    assert _codes(findings) == ["recording-missing"] * 2
    assert {finding.file for finding in findings} == {place.path("b.wav"), place.path("c.wav")}


def test_a_file_without_sound_is_refused(place: Place) -> None:
    """Zero seconds are never fine."""
    place.put("a.wav", np.empty((0, 2), np.float32))
    (finding,) = _refused(place.recordings, place.path("a.wav"))
    assert (finding.code, finding.file) == ("recording-unreadable", place.path("a.wav"))


def test_files_of_unlike_rate_are_refused(place: Place) -> None:
    """Both rates are named."""
    place.put("a.wav", _noise(10), 48000)
    place.put("b.wav", _noise(10), 44100)
    (finding,) = _refused(place.recordings, place.path("a.wav"), place.path("b.wav"))
    assert finding.code == "recording-unlike"
    assert "48000 Hz" in finding.values
    assert "44100 Hz" in finding.values


def test_the_shorter_file_is_followed_by_silence_and_that_is_said(place: Place) -> None:
    """A note names it; the longest decides the length."""
    place.put("long.wav", _noise(100))
    place.put("short.wav", _noise(40, 1, 2))
    with place.recordings.open([place.path("short.wav"), place.path("long.wav")]) as recording:
        assert recording.frames == 100
        assert (recording.read()[40:, 0] == 0).all()
        assert recording.read()[39, 0] != 0
        (finding,) = recording.findings()
    assert (finding.code, finding.severity) == ("recording-padded", Severity.NOTE)
    assert "short.wav" in finding.values
    assert "long.wav" not in finding.values


def test_samples_that_are_no_numbers_are_silence_and_named(place: Place) -> None:
    """A NaN and an infinity in a good file: found while reading, each place once, all else untouched."""
    sound = np.tile(_noise(4800, 2), (20, 1))
    sound[24000, 0], sound[36000, 1] = np.nan, np.inf
    place.put("take.wav", sound, subtype="FLOAT")
    with place.recordings.open([place.path("take.wav")]) as recording:
        assert recording.findings() == ()
        got = np.concatenate(list(recording.blocks(1000)))
        recording.read(23000, 37000, [1])
        (finding,) = recording.findings()
    assert (got[24000, 0], got[36000, 1]) == (0, 0)
    assert (got == np.where(np.isfinite(sound), sound, 0)).all()
    assert (finding.code, finding.severity) == ("samples-not-finite", Severity.WARNING)
    first, second = finding.values.split("; ")
    assert first.startswith("take.wav, channel 1 frame 24000")
    assert second.startswith("take.wav, channel 2 frame 36000")


def test_many_such_samples_are_counted_after_the_first_twenty(place: Place) -> None:
    """The earliest are named, however the recording was read."""
    sound = np.zeros((1000, 1), np.float32)
    sound[100:150] = np.nan
    sound[900] = -np.inf
    place.put("a.wav", sound, subtype="FLOAT")
    with place.recordings.open([place.path("a.wav")]) as recording:
        for start, stop in ((800, 1000), (120, 700), (0, 130), (100, 1000)):
            recording.read(start, stop)
        (finding,) = recording.findings()
    parts = finding.values.split("; ")
    assert [part.split()[2] for part in parts[:20]] == [str(frame) for frame in range(100, 120)]
    assert parts[20:] == ["and 31 more"]


def test_floats_hotter_than_full_scale_are_kept(place: Place) -> None:
    """A peak of 2.0 reads as 2.0; written as integers it is clipped and counted, never wrapped."""
    sine = (2 * np.sin(2 * np.pi * 1000 * np.arange(96000) / 48000)).astype(np.float32)[:, np.newaxis]
    place.put("hot.wav", sine, subtype="FLOAT")
    with place.recordings.open([place.path("hot.wav")]) as recording:
        assert (recording.read() == sine).all()
        for encoding in ("16-bit", "24-bit"):
            clipped = place.recordings.write_wave(
                place.path(f"{encoding}.wav"), recording.blocks(4096), 48000, 1, encoding
            )
            assert clipped == int((np.abs(sine) > 1).sum())
            with place.recordings.open([place.path(f"{encoding}.wav")]) as written:
                assert (np.abs(written.read() - sine.clip(-1, 1)) <= 2.0**-15).all()


@pytest.mark.parametrize(("encoding", "words"), [("24-bit", "24-bit"), ("float", "32-bit float")])
def test_what_is_written_reads_back_the_same(place: Place, encoding: WaveEncoding, words: str) -> None:
    """Sound, rate and chunks; the blocks may differ in length and be none."""
    sound = _noise(999, 3)
    path = place.path("new/out.wav")
    chunks = {b"bext": bytes(602), b"sdtr": b"odd"}
    parts: list[NDArray[Any]] = [sound[:1], sound[1:1], sound[1:].astype(np.float64)]
    assert place.recordings.write_wave(path, iter(parts), 96000, 3, encoding, chunks) == 0
    with place.recordings.open([path]) as recording:
        assert (recording.rate_hz, recording.encoding) == (96000, f"{words} WAV")
        assert (recording.read() == sound).all()
        assert recording.chunk(b"sdtr") == b"odd"
        assert recording.chunk(b"bext") == bytes(602)
        assert recording.chunk(b"none") is None
        assert recording.findings() == ()


def test_a_file_that_is_there_is_left_alone_unless_told(place: Place) -> None:
    """Somebody's take is never written over by chance, nor is a folder."""
    place.put("a.wav", _noise(10))
    place.put("folder/b.wav", _noise(10))
    for name in ("a.wav", "folder"):
        with pytest.raises(WouldOverwrite):
            place.recordings.write_wave(place.path(name), [_noise(5)], 48000, 1)
    with place.recordings.open([place.path("a.wav")]) as recording:
        assert recording.frames == 10
    place.recordings.write_wave(place.path("a.wav"), [_noise(5)], 48000, 1, replace=True)
    with place.recordings.open([place.path("a.wav")]) as recording:
        assert recording.frames == 5


def test_a_write_that_fails_leaves_what_was(place: Place) -> None:
    """A full disk, a block of another shape, an id that is the file's own: no new file, and the old one unharmed."""
    place.put("take/a.wav", _noise(10))
    for path in (place.path("take/a.wav"), place.path("take/b.wav")):
        for blocks, chunks in (([_noise(5), _noise(5, 2)], {}), ([_noise(5)], {b"data": b""})):
            with pytest.raises(ValueError, match=r"A block of shape|cannot be the id"):
                place.recordings.write_wave(path, blocks, 48000, 1, chunks=chunks, replace=True)
    place.fill_up()
    with pytest.raises(RecordingUnreadable) as caught:
        place.recordings.write_wave(place.path("take/a.wav"), [_noise(5)], 48000, 1, replace=True)
    assert _codes(caught.value.findings) == ["recording-unreadable"]
    with place.recordings.open([place.path("take")]) as recording:
        assert (recording.tracks, recording.frames) == (("a.wav",), 10)


@pytest.mark.parametrize("name", [*ODD_NAMES, LONGEST_NAME])
def test_names_are_shown_as_they_are(place: Place, name: str) -> None:
    """Umlauts of both kinds, spaces, a leading dash, percent, hash and 200 characters."""
    place.recordings.write_wave(place.path(name), [_noise(24)], 48000, 1)
    with place.recordings.open([place.path(name)]) as recording:
        assert recording.tracks == (name,)
        assert recording.frames == 24


# The disk alone


def _put(path: Path, data: bytes) -> str:
    path.write_bytes(data)
    return str(path)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    container=st.sampled_from(["WAV/PCM_U8", "WAV/PCM_16", "WAVEX/PCM_24", "RF64/FLOAT", "FLAC/PCM_24", "AIFF/PCM_16"]),
    channels=st.integers(1, 5),
    frames=st.integers(1, 3000),
    block=st.integers(1, 4000),
)
def test_another_reader_hears_the_same(tmp_path: Path, container: str, channels: int, frames: int, block: int) -> None:
    """Whatever libsndfile writes and reads comes out here to the bit, in blocks of any size."""
    form, subtype = container.split("/")
    path = tmp_path / f"a.{form.lower()}"
    soundfile.write(path, _noise(frames, channels), 48000, subtype, format=form)
    peer, _ = soundfile.read(path, dtype="float32", always_2d=True)
    with AudioFiles().open([str(path)]) as recording:
        assert (np.concatenate(list(recording.blocks(block))) == peer).all()
        assert (recording.read(frames // 2, None, [channels - 1]) == peer[frames // 2 :, channels - 1 :]).all()
        assert recording.findings() == ()


@pytest.mark.parametrize(("encoding", "subtype"), [("16-bit", "PCM_16"), ("24-bit", "PCM_24"), ("float", "FLOAT")])
def test_another_reader_reads_what_is_written(tmp_path: Path, encoding: WaveEncoding, subtype: str) -> None:
    """libsndfile finds rate, encoding and samples; so it does in the long form, reached by lowering the limit."""
    sound = _noise(501, 3)
    for name, longest in (("plain.wav", LONGEST_RIFF), ("long.wav", 3000)):
        path = tmp_path / name
        wave_writer.write_wave(str(path), [sound], 44100, 3, encoding, {b"even": b"abcd"}, longest=longest)
        info = soundfile.info(path)
        assert (info.format, info.subtype, info.samplerate) == ("WAV" if name[0] == "p" else "RF64", subtype, 44100)
        peer, _ = soundfile.read(path, dtype="float32")
        assert np.abs(peer - sound).max() <= (2.0**-16 if encoding == "16-bit" else 0)
        with AudioFiles().open([str(path)]) as recording:
            assert (recording.read() == peer).all()
            assert recording.findings() == ()


def test_a_file_that_is_cut_still_has_its_chunks(tmp_path: Path) -> None:
    """Chunks of one's own stand before the sound."""
    path = tmp_path / "a.wav"
    AudioFiles().write_wave(str(path), [_noise(1000)], 48000, 1, chunks={b"mine": b"kept"})
    _put(path, path.read_bytes()[:600])
    with AudioFiles().open([str(path)]) as recording:
        assert recording.chunk(b"mine") == b"kept"
        assert recording.chunk(b"data") is None
        assert _codes(recording.findings()) == ["recording-repaired"]


def test_a_written_file_has_the_rights_of_any_new_file(tmp_path: Path) -> None:
    """No rest of the writing is left beside it, and others may read it as the person's settings say."""
    AudioFiles().write_wave(str(tmp_path / "a.wav"), [_noise(10)], 48000, 1)
    (tmp_path / "plain").touch()
    assert (tmp_path / "a.wav").stat().st_mode == (tmp_path / "plain").stat().st_mode
    assert {path.name for path in tmp_path.iterdir()} == {"a.wav", "plain"}


def test_a_length_that_was_never_filled_in(tmp_path: Path) -> None:
    """A pipe's ffffffff, and a recorder that died with zeros: everything is there, and one warning says so."""
    tone = np.rint(0.1 * 2**23 * np.sin(2 * np.pi * 1000 * np.arange(44100) / 44100)).astype(np.int32)
    sound = bytes_24(np.column_stack([tone, tone]))
    for size in (0xFFFFFFFF, 0):
        head = chunk(b"fmt ", fmt(2, 44100, 24))
        path = _put(tmp_path / "a.wav", wave(head, chunk(b"data", sound, size=size), size=size))
        with AudioFiles().open([path]) as recording:
            assert (recording.frames, recording.rate_hz) == (44100, 44100)
            assert 20 * np.log10(np.abs(recording.read()).max()) == pytest.approx(-20, abs=0.01)
            (finding,) = recording.findings()
        assert (finding.code, finding.severity, finding.file) == ("recording-repaired", Severity.WARNING, path)
        assert "1 s, 44100 frames" in finding.values


def test_a_disk_that_was_full(tmp_path: Path) -> None:
    """Header of 10 s, 4.25 s and 13 bytes there: whole frames, eight channels in their places, 5.75 s missing."""
    sound = programme(204_000, 8)
    head = chunk(b"fmt ", fmt(8, 48000, 24))
    data = wave(head, chunk(b"data", bytes_24(sound) + bytes(13), size=480_000 * 24, pad=False), size=480_000 * 24 + 36)
    with AudioFiles().open([_put(tmp_path / "a.wav", data)]) as recording:
        assert (recording.frames, recording.channels) == (204_000, 8)
        assert (recording.read(203_000) == (sound[203_000:] / 2.0**23).astype(np.float32)).all()
        (finding,) = recording.findings()
    assert finding.code == "recording-repaired"
    assert "5.75 s missing" in finding.values
    assert "13 stray bytes" in finding.values


def test_the_long_form_needs_no_warning(tmp_path: Path) -> None:
    """Two seconds of float with the real sizes in ds64."""
    sound = _noise(96000, 2)
    body = sound.tobytes()
    data = wave(
        ds64(len(body) + 72, len(body), 96000),
        chunk(b"fmt ", fmt(2, 48000, 32, 3)),
        chunk(b"data", body, size=0xFFFFFFFF),
        form=b"RF64",
        size=0xFFFFFFFF,
    )
    with AudioFiles().open([_put(tmp_path / "a.wav", data)]) as recording:
        assert (recording.frames, recording.findings()) == (96000, ())
        assert (recording.read() == sound).all()


def test_a_long_recording_is_read_at_both_ends(tmp_path: Path) -> None:
    """Frames behind 4 GiB are where they should be; the file is mostly a hole and takes no space."""
    frames, path = 60_000_000, tmp_path / "a.wav"
    head = wave(
        ds64(frames * 96 + 72, frames * 96, frames),
        chunk(b"fmt ", fmt(32, 48000, 24)),
        chunk(b"data", b"", size=0xFFFFFFFF),
        form=b"RF64",
        size=0xFFFFFFFF,
    )
    with path.open("wb") as file:
        file.write(head)
        file.seek(len(head) + frames * 96 - 3)
        file.write(b"\x00\x00\x40")
    with AudioFiles().open([str(path)]) as recording:
        assert (recording.frames, recording.findings()) == (frames, ())
        assert recording.read(frames - 1)[0].tolist() == [0.0] * 31 + [0.5]


def test_a_packed_file_that_is_cut_or_does_not_know_its_length(tmp_path: Path) -> None:
    """What can be unpacked comes out the same however it is read; the rest is silence and named."""
    path = tmp_path / "a.flac"
    soundfile.write(path, _noise(48000, 2), 48000, "PCM_24")
    whole, _ = soundfile.read(path, dtype="float32")
    data = path.read_bytes()
    cut = _put(tmp_path / "cut.flac", data[: len(data) // 2])
    results = []
    for size in (48000, 5000, 777):
        with AudioFiles().open([cut]) as recording:
            results.append(np.concatenate(list(recording.blocks(size))))
            (finding,) = recording.findings()
            assert finding.code == "recording-repaired"
            assert "missing" in finding.values
    good = int(np.flatnonzero((results[0] != whole).any(axis=1))[0])
    assert 15_000 < good < 30_000
    assert (results[0][good:] == 0).all()
    assert all((result == results[0]).all() for result in results)
    fixed = int.from_bytes(data[18:26], "big") & ~((1 << 36) - 1)
    unknown = _put(tmp_path / "unknown.flac", data[:18] + fixed.to_bytes(8, "big") + data[26:])
    with AudioFiles().open([unknown]) as recording:
        assert recording.frames == 48000
        assert (recording.read(40_000, 41_000) == whole[40_000:41_000]).all()
        assert (np.concatenate(list(recording.blocks(999))) == whole).all()
        assert _codes(recording.findings()) == ["recording-repaired"]


@pytest.mark.parametrize(("suffix", "subtype"), [("ogg", "VORBIS"), ("mp3", "MPEG_LAYER_III"), ("wav", "IMA_ADPCM")])
def test_lossy_files_read_the_same_again(tmp_path: Path, suffix: str, subtype: str) -> None:
    """What comes out of them depends on what was unpacked before, so it is always unpacked in the same way."""
    path = tmp_path / f"a.{suffix}"
    soundfile.write(path, _noise(30_000, 2), 44100, subtype)
    peer, _ = soundfile.read(path, dtype="float32")
    with AudioFiles().open([str(path)]) as recording:
        assert (recording.read(20_000, 21_000) == peer[20_000:21_000]).all()
        assert (np.concatenate(list(recording.blocks(999))) == peer).all()
        assert (recording.read() == peer).all()
        assert (recording.read(25_000, tracks=[1]) == peer[25_000:, 1:]).all()


def test_other_encodings_in_a_wav_file_are_left_to_the_library(tmp_path: Path) -> None:
    """A telephone's WAV opens too."""
    path = tmp_path / "a.wav"
    soundfile.write(path, _noise(400), 8000, "ULAW")
    with AudioFiles().open([str(path)]) as recording:
        assert (recording.rate_hz, recording.frames) == (8000, 400)
        assert (recording.read()[:, 0] == soundfile.read(path, dtype="float32")[0]).all()


def test_without_the_library_wav_files_still_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Others are refused, with the reason."""
    for name in ("a.wav", "a.flac"):
        soundfile.write(tmp_path / name, _noise(400), 48000)
    monkeypatch.setitem(sys.modules, "soundfile", None)
    with AudioFiles().open([str(tmp_path / "a.wav")]) as recording:
        assert recording.frames == 400
    (finding,) = _refused(AudioFiles(), str(tmp_path / "a.flac"))
    assert (finding.code, "library" in finding.what) == ("recording-unreadable", True)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"RIFF",
        b"just text, no sound",
        bytes(5000),
        wave(chunk(b"fmt ", fmt())),
        b"fLaC" + bytes(50),
        b"ID3" + bytes(99),
    ],
)
def test_what_is_no_sound_is_refused_with_the_reason(tmp_path: Path, data: bytes) -> None:
    """Never a traceback."""
    (finding,) = _refused(AudioFiles(), _put(tmp_path / "a.wav", data))
    assert (finding.code, finding.where) == ("recording-unreadable", "a.wav")


def test_a_name_alone_makes_no_sound(tmp_path: Path) -> None:
    """Bytes that begin like nothing known are not taken for telephone sound because of their suffix."""
    (finding,) = _refused(AudioFiles(), _put(tmp_path / "a.au", b"anything" * 100))
    assert (finding.code, "name" in finding.values) == ("recording-unreadable", True)


def test_an_empty_length_with_nothing_behind_it_is_refused_with_the_size(tmp_path: Path) -> None:
    """A recorder that died at once: no frame is there, and that is said."""
    data = wave(chunk(b"fmt ", fmt()), chunk(b"data", b"abc", size=0, pad=False), size=0)
    (finding,) = _refused(AudioFiles(), _put(tmp_path / "a.wav", data))
    assert "it says 0" in finding.values
    assert "3 stray bytes" in finding.values


def test_what_is_no_file_is_refused_without_waiting(tmp_path: Path) -> None:
    """A pipe, a name with a zero byte, one that is too long, and a file in place of a folder."""
    os.mkfifo(tmp_path / "pipe.wav")
    (tmp_path / "file").touch()
    cases = [("pipe.wav", "recording-unreadable"), ("a\0b", "recording-missing"), ("file/a.wav", "recording-missing")]
    for name, code in [*cases, ("x" * 300, "recording-unreadable")]:
        assert _codes(_refused(AudioFiles(), f"{tmp_path}/{name}")) == [code]


def test_a_folder_without_audio_is_refused(tmp_path: Path) -> None:
    """It says what the folder holds; a broken link in a folder is a missing file, not one fewer."""
    (finding,) = _refused(AudioFiles(), str(tmp_path))
    assert (finding.code, "nothing" in finding.values) == ("recording-missing", True)
    (tmp_path / "notes.txt").touch()
    (finding,) = _refused(AudioFiles(), str(tmp_path))
    assert "notes.txt" in finding.values
    AudioFiles().write_wave(str(tmp_path / "1.wav"), [_noise(10)], 48000, 1)
    (tmp_path / "2.wav").symlink_to("nowhere.wav")
    (finding,) = _refused(AudioFiles(), str(tmp_path))
    assert finding.code == "recording-missing"
    assert (finding.file or "").endswith("2.wav")


def test_hidden_files_folders_and_other_files_are_passed_over(tmp_path: Path) -> None:
    """What some systems put beside each file on a stick is no track."""
    AudioFiles().write_wave(str(tmp_path / "1.WAV"), [_noise(10)], 48000, 1)
    (tmp_path / "sub.wav").mkdir()
    for name in ("._1.WAV", "1.WAV.txt", "Thumbs.db"):
        (tmp_path / name).write_bytes(b"no sound")
    with AudioFiles().open([str(tmp_path)]) as recording:
        assert recording.tracks == ("1.WAV",)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems allow no such names")
def test_a_name_that_is_no_text_can_be_opened_and_shown(tmp_path: Path) -> None:
    """Bytes that no text has are marked, so that a report can be written."""
    for suffix in ("wav", "flac"):
        path = os.fsdecode(os.fsencode(tmp_path) + b"/K\xfcche." + suffix.encode())
        soundfile.write(os.fsencode(path), _noise(10), 48000, "PCM_24", format=suffix)
        with AudioFiles().open([path]) as recording:
            assert recording.tracks == (f"K\ufffdche.{suffix}",)
            assert recording.read().shape == (10, 1)


def test_a_file_that_shrinks_under_way_is_said(tmp_path: Path) -> None:
    """A stick that was pulled: an error with a finding, no silence passed off as sound."""
    path = tmp_path / "a.wav"
    AudioFiles().write_wave(str(path), [_noise(1000)], 48000, 1)
    with AudioFiles().open([str(path)]) as recording:
        os.truncate(path, 500)
        with pytest.raises(RecordingUnreadable, match="became shorter"):
            recording.read()


def test_closing_twice_does_nothing(tmp_path: Path) -> None:
    """Also for what the library reads."""
    for name in ("a.wav", "a.flac"):
        soundfile.write(tmp_path / name, _noise(10), 48000)
        recording = AudioFiles().open([str(tmp_path / name)])
        recording.close()
        recording.close()


@pytest.mark.parametrize("path", ["", "a\0b", "file/a.wav"])
def test_a_path_that_cannot_be_written_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str) -> None:
    """No name, a zero byte, a file in place of a folder."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").touch()
    with pytest.raises(RecordingUnreadable, match="cannot be written"):
        AudioFiles().write_wave(path, [_noise(10)], 48000, 1)


def test_what_is_no_format_is_refused(tmp_path: Path) -> None:
    """An encoding, a count of channels and a rate that cannot be."""
    write: Callable[..., int] = AudioFiles().write_wave
    for rate_hz, channels, encoding in (
        (48000, 1, "12-bit"),
        (48000, 0, "24-bit"),
        (0, 1, "24-bit"),
        (1, 70000, "float"),
    ):
        with pytest.raises(ValueError, match="written"):
            write(str(tmp_path / "a.wav"), [], rate_hz, channels, encoding)


def test_float_files_have_the_chunk_that_says_how_long_they_are(tmp_path: Path) -> None:
    """Every format but plain integers needs a `fact` chunk with the frames."""
    path = tmp_path / "a.wav"
    AudioFiles().write_wave(str(path), [_noise(77)], 48000, 1, "float")
    with AudioFiles().open([str(path)]) as recording:
        assert recording.chunk(b"fact") == struct.pack("<I", 77)
