"""EvidenceFiles, on disk and in memory alike."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from fakes.evidence_files import EvidenceInMemory
from fakes.show_folder import ShowFolderInMemory
from sidetrip.adapters.evidence_files import LogFiles
from sidetrip.application.evidence_ports import EvidenceFiles
from sidetrip.errors import ShowUnreadable, WouldOverwrite

Made = tuple[EvidenceFiles, str, Callable[[str, bytes], None]]


@pytest.fixture(params=["disk", "memory"])
def made(request: pytest.FixtureRequest, tmp_path: Path) -> Made:
    """Return the files, a folder to work in, and how to put a file there."""
    if request.param == "disk":

        def put(path: str, data: bytes) -> None:
            Path(path).write_bytes(data)

        return LogFiles(), str(tmp_path), put
    store = ShowFolderInMemory()
    store.make_folder("shows")
    return EvidenceInMemory(store), "shows", store.put


def _read(files: EvidenceFiles, path: str) -> list[str]:
    with files.lines(path) as lines:
        return list(lines)


def test_what_was_written_is_read(made: Made) -> None:
    """Lines come back as they were, in a folder that was not there before."""
    files, folder, _ = made
    files.write(f"{folder}/evidence/a.jsonl", iter(["one\n", "zwölf\n"]))
    assert _read(files, f"{folder}/evidence/a.jsonl") == ["one\n", "zwölf\n"]


def test_a_log_is_never_overwritten(made: Made) -> None:
    """A second log of the same name is refused, and the first stays."""
    files, folder, _ = made
    files.write(f"{folder}/a.jsonl", ["one\n"])
    with pytest.raises(WouldOverwrite):
        files.write(f"{folder}/a.jsonl", ["two\n"])
    assert _read(files, f"{folder}/a.jsonl") == ["one\n"]


def test_what_is_no_text_still_comes_as_lines(made: Made) -> None:
    """Bytes that are no UTF-8 are replaced, so that a damaged line can be named."""
    files, folder, put = made
    put(f"{folder}/a.csv", b"good\n\xff\xfe\nlast")
    lines = _read(files, f"{folder}/a.csv")
    assert len(lines) == 3
    assert "\ufffd" in lines[1]


def test_a_missing_log_is_a_finding(made: Made) -> None:
    """No traceback, but what is missing and what to do."""
    files, folder, _ = made
    with pytest.raises(ShowUnreadable) as caught:
        _read(files, f"{folder}/none.csv")
    assert [finding.code for finding in caught.value.findings] == ["file-missing"]


def test_a_folder_is_no_log(made: Made) -> None:
    """A folder in place of a file is said."""
    files, folder, _ = made
    with pytest.raises(ShowUnreadable) as caught:
        _read(files, folder)
    assert [finding.code for finding in caught.value.findings] == ["file-unreadable"]


def test_a_log_that_cannot_be_written_is_a_finding(tmp_path: Path) -> None:
    """A file where the folder should be: nothing is written, and it is said."""
    (tmp_path / "evidence").write_text("in the way")
    with pytest.raises(ShowUnreadable):
        LogFiles().write(str(tmp_path / "evidence" / "a.jsonl"), ["one\n"])


def test_a_write_that_fails_half_way_leaves_nothing(tmp_path: Path) -> None:
    """Lines that stop with an error leave no log and no half of one."""

    def lines() -> object:
        yield "one\n"
        raise OSError("the disk is full")

    with pytest.raises(ShowUnreadable):
        LogFiles().write(str(tmp_path / "a.jsonl"), lines())  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []
