"""Shows summed by hand: loops on inserts and outputs, one behind the other, on one unit and on two.

Frames of the plain desk at 48 kHz: stage to channel 30, channel to any mix 8, mix to mix 4, mix to jack 16, insert to
aux out 3, aux out to card 5, card to aux in 6, aux in to insert 2, insert to local out 3, local in to insert 2, local
in to local out 26. A laptop on the card takes 300.
"""

import pytest

from sidetrip.graph.arrivals import Arrivals, State
from sidetrip.graph.linemap import LineMap, PlacedLoop
from smallshows import (
    ALL_IN,
    all_out,
    bounds_at,
    fixed,
    frames_at,
    insert_loop,
    mapped,
    output_loop,
    plain_desk,
    rows_at,
    show_from,
)

DESK = plain_desk()
SHOW = """
units:
  - {name: laptop, kind: computer, connects: card, aligns: per chain}
  - {name: box, kind: hardware, out: local out 21-22, back: local in 21-22}
chains: {dry: [], short: [{limiter: {lookahead_frames: 64}}], long: [{black box: {delay_frames: 200}}]}
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main]}
  - {ch: 2, name: Drum, port: stage 2, group: Drums}
mixes:
  - {name: Drums, kind: group, width: stereo, to: [Main]}
  - {name: Main, kind: main, width: stereo}
  - {name: Fill, kind: matrix, width: mono, from: {Main: {tap: before insert}}}
  - {name: Stream, kind: matrix, width: stereo, from: [Main, Drums]}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Lip, from: Fill, port: local out 3}
  - {name: Web, from: Stream, port: local out 5-6}
"""
UNITS = {"laptop": fixed(300), "box": fixed(48)}
VOICE = insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3")
DRUM = insert_loop("Drum", "aux out 4", "aux in 4", unit="laptop", card="4")
DRUMS = insert_loop("Drums", "aux out 5-6", "aux in 5-6", unit="laptop", card="5-6")
MAIN = insert_loop("Main", "aux out 1-2", "aux in 1-2", unit="laptop", card="1-2")


def _map(*loops: PlacedLoop, show: str = SHOW) -> tuple[LineMap, Arrivals]:
    return mapped(show_from(show, DESK), DESK, loops, UNITS)


def test_without_loops_only_the_desk_takes_time() -> None:
    """Voice to PA: 30 + 8 + 16 = 54 frames = 1.125 ms."""
    _, arrivals = _map()
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(54)
    assert bounds_at(arrivals, "Voice", "PA", rate=1000)[0] == pytest.approx(1.125)


def test_an_insert_loop_adds_its_way_out_the_unit_and_its_way_back() -> None:
    """3 + 5 out, 300 in the laptop, 6 + 2 back = 316 frames = 6.583 ms; IN 370, OUT 54."""
    line_map, arrivals = _map(VOICE)
    parts = [(item.label, round(item.delay.low * 48000, 9)) for item in line_map.loop("Voice").items]
    assert parts == [("insert to card out 3", 8), ("laptop, round trip", 300), ("card in 3 to insert", 8)]
    assert line_map.loop("Voice").delay.low * 1000 == pytest.approx(6.5833, abs=1e-4)
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(370)
    assert frames_at(arrivals, "Voice", "PA", all_out(arrivals)) == pytest.approx(54)


def test_others_are_not_late_with_it() -> None:
    """Drum through its group: 30 + 8 + 4 + 16 = 58 frames whatever the voice does."""
    _, arrivals = _map(VOICE)
    assert frames_at(arrivals, "Drum", "PA", via=["Main"]) == pytest.approx(58)


def test_loops_one_behind_the_other_add_up() -> None:
    """Channel, group and main: 58 + 3 · 316 = 1006 frames = 20.958 ms; each taken OUT gives back 316."""
    _, arrivals = _map(DRUM, DRUMS, MAIN)
    assert frames_at(arrivals, "Drum", "PA") == pytest.approx(1006)
    assert bounds_at(arrivals, "Drum", "PA", rate=1000)[0] == pytest.approx(20.9583, abs=1e-4)
    for name in ("Drum", "Drums", "Main"):
        state = State(f"{name} OUT", "loop out", out=frozenset([name]))
        assert frames_at(arrivals, "Drum", "PA", state) == pytest.approx(690)
    assert frames_at(arrivals, "Drum", "PA", all_out(arrivals)) == pytest.approx(58)


def test_a_chain_adds_what_it_declares() -> None:
    """64 frames of look-ahead: 370 + 64 = 434."""
    _, arrivals = _map(insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3", chain="short"))
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(434)


def test_a_hardware_loop_goes_by_its_jacks() -> None:
    """3 out, 48 in the box, 2 back = 53 frames; 54 + 53 = 107."""
    line_map, arrivals = _map(insert_loop("Voice", "local out 21", "local in 21"))
    assert [round(item.delay.low * 48000, 9) for item in line_map.loop("Voice").items] == [3, 48, 2]
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(107)


def test_two_units_keep_their_own_times() -> None:
    """Voice through the box 107 frames, drum through the laptop 58 + 316 = 374."""
    _, arrivals = _map(insert_loop("Voice", "local out 21", "local in 21"), DRUM)
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(107)
    assert frames_at(arrivals, "Drum", "PA", via=["Main"]) == pytest.approx(374)


# Outputs


def test_a_loop_between_a_mix_and_its_loudspeaker() -> None:
    """The main leaves to the box on the same kind of jack: 54 + 48 + 26 from local in to local out = 128 frames."""
    line_map, arrivals = _map(output_loop("PA", "local out 21-22", "local in 21-22"))
    assert [round(item.delay.low * 48000, 9) for item in line_map.loop("PA").items] == [0, 48, 26]
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(128)
    assert frames_at(arrivals, "Voice", "PA", all_out(arrivals)) == pytest.approx(54)
    assert frames_at(arrivals, "Voice", "Lip") == pytest.approx(58), "no other output passes it"


def test_an_output_loop_on_another_kind_of_jack_counts_no_way_out_twice() -> None:
    """Main to aux out 10 in place of main to local out 16, box 48, aux in to local out 22: 30 + 8 + 10 + 48 + 22."""
    hops = """
  - {from: stage, to: channel, frames: 30}
  - {from: channel, to: main, frames: 8}
  - {from: main, to: local out, frames: 16}
  - {from: main, to: aux out, frames: 10}
  - {from: aux in, to: local out, frames: 22}
"""
    desk = plain_desk(hops=hops)
    text = """
units: [{name: box, kind: hardware, out: aux out 1-2, back: aux in 1-2}]
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    loop = output_loop("PA", "aux out 1-2", "aux in 1-2")
    line_map, arrivals = mapped(show_from(text, desk), desk, [loop], {"box": fixed(48)})
    assert [round(item.delay.low * 48000, 9) for item in line_map.loop("PA").items] == [-6, 48, 22]
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(118)
    assert frames_at(arrivals, "Voice", "PA", all_out(arrivals)) == pytest.approx(54)


def test_an_output_loop_whose_direct_way_is_unknown_has_no_number() -> None:
    """What the loop stands in for is unknown, so nobody knows what the loop adds."""
    desk = plain_desk(hops="[{from: main, to: aux out, frames: 10}, {from: aux in, to: local out, frames: 22}]")
    text = """
units: [{name: box, kind: hardware, out: aux out 1-2, back: aux in 1-2}]
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
"""
    loop = output_loop("PA", "aux out 1-2", "aux in 1-2")
    line_map, _ = mapped(show_from(text, desk), desk, [loop], {"box": fixed(48)})
    assert not line_map.loop("PA").delay.known


def test_a_loop_on_a_mix_and_one_on_its_output_add_up() -> None:
    """54 + 316 + 48 + 26 = 444 frames."""
    _, arrivals = _map(MAIN, output_loop("PA", "local out 21-22", "local in 21-22"))
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(444)


# Units that align their chains


def _aligned(aligns: str, *chains: str | None) -> LineMap:
    text = SHOW.replace("aligns: per chain", f"aligns: {aligns}")
    ports = ("Voice", 3), ("Drum", 4)
    loops = [
        insert_loop(strip, f"aux out {n}", f"aux in {n}", unit="laptop", card=str(n), chain=chain)
        for (strip, n), chain in zip(ports, chains, strict=True)
    ]
    return mapped(show_from(text, DESK), DESK, loops, UNITS)[0]


def _loop_frames(line_map: LineMap, name: str) -> tuple[float, float]:
    delay = line_map.loop(name).delay
    return round(delay.low * 48000, 9), round(delay.high * 48000, 9)


def test_a_unit_that_aligns_makes_all_as_late_as_the_slowest() -> None:
    """Chains of 64 and 200 frames both take 200: 516 frames."""
    line_map = _aligned("all", "short", "long")
    assert _loop_frames(line_map, "Voice") == _loop_frames(line_map, "Drum") == (516, 516)


def test_a_unit_that_leaves_each_chain_its_time() -> None:
    """316 + 64 = 380 and 316 + 200 = 516 frames."""
    line_map = _aligned("per chain", "short", "long")
    assert (_loop_frames(line_map, "Voice"), _loop_frames(line_map, "Drum")) == ((380, 380), (516, 516))


def test_a_unit_of_which_that_is_unknown_gives_a_range() -> None:
    """380 to 516 frames for the short chain, 516 for the longest."""
    line_map = _aligned("unknown", "short", "long")
    assert (_loop_frames(line_map, "Voice"), _loop_frames(line_map, "Drum")) == ((380, 516), (516, 516))


@pytest.mark.parametrize("chain", ["dry", None])
@pytest.mark.parametrize(
    ("aligns", "expected"), [("all", (516, 516)), ("per chain", (316, 316)), ("unknown", (316, 516))]
)
def test_an_empty_slot_waits_with_the_others(chain: str | None, aligns: str, expected: tuple[float, float]) -> None:
    """A blank loop, named as an empty chain or not at all, is as late as its siblings where the unit aligns."""
    assert _loop_frames(_aligned(aligns, chain, "long"), "Voice") == expected


def test_chains_that_were_refused_do_not_delay_others() -> None:
    """Only chains that run on the unit count: the long one without a loop adds nothing to the short one."""
    text = SHOW.replace("aligns: per chain", "aligns: all")
    loop = insert_loop("Voice", "aux out 3", "aux in 3", unit="laptop", card="3", chain="short")
    line_map, _ = mapped(show_from(text, DESK), DESK, [loop], UNITS)
    assert _loop_frames(line_map, "Voice") == (380, 380)


# Mixes into matrices


def test_a_matrix_before_the_insert_of_the_main_misses_its_loop() -> None:
    """Lip fill before the insert: 30 + 8 + 4 + 16 = 58 frames IN and OUT, while the main has 54 + 316 = 370."""
    _, arrivals = _map(MAIN)
    assert frames_at(arrivals, "Voice", "Lip") == pytest.approx(58)
    assert frames_at(arrivals, "Voice", "PA") == pytest.approx(370)


def test_a_matrix_of_main_and_group_hears_a_group_member_twice() -> None:
    """By main 30 + 8 + 4 + 4 + 16 = 62 and its loop 316, by group 30 + 8 + 4 + 16 = 58."""
    _, arrivals = _map(MAIN)
    times = arrivals.times(ALL_IN)
    rows = {row.route: index for index, row in enumerate(arrivals.rows) if row.place.name == "Web"}
    assert times.low[rows["Drum", "Drums", "Main", "Stream"]] * 48000 == pytest.approx(378)
    assert times.low[rows["Drum", "Drums", "Stream"]] * 48000 == pytest.approx(58)
    assert len(rows_at(arrivals, "Drum", "Web")) == 2


# Returns that are open on a strip of their own


def test_a_return_open_on_a_strip_comes_by_its_own_way_in_too() -> None:
    """30 in, 3 + 5 out, 300, 6 to the return, then 20 + 8 + 16 as a strip of its own = 388, also with the loop OUT."""
    text = SHOW.replace("mixes:", "  - {ch: 9, name: Open, port: aux in 3, to: [Main]}\nmixes:", 1)
    _, arrivals = _map(VOICE, show=text)
    assert frames_at(arrivals, "Voice", "PA", via=["Open"]) == pytest.approx(388)
    assert frames_at(arrivals, "Voice", "PA", all_out(arrivals), via=["Open"]) == pytest.approx(388)


def test_a_unit_between_an_output_and_an_input_is_a_way_of_its_own() -> None:
    """30 + 8 + 16 to the box, 48, then 20 + 8 + 16 as an input strip = 146 frames."""
    text = SHOW.replace("mixes:", "  - {ch: 9, name: Echo back, port: local in 21, to: [Main]}\nmixes:", 1)
    text = text.replace("outputs:", "outputs:\n  - {name: Echo send, from: Echo, port: local out 21}", 1)
    text = text.replace(
        "  - {name: Main,", "  - {name: Echo, kind: aux, width: mono, from: [Voice]}\n  - {name: Main,", 1
    )
    _, arrivals = _map(show=text)
    assert frames_at(arrivals, "Voice", "PA", via=["Echo back"]) == pytest.approx(146)
