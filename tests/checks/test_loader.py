"""The loader of check values refuses careless ones, and every check that it accepts is asserted somewhere."""

from pathlib import Path

import pytest

from checks.loader import CheckRefusedError, load, parse

HERE = Path(__file__).parent
TOPICS = sorted(path.stem for path in HERE.glob("*.toml"))

GOOD = """
[[ripple]]
what = "second copy 20 dB quieter"
given = { level_difference_db = -20 }
expect = { peak_db = 0.8279, null_db = -0.9151 }
tolerance = 0.001
kind = "formula"
source = "formula: 20*log10(1+a)"
"""


def _good_but(old: str, new: str) -> str:
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)


def test_a_good_check_is_read() -> None:
    """Numbers become tuples, one tolerance serves every expected value, the note may be left out."""
    (check,) = parse(GOOD)
    assert check.question == "ripple"
    assert check.one("level_difference_db") == -20
    assert check.expect == {"peak_db": (0.8279,), "null_db": (-0.9151,)}
    assert check.tolerance == {"peak_db": 0.001, "null_db": 0.001}
    assert check.note == ""


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (_good_but('source = "formula: 20*log10(1+a)"', ""), "lacks source"),
        (_good_but('"formula: 20*log10(1+a)"', '""'), "lacks source"),
        (_good_but('"formula: 20*log10(1+a)"', '"  "'), "blank source"),
        (_good_but("tolerance = 0.001", ""), "lacks tolerance"),
        (_good_but('kind = "formula"', 'kind = "hearsay"'), "unknown kind 'hearsay'"),
        (_good_but('kind = "formula"', 'kind = "formula"\nwhen = "today"'), "unknown entries when"),
        (_good_but("tolerance = 0.001", "tolerance = -0.001"), "0 or more"),
        (_good_but("tolerance = 0.001", "tolerance = inf"), "give a finite one"),
        (_good_but("tolerance = 0.001", "tolerance = nan"), "give a finite one"),
        (_good_but("tolerance = 0.001", "tolerance = { peak_db = 0.001 }"), "wrong form"),
        (_good_but("tolerance = 0.001", 'tolerance = "1 %"'), "wrong form"),
        (_good_but("0.8279", "nan"), "give numbers"),
        (_good_but("0.8279", "true"), "wrong form"),
        (_good_but("0.8279", "[]"), "give numbers"),
        (_good_but("[[ripple]]", "[ripple]"), "array of tables"),
    ],
)
def test_a_careless_check_is_refused(text: str, complaint: str) -> None:
    """A missing or odd entry stops the suite, and the message says which."""
    with pytest.raises(CheckRefusedError, match=complaint):
        parse(text)


@pytest.mark.parametrize("tolerance", ["0.9", "0.8279"])
def test_a_tolerance_as_wide_as_the_value_is_refused(tolerance: str) -> None:
    """A check that 0 would pass guards nothing."""
    with pytest.raises(CheckRefusedError, match="0 would pass as well"):
        parse(_good_but("tolerance = 0.001", f"tolerance = {tolerance}"))


def test_the_smallest_value_of_a_list_limits_the_tolerance() -> None:
    """One large value in a list does not excuse a tolerance too wide for a small one."""
    with pytest.raises(CheckRefusedError, match=r"0\.5 around 0\.1"):
        parse(_good_but("0.8279", "[100, 0.1]").replace("tolerance = 0.001", "tolerance = 0.5"))


def test_zero_and_infinity_need_no_guard() -> None:
    """A tolerance has no value to be compared with when 0 or an infinity is expected."""
    (check,) = parse(_good_but("peak_db = 0.8279, null_db = -0.9151", "peak_db = 0, null_db = -inf"))
    check.assert_equal({"peak_db": 0.0005, "null_db": float("-inf")})


@pytest.mark.parametrize(
    "answer",
    [
        {"peak_db": 0.8279, "null_db": -0.92},
        {"peak_db": 0.8279, "null_db": float("-inf")},
        {"peak_db": 0.8279, "null_db": float("nan")},
        {"peak_db": 0.8279},
        {"peak_db": 0.8279, "null_db": -0.9151, "ripple_db": 1.743},
        {"peak_db": 0.8279, "null_db": [-0.9151, -0.9151]},
    ],
)
def test_a_wrong_answer_fails(answer: dict[str, float | list[float]]) -> None:
    """A value outside its tolerance, a missing one, an extra one and a list too long all fail."""
    (check,) = parse(GOOD)
    with pytest.raises(AssertionError, match="second copy 20 dB quieter"):
        check.assert_equal(answer)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_question_is_asked(topic: str) -> None:
    """No check lies in a file unasserted: its test module names each question of the file."""
    module = (HERE / f"test_{topic}.py").read_text(encoding="utf-8")
    assert [c.question for c in load(topic) if f'"{c.question}"' not in module] == []


def test_the_index_names_exactly_the_sources_in_use() -> None:
    """README.md has a full reference for each short name that a source begins with, and no other."""
    lines = (HERE / "README.md").read_text(encoding="utf-8").split("## Sources")[1].splitlines()
    index = {line.split("|")[1].strip() for line in lines if line.startswith("|")} - {"Short name", "---"}
    in_words = ("formula", "definition", "common practice")
    used = {check.source.split(",")[0] for topic in TOPICS for check in load(topic)}
    assert {name for name in used if not name.startswith(in_words)} == index
