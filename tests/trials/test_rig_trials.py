"""A hundred random rigs: everything planted is found, and nothing is claimed that is not so."""

from __future__ import annotations

import pytest
from rig_trials import Trial, errors_over_noise, try_rig

RIGS, CLEAN = 60, 40


@pytest.fixture(scope="module")
def tried() -> list[Trial]:
    """Return rigs with none, one or two faults."""
    return [try_rig(seed, faulty=True) for seed in range(RIGS)]


def test_every_fault_of_at_least_the_published_size_is_found(tried: list[Trial]) -> None:
    """Each planted fault shows as a look or a fail where it belongs."""
    assert {trial.seed: trial.missed for trial in tried if trial.missed} == {}
    assert sum(len(trial.planted) for trial in tried) > RIGS * 0.8


def test_sound_loops_are_left_in_peace(tried: list[Trial]) -> None:
    """No loop without a fault is given one, and no delay that is given is wrong."""
    assert {trial.seed: trial.false for trial in tried if trial.false} == {}
    assert {trial.seed: trial.wrong for trial in tried if trial.wrong} == {}


def test_clean_rigs_pass(capsys: pytest.CaptureFixture[str]) -> None:
    """Rigs without faults give none; how little that proves is printed as the rule of three has it."""
    clean = [try_rig(seed, faulty=False) for seed in range(1000, 1000 + CLEAN)]
    assert {trial.seed: trial.false for trial in clean if trial.false} == {}
    assert {trial.seed: trial.wrong for trial in clean if trial.wrong} == {}
    with capsys.disabled():
        print(f"\nnone false in {len(clean)} clean runs, bound 3/N = {3 / len(clean):.3f}")  # noqa: T201


@pytest.mark.parametrize("snr_db", [0.0, 10.0, 20.0, 40.0])
def test_delays_come_near_the_bound_on_one_clock(snr_db: float) -> None:
    """Rms error at most 1.5 times the Cramer-Rao bound of the sends' own bins; 0.01 frame at 40 dB; nobody mistaken."""
    found = errors_over_noise(snr_db, 0.0, range(8))
    assert found.mistaken == 0
    assert found.rms <= 1.5 * found.bound
    if snr_db >= 40:
        assert found.worst <= 0.01


@pytest.mark.parametrize("ppm", [-50.0, 5.0, 50.0])
@pytest.mark.parametrize("snr_db", [10.0, pytest.param(20.0, marks=pytest.mark.long)])
def test_delays_hold_on_two_clocks(snr_db: float, ppm: float) -> None:
    """At most 0.01 frame from 10 dB up, whichever clock is the faster."""
    found = errors_over_noise(snr_db, ppm, range(2))
    assert found.mistaken == 0
    assert found.worst <= 0.01
