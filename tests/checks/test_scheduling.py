"""sidetrip's buffer periods against N/fs (scheduling.toml)."""

import pytest

from checks.loader import Check, load
from sidetrip.units import ms_from_seconds, period_s

CHECKS = load("scheduling")


@pytest.mark.parametrize("check", [c for c in CHECKS if c.question == "period"], ids=str)
def test_period_of_a_buffer(check: Check) -> None:
    """Formula N/fs, printed to five decimals of a millisecond."""
    rate_hz = check.one("rate_hz")
    check.assert_equal({"period_ms": [ms_from_seconds(period_s(int(n), rate_hz)) for n in check.many("buffer_frames")]})
