"""Worked examples of timing: one kick drum at one seat, and what five invented shows should be told, figure by figure.

Loops are 301 frames at 48 kHz = 6.2708 ms, as in the catalogue; air at 20 °C 343.2 m/s (ISO 9613-1:1993, formula A.5).
A desk of 1.2 ms from stage to jack is written as hops of 30, 7.6, 4 and 16 frames, so that every hop is a part of it.
"""

import pytest

from catalogue.kit import L, body, compared, frames, judged, laid, loop, only, verdicts
from sidetrip.graph.air import air_delay_s
from sidetrip.graph.arrivals import State
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.plan.crossover import loss_db, off_a_cycle
from sidetrip.plan.ears import find_ear_delays
from sidetrip.plan.meeting import Meeting
from sidetrip.units import seconds_from_frames
from smallshows import ALL_IN, all_out, bounds_at, frames_at, plain_desk

MS = 1e-3
LOOP = L / 48000

_HOPS = """
  - {from: [stage, local in], to: [channel, return], frames: 33.6}
  - {from: channel, to: [group, main, aux, matrix], frames: 8}
  - {from: [group, main, aux], to: [group, main, aux, matrix], frames: 0}
  - {from: [channel, group, aux, main, matrix], to: [local out, aux out], frames: 16}
  - {from: [insert, aux out, aux in, card in], to: [aux out, card out, aux in, insert], frames: 4}
  - {from: [insert, local in], to: [local out, insert], frames: 4}
"""
DESK = plain_desk(hops=_HOPS)
"""57.6 frames = 1.2 ms from stage to jack, however many mixes are on the way; a loop of 16 frames of desk."""

MAIN_LOOP, DRUM_LOOP = loop("Main", legs=2), loop("Drums", 3, legs=2)


def ms(seconds: float) -> float:
    """Return ms."""
    return seconds * 1000


# One kick drum at one seat, the flight from the PA removed: every distance is that beyond the PA.


def club(sub: str = "Kick: {db: 0}") -> str:
    """Return the club before the fix: an aux-fed sub, a looped drum group, a looped main, a looped singer."""
    inputs = (
        "{ch: 1, name: Kick, port: stage 1, group: Drums, hears: {kick: {m: 0, db: 0}}}, "
        "{ch: 2, name: Vox, port: stage 2, to: [Main], hears: {vox: {m: 0}, kick: {m: 2.5, db: -26}}}, "
        "{ch: 3, name: Bass, port: stage 3, to: [Main]}, {ch: 4, name: Tracks, port: stage 4, to: [Main]}"
    )
    drums = "{name: Drums, kind: group, width: stereo, to: [Main]}"
    main = "{name: Main, kind: main, width: stereo}"
    low = f"{{name: Low, kind: {'matrix' if 'Main' in sub else 'aux'}, width: mono, from: {{{sub}}}}}"
    outputs = (
        "{name: PA, from: Main, port: local out 1-2}",
        "{name: Sub, from: Low, port: local out 3, crossover_hz: 80}",
    )
    rows = "[{name: seat, hears: {PA: {m: 0, db: 0}, Sub: {m: 0, db: 0}, kick: {m: 2.5, db: -10}}}]"
    return body(inputs, drums, main, low, outputs=outputs, listeners=rows)


CLUB = (MAIN_LOOP, DRUM_LOOP, loop("Vox", 5))


def test_the_four_ways_of_the_kick_to_the_seat() -> None:
    """Electrical 1.2, 13.74 and 13.74 ms; acoustic 7.28; behind the earliest 6.08, 12.54 and 19.83."""
    _, _, arrivals = laid(club(), *CLUB, desk=DESK)
    rows = [
        (index, row) for index, row in enumerate(arrivals.rows) if row.place.name == "seat" and row.source == "kick"
    ]
    times = arrivals.times(ALL_IN)
    found = {(row.microphone, row.output): (ms(times.low[index]), row.level_db) for index, row in rows}
    air = 2500 / 343.2
    expected = {
        ("Kick", "Sub"): (1.2, 0),
        (None, None): (air, -10),
        ("Kick", "PA"): (1.2 + 2 * ms(LOOP), 0),
        ("Vox", "PA"): (1.2 + 2 * ms(LOOP) + air, -26),
    }
    assert {way: db for way, (_, db) in found.items()} == {way: db for way, (_, db) in expected.items()}
    assert {way: at for way, (at, _) in found.items()} == pytest.approx({way: at for way, (at, _) in expected.items()})
    relative = sorted(round(at - 1.2, 2) for at, _ in found.values())
    assert relative == [0, 6.08, 12.54, 19.83]


def kick(text: str, *loops: PlacedLoop) -> tuple[Meeting, ...]:
    """Return what happens to the kick."""
    return tuple(one for one in judged(text, *loops, desk=DESK) if "kick" in one.sources)


def test_the_kick_is_a_whole_cycle_behind_its_own_sub_and_that_is_told() -> None:
    """12.54 ms: at 80 Hz 361° looks right, at 60 Hz 271° and at 100 Hz 91° it does not."""
    one = only(kick(club(), *CLUB), "main and sub")
    assert ms(one.gap_in.typical) == pytest.approx(12.54, abs=0.005)
    assert one.verdict == "apart"
    assert "361° at 80 Hz" in one.sentence and "a whole cycle late" in one.sentence
    assert off_a_cycle(one.gap_in.typical, 80)
    late = one.gap_in.typical
    assert [late * hz * 360 % 360 for hz in (60, 80, 100)] == pytest.approx([271, 1, 91], abs=0.6)
    assert [loss_db(late, hz) for hz in (60, 80, 100)] == pytest.approx([-2.94, 0, -3.13], abs=0.006)


def test_the_spill_26_decibels_down_is_dropped_until_a_compressor_lifts_it() -> None:
    """No meeting with the singer's microphone; 6 dB up there is one, 7.28 ms late by its distance and no more."""
    found, how = compared(club(), *CLUB, desk=DESK)
    assert not [one for one in found if "kick" in one.sources and "Vox" in one.first + one.second]
    assert how.nearly == ()
    lifted = kick(club().replace("db: -26", "db: -20"), *CLUB)
    one = only([one for one in lifted if one.joined == "Main"])
    assert ms(one.gap_in.typical) == pytest.approx(7.28, abs=0.005)
    assert one.verdict == "together"


def test_fed_from_behind_the_main_insert_kick_and_bass_agree_with_their_subs_at_any_loop() -> None:
    """One cause: the sub's tap before two loops. Moved, IN and OUT and at any round trip nothing is left of it."""
    repaired = club("Main: {db: 0, tap: after mute}")
    for trip in (285, 2000):
        found = [one for one in judged(repaired, *CLUB, desk=DESK, trip=trip) if one.kind == "main and sub"]
        assert {verdicts(one) for one in found} == {("together", "together")}
        assert {frames(one.gap_in.typical) for one in found} == {0}


def test_the_drums_still_come_a_loop_behind_bass_and_tracks_in_the_pa() -> None:
    """6.27 ms: everybody plays to one click, and only the drums pass the drum loop. Moving the click cannot help."""
    _, _, arrivals = laid(club(), *CLUB, desk=DESK)
    drums = frames_at(arrivals, "kick", "PA", via=["Drums"])
    for source in ("Bass", "Tracks"):
        assert ms((drums - frames_at(arrivals, source, "PA")) / 48000) == pytest.approx(6.27, abs=0.005)
    _, _, dropped = laid(club(), MAIN_LOOP, desk=DESK)
    assert frames_at(dropped, "kick", "PA", via=["Drums"]) == frames_at(dropped, "Bass", "PA")


def test_the_main_loop_brings_the_pa_to_the_kit() -> None:
    """A kit 2.5 m behind the PA is 7.28 ms: the main's loop leaves 1.0 of it, less the desk's own 1.2."""
    assert ms(air_delay_s(2.5, 20)) == pytest.approx(7.28, abs=0.005)
    assert ms(air_delay_s(2.5, 20) - LOOP) == pytest.approx(1.01, abs=0.005)
    text = club().replace("Kick: {db: 0}", "Bass: {db: 0}")
    one = only(kick(text, MAIN_LOOP), "two loudspeakers")
    assert abs(ms(one.gap_in.typical)) == pytest.approx(1.2 + 6.2708 - 7.2844, abs=0.001)
    assert one.gap_in.verdict == "together"
    # with the main OUT the PA leads the kit by its 7.28 ms less the desk's 1.2 again: fused, heard from the PA
    assert abs(ms(one.gap_out.typical)) == pytest.approx(7.2844 - 1.2, abs=0.001)
    assert (one.gap_out.verdict, one.image_out) == ("together", "PA")


# A chapel with a stream


def test_a_chapel_leaves_its_under_balcony_alone() -> None:
    """42.1 ms dialled at 11 m are 32.1 and 10 late by choice; both zones take the voice behind its loop."""
    mix = "{name: Under, kind: matrix, width: mono, from: {Main: {tap: after mute}}}"
    outputs = (
        "{name: PA, from: Main, port: local out 1-2}",
        "{name: Balcony, from: Under, port: local out 3, delay_ms: 42.1}",
    )
    rows = "[{name: back row, hears: {PA: {m: 14}, Balcony: {m: 3}}}]"
    voice = "{ch: 1, name: Headset, port: stage 1, to: [Main]}"
    main = "{name: Main, kind: main, width: stereo}"
    text = body(voice, main, mix, outputs=outputs, listeners=rows)
    one = only(judged(text, loop("Headset"), desk=DESK))
    assert ms(air_delay_s(11, 20)) == pytest.approx(32.05, abs=0.005)
    assert ms(one.gap_in.typical) == pytest.approx(10.05, abs=0.005)
    assert one.gap_in == one.gap_out
    assert (one.verdict, one.image_in) == ("together", "PA"), "nothing to change, nothing to nag about"


def test_a_preacher_comes_closer_to_the_choir_microphones() -> None:
    """4 m: 11.66 ms as they stand, 5.38 with his headset looped; first null from 43 to 93 Hz."""
    inputs = (
        "{ch: 1, name: Headset, port: stage 1, to: [Main], hears: {preacher: {m: 0, db: 0}}}, "
        "{ch: 2, name: Choir, port: stage 2, to: [Main], hears: {preacher: {m: 4, db: -12}}}"
    )
    one = only(judged(body(inputs), loop("Headset"), desk=DESK))
    assert ms(one.gap_out.typical) == pytest.approx(11.66, abs=0.01)
    assert ms(one.gap_in.typical) == pytest.approx(5.38, abs=0.01)
    assert 1 / (2 * one.gap_out.typical) == pytest.approx(43, abs=0.2)
    assert one.first_null_hz == pytest.approx(93, abs=0.2)


def test_a_chapels_video_gets_66_ms_at_the_encoder() -> None:
    """80 ms of video; headset and stream pass a loop each: 1.2 + 6.27 + 6.27 = 13.7. The lectern one: 6 different."""
    inputs = "{ch: 1, name: Headset, port: stage 1, to: [Main]}, {ch: 2, name: Lectern, port: stage 2, to: [Main]}"
    net = "{name: Net, from: Stream, port: local out 5-6, picture_delay_ms: %s}"
    stream = "{name: Stream, kind: matrix, width: stereo, from: [Main]}"
    main = "{name: Main, kind: main, width: stereo}"
    text = body(inputs, main, stream, outputs=(net % 80,))
    loops = loop("Headset"), loop("Stream", 3, legs=2)
    _, _, arrivals = laid(text, *loops, desk=DESK)
    late = {source: ms(frames_at(arrivals, source, "Net") / 48000) for source in ("Headset", "Lectern")}
    assert late == {"Headset": pytest.approx(13.74, abs=0.005), "Lectern": pytest.approx(7.47, abs=0.005)}
    assert 80 - late["Headset"] == pytest.approx(66, abs=0.3)
    one = only(judged(text, *loops, desk=DESK), "picture")
    assert [ms(one.gap_in.low), ms(one.gap_in.high)] == pytest.approx([80 - 13.74, 80 - 7.47], abs=0.005)
    # a limiter with a look-ahead of 64 frames in the stream adds 1.33; where the unit aligns its chains, to both loops
    for aligns, more in (("per chain", 1), ("all", 2)):
        limited = body(
            inputs,
            main,
            stream,
            outputs=(net % 80,),
            units=f"units: [{{name: laptop, kind: computer, connects: card, aligns: {aligns}}}]",
            chains="{flat: [], limit: [{limiter: {lookahead_frames: 64}}]}",
        )
        chained = loop("Headset", chain="flat"), loop("Stream", 3, legs=2, chain="limit")
        _, _, with_limiter = laid(limited, *chained, desk=DESK)
        assert frames_at(with_limiter, "Headset", "Net") - frames_at(arrivals, "Headset", "Net") == pytest.approx(
            64 * more
        )


# A community musical


def test_leads_alone_are_late_against_their_spill_and_the_vocal_group_is_not() -> None:
    """Half a metre: 1.46 ms by nature, 4.81 with the lead alone looped, null 104 Hz."""
    inputs = (
        "{ch: 1, name: Lead, port: stage 1, device_ms: 3, group: Vocals, hears: {lead: {m: 0, db: 0}}}, "
        "{ch: 2, name: Partner, port: stage 2, device_ms: 3, group: Vocals, hears: {lead: {m: 0.5, db: -9}}}"
    )
    text = body(inputs, "{name: Vocals, kind: group, width: stereo, to: [Main]}")
    one = only(judged(text, loop("Lead"), desk=DESK))
    assert [ms(abs(one.gap_out.typical)), ms(one.gap_in.typical)] == pytest.approx([1.46, 4.81], abs=0.005)
    assert one.first_null_hz == pytest.approx(104, abs=0.5)
    assert only(judged(text, loop("Vocals", legs=2), desk=DESK)).verdict == "together"


def test_the_loop_helps_the_image_of_an_actor_upstage() -> None:
    """4 m behind the PA: 11.66 ms; radio 3, desk 1.2 and loop 6.27: 10.47. OUT 4.2, and the PA leads by 7.46."""
    voice = "{ch: 1, name: Actor, port: stage 1, device_ms: 3, to: [Vocals], hears: {actor: {m: 0}}}"
    rows = "[{name: row C, hears: {PA: {m: 6, db: 0}, actor: {m: 10, db: -3}}}]"
    text = body(voice, "{name: Vocals, kind: group, width: stereo, to: [Main]}", listeners=rows)
    one = only(judged(text, loop("Vocals", legs=2), desk=DESK))
    assert ms(abs(one.gap_in.typical)) == pytest.approx(11.655 - 10.471, abs=0.005)
    assert ms(abs(one.gap_out.typical)) == pytest.approx(11.655 - 4.2, abs=0.005)
    assert one.image_out == "PA"
    # 6.3 ms more on the main when OUT bring the actor's own sound back to within 1.2 ms
    assert ms(abs(one.gap_out.typical)) - 6.3 == pytest.approx(1.16, abs=0.01)


# A conference with a stream


def test_a_clean_up_of_30_ms_is_heard_twice_in_the_front_rows() -> None:
    """31.2 ms in the room beside the talker himself: an echo. On a stream-only group the room stays dry."""
    voice = "{ch: 1, name: Talker, port: stage 1, to: [Room, Voices], hears: {talker: {m: 0}}}"
    room = "{name: Room, kind: group, width: mono, to: [Main]}"
    voices = "{name: Voices, kind: group, width: mono}"
    main = "{name: Main, kind: main, width: stereo}"
    stream = "{name: Stream, kind: matrix, width: stereo, from: [Voices]}"
    outputs = (
        "{name: PA, from: Main, port: local out 1-2}",
        "{name: Net, from: Stream, port: local out 5-6, picture_delay_ms: 120}",
    )
    rows = "[{name: front row, hears: {PA: {m: 2}, talker: {m: 2, db: 0}}}]"
    text = body(voice, room, voices, main, stream, outputs=outputs, listeners=rows)
    trip = 1440 - 16
    wrong = only(judged(text, loop("Room"), desk=DESK, trip=trip), "two loudspeakers")
    assert ms(wrong.gap_in.typical) == pytest.approx(31.2)
    assert (wrong.verdict, "an echo" in wrong.sentence) == ("apart", True)
    right = judged(text, loop("Voices"), desk=DESK, trip=trip)
    assert only(right, "two loudspeakers").gap_in == only(right, "two loudspeakers").gap_out
    # video 120: voices 31.2, so 88.8 to add; playback 1.2, so 118.8; OUT the voices are 30 ms early to a dialled 88.8
    one = only(right, "picture")
    assert ms(one.gap_in.typical) == pytest.approx(88.8)
    assert ms(one.gap_out.typical) == pytest.approx(118.8)
    assert ms(one.gap_out.typical - one.gap_in.typical) == pytest.approx(30), "within the 45 ms of BT.1359-1"


def test_playback_thirty_ms_later_needs_one_number_at_the_encoder_with_the_voices() -> None:
    """Voices 31.2 and playback 1.2 ms: 88.8 and 118.8 to add, 30 apart. 30 ms on the playback: 88.8 for all."""
    inputs = "{ch: 1, name: Talker, port: stage 1, to: [Voices]}, {ch: 2, name: Playback, port: stage 2, to: [Feed]}"
    voices = "{name: Voices, kind: group, width: mono}"
    stream = "{name: Stream, kind: matrix, width: stereo, from: [Voices, Feed]}"
    feed = "{name: Feed, kind: group, width: mono, delay_ms: %s}"
    net = "{name: Net, from: Stream, port: local out 5-6, picture_delay_ms: 120}"
    for held, low, high in ((0, 88.8, 118.8), (30, 88.8, 88.8)):
        text = body(inputs, voices, feed % held, stream, outputs=(net,))
        one = only(judged(text, loop("Voices"), desk=DESK, trip=1440 - 16), "picture")
        assert [ms(one.gap_in.low), ms(one.gap_in.high)] == pytest.approx([low, high])


# An outdoor festival


def test_the_desk_of_a_festival_hears_the_pa_an_eighth_of_a_second_late() -> None:
    """45 m at 20 °C are 131 ms."""
    assert ms(air_delay_s(45, 20)) == pytest.approx(131, abs=0.2)


def test_at_96_khz_the_same_frames_take_half_the_time() -> None:
    """301 frames: 6.83 ms at 44.1 kHz, 6.27 at 48, 3.14 at 96."""
    found = [ms(seconds_from_frames(L, rate)) for rate in (44100, 48000, 96000)]
    assert found == pytest.approx([6.83, 6.27, 3.14], abs=0.006)


def test_towers_behind_everything_do_not_move_with_a_guests_loop_and_do_with_the_evening() -> None:
    """60 m from 28 to 14 °C: 172.5 to 176.6 ms; the guest's loop moves nothing between PA and tower."""
    drive = "{name: Drive, kind: matrix, width: mono, from: {Main: {tap: after mute}}}"
    main = "{name: Main, kind: main, width: stereo}"
    outputs = (
        "{name: PA, from: Main, port: local out 1-2}",
        "{name: Tower, from: Drive, port: local out 3, delay_ms: 172.5}",
    )
    rows = "[{name: lawn, hears: {PA: {m: 62}, Tower: {m: 2}}}]"
    text = body("{ch: 1, name: Guest, port: stage 1, to: [Main]}", main, drive, outputs=outputs, listeners=rows)
    found = {}
    for degrees in (28, 14):
        one = only(judged(text + f"air: {{temperature_c: {degrees}}}\n", MAIN_LOOP, desk=DESK))
        assert one.gap_in == one.gap_out
        found[degrees] = one.gap_in
    assert [round(ms(air_delay_s(60, degrees)), 1) for degrees in (28, 14)] == [172.5, 176.6]
    assert found[28].typical == pytest.approx(0, abs=0.1 * MS)
    assert ms(abs(found[14].typical)) == pytest.approx(4.15, abs=0.1)


def test_a_rate_converter_of_a_guest_cannot_be_used_beside_a_dry_copy() -> None:
    """0.3 to 2 ms, unsteady: one of two electrical ways through it cannot be told, and the figure is named."""
    text = body(
        "{ch: 1, name: Guest, port: stage 1, to: [Dry, Wet]}",
        "{name: Dry, kind: group, width: mono, to: [Main]}",
        "{name: Wet, kind: group, width: mono, delay_ms: 0.3 to 2, to: [Main]}",
    )
    one = only(judged(text, desk=DESK))
    assert (one.gap_in.verdict, one.deciding) == ("apart", None), "surely apart, and not by one figure"
    _, _, arrivals = laid(text, desk=DESK)
    low, high = bounds_at(arrivals, "Guest", "PA", via=["Wet"])
    assert (high - low) / 48 == pytest.approx(1.7)


def test_a_guests_sheet_prints_what_to_dial_before_his_insert() -> None:
    """Fill, sub and drive before his insert: each is early by L, and L is the number to dial."""
    zones = [
        f"{{name: {name} mix, kind: matrix, width: mono, from: {{Main: {{tap: before insert}}}}}}"
        for name in ("Fill", "Drive")
    ]
    outputs = ["{name: PA, from: Main, port: local out 1-2}"]
    outputs += [f"{{name: {name}, from: {name} mix, port: local out {n}}}" for n, name in ((3, "Fill"), (4, "Drive"))]
    rows = "[{name: lip, hears: {PA: {m: 5}, Fill: {m: 5}}}, {name: lawn, hears: {PA: {m: 9}, Drive: {m: 9}}}]"
    main = "{name: Main, kind: main, width: stereo}"
    guest = "{ch: 1, name: Guest, port: stage 1, to: [Main]}"
    text = body(guest, main, *zones, outputs=tuple(outputs), listeners=rows)
    states = (State("Main OUT", "loop out", out=frozenset(["Main"])),)
    found = judged(text, MAIN_LOOP, desk=DESK, states=states)
    assert {round(ms(one.gap_in.typical), 2) for one in found} == {6.27}
    dialled = text.replace("port: local out 3", f"port: local out 3, delay_ms: {L / 48}")
    fill = next(one for one in judged(dialled, MAIN_LOOP, desk=DESK, states=states) if one.places == ("lip",))
    assert [ms(fill.gap_in.typical), abs(ms(fill.gap_out.typical))] == pytest.approx([0, 6.2708], abs=1e-4)


def test_ears_of_a_club_singer_stay_dry_when_the_vocal_is_patched_twice() -> None:
    """Main OUT or IN: her ears take the strip before its insert and never move."""
    pack = "{name: Pack, kind: aux, width: mono, for: vox, listens: in-ear, from: {Vox: {tap: before insert}}}"
    text = club().replace("mixes: [", f"mixes: [{pack}, ")
    show, line_map, arrivals = laid(text, *CLUB, desk=DESK)
    own = [one for one in find_ear_delays(show, line_map, arrivals, (ALL_IN, all_out(arrivals))) if one.own]
    assert [(one.added_s, one.in_s == one.out_s) for one in own] == [(0, True)]
