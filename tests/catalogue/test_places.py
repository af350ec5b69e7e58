"""Ways a loop breaks timing between loudspeakers, and against the stage and the weather, with answers by hand.

Air at 20 °C: 343.2 m/s (ISO 9613-1:1993, formula A.5). A loop is 301 frames = 6.27083 ms. Heard as one from 5 to 30 ms:
H. Haas, Acustica 1, 1951. 45° at the crossover: common practice, no source.
"""

import math

import pytest

from catalogue.kit import MAIN, PA, L, body, frames, judged, loop, only, verdicts
from sidetrip.graph.arrivals import State
from sidetrip.plan.crossover import loss_db
from sidetrip.plan.meeting_remarks import meeting_findings

MS = 1e-3
LOOP = L / 48000
VOX = "{ch: 1, name: Vox, port: stage 1, to: [Main]}"
MAIN_LOOP = loop("Main", legs=2)


def zone(name: str, tap: str, more: str = "", out: int = 3) -> tuple[str, str]:
    """Return a matrix from the main, taken at a tap, and the output that it feeds."""
    mix = f"{{name: {name} mix, kind: matrix, width: mono, from: {{Main: {{tap: {tap}}}}}}}"
    return mix, f"{{name: {name}, from: {name} mix, port: local out {out}{more and ', ' + more}}}"


def room(name: str, tap: str, hears: str, more: str = "", pa: str = PA) -> str:
    """Return a show with a PA, one more zone, and a row that hears both."""
    mix, output = zone(name, tap, more)
    return body(VOX, MAIN, mix, outputs=(pa, output), listeners=f"[{{name: row, hears: {{{hears}}}}}]")


# Main and sub


@pytest.mark.parametrize(("crossover", "angle", "lost"), [(80, 181, "nothing left"), (100, 226, "8.")])
def test_a_sub_taken_before_the_insert_of_the_main(crossover: int, angle: int, lost: str) -> None:
    """301 frames early: 181° at 80 Hz, 226° at 100 Hz; -46 and -8 dB of sum where both are alike loud.

    The sub's own hop of 4 frames is made up for by 4 frames in the PA, so that L alone is left.
    """
    pa = PA.replace("}", f", device_ms: {4 / 48}}}")
    hears = "PA: {m: 8}, Sub: {m: 8}"
    one = only(judged(room("Sub", "before insert", hears, f"crossover_hz: {crossover}", pa), MAIN_LOOP))
    assert (one.kind, verdicts(one)) == ("main and sub", ("apart", "together"))
    assert f"{angle}° at {crossover} Hz" in one.sentence
    assert lost in one.sentence
    # 20·log|cos(pi·f·L)| with 6.27083 ms: f·L is 0.501667 and 0.627083 cycles
    assert one.crossover_loss_db == pytest.approx({80: -45.62, 100: -8.21}[crossover], abs=0.005)
    after = only(judged(room("Sub", "after mute", hears, f"crossover_hz: {crossover}", pa), MAIN_LOOP))
    assert verdicts(after) == ("together", "together"), "fed behind the insert it follows the loop"


def test_a_short_loop_costs_the_crossover_little() -> None:
    """1.5 ms at 80 Hz: 43°, 0.6 dB; within 45° and together."""
    one = only(judged(room("Sub", "before insert", "PA: {m: 8}, Sub: {m: 8}", "crossover_hz: 80"), MAIN_LOOP, trip=60))
    assert frames(one.gap_in.typical) == 72  # 16 + 60 of loop, less 4 of the sub's hop
    assert one.verdict == "together"
    assert one.crossover_loss_db == pytest.approx(20 * math.log10(math.cos(math.pi * 80 * 72 / 48000)))


@pytest.mark.parametrize(("trip", "lost", "code"), [(60, 1.0, "heard-faintly"), (64, 1.12, "heard-twice")])
def test_a_loop_of_a_millisecond_and_a_half_costs_a_decibel_at_100_hz(trip: int, lost: float, code: str) -> None:
    """72 frames are 54° at 100 Hz: 1.0 dB, told and not warned of. 76 are 57° and 1.12 dB: warned of."""
    found = judged(room("Sub", "before insert", "PA: {m: 8}, Sub: {m: 8}", "crossover_hz: 100"), MAIN_LOOP, trip=trip)
    one = only(found)
    assert one.crossover_loss_db == pytest.approx(-lost, abs=0.005)
    assert [finding.code for finding in meeting_findings(found)] == [code]


@pytest.mark.parametrize(("late_ms", "verdict"), [(1.38, "together"), (1.40, "apart")])
def test_45_degrees_at_90_hz_are_a_millisecond_and_four_tenths(late_ms: float, verdict: str) -> None:
    """1 / (8 · 90) s = 1.389 ms; either way. The sub's own hop of 4 frames is a part of it."""
    for delayed in (late_ms, -late_ms):
        pa = PA if delayed > 0 else PA.replace("}", f", delay_ms: {late_ms + 4 / 48}}}")
        sub = f"delay_ms: {late_ms - 4 / 48}, " if delayed > 0 else ""
        hears = "PA: {m: 8}, Sub: {m: 8}"
        one = only(judged(room("Sub", "after mute", hears, f"{sub}crossover_hz: 90", pa)))
        assert one.verdict == verdict
        assert abs(one.gap_in.typical) == pytest.approx(late_ms * MS)


def test_a_whole_cycle_off_is_not_in_phase() -> None:
    """Two loops in series: 602 frames, at 80 Hz a whole cycle and 1°. Half an octave off it a hole: said, with dB."""
    text = room("Sub", "before insert", "PA: {m: 8}, Sub: {m: 8}", "crossover_hz: 80")
    pa = f"device_ms: {(L + 4) / 48}"
    one = only(judged(text.replace("local out 1-2", f"local out 1-2, {pa}"), MAIN_LOOP))
    assert (one.verdict, frames(one.gap_in.typical)) == ("apart", 2 * L)
    assert one.crossover_loss_db == pytest.approx(loss_db(2 * L / 48000, 80))
    assert abs(one.crossover_loss_db or 99) < 0.01
    assert one.octave_loss_db is not None and one.octave_loss_db < -2
    assert "a whole cycle late" in one.sentence and "lost within half an octave" in one.sentence


@pytest.mark.parametrize(("fir_ms", "verdict"), [(10.6458, "apart"), (0, "together")])
def test_a_linear_phase_filter_before_the_subs_only(fir_ms: float, verdict: str) -> None:
    """1023 taps are 511 frames = 10.6458 ms: at 80 Hz 307°. The same in the main cures it."""
    text = room("Sub", "after mute", "PA: {m: 8}, Sub: {m: 8}", f"crossover_hz: 80, device_ms: {fir_ms}")
    one = only(judged(text, MAIN_LOOP))
    assert one.verdict == verdict
    if fir_ms:
        both = text.replace("port: local out 1-2", f"port: local out 1-2, device_ms: {fir_ms}")
        assert only(judged(both, MAIN_LOOP)).verdict == "together"


# Loudspeakers


def test_a_centre_cluster_without_the_loop_of_the_main() -> None:
    """Left and right 6.27 ms behind the centre: fused, but heard from the centre; behind the insert together."""
    hears = "PA: {m: 10}, Centre: {m: 10}"
    pa = PA.replace("}", f", device_ms: {4 / 48}}}")
    one = only(judged(room("Centre", "before insert", hears, pa=pa), MAIN_LOOP))
    assert (frames(one.gap_in.typical), one.image_in, one.image_out) == (L, "Centre", "")
    both = only(judged(room("Centre", "after mute", hears, pa=pa), MAIN_LOOP))
    assert verdicts(both) == ("together", "together")
    assert frames(both.gap_in.typical) == 0


def test_front_fills_before_the_insert_pull_the_image_down() -> None:
    """Row A: PA 4 m further. OUT the fill leads by 11.65 less the 12 ms it is delayed, so the PA by 0.43; IN the fill.

    Fill delayed 12 ms and 4 frames later: OUT it comes 0.43 ms after the PA, IN 5.84 before it.
    """
    text = room("Fill", "before insert", "PA: {m: 6, db: 0}, Fill: {m: 2, db: 0}", "delay_ms: 12")
    one = only(judged(text, MAIN_LOOP))
    out = 12 * MS + 4 / 48000 - 4 / 343.2
    assert abs(one.gap_out.typical) == pytest.approx(out, abs=1e-8)
    assert abs(one.gap_in.typical) == pytest.approx(LOOP - out, abs=1e-8)
    assert (one.image_in, one.image_out) == ("Fill", "")
    later = only(judged(text.replace("delay_ms: 12", f"delay_ms: {12 + L / 48}"), MAIN_LOOP))
    assert later.gap_in.verdict == "together", "the fill delayed by the loop as well"
    assert only(judged(text.replace("before insert", "after mute"), MAIN_LOOP)).image_in == ""


def test_a_delayed_loudspeaker_before_the_insert_lands_early() -> None:
    """11 m = 32.05 ms, dialled 42.1 to be 10 late: with the main looped it lands 3.77 after, not 10.05."""
    text = room("Tower", "before insert", "PA: {m: 14}, Tower: {m: 3}", f"delay_ms: {42.1 - 4 / 48}")
    one = only(judged(text, MAIN_LOOP))
    assert one.gap_out.typical == pytest.approx(42.1 * MS - 11 / 343.2, abs=1e-8)
    assert one.gap_in.typical == pytest.approx(42.1 * MS - 11 / 343.2 - LOOP, abs=1e-8)
    assert one.gap_in.typical == pytest.approx(3.78 * MS, abs=0.01 * MS)
    assert verdicts(one) == ("apart", "together")
    repaired = only(judged(text.replace("before insert", "after mute"), MAIN_LOOP))
    assert verdicts(repaired) == ("together", "together")
    assert repaired.gap_in == repaired.gap_out


def test_a_loudspeaker_ten_decibels_stronger_keeps_the_image() -> None:
    """10 ms late and 10 dB louder it is heard by itself; 9 dB louder the first still has it."""
    for db, image in ((10, "Tower"), (9, "PA")):
        hears = f"PA: {{m: 3, db: 0}}, Tower: {{m: 3, db: {db}}}"
        one = only(judged(room("Tower", "after mute", hears, f"delay_ms: {10 - 4 / 48}"), MAIN_LOOP))
        assert (one.image_in, one.verdict) == (image, "together")
        assert f"heard as one, from {image}." in one.sentence


def test_a_drive_aligned_with_the_loop_out_and_run_in() -> None:
    """Both columns are always there: dialled OUT, a fill, a sub and a tower are each wrong by L when IN."""
    for name, more in (("Fill", "delay_ms: 5"), ("Tower", "delay_ms: 20")):
        one = only(judged(room(name, "before insert", f"PA: {{m: 3}}, {name}: {{m: 3}}", more), MAIN_LOOP))
        assert abs(one.gap_out.typical - one.gap_in.typical) == pytest.approx(LOOP, abs=1e-9)


def test_a_bypass_moves_every_spread_across_the_loop_and_the_state_is_named() -> None:
    """The worst planned state is found, whatever its name; zones behind the insert do not move."""
    text = room("Tower", "before insert", "PA: {m: 3}, Tower: {m: 3}", f"delay_ms: {(L - 4) / 48}")
    states = (State("Main OUT", "loop out", out=frozenset(["Main"])),)
    one = only(judged(text, MAIN_LOOP, states=states))
    assert verdicts(one) == ("together", "together"), "6.27 ms late it is heard as one"
    other = room("Tower", "before insert", "PA: {m: 3}, Tower: {m: 3}", "delay_ms: 3")
    bad = only(judged(other, MAIN_LOOP, states=states))
    assert set(bad.apart_in) == {"all IN", "all OUT", "Main OUT"}
    assert bad.gap_worst is not None and frames(abs(bad.gap_worst.typical)) == pytest.approx(L - 4 - 144)


def test_the_loop_can_bring_the_pa_to_the_kit_behind_it() -> None:
    """A kit 2.5 m behind the PA is 7.28 ms late; 54 frames of desk and the loop take 7.40 of it: together IN only.

    OUT the PA leads by 6.16 ms, which is fused, and heard from the PA.
    """
    text = body(VOX.replace("Vox", "Snare"), listeners="[{name: row, hears: {PA: {m: 8}, Snare: {m: 10.5, db: -6}}}]")
    one = only(judged(text, MAIN_LOOP))
    air, desk = 2.5 / 343.2, 54 / 48000
    assert abs(one.gap_in.typical) == pytest.approx(abs(air - desk - LOOP), abs=1e-8)
    assert abs(one.gap_out.typical) == pytest.approx(air - desk, abs=1e-8)
    assert verdicts(one) == ("together", "together")
    assert (one.image_in, one.image_out) == ("", "PA")


def test_hearing_assistance_far_behind_the_stage_is_an_echo() -> None:
    """A transmitter of 35 ms against the talker 1 m away: an echo; before the loop and quick it is heard as one."""
    rows = "[{name: seat, hears: {Assist: {m: 0}, Vox: {m: 1, db: -3}}}]"
    mix, output = zone("Assist", "after mute", "device_ms: 35")
    one = only(judged(body(VOX, MAIN, mix, outputs=(PA, output), listeners=rows), MAIN_LOOP))
    assert (one.gap_in.verdict, "an echo" in one.sentence) == ("apart", True)
    mix, output = zone("Assist", "before insert", "device_ms: 8")
    assert only(judged(body(VOX, MAIN, mix, outputs=(PA, output), listeners=rows), MAIN_LOOP)).verdict == "together"


def test_headphones_at_the_desk_against_a_pa_25_metres_away() -> None:
    """72.8 ms: an echo to the engineer alone; headphones delayed by as much are together with it."""
    mix, output = zone("Phones", "after mute")
    rows = "[{name: desk, hears: {PA: {m: 25}, Phones: {m: 0}}}]"
    text = body(VOX, MAIN, mix, outputs=(PA, output), listeners=rows)
    one = only(judged(text, MAIN_LOOP))
    assert one.gap_in.typical == pytest.approx(25 / 343.2 - 4 / 48000, abs=1e-8)
    assert "an echo" in one.sentence
    delayed = text.replace("port: local out 3", f"port: local out 3, delay_ms: {25000 / 343.2}")
    assert only(judged(delayed, MAIN_LOOP)).verdict == "together"


def test_the_evening_moves_a_tower_60_metres_out_by_two_thirds_of_a_loop() -> None:
    """28 °C to 14 °C: 172.5 to 176.6 ms, so a tower timed at noon is 4.1 ms early at night."""
    text = room("Tower", "after mute", "PA: {m: 62}, Tower: {m: 2}", f"delay_ms: {172.5 - 4 / 48}")
    noon, night = (
        only(judged(text + f"air: {{temperature_c: {degrees}}}\n", MAIN_LOOP)).gap_in.typical for degrees in (28, 14)
    )
    assert abs(noon) < 0.05 * MS
    # 60/331.3·sqrt(273.15/T) by hand: 172.49 and 176.64 ms
    assert abs(night) - abs(noon) == pytest.approx(4.1 * MS, abs=0.1 * MS)
