"""One failing example for every code of the catalogue, and a clean show that has none of the errors."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from proof_show import InMemory, proof_text, signal_for

from evidencefindings import EVIDENCE_CASES
from fakes.audio_files import AudioFilesInMemory, Sound
from fakes.clock import StoppedClock
from fakes.desks import DesksInMemory
from fakes.press import PressInMemory
from fakes.show_folder import ShowFolderInMemory
from listfiles import Lists
from proofs_heard import proof_of, stand_in
from showtext import DEMO_TEXT, DESK_TEXT, DESK_TYPE, LAPTOP, codes, desk, desk_with, findings_of, looped, small
from sidetrip.adapters.audio_files import AudioFiles
from sidetrip.application.proving import find_take, make_signal, prove_take, read_signal, speed_findings
from sidetrip.application.stand_in import broken, legs_of
from sidetrip.application.use_cases import load, plan
from sidetrip.errors import ShowUnreadable, WithFindings
from sidetrip.findings import CATALOGUE, Finding, Severity, has_errors, ordered
from sidetrip.graph.build import build
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import NOTHING
from sidetrip.model.ports import parse_ports
from sidetrip.plan.invariants import check_plan
from sidetrip.plan.patching import gap_findings, patch
from sidetrip.plan.repatch import desk_findings
from sidetrip.prove.adopt import adopt
from sidetrip.prove.capture import Capture
from sidetrip.prove.history import change_findings
from sidetrip.prove.measure import measure
from sidetrip.prove.proof import Proof
from sidetrip.prove.remarks import capture_findings, proof_findings
from sidetrip.reports.printing import print_paper
from sidetrip.reports.proof_json import ProofJson
from sidetrip.rig.run import run
from sidetrip.showfile.limits import MAX_BYTES
from sidetrip.showfile.read import read_show
from sidetrip.showfile.tables import read_input_list
from smallshows import plan_from
from stand_in_shows import LAPTOP as WITH_SPARE
from stand_in_shows import spare, stand_in_show, two_sockets

_TWO = "[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Sax, ch: 2, port: stage 2, to: [Main]}]"
_EARS = (
    "[{name: Main, kind: main, width: stereo}, "
    "{name: Ears, kind: aux, width: mono, for: Vox, listens: in-ear, device_ms: 4, from: {Vox: {db: 0, tap: input}}}]"
)
_MONITORS = (
    "[{name: Main, kind: main, width: stereo}, {name: Ears, desk: monitors, kind: aux, width: mono, for: Vox, "
    "listens: in-ear, device_ms: 4, from: [Vox]}]"
)


def _shared(said: str, requests: str = "[{strip: Vox, chain: thin, want: 5}]", mixes: str = _MONITORS) -> str:
    """Return a show with ears on another desk, of which this is said."""
    return looped(requests, mixes=mixes, other_desks=f"[{{name: monitors, through_ms: 1.2, {said}}}]")


def _second(line: str) -> str:
    """Return the units of a show with a second computer on the card, which nobody has measured."""
    return f"{LAPTOP[:-1]}, {{name: {line}, kind: computer, connects: card, buffer: 64}}]"


def _spare_in_for_one_of_two() -> tuple[Finding, ...]:
    """Plan one voice through two computers that are alike, of which one has a slower one to stand in for it."""
    tablet = WITH_SPARE.replace("name: laptop", "name: tablet").replace("connects: card", "connects: tab")
    groups = "{name: Dry, kind: group, width: mono, to: [Main]}, {name: Wet, kind: group, width: mono, to: [Main]}"
    text = stand_in_show(
        *(WITH_SPARE, tablet, spare("by box", "card")),
        requests=["{strip: Dry, chain: c, unit: tablet, want: 5}", "{strip: Wet, chain: c, unit: laptop, want: 5}"],
        inputs="{name: Vox, ch: 1, port: stage 11, to: [Dry, Wet]}",
    )
    return plan_from(text.replace("mixes: [", f"mixes: [{groups}, "), two_sockets()).findings


def _stored(path: str, files: dict[str, str | bytes]) -> tuple[Finding, ...]:
    try:
        return load(ShowFolderInMemory(files), DesksInMemory({DESK_TYPE: DESK_TEXT}), path).findings
    except WithFindings as error:
        return error.findings


def _listed(text: str) -> tuple[Finding, ...]:
    try:
        return read_input_list(text, "list.csv", desk())[1]
    except ShowUnreadable as error:
        return error.findings


def _lists_read(section: str, old: str, new: str, *, name: str = "", text: str = DEMO_TEXT) -> tuple[Finding, ...]:
    """Read a list of the demo in which one thing was changed. name: what the show calls its first input meanwhile."""
    lists = Lists(text)
    lists.write()
    lists.put(section, "\ufeff" + lists.raw(section).replace(old, new, 1))
    if name:
        lists.store.put("show.yaml", DEMO_TEXT.replace("name: Kick in,", f"name: {name},").encode())
    return lists.read(section).findings


def _printed(text: str) -> tuple[Finding, ...]:
    store = ShowFolderInMemory({"show.yaml": text})
    planned = plan(store, DesksInMemory({DESK_TYPE: DESK_TEXT}), "show.yaml")
    return print_paper(store, PressInMemory(), StoppedClock(), planned, "paper")[1]


def _placed(text: str, strip: str, send: str, returns: str, card_out: str, card_in: str) -> list[Finding]:
    """Hold a loop placed by hand against the rules: no allocation would make it."""
    show = read_show(text, "show.yaml").show
    out, back, unit_in, unit_out = (parse_ports(words) for words in (send, returns, card_out, card_in))
    loop = PlacedLoop(strip, strip, "insert", "laptop", None, len(out), out, back, unit_in, unit_out)
    line_map = build(show, desk(), (loop,), {"laptop": UnitTime(NOTHING, "measured")})
    return check_plan(show, desk(), (loop,), line_map)


def _laptop(**changes: str) -> str:
    fields = {"name": "laptop", "kind": "computer", "connects": "card", "aligns": "per chain", "buffer": "64"}
    fields |= {"measured": "[{buffer: 64, rate: 48000, round_trip_frames: 331}]", **changes}
    return "[{" + ", ".join(f"{key}: {value}" for key, value in fields.items()) + "}]"


def _measured(*points: tuple[int, object], rate: int = 48000) -> str:
    rows = (f"{{buffer: {buffer}, rate: {rate}, round_trip_frames: {frames}}}" for buffer, frames in points)
    return f"[{', '.join(rows)}]"


_TAKE = "takes: [{name: all, enter: stage 1, catch: [{port: card out 1, dry: stage 1}]}]\n"


def _recorded(files: dict[str, np.ndarray | bytes], *, rate_hz: Mapping[str, int] | None = None) -> tuple[Finding, ...]:
    """Read files as one recording with the real reader, all of it."""
    with tempfile.TemporaryDirectory() as folder:
        for name, sound in files.items():
            path = Path(folder) / name
            if isinstance(sound, bytes):
                path.write_bytes(sound)
            else:
                AudioFiles().write_wave(str(path), [sound], (rate_hz or {}).get(name, 48_000), sound.shape[1], "float")
        try:
            with AudioFiles().open([str(Path(folder) / name) for name in files or ("lost.wav",)]) as recording:
                recording.read()
                return recording.findings()
        except WithFindings as error:
            return error.findings


def _damaged() -> bytes:
    """Return a WAV file whose header promises more than there is."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cut.wav"
        AudioFiles().write_wave(str(path), [np.zeros((4800, 1), dtype=np.float32)], 48_000, 1)
        return path.read_bytes()[:-300]


def _asked(ask: Callable[[], object]) -> tuple[Finding, ...]:
    try:
        ask()
    except WithFindings as error:
        return error.findings
    return ()


def _proven(*change: str) -> list[Finding]:
    """Prove a take on the stand-in with faults planted, and return all that it says."""
    plan_, expected, rig = stand_in(2)
    signal, _ = signal_for(2)
    legs = legs_of(expected)
    proofs: list[Proof] = []
    for number, faults in enumerate(([], list(change))):
        when = f"2026-11-25T18:0{number}:00+00:00"
        proofs.append(proof_of(plan_, expected, broken(rig, legs, faults, signal, 1), when=when, earlier=proofs))
    adopted = adopt(plan_, proofs[-1], proof_text(2, 1, reference=True))
    return [
        *proof_findings(proofs[-1]),
        *change_findings(proofs[-1]),
        *speed_findings(proofs[-1], 48_000),
        *adopted.findings,
    ]


def _not_heard() -> tuple[Finding, ...]:
    """Look for a test in a recording of noise."""
    noise = np.random.default_rng(1).standard_normal((480_000, 2)).astype(np.float32) * 0.01
    store = ShowFolderInMemory({"show.yaml": looped() + _TAKE})
    library, files = DesksInMemory({DESK_TYPE: DESK_TEXT}), AudioFilesInMemory()
    make_signal(store, library, files, "show.yaml", "all")
    files.sounds["noise.wav"] = Sound(noise)
    return _asked(
        lambda: prove_take(store, library, files, StoppedClock(), ProofJson(), "show.yaml", ["noise.wav"], name="all")
    )


def _hot() -> list[Finding]:
    """Record a take with the recorder turned up too far."""
    _, expected, rig = stand_in(2)
    signal, sent = signal_for(2)
    catches = tuple(
        replace(catch, feeds=tuple(replace(feed, gain_db=30.0) for feed in catch.feeds)) for catch in rig.catches
    )
    recorded = run(replace(rig, catches=catches), sent, 1)
    captured = measure(InMemory(recorded.samples, recorded.rate_hz), signal, range(len(catches)), 0)
    assert isinstance(captured, Capture)
    return capture_findings(captured, expected)


def _other_signal() -> tuple[Finding, ...]:
    """Prove a take with a file that is no test signal."""
    _, expected, _ = stand_in(2)
    files = AudioFilesInMemory({"kick.wav": Sound(np.zeros((100, 1), dtype=np.float32))})
    return _asked(lambda: read_signal(files, "kick.wav", expected))


def _no_take() -> tuple[Finding, ...]:
    planned = plan(ShowFolderInMemory({"show.yaml": looped()}), DesksInMemory({DESK_TYPE: DESK_TEXT}), "show.yaml")
    return _asked(lambda: find_take(planned, "all"))


def _two_desks() -> list[Finding]:
    """Ask for the way from a plan to one on another desk."""
    made = plan(ShowFolderInMemory({"show.yaml": looped()}), DesksInMemory({DESK_TYPE: DESK_TEXT}), "show.yaml").plan
    return desk_findings(made, replace(made, desk=made.desk.model_copy(update={"name": "another"})))


def _block_turned_under_an_input() -> list[Finding]:
    """Patch an allocation changed by hand, whose block takes the jack away from an input."""
    text = looped(inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Tape, port: aux in 7, to: [Main]}]")
    made = plan(ShowFolderInMemory({"show.yaml": text}), DesksInMemory({DESK_TYPE: DESK_TEXT}), "show.yaml").plan
    wide = tuple(
        replace(own, becomes="card in 25-32 on aux in 1-8") if own.jacks else own for own in made.allocation.settings
    )
    return gap_findings(made.show, patch(made.show, made.desk, replace(made.allocation, settings=wide)))


_ZEROS = np.zeros((4800, 1), dtype=np.float32)

_SHOWS: dict[str, str] = {
    "take-wrong": looped() + _TAKE.replace("dry: stage 1", "dry: stage 2"),
    "file-empty": "# nothing but a comment\n",
    "yaml-broken": small(units="[{name: laptop"),
    "yaml-tab": "sidetrip: 1\n\tshow: small\n",
    "yaml-anchor": small(never="&all [Vox]"),
    "yaml-deep": "[" * 21 + "]" * 21,
    "key-twice": small() + "sample_rate: 96000\n",
    "version-unknown": "sidetrip: 2\nshow: from tomorrow\n",
    "key-unknown": small(nevr="[Vox]"),
    "value-wrong": small(outputs="[{name: PA, from: Main, port: local out 1-2, delay_ms: -1}]"),
    "name-unknown": small(never="[Voks]"),
    "name-twice": small(inputs=_TWO.replace("Sax", "Vox")),
    "name-ambiguous": small(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main], hears: {PA: {m: 1, db: 0}}}]",
        listeners="[{name: row F, hears: {PA: {m: 9, db: 0}}}]",
    ),
    "strip-twice": small(inputs=_TWO.replace("ch: 2", "ch: 1")),
    "strip-missing": small(inputs=_TWO.replace("ch: 2", "ch: 33")),
    "desk-unknown": small().replace(DESK_TYPE, "33-strip theatre desk"),
    "port-unknown": small(inputs=_TWO.replace("stage 2", "stage 33")),
    "block-conflict": small(inputs=_TWO.replace("stage 2", "local in 2")),
    "request-twice": looped("[{strip: Vox, chain: thin, want: 5}, {strip: Vox, chain: thin, want: 4}]"),
    "never-passes": looped(never="[Vox]"),
    "musts-conflict": looped("[{strip: Vox, chain: thin, want: must}]", keep="[{ports: aux in 1-8, for: guests}]"),
    "loop-width": small(units="[{name: box, kind: hardware, out: local out 13-14, back: local in 29, delay_ms: 0}]"),
    "loop-pair": looped(
        "[{strip: Main, chain: thin, want: 5, ports: {send: aux out 2-3, return: aux in 2-3}}]",
    ),
    "port-two-writers": small(
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Fill, from: Main, port: local out 2}]"
    ),
    "ring": small(
        mixes="[{name: Main, kind: main, width: stereo, from: [Fx]}, {name: Fx, kind: aux, width: mono, from: [Main]}]"
    ),
    "return-heard-twice": looped(
        "[{strip: Vox, chain: thin, want: 5, ports: {send: aux out 1, return: aux in 1}}]",
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Return, port: aux in 1, to: [Main]}]",
    ),
    "name-long": small(inputs=_TWO.replace("Sax", "Sax of the second balcony")),
    "voice-alarm-unprotected": small(inputs=_TWO.replace("Sax", "Voice alarm")),
    "delay-unknown": small(listeners="[{name: row F, hears: {PA: {m: unknown, db: 0}}}]"),
    "no-reach": small(inputs="[{name: Vox, ch: 1, port: stage 1}]"),
    "round-trip-guessed": looped(units=_laptop(buffer="96", measured=_measured((64, 331), (128, 459)))),
    "round-trip-unknown": looped(units=_laptop(measured="[]")),
    "round-trip-uneven": looped(units=_laptop(measured=_measured((32, 267), (64, 331), (128, 471)))),
    "round-trip-spread": looped(units=_laptop(measured=_measured((64, 331), (64, 347)))),
    "rate-unlike": looped(units=_laptop(measured=_measured((64, 331), rate=44100))),
    "aligns-unknown": looped(units=_laptop(aligns="unknown")),
    "ear-late": small(mixes=_EARS, limits="{ear_total_ms: 1}"),
    "picture-off": small(outputs="[{name: PA, from: Main, port: local out 1-2, picture_delay_ms: 400}]"),
    "delay-differs": looped(
        "[{strip: Wet, chain: thin, want: must}]",
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Dry, Wet]}]",
        mixes="[{name: Main, kind: main, width: stereo}, {name: Wet, kind: group, width: mono, to: [Main]}, "
        "{name: Dry, kind: group, width: mono, delay_ms: 2, to: [Main]}]",
    ),
    "delay-line-short": small(
        outputs="[{name: PA, from: Main, port: local out 1-2, delay_ms: 499}, "
        "{name: Fill, from: Main, port: local out 3}]",
        listeners="[{name: row A, hears: {PA: {m: 5}, Fill: {m: 300}}}]",
    ),
    "delay-line-missing": looped(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main], hears: {voice: {m: 1}}}, "
        "{name: Room, port: aux in 7, to: [Main], hears: {voice: {m: 1}}}]",
    ),
    "heard-twice": small(
        mixes="[{name: Main, kind: main, width: stereo, from: {Side: {db: 0}}}, "
        "{name: Side, kind: aux, width: mono, from: {Vox: {db: 0}}}]"
    ),
    "paths-cut": small(
        mixes="[{name: Main, kind: main, width: stereo, from: [A, B, C, D, E]}, "
        + ", ".join(f"{{name: {name}, kind: group, width: mono, from: [Vox]}}" for name in "UVWXYZ")
        + ", "
        + ", ".join(f"{{name: {name}, kind: aux, width: mono, from: [U, V, W, X, Y, Z]}}" for name in "ABCDE")
        + "]"
    ),
    "request-refused": looped(keep="[{ports: aux in 1-8, for: guests}]"),
    "tie": looped(
        "[{strip: Sax, chain: thin, want: 5}, {strip: Vox, chain: thin, want: 5}, {strip: Oud, chain: thin, want: 5}]",
        inputs=_TWO.replace("]}]", "]}, {name: Oud, ch: 3, port: stage 3, to: [Main]}]"),
        keep="[{ports: aux in 3-8, for: guests}]",
    ),
    "kept": small(recovery="{control: osc}"),
    "cue-twice": looped(cues="[{from: 1, requests: {Main: out}}, {from: 1, requests: {Main: in}}]"),
    "cue-idle": looped(cues="[{from: 1, requests: {Main: out}}]"),
    "no-loops": small(),
    "filled-in": small(inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main], hears: {vox: {m: 0.1}}}]"),
    "buffer-chosen": looped(units=_laptop(buffer="auto", measured=_measured((64, 331), (128, 459)))),
    "clock-unsaid": _shared("split: shared"),
    "gain-unknown": _shared("split: shared, gain: FOH"),
    "gain-moves-ears": _shared("split: shared, gain: FOH, compensated: no"),
    "gain-moves-loop": _shared("split: shared, gain: monitors, compensated: no"),
    "loop-not-in-ears": _shared("split: analogue"),
    "no-split": _shared("split: none"),
    "other-desk": _shared("split: analogue", "[{strip: Ears, chain: thin, want: 5}]"),
    "clock-leaders": small(clock="{leader: desk, devices: [{name: recorder, follows: itself}]}"),
    "clock-rate": small(clock="{leader: desk, devices: [{name: recorder, follows: desk, rate: 44100}]}"),
    "scene-recalls": looped(scenes="[{name: Act 1, recalls: inserts}]"),
    "scene-ring": looped(
        "[{strip: Main, chain: thin, want: 5}]",
        scenes="[{name: Act 1, sets: {strips: {return 1: open}}}]",
    ),
    "scene-silence": looped(scenes="[{name: Act 1, sets: {sources: {aux in 1-8: jacks}}}]"),
    "scene-out": looped(scenes="[{name: Act 1, sets: {inserts: {Vox: out}}}]"),
    "system-sound": looped(units=_laptop(system_sound="card")),
    "safety-in-loop": looped(chains="{thin: [{eq: {protects: feedback}}]}"),
    "mirror-plugged": looped(plugged="[{port: aux out 1, what: lobby feed}]"),
    "accepted": looped(
        "[{strip: Vox, chain: thin, want: 5}]",
        mixes="[{name: Main, kind: main, width: stereo, from: {Side: {db: 0}}}, "
        "{name: Side, kind: aux, width: mono, from: {Vox: {db: 0, tap: before insert}}}]",
        accept="[{at: PA, loops: [Vox], by: system engineer}]",
    ),
    "heard-faintly": small(
        mixes="[{name: Main, kind: main, width: stereo, from: {Side: {db: -20}}}, "
        "{name: Side, kind: aux, width: mono, from: {Vox: {db: 0}}}]"
    ),
    "replayed-twice": looped(
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Two-track, from: Main, port: local out 3-4}]",
        replays="{Vox: Two-track}",
    ),
    "recorded-apart": looped(
        inputs=_TWO,
        mixes="[{name: Main, kind: main, width: stereo}, {name: Dry, kind: aux, width: mono, "
        "from: {Vox: {db: 0, tap: before insert}}}]",
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Track, from: Dry, port: local out 3}]",
        recorded_together="{album: [PA, Track]}",
    ),
    "tap-before-delay": small(
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main], delay_ms: 3}]",
        mixes="[{name: Main, kind: main, width: stereo}, {name: Cue, kind: aux, width: mono, "
        "from: {Vox: {db: 0, tap: before insert}}}]",
    ),
    "plays-apart": looped("[{strip: Vox, chain: thin, want: 5}]", inputs=_TWO, plays_together="{band: [Sax, Vox]}"),
    "side-chain-off": looped(
        "[{strip: Vox, chain: thin, want: 5}]",
        inputs=_TWO,
        side_chains="[{strip: Sax, by: Vox, tap: before insert}]",
    ),
    "nearly-heard": small(
        mixes="[{name: Main, kind: main, width: stereo, from: {Side: {db: -28}}}, "
        "{name: Side, kind: aux, width: mono, from: {Vox: {db: 0}}}]"
    ),
    "heard-twice-out": looped(
        "[{strip: Dry, chain: thin, want: 5}, {strip: Wet, chain: thin, want: 5}]",
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Dry, Wet]}]",
        mixes="[{name: Dry, kind: group, width: mono, to: [Main]}, {name: Wet, kind: group, width: mono, to: [Main]}, "
        "{name: Main, kind: main, width: stereo}]",
    ),
    "judged-harmless": looped(
        "[]",
        units="[{name: hall, kind: hardware, out: local out 5, back: local in 20, delay_ms: unknown, tail: yes}]",
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Hall, ch: 20, port: local in 20, to: [Main]}]",
        mixes="[{name: Main, kind: main, width: stereo}, {name: Fx, kind: aux, width: mono, from: {Vox: {db: 0}}}]",
        outputs="[{name: PA, from: Main, port: local out 1-2}, {name: Send, from: Fx, port: local out 5}]",
    ),
    "meeting-untold": small(
        outputs="[{name: PA, from: Main, port: local out 1-2, device_ms: unknown}]",
        listeners="[{name: row F, hears: {PA: {m: 9, db: 0}, Vox: {m: 4, db: 0}}}]",
    ),
}

_CASES: dict[str, Callable[[], Iterable[Finding]]] = {
    "recording-missing": lambda: _recorded({}),
    "recording-unreadable": lambda: _recorded({"notes.wav": b"no sound at all"}),
    "recording-unlike": lambda: _recorded({"a.wav": _ZEROS, "b.wav": _ZEROS}, rate_hz={"b.wav": 44_100}),
    "recording-repaired": lambda: _recorded({"cut.wav": _damaged()}),
    "recording-padded": lambda: _recorded({"a.wav": _ZEROS, "b.wav": _ZEROS[:100]}),
    "samples-not-finite": lambda: _recorded({"a.wav": np.where(np.arange(4800)[:, None] == 7, np.nan, _ZEROS)}),
    "recording-clipped": _hot,
    "take-unknown": _no_take,
    "signal-wrong": _other_signal,
    "test-not-heard": _not_heard,
    "proof-failed": lambda: _proven("inverted: Strip 1"),
    "proof-look": lambda: _proven("crosstalk: Strip 1"),
    "proof-blind": lambda: _proven("nothing back: Strip 1"),
    "proof-changed": lambda: _proven("late by frames: Strip 1"),
    "speed-off": lambda: _proven("recorder at another rate"),
    **EVIDENCE_CASES,
    "adopted": _proven,
    "not-adopted": lambda: _proven("inverted: Strip 1", "inverted: Strip 2"),
    "file-missing": lambda: _stored("lost.yaml", {}),
    "file-unreadable": lambda: _stored("show.yaml", {"show.yaml": b"show: caf\xe9\n"}),
    "file-too-large": lambda: _stored("show.yaml", {"show.yaml": b"#" * (MAX_BYTES + 1)}),
    "table-wrong": lambda: _listed("ch,name\n7,Kick\n7,Snare\n"),
    "table-read": lambda: _listed("ch,name\n7,Kick\n"),
    "table-mended": lambda: _listed("ch,name,port\n7. Aug,Kick,stage 7-8\n"),
    "table-stale": lambda: _lists_read("inputs", "Kick in", "Kick", name="Kick deep"),
    "table-refused": lambda: _lists_read("inputs", "Snare,stage 3,Drums", "Snare,stage 3,Drumms"),
    "table-kept": lambda: _lists_read("requests", "Return", "Return,My own"),
    "name-left": lambda: _lists_read(
        "inputs", "Lamplighter", "Lamp", text=DEMO_TEXT.replace("{control: osc}", "{control: osc, first: Lamplighter}")
    ),
    "desk-inconsistent": lambda: findings_of(small(), desk_text=desk_with("legs: 32", "legs: 30")),
    "glyph-missing": lambda: _printed(small(inputs=_TWO.replace("Sax", "太鼓"))),
    "bypass-depends": lambda: findings_of(looped(), desk_text=desk_with("  presses: 2", "  presses: unknown")),
    "group-key-missing": lambda: findings_of(
        looped(bypass_groups="{voices: [Vox]}"), desk_text=desk_with("group_keys: 8", "group_keys: 0")
    ),
    "card-block-full": lambda: _placed(
        looped(keep="[{ports: card out 25-30, for: recorder}]"),
        *("Vox", "aux out 7", "aux in 7", "card out 31", "card in 31"),
    ),
    "change-desk": _two_desks,
    "stand-in-wrong": lambda: findings_of(looped(units=_second("spare, stands_in_for: spare"))),
    "stand-in-shares": lambda: findings_of(looped(units=_second("spare, stands_in_for: laptop, switch: by box"))),
    "stand-in-busy": lambda: findings_of(
        looped("[{strip: Vox, chain: thin, unit: spare, want: 5}]", units=_second("spare, stands_in_for: laptop"))
    ),
    "heard-twice-stand-in": _spare_in_for_one_of_two,
    "stand-in-time": lambda: findings_of(looped(units=_second("spare, stands_in_for: laptop, switch: by box"))),
    "patch-gap": _block_turned_under_an_input,
    "jack-deaf": lambda: _placed(
        looped(
            inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Music, port: aux in 2, to: [Main]}]",
        ),
        *("Vox", "aux out 1", "aux in 1", "card out 25", "card in 25"),
    ),
    "insert-after-fader": lambda: findings_of(
        looped(),
        desk_text=desk_with(
            "order: [trim, gate, eq, insert, compressor, delay, fader, mute]",
            "order: [trim, gate, eq, compressor, delay, fader, insert, mute]",
        ),
    ),
    "voice-alarm-loop": lambda: _placed(
        looped("[{strip: Voice alarm, chain: thin, want: 5}]", inputs=_TWO.replace("Sax", "Voice alarm"))
        + "never: [Voice alarm]\n",
        *("Voice alarm", "aux out 1", "aux in 1", "card out 25", "card in 25"),
    ),
}


def _found(code: str) -> tuple[Finding, ...]:
    return findings_of(_SHOWS[code]) if code in _SHOWS else tuple(_CASES[code]())


@pytest.mark.parametrize("code", [code for code in CATALOGUE if code in _SHOWS or code in _CASES])
def test_a_code_has_a_show_that_causes_it(code: str) -> None:
    """The example of a code causes it, with a place, what was found and what to do next."""
    found = [finding for finding in _found(code) if finding.code == code]
    assert found, codes(_found(code))
    for finding in found:
        assert finding.where.strip() and finding.what.strip() and finding.remedy.strip(), finding
        assert not finding.what.endswith(".") and not finding.remedy.endswith(".")


@pytest.mark.parametrize("code", [code for code, kind in CATALOGUE.items() if kind.severity is Severity.ERROR])
def test_an_error_stops_the_show_from_being_trusted(code: str) -> None:
    """Where a code is an error, the example has errors, and the code is among the worst."""
    found = ordered(_found(code))
    assert has_errors(found)
    assert code in [finding.code for finding in found if finding.severity is Severity.ERROR]


def test_every_code_has_its_example() -> None:
    """No code of the catalogue is without an example, and no example is of a code that is gone."""
    assert {*_SHOWS, *_CASES} == set(CATALOGUE)
    assert not set(_SHOWS) & set(_CASES)


def test_the_demo_has_no_errors() -> None:
    """The Tin Lantern reads, checks and plans without an error."""
    assert not [str(finding) for finding in findings_of(DEMO_TEXT) if finding.severity is Severity.ERROR]


def test_a_small_show_finds_nothing_but_what_it_asks_for() -> None:
    """The shows that the examples start from are clean, so that each example is about its code."""
    assert codes(findings_of(small())) == ["no-loops"]
    assert codes(findings_of(looped())) == []
