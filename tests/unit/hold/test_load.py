"""What chains take of a computer, at each buffer and rate."""

from __future__ import annotations

import pytest

from blocklogs import configuration, quiet_log
from showtext import desk, looped
from sidetrip.hold.evidence import Tally
from sidetrip.hold.load import chain_loads, heavier, measured_work, one_more, share_at, total_share
from sidetrip.plan.planner import make_plan
from sidetrip.showfile.read import read_show
from sidetrip.units import period_s


def _tally(buffer: int, load: float) -> Tally:
    own = configuration(buffer)
    return Tally(own, (quiet_log(1, of=own, load=load),))


def test_declared_loads_add_up_for_every_loop() -> None:
    """Two strips with a chain of 8 % and 2 % take a fifth together."""
    text = looped(
        "[{strip: Vox, chain: thin, want: 5}, {strip: Sax, chain: thin, want: 5}]",
        chains="{thin: [{eq: {load: 0.08}}, {gate: {load: 0.02}}]}",
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Sax, ch: 2, port: stage 2, to: [Main]}]",
    )
    (one,) = chain_loads(make_plan(read_show(text, "show.yaml").show, desk()), "laptop")
    assert (one.chain, one.loops) == ("thin", ("Sax", "Vox"))
    assert one.share == pytest.approx(0.1)
    assert total_share([one]) == pytest.approx(0.2)


def test_two_buffers_tell_what_a_block_costs_on_top() -> None:
    """100 µs on top of each block and 30 % of its frames, logged at 64 and 256 frames, are found again."""
    tallies = [_tally(buffer, 100e-6 / period_s(buffer, 48000) + 0.3) for buffer in (64, 256)]
    work = measured_work(tallies)
    assert work is not None
    assert work.base_s == pytest.approx(100e-6)
    assert work.share == pytest.approx(0.3)
    assert share_at(work, period_s(32, 48000), 48000) == pytest.approx(0.45)
    assert share_at(work, period_s(64, 96000), 96000) == pytest.approx(0.75)


def test_one_buffer_says_only_its_share() -> None:
    """What was logged at one buffer is taken for any."""
    work = measured_work([_tally(64, 0.35)])
    assert work is not None
    assert work.base_s == 0
    assert work.share == pytest.approx(0.35)
    assert measured_work([]) is None


def test_a_share_that_shrinks_makes_no_sense_and_is_averaged() -> None:
    """More of the period at a larger buffer is no cost on top of a block: the mean share is used."""
    work = measured_work([_tally(64, 0.2), _tally(256, 0.5)])
    assert work is not None
    assert work.base_s == 0
    assert 0.2 < work.share < 0.5


def test_a_heavier_log_works_longer_everywhere() -> None:
    """Every listed block and the mean, and so the floor of what is listed."""
    log = quiet_log(1, [(5.0, 0.0005)])
    more = heavier(log, 1e-4)
    assert more.work_s_mean == pytest.approx(log.work_s_mean + 1e-4)
    assert (more.work_s - log.work_s).tolist() == pytest.approx([1e-4])
    assert more.floor_s == pytest.approx(log.floor_s + 1e-4)


def test_a_load_limit_says_whether_one_more_fits() -> None:
    """30 % and 20 % fit a half exactly, and no more; without a limit the whole computer."""
    unit = read_show(looped(), "show.yaml").show.units[0]
    half = unit.model_copy(update={"load_limit": 0.5})
    share, allowed = one_more(half, 0.2, 0.3)
    assert share == pytest.approx(0.5)
    assert allowed
    assert one_more(half, 0.21, 0.3)[1] is False
    assert one_more(unit, 0.6, 0.3)[1] is True
