"""What a chain declares of its response: the equalisers in it, as filters."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.filters import BUTTERWORTH_Q, SHAPES, biquad, response
from sidetrip.model.outboard import Processor

_LEAST_Q = 0.05


def declared_sections(processor: Processor, rate_hz: float) -> list[NDArray[np.float64]]:
    """Return the second-order sections that an eq declares, each shape (6,); none for any other kind.

    A cut is taken as second-order Butterworth. bands: mappings of hz, db, q and shape (bell when left out); what says
    no frequency, or one that this rate cannot carry, declares nothing.
    """
    if processor.kind != "eq":
        return []
    out: list[NDArray[np.float64]] = []
    for key, cut in (("low_cut_hz", SHAPES[3]), ("high_cut_hz", SHAPES[4])):
        corner = _number(processor.settings.get(key))
        if corner is not None and 0 < corner < rate_hz / 2:
            out.append(biquad(cut, corner, rate_hz))
    bands = processor.settings.get("bands")
    for band in bands if isinstance(bands, list | tuple) else ():
        if not isinstance(band, Mapping):
            continue
        centre, db = _number(band.get("hz")), _number(band.get("db"))
        shape = next((known for known in SHAPES[:3] if known == str(band.get("shape", "bell"))), None)
        if centre is None or db is None or shape is None or not 0 < centre < rate_hz / 2:
            continue
        out.append(biquad(shape, centre, rate_hz, q=max(_number(band.get("q")) or BUTTERWORTH_Q, _LEAST_Q), db=db))
    return out


def declared_response(chain: tuple[Processor, ...], hz: NDArray[np.float64], rate_hz: float) -> NDArray[np.complex128]:
    """Return the response that a chain's equalisers declare at frequencies in Hz, 1 where nothing is declared."""
    sections = [section for processor in chain for section in declared_sections(processor, rate_hz)]
    return response(np.array(sections), hz, rate_hz) if sections else np.ones(len(hz), dtype=np.complex128)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


__all__ = ["declared_response", "declared_sections"]
