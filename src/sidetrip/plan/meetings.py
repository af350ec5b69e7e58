"""Where two arrivals of one source meet: how far apart, what it does, whether anybody will hear it.

Classes and limits
electrical        one microphone, two ways to one place: together within half a frame
two microphones   together when no further apart than their own distance makes them, within half a frame
two loudspeakers  together within 1 ms, and heard as one from 5 to 30 ms (Haas 1951 found fusion from 5 to 35 ms)
main and sub      together within 45° at the crossover, that is 1 / (8 · crossover); a whole cycle off is not together
ear and body      own voice through the head against own ears: limits of the show, judged in `ears`
picture           sound at most 45 ms early or 125 ms late (ITU-R BT.1359-1, detectability)
Arrivals more than 25 dB below the loudest of their source ripple less than 1 dB and are dropped. A tail without the
sound itself, as a reverb gives back, has no fixed phase against it and combs with nothing. Where a level is unknown,
what is apart in time cannot be told. All pairs are judged in all states at once, as arrays; a meeting is made in words
only for the worst pair of each cause.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sidetrip.graph.arrivals import Arrival, Arrivals, State
from sidetrip.graph.linemap import LineMap, LoopTime
from sidetrip.model.show import Show
from sidetrip.plan.causes import cause_numbers, joined_at, route_words
from sidetrip.plan.comb import null_hz, ripple
from sidetrip.plan.compare import KINDS, MAX_WAYS, Compared, Pairs, crossover_of, find_pairs
from sidetrip.plan.crossover import loss_db, octave_loss_db, off_a_cycle
from sidetrip.plan.gap import MOVED_DB, Gap, Ways, sentence, with_untold
from sidetrip.plan.image import image_of, shift_words
from sidetrip.plan.inside import find_inside
from sidetrip.plan.meeting import SLIGHT_DB, Meeting, harm
from sidetrip.plan.pictures import find_pictures
from sidetrip.plan.spread import Part, deciding, figures_of, parts_of
from sidetrip.plan.verdicts import ALONE, APART, ELECTRICAL_FRAMES, UNTOLD, Judged, judge, tails_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

_IN, _OUT = 0, 1


def find_meetings(
    show: Show, line_map: LineMap, arrivals: Arrivals, states: tuple[State, ...]
) -> tuple[tuple[Meeting, ...], Compared]:
    """Return every meeting, one for each cause, the worst first, and how much was compared for them.

    states: all IN first, then any others; all OUT is always judged with them.
    """
    all_out = State("all OUT", "all out", out=frozenset(arrivals.loops))
    every = (states[0], all_out, *(own for own in states[1:] if own.kind != "all out"))
    pairs = find_pairs(show, line_map, arrivals, arrivals.times(states[0]))
    loops = {time.loop: time for time in line_map.loops}
    found: list[Meeting] = []
    nearly: list[Meeting] = []
    if len(pairs.first):
        judged = judge(line_map, arrivals, pairs, every, show.sample_rate, tails_of(show, arrivals))
        worded = _Worded(show, arrivals, loops, every, pairs, judged)
        for meeting, quiet in worded.meetings():
            if not quiet:
                found.append(meeting)
            elif meeting.verdict == "apart":
                nearly.append(meeting)
    found += find_inside(show, line_map)
    if any(output.picture_delay_ms is not None for output in show.outputs):
        found += find_pictures(show, arrivals, loops, tuple((state, arrivals.times(state)) for state in every))
    compared = Compared(pairs.left_out, MAX_WAYS, tuple(sorted(nearly, key=harm)))
    return tuple(sorted(found, key=harm)), compared


class _Worded:
    """Judged pairs on their way to meetings: clustered by cause, the worst of each cause put in words."""

    def __init__(
        self,
        show: Show,
        arrivals: Arrivals,
        loops: dict[str, LoopTime],
        states: tuple[State, ...],
        pairs: Pairs,
        judged: Judged,
    ) -> None:
        self.show, self.arrivals, self.loops, self.states = show, arrivals, loops, states
        self.pairs, self.judged = pairs, judged
        self.below = self._below()
        inside, outside = judged.verdicts[_IN], judged.verdicts[_OUT]
        telling = np.where((inside == APART) | (outside != APART), _IN, _OUT)
        alone = np.choose(telling, [inside, outside]) == ALONE
        self.telling = np.where(alone, 1 - telling, telling)
        numbers = np.arange(len(pairs.first))
        with np.errstate(invalid="ignore"):
            middle = (judged.low + judged.high)[self.telling, numbers]
        self.audible = (judged.verdicts[self.telling, numbers] != ALONE) & np.isfinite(middle)
        self.sign = np.where(np.isfinite(middle) & (middle < 0), -1, 1)  # the earlier arrival is named first

    def meetings(self) -> Iterator[tuple[Meeting, bool]]:
        """Yield a meeting for each cause, and whether it is one of pairs that were dropped as too quiet."""
        wide = self.judged.wide
        causes = cause_numbers(self.show, self.arrivals, self.pairs, self.judged)
        order = self._ranked(causes, wide)
        starts = np.flatnonzero(np.concatenate([[True], causes[order][1:] != causes[order][:-1]]))
        score = self.judged.verdicts * 100.0 + np.where(self.judged.verdicts == ALONE, 0.0, wide)
        worst_of_pair = score.max(axis=0)
        for members in np.split(order, starts[1:]):
            pair = int(members[0])
            hit = int(members[np.argmax(worst_of_pair[members])])
            state = int(np.argmax(score[:, hit]))
            others = (number for number, own in enumerate(self.states) if own.kind == "taken over")
            places = sorted({self._row(int(one), 0).place.name for one in members})
            sources = dict.fromkeys(self._row(int(one), 0).source for one in members)
            meeting = self._meeting(pair)
            rows = (self.judged.verdicts[:, members] == APART).any(axis=1)
            apart = [own for own, there in zip(self.states, rows, strict=True) if there]
            yield (
                replace(
                    meeting,
                    places=tuple(places),
                    sources=tuple(sources),
                    worst_state=self.states[state].name,
                    gap_worst=self.judged.gap(state, hit, int(self.sign[hit])),
                    apart_in=tuple(own.name for own in apart),
                    cues_apart=tuple(own.name for own in apart if own.kind == "cue"),
                    taken_over=tuple(self._hardest(members, score, number) for number in others),
                ),
                bool(self.pairs.quiet[pair]),
            )

    def _hardest(self, members: NDArray[np.intp], score: NDArray[np.floating[Any]], state: int) -> tuple[str, Gap]:
        """Return the name of a state, and the spread of the one of these pairs that does most harm in it."""
        pair = int(members[np.argmax(score[state, members])])
        return self.states[state].name, self.judged.gap(state, pair, int(self.sign[pair]))

    def _ranked(self, causes: NDArray[np.intp], wide: NDArray[np.float64]) -> NDArray[np.intp]:
        """Return the pairs cause by cause, in each the worst first: the order of `harm`."""
        pairs, verdicts = self.pairs, self.judged.verdicts[:2]
        first = np.where(self.sign < 0, pairs.second, pairs.first)
        second = np.where(self.sign < 0, pairs.first, pairs.second)
        routes, places, sources = _ranks(self.arrivals)
        depth = np.where(self.audible, self._depths(), 0.0)
        widest = np.where(verdicts == ALONE, 0.0, wide[:2]).max(axis=0)
        keys = (sources[first], routes[second], routes[first], places[first], -widest, -depth, -verdicts.max(axis=0))
        return np.lexsort((*keys, causes))

    def _below(self) -> NDArray[np.float64]:
        """Return how far the quieter of each pair is below the loudest of its source, in dB; nan where unknown."""
        levels = np.array([np.nan if r.level_db is None else r.level_db for r in self.arrivals.rows], dtype=float)
        one, other = levels[self.pairs.first], levels[self.pairs.second]
        top = np.fmax(np.maximum(one, other), self.pairs.loudest_db)
        return np.asarray(np.minimum(one, other) - top, dtype=float)

    def _depths(self) -> NDArray[np.float64]:
        """Return the ripple of each pair in dB, at most 60; 0 where a level is unknown."""
        gain = 10 ** (self.below / 20)
        with np.errstate(divide="ignore"):
            depth = 20 * np.log10((1 + gain) / (1 - gain))
        return np.where(np.isnan(depth), 0.0, np.minimum(depth, 60.0))

    def _row(self, pair: int, side: int) -> Arrival:
        index = self.pairs.second if side else self.pairs.first
        return self.arrivals.rows[int(index[pair])]

    def _meeting(self, pair: int) -> Meeting:
        kind, sign = KINDS[int(self.pairs.kind[pair])], int(self.sign[pair])
        first, second = (self._row(pair, side) for side in ((0, 1) if sign > 0 else (1, 0)))
        gaps = [self.judged.gap(state, pair, sign) for state in (_IN, _OUT)]
        telling = int(self.telling[pair])
        worst = gaps[telling]
        levels = (first.level_db, second.level_db)
        difference = None if levels[0] is None or levels[1] is None else levels[1] - levels[0]
        inverted = first.inverted != second.inverted
        combs = bool(self.audible[pair])
        tailed = bool(self.judged.tailed[telling, pair])
        null = null_hz(worst.typical, 0, inverted=inverted) if combs and (worst.typical or inverted) else None
        depth, moved = self._depth(pair) if combs and not tailed else (None, None)
        decides = self._deciding(pair, gaps, first, second)
        ways = ways_of(self.show, first, second)
        images = [image_of(gap, ways.one, ways.two, difference) if kind == "two loudspeakers" else "" for gap in gaps]
        parted = ways.crossover_hz if kind == "main and sub" and combs else None
        off = parted is not None and off_a_cycle(worst.typical, parted)
        octave = octave_loss_db(worst.typical, parted) if off and parted else None
        deep = moved is not None and depth is not None and depth < SLIGHT_DB <= moved
        ways = replace(ways, image=images[telling], octave_loss_db=octave, moved_db=moved if deep else None)
        if tailed:
            said = harmless = _tail_words(ways, kind in ("two loudspeakers", "main and sub"))
        else:
            harmless = ""
            said = sentence(self.show.sample_rate, kind, ways, gaps, null, depth, decides)
            said = with_untold(said, gaps, decides) + shift_words(*images)
        return Meeting(
            kind,
            ways.joined,
            (first.place.name,),
            (first.source,),
            route_words(first),
            route_words(second),
            tuple(sorted(set(first.loops) ^ set(second.loops))),
            gaps[0],
            gaps[1],
            _natural(first, second) if kind == "two microphones" else 0.0,
            difference,
            inverted,
            None if tailed else null,
            depth,
            decides,
            said,
            ripple_moved_db=moved,
            harmless=harmless,
            crossover_loss_db=None if parted is None else loss_db(worst.typical, parted),
            octave_loss_db=octave,
            image_in=images[0],
            image_out=images[1],
        )

    def _depth(self, pair: int) -> tuple[float | None, float | None]:
        """Return the ripple that the quieter leaves beside the loudest of its source, as written and 6 dB nearer."""
        below = float(self.below[pair])
        if math.isnan(below):
            return None, None
        return ripple(below).ripple_db, ripple(min(0.0, below + MOVED_DB)).ripple_db

    def _deciding(self, pair: int, gaps: list[Gap], first: Arrival, second: Arrival) -> str | None:
        """Name the figure that decides where one of the two states cannot be told."""
        for state in (_IN, _OUT):
            if self.judged.verdicts[state, pair] != UNTOLD:
                continue
            parts = self._parts(first, second, self.states[state])
            if all(part.span.known for part in parts):
                level = _unknown_level(first, second)
                return level if level is not None else deciding(parts)
            return deciding(parts)
        return None

    def _parts(self, first: Arrival, second: Arrival, state: State) -> tuple[Part, ...]:
        figures = [figures_of(way, self.loops, state, self.arrivals.holding) for way in (first, second)]
        return parts_of(*figures)


def ways_of(show: Show, first: Arrival, second: Arrival) -> Ways:
    """Return what the words need of two arrivals."""
    crossover = crossover_of(show, first) or crossover_of(show, second)
    joined = joined_at(first, second)
    return Ways(first.source, first.place.name, joined, _heard_by(first), _heard_by(second), crossover)


def _ranks(arrivals: Arrivals) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return the place of each arrival's route in words, of its place and of its source, in order of names."""
    found = []
    for names in (
        [route_words(row) for row in arrivals.rows],
        [row.place.name for row in arrivals.rows],
        [row.source for row in arrivals.rows],
    ):
        place = {name: number for number, name in enumerate(sorted(set(names)))}
        found.append(np.array([place[name] for name in names], dtype=np.intp))
    return found[0], found[1], found[2]


def _heard_by(way: Arrival) -> str:
    """Return by what somebody hears an arrival: a loudspeaker or the source in the room, a microphone elsewhere."""
    if way.place.kind == "listener":
        return way.output or f"{way.source} itself"
    return way.microphone or way.source


def _natural(first: Arrival, second: Arrival) -> float:
    """Return what the air alone explains at two microphones, in seconds; nothing where a distance is unknown."""
    air = [next(edge.delay.typical for edge in way.edges if edge.end.kind == "microphone") for way in (first, second)]
    return 0.0 if air[0] is None or air[1] is None else air[1] - air[0]


def _unknown_level(first: Arrival, second: Arrival) -> str | None:
    """Name the first level on either way that nobody knows and that not both pass."""
    ways = ({id(edge): edge for edge in way.edges} for way in (first, second))
    one, other = ways
    for edge in (*(e for k, e in one.items() if k not in other), *(e for k, e in other.items() if k not in one)):
        if edge.level_db is None:
            return f"the level of {edge.label}"
    shared = next((edge for edge in first.edges if edge.level_db is None), None)
    return None if shared is None else f"the level of {shared.label}"


def _tail_words(ways: Ways, in_the_air: bool) -> str:
    where = f"in {ways.joined}" if ways.joined else f"at {ways.place}"
    lead = f"{ways.source} comes {where} by two ways" if not in_the_air else f"{ways.source} is heard twice {where}"
    return f"{lead}, but one is only a tail without the sound itself, which has no fixed phase: it does not comb."


__all__ = ["ELECTRICAL_FRAMES", "crossover_of", "find_meetings", "ways_of"]
