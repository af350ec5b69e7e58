"""Faults by name, each with the smallest size that an analysis must find, and random rigs with none, one or two.

A fault takes one loop, a loop and another that chance picks, or the whole recording.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from sidetrip.rig import network
from sidetrip.rig.boxes import Clipper, Compressor, Gate, Processor, Saturator, bell
from sidetrip.rig.network import LoopSpec, Recorder, Rig, Slip, straight

Chance = np.random.Generator
Scope = Literal["loop", "pair", "rig"]
Make = Callable[[Rig, tuple[int, ...], float, Chance], Rig]

COMPRESSOR_THRESHOLD_DBFS = -30.0
"""Between the two levels of a test, so that only one of them is turned down."""

BELL_HZ, BELL_Q = 1000.0, 1.0
"""The equaliser that is left on."""

COPY_FRAMES = (48, 480)
"""How much later a second copy comes; one that is nearer than this is an equaliser."""

_WIRING_KINDS = frozenset({"swapped", "shifted by one", "leak with insert out", "crosstalk"})
_TIME_KINDS = frozenset({"late by frames", "other clock on one unit", "frames lost", "frames repeated"})


@dataclass(frozen=True, slots=True)
class Sent:
    """What a fault has to know of the signal: the peak of every send (dBFS), and when all of them sound (seconds)."""

    peak_dbfs: float = -18.0
    from_s: float = 9.0
    until_s: float = 15.0


@dataclass(frozen=True, slots=True)
class Fault:
    """A kind of fault.

    smallest: the size that must be found. largest: as far as `draw` goes. unit: of both. scope: what it takes, one
    loop, a loop and another, or the whole recording. make: the rig with the fault in these loops; `plant` is simpler.
    """

    name: str
    smallest: float
    largest: float
    unit: str
    scope: Scope
    make: Make

    def plant(self, rig: Rig, loop: int | None, size: float, rng: Chance) -> Rig:
        """Return the rig with the fault in a loop (None where it takes the whole recording)."""
        free = [number for number in range(len(rig.boxes)) if number != loop]
        if self.scope == "rig":
            return self.make(rig, (), size, rng)
        if loop is None:
            raise ValueError(f"{self.name} needs a loop. Name one, from 0.")
        others = (int(rng.choice(free)),) if self.scope == "pair" else ()
        return self.make(rig, (loop, *others), size, rng)

    def size(self, rng: Chance) -> float:
        """Return a size from the smallest to the largest; whole if it is in frames."""
        if self.unit == "frames":
            return float(rng.integers(int(self.smallest), int(self.largest) + 1))
        return float(rng.uniform(self.smallest, self.largest))


@dataclass(frozen=True, slots=True)
class Planted:
    """A fault that is in a rig: its kind, the loops it is in (none: the whole recording) and its size.

    Crosstalk names the loop it comes from, then the one it is heard in.
    """

    kind: str
    loops: tuple[int, ...]
    size: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """A random rig, what is wrong with it, and the same rig before anything was."""

    rig: Rig
    planted: tuple[Planted, ...]
    meant: Rig


def table(sent: Sent) -> Mapping[str, Fault]:
    """Return every kind of fault by name, made for a signal."""
    peak_dbfs = sent.peak_dbfs
    kinds = (
        Fault("swapped", 1, 1, "pair", "pair", _swapped),
        Fault("shifted by one", 1, 1, "track", "rig", _whole(network.shifted)),
        Fault("nothing back", 1, 1, "loop", "loop", _unsized(network.silent)),
        Fault("inverted", 1, 1, "loop", "loop", _unsized(network.inverted)),
        Fault("late by frames", 2, 200, "frames", "loop", _sized(network.later)),
        Fault("gain off", 0.5, 6, "dB", "loop", _either_way(network.louder)),
        Fault("crosstalk", -60, -30, "dB", "pair", _crosstalk),
        Fault("compressor left on", 2, 8, "ratio", "loop", _left_on(_compressor)),
        Fault("saturator left on", 12, 24, "dB", "loop", _left_on(Saturator)),
        Fault("clipper", 6, 12, "dB below the peak", "loop", _left_on(lambda size: Clipper(peak_dbfs - size))),
        Fault("gate closed", 1, 12, "dB above the peak", "loop", _left_on(lambda size: Gate(peak_dbfs + size))),
        Fault("eq left on", 3, 9, "dB", "loop", _either_way(_with_bell)),
        Fault("doubled", -20, -6, "dB", "loop", _doubled),
        Fault("leak with insert out", -60, -30, "dB", "loop", _sized(network.leaking)),
        Fault("other clock on one unit", 20, 80, "ppm", "loop", _either_way(network.drifting)),
        Fault("frames lost", 64, 512, "frames", "loop", _slipping(sent, repeats=False)),
        Fault("frames repeated", 64, 512, "frames", "loop", _slipping(sent, repeats=True)),
        Fault("frames lost by the recorder", 64, 512, "frames", "rig", _slipping(sent, repeats=False)),
        Fault("frames repeated by the recorder", 64, 512, "frames", "rig", _slipping(sent, repeats=True)),
        Fault("recorder at another rate", 44_100, 44_100, "Hz", "rig", _at_another_rate),
        Fault("no reference", 1, 1, "track", "rig", _whole(network.without_reference)),
    )
    return MappingProxyType({kind.name: kind for kind in kinds})


def draw(seed: int, loops: int | None = None, *, rate_hz: int = 48_000, sent: Sent | None = None) -> Drawn:
    """Return a random rig of 2 to 8 loops (or so many) with no fault (30 %), one or two that do not hide each other."""
    meant = _drawn(seed, loops, rate_hz)
    rng = np.random.default_rng([seed, 1])
    faults = table(sent or Sent())
    chosen: list[Planted] = []
    for _ in range(int(rng.choice([0, 1, 2], p=[0.3, 0.35, 0.35]))):
        for name in rng.permutation(list(faults)):
            kind = faults[str(name)]
            places = _places(kind, chosen, len(meant.boxes), rng)
            if places is not None:
                chosen.append(Planted(kind.name, places, kind.size(rng)))
                break
    rig = meant
    # Returns are patched otherwise last: until then a loop comes back on the track of its number.
    for fault in sorted(chosen, key=lambda one: one.kind in _WIRING_KINDS):
        rig = faults[fault.kind].make(rig, fault.loops, fault.size, rng)
    return Drawn(rig, tuple(chosen), meant)


def clean(seed: int, loops: int | None = None, *, rate_hz: int = 48_000) -> Drawn:
    """Return the rig that `draw` returns for the same seed, without faults."""
    meant = _drawn(seed, loops, rate_hz)
    return Drawn(meant, (), meant)


def _drawn(seed: int, loops: int | None, rate_hz: int) -> Rig:
    rng = np.random.default_rng([seed, 0])
    count = int(rng.integers(2, 9)) if loops is None else loops
    specs = []
    for _ in range(count):
        delay_frames = float(rng.integers(200, 1500)) + (float(rng.uniform(0, 1)) if rng.uniform() < 1 / 3 else 0.0)
        specs.append(LoopSpec(delay_frames, gain_db=float(rng.uniform(-6, 6))))
    analogue_dbfs = float(rng.uniform(-110, -70))
    digital = bool(rng.integers(2))
    ppm = 0.0 if rng.uniform() < 0.6 else float(rng.uniform(-60, 60))
    start_frames = -float(rng.uniform(0, 3)) * rate_hz
    # On the player's clock a recording starts at one of the player's frames.
    recorder = Recorder(rate_hz, ppm=ppm, start_frames=start_frames if ppm else float(round(start_frames)), bits=24)
    return straight(rate_hz, specs, noise_dbfs=None if digital else analogue_dbfs, recorder=recorder)


def _places(kind: Fault, chosen: list[Planted], loops: int, rng: Chance) -> tuple[int, ...] | None:
    """Return loops for one more fault, none for a fault of the whole recording, or None where it hides another."""
    taken = {loop for fault in chosen for loop in fault.loops}
    kinds = {fault.kind for fault in chosen} | {kind.name}
    if len(kinds) == len(chosen):
        return None  # the same once more
    if len(kinds & _WIRING_KINDS) > 1:
        return None
    if chosen and kind.scope == "rig" and any(not fault.loops for fault in chosen):
        return None
    if "no reference" in kinds and kinds & _TIME_KINDS:
        return None  # without a reference nobody can say which loop is late
    if "shifted by one" in kinds:
        if loops - 1 in taken:
            return None
        taken.add(loops - 1)  # nothing comes back of the last
    free = [loop for loop in range(loops) if loop not in taken]
    needed = {"loop": 1, "pair": 2, "rig": 0}[kind.scope]
    return tuple(int(loop) for loop in rng.permutation(free)[:needed]) if len(free) >= needed else None


def _whole(modify: Callable[[Rig], Rig]) -> Make:
    return lambda rig, loops, size, rng: modify(rig)


def _unsized(modify: Callable[[Rig, int], Rig]) -> Make:
    return lambda rig, loops, size, rng: modify(rig, loops[0])


def _sized(modify: Callable[[Rig, int, float], Rig]) -> Make:
    return lambda rig, loops, size, rng: modify(rig, loops[0], size)


def _either_way(modify: Callable[[Rig, int, float], Rig]) -> Make:
    return lambda rig, loops, size, rng: modify(rig, loops[0], size if rng.integers(2) else -size)


def _left_on(made: Callable[[float], Processor]) -> Make:
    return lambda rig, loops, size, rng: network.with_processor(rig, loops[0], made(size))


def _compressor(ratio: float) -> Compressor:
    return Compressor(COMPRESSOR_THRESHOLD_DBFS, ratio)


def _with_bell(rig: Rig, loop: int, db: float) -> Rig:
    return network.with_processor(rig, loop, bell(rig.rate_hz, BELL_HZ, db, BELL_Q))


def _swapped(rig: Rig, loops: tuple[int, ...], size: float, rng: Chance) -> Rig:
    return network.swapped(rig, loops[0], loops[1])


def _crosstalk(rig: Rig, loops: tuple[int, ...], size: float, rng: Chance) -> Rig:
    return network.crosstalk(rig, loops[0], loops[1], size)


def _doubled(rig: Rig, loops: tuple[int, ...], size: float, rng: Chance) -> Rig:
    return network.doubled(rig, loops[0], size, float(rng.integers(COPY_FRAMES[0], COPY_FRAMES[1] + 1)))


def _slipping(sent: Sent, repeats: bool) -> Make:
    """Lose or repeat frames while the signal sounds: in one loop, or on all tracks if none is named."""

    def slipping(rig: Rig, loops: tuple[int, ...], size: float, rng: Chance) -> Rig:
        at_frame = float(rng.uniform(sent.from_s, sent.until_s)) * rig.rate_hz
        if loops:
            box = rig.boxes[loops[0]]
            lost, repeated = _with_slip(box.lost, box.repeated, (round(at_frame), int(size)), repeats)
            return network.with_box(rig, loops[0], replace(box, lost=lost, repeated=repeated))
        recorder = rig.recorder
        slip = (round((at_frame - recorder.start_frames) / rig.rate_hz * recorder.rate_hz), int(size))
        lost, repeated = _with_slip(recorder.lost, recorder.repeated, slip, repeats)
        return replace(rig, recorder=replace(recorder, lost=lost, repeated=repeated))

    return slipping


def _with_slip(
    lost: tuple[Slip, ...], repeated: tuple[Slip, ...], slip: Slip, repeats: bool
) -> tuple[tuple[Slip, ...], tuple[Slip, ...]]:
    return (lost, (*repeated, slip)) if repeats else ((*lost, slip), repeated)


def _at_another_rate(rig: Rig, loops: tuple[int, ...], size: float, rng: Chance) -> Rig:
    """Run the recorder at `size` Hz below an unchanged header; at 48 kHz if the header says that rate itself."""
    true_rate_hz = 48_000.0 if rig.recorder.rate_hz == size else size
    return replace(rig, recorder=replace(rig.recorder, true_rate_hz=true_rate_hz))


FAULTS = table(Sent())
"""Every kind of fault by name, for the usual signal."""
