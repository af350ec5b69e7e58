"""Prove a take: make its test signal, measure a recording, hold it against the plan, adopt what was measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidetrip.application.ports import Clock, DeskLibrary, ShowStore
from sidetrip.application.proof_ports import ProofTexts
from sidetrip.application.recording_ports import Recordings
from sidetrip.application.use_cases import Planned, plan
from sidetrip.errors import RecordingUnreadable, ShowUnreadable
from sidetrip.findings import Finding, ordered
from sidetrip.naming import slug

if TYPE_CHECKING:
    from sidetrip.dsp.testsignal import TestSignal
    from sidetrip.model.take import Take
    from sidetrip.prove.adopt import Adopted
    from sidetrip.prove.expect import Expected
    from sidetrip.prove.proof import Proof

PROOFS = "proofs"
Progress = Callable[[str], None]
_CORES = 2


@dataclass(frozen=True, slots=True)
class SignalMade:
    """A test signal on disk. made: False when it was there already."""

    path: str
    signal: TestSignal
    take: Take
    expected: Expected
    planned: Planned
    made: bool


@dataclass(frozen=True, slots=True)
class Proved:
    """A proof with all findings. kept: where it was written; before, after: plans around an adoption."""

    proof: Proof
    findings: tuple[Finding, ...]
    kept: tuple[str, ...]
    before: Planned
    after: Planned | None


def find_take(planned: Planned, name: str | None) -> Take:
    """Return a take of the show by name; without a name the only one. Raises ShowUnreadable."""
    show = planned.plan.show
    if name is None and len(show.takes) == 1:
        return show.takes[0]
    take = show.take(name) if name is not None else None
    if take is not None:
        return take
    from sidetrip.showfile.read import nearest

    names = [one.name for one in show.takes]
    if not names:
        what, remedy = "The show has no takes", "Add takes: what enters where, what is caught, and the reference"
    elif name is None:
        what, remedy = "The show has several takes", f"Name one of them: {', '.join(names)}"
    else:
        what, remedy = f"There is no take '{name}'", nearest(name, names)
    finding = Finding("take-unknown", "takes", what, "", remedy, ("takes",), file=planned.source.file)
    raise ShowUnreadable([finding])


def signal_path(store: ShowStore, planned: Planned, take: Take) -> str:
    """Return where a take's test signal is kept: in the show's folder, under proofs."""
    return store.beside(planned.source.file, f"{PROOFS}/{slug(take.name)}-test.wav")


def label(expected: Expected) -> str:
    """Return what a test signal says of itself: the take, and the port of each channel."""
    return f"{expected.take.name}: {', '.join(str(entry.port) for entry in expected.entries)}"


def make_signal(
    store: ShowStore,
    library: DeskLibrary,
    recordings: Recordings,
    path: str,
    name: str | None,
    out: str | None = None,
    *,
    buffer_frames: int | None = None,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> SignalMade:
    """Make the test signal of a take, unless the same one is there. progress: entries done, of how many.

    Raises ShowUnreadable, RecordingUnreadable, and WouldOverwrite when another file of that name is there.
    """
    planned = plan(store, library, path, buffer_frames=buffer_frames)
    take = find_take(planned, name)
    from sidetrip.dsp.testsignal import CHUNK, TestSignal, usual_levels_dbfs
    from sidetrip.dsp.tones import make_tones, usual_period
    from sidetrip.prove.expect import expect

    expected = expect(planned.plan, take)
    entries, rate_hz = len(expected.entries), planned.plan.show.sample_rate
    where = out or signal_path(store, planned, take)
    there = _signal_at(recordings, where)
    wanted = (entries, rate_hz, usual_period(rate_hz), usual_levels_dbfs(entries), label(expected))
    if there is not None:
        tones = there.tones
        if (tones.entries, tones.rate_hz, tones.period_frames, there.levels_dbfs, there.name) == wanted:
            return SignalMade(where, there, take, expected, planned, made=False)
    tones = make_tones(entries, rate_hz, progress=lambda done: progress(done, entries))
    signal = TestSignal(tones, usual_levels_dbfs(entries), 4, label(expected))
    recordings.write_wave(
        where, signal.blocks(), rate_hz, entries, chunks={CHUNK: signal.chunk()}, replace=there is not None
    )
    return SignalMade(where, signal, take, expected, planned, made=True)


def _signal_at(recordings: Recordings, path: str) -> TestSignal | None:
    """Return the test signal in a file, None when there is no file or it is none of ours."""
    from sidetrip.dsp.testsignal import CHUNK, from_chunk

    try:
        with recordings.open([path]) as file:
            chunk = file.chunk(CHUNK)
        return from_chunk(chunk) if chunk is not None else None
    except (RecordingUnreadable, ValueError):
        return None


def record_stand_in(
    store: ShowStore, recordings: Recordings, made: SignalMade, out: str | None, faults: Sequence[str], seed: int
) -> str:
    """Play a take on a stand-in for desk and units, and write what its recorder takes; returns the path.

    faults: each "kind" or "kind: loop". Raises ValueError for one that is not there, WouldOverwrite.
    """
    import numpy as np

    from sidetrip.application.stand_in import broken, legs_of, rig_of
    from sidetrip.rig.run import run

    plan_ = made.planned.plan
    rig = rig_of(plan_, made.expected, made.signal.rate_hz)
    rig = broken(rig, legs_of(made.expected), faults, made.signal, seed)
    recorded = run(rig, np.concatenate(list(made.signal.blocks())), seed)
    where = out or store.beside(made.planned.source.file, f"{PROOFS}/{slug(made.take.name)}-stand-in.wav")
    channels = recorded.samples.shape[1]
    recordings.write_wave(where, [recorded.samples], recorded.rate_hz, channels, replace=out is None)
    return where


def read_signal(recordings: Recordings, path: str, expected: Expected) -> TestSignal:
    """Read what a test signal says of itself. Raises RecordingUnreadable for none, or one of another take."""
    from sidetrip.dsp.testsignal import CHUNK, from_chunk

    with recordings.open([path]) as file:
        chunk = file.chunk(CHUNK)
    if chunk is None:
        raise _signal_wrong(path, "This file is no test signal of a take", "it has no tables")
    try:
        signal = from_chunk(chunk)
    except ValueError as error:
        raise _signal_wrong(path, "This test signal cannot be used", str(error)) from error
    if signal.tones.entries != len(expected.entries):
        values = f"{signal.tones.entries} channels, the take enters {len(expected.entries)} ports"
        raise _signal_wrong(path, "This test signal belongs to another take", values)
    if signal.name != label(expected):
        raise _signal_wrong(path, "This test signal belongs to another take", f"made for '{signal.name}'")
    return signal


def _signal_wrong(path: str, what: str, values: str) -> RecordingUnreadable:
    remedy = "Name the file that was played: --signal FILE, or make it anew: sidetrip signal SHOW TAKE"
    return RecordingUnreadable([Finding("signal-wrong", "test signal", what, values, remedy, file=path)])


def prove_take(
    store: ShowStore,
    library: DeskLibrary,
    recordings: Recordings,
    clock: Clock,
    texts: ProofTexts,
    path: str,
    files: Sequence[str],
    *,
    name: str | None = None,
    signal_file: str | None = None,
    buffer_frames: int | None = None,
    adopting: bool = False,
    keeping: bool = True,
    progress: Progress = lambda _: None,
) -> Proved:
    """Measure a recording of a take and hold it against the plan.

    keeping: write the proof into the show's folder. adopting: write measured figures into the show and plan again.
    Raises ShowUnreadable, RecordingUnreadable and WouldOverwrite; a recording without the test is RecordingUnreadable.
    """
    progress("planning")
    planned = plan(store, library, path, buffer_frames=buffer_frames)
    take = find_take(planned, name)
    from sidetrip.prove.expect import expect
    from sidetrip.prove.history import change_findings
    from sidetrip.prove.measure import NotHeard, measure
    from sidetrip.prove.remarks import capture_findings, proof_findings, take_findings
    from sidetrip.prove.verdict import prove

    expected = expect(planned.plan, take)
    signal = read_signal(recordings, signal_file or signal_path(store, planned, take), expected)
    with recordings.open(files) as recording:
        last = max(catch.track for catch in expected.catches) + 1
        if recording.channels < last:
            values = f"{recording.channels} tracks, the take needs track {last}"
            remedy = "Give all files of the recording, or correct 'recorder' and 'catch' of the take"
            what = "The recording has too few tracks for this take"
            raise RecordingUnreadable([Finding("take-wrong", f"takes / {take.name}", what, values, remedy)])
        tracks = [catch.track for catch in expected.catches]
        reference = None if expected.reference is None else expected.reference[1]
        with ThreadPoolExecutor(_CORES) as pool:  # transforms and arithmetic let other threads run
            captured = measure(
                recording, signal, tracks, reference, progress, plain=expected.plain, side_by_side=pool.map
            )
        told = recording.findings()
    if isinstance(captured, NotHeard):
        finding = Finding("test-not-heard", f"takes / {take.name}", captured.why, captured.values, captured.remedy)
        raise RecordingUnreadable([finding, *told])
    progress("judging")
    earlier = _earlier(store, texts, planned)
    now = clock.now()
    proof = prove(
        planned.plan,
        expected,
        captured,
        when=now.isoformat(timespec="seconds"),
        recording=tuple(files),
        earlier=earlier,
    )
    findings = [
        *told,
        *take_findings(planned.plan, expected),
        *capture_findings(captured, expected),
        *proof_findings(proof),
        *change_findings(proof),
        *speed_findings(proof, signal.rate_hz),
    ]
    adopted = _adopted(store, planned, proof) if adopting else None
    findings += adopted.findings if adopted is not None else ()
    kept: tuple[str, ...] = ()
    if keeping:
        folder = store.beside(planned.source.file, PROOFS)
        file = f"{slug(take.name)}-{now.strftime('%Y-%m-%d-%H%M%S')}.json"
        kept = store.create(folder, {file: texts.write(proof, ordered(findings))})
    after = None
    if adopted is not None and adopted.changed:
        after = plan(store, library, path, buffer_frames=buffer_frames)
    return Proved(proof, ordered(findings), kept, planned, after)


def _adopted(store: ShowStore, planned: Planned, proof: Proof) -> Adopted:
    from sidetrip.prove.adopt import adopt

    adopted = adopt(planned.plan, proof, planned.source.text)
    if adopted.text != planned.source.text:
        store.replace(planned.source.file, planned.source.text, adopted.text)
    return adopted


def _earlier(store: ShowStore, texts: ProofTexts, planned: Planned) -> list[Proof]:
    """Return the proofs kept with the show, oldest first; files that are none are passed over."""
    folder = store.beside(planned.source.file, PROOFS)
    found: list[Proof] = []
    for name in store.names(folder):
        if not name.endswith(".json"):
            continue
        file = f"{folder}/{name}"
        try:
            found.append(texts.read(store.read_text(file), file))
        except (ShowUnreadable, ValueError):
            continue
    return sorted(found, key=lambda proof: proof.moment_s)


def speed_findings(proof: Proof, rate_hz: int) -> list[Finding]:
    """Say when the recording ran at another speed than its file says."""
    if proof.clock_kind != "rate":
        return []
    ratio = 1 + proof.clock_ppm * 1e-6
    near = _rates(1 / ratio)
    what = "The recording runs at another speed than its file says: a mismatch of sample rates, not drift"
    values = f"{1 / ratio:.4f} times as fast{f', as {near}' if near else ''}; the test is at {rate_hz} Hz"
    remedy = "Set player, desk and recorder to one rate; delays below are right for the rate of the test"
    return [Finding("speed-off", f"takes / {proof.take}", what, values, remedy)]


def _rates(speed: float) -> str:
    usual = (44_100, 48_000, 88_200, 96_000)
    for up in usual:
        for down in usual:
            if up != down and abs(up / down / speed - 1) < 2e-4:
                return f"{min(up, down) / 1000:g} against {max(up, down) / 1000:g} kHz"
    return ""


__all__ = [
    "PROOFS",
    "Proved",
    "SignalMade",
    "find_take",
    "make_signal",
    "prove_take",
    "read_signal",
    "record_stand_in",
    "signal_path",
]
