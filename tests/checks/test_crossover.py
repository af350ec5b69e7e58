"""sidetrip's crossovers against Linkwitz 1976, Butterworth's polynomials and all-pass theory (crossover.toml)."""

import cmath
import math

import pytest

from checks.loader import Check, load
from showtext import small
from sidetrip.graph.round_trip import chain_time
from sidetrip.plan.crossover import Alignment, loss_db, sides, sum_db
from sidetrip.showfile.read import read_show
from sidetrip.units import db_from_gain, ms_from_seconds

CHECKS = load("crossover")


def _of(question: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("check", [c for c in CHECKS if c.question == question], ids=str)


def _summed(ratio: float, hz: float = 1.0) -> complex:
    """Return the sum of a fourth-order split, which is an all-pass of second order."""
    low, high = sides("linkwitz-riley", 4, ratio * hz, hz)
    return low + high


@_of("side_at_crossover")
def test_each_side_is_half_at_the_crossover(check: Check) -> None:
    """Linkwitz 1976: both 6 dB down, and turned by half a cycle against the input."""
    low, high = sides("linkwitz-riley", int(check.one("order")), 90, 90)
    check.assert_equal(
        {
            "low_db": db_from_gain(abs(low)),
            "high_db": db_from_gain(abs(high)),
            "turn_deg": abs(math.degrees(cmath.phase(low + high))),
        }
    )


@_of("flat_sum")
def test_both_sides_together_are_flat(check: Check) -> None:
    """Linkwitz 1976: the sum of his crossover has one level at all frequencies."""
    check.assert_equal({"sum_db": [sum_db("linkwitz-riley", 4, 90 * r, 90) for r in check.many("ratio")]})


@_of("sum_at_crossover")
def test_other_alignments_add_up_or_cancel(check: Check) -> None:
    """Butterworth's polynomials: which orders cancel upright, and which inverted."""
    kind: Alignment = "linkwitz-riley" if check.one("riley") else "butterworth"
    order = int(check.one("order"))
    upright, inverted = (sum_db(kind, order, 90, 90, inverted=turned) for turned in (False, True))
    check.assert_equal({"upright_db": upright, "inverted_db": inverted})


@_of("split_delay")
def test_a_split_and_its_sum_are_late_at_low_frequencies(check: Check) -> None:
    """All-pass theory: group delay is minus the slope of the phase."""

    def delay_ms(ratio: float, hz: float) -> float:
        step = 1e-4
        turned = cmath.phase(_summed(ratio + step, hz) / _summed(ratio - step, hz))
        return -1000 * turned / (2 * math.pi * 2 * step * hz)

    low = [delay_ms(0.001, hz) for hz in check.many("crossover_hz")]
    most = max(delay_ms(0.1 + n / 1000, 100) for n in range(1500))
    check.assert_equal({"low_ms": low, "most_at_100_ms": most})


@_of("linear_phase")
def test_a_symmetric_filter_in_a_chain_is_half_its_length_late(check: Check) -> None:
    """Symmetry: (N-1)/2 frames, declared by a processor, as a plan adds it up."""
    delays = []
    for taps in check.many("taps"):
        text = small(chains=f"{{fir: [{{eq: {{delay_frames: {(int(taps) - 1) // 2}}}}}]}}")
        time = chain_time(read_show(text, "show.yaml").show.chains["fir"], int(check.one("rate_hz")))
        delays.append(ms_from_seconds(time.high))
    check.assert_equal({"delay_ms": delays})


@_of("all_pass_one")
def test_an_all_pass_of_first_order_is_no_delay(check: Check) -> None:
    """Phase -2·arctan(f/f0): low less high side of a first-order crossover, with the dry sound one roll-off."""
    phases, sums = [], []
    for ratio in check.many("ratio"):
        low, high = sides("butterworth", 1, ratio, 1)
        phases.append(math.degrees(cmath.phase(low - high)))
        sums.append(db_from_gain(abs(1 + low - high) / 2))
    check.assert_equal({"phase_deg": phases, "sum_db": sums})


@_of("all_pass_two")
def test_an_all_pass_of_second_order_has_one_null_with_the_dry_sound(check: Check) -> None:
    """The sum of a fourth-order split beside the sound that was not split."""
    gains = [abs(1 + _summed(ratio)) / 2 for ratio in check.many("ratio")]
    check.assert_equal(
        {
            "sum_db": [db_from_gain(gain) if gain > 1e-12 else -math.inf for gain in gains],
            "phase_at_one_deg": -abs(math.degrees(cmath.phase(_summed(1)))),
        }
    )


@_of("misaligned")
def test_a_spread_at_the_crossover_loses_by_its_angle(check: Check) -> None:
    """f·t = arccos(x)/pi: where two equal sides have lost 1 dB, 3 dB, half, and all."""
    check.assert_equal({"loss_db": [loss_db(cycles / 90, 90) for cycles in check.many("cycles")]})
