"""A whole take, from the recording to a verdict on each loop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from proof_show import proof_plan, signal_for

from proofs_heard import frames, heard, leg, proof_of, row, stand_in
from sidetrip.dsp.filters import biquad
from sidetrip.graph.linemap import LineMap
from sidetrip.prove.expect import time_of
from sidetrip.prove.measure import NotHeard
from sidetrip.prove.proof import Proof, Verdict
from sidetrip.rig import network
from sidetrip.rig.boxes import Clipper, Compressor, Filter, Gate, Limiter, Saturator
from sidetrip.rig.network import Feed, Recorder, Rig, with_box, with_feeds, with_processor
from sidetrip.units import frames_from_seconds

PERIOD_AND_A_HALF = 49_152


def planned(loops: int, loop: str) -> float:
    """Return the planned time of a loop in frames."""
    plan, _ = proof_plan(loops)
    line_map: LineMap = plan.line_map
    return frames_from_seconds(line_map.loop(loop).delay.low, 48_000)


def not_passing(proof: Proof) -> dict[str, dict[str, Verdict]]:
    """Return the verdicts of wiring and transfer that are no pass, by loop and question."""
    out: dict[str, dict[str, Verdict]] = {}
    for one in proof.legs:
        for item in one.rows:
            if item.verdict != "pass" and item.level in ("wiring", "transfer"):
                out.setdefault(one.name, {})[item.question] = item.verdict
    return out


def track_of(loop: int, loops: int = 4) -> int:
    """Return the track of a loop's return in the rig, both counted from 0."""
    return loops + loop


def test_a_rig_that_is_as_planned_passes_in_everything() -> None:
    """Delays agree to a thousandth of a frame, and every row of wiring and transfer says pass."""
    plan, expected, rig = stand_in()
    proof = proof_of(plan, expected, rig)
    assert not_passing(proof) == {}
    for one in proof.legs:
        assert frames(proof, one.loop) == pytest.approx(planned(4, one.loop), abs=1e-3)
    assert {item.level: item.verdict for item in proof.legs[0].rows[-2:]} == {
        "endurance": "cannot tell",
        "escape": "cannot tell",
    }


def test_late_softer_and_inverted_are_found_all_three_together() -> None:
    """A return 96 frames late, 3 dB softer and inverted: 96.0, -3.0, inverted (send and return of one loop)."""
    plan, expected, rig = stand_in()
    box = rig.boxes[1]
    changed = replace(box, delay_frames=box.delay_frames + 96, gain_db=-3.0, inverted=True)
    proof = proof_of(plan, expected, with_box(rig, 1, changed))
    assert frames(proof, "Strip 2") == pytest.approx(planned(4, "Strip 2") + 96, abs=0.1)
    assert row(proof, "Strip 2", "delay").verdict == "fail"
    assert row(proof, "Strip 2", "gain").measured == pytest.approx(-3.0, abs=0.1)
    assert row(proof, "Strip 2", "gain").verdict == "fail"
    assert row(proof, "Strip 2", "polarity").verdict == "fail"
    assert set(not_passing(proof)) == {"Strip 2"}


def test_returns_shifted_by_one_are_named_and_so_is_the_lost_send() -> None:
    """Return 1 empty, returns 2 to 4 carry sends 1 to 3 with neighbours at -30 dB: each named, send 4 lost."""
    plan, expected, rig = stand_in()
    feeds = [rig.catches[track_of(one)].feeds for one in range(4)]
    rig = with_feeds(rig, track_of(0), ())
    for one in range(1, 4):
        leak = tuple(replace(feed, gain_db=feed.gain_db - 30) for feed in feeds[one])
        rig = with_feeds(rig, track_of(one), (*feeds[one - 1], *leak))
    proof = proof_of(plan, expected, rig)
    assert [one.heard for one in proof.legs] == [None, "Strip 1", "Strip 2", "Strip 3"]
    assert all(row(proof, f"Strip {one}", "right return").verdict == "fail" for one in range(1, 5))
    assert "shifted by one" in row(proof, "Strip 3", "right return").because
    assert "Nothing" in row(proof, "Strip 1", "right return").because
    assert all(one.delay_s is None for one in proof.legs)


def test_two_returns_exchanged_name_each_other() -> None:
    """Each of the two carries the other's sound; the rest passes."""
    plan, expected, rig = stand_in()
    two, three = rig.catches[track_of(1)].feeds, rig.catches[track_of(2)].feeds
    proof = proof_of(plan, expected, with_feeds(with_feeds(rig, track_of(1), three), track_of(2), two))
    assert (leg(proof, "Strip 2").heard, leg(proof, "Strip 3").heard) == ("Strip 3", "Strip 2")
    assert set(not_passing(proof)) == {"Strip 2", "Strip 3"}


@pytest.mark.parametrize(
    ("processor", "sign"),
    [(Compressor(-30, 2), -1), (Saturator(12), -1), (Clipper(-26), -1), (Limiter(-30), -1), (Gate(-27), 1)],
    ids=lambda value: type(value).__name__,
)
def test_dynamics_left_on_move_the_gain_between_two_levels(processor: Compressor, sign: int) -> None:
    """The delay is right all the same; the row says which way the gain moved."""
    plan, expected, rig = stand_in()
    proof = proof_of(plan, expected, with_processor(rig, 0, processor))
    found = row(proof, "Strip 1", "dynamics")
    assert found.verdict == "fail"
    if found.measured is not None:
        assert np.sign(found.measured) == sign
    assert frames(proof, "Strip 1") == pytest.approx(planned(4, "Strip 1"), abs=0.05)
    assert set(not_passing(proof)) == {"Strip 1"}


def test_a_closed_gate_gives_no_number() -> None:
    """Nothing comes back above the noise: no delay, no gain, and the gate is named as one reason."""
    plan, expected, rig = stand_in(noise_dbfs=-80)
    proof = proof_of(plan, expected, with_processor(rig, 2, Gate(0.0, range_db=120)))
    assert "gate may be closed" in row(proof, "Strip 3", "right return").because
    assert leg(proof, "Strip 3").delay_s is None
    assert row(proof, "Strip 3", "gain").measured is None


def test_without_a_reference_delays_cannot_be_told_and_the_rest_can() -> None:
    """No delay of any loop, and the reason; polarity, response and dynamics still pass."""
    plan, expected, rig = stand_in(reference=False)
    proof = proof_of(plan, expected, rig)
    for one in proof.legs:
        assert one.delay_s is None
        assert (row(proof, one.loop, "delay").verdict, row(proof, one.loop, "delay").because) == (
            "cannot tell",
            "no reference in this take",
        )
        assert row(proof, one.loop, "polarity").verdict == "pass"
        assert row(proof, one.loop, "response").verdict == "pass"


def test_one_unit_on_a_clock_of_its_own_gets_no_delay() -> None:
    """50 ppm on one unit only: its drift is measured and its delay withheld; the others keep theirs."""
    plan, expected, rig = stand_in()
    proof = proof_of(plan, expected, network.drifting(rig, 1, 50))
    found = row(proof, "Strip 2", "clock")
    assert found.verdict == "fail"
    assert found.measured == pytest.approx(-50, abs=0.5)
    assert leg(proof, "Strip 2").delay_s is None
    assert set(not_passing(proof)) == {"Strip 2"}


def test_the_same_without_a_reference_blames_nobody() -> None:
    """Nobody can say which of two clocks is wrong: no fail, no number."""
    plan, expected, rig = stand_in(reference=False)
    proof = proof_of(plan, expected, network.drifting(rig, 1, 50))
    assert all(one.delay_s is None for one in proof.legs)
    assert all(row(proof, one.loop, "clock").verdict != "fail" for one in proof.legs)


def test_a_recorder_at_another_rate_is_called_that() -> None:
    """Played back too fast by 160/147: a mismatch of rates, not drift, and delays are still right."""
    plan, expected, rig = stand_in()
    proof = proof_of(plan, expected, replace(rig, recorder=Recorder(48_000, true_rate_hz=44_100, bits=24)))
    assert proof.clock_kind == "rate"
    assert 1 / (1 + proof.clock_ppm * 1e-6) == pytest.approx(160 / 147, abs=0.001)
    assert frames(proof, "Strip 1") == pytest.approx(planned(4, "Strip 1"), abs=0.01)


def test_two_crystals_are_measured_and_undone() -> None:
    """40 ppm between player and recorder: found within 2 ppm, and no loop is blamed for it."""
    plan, expected, rig = stand_in()
    proof = proof_of(plan, expected, replace(rig, recorder=Recorder(48_000, ppm=40, start_frames=-31_337, bits=24)))
    assert proof.clock_kind == "two"
    assert proof.clock_ppm == pytest.approx(40, abs=2)
    assert not_passing(proof) == {}
    assert frames(proof, "Strip 4") == pytest.approx(planned(4, "Strip 4"), abs=0.01)


@pytest.mark.parametrize("start", [-60_000, 100_000, 180_000])
def test_the_recording_may_begin_anywhere_before_the_levels(start: int) -> None:
    """Before the slate, within it, or within the ramps: the same delays."""
    plan, expected, rig = stand_in()
    proof = proof_of(plan, expected, replace(rig, recorder=Recorder(48_000, start_frames=start, bits=24)))
    assert frames(proof, "Strip 1") == pytest.approx(planned(4, "Strip 1"), abs=1e-3)


def test_a_recording_of_something_else_is_not_heard() -> None:
    """Noise at the level of the test holds no test, and no figure comes of it."""
    plan, expected, rig = stand_in(noise_dbfs=-20)
    silent = replace(rig, catches=tuple(replace(catch, feeds=()) for catch in rig.catches))
    assert isinstance(heard(plan, expected, silent), NotHeard)


def test_a_second_way_is_found_beside_the_first() -> None:
    """A copy 20 dB down and 100 frames later: level within a dB, and the ripple is not called a filter."""
    plan, expected, rig = stand_in()
    number = track_of(0)
    copy = tuple(replace(feed, gain_db=-20, delay_frames=feed.delay_frames + 100) for feed in rig.catches[number].feeds)
    proof = proof_of(plan, expected, with_feeds(rig, number, (*rig.catches[number].feeds, *copy)))
    found = row(proof, "Strip 1", "twice")
    assert found.verdict == "fail"
    assert found.measured == pytest.approx(-20, abs=1)
    assert row(proof, "Strip 1", "response").verdict == "cannot tell"


@pytest.mark.parametrize("copy_db", [-3.0, 0.0])
def test_two_copies_about_as_loud_give_no_delay(copy_db: float) -> None:
    """Either may be the loop, so that a figure would be right by chance; the others keep theirs."""
    plan, expected, rig = stand_in()
    number = track_of(0)
    feeds = rig.catches[number].feeds
    copy = tuple(replace(feed, gain_db=copy_db, delay_frames=feed.delay_frames + 100) for feed in feeds)
    proof = proof_of(plan, expected, with_feeds(rig, number, (*feeds, *copy)))
    assert leg(proof, "Strip 1").delay_s is None
    assert "either may be it" in row(proof, "Strip 1", "delay").because
    assert row(proof, "Strip 1", "twice").verdict == "fail"
    assert frames(proof, "Strip 2") == pytest.approx(planned(4, "Strip 2"), abs=1e-3)


def test_a_filter_left_on_is_told_with_its_frequency() -> None:
    """A bell of 3 dB at 1 kHz: the response row names it, and no second copy is invented."""
    plan, expected, rig = stand_in()
    bell = Filter((tuple(biquad("bell", 1000, 48_000, q=1, db=3)),))
    proof = proof_of(plan, expected, with_processor(rig, 0, bell))
    found = row(proof, "Strip 1", "response")
    assert found.verdict == "fail"
    assert row(proof, "Strip 1", "twice").verdict == "pass"
    assert frames(proof, "Strip 1") == pytest.approx(planned(4, "Strip 1"), abs=0.05)


def test_crosstalk_is_named_with_its_source_and_level() -> None:
    """-60 dB of one loop in another, coherent, at 40 dB over the noise."""
    plan, expected, rig = stand_in(noise_dbfs=-70)
    rig = with_feeds(rig, track_of(0), (*rig.catches[track_of(0)].feeds, Feed(("box", 2), -60)))
    proof = proof_of(plan, expected, rig)
    found = row(proof, "Strip 1", "other loops")
    assert found.verdict in ("look", "fail")
    assert found.measured == pytest.approx(-60, abs=1)
    assert "stage 3" in found.because


def test_lost_and_repeated_frames_are_dropouts() -> None:
    """64 frames lost within the take move the delay; 64 repeated leave it and are found all the same."""
    plan, expected, rig = stand_in()
    middle = signal_for(4)[0].sections[1].start + PERIOD_AND_A_HALF
    lost = proof_of(plan, expected, with_box(rig, 0, replace(rig.boxes[0], lost=((middle, 64),))))
    assert "jumped by -64 frames" in row(lost, "Strip 1", "dropouts").because
    assert leg(lost, "Strip 1").delay_s is None
    again = proof_of(plan, expected, with_box(rig, 0, replace(rig.boxes[0], repeated=((middle, 64),))))
    assert row(again, "Strip 1", "dropouts").verdict == "fail"
    assert set(not_passing(again)) == {"Strip 1"}


def test_a_recorder_that_slips_is_told_though_the_returns_are_exchanged() -> None:
    """Every loop says to record it again, also where something else comes back."""
    plan, expected, rig = stand_in()
    two, three = rig.catches[track_of(1)].feeds, rig.catches[track_of(2)].feeds
    crossed = with_feeds(with_feeds(rig, track_of(1), three), track_of(2), two)
    middle = signal_for(4)[0].sections[1].start + PERIOD_AND_A_HALF
    proof = proof_of(plan, expected, replace(crossed, recorder=replace(rig.recorder, repeated=((middle, 210),))))
    assert leg(proof, "Strip 2").heard == "Strip 3"
    for name in ("Strip 1", "Strip 2", "Strip 3", "Strip 4"):
        assert "record it again" in row(proof, name, "dropouts").because


def test_another_delay_at_each_opening_is_told_with_all_values() -> None:
    """1024, 1024, 1280, 1024, 768 frames in five takes: all five and the spread of 512, and no mean."""
    from sidetrip.prove.history import change_findings

    plan, expected, rig = stand_in()
    proofs: list[Proof] = []
    for number, delay in enumerate((1024, 1024, 1280, 1024, 768)):
        changed: Rig = with_box(rig, 0, replace(rig.boxes[0], delay_frames=float(delay)))
        when = f"2026-11-25T18:0{number}:00+00:00"
        proofs.append(proof_of(plan, expected, changed, when=when, earlier=tuple(proofs)))
    change = next(one for one in proofs[-1].changes if one.loop == "Strip 1")
    assert [round(delay * 48_000) for delay in change.delays_s] == [1024, 1024, 1280, 1024, 768]
    assert change.spread_s * 1e3 == pytest.approx(10.67, abs=0.01)
    (finding,) = change_findings(proofs[-1])
    assert finding.code == "proof-changed"
    assert "1024.0, 1024.0, 1280.0, 1024.0, 768.0 frames" in finding.values
    assert "mean" not in str(finding)


def test_what_one_loop_does_to_sound_is_not_blamed_on_the_next() -> None:
    """Times of stacked loops come apart: the way through two loops tells the second once the first is known."""
    plan, expected, rig = stand_in()
    assert all(time_of(plan, way, flat=True).known for way in expected.ways)
    proof = proof_of(plan, expected, with_processor(rig, 0, Saturator(20)))
    assert set(not_passing(proof)) == {"Strip 1"}
