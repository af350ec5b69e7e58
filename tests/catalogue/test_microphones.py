"""Ways a loop breaks timing between microphones that hear one source, each with its answer worked out by hand.

Air at 20 °C carries sound at 343.2 m/s (ISO 9613-1:1993, formula A.5): 1 m is 2.91375 ms. A loop is 6.27083 ms.
"""

import pytest

from catalogue.kit import LAPTOP, L, body, compared, everywhere_together, frames, judged, loop, only, verdicts
from sidetrip.plan.meeting_remarks import meeting_findings, nearly_findings
from smallshows import fixed, insert_loop

MS = 1e-3
METRE = 2.91375 * MS
LOOP = L / 48000


def two(first: str, second: str, source: str = "drum", to: str = "Main") -> str:
    """Return two inputs, each with what it says of how it hears the source."""
    return ", ".join(
        f"{{ch: {n}, name: {name}, port: stage {n}, to: [{to}], hears: {{{source}: {{{heard}}}}}{more}}}"
        for n, (name, heard, more) in enumerate((_said(first), _said(second)), 1)
    )


def _said(words: str) -> tuple[str, str, str]:
    name, heard, *more = words.split("; ")
    return name, heard, "".join(f", {own}" for own in more)


# One source, two microphones, one of them looped


def test_a_looped_snare_against_open_overheads() -> None:
    """1 m is 2.91 ms; with the loop the snare comes 3.36 ms after the overheads: first null 149 Hz."""
    text = body(two("Snare; m: 0, db: 0", "Overheads; m: 1, db: -6"))
    one = only(judged(text, loop("Snare")))
    assert verdicts(one) == ("apart", "together")
    assert one.gap_in.typical == pytest.approx(3.357 * MS, abs=1e-6)
    assert one.gap_out.typical == pytest.approx(-METRE, abs=1e-7), "the overheads are named first"
    assert one.first_null_hz == pytest.approx(149, abs=0.1)
    assert everywhere_together(judged(text, loop("Snare"), loop("Overheads", 2))), "both out by one unit"


def test_looping_the_group_of_both_leaves_them_as_they_stand() -> None:
    """Behind their sum the loop moves neither against the other."""
    drums = "{name: Drums, kind: group, width: stereo, to: [Main]}"
    text = body(two("Snare; m: 0, db: 0", "Overheads; m: 1, db: -6", to="Drums"), drums)
    assert everywhere_together(judged(text, loop("Drums", legs=2)))


@pytest.mark.parametrize(("db", "code"), [(-6, "heard-twice"), (-16, "heard-faintly")])
def test_overheads_far_below_the_snare_are_only_told(db: int, code: str) -> None:
    """At -6 dB 9.6 dB of ripple, at -16 dB 2.8: that is told, not warned of."""
    one = only(judged(body(two("Snare; m: 0, db: 0", f"Overheads; m: 1, db: {db}")), loop("Snare")))
    assert [finding.code for finding in meeting_findings((one,))] == [code]


def test_kick_in_and_out_of_opposite_polarity_lose_the_low_end() -> None:
    """One looped: 6.27 ms less 0.3 m of air, and upside down, so the first null is at 0 Hz. Both looped: as before."""
    text = body(two("Kick in; m: 0.1, db: 0", "Kick out; m: 0.4, db: 0; inverted: yes", "kick"))
    one = only(judged(text, loop("Kick in")))
    assert (one.verdict, one.inverted, one.first_null_hz) == ("apart", True, 0)
    assert one.gap_in.typical == pytest.approx(LOOP - 0.3 * METRE, abs=1e-7)
    assert "the low end cancels" in one.sentence
    assert everywhere_together(judged(text, loop("Kick in"), loop("Kick out", 2)))


def test_a_looped_bass_line_against_its_amplifier() -> None:
    """The microphone is at the loudspeaker: 301 frames, first null 79.7 Hz, where a bass lives."""
    text = body(two("Bass DI; m: 0, db: 0", "Bass amp; m: 0, db: 0", "bass"))
    one = only(judged(text, loop("Bass DI")))
    assert (one.verdict, frames(one.gap_in.typical)) == ("apart", L)
    assert one.first_null_hz == pytest.approx(79.73, abs=0.005)
    dialled = text.replace("name: Bass amp,", f"name: Bass amp, delay_ms: {L / 48},")
    assert verdicts(only(judged(dialled, loop("Bass DI")))) == ("together", "apart"), "wrong when OUT"
    assert everywhere_together(judged(text, loop("Bass DI"), loop("Bass amp", 2)))


def test_one_of_two_only_in_the_monitors_is_no_meeting_in_the_room() -> None:
    """The line goes to the ears, the microphone to the main: nowhere both."""
    ears = "{name: Ears, kind: aux, width: mono, for: bassist, listens: in-ear, from: [Bass DI]}"
    inputs = "{ch: 1, name: Bass DI, port: stage 1, hears: {bass: {m: 0}}}, " + (
        "{ch: 2, name: Bass amp, port: stage 2, to: [Main], hears: {bass: {m: 0}}}"
    )
    assert judged(body(inputs, ears), loop("Bass DI")) == ()


def test_half_of_a_pair_in_a_loop_is_apart() -> None:
    """Left looped, right not: the image goes to the early side, and summed to mono it combs. Both or neither."""
    text = body(two("Keys L; m: 0, db: 0", "Keys R; m: 0, db: 0", "keys"))
    one = only(judged(text, loop("Keys L")))
    assert (verdicts(one), frames(one.gap_in.typical)) == (("apart", "together"), L)
    assert one.second.startswith("Keys L")
    assert everywhere_together(judged(text, loop("Keys L"), loop("Keys R", 2)))


def test_two_halves_on_two_units_are_apart_by_the_difference() -> None:
    """301 frames against a box of 100 with 5 of desk: 196, whatever a strip link says."""
    units = LAPTOP.replace("}]", "}, {name: box, kind: hardware, out: local out 21, back: local in 21}]")
    text = body(two("Keys L; m: 0, db: 0", "Keys R; m: 0, db: 0", "keys"), units=units)
    box = insert_loop("Keys R", "local out 21", "local in 21", unit="box")
    one = only(judged(text, loop("Keys L"), box, more={"box": fixed(100)}))
    assert (one.gap_in.verdict, frames(one.gap_in.typical)) == ("apart", L - 105)


# Spill


def test_a_looped_singer_comes_closer_to_her_spill_in_the_overheads() -> None:
    """3 m are 8.74 ms; the loop takes 6.27 of them: 2.47. Another colour, but no further apart than they stand."""
    one = only(judged(body(two("Vox; m: 0, db: 0", "Overheads; m: 3, db: -12", "singer")), loop("Vox")))
    assert verdicts(one) == ("together", "together")
    assert one.gap_in.typical == pytest.approx(2.470 * MS, abs=1e-6)
    assert one.gap_out.typical == pytest.approx(8.741 * MS, abs=1e-6)


def test_a_partner_half_a_metre_away_with_one_headset_looped() -> None:
    """1.46 ms as they stand, 4.81 with one of the two looped: null 104 Hz. The vocal group looped: as they stand."""
    group = "{name: Voices, kind: group, width: mono, to: [Main]}"
    text = body(two("Lead; m: 0, db: 0", "Partner; m: 0.5, db: -6", "lead", to="Voices"), group)
    one = only(judged(text, loop("Lead")))
    assert one.gap_in.typical == pytest.approx(4.814 * MS, abs=1e-6)
    assert abs(one.gap_out.typical) == pytest.approx(1.457 * MS, abs=1e-6)
    assert one.first_null_hz == pytest.approx(104, abs=0.2)
    assert everywhere_together(judged(text, loop("Voices")))


def test_two_open_talkers_of_whom_one_is_looped_comb_while_both_are_open() -> None:
    """A gain-sharing panel: 1 m apart, one looped: 3.36 ms, null 149 Hz. All of the panel looped: as they sit."""
    text = body(two("Panel 1; m: 0.2, db: 0", "Panel 2; m: 1.2, db: -9", "talker"))
    one = only(judged(text, loop("Panel 1")))
    assert one.verdict == "apart"
    assert one.gap_in.typical == pytest.approx(3.357 * MS, abs=1e-6)
    assert everywhere_together(judged(text, loop("Panel 1"), loop("Panel 2", 2)))


def test_spill_more_than_25_decibels_down_is_dropped_and_told_where_a_lift_would_bring_it_back() -> None:
    """26 dB down: no meeting. If a compressor lifts it by 6 dB it is 20 dB down and ripples 1.7 dB: told, in a note."""
    text = body(two("Kick; m: 0, db: 0", "Vox; m: 1, db: -26", "kick"))
    found, how = compared(text, loop("Kick"))
    assert found == ()
    one = only(how.nearly)
    assert one.ripple_moved_db == pytest.approx(1.743, abs=0.001)
    (finding,) = nearly_findings(how)
    assert finding.code == "nearly-heard" and "1 cause of sound" in finding.what
    quieter = compared(text.replace("-26", "-31.5"), loop("Kick"))
    assert (quieter[0], quieter[1].nearly) == ((), ())


# Distances


def test_ambience_at_20_metres_stays_late_whatever_the_loop_does() -> None:
    """58.27 ms of air; the main's loop takes 6.27 of them: 52.0, in the order in which they stand."""
    stream = "{name: Stream, kind: matrix, width: stereo, from: [Main, House]}"
    house = "{name: House, kind: group, width: stereo}"
    main = "{name: Main, kind: main, width: stereo}"
    inputs = (
        "{ch: 1, name: Vox, port: stage 1, to: [Main], hears: {singer: {m: 0, db: 0}}}, "
        "{ch: 2, name: Ambience, port: stage 2, to: [House], hears: {singer: {m: 20, db: -10}}}"
    )
    text = body(inputs, main, house, stream, outputs=("{name: Net, from: Stream, port: local out 5-6}",))
    one = only(judged(text, loop("Main", legs=2)))
    # both go to their bus in 8 frames and on in 4, so only the air and the loop are left
    assert one.gap_in.typical == pytest.approx(52.004 * MS, abs=1e-6)
    assert one.gap_out.typical == pytest.approx(58.275 * MS, abs=1e-6)
    assert verdicts(one) == ("together", "together"), "no further apart than the distance makes them"


def test_a_wireless_and_a_wired_microphone_at_one_mouth() -> None:
    """3 ms of radio: 144 frames, null 166.7 Hz. The wired one delayed by as much is together with it."""
    text = body(two("Wireless; m: 0.3, db: 0; device_ms: 3", "Wired; m: 0.3, db: 0", "talker"))
    one = only(judged(text))
    assert (one.verdict, frames(one.gap_in.typical)) == ("apart", 144)
    assert one.first_null_hz == pytest.approx(166.67, abs=0.005)
    assert everywhere_together(judged(text.replace("name: Wired,", "name: Wired, delay_ms: 3,")))


def test_different_sources_on_unlike_paths_are_no_meeting() -> None:
    """Two microphones that hear nothing in common may be as late as they like."""
    inputs = "{ch: 1, name: Wireless, port: stage 1, device_ms: 3, to: [Main]}, " + (
        "{ch: 2, name: Wired, port: stage 2, to: [Main]}"
    )
    assert judged(body(inputs), loop("Wired")) == ()
