"""Which hours add up: one frozen configuration, over shows, and any change starts again."""

from __future__ import annotations

import pytest

from blocklogs import configuration, quiet_log
from sidetrip.hold.evidence import Configuration, add_up


def test_hours_of_one_configuration_add_up_over_shows() -> None:
    """Three evenings at one buffer are one tally of seven and a half hours."""
    logs = [quiet_log(2.5, started=f"2026-11-2{day}T19:00:00") for day in (2, 0, 1)]
    (tally,), findings = add_up(logs, "laptop")
    assert tally.logged_s == pytest.approx(7.5 * 3600)
    assert [log.started[:10] for log in tally.logs] == ["2026-11-20", "2026-11-21", "2026-11-22"]
    assert findings == ()


def _changed(what: str) -> Configuration:
    return configuration(session="new") if what == "session" else configuration(driver="new")


@pytest.mark.parametrize("change", ["session", "driver"])
def test_a_change_starts_again(change: str) -> None:
    """After another session or driver earlier hours no longer count, and it is said which and how many."""
    logs = [
        quiet_log(2, started="2026-11-20T19:00:00"),
        quiet_log(3, started="2026-11-21T19:00:00", of=_changed(change)),
    ]
    (tally,), (finding,) = add_up(logs, "laptop")
    assert tally.logged_s == pytest.approx(3 * 3600)
    assert finding.code == "evidence-starts-again"
    assert f"{change} from" in finding.values
    assert "2.0 h set aside" in finding.values


def test_going_back_does_not_bring_hours_back() -> None:
    """Old, new, old again: only what came after the last change counts."""
    logs = [
        quiet_log(5, started="2026-11-20T19:00:00"),
        quiet_log(1, started="2026-11-21T19:00:00", of=configuration(session="new")),
        quiet_log(2, started="2026-11-22T19:00:00"),
    ]
    (tally,), _ = add_up(logs, "laptop")
    assert tally.logged_s == pytest.approx(2 * 3600)


def test_buffers_and_rates_have_tallies_of_their_own() -> None:
    """Hours at 64 frames are none at 128, and setting another buffer does not void them."""
    logs = [
        quiet_log(2, started="2026-11-20T19:00:00"),
        quiet_log(1, started="2026-11-21T19:00:00", of=configuration(128)),
        quiet_log(1, started="2026-11-22T19:00:00"),
    ]
    tallies, findings = add_up(logs, "laptop")
    assert [(tally.configuration.buffer, round(tally.logged_s / 3600)) for tally in tallies] == [(64, 3), (128, 1)]
    assert findings == ()
    assert len({tally.configuration.fingerprint for tally in tallies}) == 2


def test_a_log_that_is_there_twice_counts_once() -> None:
    """The same start, length and configuration under two names."""
    logs = [quiet_log(2, file="a.jsonl"), quiet_log(2, file="b.jsonl")]
    (tally,), (finding,) = add_up(logs, "laptop")
    assert tally.logged_s == pytest.approx(2 * 3600)
    assert finding.code == "evidence-twice"
    assert "a.jsonl" in finding.values and "b.jsonl" in finding.values


def test_other_units_are_left_out() -> None:
    """Evidence of one computer says nothing of another."""
    assert add_up([quiet_log(2, of=configuration(unit="stream box"))], "laptop") == ((), ())
