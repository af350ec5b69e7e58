"""Rigs as data: what is refused, how loops are built, and what every change does to the ways."""

import pytest

from sidetrip.rig import network
from sidetrip.rig.boxes import DelayOnly, Limiter
from sidetrip.rig.network import Box, Catch, Feed, LoopSpec, Recorder, Rig, straight
from sidetrip.rig.run import Way, ways

RATE_HZ = 48_000
LOOPS = (LoopSpec(300), LoopSpec(400.5, gain_db=-3), LoopSpec(500, inverted=True))
RIG = straight(RATE_HZ, LOOPS)


def _route(rig: Rig) -> list[tuple[int, int, tuple[int, ...]]]:
    return [(way.catch, way.entry, way.boxes) for way in ways(rig)]


def _heard(rig: Rig, catch: int) -> list[tuple[int, float, float, bool]]:
    return [(way.entry, way.delay_frames, way.gain_db, way.inverted) for way in ways(rig) if way.catch == catch]


def test_a_circle_of_boxes_is_named() -> None:
    """A rig in which boxes feed each other cannot be made."""
    boxes = (
        Box("first", (Feed(("entry", 0)), Feed(("box", 2)))),
        Box("second", (Feed(("box", 0)),)),
        Box("third", (Feed(("box", 1)),)),
    )
    with pytest.raises(ValueError, match=r"circle: (first|second|third) -> .*(first|second|third)\. Take one"):
        Rig(RATE_HZ, 1, boxes, (), Recorder(RATE_HZ))


@pytest.mark.parametrize("source", [("entry", 1), ("entry", -1), ("box", 0)])
def test_a_feed_from_nowhere_is_refused(source: network.Source) -> None:
    """A source must be one of the entries or boxes, counted from 0."""
    with pytest.raises(ValueError, match=rf"track is fed by {source[0]} {source[1]} of"):
        Rig(RATE_HZ, 1, (), (Catch("track", (Feed(source),)),), Recorder(RATE_HZ))


def test_boxes_come_after_those_that_feed_them() -> None:
    """Whatever order they are written in."""
    boxes = (Box("last", (Feed(("box", 2)),)), Box("first", (Feed(("entry", 0)),)), Box("mid", (Feed(("box", 1)),)))
    assert Rig(RATE_HZ, 1, boxes, (), Recorder(RATE_HZ)).order == (1, 2, 0)


def test_straight_loops_come_back_in_order() -> None:
    """Each entry through its own loop to its own track, and entry 0 dry on the last."""
    assert ways(RIG) == (
        Way(0, 0, (0,), 300, 0, False),
        Way(1, 1, (1,), 400.5, -3, False),
        Way(2, 2, (2,), 500, 0, True),
        Way(0, 3, (), 0, 0, False),
    )
    assert [catch.name for catch in RIG.catches] == ["return 1", "return 2", "return 3", "reference"]


def test_without_a_reference_there_is_one_catch_less() -> None:
    """Built without it or taken away later, it is the same rig."""
    assert straight(RATE_HZ, LOOPS, reference=False) == network.without_reference(RIG)


def test_a_way_adds_up_feeds_boxes_and_processors() -> None:
    """Delays and gains of all of them are in it; two wrongs make a right polarity."""
    boxes = (
        Box("a", (Feed(("entry", 0), -1, 1, True),), 10, -2, processors=(Limiter(0, lookahead_frames=64),)),
        Box("b", (Feed(("box", 0), -4, 2.5),), 20, inverted=True, processors=(DelayOnly(0.25),)),
    )
    rig = Rig(RATE_HZ, 1, boxes, (Catch("c", (Feed(("box", 1)),)),), Recorder(RATE_HZ))
    assert ways(rig) == (Way(0, 0, (0, 1), 1 + 10 + 64 + 2.5 + 20 + 0.25, -7, False),)


def test_permuted_returns_carry_what_they_are_told() -> None:
    """Return n carries return order[n], and the reference stays."""
    assert _route(network.permuted(RIG, [2, 0, 1])) == [(0, 2, (2,)), (1, 0, (0,)), (2, 1, (1,)), (3, 0, ())]
    with pytest.raises(ValueError, match=r"no order of 3 returns: \[0, 0, 1\]"):
        network.permuted(RIG, [0, 0, 1])


def test_shifted_returns_carry_the_send_before() -> None:
    """The first is empty and the last send comes back nowhere."""
    assert _route(network.shifted(RIG)) == [(1, 0, (0,)), (2, 1, (1,)), (3, 0, ())]


def test_swapped_returns_are_exchanged() -> None:
    """Two of them, and only those."""
    assert _route(network.swapped(RIG, 0, 2)) == [(0, 2, (2,)), (1, 1, (1,)), (2, 0, (0,)), (3, 0, ())]


def test_crosstalk_comes_at_the_delay_of_its_loop() -> None:
    """Return 2 also hears loop 1's return, 60 dB down."""
    assert _heard(network.crosstalk(RIG, 1, 2, -60), 2) == [(2, 500, 0, True), (1, 400.5, -63, False)]


def test_a_doubled_return_arrives_twice() -> None:
    """Once more, later and softer."""
    assert _heard(network.doubled(RIG, 1, -20, 48), 1) == [(1, 400.5, -3, False), (1, 448.5, -23, False)]


def test_a_leak_adds_to_the_dry_entry() -> None:
    """With the insert OUT the entry is dry at full level, and the loop 60 dB below its own return."""
    assert _heard(network.leaking(RIG, 1, -60), 1) == [(1, 0, 0, False), (1, 400.5, -63, False)]


def test_all_out_is_dry_everywhere() -> None:
    """No loop is heard on any return."""
    assert _route(network.all_out(RIG)) == [(0, 0, ()), (1, 1, ()), (2, 2, ()), (3, 0, ())]


def test_one_loop_is_changed_and_no_other() -> None:
    """Silence, polarity, delay and gain each reach the loop they name."""
    assert _heard(network.silent(RIG, 1), 1) == []
    assert _heard(network.inverted(RIG, 1), 1) == [(1, 400.5, -3, True)]
    assert _heard(network.inverted(RIG, 2), 2) == [(2, 500, 0, False)]
    assert _heard(network.later(RIG, 1, 2), 1) == [(1, 402.5, -3, False)]
    assert _heard(network.louder(RIG, 1, 0.5), 1) == [(1, 400.5, -2.5, False)]
    assert _heard(network.with_processor(RIG, 1, DelayOnly(5)), 1) == [(1, 405.5, -3, False)]
    assert network.drifting(RIG, 1, -20).boxes[1].ppm == -20
    assert _heard(network.silent(RIG, 1), 0) == _heard(RIG, 0)


def test_a_loop_that_is_not_there_is_refused() -> None:
    """Neither behind the last nor counted from the end, nor one that no track hears."""
    with pytest.raises(ValueError, match="no loop 3 among 3"):
        network.with_box(RIG, 3, RIG.boxes[0])
    with pytest.raises(ValueError, match="no loop -1"):
        network.with_box(RIG, -1, RIG.boxes[0])
    with pytest.raises(ValueError, match="No catch hears loop 3"):
        network.leaking(network.shifted(RIG), 2, -60)
