"""sidetrip's table of what people accept against the studies and recommendations it names (tolerance.toml)."""

import pytest

from catalogue.kit import MAIN, PA, body, judged, only
from checks.loader import Check, load
from sidetrip.graph.air import air_delay_s
from sidetrip.plan import tolerance
from sidetrip.plan.comb import null_hz
from sidetrip.plan.gap import Gap
from sidetrip.plan.image import image_of
from sidetrip.plan.pictures import PICTURE_EARLY_S, PICTURE_LATE_S
from sidetrip.plan.tolerance import PICTURE, rated
from sidetrip.units import ms_from_seconds, seconds_from_ms

CHECKS = load("tolerance")
_INSTRUMENTS = ("saxophone", "voice", "guitar", "drums", "bass", "keyboard")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


@_of("rated")
def test_ratings_by_instrument_are_those_of_the_study(check: Check) -> None:
    """Lester & Boley 2007, table 1: the time up to which the rating stays in the band."""
    found = [rated(name, "wedge" if check.one("wedge") else "in-ear") for name in _INSTRUMENTS]
    assert all(found)
    check.assert_equal({"up_to_ms": [own.fair_ms if check.one("fair") else own.good_ms for own in found if own]})


@_of("picture")
def test_sound_and_picture_have_the_limits_of_the_recommendation(check: Check) -> None:
    """ITU-R BT.1359-1; what meetings call noticed is the first of the two."""
    noticed, accepted = PICTURE[0], PICTURE[1]
    assert (ms_from_seconds(PICTURE_EARLY_S), ms_from_seconds(PICTURE_LATE_S)) == (noticed.early_ms, noticed.late_ms)
    check.assert_equal(
        {
            "noticed_ms": [noticed.early_ms, noticed.late_ms],
            "accepted_ms": [accepted.early_ms, accepted.late_ms],
        }
    )


@_of("production")
def test_production_has_tighter_limits(check: Check) -> None:
    """EBU R 37: each stage, and the feed to the transmitter."""
    stage, output = PICTURE[2], PICTURE[3]
    check.assert_equal({"stage_ms": [stage.early_ms, stage.late_ms], "output_ms": [output.early_ms, output.late_ms]})


@_of("conversation")
def test_a_conversation_has_its_limits(check: Check) -> None:
    """ITU-T G.114."""
    check.assert_equal({"delay_ms": [tolerance.SPEECH_COMFORTABLE_MS, tolerance.SPEECH_AT_MOST_MS]})


def _late(ms: float, level_db: float) -> str:
    spread = seconds_from_ms(ms)
    return image_of(Gap(spread, spread, "together"), "first", "second", level_db)


@_of("echo")
def test_a_later_sound_has_to_be_ten_decibels_stronger(check: Check) -> None:
    """Haas 1951: for 5 to 30 ms."""
    heard = [_late(ms, db) == "second" for ms in check.many("late_ms") for db in check.many("level_db")]
    check.assert_equal({"heard_by_itself": [int(own) for own in heard]})


def _said(ms: float) -> tuple[str, bool]:
    """Return the verdict on a second loudspeaker so late at a seat, and whether an echo is said of it."""
    mix = "{name: Low, kind: matrix, width: mono, from: [Main]}"
    fill = f"{{name: Fill, from: Low, port: local out 3, delay_ms: {ms - 4 / 48}}}"  # a hop of 4 frames on the way
    seats = "[{name: seat, hears: {PA: {m: 5}, Fill: {m: 5}}}]"
    voice = "{ch: 1, name: Vox, port: stage 1, to: [Main]}"
    one = only(judged(body(voice, MAIN, mix, outputs=(PA, fill), listeners=seats)))
    return one.verdict, "an echo" in one.sentence


@_of("discrete")
def test_what_comes_much_later_is_an_echo(check: Check) -> None:
    """Haas 1951: fused up to some 30 ms, discrete from 50 on."""
    found = [_said(ms) for ms in check.many("late_ms")]
    assert [verdict == "apart" for verdict, _ in found] == [echo for _, echo in found]
    check.assert_equal({"an_echo": [int(echo) for _, echo in found]})


@_of("precedence")
def test_the_first_to_arrive_has_the_place(check: Check) -> None:
    """Litovsky et al. 1999: summing localisation below about 1 ms, precedence above."""
    check.assert_equal({"first_has_it": [int(_late(ms, 0) == "first") for ms in check.many("late_ms")]})


@_of("ensemble")
def test_players_keep_their_tempo_at_this_delay(check: Check) -> None:
    """Chafe & Gurevich 2004."""
    check.assert_equal({"delay_ms": tolerance.ENSEMBLE_STEADY_MS})


@_of("own_voice")
def test_own_voice_is_coloured_from_ten_ms_on(check: Check) -> None:
    """Marentakis et al. 2012."""
    check.assert_equal({"delay_ms": [tolerance.OWN_VOICE_UNCOLOURED_MS, tolerance.OWN_VOICE_COLOURED_MS]})


@_of("own_voice_null")
def test_own_voice_has_its_first_null_at_half_a_cycle(check: Check) -> None:
    """Formula 1/(2t)."""
    check.assert_equal({"first_null_hz": [null_hz(seconds_from_ms(ms)) for ms in check.many("late_ms")]})


@_of("wedge_air")
def test_a_wedge_is_late_by_its_distance(check: Check) -> None:
    """Formula d/c with c from ISO 9613-1, Annex A."""
    check.assert_equal({"delay_ms": [ms_from_seconds(air_delay_s(m, 20)) for m in check.many("distance_m")]})
