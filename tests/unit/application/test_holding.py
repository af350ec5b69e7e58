"""Evidence kept with a show, and the advice that comes of it, over the ports."""

from __future__ import annotations

import pytest

from blocklogs import csv_log
from fakes.desks import DesksInMemory
from fakes.evidence_files import EvidenceInMemory
from fakes.show_folder import ShowFolderInMemory
from showtext import DESK_TEXT, DESK_TYPE, looped
from sidetrip.application.holding import Held, Kept, hold, keep_evidence
from sidetrip.errors import ShowUnreadable, WouldOverwrite

GOOD = "\n".join(csv_log(["10,400,0"] * 1000 + ["900,450,0"])) + "\n"


def _store() -> ShowFolderInMemory:
    return ShowFolderInMemory({"gig/show.yaml": looped()})


def _keep(store: ShowFolderInMemory, *added: str) -> Kept:
    return keep_evidence(store, DesksInMemory({DESK_TYPE: DESK_TEXT}), EvidenceInMemory(store), "gig", added)


def _hold(store: ShowFolderInMemory) -> Held:
    return hold(store, DesksInMemory({DESK_TYPE: DESK_TEXT}), EvidenceInMemory(store), "gig")


def test_a_log_is_added_in_the_compact_form_and_found_again() -> None:
    """A CSV goes in, one compact file is in the evidence folder, and its hours count."""
    store = _store()
    store.put("log.csv", GOOD.encode())
    kept = _keep(store, "log.csv")
    (written,) = kept.written
    assert written.startswith("gig/evidence/laptop-20261120193000-64-48000-")
    assert written.endswith(".jsonl")
    (log,) = kept.logs
    assert log.blocks == 1001
    assert log.file == written
    (tally,) = kept.tallies
    assert tally.blocks == 1001
    assert _keep(store).logs[0].late_at.tolist() == [1000]


def test_the_same_log_is_not_added_twice() -> None:
    """It has its name already, and is left alone."""
    store = _store()
    store.put("log.csv", GOOD.encode())
    _keep(store, "log.csv")
    with pytest.raises(WouldOverwrite):
        _keep(store, "log.csv")


def test_nothing_is_written_when_one_of_several_is_no_log() -> None:
    """A good and a bad file together: the bad one is named with its line, and the good one is not kept alone."""
    store = _store()
    store.put("log.csv", GOOD.encode())
    store.put("bad.csv", b"hello\n")
    with pytest.raises(ShowUnreadable) as caught:
        _keep(store, "log.csv", "bad.csv")
    assert [(finding.code, finding.file, finding.line) for finding in caught.value.findings] == [
        ("evidence-unreadable", "bad.csv", 1)
    ]
    assert _keep(store).logs == ()


def test_a_log_of_nobody_is_refused() -> None:
    """A unit that the show has not is said, with the nearest name."""
    store = _store()
    store.put("log.csv", GOOD.replace("unit: laptop", "unit: labtop").encode())
    with pytest.raises(ShowUnreadable) as caught:
        _keep(store, "log.csv")
    (finding,) = caught.value.findings
    assert finding.code == "name-unknown"
    assert "laptop" in finding.remedy


def test_a_damaged_file_in_the_folder_does_not_hide_the_rest() -> None:
    """One file that is no log is a finding; the good one counts; other files are passed over."""
    store = _store()
    store.put("gig/evidence/a.csv", GOOD.encode())
    store.put("gig/evidence/b.csv", b"\xff\xff\xff")
    store.put("gig/evidence/notes.txt", b"hello")
    held = _hold(store)
    assert [log.file for log in held.logs] == ["gig/evidence/a.csv"]
    unread = [finding.file for finding in held.findings if finding.code == "evidence-unreadable"]
    assert unread == ["gig/evidence/b.csv"]


def test_the_advice_comes_with_the_lines_of_the_show() -> None:
    """Findings about a unit carry the line that the unit stands on."""
    held = _hold(_store())
    finding = next(finding for finding in held.findings if finding.code == "evidence-none")
    assert finding.file == "gig/show.yaml"
    assert finding.line is not None
    assert held.advice.units[0].advised == 1024
