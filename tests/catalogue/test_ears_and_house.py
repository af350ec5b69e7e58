"""Ways a loop breaks timing in ears, series, delay lines and pictures, each with its answer worked out by hand.

Sound against picture: ITU-R BT.1359-1 (45 ms early, 125 ms late). Own voice: common practice, no source, beside the
ratings of Lester and Boley, AES 123rd Convention, 2007. A loop is 301 frames = 6.27083 ms.
"""

import pytest

from catalogue.kit import DESK, LAPTOP, MAIN, PA, L, body, frames, judged, laid, loop, only, send_loop, verdicts
from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.plan.comb import null_hz
from sidetrip.plan.delay_order import delay_order_findings
from sidetrip.plan.ears import EarDelay, find_ear_delays, over_limits, rating_of
from sidetrip.plan.lags import Lag, find_lags, lag_findings
from sidetrip.plan.meeting_remarks import meeting_findings
from sidetrip.plan.meetings import find_meetings
from sidetrip.units import ms_from_seconds
from smallshows import ALL_IN, all_out, fixed, frames_at, insert_loop

MS = 1e-3
LOOP = L / 48000
VOX = "{ch: 1, name: Vocal, port: stage 1, to: [Main], device_ms: 3, hears: {singer: {m: 0}}}"
PACK = "{name: Pack, kind: aux, width: mono, for: singer, listens: %s, %s, from: {Vocal: {db: 0, tap: %s}}}"


def ears(text: str, *loops: PlacedLoop) -> tuple[tuple[EarDelay, ...], list[str], str]:
    """Return the delays at ears, what is over the limits, and how musicians rated the first of them."""
    show, line_map, arrivals = laid(text, *loops)
    delays = find_ear_delays(show, line_map, arrivals, (ALL_IN, all_out(arrivals)))
    found = [finding.code for finding in over_limits(show, delays)]
    return delays, found, rating_of(show, delays[0])


def pack(tap: str, listens: str = "in-ear", more: str = "device_ms: 3.5") -> str:
    """Return a singer whose voice comes back to her own ears."""
    return body(VOX, PACK % (listens, more, tap), limits="{ear_total_ms: 10, ear_added_ms: 3}")


# Ears


def test_own_voice_through_the_loop_is_late_and_before_it_is_not() -> None:
    """3 ms radio, 54 frames of desk, 3.5 ms pack: 7.63 ms; behind the loop 13.90. Tapped before the insert it stays."""
    (late,), over, rating = ears(pack("after insert"), loop("Vocal"))
    assert ms_from_seconds(late.in_s) == pytest.approx(3 + 54 / 48 + 3.5 + L / 48)
    assert ms_from_seconds(late.out_s) == pytest.approx(3 + 54 / 48 + 3.5)
    assert over == ["ear-late", "ear-late"]
    assert rating == "voice in-ear: rated good up to 1 ms, fair up to 6.5 ms; this is below fair"
    (dry,), over, _ = ears(pack("before insert"), loop("Vocal"))
    assert ms_from_seconds(dry.in_s) == pytest.approx(3 + 54 / 48 + 3.5)
    assert (dry.added_s, over) == (0, [])


def test_the_comb_of_own_voice_starts_lower_the_later_it_is() -> None:
    """Through the head at once and through the pack 7.63 or 13.90 ms later: first null at 65.6 or 36.0 Hz."""
    (late,), _, _ = ears(pack("after insert"), loop("Vocal"))
    assert null_hz(late.out_s) == pytest.approx(65.6, abs=0.05)
    assert null_hz(late.in_s) == pytest.approx(36.0, abs=0.05)


def test_a_loop_on_the_mix_of_ears_makes_everything_in_it_late() -> None:
    """The pack's own insert: every source in it is 301 frames later, whatever its tap."""
    text = pack("before insert").replace("from: {Vocal", "from: {Keys: {db: -6}, Vocal")
    text = text.replace("inputs: [", "inputs: [{ch: 2, name: Keys, port: stage 2, to: [Main]}, ")
    delays, over, _ = ears(text, loop("Pack"))
    assert {round(delay.added_s, 9) for delay in delays} == {round(LOOP, 9)}
    assert len(delays) == 2 and "ear-late" in over


def test_a_wedge_adds_its_distance_to_the_loop() -> None:
    """1.5 m are 4.37 ms beside 6.27 of loop: voice on a wedge was rated good up to 10 ms and fair up to 26."""
    (wedge,), _, rating = ears(pack("after insert", "wedge", "m: 1.5").replace("device_ms: 3, ", ""), loop("Vocal"))
    assert ms_from_seconds(wedge.in_s) == pytest.approx(54 / 48 + L / 48 + 1500 / 343.2)
    assert rating == "voice wedge: rated good up to 10 ms, fair up to 26 ms; this is fair"
    (dry,), _, rating = ears(pack("before insert", "wedge", "m: 1.5").replace("device_ms: 3, ", ""), loop("Vocal"))
    assert ms_from_seconds(dry.in_s) == pytest.approx(54 / 48 + 1500 / 343.2)
    assert rating.endswith("this is good")


def test_a_remote_guest_who_hears_himself_hears_the_loops_twice() -> None:
    """His line comes in through one loop and goes back with the main through another: 2 x 301 frames in the desk.

    A mix without him, taken before the loops, has nothing of his in it.
    """
    inputs = "{ch: 1, name: Remote, port: local in 1, to: [Main], hears: {guest: {m: 0}}}"
    back = "{name: Return feed, kind: matrix, width: mono, for: guest, listens: in-ear, from: [Main]}"
    (own,), _, _ = ears(body(inputs, MAIN, back), loop("Remote"), loop("Main", 3, legs=2))
    # local in to channel 20, to main 8, to matrix 4, to its jack 16
    assert frames(own.in_s) == 20 + 8 + 4 + 16 + 2 * L
    minus = "{name: Return feed, kind: aux, width: mono, for: guest, listens: in-ear, from: [Host]}"
    host = ", {ch: 2, name: Host, port: stage 2, to: [Main]}"
    delays, _, _ = ears(body(inputs + host, MAIN, minus), loop("Remote"), loop("Main", 3, legs=2))
    assert [(delay.source, delay.own) for delay in delays] == [("Host", False)]


# Loops in series, and places along a strip


SERIES = (loop("Vocal"), loop("Voices", 2), loop("Main", 3, legs=2))
BASS = "{ch: 2, name: Bass, port: stage 2, group: Band}"


def in_series(more: str = "") -> str:
    """Return a voice through a group and the main beside a bass through a group of its own."""
    groups = [f"{{name: {name}, kind: group, width: mono, to: [Main]}}" for name in ("Voices", "Band")]
    voice = VOX.replace("Main", "Voices").replace("device_ms: 3, ", "")
    return body(f"{voice}, {BASS}", *groups, plays_together="{song: [Vocal, Bass]}", more=more)


def behind(*loops: PlacedLoop) -> tuple[Lag, list[Finding]]:
    """Return how far the voice is behind the band in the PA, and what is said of it."""
    show, line_map, _ = laid(in_series(), *loops)
    (lag,) = found = find_lags(show, line_map)
    return lag, lag_findings(found)


def test_three_loops_in_series_put_the_voice_behind_the_band() -> None:
    """Channel, group and main: 903 frames, 18.8 ms in all. The band has the main's too: 602 frames, 12.54 ms behind."""
    _, _, arrivals = laid(in_series(), *SERIES)
    inside, outside = frames_at(arrivals, "singer", "PA"), frames_at(arrivals, "singer", "PA", all_out(arrivals))
    assert inside - outside == pytest.approx(3 * L)
    assert (inside - outside) / 48 == pytest.approx(18.81, abs=0.005)
    lag, said = behind(*SERIES)
    assert (lag.last, lag.loops, frames(lag.gap_in.typical)) == ("Vocal", ("Vocal", "Voices"), 2 * L)
    (finding,) = said
    assert finding.code == "plays-apart" and "Vocal comes 12.54 ms after Bass" in finding.what
    assert finding.values == "loops Vocal, Voices" and "drop one of the loops" in finding.remedy


def test_with_one_of_three_loops_removed_the_voice_is_a_loop_nearer() -> None:
    """Without its own it is 301 frames behind, still told; without the group's too it is with the band."""
    lag, said = behind(*SERIES[1:])
    assert (frames(lag.gap_in.typical), lag.loops) == (L, ("Voices",))
    assert "drop the loop" in said[0].remedy
    lag, said = behind(SERIES[2])
    assert (lag.gap_in.verdict, frames(lag.gap_in.typical), said) == ("together", 0, [])


def test_loops_in_series_do_no_harm_where_only_reverb_passes_them() -> None:
    """A send through its own loop and the group's: all wet, so that nothing combs, and the reason is given."""
    fx = "{name: Fx, kind: aux, width: mono, from: {Vox: {db: 0, tap: before insert}}}"
    inputs = "{ch: 1, name: Vox, port: stage 1, to: [Main]}, {ch: 2, name: Fx back, port: aux in 1, group: Tails}"
    tails = "{name: Tails, kind: group, width: mono, to: [Main]}"
    text = body(inputs, fx, tails, chains="{hall: [{reverb: {delay_frames: 0}}]}")
    found = judged(text, send_loop("Fx", "Fx back", chain="hall"), loop("Tails", 2), loop("Main", 3, legs=2))
    one = only(found)
    assert (one.verdict, one.loops) == ("together", ("Fx", "Tails"))
    assert [finding.code for finding in meeting_findings(found)] == ["judged-harmless"]


# Where the delay line of a strip lies


BEFORE = ("trim", "eq", "delay", "insert", "compressor", "fader", "mute")


def cue_mix(tap: str, dialled: float = L / 48) -> str:
    """Return a voice and its looped copy in two mixes: the main behind the dry strip's delay, a cue mix at a tap."""
    heard = "hears: {singer: {m: 0, db: 0}}"
    dry = f"{{ch: 1, name: Dry, port: stage 1, to: [Main], delay_ms: {dialled}, {heard}}}"
    wet = f"{{ch: 2, name: Wet, port: stage 1, to: [Main], {heard}}}"
    taps = f"{{Dry: {{db: 0, tap: {tap}}}, Wet: {{db: 0, tap: after mute}}}}"
    cue = f"{{name: Cue, kind: aux, width: mono, from: {taps}}}"
    return body(f"{dry}, {wet}", cue, outputs=(PA, "{name: Cue out, from: Cue, port: local out 3}"))


def at_cue(text: str, desk: Desk = DESK) -> tuple[dict[str, float], list[Finding]]:
    """Return how many frames dry and wet are apart in main and cue, and what is said of taps before delay lines."""
    show, line_map, arrivals = laid(text, loop("Wet"), desk=desk)
    found, _ = find_meetings(show, line_map, arrivals, (ALL_IN,))
    return {one.joined: abs(frames(one.gap_in.typical)) for one in found}, delay_order_findings(show, desk, line_map)


@pytest.mark.parametrize("tap", ["before insert", "after insert"])
def test_a_delay_behind_the_tap_does_not_count_there_and_that_is_said(tap: str) -> None:
    """301 frames dialled on the dry strip: together in the main, 301 apart in the cue mix, which takes it before."""
    apart, said = at_cue(cue_mix(tap))
    assert apart == {"Main": 0, "Cue": L}
    (finding,) = said
    assert (finding.code, finding.path) == ("tap-before-delay", ("inputs", 0))
    assert finding.what.startswith("Cue takes Dry before its delay line")
    assert "behind the delay line" in finding.remedy


def test_a_tap_behind_the_delay_line_counts_it_and_without_a_delay_the_order_is_no_matter() -> None:
    """After mute: together in both mixes. Nothing dialled: 301 apart in both alike, and nothing said of the order."""
    assert at_cue(cue_mix("after mute")) == ({"Main": 0, "Cue": 0}, [])
    for tap in ("before insert", "after mute"):
        assert at_cue(cue_mix(tap, 0)) == ({"Main": L, "Cue": L}, [])


def test_on_a_desk_with_the_delay_line_before_the_insert_the_send_has_it_too() -> None:
    """There a tap right before the insert has the 301 frames: together. Dialled on a group too they count twice."""
    pools = tuple(
        pool.model_copy(update={"order": BEFORE}) if "channel" in pool.kinds else pool for pool in DESK.strips
    )
    desk = DESK.model_copy(update={"strips": pools})
    assert at_cue(cue_mix("before insert"), desk) == ({"Main": 0, "Cue": 0}, [])
    twice = cue_mix("after mute").replace("to: [Main], delay_ms", "group: Band, delay_ms")
    band = f"mixes: [{{name: Band, kind: group, width: mono, delay_ms: {L / 48}, to: [Main]}}, "
    apart, said = at_cue(twice.replace("mixes: [", band), desk)
    assert (apart["Main"], said) == (L + 4, [])


# Pictures


def stream(video: float, *more: str) -> str:
    """Return a stream of the main with a picture so many ms late."""
    net = f"{{name: Net, from: Main, port: local out 1-2, picture_delay_ms: {video}}}"
    return body(VOX.replace(", device_ms: 3", ""), MAIN, outputs=(net,), more="\n".join(more))


def test_a_stream_needs_the_picture_delay_less_what_the_loops_take() -> None:
    """Video 120 ms, desk 54 frames and one loop: 112.6 to add at the encoder IN, 118.9 OUT."""
    one = only(judged(stream(120), loop("Main", legs=2)), "picture")
    assert one.gap_in.typical * 1000 == pytest.approx(120 - 54 / 48 - L / 48)
    assert one.gap_in.typical * 1000 == pytest.approx(112.6, abs=0.01)
    assert "delay the sound at the encoder by 112.6 ms" in one.sentence
    assert one.gap_out.typical - one.gap_in.typical == pytest.approx(LOOP)
    assert one.worst_state == "all OUT", "further from the picture than IN"


@pytest.mark.parametrize(("frames_late", "verdict"), [(1, "together"), (4, "apart")])
def test_screens_in_the_room_are_late_by_frames_of_video(frames_late: int, verdict: str) -> None:
    """One frame of 40 ms passes, four do not; nobody can delay a PA by that, so distance and fewer frames help."""
    assert only(judged(stream(40 * frames_late), loop("Main", legs=2)), "picture").verdict == verdict


def test_sound_of_a_playback_video_through_a_loop_is_no_matter() -> None:
    """6.27 ms late against a picture at once: viewers notice from 125 ms."""
    one = only(judged(stream(0), loop("Vocal")), "picture")
    assert verdicts(one) == ("together", "together")
    assert "will not notice" in one.sentence


# Devices


def test_input_devices_are_equalised_at_the_input() -> None:
    """Two boxes of 1 and 3 ms on one instrument are 96 frames apart; the quick one delayed, they are together."""
    hears = "hears: {piano: {m: 0}}"
    inputs = (
        f"{{ch: 1, name: Low, port: stage 1, device_ms: 1, to: [Main], {hears}}}, "
        f"{{ch: 2, name: High, port: stage 2, device_ms: 3, to: [Main], {hears}}}"
    )
    assert frames(only(judged(body(inputs))).gap_in.typical) == 96
    assert only(judged(body(inputs.replace("name: Low,", "name: Low, delay_ms: 2,")))).verdict == "together"


def test_a_hardware_box_of_a_few_frames_on_ears_is_within_what_ears_accept() -> None:
    """1 ms in all on the mix of ears instead of 6.27: no limit is passed."""
    units = LAPTOP.replace("}]", "}, {name: box, kind: hardware, out: local out 21, back: local in 21, delay_ms: 0}]")
    text = pack("before insert").replace(LAPTOP, units)
    box = insert_loop("Pack", "local out 21", "local in 21", unit="box")
    show, line_map, arrivals = laid(text, box, more={"box": fixed(43)})
    delays = find_ear_delays(show, line_map, arrivals, (ALL_IN, all_out(arrivals)))
    assert over_limits(show, delays) == []
    assert frames(delays[0].added_s) == 3 + 43 + 2
