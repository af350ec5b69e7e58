"""How fast a recording is read, and how much memory that takes.

Speed: 32 channels of 24 bits from the page cache, block by block to float32. Peer: libsndfile through soundfile on the
same file with the same blocks, into one array that it may use again; sidetrip hands out a new one each time.
Memory: a file of 2 GB, scanned from end to end in a fresh process. It is a hole on disk: zeros that take no space,
but are read as any others.
"""

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np
import soundfile
from benchmarks.registry import Outcome, Spec

from sidetrip.adapters.audio_files import AudioFiles
from sidetrip.dsp.pcm import Encoding
from sidetrip.dsp.wavefmt import Format
from sidetrip.dsp.wavehead import wave_header

BUILD = Path(__file__).parent.parent / "build"
RATE_HZ = 48000
CHANNELS = 32
BLOCK_FRAMES = 8192
SECONDS = 20
RUNS = 9
SCAN_BYTES = 2_000_000_000
MIB = 1 << 20

# On Linux, getrusage counts what the parent took before the child became its own program; VmHWM does not.
_SCAN = f"""
import json, pathlib, resource, sys
from sidetrip.adapters.audio_files import AudioFiles
loudest = 0.0
frames = 0
with AudioFiles().open([sys.argv[1]]) as recording:
    for block in recording.blocks({BLOCK_FRAMES}):
        loudest = max(loudest, float(block.max()))
        frames += len(block)
status = pathlib.Path("/proc/self/status")
if status.exists():
    peak = next(int(line.split()[1]) * 1024 for line in status.read_text().splitlines() if line.startswith("VmHWM"))
else:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
json.dump([frames, peak], sys.stdout)
"""


@contextmanager
def made(name: str) -> Iterator[Path]:
    """Give a path under build/ and take the file away afterwards."""
    BUILD.mkdir(exist_ok=True)
    path = BUILD / name
    try:
        yield path
    finally:
        path.unlink(missing_ok=True)


def own(path: Path) -> tuple[float, int]:
    """Return (seconds, frames) of one run through a file."""
    start, frames = perf_counter(), 0
    with AudioFiles().open([str(path)]) as recording:
        for block in recording.blocks(BLOCK_FRAMES):
            frames += len(block)
    return perf_counter() - start, frames


def peer(path: Path) -> tuple[float, int]:
    """Return the same of libsndfile."""
    start, frames = perf_counter(), 0
    room = np.empty((BLOCK_FRAMES, CHANNELS), np.float32)
    with soundfile.SoundFile(path) as file:
        while got := len(file.read(out=room)):
            frames += got
    return perf_counter() - start, frames


def reading() -> Outcome:
    """Time both by turns; the value is how many times as fast sidetrip is."""
    with made("bench-reading.wav") as path:
        draw = np.random.default_rng(1)
        blocks = (draw.uniform(-1, 1, (RATE_HZ, CHANNELS)).astype(np.float32) for _ in range(SECONDS))
        AudioFiles().write_wave(str(path), blocks, RATE_HZ, CHANNELS, replace=True)
        with AudioFiles().open([str(path)]) as recording, soundfile.SoundFile(path) as file:
            if not (recording.read(0, RATE_HZ) == file.read(RATE_HZ, dtype="float32")).all():
                raise RuntimeError("The two do not read the same")
        for warm in (own, peer):
            warm(path)
        pairs = [(own(path), peer(path)) for _ in range(RUNS)]
    if {frames for pair in pairs for _, frames in pair} != {RATE_HZ * SECONDS}:
        raise RuntimeError("Not every frame was read")
    own_s, peer_s = ([round(took, 4) for took, _ in column] for column in zip(*pairs, strict=True))
    detail = {
        "channels": CHANNELS,
        "block_frames": BLOCK_FRAMES,
        "sound_s": SECONDS,
        "seconds": own_s,
        "peer_seconds": peer_s,
        "times_real_time": round(SECONDS / median(own_s)),
        "peer": soundfile.__libsndfile_version__,
    }
    return Outcome(median(peer_s) / median(own_s), detail)


def scanning() -> Outcome:
    """Measure the peak resident memory of a process that reads a long file, and of one that only loads the reader."""
    with made("bench-scanning.wav") as path, made("bench-short.wav") as short:
        form = Format(RATE_HZ, CHANNELS, Encoding.I24)
        frames = SCAN_BYTES // form.frame_bytes
        for place, count in ((path, frames), (short, 1)):
            header = wave_header(form, count)
            with place.open("wb") as file:
                file.write(header)
                file.truncate(len(header) + count * form.frame_bytes)
        start = perf_counter()
        read, peak_bytes = scan(path)
        took = perf_counter() - start
        _, base_bytes = scan(short)
    if read != frames:
        raise RuntimeError(f"{read} of {frames} frames were read")
    detail = {
        "file_bytes": SCAN_BYTES,
        "frames": frames,
        "seconds": round(took, 2),
        "one_frame_mib": round(base_bytes / MIB, 1),
    }
    return Outcome(peak_bytes / MIB, detail)


def scan(path: Path) -> tuple[int, int]:
    """Return (frames read, peak bytes) of a fresh process."""
    done = subprocess.run([sys.executable, "-c", _SCAN, str(path)], capture_output=True, encoding="utf-8", check=False)
    if done.returncode != 0:
        raise RuntimeError(done.stderr[-2000:])
    frames, peak_bytes = json.loads(done.stdout)
    return frames, peak_bytes


SPECS = (
    Spec(
        name="reading",
        goal=">= 1",
        unit="x",
        peer="libsndfile through soundfile, same file and blocks",
        run=reading,
    ),
    Spec(
        name="scanning",
        goal="<= 300",
        unit="MiB",
        peer="the same process on a file of one frame",
        run=scanning,
    ),
)
