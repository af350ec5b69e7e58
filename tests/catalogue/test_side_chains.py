"""Side chains across a loop, and strips that play together, each with its answer worked out by hand.

A loop is 301 frames = 6.27083 ms. A ducker acts on the music, steered by the speaker; both join in the main.
"""

import pytest

from catalogue.kit import DESK, L, body, frames, laid, loop
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.graph.round_trip import UnitTime
from sidetrip.graph.span import UNKNOWN
from sidetrip.plan.lags import Lag, find_lags, lag_findings
from sidetrip.plan.side_chains import SideChainTime, find_side_chains, side_chain_findings

INPUTS = "{ch: 1, name: Speaker, port: stage 1, to: [Main]}, {ch: 2, name: Music, port: stage 2, to: [Main]}"


def steered(chain: str, *loops: PlacedLoop, trip: float | UnitTime = 285) -> SideChainTime:
    """Return the time of the one side chain."""
    show, line_map, _ = laid(body(INPUTS, side_chains=f"[{{{chain}}}]"), *loops, trip=trip)
    (found,) = find_side_chains(show, DESK, line_map)
    return found


def test_a_key_from_before_a_looped_speaker_cuts_in_before_the_word() -> None:
    """The gain is 301 frames ahead of the speaker, who goes round the loop: early IN, in time OUT."""
    one = steered("strip: Music, by: Speaker, tap: before insert", loop("Speaker"))
    assert (frames(one.gap_in.typical), frames(one.gap_out.typical)) == (-L, 0)
    assert (one.gap_in.verdict, one.gap_out.verdict, one.loops) == ("apart", "together", ("Speaker",))
    (finding,) = side_chain_findings((one,))
    assert finding.code == "side-chain-off" and "6.27 ms before" in finding.what


def test_a_key_from_behind_the_loop_is_in_time_and_so_is_the_sound() -> None:
    """The repair: the same side for both."""
    one = steered("strip: Music, by: Speaker, tap: after insert", loop("Speaker"))
    assert (one.gap_in.verdict, frames(one.gap_in.typical)) == ("together", 0)
    assert side_chain_findings((one,)) == []


def test_a_gain_that_still_has_to_go_round_a_loop_chops_the_onset() -> None:
    """The ducker sits before the insert of the looped music: its gain is heard 301 frames after the word."""
    one = steered("strip: Music, by: Speaker, acts: before insert", loop("Music"))
    assert (one.gap_in.verdict, frames(one.gap_in.typical)) == ("apart", L)
    (finding,) = side_chain_findings((one,))
    assert "6.27 ms after" in finding.what and "chopped" in finding.what
    assert steered("strip: Music, by: Speaker, acts: after insert", loop("Music")).gap_in.verdict == "together"


@pytest.mark.parametrize(("attack", "verdict"), [(0, "apart"), (6, "apart"), (7, "together"), (100, "together")])
def test_a_slow_ducker_is_harmless(attack: float, verdict: str) -> None:
    """6.27 ms do not matter to a gain that takes longer than that to move."""
    one = steered(f"strip: Music, by: Speaker, tap: before insert, attack_ms: {attack}", loop("Speaker"))
    assert one.gap_in.verdict == verdict


def test_a_gate_on_its_own_strip_hears_itself_early_across_its_insert() -> None:
    """Keyed from before the insert and acting behind it: the key is a loop ahead."""
    one = steered("strip: Speaker, by: Speaker, tap: before insert, acts: after insert", loop("Speaker"))
    assert (one.gap_in.verdict, frames(one.gap_in.typical)) == ("apart", -L)


def test_an_unknown_round_trip_between_them_cannot_be_told() -> None:
    """No figure is made up, and the finding asks for it."""
    one = steered("strip: Music, by: Speaker, tap: before insert", loop("Speaker"), trip=UnitTime(UNKNOWN, "nothing"))
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("cannot tell", "together")
    (finding,) = side_chain_findings((one,))
    assert finding.code == "meeting-untold"


def test_strips_that_join_nowhere_have_no_time() -> None:
    """A talkback that is in no mix with the music steers it, and nothing is compared."""
    inputs = INPUTS.replace("port: stage 1, to: [Main]", "port: stage 1, to: [Other]")
    other = "{name: Other, kind: aux, width: mono}"
    text = body(inputs, other, side_chains="[{strip: Music, by: Speaker}]")
    show, line_map, _ = laid(text, loop("Speaker"))
    assert find_side_chains(show, DESK, line_map) == ()


# Strips that play together


def lagging(*loops: PlacedLoop, trip: float | UnitTime = 285) -> Lag:
    """Return how far drums and tracks are apart in the PA."""
    inputs = "{ch: 1, name: Kick, port: stage 1, group: Drums}, {ch: 2, name: Tracks, port: stage 2, group: Band}"
    groups = [f"{{name: {name}, kind: group, width: mono, to: [Main]}}" for name in ("Drums", "Band")]
    text = body(inputs, *groups, plays_together="{band: [Drums, Band]}")
    show, line_map, _ = laid(text, *loops, trip=trip)
    (found,) = find_lags(show, line_map)
    return found


def test_a_looped_drum_group_is_heard_behind_tracks_and_bass() -> None:
    """No comb, for they share nothing; 301 frames late IN, together OUT. Delaying the player moves all of them."""
    lag = lagging(loop("Drums"))
    assert (lag.last, lag.first, lag.places, lag.loops) == ("Drums", "Band", ("PA",), ("Drums",))
    assert (lag.gap_in.verdict, lag.gap_out.verdict, frames(lag.gap_in.typical)) == ("apart", "together", L)
    (finding,) = lag_findings((lag,))
    assert finding.code == "plays-apart" and "Drums comes 6.27 ms after Band" in finding.what


def test_looped_tracks_are_behind_the_live_band() -> None:
    """The other way round: the band is ahead of its tracks in the PA."""
    lag = lagging(loop("Band"))
    assert (lag.last, lag.gap_in.verdict) == ("Band", "apart")


def test_both_looped_alike_or_less_than_three_ms_is_not_felt() -> None:
    """Both through one laptop: together IN, and one OUT alone is not judged here. 128 frames are 2.67 ms."""
    assert lagging(loop("Drums"), loop("Band", 2)).gap_in.verdict == "together"
    assert lagging(loop("Drums"), trip=112).gap_in.verdict == "together"
    assert lagging(loop("Drums"), trip=UnitTime(UNKNOWN, "nothing")).gap_in.verdict == "cannot tell"
