"""What arrives at seats and screens: main and sub, two loudspeakers, loudspeaker and source, sound and picture.

Sources: H. Haas, "Über den Einfluss eines Einfachechos auf die Hörsamkeit von Sprache", Acustica 1, 1951 (fusion from 5
to 35 ms); ITU-R BT.1359-1 (sound 45 ms early or 125 ms late is noticed). The 45° at the crossover are common practice,
no source. Air at 20 °C: 3.432 m are 10 ms.
"""

import math

import pytest

from sidetrip.graph.arrivals import State
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.remarks import meeting_findings
from smallshows import ALL_IN, fixed, insert_loop, mapped, plain_desk, show_from

DESK = plain_desk()
MAIN = insert_loop("Main", "aux out 1-2", "aux in 1-2", unit="laptop", card="1-2")


def _show(
    listeners: str, *, pa: str = "", sub: str = "crossover_hz: 80", tap: str = "before insert", inputs: int = 1
) -> str:
    voices = "\n".join(f"  - {{ch: {n}, name: Voice {n}, port: stage {n}, to: [Main]}}" for n in range(1, inputs + 1))
    return f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain}}]
inputs:
{voices}
mixes:
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Subs, kind: matrix, width: mono, from: {{Main: {{tap: {tap}}}}}}}
outputs:
  - {{name: PA, from: Main, port: local out 1-2{pa and ", " + pa}}}
  - {{name: Stack, from: Subs, port: local out 3{sub and ", " + sub}}}
listeners:
{listeners}
"""


def _meetings(text: str, *loops: PlacedLoop, trip: float = 112, state: State = ALL_IN) -> tuple[Meeting, ...]:
    line_map, arrivals = mapped(show_from(text, DESK), DESK, loops, {"laptop": fixed(trip)})
    return find_meetings(show_from(text, DESK), line_map, arrivals, (state,))[0]


ROW = "  - {name: row, hears: {PA: {m: 3.432}, Stack: {m: 3.432}}}"


# Main and sub


def test_a_sub_before_the_insert_of_the_main_is_early_by_the_loop() -> None:
    """The PA is 128 frames late and the sub 4 by its extra hop: 124 frames = 2.583 ms = 74.4° at 80 Hz."""
    (one,) = _meetings(_show(ROW), MAIN)
    assert one.kind == "main and sub"
    assert one.gap_in.typical == pytest.approx(124 / 48000)
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("apart", "together")
    assert one.gap_out.typical == pytest.approx(-4 / 48000)
    assert "PA comes 2.58 ms after Stack at row while the loops are IN, together when all are OUT: 74°" in one.sentence


def test_a_sub_behind_the_insert_stays_with_the_main() -> None:
    """Whatever the loop takes, IN or OUT, 4 frames of the extra hop are left: 2.4° at 80 Hz."""
    for trip in (112, 5000):
        (one,) = _meetings(_show(ROW, tap="after mute"), MAIN, trip=trip)
        assert (one.gap_in.verdict, one.gap_out.verdict) == ("together", "together")
        assert abs(one.gap_in.typical) == pytest.approx(4 / 48000)


@pytest.mark.parametrize(("ms", "verdict"), [(1.56, "together"), (1.57, "apart")])
def test_forty_five_degrees_at_the_crossover_is_the_limit(ms: float, verdict: str) -> None:
    """At 80 Hz an eighth of a cycle is 1.5625 ms, either way."""
    later = f"device_ms: {ms + 4 / 48}"
    assert _meetings(_show(ROW, pa=later))[0].verdict == verdict
    earlier = f"crossover_hz: 80, device_ms: {ms - 4 / 48}"
    assert _meetings(_show(ROW, sub=earlier))[0].verdict == verdict


def test_a_whole_cycle_late_only_looks_right() -> None:
    """12.54 ms are 361° at 80 Hz: the angle is 1°, the kick is a cycle late, and that is said."""
    (one,) = _meetings(_show(ROW, pa=f"device_ms: {12.54 + 4 / 48}"))
    assert one.verdict == "apart"
    assert "12.54 ms after Stack" in one.sentence
    assert "361° at 80 Hz" in one.sentence
    assert "a whole cycle late" in one.sentence


def test_the_next_angle_over_is_no_trap() -> None:
    """74° is plainly wrong and nothing is said of cycles."""
    assert "cycle" not in _meetings(_show(ROW), MAIN)[0].sentence


def test_one_wrong_sub_tap_is_one_entry_for_all_sources_and_rows() -> None:
    """Five voices and three rows, one tap before the insert: one meeting, naming every row."""
    rows = "\n".join(f"  - {{name: row {n}, hears: {{PA: {{m: {n}}}, Stack: {{m: {n}}}}}}}" for n in (3, 5, 9))
    (one,) = _meetings(_show(rows, inputs=5), MAIN)
    assert one.places == ("row 3", "row 5", "row 9")
    assert one.sources == tuple(f"Voice {n}" for n in range(1, 6))


def test_a_row_where_distance_makes_up_for_it_is_an_entry_of_its_own() -> None:
    """Where the sub stands 0.8866 m further away it is together IN, so that row is not named among the bad ones."""
    rows = f"{ROW}\n  - {{name: near, hears: {{PA: {{m: 3.432}}, Stack: {{m: 4.3186}}}}}}"
    verdicts = {one.places: (one.gap_in.verdict, one.gap_out.verdict) for one in _meetings(_show(rows), MAIN)}
    assert verdicts == {("row",): ("apart", "together"), ("near",): ("together", "apart")}


def test_without_a_loop_between_them_every_row_is_its_own_matter() -> None:
    """Distances alone: two rows, two entries."""
    rows = "\n".join(f"  - {{name: row {n}, hears: {{PA: {{m: {n}}}, Stack: {{m: 2}}}}}}" for n in (5, 9))
    assert len(_meetings(_show(rows))) == 2


def test_an_unknown_distance_cannot_be_told_and_is_named() -> None:
    """The deciding figure is the way to the row, not what lies before both loudspeakers."""
    rows = "  - {name: row, hears: {PA: {m: unknown}, Stack: {m: 3}}}"
    (one,) = _meetings(_show(rows, pa="device_ms: 2"), MAIN)
    assert one.verdict == "cannot tell"
    assert one.deciding == "air, PA to row"


def test_a_sub_is_not_held_against_what_comes_through_air() -> None:
    """It hardly carries what the voice itself brings: only the main is judged against both."""
    rows = "  - {name: row, hears: {Stack: {m: 3}, Voice 1: {m: 9}}}"
    assert _meetings(_show(rows)) == ()


# Two loudspeakers


def _fill(pa_ms: str) -> Meeting:
    rows = "  - {name: row, hears: {PA: {m: 3.432}, Stack: {m: 3.432, db: -1}}}"
    (one,) = _meetings(_show(rows, pa=f"device_ms: {pa_ms}", sub="", tap="after mute"))
    assert one.kind == "two loudspeakers"
    return one


@pytest.mark.parametrize(
    ("ms", "verdict", "words"),
    [
        (0.9, "together", "heard as one."),
        (1.1, "apart", "hollow"),
        (4.9, "apart", "hollow"),
        (5.1, "together", "heard as one, from Stack."),
        (29.9, "together", "heard as one, from Stack."),
        (30.1, "apart", "an echo."),
    ],
)
def test_loudspeakers_meet_together_fused_hollow_or_as_an_echo(ms: float, verdict: str, words: str) -> None:
    """Within 1 ms together, from 5 to 30 ms fused from the earlier one, hollow in between, an echo beyond."""
    one = _fill(str(ms + 4 / 48))
    assert one.verdict == verdict
    assert words in one.sentence


@pytest.mark.parametrize(
    ("ms", "verdict"),
    [
        ("6 to 20", "together"),
        ("2 to 4", "apart"),
        ("31 to 40", "apart"),
        ("4 to 6", "cannot tell"),  # hollow or fused
        ("20 to 40", "cannot tell"),  # fused or an echo
        ("0 to 40", "cannot tell"),
        ("0.1 to 20", "cannot tell"),  # together, hollow or fused
    ],
)
def test_a_range_is_judged_by_all_that_it_may_be(ms: str, verdict: str) -> None:
    """A verdict holds for the whole range, or there is none and the figure is named."""
    one = _fill(ms)
    assert one.verdict == verdict
    assert (one.deciding is not None) == (verdict == "cannot tell")


def test_a_range_around_nothing_is_not_fused() -> None:
    """Ten ms early to twenty late may be hollow as well."""
    rows = "  - {name: row, hears: {PA: {m: 3.432}, Stack: {m: 3.432}}}"
    text = _show(rows, pa="device_ms: 0 to 30", sub="device_ms: 10", tap="after mute")
    assert _meetings(text)[0].verdict == "cannot tell"


def test_of_what_shares_a_loudspeaker_only_the_loudest_is_compared() -> None:
    """Two ways into the PA meet in the main already; at the row the PA is held against the fill once."""
    rows = "  - {name: row, hears: {PA: {m: 3.432}, Stack: {m: 10.296}}}"
    text = _show(rows, sub="", tap="after mute").replace("to: [Main]", "to: [Main, Extra]")
    text = text.replace("mixes:", "mixes:\n  - {name: Extra, kind: group, width: mono, to: [Main]}")
    assert sorted(one.kind for one in _meetings(text)) == ["electrical", "two loudspeakers"]


def test_loudspeaker_and_source_meet_in_the_air() -> None:
    """Both 10 ms away, and the PA later by the desk's 54 frames = 1.125 ms: just over the limit of 1 ms."""
    rows = "  - {name: row, hears: {PA: {m: 3.432}, Voice 1: {m: 3.432, db: -6}}}"
    (one,) = _meetings(_show(rows))
    assert one.kind == "two loudspeakers"
    assert one.gap_in.typical == pytest.approx(54 / 48000)
    assert (one.first, one.verdict) == ("through the air", "apart")
    assert "after Voice 1 itself" in one.sentence


def test_with_the_unit_dead_the_other_is_alone() -> None:
    """No main: the sub is alone, and nothing is apart."""
    dead = State("laptop dead", "unit dead", dead=frozenset(["Main"]))
    (one,) = _meetings(_show(ROW), MAIN, state=dead)
    assert (one.gap_in.verdict, one.gap_out.verdict, one.verdict) == ("alone", "together", "together")


# Picture


def _picture(delay: str, *loops: PlacedLoop, device: str = "10") -> Meeting:
    text = f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain}}]
inputs: [{{ch: 1, name: Voice, port: stage 1, to: [Main]}}]
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: Web, from: Main, port: local out 1-2, device_ms: {device}, picture_delay_ms: {delay}}}]
"""
    (one,) = _meetings(text, *loops)
    assert one.kind == "picture"
    return one


@pytest.mark.parametrize(
    ("delay", "verdict"),
    [("56", "together"), ("56.2", "apart"), ("0", "together"), ("11.125", "together"), ("120", "apart")],
)
def test_sound_may_be_45_ms_early(delay: str, verdict: str) -> None:
    """Sound comes after 54 frames and 10 ms = 11.125 ms: a picture after 56.125 ms is the limit."""
    assert _picture(delay).verdict == verdict


@pytest.mark.parametrize(("device", "verdict"), [("123.8", "together"), ("123.9", "apart")])
def test_sound_may_be_125_ms_late(device: str, verdict: str) -> None:
    """1.125 ms of desk and a device of 123.875 ms, against a picture at once."""
    assert _picture("0", device=device).verdict == verdict


def test_the_sentence_says_what_to_dial_and_where() -> None:
    """108.9 ms early: delay the sound at the encoder; 130 ms late: delay the picture."""
    assert "delay the sound at the encoder by 108.9 ms" in _picture("120").sentence
    late = _picture("0", device="128.875")
    assert "130.0 ms after its picture" in late.sentence
    assert "delay the picture by 130.0 ms" in late.sentence


def test_a_picture_that_is_off_only_when_loops_are_out_says_so() -> None:
    """IN 13.79 ms, OUT 11.125: a picture after 58 ms is 44.2 early IN and 46.9 OUT."""
    one = _picture("58", MAIN)
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("together", "apart")
    assert "46.9 ms before its picture when all loops are OUT" in one.sentence
    (finding,) = meeting_findings((one,))
    assert finding.code == "picture-off"
    assert "will not notice" not in finding.what


@pytest.mark.parametrize(
    ("delay", "device", "deciding"),
    [
        ("unknown", "10", "picture delay of Web"),
        ("40 to 80", "10", "picture delay of Web"),
        ("120", "unknown", "Web, after the desk"),
        ("60", "10 to 30", "Web, after the desk"),
    ],
)
def test_a_picture_of_which_too_little_is_known_cannot_be_told(delay: str, device: str, deciding: str) -> None:
    """Unknown on either side, or a range across the limit: no verdict, and the figure to find out is named."""
    one = _picture(delay, device=device)
    assert one.verdict == "cannot tell"
    assert one.deciding == deciding
    assert not math.isnan(one.gap_in.low)
