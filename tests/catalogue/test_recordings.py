"""Ways a loop breaks recordings, their replay, and a patch that only a proof can tell; each answer by hand.

What to do about recordings is common practice, no source. A loop is 301 frames = 6.27083 ms; a hop to a mix 8, from
group to main 4.
"""

from __future__ import annotations

import math

import pytest
from proof_show import DESK as DESK_FILE

from catalogue.kit import MAIN, PA, L, body, laid, loop
from proofs_heard import leg, proof_of
from showtext import codes, findings_of, looped, only, small
from sidetrip.application.stand_in import rig_of
from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import UNKNOWN
from sidetrip.plan.planner import make_plan
from sidetrip.plan.recordings import (
    Recording,
    find_recordings,
    find_replays,
    recording_findings,
    replay_findings,
)
from sidetrip.prove.expect import expect
from sidetrip.prove.proof import Proof
from sidetrip.prove.remarks import proof_findings
from sidetrip.rig.network import swapped
from sidetrip.showfile.read import read_desk, read_show
from smallshows import RATE

# Two recordings of one evening

STEMS = "{name: Stems, kind: group, width: mono, to: [Main]}"
TRACKS = "{name: Tracks, from: Stems, port: local out 9}"
TWO = "{name: Two-track, from: Main, port: local out 11-12}"
VOX = "{ch: 1, name: Vox, port: stage 1, to: [Stems]}"


def recorded(
    text: str, *loops: PlacedLoop, trip: float | UnitTime = 285
) -> tuple[list[tuple[str, list[float]]], list[Finding]]:
    """Return of the one set how many frames each track is behind the earliest, IN and OUT, and what is said of it."""
    show, line_map, _ = laid(text, *loops, trip=trip)
    (own,) = found = find_recordings(show, line_map)
    return _frames(own), recording_findings(show, found)


def _frames(own: Recording) -> list[tuple[str, list[float]]]:
    ends = [(track.output, (*track.in_s, *track.out_s)) for track in own.tracks]
    return [(output, [round(end * RATE, 6) for end in four]) for output, four in ends]


def test_a_recorder_before_the_loops_and_one_behind_them_are_apart_by_their_time() -> None:
    """Tracks by a group before its insert, two-track behind the main's: 301 frames and a hop of 4, OUT the hop."""
    text = body(VOX, STEMS, MAIN, outputs=(TRACKS, TWO), recorded_together="{album: [Two-track, Tracks]}")
    tracks, said = recorded(text, loop("Main", legs=2))
    assert tracks == [("Tracks", [0, 0, 0, 0]), ("Two-track", [L + 4, L + 4, 4, 4])]
    (finding,) = said
    assert (finding.code, finding.path) == ("recorded-apart", ("recorded_together", "album"))
    assert "Two-track records 305 frames (6.35 ms) after Tracks with all loops IN" in finding.what
    assert "4 frames" in finding.values
    assert "record all on one side of the loops" in finding.remedy


def test_both_recorded_from_one_side_are_together_and_recordings_used_by_themselves_are_not_judged() -> None:
    """Two outputs of the main are alike, IN and OUT. Not named together, nobody is told how far apart they are."""
    again = TRACKS.replace("from: Stems, port: local out 9", "from: Main, port: local out 9-10")
    text = body(VOX, STEMS, MAIN, outputs=(again, TWO), recorded_together="{album: [Tracks, Two-track]}")
    tracks, said = recorded(text, loop("Main", legs=2))
    assert (tracks, said) == ([("Tracks", [0, 0, 0, 0]), ("Two-track", [0, 0, 0, 0])], [])
    show, line_map, _ = laid(body(VOX, STEMS, MAIN, outputs=(TRACKS, TWO)), loop("Main", legs=2))
    assert find_recordings(show, line_map) == ()


BANDS = [f"{{name: {name}, kind: group, width: mono, to: [Main]}}" for name in ("Drums", "Band")]
STEM_OUTPUTS = [
    f"{{name: {name} stem, from: {name}, port: local out {port}}}" for port, name in ((9, "Drums"), (10, "Band"))
]
PLAYERS = "{ch: 1, name: Kick, port: stage 1, group: Drums}, {ch: 2, name: Keys, port: stage 2, group: Band}"


def stems(more: str = "") -> str:
    """Return a show with two stems that are mixed with each other."""
    outputs = (PA, *STEM_OUTPUTS)
    return body(PLAYERS, *BANDS, outputs=outputs, recorded_together=f"{{stems: [Drums stem, Band stem{more}]}}")


def test_stems_of_which_some_pass_a_loop_have_an_offset_each() -> None:
    """A looped stem is 301 frames behind a dry one, and not with all OUT; each offset is in frames."""
    tracks, said = recorded(stems(), loop("Drums"))
    assert tracks == [("Band stem", [0, 0, 0, 0]), ("Drums stem", [L, L, 0, 0])]
    assert "Drums stem records 301 frames (6.27 ms) after Band stem" in said[0].what
    assert said[0].values == "0 frames at most with all OUT"


def test_stems_null_with_the_mix_when_all_of_it_is_shifted_by_its_own_offset() -> None:
    """In the mix the drums are 301 frames behind the band as in the stems, and all of it a hop of 4 later."""
    tracks, _ = recorded(stems(", PA"), loop("Drums"))
    assert tracks == [
        ("Band stem", [0, 0, 0, 0]),
        ("PA", [4, 4, 4, 4]),
        ("Drums stem", [L, L, 0, 0]),
        ("PA", [L + 4, L + 4, 4, 4]),
    ]


def test_within_one_recording_nothing_can_be_shifted_and_nothing_is_said() -> None:
    """Two outputs of the main, drums looped: 301 frames behind the band in both, and the outputs are alike."""
    outputs = (PA, "{name: Two-track, from: Main, port: local out 9-10}")
    text = body(PLAYERS, *BANDS, outputs=outputs, recorded_together="{pair: [PA, Two-track]}")
    tracks, said = recorded(text, loop("Drums"))
    assert [four[0] for _, four in tracks] == [0, 0, L, L]
    assert said == []


def test_both_stems_through_loops_or_none_are_together() -> None:
    """Both 301 frames, or both dry: no offset and nothing said."""
    for loops in ((), (loop("Drums"), loop("Band", 2))):
        tracks, said = recorded(stems(), *loops)
        assert [four for _, four in tracks] == [[0, 0, 0, 0]] * 2
        assert said == []


@pytest.mark.parametrize(("direct_db", "late"), [(-20, L + 4), (6, 0)])
def test_of_two_ways_into_one_recording_the_louder_counts(direct_db: int, late: int) -> None:
    """Through the looped stem at 0 dB, 305 frames, and straight to the main at 20 dB less, or 6 more."""
    voice = "{ch: 1, name: Vox, port: stage 1}"
    stem = "{name: Stems, kind: group, width: mono, from: {Vox: {db: 0}}}"
    main = f"{{name: Main, kind: main, width: stereo, from: {{Vox: {{db: {direct_db}}}, Stems: {{db: 0}}}}}}"
    direct = "{name: Direct, kind: aux, width: stereo, from: {Vox: {db: 0, tap: after mute}}}"
    outputs = (TWO, "{name: Clean, from: Direct, port: local out 13-14}")
    text = body(voice, stem, direct, main, outputs=outputs, recorded_together="{album: [Two-track, Clean]}")
    tracks, _ = recorded(text, loop("Stems"))
    assert {output: four[0] for output, four in tracks} == {"Clean": 0, "Two-track": late}


def test_an_unknown_round_trip_leaves_the_offset_open() -> None:
    """No number is made up, and what to find out is said."""
    show, line_map, _ = laid(stems(), loop("Drums"), trip=UnitTime(UNKNOWN, "nothing"))
    (own,) = found = find_recordings(show, line_map)
    assert math.isinf(own.tracks[-1].in_s[1])
    assert [finding.code for finding in recording_findings(show, found)] == ["meeting-untold"]


# A recording played back into the strips that it came from


def virtual(tap: str, more: str = "") -> str:
    """Return a show whose voice is recorded at a tap of its strip and played back into that strip."""
    rec = f"{{name: Rec, kind: aux, width: mono, from: {{Vox: {{db: 0, tap: {tap}}}}}}}"
    outputs = (PA, "{name: Vox track, from: Rec, port: local out 9}")
    vox = "{ch: 1, name: Vox, port: stage 1, to: [Main]}"
    return body(vox, rec, outputs=outputs, replays="{Vox: Vox track}", more=more)


def replayed(text: str, *loops: PlacedLoop) -> list[Finding]:
    """Return what is said of the replay."""
    show, line_map, _ = laid(text, *loops)
    return replay_findings(show, find_replays(show, line_map))


def test_a_replay_of_what_was_recorded_behind_a_loop_passes_it_twice() -> None:
    """Recorded behind the voice's loop: processed twice and 602 frames late. Before the insert nothing is wrong."""
    (finding,) = replayed(virtual("after insert"), loop("Vox"))
    assert (finding.code, finding.path) == ("replayed-twice", ("replays", "Vox"))
    assert "passes loop Vox again when it is played into Vox" in finding.what
    assert "602 frames late instead of 301" in finding.values
    assert "Record before the insert" in finding.remedy
    assert replayed(virtual("before insert"), loop("Vox")) == []


def test_only_loops_that_lie_on_both_ways_are_passed_twice() -> None:
    """A loop on the main lies behind the recording: passed once. Loops on both are named with their sum."""
    assert replayed(virtual("before insert"), loop("Vox"), loop("Main", 3, legs=2)) == []
    (one,) = replayed(virtual("after insert"), loop("Vox"), loop("Main", 3, legs=2))
    assert "loop Vox again" in one.what
    two_track = virtual("after insert").replace("from: Rec, port: local out 9", "from: Main, port: local out 9-10")
    (both,) = replayed(two_track, loop("Vox"), loop("Main", 3, legs=2))
    assert "loops Main, Vox again" in both.what
    assert f"{4 * L} frames late instead of {2 * L}" in both.values
    assert replayed(virtual("after insert")) == [], "no loop, nothing twice"


def test_a_replay_into_a_strip_without_that_loop_passes_it_once() -> None:
    """Played into a strip of its own, beside the looped one: what was recorded is processed already, and only once."""
    playback = "{ch: 2, name: Play, port: stage 2, to: [Main]}"
    text = (
        virtual("after insert")
        .replace("replays: {Vox:", "replays: {Play:")
        .replace("}]\nmixes", f"}}, {playback}]\nmixes")
    )
    assert replayed(text, loop("Vox")) == []
    assert replayed(text, loop("Vox"), loop("Play", 2)) == [], "another loop than the one it was recorded behind"
    (main,) = replayed(text.replace("from: Rec,", "from: Main,"), loop("Vox"), loop("Main", 3, legs=2))
    assert "loop Main again when it is played into Play" in main.what


def test_a_replay_that_is_meant_is_accepted_by_name() -> None:
    """Deliberate: the track, the loop and a role."""
    accept = "accept: [{at: Vox track, loops: [Vox], by: sound engineer}]"
    (finding,) = replayed(virtual("after insert", accept), loop("Vox"))
    assert (finding.code, finding.values) == ("accepted", "accepted by sound engineer")


def test_a_plan_says_both_and_names_that_no_output_carries_are_found() -> None:
    """From a show file: the replay and the offset are among the findings, a wrong name has its line."""
    outputs = (
        "[{name: PA, from: Main, port: local out 1-2}, {name: Two-track, from: Main, port: local out 3-4}, "
        "{name: Dry track, from: Before, port: local out 5}]"
    )
    mixes = (
        "[{name: Main, kind: main, width: stereo}, "
        "{name: Before, kind: aux, width: mono, from: {Vox: {db: 0, tap: before insert}}}]"
    )
    sections = {"outputs": outputs, "mixes": mixes}
    text = looped(**sections, recorded_together="{album: [Two-track, Dry track]}", replays="{Vox: Two-track}")
    assert {"recorded-apart", "replayed-twice"} <= set(codes(findings_of(text)))
    for wrong in (
        {"recorded_together": "{album: [Two-trakc]}"},
        {"replays": "{Vox: Twotrack}"},
        {"replays": "{Voix: PA}"},
    ):
        finding = only(findings_of(small(**sections, **wrong)), "name-unknown")
        assert finding.line == 8


# Left and right exchanged on the way back: no time is wrong, so only a proof tells


PAIR = """sidetrip: 1
show: pair
sample_rate: 48000
desk: {type: 32-strip theatre desk}
units: [{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{buffer: 64, rate: 48000, round_trip_frames: 285}]}]
inputs: [{ch: 1, name: Keys, port: stage 1-2, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
requests: [{strip: Keys, want: must, unit: laptop}]
takes:
  - name: all
    enter: [stage 1-2]
    catch: [{port: card out 1-2, dry: stage 1-2}, {port: card out 17-18, return: Keys}]
    reference: card out 1
"""


def keys(*, crossed: bool) -> Proof:
    """Prove a stereo loop whose returns are exchanged, or not."""
    show, desk = read_show(PAIR, "pair.yaml").show, read_desk(DESK_FILE.read_text("utf-8"), "desk.yaml")
    plan = make_plan(show, desk)
    assert plan.meetings == (), "nothing is late, so no meeting tells"
    expected = expect(plan, show.takes[0])
    rig = rig_of(plan, expected, RATE, -112.0)
    return proof_of(plan, expected, swapped(rig, 0, 1) if crossed else rig)


@pytest.mark.parametrize("side", ["left", "right"])
def test_left_and_right_exchanged_on_the_return_are_found_by_a_proof(side: str) -> None:
    """Each side has a signal of its own, so it is told whatever the programme is; put right, both pass."""
    crossed = keys(crossed=True)
    found = leg(crossed, "Keys", side).row("right return")
    assert found is not None and (found.verdict, found.because) == ("fail", "Left and right are crossed")
    errors = [own for own in proof_findings(crossed) if own.severity == "error"]
    assert {own.where for own in errors} == {"loop Keys left", "loop Keys right"}
    assert all("put the return where it belongs" in own.remedy for own in errors)
    right = leg(keys(crossed=False), "Keys", side).row("right return")
    assert right is not None and right.verdict == "pass"
