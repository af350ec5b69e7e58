"""Logs as text: both forms, the same blocks, and damage said with file and line."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blocklogs import CSV_HEAD, csv_log
from sidetrip.hold.evidence import BlockLog, Configuration
from sidetrip.hold.parts import Growing, bin_of, joined, written
from sidetrip.hold.read_log import Read, read_log

FILE = "evidence/log.csv"


def _log(read: Read) -> BlockLog:
    assert read.log is not None, [str(finding) for finding in read.findings]
    return read.log


def _compact(blocks: int = 100_000, seed: int = 3) -> list[str]:
    """Return the lines of a compact log with a late block in a hundred."""
    own = Configuration("laptop", "system", "driver", "4f1a", 64, 48000)
    draw, period = np.random.default_rng(seed), own.period_s
    lateness = draw.uniform(0, 0.05, blocks) * period
    lateness[draw.choice(blocks, blocks // 100, replace=False)] += 0.6 * period
    growing = Growing(own)
    growing.add(0, lateness, np.full(blocks, 0.3 * period), np.arange(blocks) == 77)
    text = "".join(written(own, "2026-11-20T19:30:00", growing.parts, growing.floor_s, bin_of(own), complete=True))
    return text.splitlines()


def test_a_csv_log_is_read() -> None:
    """Lateness and work in microseconds, missed as 0 or 1: what is late is kept, all is counted."""
    log = _log(read_log(csv_log(["10,400,0", "700,400,0", "5,390,1", "-3,400,0"]), FILE))
    assert log.blocks == 4
    assert log.configuration == Configuration("laptop", "system 1", "driver 1", "4f1a", 64, 48000)
    assert log.late_at.tolist() == [1, 2]
    assert log.lateness_s.tolist() == pytest.approx([7e-4, 5e-6])
    assert log.missed.tolist() == [False, True]
    assert log.counts.sum() == 4
    assert log.work_s_mean == pytest.approx(397.5e-6)


@pytest.mark.parametrize("split", [";", "\t"])
def test_other_separators_and_a_missing_column_are_fine(split: str) -> None:
    """Semicolons and tabs separate too; without a column for missed blocks none was."""
    head = CSV_HEAD.splitlines()[:-1]
    log = _log(read_log([*head, f"work_us{split}lateness_us", f"400{split}900"], FILE))
    assert log.lateness_s.tolist() == pytest.approx([9e-4])
    assert log.work_s.tolist() == pytest.approx([4e-4])


def test_damaged_rows_are_left_out_and_said() -> None:
    """The first damaged line is named with its number, how many there are, and the rest is used."""
    rows = ["10,400,0"] * 30
    for at, bad in ((7, "10,4"), (11, "what"), (19, "10,-400,0")):
        rows[at] = bad
    read = read_log(csv_log(rows), FILE)
    assert _log(read).blocks == 27
    (finding,) = read.findings
    assert (finding.code, finding.file, finding.line) == ("evidence-damaged", FILE, 9 + 7)
    assert "3 of 30 lines" in finding.values


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([], "empty"),
        (["hello"], "does not say what it is of"),
        (csv_log(["10,400,0"])[1:], "does not say what it is of"),
        ([line.replace("# buffer: 64", "# buffer: many") for line in csv_log(["1,2,0"])], "buffer is no whole number"),
        ([line.replace("2026-11-20T", "yesterday ") for line in csv_log(["1,2,0"])], "time of the start"),
        ([*CSV_HEAD.splitlines()[:-1], "late,work", "1,2"], "columns"),
        (CSV_HEAD.splitlines(), "no block"),
        (CSV_HEAD.splitlines()[:-1], "no row"),
        (csv_log(["nonsense"] * 5), "no block"),
        (csv_log(["nonsense"] * 5 + ["10,400,0"] * 5), "Too much"),
        (['{"a": 1}'], "no evidence of this program"),
        (["{broken"], "no evidence of this program"),
        (_compact()[:1], "No block"),
    ],
)
def test_what_is_no_log_is_refused_with_its_line(lines: list[str], words: str) -> None:
    """A finding of severity error with the file and a line, and nothing to count."""
    read = read_log(lines, FILE)
    assert read.log is None
    finding = read.findings[-1]
    assert finding.code == "evidence-unreadable"
    assert words in finding.what
    assert finding.file == FILE and finding.line is not None and finding.line >= 1
    assert finding.remedy


def test_the_compact_form_says_the_same() -> None:
    """Blocks, late ones, missed ones and counts survive being written and read, to a nanosecond."""
    own = Configuration("laptop", "system", "driver", "4f1a", 64, 48000)
    draw = np.random.default_rng(9)
    growing = Growing(own)
    growing.add(0, draw.exponential(2e-4, 120_000), np.full(120_000, 4e-4), draw.uniform(size=120_000) < 1e-4)
    before = joined(own, "2026-11-20T19:30:00", growing.parts, growing.floor_s, bin_of(own), complete=True, file=FILE)
    lines = written(own, before.started, growing.parts, growing.floor_s, bin_of(own), complete=True)
    read = read_log(lines, FILE)
    after = _log(read)
    assert read.findings == ()
    assert (after.configuration, after.started, after.blocks) == (own, before.started, 120_000)
    assert after.late_at.tolist() == before.late_at.tolist()
    assert after.missed.tolist() == before.missed.tolist()
    assert after.counts.tolist() == before.counts.tolist()
    np.testing.assert_allclose(after.lateness_s, before.lateness_s, atol=1e-9)
    assert after.work_s_mean == pytest.approx(before.work_s_mean, abs=1e-9)


def test_a_log_that_stops_is_said_and_used() -> None:
    """Without its end mark the hours before it count, and somebody should find out why it stopped."""
    lines = _compact()
    read = read_log(lines[:-1], FILE)
    log = _log(read)
    assert not log.complete
    assert [finding.code for finding in read.findings] == ["evidence-partial"]
    assert "stops without its end" in read.findings[0].what


def test_blocks_that_are_missing_are_said_and_not_counted() -> None:
    """A part that is gone takes its time with it."""
    lines = _compact()
    read = read_log([*lines[:2], *lines[3:]], FILE)
    log = _log(read)
    assert log.blocks == 100_000 - json.loads(lines[2])["blocks"]
    assert [finding.code for finding in read.findings] == ["evidence-partial"]
    assert "missing" in read.findings[0].values


def test_a_count_that_was_changed_is_damage() -> None:
    """The bins of a part add up to its blocks, or its line is damaged, named and left out."""
    lines = _compact(400_000)
    part = json.loads(lines[3])
    part["blocks"] += 1
    read = read_log([*lines[:3], json.dumps(part), *lines[4:]], FILE)
    damaged = next(finding for finding in read.findings if finding.code in ("evidence-damaged", "evidence-unreadable"))
    assert damaged.line == 4
    assert damaged.file == FILE


def test_a_flood_of_late_blocks_raises_the_floor() -> None:
    """Where every block is late, only the latest are kept with their times, and the floor says from where on."""
    own = Configuration("laptop", "system", "driver", "4f1a", 64, 48000)
    growing = Growing(own)
    draw = np.random.default_rng(1)
    for start in range(0, 600_000, 150_000):
        growing.add(start, draw.exponential(1e-4, 150_000), np.full(150_000, 1e-3), np.zeros(150_000, dtype=bool))
    log = joined(own, "2026-11-20T19:30:00", growing.parts, growing.floor_s, bin_of(own), complete=True, file="")
    assert log.floor_s > own.period_s / 2
    assert len(log.late_at) <= 350_000
    assert (log.lateness_s + log.work_s > log.floor_s).all()
    assert log.blocks == log.counts.sum() == 600_000


@given(st.lists(st.text(max_size=60), max_size=12))
def test_no_text_is_a_traceback(lines: list[str]) -> None:
    """Any lines at all give a log or findings."""
    read = read_log(lines, FILE)
    assert read.log is not None or read.findings


@given(st.integers(0, 6), st.integers(0, 400), st.characters())
def test_no_single_letter_is_a_traceback(line: int, place: int, letter: str) -> None:
    """One letter of a good compact log replaced: it reads, or says what is wrong with it."""
    lines = _compact(200_000)
    at = min(line, len(lines) - 1)
    place = min(place, len(lines[at]) - 1)
    lines[at] = lines[at][:place] + letter + lines[at][place + 1 :]
    read = read_log(lines, FILE)
    assert read.log is not None or read.findings
