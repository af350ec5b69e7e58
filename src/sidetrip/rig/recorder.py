"""Sound read at other times, and what a recorder does to it: clocks, frames lost or repeated, noise and rounding.

Reading between frames uses one windowed sinc, 129 taps with a Kaiser window. At 44.1 kHz and above a tone up to
20 kHz comes out within -120 dB. A signal is silence outside its frames. The analysis uses another resampler, so that
an error in one cannot hide in the other.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view
from scipy.signal import oaconvolve
from scipy.special import i0

from sidetrip.units import gain_from_db

Sound = npt.NDArray[np.float64]
"""Samples in which 1.0 is full scale: one signal (frames) or several (frames, signals)."""

HALF_TAPS = 64
"""Frames that the interpolator looks to either side."""

_KAISER_BETA = 13.5  # stop band below -130 dB, and a transition that ends 2 kHz from the edge of the band
_POLYNOMIALS = 12  # each tap as a polynomial of the fraction: from 10 on, the window is what limits
_BLOCK_FRAMES = 4096  # windows of one block stay in the cache
_SAME_RATE = 1.001  # clocks this close need no narrower band: what folds over is above 20 kHz
_WHOLE_FRAMES = 1e-9  # a fraction below this is rounding, not a delay


def delayed(sound: Sound, delay_frames: float) -> Sound:
    """Return a signal of the same length that comes `delay_frames` later; a fraction of a frame is interpolated."""
    whole = int(np.rint(delay_frames))
    fraction = delay_frames - whole
    if abs(fraction) > _WHOLE_FRAMES:
        sound = oaconvolve(sound, _kernel(_taps() - fraction, 1.0), mode="same")
    return _moved(sound, whole)


def read_at(sound: Sound, first_frame: float, step_frames: float, count: int) -> Sound:
    """Read one signal at `count` places: `first_frame`, and then every `step_frames` (fractions allowed).

    A step above 1 is a lower rate: what would fold over is filtered out first, from 2 kHz below half the new rate
    at 48 kHz. A step below 1 keeps the band.
    """
    taps = _taps()
    nodes = np.polynomial.chebyshev.chebpts1(_POLYNOMIALS)
    cutoff = 1.0 if step_frames < _SAME_RATE else 1.0 / step_frames
    rows = _kernel(taps[None, :] - nodes[:, None] / 2, cutoff)
    polynomials = np.polynomial.chebyshev.chebfit(nodes, rows, _POLYNOMIALS - 1).T
    silence = np.zeros(2 * HALF_TAPS + 1)
    windows = sliding_window_view(np.concatenate([silence, sound, silence]), taps.size)
    out = np.empty(count)
    for start in range(0, count, _BLOCK_FRAMES):
        stop = min(start + _BLOCK_FRAMES, count)
        places = first_frame + step_frames * np.arange(start, stop)
        nearest = np.rint(places)
        powers = np.polynomial.chebyshev.chebvander(2 * (places - nearest), _POLYNOMIALS - 1)
        index = np.clip(nearest.astype(np.int64) + HALF_TAPS + 1, 0, len(windows) - 1)  # the ends see silence only
        block = windows[index[0] : index[-1] + 1] if index[-1] - index[0] == stop - start - 1 else windows[index]
        out[start:stop] = np.einsum("fp,fp->f", block @ polynomials, powers)
    return out


def edited(sound: Sound, lost: Sequence[tuple[int, int]], repeated: Sequence[tuple[int, int]]) -> Sound:
    """Return the sound with frames repeated and lost, as (at_frame, frames); shorter by the frames lost.

    Both count on the intact sound. Repeated: the block before `at_frame` is heard again instead of what belongs
    there, and what follows keeps its time. Lost: the frames from `at_frame` are missing, and what follows is early.
    """
    if not lost and not repeated:
        return sound
    out = sound.copy()
    for at_frame, frames in repeated:
        if at_frame < frames:
            raise ValueError(f"There are no {frames} frames before frame {at_frame} to repeat. Repeat them later.")
        room = len(out[at_frame : at_frame + frames])
        out[at_frame : at_frame + room] = sound[at_frame - frames : at_frame - frames + room]
    kept = np.ones(len(out), dtype=np.bool_)
    for at_frame, frames in lost:
        if at_frame < 0:
            raise ValueError(f"Frames are lost before the sound begins, at {at_frame}. Lose them at frame 0 or later.")
        kept[at_frame : at_frame + frames] = False
    left: Sound = out[kept]
    return left


def noise(frames: int, level_dbfs: float, rng: np.random.Generator) -> Sound:
    """Return white Gaussian noise of a level in dBFS (AES17: a full-scale sine reads 0 dBFS)."""
    return rng.standard_normal(frames) * float(gain_from_db(level_dbfs) / np.sqrt(2))


def rounded(sound: Sound, bits: int | None) -> Sound:
    """Return the sound as a file of `bits` holds it: rounded without dither, clipped at full scale; None: as it is."""
    if bits is None:
        return sound
    steps = 2.0 ** (bits - 1)
    out: Sound = np.clip(np.rint(sound * steps), -steps, steps - 1) / steps
    return out


def _taps() -> Sound:
    return np.arange(-HALF_TAPS, HALF_TAPS + 1, dtype=np.float64)


def _kernel(distance_frames: Sound, cutoff: float) -> Sound:
    """Weight of a frame by its distance from the place that is read; cutoff is relative to half the rate."""
    inside = np.clip(1 - (distance_frames / (HALF_TAPS + 0.5)) ** 2, 0, None)
    window = i0(_KAISER_BETA * np.sqrt(inside)) / i0(_KAISER_BETA)
    weights: Sound = cutoff * np.sinc(cutoff * distance_frames) * window
    return weights


def _moved(sound: Sound, frames: int) -> Sound:
    if frames == 0:
        return sound
    out = np.zeros_like(sound)
    if frames > 0:
        out[frames:] = sound[:-frames]
    else:
        out[:frames] = sound[-frames:]
    return out
