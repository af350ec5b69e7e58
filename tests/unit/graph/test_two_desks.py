"""Ways through a second desk, by hand: from the split, by a tie, by its type, and what nobody knows of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.graph.arrivals import Arrivals
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from smallshows import ALL_IN, RATE, all_out, bounds_at, fixed, frames_at, insert_loop, mapped, plain_desk
from twodesks import two_desks

DESK = plain_desk()
MS = RATE / 1000
BOX = "units: [{name: box, kind: hardware, out: aux out 1, back: aux in 1, delay_ms: 0}]"
LOOP = insert_loop("Singer", "aux out 1", "aux in 1")


def _body(other: str, ears: str = "[Singer]", more: str = "") -> str:
    return f"""
        {BOX}
        other_desks: [{{name: monitors, {other}}}]
        inputs:
          - {{name: Singer, ch: 1, port: stage 1, to: [Main], device_ms: 3.0}}
          - {{name: Keys, ch: 2, port: stage 2, to: [Main]}}
        mixes:
          - {{name: Main, kind: main, width: stereo}}
          - {{name: Ears, desk: monitors, kind: aux, width: mono, for: singer, listens: in-ear, device_ms: 3.5,
             from: {ears}}}
        {more}
        outputs: [{{name: PA, from: Main, port: local out 1-2}}]
    """


def _mapped(body: str, other: Desk | None = None, frames: float = 331, loop: PlacedLoop = LOOP) -> Arrivals:
    return mapped(two_desks(body, DESK, other), DESK, [loop], {"box": fixed(frames)})[1]


@given(frames=st.integers(0, 4096))
def test_ears_on_the_other_desk_know_nothing_of_a_loop(frames: int) -> None:
    """Microphone 3.0 ms, monitor desk 1.2 ms, in-ears 3.5 ms: 7.7 ms, IN and OUT, however late the loop is."""
    arrivals = _mapped(_body("through_ms: 1.2"), frames=frames)
    for state in (ALL_IN, all_out(arrivals)):
        assert frames_at(arrivals, "Singer", "Ears", state) == pytest.approx(7.7 * MS)
    # stage to channel 30, to main 8, to its jack 16; the loop: 3 out, 2 back, and the box
    assert frames_at(arrivals, "Singer", "PA") == pytest.approx(3.0 * MS + 54 + 5 + frames)
    assert frames_at(arrivals, "Singer", "PA", all_out(arrivals)) == pytest.approx(3.0 * MS + 54)


def test_a_type_tells_the_times_of_the_other_desk() -> None:
    """Stage to channel 30 frames, channel to aux 8, aux to its jack 16, at that desk's own rate."""
    arrivals = _mapped(_body("type: theirs.yaml"), plain_desk())
    assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(6.5 * MS + 54)
    arrivals = _mapped(_body("type: theirs.yaml, sample_rate: 96000, split: analogue"), plain_desk())
    assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(6.5 * MS + 54 / 2)


def test_a_measured_figure_goes_before_the_type() -> None:
    """1.2 ms that somebody measured count, and not the 54 frames of the type; a range stays one."""
    assert frames_at(_mapped(_body("type: theirs.yaml, through_ms: 1.2"), plain_desk()), "Singer", "Ears") == (
        pytest.approx(7.7 * MS)
    )
    bounds = bounds_at(_mapped(_body("through_ms: 1 to 2")), "Singer", "Ears")
    assert bounds == pytest.approx((7.5 * MS, 8.5 * MS))


def test_a_tie_behind_the_insert_carries_the_loop_along() -> None:
    """IN the tie is late by the whole loop, 336 frames; OUT, or taken before the insert, it is not."""
    for tie, loop in (("after insert", 336), ("before insert", 0), ("input", 0), ("after mute", 336)):
        ears = f"{{Singer: {{db: 0, tie: {tie}}}}}"
        arrivals = _mapped(_body("through_ms: 1.2, tie_ms: 0.5", ears))
        dry = 3.0 * MS + 30 + (0.5 + 1.2 + 3.5) * MS
        assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(dry + loop), tie
        assert frames_at(arrivals, "Singer", "Ears", all_out(arrivals)) == pytest.approx(dry), tie


def test_a_tie_of_a_group_comes_in_on_any_jack_of_the_type() -> None:
    """Nobody says on which jack: between 20 frames (local in) and 30 (stage) to the channel, 8 and 16 behind it."""
    more = "  - {name: Band, kind: group, width: mono, from: [Keys], to: [Main]}"
    arrivals = _mapped(_body("type: theirs.yaml, tie_ms: 0.5", "{Band: {db: 0, tie: after mute}}", more), plain_desk())
    bounds = bounds_at(arrivals, "Keys", "Ears")
    assert bounds == pytest.approx((30 + 8 + 4.0 * MS + 44, 30 + 8 + 4.0 * MS + 54))


def test_a_rate_converter_counts_where_preamps_are_shared() -> None:
    """Shared: its 0.5 ms are on the way. Analogue: there is none. Not said: between the two."""
    for split, bounds in (("shared", (8.2, 8.2)), ("analogue", (7.7, 7.7)), ("unknown", (7.7, 8.2))):
        arrivals = _mapped(_body(f"through_ms: 1.2, split: {split}, converter_ms: 0.5"))
        assert bounds_at(arrivals, "Singer", "Ears") == pytest.approx([own * MS for own in bounds]), split


@pytest.mark.parametrize(
    ("other", "ears", "key"),
    [
        ("split: shared", "[Singer]", "through_ms"),
        ("through_ms: unknown", "[Singer]", "through_ms"),
        ("through_ms: 1.2, split: shared, sample_rate: 96000", "[Singer]", "converter_ms"),
        ("through_ms: 1.2, split: shared, converter_ms: unknown", "[Singer]", "converter_ms"),
        ("through_ms: 1.2", "{Singer: {db: 0, tie: input}}", "tie_ms"),
    ],
)
def test_what_is_not_known_of_the_other_desk_leaves_the_ears_open(other: str, ears: str, key: str) -> None:
    """The time has no upper bound, and one finding names the figure to measure."""
    show = two_desks(_body(other, ears), DESK)
    line_map, arrivals = mapped(show, DESK, [LOOP], {"box": fixed(331)})
    low, high = bounds_at(arrivals, "Singer", "Ears")
    assert math.isinf(high)
    assert low >= 6.5 * MS - 1e-6
    found = [finding for finding in line_map.findings if finding.code == "delay-unknown"]
    assert [(finding.where, key in finding.remedy) for finding in found] == [("other_desks / monitors", True)]


def test_clocks_that_differ_make_a_converter_unknown() -> None:
    """A desk that follows itself has a rate converter between, and nobody has said how late it is."""
    clock = "clock: {leader: desk, devices: [{name: monitors, follows: itself, converter: theirs}]}\n"
    body = _body("through_ms: 1.2, split: shared").replace(BOX, clock + "        " + BOX)
    assert math.isinf(bounds_at(_mapped(body), "Singer", "Ears")[1])


def test_a_loop_in_line_is_not_on_the_split() -> None:
    """A block that goes out before the strip is still behind the split."""
    loop = replace(LOOP, way="in-line")
    arrivals = _mapped(_body("through_ms: 1.2"), loop=loop)
    assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(7.7 * MS)
    loops = {row.place.name: row.loops for row in arrivals.rows if row.source == "Singer" and row.microphone}
    assert loops == {"Ears": (), "PA": ("Singer",)}


def test_a_switch_and_a_delay_of_foh_stay_at_foh() -> None:
    """Polarity and the delay line of the FOH strip are not on the other desk's strip; a delay of its mix is."""
    body = _body("through_ms: 1.2").replace("device_ms: 3.0", "device_ms: 3.0, delay_ms: 5, inverted: yes")
    body = body.replace("device_ms: 3.5", "device_ms: 3.5, delay_ms: 2")
    arrivals = _mapped(body)
    assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(9.7 * MS)
    inverted = {row.place.name: row.inverted for row in arrivals.rows if row.microphone}
    assert inverted == {"Ears": False, "PA": True}


def test_outputs_of_the_other_desk_are_places() -> None:
    """A wedge on that desk's own jack is late by that desk; ears behind an output pass it."""
    body = _body("type: theirs.yaml").replace(
        "outputs: [", "outputs: [{name: Pack, from: Ears, port: monitors local out 3, device_ms: 1}, "
    )
    arrivals = _mapped(body, plain_desk())
    assert frames_at(arrivals, "Singer", "Pack") == pytest.approx(4.0 * MS + 54)
    assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(7.5 * MS + 54)


def test_the_other_desk_holds_copies_back_like_any_desk_of_its_type() -> None:
    """Direct 8 frames, by a group 8 and 4: the direct copy waits 4, or as long as that desk can."""
    more = "  - {name: Choir, desk: monitors, kind: group, width: mono, from: [Keys], to: [Ears]}"
    for limit, direct in (("64", 12), ("1", 9)):
        held = f'[{{at: aux, holds: channel, limit_frames: {limit}, external_inserts: "no"}}]'
        theirs = plain_desk(tail=f"compensation: {held}")
        arrivals = _mapped(_body("type: theirs.yaml", "[Singer]", more), theirs)
        assert frames_at(arrivals, "Singer", "Ears") == pytest.approx(6.5 * MS + 30 + direct + 16)
        assert frames_at(arrivals, "Keys", "Ears") == pytest.approx(3.5 * MS + 30 + 12 + 16)


def test_a_double_patched_microphone_is_taken_from_its_port() -> None:
    """Two strips of one port, one with the loop: the split is before both, and one device is before the split."""
    body = _body("through_ms: 1.2", "[Dry]").replace(
        "          - {name: Keys", "          - {name: Dry, ch: 3, port: stage 1, to: [Main]}\n          - {name: Keys"
    )
    arrivals = _mapped(body)
    times = arrivals.times(ALL_IN)
    ears = [index for index, row in enumerate(arrivals.rows) if row.place.name == "Ears" and row.microphone]
    assert [float(times.high[index]) for index in ears] == pytest.approx([7.7e-3])
