"""Overruns: the stated rule to the count, what is carried to other buffers, and what no log may claim."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from blocklogs import configuration, pauses, quiet_log
from sidetrip.hold.counts import most_per_show
from sidetrip.hold.overruns import interruptions, judge

SHOW_S = 3 * 3600.0


def _rare_pauses() -> list[tuple[float, float]]:
    """One hour's 60 pauses of 3.1 ms and 6 of 7.0 ms, none within a second of another."""
    spots = pauses(66, 0.0)
    return [(at, 0.007 if number % 11 == 5 else 0.0031) for number, (at, _) in enumerate(spots)]


@pytest.mark.parametrize(("buffer", "overruns"), [(64, 66), (128, 66), (256, 6), (512, 6), (1024, 0)])
def test_rare_pauses_overrun_to_the_count(buffer: int, overruns: int) -> None:
    """An hour with 60 pauses of 3.1 ms and 6 of 7.0 ms over steady work of 35 % of a block; at 512 frames 7.0 + 3.73
    = 10.73 ms is over 10.67 ms, and counts."""
    log = quiet_log(1, _rare_pauses())
    found = judge([log], buffer, 48000, 3600.0)
    assert found.seen == overruns
    assert found.carried == (buffer != 64)
    assert found.largest_s == pytest.approx(0.007 + 0.35 * buffer / 48000)


def test_a_mean_load_says_nothing_of_it() -> None:
    """The work is 35 % of every block, and 66 blocks an hour still overrun."""
    log = quiet_log(1, _rare_pauses())
    assert log.work_s_mean / log.configuration.period_s == pytest.approx(0.35)
    found = judge([log], 64, 48000, 3600.0)
    assert found.how == "counted"
    assert found.per_show == pytest.approx(most_per_show(66, 3600.0, 3600.0))


def test_overruns_within_a_second_are_one() -> None:
    """A pause that makes five blocks late is one interruption, and five blocks."""
    period = configuration().period_s
    run = [(100 + number * period, 0.007 - number * period) for number in range(5)]
    found = judge([quiet_log(1, [*run, (200.0, 0.007)])], 64, 48000, 3600.0)
    assert (found.seen, found.blocks) == (2, 6)


def test_a_block_that_ends_on_its_deadline_is_in_time() -> None:
    """Lateness and work exactly as long as the period are no overrun, a microsecond more is one."""
    room = 0.65 * configuration().period_s
    on, over = quiet_log(1, [(10.0, room - 1e-12)]), quiet_log(1, [(10.0, room + 1e-6)])
    assert judge([on], 64, 48000, SHOW_S).seen == 0
    assert judge([over], 64, 48000, SHOW_S).seen == 1


def test_what_the_driver_says_was_missed_counts() -> None:
    """A missed block overran whatever its times say; where they do not tell why, at any buffer."""
    log = quiet_log(1, missed=[50.0, 90.0])
    assert judge([log], 64, 48000, SHOW_S).seen == 2
    assert judge([log], 1024, 48000, SHOW_S).seen == 2
    told = replace(quiet_log(1, [(50.0, 0.003)]), missed=np.array([True]))
    assert judge([told], 64, 48000, SHOW_S).seen == 1
    assert judge([told], 1024, 48000, SHOW_S).seen == 0


@pytest.mark.parametrize(("hours", "most"), [(1 / 6, 54), (1, 9), (3, 3), (9, 1)])
def test_a_clean_log_allows_what_counting_allows(hours: float, most: int) -> None:
    """Ten clean minutes allow up to 54 misses in a 3 h show; no finer bound is given for a log with nothing in it."""
    found = judge([quiet_log(hours)], 64, 48000, SHOW_S)
    assert found.how == "refused"
    assert math.ceil(found.counted_per_show) == most
    assert found.bound == found.counted_per_show > 0
    assert found.rarest_per_show == pytest.approx(3 * 3 / hours)


def test_clean_hours_of_several_shows_add_up() -> None:
    """Four services of an hour and a half: up to 0.75 in the next."""
    logs = [quiet_log(1.5, started=f"2026-11-{day:02}T10:00:00") for day in (1, 8, 15, 22)]
    assert judge(logs, 64, 48000, 1.5 * 3600).bound == pytest.approx(0.75, abs=0.002)


def _tailed(hours: float, count: int, scale_s: float, seed: int = 5) -> list[tuple[float, float]]:
    draw = np.random.default_rng(seed)
    at = np.sort(draw.uniform(0, hours * 3600, count))
    return list(zip(at.tolist(), (2e-4 + draw.weibull(1.0, count) * scale_s).tolist(), strict=True))


def test_a_tail_allows_less_than_counting_but_never_a_tenth() -> None:
    """A thin tail far from the deadline gives a finer bound, which stops at a tenth of what counting allows."""
    near = judge([quiet_log(5, _tailed(5, 400, 6e-5))], 64, 48000, SHOW_S)
    assert near.how == "fitted"
    assert near.per_show is not None
    assert near.counted_per_show / 10 <= near.per_show < near.counted_per_show
    assert near.tail is not None and near.tail.fits >= 0.1
    far = judge([quiet_log(5, _tailed(5, 400, 6e-5))], 1024, 48000, SHOW_S)
    assert far.how == "fitted"
    assert far.per_show == pytest.approx(far.counted_per_show / 10)
    assert "cannot be fitted" in far.because


def test_a_machine_that_gets_worse_gives_no_bound() -> None:
    """Pauses that come more and more until the end of the log refuse even the count."""
    draw = np.random.default_rng(2)
    at = np.sort(3600 * np.sqrt(draw.uniform(size=300)))
    found = judge([quiet_log(1, [(float(one), 4e-4) for one in at])], 64, 48000, SHOW_S)
    assert found.how == "refused"
    assert not found.stands
    assert found.bound == math.inf
    assert "warm" in found.because


def test_a_machine_that_was_warm_after_minutes_is_judged_from_there() -> None:
    """Nothing in the first ten minutes, then evenly: the beginning is left out, and the hours are fewer."""
    draw = np.random.default_rng(4)
    at = np.sort(draw.uniform(600, 5 * 3600, 400))
    found = judge([quiet_log(5, [(float(one), 3e-4 + draw.exponential(4e-5)) for one in at])], 64, 48000, SHOW_S)
    assert found.warm_up_s >= 900
    assert found.used_s == pytest.approx(found.logged_s - found.warm_up_s)
    assert found.stands


def test_late_blocks_at_an_interval_are_a_clock() -> None:
    """A late block every 133.3 s is called regular, one at random is not."""
    regular = [(5 + number * 133.3, 4e-4) for number in range(100)]
    assert judge([quiet_log(4, regular)], 64, 48000, SHOW_S).clock_s == pytest.approx(133.3, abs=0.1)
    assert judge([quiet_log(4, _tailed(4, 100, 1e-4))], 64, 48000, SHOW_S).clock_s is None


def test_bursts_count_for_more_than_their_number() -> None:
    """Overruns that come ten at a time, three seconds apart, leave more open than as many that come alone."""
    draw = np.random.default_rng(6)
    bursts = [
        float(start) + 3 * number for start in np.sort(draw.choice(60, 12, replace=False)) * 280 for number in range(10)
    ]
    together = judge([quiet_log(5, [(at, 0.003) for at in bursts])], 64, 48000, SHOW_S)
    alone = judge([quiet_log(5, [(at, 0.003) for at, _ in pauses(120, 0.0, over_s=18000)])], 64, 48000, SHOW_S)
    assert together.seen == alone.seen == 120
    assert together.per_show is not None and alone.per_show is not None
    assert together.per_show > 1.2 * alone.per_show


def test_interruptions_begin_where_a_second_passed() -> None:
    """Times rise; the first of each group is given."""
    assert interruptions(np.array([1.0, 1.5, 2.4, 3.5, 9.0])).tolist() == [0, 3, 4]
    assert interruptions(np.empty(0)).tolist() == []
