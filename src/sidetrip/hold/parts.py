"""A log as it grows: parts of blocks one after the other, joined into what is judged, and written down compactly."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sidetrip.hold.evidence import BlockLog, Configuration

if TYPE_CHECKING:
    from numpy.typing import NDArray

FORMAT = 1
BINS = 800
"""The last bin holds all that finished later than four periods."""

_A_PERIOD = 200
_MOST_LATE = 200_000
_PART_S = 60.0
_LISTED = 1e-4


@dataclass(frozen=True, slots=True)
class Part:
    """Blocks in a row. start: number of the first in the log. at: numbers of the late ones; counts: per bin."""

    start: int
    blocks: int
    work_s: float
    counts: NDArray[np.int64]
    at: NDArray[np.int64]
    lateness_s: NDArray[np.float64]
    late_work_s: NDArray[np.float64]
    missed: NDArray[np.bool_]


def bin_of(configuration: Configuration) -> float:
    """Return the width of a bin in seconds: a two-hundredth of the period."""
    return configuration.period_s / _A_PERIOD


class Growing:
    """Takes blocks as they come and keeps of each part its counts, and of late blocks everything.

    The floor for late ones is half a period, or what one block in 10 000 of the first minute is later than, if that is
    lower: a calm computer has a tail too. It rises where that would keep more than 200 000 of them.
    """

    def __init__(self, configuration: Configuration) -> None:
        self.configuration = configuration
        self.floor_s = configuration.period_s / 2
        self.parts: list[Part] = []
        self._late = 0
        self._in_a_part = max(int(_PART_S / configuration.period_s), 1)

    def add(
        self, start: int, lateness_s: NDArray[np.float64], work_s: NDArray[np.float64], missed: NDArray[np.bool_]
    ) -> None:
        """Add blocks in a row, cut into parts of a minute."""
        for first in range(0, len(lateness_s), self._in_a_part):
            some = slice(first, first + self._in_a_part)
            self._part(start + first, lateness_s[some], work_s[some], missed[some])
        if self._late > _MOST_LATE:
            self._raise_floor()

    def _part(
        self, start: int, lateness_s: NDArray[np.float64], work_s: NDArray[np.float64], missed: NDArray[np.bool_]
    ) -> None:
        finish = lateness_s + work_s
        bins = np.clip(finish / bin_of(self.configuration), 0, BINS - 1).astype(np.int64)
        if not self.parts:
            self.floor_s = min(self.floor_s, float(np.quantile(finish, 1 - _LISTED)))
        late = np.flatnonzero((finish > self.floor_s) | missed)
        self._late += len(late)
        self.parts.append(
            Part(
                start,
                len(finish),
                float(work_s.sum()),
                np.bincount(bins, minlength=BINS),
                late + start,
                lateness_s[late],
                work_s[late],
                missed[late],
            )
        )

    def _raise_floor(self) -> None:
        finish = np.concatenate([part.lateness_s + part.late_work_s for part in self.parts])
        self.floor_s = float(np.partition(finish, -_MOST_LATE // 2)[-_MOST_LATE // 2])
        self.parts = [above(part, self.floor_s) for part in self.parts]
        self._late = sum(len(part.at) for part in self.parts)


def above(part: Part, floor_s: float) -> Part:
    """Return a part with only the late blocks over a floor, and the missed ones."""
    keep = (part.lateness_s + part.late_work_s > floor_s) | part.missed
    return Part(
        part.start,
        part.blocks,
        part.work_s,
        part.counts,
        part.at[keep],
        part.lateness_s[keep],
        part.late_work_s[keep],
        part.missed[keep],
    )


def joined(
    configuration: Configuration,
    started: str,
    parts: Sequence[Part],
    floor_s: float,
    bin_s: float,
    *,
    complete: bool,
    file: str,
) -> BlockLog:
    """Return the log of its parts. Blocks that are missing between parts take no time: they were not logged."""
    before = np.cumsum([0, *(part.blocks for part in parts)])
    blocks = int(before[-1])
    at = [part.at - part.start + first for part, first in zip(parts, before, strict=False)]
    counts = np.sum([part.counts for part in parts], axis=0) if parts else np.zeros(BINS, dtype=np.int64)
    none = np.empty(0)
    return BlockLog(
        configuration,
        started,
        blocks,
        np.concatenate([np.empty(0, dtype=np.int64), *at]),
        np.concatenate([none, *(part.lateness_s for part in parts)]),
        np.concatenate([none, *(part.late_work_s for part in parts)]),
        np.concatenate([np.empty(0, dtype=bool), *(part.missed for part in parts)]),
        floor_s,
        counts,
        bin_s,
        sum(part.work_s for part in parts) / blocks if blocks else 0.0,
        complete,
        file,
    )


def written(
    configuration: Configuration, started: str, parts: Iterable[Part], floor_s: float, bin_s: float, *, complete: bool
) -> Iterator[str]:
    """Yield the lines of the compact form: a head, a line for each part, an end. Times are in microseconds."""
    own = configuration
    yield _line(
        {
            "sidetrip evidence": FORMAT,
            "unit": own.unit,
            "system": own.system,
            "driver": own.driver,
            "session": own.session,
            "buffer": own.buffer,
            "rate": own.rate,
            "started": started,
            "bin_us": _us(bin_s),
            "late_over_us": _us(floor_s),
        }
    )
    blocks = missed = 0
    for part in parts:
        kept = np.flatnonzero(part.counts)
        rows = zip(part.at.tolist(), part.lateness_s, part.late_work_s, part.missed, strict=True)
        late = [[at, _us(lateness), _us(work), *([1] if gone else [])] for at, lateness, work, gone in rows]
        bins = {str(one): int(part.counts[one]) for one in kept}
        yield _line(
            {
                "from": part.start,
                "blocks": part.blocks,
                "work_us": _us(part.work_s / part.blocks),
                "finish": bins,
                "late": late,
            }
        )
        blocks += part.blocks
        missed += int(part.missed.sum())
    if complete:
        yield _line({"end": True, "blocks": blocks, "missed": missed})


def _us(seconds: float) -> float:
    return round(float(seconds) * 1e6, 3)


def _line(document: dict[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False) + "\n"


__all__ = ["BINS", "FORMAT", "Growing", "Part", "above", "bin_of", "joined", "written"]
