"""What a count of misses supports: exact bounds, what a clean log cannot rule out, and the hours still needed.

Sources: Poisson bound after F. Garwood, Biometrika 28, 437-442, 1936; binomial bound after C. J. Clopper and
E. S. Pearson, Biometrika 26, 404-413, 1934; rule of three after Hanley and Lippman-Hand, JAMA 249, 1743-1745, 1983.
"""

from __future__ import annotations

import math

CONFIDENCE = 0.95
HOUR_S = 3600.0


def most_counted(seen: int, confidence: float = CONFIDENCE) -> float:
    """Return the largest expected count that still gives so few with a chance of 1 - confidence; 2.9957 for none."""
    if seen < 0 or not 0 < confidence < 1:
        raise ValueError(f"No count and confidence: {seen}, {confidence}. Give a count from 0 and a share below 1.")
    if seen == 0:
        return -math.log1p(-confidence)
    from scipy.stats import chi2

    return float(chi2.ppf(confidence, 2 * (seen + 1)) / 2)


def least_counted(seen: int, confidence: float = CONFIDENCE) -> float:
    """Return the smallest expected count that still gives so many with a chance of 1 - confidence; 0 for none."""
    if seen <= 0:
        return 0.0
    from scipy.stats import chi2

    return float(chi2.ppf(1 - confidence, 2 * seen) / 2)


def most_per_show(seen: int, logged_s: float, show_s: float, confidence: float = CONFIDENCE) -> float:
    """Return the expected misses of a show that the log cannot rule out: infinite for no log."""
    return math.inf if logged_s <= 0 else most_counted(seen, confidence) * show_s / logged_s


def largest_chance(failed: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """Return the upper bound of the chance of one block to fail; with none failed 1 - (1 - confidence)^(1/n)."""
    if not 0 <= failed <= trials or trials < 1:
        raise ValueError(f"No trials: {failed} of {trials}. Give at least one, and no more failures than trials.")
    if failed == 0:
        return -math.expm1(math.log1p(-confidence) / trials)
    if failed == trials:
        return 1.0
    from scipy.stats import beta

    return float(beta.ppf(confidence, failed + 1, trials - failed))


def rule_of_three(trials: float) -> float:
    """Return 3/n, the everyday form of the bound with none failed; for time, the rarest rate that shows in a log."""
    return math.inf if trials <= 0 else 3.0 / trials


def chance_of_any(per_show: float) -> float:
    """Return the chance of at least one miss where so many are expected, by Poisson."""
    return -math.expm1(-per_show)


def clean_hours_for_count(show_h: float, per_show: float, confidence: float = CONFIDENCE) -> float:
    """Return the hours without a miss that support "fewer than so many in a show"."""
    return most_counted(0, confidence) * show_h / per_show


def clean_hours_for_risk(show_h: float, risk: float, confidence: float = CONFIDENCE) -> float:
    """Return the hours without a miss that support "less than this chance of any in a show", 0 < risk < 1."""
    return most_counted(0, confidence) * show_h / -math.log1p(-risk)


def hours_to_go(seen: int, logged_s: float, show_s: float, per_show: float, confidence: float = CONFIDENCE) -> float:
    """Return the hours without another miss after which the count supports the claim; 0 when it does already."""
    return max(most_counted(seen, confidence) * show_s / per_show - logged_s, 0.0) / HOUR_S


__all__ = [
    "CONFIDENCE",
    "HOUR_S",
    "chance_of_any",
    "clean_hours_for_count",
    "clean_hours_for_risk",
    "hours_to_go",
    "largest_chance",
    "least_counted",
    "most_counted",
    "most_per_show",
    "rule_of_three",
]
