"""What becomes of each meeting: its repairs, best first, what is left of it, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sidetrip.graph.arrivals import Arrival
from sidetrip.plan.alignment_lines import Place, away
from sidetrip.plan.alignment_outcome import WORSE, Outcome
from sidetrip.plan.alignment_pairs import Pair
from sidetrip.plan.alignment_question import is_accepted
from sidetrip.plan.alignment_result import Aligned, Became, Repair
from sidetrip.plan.causes import before, joined_at
from sidetrip.plan.comb import null_hz
from sidetrip.plan.gap import Gap
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.pictures import PICTURE_EARLY_S, PICTURE_LATE_S
from sidetrip.units import ms_from_seconds, seconds_from_frames, seconds_from_ms

_SAME_S = 1e-8


def aligned(outcome: Outcome, meeting: Meeting) -> Aligned | None:
    """Return what becomes of a meeting, None where it is together before and after."""
    if meeting.kind == "picture":
        return _picture(outcome, meeting)
    matching = _matching(outcome, meeting)
    if not matching:
        return _unweighed(meeting)
    pair = max(matching, key=lambda own: _rank(outcome, own))
    was, after = outcome.running(pair, after=False), outcome.running(pair, after=True)
    inside, outside = (_turned(outcome.after(pair, number), _sign(meeting, pair)) for number in (0, 1))
    out_worse = outcome.before(pair, 1).verdict == "together" and outside.verdict == "apart"
    if meeting.verdict in ("together", "alone") and after in ("together", "alone") and not out_worse:
        return _one_out(outcome, meeting, pair, inside, outside)
    verdict: Became
    if is_accepted(outcome.show.accept, pair):
        verdict, why = "accepted", ""
    elif after in ("together", "alone") and was == "apart":
        verdict, why = "cured", ""
    elif after in ("together", "alone"):
        verdict, why = _out_only(outcome, pair, meeting)
    elif was == "cannot tell" or not outcome.exact(pair):
        verdict, why = "measure first", f"Measure {meeting.deciding or outcome.deciding(pair)} first."
    elif was == "apart":
        verdict, why = "left", outcome.why_left(pair)
    else:
        verdict, why = "made worse", f"What is dialled for others brings it apart. {outcome.sounds(pair)}"
    residue = inside.typical if inside.verdict != "alone" and math.isfinite(inside.typical) else None
    null = None if residue is None else null_hz(residue, 0, inverted=pair.first.inverted != pair.second.inverted)
    lacking = outcome.lacking(pair) if verdict == "left" else None
    return Aligned(meeting, inside, outside, verdict, tuple(_repairs(outcome, pair)), residue, null, why, lacking)


def _one_out(outcome: Outcome, meeting: Meeting, pair: Pair, inside: Gap, outside: Gap) -> Aligned | None:
    """Return a meeting that comes apart only where one of its loops is OUT without the other, None for any other."""
    strips = outcome.loop_strips(pair.loops)
    covered = any(set(strips) <= set(own) for own in outcome.show.bypass_groups.values())
    singly = [n for n, own in enumerate(outcome.asked.watched) if own.state.kind == "loop out"]
    if covered or not pair.grade or pair.cancels or not any(outcome.after(pair, n).verdict == "apart" for n in singly):
        return None
    repairs = tuple(one for one in _repairs(outcome, pair) if one.kind == "bypass group")
    why = "It comes apart when one of its loops goes OUT without the other."
    return Aligned(meeting, inside, outside, "left", repairs, None, None, why) if repairs else None


def _out_only(outcome: Outcome, pair: Pair, meeting: Meeting) -> tuple[Became, str]:
    """Return what to say of a meeting that is together while the show runs, and not with every loop OUT."""
    after = outcome.after(pair, 1).verdict
    if after in ("together", "alone"):
        return "cured", ""
    if outcome.before(pair, 1).verdict in ("together", "alone"):
        return "made worse", f"With the loops OUT what is dialled is wrong. {outcome.sounds(pair)}"
    if after == "cannot tell":
        return "measure first", f"Measure {meeting.deciding or outcome.deciding(pair)} first."
    return "left", f"It is together while the loops are IN; no setting is right in both states. {outcome.sounds(pair)}"


def _unweighed(meeting: Meeting) -> Aligned | None:
    if meeting.verdict in ("together", "alone"):
        return None
    if meeting.verdict == "cannot tell":
        return untold(meeting)
    why = "It was not weighed: there are more meetings than are shifted against each other."
    return Aligned(meeting, meeting.gap_in, meeting.gap_out, "left", (), None, None, why)


def untold(meeting: Meeting) -> Aligned:
    """Return a meeting that nothing is dialled for, because a figure is not known."""
    why = f"Measure {meeting.deciding} first." if meeting.deciding else "Give the missing figure first."
    return Aligned(meeting, meeting.gap_in, meeting.gap_out, "measure first", (), None, None, why)


# Which pairs a meeting stands for


def _matching(outcome: Outcome, meeting: Meeting) -> list[Pair]:
    """Return the pairs that one meeting is about: those of its cause."""
    sources, places = set(meeting.sources), set(meeting.places)
    verdicts = meeting.gap_in.verdict, meeting.gap_out.verdict
    alike = [
        pair
        for pair in outcome.by_loops.get((meeting.kind, meeting.loops), ())
        if not sources.isdisjoint(pair.sources)
        and not places.isdisjoint(pair.places)
        and all(meeting.joined in way.route for way in (pair.first, pair.second) if meeting.joined)
        and (outcome.before(pair, 0).verdict, outcome.before(pair, 1).verdict) == verdicts
    ]
    if not alike:
        return []
    nearest = min(alike, key=lambda pair: (_off(outcome, meeting, pair), -_rank(outcome, pair)[0]))
    return [pair for pair in alike if pair.cause == nearest.cause]


def _off(outcome: Outcome, meeting: Meeting, pair: Pair) -> float:
    """Return how far a pair is from the one that a meeting is told by, in seconds, rounded."""
    off = 0.0
    for number, gap in enumerate((meeting.gap_in, meeting.gap_out)):
        own = outcome.before(pair, number)
        if gap.verdict != "alone" and math.isfinite(gap.typical) and math.isfinite(own.typical):
            off += abs(abs(gap.typical) - abs(own.typical))
    return round(off, 7)


def _rank(outcome: Outcome, pair: Pair) -> tuple[float, ...]:
    """Rank pairs of one meeting: the one that stays worst speaks for it."""
    if id(pair) not in outcome.ranks:
        outcome.ranks[id(pair)] = _ranked(outcome, pair)
    return outcome.ranks[id(pair)]


def _ranked(outcome: Outcome, pair: Pair) -> tuple[float, ...]:
    gap = outcome.after(pair, 0)
    size = abs(gap.typical) if math.isfinite(gap.typical) else 0.0
    running = WORSE.index(outcome.running(pair, after=True))
    depth = 200.0 if pair.ripple_db is None else min(pair.ripple_db, 100.0)
    return (running, WORSE.index(outcome.after(pair, 1).verdict), round(depth, 3), round(size, 7))


def _sign(meeting: Meeting, pair: Pair) -> int:
    """Return -1 where a meeting names the two the other way round."""
    for gap, number in ((meeting.gap_in, 0), (meeting.gap_out, 1)):
        own = pair.states[number]
        if gap.verdict != "alone" and math.isfinite(gap.typical) and abs(gap.typical) > _SAME_S:
            return 1 if (own.low + own.high) * gap.typical > 0 else -1
    return 1


def _turned(gap: Gap, sign: int) -> Gap:
    return gap if sign > 0 else Gap(0.0 - gap.high, 0.0 - gap.low, gap.verdict)


# Repairs


def _repairs(outcome: Outcome, pair: Pair) -> Iterator[Repair]:
    """Yield the repairs of a pair that is, or would be, apart: best first."""
    if pair.cancels:
        yield Repair("polarity", "Turn the polarity of one of the two ways", done=False)
        return
    own = [sorted(set(a.loops) - set(b.loops)) for a, b in ((pair.first, pair.second), (pair.second, pair.first))]
    dry, wet = (pair.first, pair.second) if own[1] else (pair.second, pair.first)
    beside = sorted(own[0] or own[1])
    if pair.loops and not (own[0] and own[1]):
        if pair.kind == "electrical":
            yield from _inside(outcome, dry, wet, beside)
        yield from _moves(outcome, pair)
        yield from _blank(outcome, dry, wet, beside)
    elif pair.loops:
        strips = " and ".join(outcome.loop_strips(pair.loops))
        yield from _moves(outcome, pair)
        yield Repair("bypass group", f"Put {strips} on one key, so that they go OUT together", done=False)
    if pair.loops and pair.first.place.kind == "ear" and wet.microphone is not None:
        yield _double(outcome, wet.microphone, pair.first.place.name)
    for line in outcome.dialled(pair):
        yield Repair("delay", _dial(outcome, line.place), done=True)


def _inside(outcome: Outcome, dry: Arrival, wet: Arrival, beside: list[str]) -> Iterator[Repair]:
    joined = joined_at(dry, wet)
    strips = " and ".join(outcome.loop_strips(beside))
    strip = before(dry, joined) or dry.route[0]
    words = (
        f"Un-assign {strip} from {joined}, where its sound comes through {strips} all the same; what is wanted dry is "
    )
    words += f"mixed inside the unit, in the chain of {strips}"
    yield Repair("inside the unit", words, done=False)


def _moves(outcome: Outcome, pair: Pair) -> Iterator[Repair]:
    made = outcome.made(pair)
    for move in outcome.asked.moves:
        if pair.edges.get(move.edge) and move.beside in pair.loops:
            if move.kind == "tap":
                words = f"Take {move.mix} from {move.strip} after its insert: then it follows IN and OUT"
            else:
                assert move.blank is not None
                words = f"Send {move.strip} out blank beside {move.beside}, through {move.blank.send} and back on "
                words += f"{move.blank.returns}, and take both OUT with one key"
            yield Repair(move.kind, words, done=move in made)


def _blank(outcome: Outcome, dry: Arrival, wet: Arrival, beside: list[str]) -> Iterator[Repair]:
    """Yield a blank loop that would need ports which nobody has to spare."""
    inserts = {loop.name: loop for loop in outcome.loops if loop.way == "insert"}
    if not set(beside) <= set(inserts) or any(move.kind == "blank loop" for move in outcome.asked.moves):
        return
    alone = [strip for strip in dry.route if strip not in wet.route]
    for strip in alone[-1:]:
        pool = None if away(outcome.show, strip) else outcome.desk.pool(outcome.show.kind(strip))
        if pool is not None and "insert" in pool.order and strip not in {own.strip for own in inserts.values()}:
            legs = outcome.show.legs(strip)
            words = f"A blank loop on {strip} beside {' and '.join(beside)} would cure it"
            ports = "one more port" if legs == 1 else f"{legs} more ports"
            yield Repair("blank loop", f"{words}, but it takes {ports} out and back, and none is spare", done=False)


def _double(outcome: Outcome, microphone: str, place: str) -> Repair:
    legs, pool = outcome.show.legs(microphone), outcome.desk.pool("channel")
    used = sum(len(item.port) for item in outcome.show.inputs if item.ch is not None)
    free = max(0, (pool.legs if pool is not None else 0) - used)
    strips = f"{legs} more channel strip{'s' if legs > 1 else ''}"
    words = f"Patch {microphone} to a second strip that stays dry, for {place} alone: {strips}, {free} free"
    return Repair("double patch", words, done=False)


def _dial(outcome: Outcome, place: Place) -> str:
    line = outcome.lines[place]
    steps = dict(zip((own.place for own in outcome.asked.lines), outcome.answer.steps, strict=True))[place] or 0
    rate = outcome.show.sample_rate
    was, now = (ms_from_seconds(seconds_from_frames(own, rate)) for own in (line.now, steps * line.step))
    on = "Output" if place[0] == "output" else "Strip"
    return f"{on} {place[1]}, delay: {was:.2f} → {now:.2f} ms"


# Pictures


def _picture(outcome: Outcome, meeting: Meeting) -> Aligned | None:
    """Return sound against picture: what is dialled elsewhere shifts it, and the rest is for the encoder."""
    output = outcome.show.output(meeting.places[0])
    picture = output.picture_delay_ms if output is not None else None
    if picture is None or picture.low is None or picture.high is None or meeting.verdict == "cannot tell":
        return untold(meeting) if meeting.verdict == "cannot tell" else None
    low, high = seconds_from_ms(picture.low), seconds_from_ms(picture.high)
    gaps = []
    for number in (0, 1):
        times = outcome.arrivals.times(outcome.asked.watched[number].state)
        leads = []
        for index, row in enumerate(outcome.arrivals.rows):
            if (row.place.kind, row.place.name) == ("output", meeting.places[0]) and not times.silent[index]:
                later = seconds_from_frames(outcome.later(row, number), outcome.show.sample_rate)
                leads.append((low - float(times.high[index]) - later, high - float(times.low[index]) - later))
        if not leads:
            gaps.append(Gap(0.0, 0.0, "alone"))
            continue
        early, late = min(one for one, _ in leads), max(one for _, one in leads)
        within = early >= -PICTURE_LATE_S and late <= PICTURE_EARLY_S
        gaps.append(Gap(early, late, "together" if within else "apart"))
    if meeting.verdict == "together" and all(gap.verdict != "apart" for gap in gaps):
        return None
    if not all(math.isfinite(gap.low) and math.isfinite(gap.high) for gap in gaps):
        return untold(meeting) if meeting.verdict != "together" else None
    lag = ms_from_seconds(gaps[0].typical)
    what = f"Delay the sound at the encoder by {lag:.1f} ms" if lag > 0 else f"Delay the picture by {-lag:.1f} ms"
    repair = Repair("encoder", f"{what}, after all that is dialled here", done=False)
    cured = gaps[0].verdict != "apart" and meeting.gap_in.verdict == "apart"
    became: Became = "cured" if cured else "left" if meeting.verdict == "apart" else "made worse"
    why = "" if cured else "It is dialled at the encoder, not on strips that feed the room."
    return Aligned(meeting, gaps[0], gaps[1], became, (repair,), gaps[0].typical, None, why)
