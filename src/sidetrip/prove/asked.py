"""One loop leg and all that is known about it, for those who ask."""

from __future__ import annotations

import numpy as np

from sidetrip.prove.expect import Catch, Way
from sidetrip.prove.identity import Carried
from sidetrip.prove.limits import ANALOGUE, DIGITAL, SPOILT, Limits
from sidetrip.prove.proof import Level, Row, StopKind, Verdict
from sidetrip.prove.ways import Listening, LoopTimeHeard, speaking_way


class Asked:
    """A leg of a loop, its track, and the way that speaks for it."""

    def __init__(
        self,
        listening: Listening,
        catch: Catch,
        found: tuple[Carried, ...],
        times: dict[tuple[str, int], LoopTimeHeard],
    ) -> None:
        self.on, self.catch, self.found = listening, catch, found
        assert catch.loop is not None
        self.loop: str = catch.loop
        self.time = times.get((catch.loop, catch.leg))
        self.track = listening.capture.tracks[catch.number]
        self.own = found[catch.number]
        self.limits: Limits = DIGITAL if listening.unit_kind(catch.loop) == "computer" else ANALOGUE
        self.way = self.time.way if self.time else speaking_way(listening.expected, listening.pairs, catch.number)
        kinds = [] if listening.flat else [processor.kind for processor in listening.chain(catch.loop)]
        self.spoilt = {question: why for kind in kinds for question, why in SPOILT[kind].items()}

    @property
    def right(self) -> bool:
        """Tell whether the track carries what it should."""
        return self.catch.number in self.own.like

    @property
    def mixed(self) -> bool:
        """Tell whether all that is heard here should arrive by several ways, so that its delay may jump by itself."""
        heard = self.on.pairs.found[self.catch.number]
        return bool(self.due) and not any(heard[entry] for entry in self.on.expected.plain[self.catch.number])

    @property
    def due(self) -> frozenset[int]:
        """The entries that should be there."""
        return frozenset(way.entry for way in self.on.expected.into(self.catch.number))

    @property
    def heard(self) -> str | None:
        """Whose return this is, by sound; None when nobody's."""
        if not self.own.entries:
            return None
        if self.right:
            return self.loop
        other = next((self.on.expected.catches[like] for like in self.own.like), None)
        return None if other is None else other.loop or other.words

    def wrong_db(self) -> float | None:
        """Return the level of the loudest entry that should not be here, beside its own; None when there is none."""
        gains = self.on.pairs.gain_db[self.catch.number]
        wrong = [gains[e] for e in range(len(gains)) if e not in self.due and np.isfinite(gains[e])]
        return float(max(wrong)) - self.own_db() if wrong else None

    def own_db(self) -> float:
        """Return the level of the loudest entry that belongs here."""
        gains = self.on.pairs.gain_db[self.catch.number]
        return max(float(gains[e]) for e in self.due | self.own.entries if np.isfinite(gains[e]))

    def names(self, entries: frozenset[int]) -> str:
        """Return the ports of entries, in words."""
        return ", ".join(str(self.on.expected.entries[entry].port) for entry in sorted(entries))

    def dry_gain(self, way: Way) -> tuple[float, bool, bool]:
        """Return (gain in dB, inverted, own) of the dry copy to compare with: its own entry's, or the reference's."""
        expected, pairs = self.on.expected, self.on.pairs
        dry = expected.dry(way.entry)
        if dry is not None and pairs.found[dry, way.entry]:
            own = next(one for one in expected.into(dry) if one.entry == way.entry)
            return self.on.passage(own).gain_db, self.on.passage(own).inverted, True
        if expected.reference is not None:
            entry, catch = expected.reference
            if pairs.found[catch, entry]:
                ref = next(one for one in expected.into(catch) if one.entry == entry)
                return self.on.passage(ref).gain_db, self.on.passage(ref).inverted, False
        return 0.0, False, False

    def row(
        self,
        question: str,
        verdict: Verdict,
        because: str,
        measured: float | None = None,
        expected: float | None = None,
        error: float | None = None,
        unit: str = "",
        level: Level = "transfer",
        at: StopKind = "return",
    ) -> Row:
        """Return a row; figures are None where there are none."""
        return Row(question, level, verdict, measured, expected, error, unit, because, at)

    def blind(self, question: str, why: str, level: Level = "transfer") -> Row:
        """Return a row that cannot tell, and why."""
        return self.row(question, "cannot tell", why, level=level)


__all__ = ["Asked"]
