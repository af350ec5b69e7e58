"""What an answer makes of each pair, and why one that stays apart does."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from sidetrip.graph.arrivals import Arrival, Arrivals
from sidetrip.graph.linemap import LineMap, PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.alignment_lines import DeskLines, Line, Passing, Place, has_line
from sidetrip.plan.alignment_moves import Move
from sidetrip.plan.alignment_pairs import Pair
from sidetrip.plan.alignment_program import Answer
from sidetrip.plan.alignment_question import Asked
from sidetrip.plan.alignment_result import Lacking
from sidetrip.plan.causes import joined_at
from sidetrip.plan.comb import null_hz
from sidetrip.plan.compare import crossover_of
from sidetrip.plan.gap import Gap, Verdict, Ways, sentence, telling
from sidetrip.plan.recovery import GroupKey
from sidetrip.plan.spread import deciding, figures_of, parts_of
from sidetrip.units import ms_from_seconds, seconds_from_frames

_SAME_S = 1e-8
WORSE: tuple[Verdict, ...] = ("alone", "together", "cannot tell", "apart")


@dataclass(frozen=True)
class Outcome:
    """A show, what was asked of it, and the answer. spare: return ports that carry nothing. keys: of the plan.

    What is asked of it again and again, for each meeting of a large show, is kept.
    """

    show: Show
    desk: Desk
    line_map: LineMap
    arrivals: Arrivals
    loops: tuple[PlacedLoop, ...]
    pairs: tuple[Pair, ...]
    desk_lines: DeskLines
    asked: Asked
    answer: Answer
    passing: Passing
    spare: tuple[str, ...]
    keys: tuple[GroupKey, ...]

    @cached_property
    def lines(self) -> dict[Place, Line]:
        """Every delay line by its place."""
        return {line.place: line for line in self.asked.lines}

    @cached_property
    def _dialled(self) -> dict[Place, float]:
        return self.asked.dialled(self.answer)

    @cached_property
    def _made(self) -> tuple[Move, ...]:
        return self.asked.made(self.answer)

    @cached_property
    def _gaps(self) -> dict[tuple[int, int, bool], Gap]:
        return {}

    @cached_property
    def _shifts(self) -> dict[int, tuple[float, ...]]:
        return {}

    @cached_property
    def ranks(self) -> dict[int, tuple[float, ...]]:
        """How pairs rank in their meeting, by their identity; filled where it is asked."""
        return {}

    @cached_property
    def by_loops(self) -> dict[tuple[str, tuple[str, ...]], list[Pair]]:
        """Pairs by their kind and the loops that only one of the two passes."""
        found: dict[tuple[str, tuple[str, ...]], list[Pair]] = {}
        for pair in self.pairs:
            found.setdefault((pair.kind, pair.loops), []).append(pair)
        return found

    def before(self, pair: Pair, number: int) -> Gap:
        """Return the spread in a state as the show is."""
        key = id(pair), number, False
        if key not in self._gaps:
            self._gaps[key] = pair.gap(number, 0.0, self.show.sample_rate)
        return self._gaps[key]

    def after(self, pair: Pair, number: int) -> Gap:
        """Return the spread in a state once all is dialled and moved."""
        key = id(pair), number, True
        if key not in self._gaps:
            if id(pair) not in self._shifts:
                self._shifts[id(pair)] = self.asked.shifts(pair, self._dialled, self._made)
            shift = self._shifts[id(pair)][number]
            self._gaps[key] = self.before(pair, number) if not shift else pair.gap(number, shift, self.show.sample_rate)
        return self._gaps[key]

    def later(self, way: Arrival, number: int) -> float:
        """Return by how many frames an arrival gets later in a state."""
        places = self.passing.places(way)
        out = self.asked.watched[number].state.out
        moved = sum(move.frames * move.passes(way) for move in self._made if move.beside not in out)
        return moved + sum(self._dialled.get(place, 0.0) for place in places)

    def running(self, pair: Pair, *, after: bool) -> Verdict:
        """Return the worst verdict of the states in which the show runs."""
        look = self.after if after else self.before
        states = [n for n, own in enumerate(self.asked.watched) if own.runs]
        return max((look(pair, number).verdict for number in states), key=WORSE.index, default="alone")

    def exact(self, pair: Pair) -> bool:
        """Tell whether a pair has one figure while the show runs."""
        return all(own.exact or own.alone for n, own in enumerate(pair.states) if self.asked.watched[n].runs)

    def deciding(self, pair: Pair) -> str | None:
        """Name the figure that leaves a pair open with all loops IN."""
        state = self.asked.watched[0].state
        loops = {time.loop: time for time in self.line_map.loops}
        ways = [figures_of(way, loops, state, self.arrivals.holding) for way in (pair.first, pair.second)]
        return deciding(parts_of(*ways))

    def dialled(self, pair: Pair) -> list[Line]:
        """Return the lines that are dialled and shift a pair."""
        steps = zip(self.asked.lines, self.answer.steps, strict=True)
        return [line for line, own in steps if own is not None and line.place in pair.lines]

    def made(self, pair: Pair) -> list[Move]:
        """Return the moves that are made and shift a pair."""
        return [move for move in self._made if pair.edges.get(move.edge)]

    def early_and_late(self, pair: Pair) -> tuple[Arrival, Arrival]:
        """Return the two ways, the earlier one with all loops IN first."""
        own = pair.states[0]
        backwards = own.low + own.high < 0
        return (pair.second, pair.first) if backwards else (pair.first, pair.second)

    def loop_strips(self, names: Sequence[str]) -> list[str]:
        """Return the strips of some loops."""
        strips = {loop.name: loop.strip for loop in self.loops}
        return sorted({strips[name] for name in names if name in strips})

    def undo(self, names: Sequence[str], back_s: float) -> str:
        """Say what is pressed when these loops go OUT, and what to dial back then."""
        strips = self.loop_strips(names)
        keys = [key for key in self.keys if set(strips) & set(key.strips)]
        back = f"dial it back to {ms_from_seconds(back_s):.2f} ms"
        if keys:
            key = min(keys, key=lambda own: (not set(strips) <= set(own.strips), len(own.strips), own.label))
            return f"With key {key.number}, '{key.label}', {back}; a macro of the desk may do both"
        return f"When {' and '.join(strips)} {'is' if len(strips) == 1 else 'are'} taken OUT, {back}"

    # Why

    def why_left(self, pair: Pair) -> str:
        """Say why a pair is not cured, and what it will sound like."""
        same = all(abs(self.after(pair, n).low - self.before(pair, n).low) < _SAME_S for n in (0, 1))
        return f"{self._reason(pair)}." if same else f"{self._reason(pair)}. {self.sounds(pair)}"

    def sounds(self, pair: Pair) -> str:
        """Say what a pair will sound like once all is dialled."""
        gaps = [self.after(pair, 0), self.after(pair, 1)]
        first, second = pair.first, pair.second
        told, _ = telling(gaps)
        if not math.isfinite(told.typical):
            return ""
        if told.typical < 0:
            first, second = second, first
            gaps = [Gap(0.0 - gap.high, 0.0 - gap.low, gap.verdict) for gap in gaps]
        typical = abs(told.typical)
        inverted = pair.first.inverted != pair.second.inverted
        null = null_hz(typical, 0, inverted=inverted) if typical or inverted else None
        listener = first.place.kind == "listener"
        heard = [(way.output or f"{way.source} itself") if listener else str(way.microphone) for way in (first, second)]
        crossover = crossover_of(self.show, first) or crossover_of(self.show, second)
        ways = Ways(first.source, first.place.name, joined_at(first, second), heard[0], heard[1], crossover)
        return sentence(self.show.sample_rate, pair.kind, ways, gaps, null, pair.ripple_db, None)

    def _reason(self, pair: Pair) -> str:
        if pair.cancels:
            return "One of the two ways is upside down, and no delay cures that: turn the polarity of one of them"
        if not self.exact(pair):
            return f"It is not dialled on a range: measure {self.deciding(pair)} first"
        if self.desk_lines.missing:
            return f"Nothing can be dialled before this is known: {' and '.join(self.desk_lines.missing)}"
        if not pair.grade:
            depth = 0.0 if pair.ripple_db is None else pair.ripple_db
            return f"It is slight, {depth:.1f} dB of ripple, and not worth a setting"
        if pair.kind == "electrical" and self.desk_lines.coarse:
            return self._coarse(pair)
        able = [line.place[1] for line, _ in self.usable(pair)]
        lacking = self.lacking(pair)
        if lacking is not None and lacking.kind == "short":
            needs, left = ms_from_seconds(lacking.needs_s), ms_from_seconds(lacking.left_s)
            words = f"it needs {needs:.2f} ms more on {_either(able)}, and {left:.2f} ms are left there"
            return f"The delay lines are too short: {words}"
        if not able:
            early, _ = self.early_and_late(pair)
            return f"Nothing delays the earlier way alone: {self._without_lines(pair, early)}"
        words = _either(able)
        return f"What cures it, more delay on {words}, brings something else apart that weighs more, or makes ears late"

    def lacking(self, pair: Pair) -> Lacking | None:
        """Return what delay lines lack to cure a pair, None where that is not why it stays apart."""
        if self.desk_lines.missing or pair.cancels or not pair.grade or not self.exact(pair):
            return None
        if pair.kind == "electrical" and self.desk_lines.coarse:
            return None
        rate = self.show.sample_rate
        need = seconds_from_frames(min(map(abs, self.needed(pair)), default=0.0), rate)
        able = [line.place[1] for line, _ in self.usable(pair)]
        left = seconds_from_frames(self.longest(pair), rate)
        if able:
            return Lacking("short", tuple(able), need, left) if need > left + _SAME_S else None
        early, _ = self.early_and_late(pair)
        bare = self._bare(pair, early)
        return Lacking("missing", tuple(bare), need, 0.0) if bare else None

    def _bare(self, pair: Pair, early: Arrival) -> list[str]:
        """Return the strips on the earlier way alone that have no delay line."""
        other = pair.first if early is pair.second else pair.second
        alone = [strip for strip in early.route if strip not in other.route]
        return [strip for strip in alone if not has_line(self.show, self.desk, strip)]

    def _coarse(self, pair: Pair) -> str:
        step = self.desk_lines.step or 1.0
        gap = pair.states[0].low
        residue = seconds_from_frames(abs(gap - round(gap / step) * step), self.show.sample_rate)
        lead = f"A step of {self._ms(step):.2f} ms aligns loudspeakers, never two ways of one microphone"
        if residue <= 0:
            return f"{lead}; that a whole step would meet it now is luck"
        null = null_hz(residue, 0, inverted=False)
        return f"{lead}: the nearest step leaves {ms_from_seconds(residue):.3f} ms, first dip at {null:.0f} Hz"

    def needed(self, pair: Pair) -> list[float]:
        """Return the shifts, in frames, that would just bring a pair together with all loops IN."""
        found = []
        for (start, end), _ in pair.zones(0, self.show.sample_rate):
            found.append(start if start > 0 else end if end < 0 else 0.0)
        return found

    def usable(self, pair: Pair) -> Iterator[tuple[Line, int]]:
        """Yield the lines that can be dialled later on the earlier way, with how often it passes them."""
        lines, sign = self.lines, -1 if pair.states[0].low > 0 else 1
        for place, factor in pair.lines.items():
            if place in lines and lines[place].open and factor * sign > 0:
                yield lines[place], abs(factor)

    def longest(self, pair: Pair) -> float:
        """Return how many frames later the earlier way could be dialled."""
        return sum(max(0.0, line.most * line.step - line.now) * times for line, times in self.usable(pair))

    def _without_lines(self, pair: Pair, early: Arrival) -> str:
        other = pair.first if early is pair.second else pair.second
        alone = [strip for strip in early.route if strip not in other.route]
        bare = self._bare(pair, early)
        if early.microphone is None:
            return "it comes through the air"
        if bare:
            return f"this desk has no delay line on {_either(bare)}"
        return f"both ways pass every delay line of {_either(alone or list(early.route[-1:]))}"

    def _ms(self, frames: float) -> float:
        return ms_from_seconds(seconds_from_frames(frames, self.show.sample_rate))


def _either(names: list[str]) -> str:
    return " or ".join(names) if len(names) < 3 else f"{', '.join(names[:-1])} or {names[-1]}"


__all__ = ["WORSE", "Outcome"]
