"""Listening to a meeting: a file, or the program's own phrase, through all ways to a place, as loud as each other."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.recording_ports import Recordings
from sidetrip.application.use_cases import Planned, plan
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.naming import slug
from sidetrip.units import gain_from_db

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sidetrip.graph.arrivals import State
    from sidetrip.plan.hearing import HeardAt
    from sidetrip.plan.planner import Plan

FOLDER = "hear"
LOUDEST_LUFS = -20.0
PEAK_DBFS = -1.0


@dataclass(frozen=True, slots=True)
class Rendering:
    """One file to listen to. name: planned, out or dialled. gain_db: what makes it as loud as the others."""

    name: str
    heard: HeardAt
    path: str
    gain_db: float


@dataclass(frozen=True, slots=True)
class Listening:
    """What there is to listen to. lufs: how loud each file is. silent: cases in which nothing arrives."""

    planned: Planned
    source: str
    place: str
    of: str
    rate_hz: int
    lufs: float
    renderings: tuple[Rendering, ...]
    silent: tuple[HeardAt, ...]
    findings: tuple[Finding, ...]


def hear(
    store: ShowStore,
    library: DeskLibrary,
    recordings: Recordings,
    path: str,
    words: str,
    *,
    file: str | None = None,
    out: str | None = None,
    seconds: float = 30.0,
) -> Listening:
    """Render a sound through what arrives of a source at a place: all IN, all OUT, and with the delays dialled.

    file: a recording, its first track or the mean of two; None for the program's own phrase. seconds: how much of it.
    Raises ShowUnreadable, NoPlan, RecordingUnreadable, and WouldOverwrite when `out` holds such files.
    """
    planned = plan(store, library, path)
    from sidetrip.dsp.copies import add_copies
    from sidetrip.plan.hearing import asked_for, heard_at, left_out

    asked = asked_for(planned.plan, words)
    if isinstance(asked, Finding):
        raise ShowUnreadable([asked])
    source, place = asked
    cases = {name: heard_at(own, source, place, state) for name, own, state in _cases(planned)}
    sound, rate_hz, of = _sound(recordings, file, seconds, planned.plan.show.sample_rate)
    made: dict[str, NDArray[np.float64]] = {}
    for name, own in cases.items():
        if not own.usable:
            continue
        made[name] = add_copies(sound, rate_hz, own.mixed)
    findings = tuple(left_out(cases.values()))
    if not made:
        raise ShowUnreadable(findings)
    gains, lufs = _matched(made, rate_hz)
    if not gains:
        what, remedy = "This sound is silent, or shorter than 0.4 s", "Name another with --file, or more --seconds"
        raise ShowUnreadable([Finding("value-wrong", "hear", what, of, remedy)])
    folder = out or store.beside(planned.source.file, FOLDER)
    renderings = []
    for name, gain_db in gains.items():
        where = f"{folder}/{slug(source)}-at-{slug(place)}-{name}.wav"
        recordings.write_wave(where, [(made[name] * gain_from_db(gain_db))[:, None]], rate_hz, 1, replace=out is None)
        renderings.append(Rendering(name, cases[name], where, gain_db))
    silent = tuple(own for own in cases.values() if not own.copies)
    return Listening(planned, source, place, of, rate_hz, lufs, tuple(renderings), silent, findings)


def _cases(planned: Planned) -> list[tuple[str, Plan, State]]:
    """Return (name, plan, state): as planned, all OUT, and all IN with what the plan says to dial and to move."""
    from sidetrip.graph.arrivals import State
    from sidetrip.plan.dialled import dialled_plan

    own = planned.plan
    out = State("all OUT", "all out", out=frozenset(own.arrivals.loops))
    cases = [("planned", own, own.states[0])]
    cases += [("out", own, out)] if own.arrivals.loops else []
    then = dialled_plan(own)
    cases += [("dialled", then, then.states[0])] if then is not None else []
    return cases


def _sound(
    recordings: Recordings, file: str | None, seconds: float, rate_hz: int
) -> tuple[NDArray[np.float64], int, str]:
    import numpy as np

    if file is None:
        from sidetrip.dsp.phrase import phrase

        sound = phrase(rate_hz)
        return sound[: round(seconds * rate_hz)], rate_hz, "a phrase of the program's own"
    with recordings.open([file]) as recording:
        wanted = [0, 1] if recording.channels == 2 else [0]
        read = recording.read(0, round(seconds * recording.rate_hz), wanted)
        return np.asarray(read.mean(axis=1), dtype=np.float64), recording.rate_hz, file


def _matched(made: dict[str, NDArray[np.float64]], rate_hz: int) -> tuple[dict[str, float], float]:
    """Return the gain in dB that makes each as loud as the others and no peak too high, and how loud that is."""
    import numpy as np

    from sidetrip.dsp.loudness import integrated_lufs

    loud = {name: integrated_lufs(sound, rate_hz) for name, sound in made.items()}
    loud = {name: lufs for name, lufs in loud.items() if math.isfinite(lufs)}
    room = [lufs + PEAK_DBFS - 20 * math.log10(float(np.abs(made[name]).max())) for name, lufs in loud.items()]
    target = min([LOUDEST_LUFS, *room])
    return {name: target - lufs for name, lufs in loud.items()}, target


__all__ = ["FOLDER", "Listening", "Rendering", "hear"]
