"""Samples that are no numbers: replaced by silence, each place noted once however often it is read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from sidetrip.dsp.wavewords import shown_s
from sidetrip.findings import Finding

_MOST_NAMED = 20


class OddSamples:
    """Notes for one recording with these tracks."""

    def __init__(self, tracks: Sequence[str], rate_hz: int) -> None:
        self._tracks, self._rate_hz = tracks, rate_hz
        self._seen: dict[int, list[tuple[int, int]]] = {}
        self._first: list[tuple[int, int]] = []  # (frame, track), the earliest
        self._count = 0

    def clean(self, block: NDArray[np.float32], start: int, tracks: Sequence[int]) -> None:
        """Replace in place what is no number. block: (frames, tracks) from frame `start` on."""
        good = np.isfinite(block)
        clean = bool(good.all())
        for column, track in enumerate(tracks):
            fresh = self._unseen(track, start, start + len(block))
            if clean:
                continue
            for first, stop in fresh:
                places = np.flatnonzero(~good[first - start : stop - start, column])
                self._count += len(places)
                self._first += [(first + int(place), track) for place in places[:_MOST_NAMED]]
        if not clean:
            self._first = sorted(self._first)[:_MOST_NAMED]
            block[~good] = 0.0

    def findings(self) -> Iterator[Finding]:
        """Yield the places, if there are any."""
        if self._count:
            places = [
                f"{self._tracks[track]} frame {frame} ({shown_s(frame, self._rate_hz)})" for frame, track in self._first
            ]
            more = f"; and {self._count - len(places)} more" if self._count > len(places) else ""
            what = "Some samples are no numbers; they were taken as silence"
            remedy = "Find what wrote them, and listen to these places (frames count from 0)"
            yield Finding("samples-not-finite", "recording", what, "; ".join(places) + more, remedy)

    def _unseen(self, track: int, start: int, stop: int) -> list[tuple[int, int]]:
        """Return what of a span was not looked at before, and note that it is now."""
        seen = self._seen.setdefault(track, [])
        if seen and start == seen[-1][1]:  # reading on, by far the most frequent
            seen[-1] = (seen[-1][0], stop)
            return [(start, stop)]
        fresh, at = [], start
        for first, last in seen:
            if at < min(first, stop):
                fresh.append((at, min(first, stop)))
            at = max(at, last)
        if at < stop:
            fresh.append((at, stop))
        joined: list[tuple[int, int]] = []
        for first, last in sorted([*seen, *fresh]):
            if joined and first <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(last, joined[-1][1]))
            else:
                joined.append((first, last))
        self._seen[track] = joined
        return fresh
