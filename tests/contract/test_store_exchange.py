"""Files exchanged only if they still are what was read: kept by the store on a disk and by the one in memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from fakes.show_folder import ShowFolderInMemory
from showtext import only
from sidetrip.adapters.show_folder import ShowFolder
from sidetrip.application.ports import ShowStore
from sidetrip.errors import ShowChanged, ShowUnreadable
from sidetrip.showfile.limits import MAX_BYTES


@pytest.fixture(params=["disk", "memory"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[ShowStore, str]:
    """Return a store and a folder in it."""
    return (ShowFolder(), str(tmp_path)) if request.param == "disk" else (ShowFolderInMemory(), "shows")


def test_what_was_written_is_read_as_the_same_bytes(place: tuple[ShowStore, str]) -> None:
    """Any bytes come back, and a second exchange takes the place of the first."""
    store, folder = place
    data = bytes(range(256))
    assert len(store.exchange(folder, {"a.csv": data, "b.csv": b""}, {"a.csv": None, "b.csv": None})) == 2
    assert store.read_bytes(f"{folder}/a.csv") == data
    store.exchange(folder, {"a.csv": b"new"}, {"a.csv": data})
    assert (store.read_bytes(f"{folder}/a.csv"), store.read_bytes(f"{folder}/b.csv")) == (b"new", b"")


@pytest.mark.parametrize("were", [None, b"other", b""])
def test_a_file_that_is_not_what_was_read_stops_all(place: tuple[ShowStore, str], were: bytes | None) -> None:
    """One file that changed, or is there though it should not, leaves every file alone."""
    store, folder = place
    store.exchange(folder, {"a.csv": b"a", "b.csv": b"b"}, {"a.csv": None, "b.csv": None})
    with pytest.raises(ShowChanged):
        store.exchange(folder, {"a.csv": b"1", "b.csv": b"2"}, {"a.csv": b"a", "b.csv": were})
    assert (store.read_bytes(f"{folder}/a.csv"), store.read_bytes(f"{folder}/b.csv")) == (b"a", b"b")


def test_a_file_that_is_gone_stops_all(place: tuple[ShowStore, str]) -> None:
    """A file that was read and is not there any more is not made anew."""
    store, folder = place
    with pytest.raises(ShowChanged):
        store.exchange(folder, {"a.csv": b"1"}, {"a.csv": b"was"})
    with pytest.raises(ShowUnreadable) as caught:
        store.read_bytes(f"{folder}/a.csv")
    assert only(caught.value.findings, "file-missing").remedy


def test_a_megabyte_is_read_and_a_byte_more_is_not(place: tuple[ShowStore, str]) -> None:
    """The limit holds for any file, found from its size."""
    store, folder = place
    big = b"x" * MAX_BYTES
    store.exchange(folder, {"a": big, "b": big + b"x"}, {"a": None, "b": None})
    assert len(store.read_bytes(f"{folder}/a")) == MAX_BYTES
    with pytest.raises(ShowUnreadable) as caught:
        store.read_bytes(f"{folder}/b")
    assert only(caught.value.findings, "file-too-large").values


def test_a_link_is_followed(tmp_path: Path) -> None:
    """A show that is a link stays one; the file behind it is written."""
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "show.yaml").write_bytes(b"old")
    (tmp_path / "show.yaml").symlink_to(tmp_path / "real" / "show.yaml")
    were: dict[str, bytes | None] = {"show.yaml": b"old", "kept.json": None}
    ShowFolder().exchange(str(tmp_path), {"show.yaml": b"new", "kept.json": b"{}"}, were)
    assert (tmp_path / "show.yaml").is_symlink()
    assert (tmp_path / "real" / "show.yaml").read_bytes() == b"new"
    assert (tmp_path / "kept.json").read_bytes() == b"{}"


def test_a_folder_that_cannot_be_written_is_said_to_be_so(tmp_path: Path) -> None:
    """A file where the folder should be is a finding, not a traceback."""
    (tmp_path / "lists").write_bytes(b"")
    with pytest.raises(ShowUnreadable) as caught:
        ShowFolder().exchange(str(tmp_path / "lists"), {"a.csv": b""}, {"a.csv": None})
    assert only(caught.value.findings, "file-unreadable").remedy
