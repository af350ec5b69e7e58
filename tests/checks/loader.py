"""Reads the check values: numbers from outside sidetrip, each with its source, and refuses careless ones.

A file `<topic>.toml` holds one array of tables for each question asked of sidetrip; a table is one check:

    [[ripple]]
    what = "comb of two copies, the second 10 dB quieter"
    given = { level_difference_db = -10 }
    expect = { peak_db = 2.3866, null_db = -3.3018, ripple_db = 5.6884 }
    tolerance = 0.001          # absolute; or a table with a figure for each name in expect
    kind = "formula"
    source = "formula: ..."    # what a reader can look up; short names are explained in README.md
    note = "optional"

Refused: a missing or empty entry, an unknown entry or kind, a value that is no number, and a tolerance as
wide as the smallest expected value it guards (0 and the infinities need no such guard).
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

KINDS = ("standard", "handbook", "paper", "formula", "common practice", "memory")

Number = float | int
Numbers = Mapping[str, tuple[float, ...]]

_ENTRIES = frozenset({"what", "given", "expect", "tolerance", "kind", "source"})
_HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Check:
    """One check value: a question, what is given, and what a source outside sidetrip answers."""

    question: str
    what: str
    given: Numbers
    expect: Numbers
    tolerance: Mapping[str, float]
    kind: str
    source: str
    note: str = ""

    def one(self, name: str) -> float:
        """The single given value of that name."""
        (value,) = self.given[name]
        return value

    def many(self, name: str) -> tuple[float, ...]:
        """All given values of that name."""
        return self.given[name]

    def assert_equal(self, got: Mapping[str, Number | Sequence[Number]]) -> None:
        """Fail unless `got` has every expected name, no other, and each value within its tolerance."""
        assert set(got) == set(self.expect), f"{self}: answered {sorted(got)}, expected {sorted(self.expect)}"
        for name, expected in self.expect.items():
            answered = _numbers(got[name])
            assert len(answered) == len(expected), f"{self}: {name} has {len(answered)}, not {len(expected)}"
            for a, e in zip(answered, expected, strict=True):
                near = a == e or abs(a - e) <= self.tolerance[name]
                assert near, f"{self}: {name} is {a}, expected {e} ± {self.tolerance[name]} ({self.source})"

    def __str__(self) -> str:
        return f"{self.question}: {self.what}"


class CheckRefusedError(Exception):
    """A check value that may not be used as it stands."""


def load(topic: str) -> tuple[Check, ...]:
    """All checks of `<topic>.toml`, in file order."""
    return parse((_HERE / f"{topic}.toml").read_text(encoding="utf-8"))


def parse(text: str) -> tuple[Check, ...]:
    """All checks of a TOML text, in order; CheckRefusedError names the first that is not good enough."""
    return tuple(
        _check(question, row) for question, rows in tomllib.loads(text).items() for row in _tables(question, rows)
    )


def _tables(question: str, rows: object) -> list[dict[str, object]]:
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise CheckRefusedError(f"{question} is not an array of tables: write [[{question}]] above each check.")
    return rows


def _check(question: str, row: Mapping[str, object]) -> Check:
    what = f"{question}: {row.get('what', 'a check without what')}"
    if missing := sorted(name for name in _ENTRIES if row.get(name) in (None, "", {})):
        raise CheckRefusedError(f"{what} lacks {', '.join(missing)}: add it, or leave the check out.")
    if unknown := sorted(row.keys() - _ENTRIES - {"note"}):
        raise CheckRefusedError(f"{what} has unknown entries {', '.join(unknown)}: use {', '.join(sorted(_ENTRIES))}.")
    if row["kind"] not in KINDS:
        raise CheckRefusedError(f"{what} has the unknown kind {row['kind']!r}: use one of {', '.join(KINDS)}.")
    if not str(row["source"]).strip():
        raise CheckRefusedError(f"{what} has a blank source: say where the numbers can be looked up.")
    try:
        given, expect = _named(row["given"]), _named(row["expect"])
        tolerance = {name: _tolerance(row["tolerance"], name) for name in expect}
    except (KeyError, TypeError) as error:
        raise CheckRefusedError(f"{what} has an entry of the wrong form ({error}): give names and numbers.") from error
    for name, values in expect.items():
        _refuse_wide(f"{what}, {name},", tolerance[name], values)
    return Check(
        question,
        str(row["what"]),
        given,
        expect,
        tolerance,
        str(row["kind"]),
        str(row["source"]),
        str(row.get("note", "")),
    )


def _refuse_wide(what: str, tolerance: float, values: Sequence[float]) -> None:
    if not 0 <= tolerance < math.inf:
        raise CheckRefusedError(f"{what} has the tolerance {tolerance}: give a finite one, 0 or more.")
    sizes = [abs(value) for value in values if value != 0 and math.isfinite(value)]
    if any(math.isnan(value) for value in values) or not values:
        raise CheckRefusedError(f"{what} expects {list(values)}: give numbers.")
    if sizes and tolerance >= min(sizes):
        raise CheckRefusedError(
            f"{what} has a tolerance of {tolerance} around {min(sizes)}: 0 would pass as well; narrow it."
        )


def _named(entry: object) -> dict[str, tuple[float, ...]]:
    if not isinstance(entry, dict):
        raise TypeError(f"{entry!r} is not a table")
    return {str(name): _numbers(value) for name, value in entry.items()}


def _numbers(value: object) -> tuple[float, ...]:
    if isinstance(value, list | tuple):
        return tuple(_number(each) for each in value)
    return (_number(value),)


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is not a number")
    return float(value)


def _tolerance(entry: object, name: str) -> float:
    return _number(entry[name] if isinstance(entry, dict) else entry)
