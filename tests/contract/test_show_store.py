"""The promises of a ShowStore, kept by the real one on a disk and by the one in memory that other tests use."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from fakes.show_folder import ShowFolderInMemory
from showtext import only
from sidetrip.adapters.show_folder import ShowFolder
from sidetrip.application.ports import ShowStore
from sidetrip.errors import ShowUnreadable, WouldOverwrite
from sidetrip.showfile.limits import MAX_BYTES

ODD_NAMES = [
    "Bühne",
    "Bu\u0308hne",
    "two words",
    "-rf",
    "100%",
    "#1",
    "a'b\"c",
    "日本語",
    "x" * 200,
    "...",
    "~",
    "$HOME",
    "a;b&c",
    "[bold]",
]


class _Disk:
    """The real store in a folder of its own. Names are relative to it."""

    def __init__(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.store: ShowStore = ShowFolder()
        self.root, self._monkeypatch = root, monkeypatch

    def path(self, name: str) -> str:
        return str(self.root / name)

    def put(self, name: str, data: bytes) -> None:
        (self.root / name).parent.mkdir(parents=True, exist_ok=True)
        (self.root / name).write_bytes(data)

    def get(self, name: str) -> bytes | None:
        return (self.root / name).read_bytes() if (self.root / name).is_file() else None

    def names(self, folder: str) -> set[str]:
        place = self.root / folder
        return {path.name for path in place.iterdir() if path.name != ".sidetrip-paper"} if place.is_dir() else set()

    def make_folder(self, name: str) -> None:
        (self.root / name).mkdir(parents=True)

    def fail_at(self, name: str) -> None:
        """Let the disk be full when the last step of writing reaches this file."""
        replace = Path.replace

        def failing(source: Path, target: Path) -> Path:
            if source.name == name and source.parent.name == "new":
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return replace(source, target)

        self._monkeypatch.setattr(Path, "replace", failing)


class _Memory:
    """The store in memory."""

    def __init__(self) -> None:
        self._store = ShowFolderInMemory()
        self.store: ShowStore = self._store

    def path(self, name: str) -> str:
        return f"shows/{name}"

    def put(self, name: str, data: bytes) -> None:
        self._store.put(self.path(name), data)

    def get(self, name: str) -> bytes | None:
        return self._store.files.get(self.path(name))

    def names(self, folder: str) -> set[str]:
        start = self.path(folder) + "/"
        return {path.removeprefix(start).partition("/")[0] for path in self._store.files if path.startswith(start)}

    def make_folder(self, name: str) -> None:
        self._store.make_folder(self.path(name))

    def fail_at(self, name: str) -> None:
        self._store.broken = name


World = _Disk | _Memory


@pytest.fixture(params=["disk", "memory"])
def world(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> World:
    """Both stores, one after the other."""
    return _Disk(tmp_path, monkeypatch) if request.param == "disk" else _Memory()


def _refused(read: Callable[[], object], code: str) -> None:
    with pytest.raises(ShowUnreadable) as caught:
        read()
    found = only(caught.value.findings, code)
    assert found.what and found.remedy


# reading


def test_a_show_is_read_by_its_file_or_its_folder(world: World) -> None:
    """A folder means the show.yaml in it; the path that is shown leads to the file."""
    world.put("lantern/show.yaml", b"sidetrip: 1\n")
    for name in ("lantern", "lantern/", "lantern/show.yaml"):
        text, shown = world.store.read_show(world.path(name))
        assert (text, shown) == ("sidetrip: 1\n", world.path("lantern/show.yaml"))


def test_a_mark_is_taken_off_and_line_ends_stay(world: World) -> None:
    """A byte-order mark is no part of the text; Windows line ends are."""
    world.put("show.yaml", b"\xef\xbb\xbfa: 1\r\n")
    assert world.store.read_text(world.path("show.yaml")) == "a: 1\r\n"


@pytest.mark.parametrize("name", ODD_NAMES)
def test_odd_names_lead_to_their_files(world: World, name: str) -> None:
    """Umlauts in one piece or two, spaces, dashes, signs and 200 letters: each is a name like any other."""
    paths = world.store.create(world.path(name), {"show.yaml": name, f"{name}.yaml": "desk"})
    assert world.store.read_show(world.path(name))[0] == name
    assert sorted(paths) == sorted(world.path(f"{name}/{file}") for file in ("show.yaml", f"{name}.yaml"))
    assert world.store.read_text(world.store.beside(paths[0], f"{name}.yaml")) == "desk"


def test_a_missing_file_is_said_to_be_missing(world: World) -> None:
    """A path that leads nowhere, and a folder without a show, are the same mistake."""
    world.make_folder("empty")
    for name in ("lost.yaml", "lost/show.yaml", "empty"):
        _refused(lambda name=name: world.store.read_show(world.path(name)), "file-missing")  # type: ignore[misc]


def test_a_folder_in_place_of_a_file_cannot_be_read(world: World) -> None:
    """A folder called show.yaml is no show."""
    world.make_folder("lantern/show.yaml")
    _refused(lambda: world.store.read_show(world.path("lantern")), "file-unreadable")
    _refused(lambda: world.store.read_text(world.path("lantern")), "file-unreadable")


@pytest.mark.parametrize("data", [b"a: 1\nname: caf\xe9\n", "a: é".encode("utf-16"), b"\xff", b"a\n\xc3"])
def test_text_that_is_not_utf_8_is_refused(world: World, data: bytes) -> None:
    """Another encoding is not guessed; the line is named where there is one."""
    world.put("show.yaml", data)
    _refused(lambda: world.store.read_show(world.path("show.yaml")), "file-unreadable")


def test_the_line_that_is_not_utf_8_is_named(world: World) -> None:
    """The first byte that fits no letter has a line."""
    world.put("show.yaml", b"a: 1\nb: 2\nname: caf\xe9\n")
    with pytest.raises(ShowUnreadable) as caught:
        world.store.read_show(world.path("show.yaml"))
    assert caught.value.findings[0].line == 3


def test_a_megabyte_is_read_and_a_byte_more_is_not(world: World) -> None:
    """The limit is the size in bytes, which is named."""
    world.put("most.yaml", b"#" * MAX_BYTES)
    assert len(world.store.read_text(world.path("most.yaml"))) == MAX_BYTES
    world.put("more.yaml", b"#" * (MAX_BYTES + 1))
    with pytest.raises(ShowUnreadable) as caught:
        world.store.read_show(world.path("more.yaml"))
    assert "1,000,001 bytes" in only(caught.value.findings, "file-too-large").values


@pytest.mark.parametrize("name", ["a\0b", "x" * 300, "a\0.yaml"])
def test_a_path_that_no_file_can_have_is_refused(world: World, name: str) -> None:
    """Reading and writing end in findings, not in an accident."""
    _refused(lambda: world.store.read_show(world.path(name)), "file-unreadable")
    _refused(lambda: world.store.read_text(world.path(name)), "file-unreadable")


def test_beside_is_counted_from_the_folder_of_the_file(world: World) -> None:
    """A desk file named in a show is looked for next to the show."""
    world.put("lantern/desks/own.yaml", b"desk")
    path = world.store.beside(world.path("lantern/show.yaml"), "desks/own.yaml")
    assert world.store.read_text(path) == "desk"


# creating


def test_new_files_are_written_with_the_folders_above(world: World) -> None:
    """Folders are made as they are needed, and the paths come back."""
    paths = world.store.create(world.path("a/b"), {"show.yaml": "é\r\n", "desk.yaml": "x"})
    assert list(paths) == [world.path("a/b/desk.yaml"), world.path("a/b/show.yaml")]
    assert world.get("a/b/show.yaml") == "é\r\n".encode()


def test_what_is_there_is_never_overwritten_by_new_files(world: World) -> None:
    """One file in the way, and none is written; the file keeps what it holds."""
    world.put("a/desk.yaml", b"mine")
    with pytest.raises(WouldOverwrite) as caught:
        world.store.create(world.path("a"), {"show.yaml": "new", "desk.yaml": "new"})
    assert caught.value.path == world.path("a/desk.yaml")
    assert world.names("a") == {"desk.yaml"}
    assert world.get("a/desk.yaml") == b"mine"


def test_a_folder_in_the_way_is_not_overwritten_either(world: World) -> None:
    """A folder under the name of a new file is somebody's work too."""
    world.put("a/show.yaml/inside", b"mine")
    with pytest.raises(WouldOverwrite):
        world.store.create(world.path("a"), {"show.yaml": "new"})
    assert world.get("a/show.yaml/inside") == b"mine"


def test_a_folder_that_cannot_be_is_refused(world: World) -> None:
    """A file where the folder should be ends in a finding, and the file is left alone."""
    world.put("a", b"mine")
    for folder in ("a", "a/b"):
        with pytest.raises((ShowUnreadable, WouldOverwrite)):
            world.store.create(world.path(folder), {"show.yaml": "new"})
    assert world.get("a") == b"mine"


@pytest.mark.parametrize("bad", ["desk.yaml", "show.yaml"])
def test_a_write_that_fails_leaves_nothing(world: World, bad: str) -> None:
    """When the disk is full at either file, no file and no folder is left, and the reason is a finding."""
    world.fail_at(bad)
    _refused(lambda: world.store.create(world.path("a/b"), {"show.yaml": "x", "desk.yaml": "y"}), "file-unreadable")
    assert world.names("a") == set()


# paper


def test_paper_takes_the_place_of_the_last_paper(world: World) -> None:
    """Sheets that are no longer made are gone, those that are made are new, and other files stay."""
    world.store.write_paper(world.path("paper"), {"a.pdf": b"1", "b.pdf": b"1"})
    world.put("paper/notes.txt", b"mine")
    paths = world.store.write_paper(world.path("paper"), {"b.pdf": b"2", "c.pdf": b"2"})
    assert list(paths) == [world.path("paper/b.pdf"), world.path("paper/c.pdf")]
    assert world.names("paper") == {"b.pdf", "c.pdf", "notes.txt"}
    assert [world.get(f"paper/{name}") for name in ("b.pdf", "notes.txt")] == [b"2", b"mine"]


@pytest.mark.parametrize("name", ODD_NAMES)
def test_paper_goes_into_folders_of_any_name(world: World, name: str) -> None:
    """A set can be written twice under odd names, and the second stands."""
    for data in (b"1", b"2"):
        world.store.write_paper(world.path(name), {f"{name}.pdf": data})
    assert world.get(f"{name}/{name}.pdf") == b"2"
    assert world.names(name) == {f"{name}.pdf"}


def test_paper_does_not_overwrite_what_is_not_its_own(world: World) -> None:
    """A file of somebody else under the name of a sheet stops the whole set."""
    world.put("paper/b.pdf", b"mine")
    with pytest.raises(WouldOverwrite) as caught:
        world.store.write_paper(world.path("paper"), {"a.pdf": b"1", "b.pdf": b"1"})
    assert caught.value.path == world.path("paper/b.pdf")
    assert world.names("paper") == {"b.pdf"}
    assert world.get("paper/b.pdf") == b"mine"


def test_paper_does_not_go_where_a_file_is(world: World) -> None:
    """A file in place of the folder is left alone."""
    world.put("paper", b"mine")
    with pytest.raises(WouldOverwrite):
        world.store.write_paper(world.path("paper"), {"a.pdf": b"1"})
    assert world.get("paper") == b"mine"


@pytest.mark.parametrize("bad", ["a.pdf", "b.pdf", "c.pdf"])
def test_paper_that_fails_leaves_the_old_set(world: World, bad: str) -> None:
    """At whichever sheet the disk is full, all old sheets are there as they were and no new one is."""
    old = {"a.pdf": b"old a", "b.pdf": b"old b", "z.pdf": b"old z"}
    world.store.write_paper(world.path("paper"), old)
    world.fail_at(bad)
    new = {"a.pdf": b"new", "b.pdf": b"new", "c.pdf": b"new"}
    _refused(lambda: world.store.write_paper(world.path("paper"), new), "file-unreadable")
    assert {name: world.get(f"paper/{name}") for name in world.names("paper")} == old


def test_after_a_failure_the_next_paper_is_written(world: World) -> None:
    """What a failed run left is still known for paper, so that the next run may replace it."""
    world.store.write_paper(world.path("paper"), {"a.pdf": b"old"})
    with pytest.raises(ShowUnreadable):
        world.store.write_paper(world.path("paper"), {"a.pdf": b"new", "x" * 300: b"new"})
    world.store.write_paper(world.path("paper"), {"b.pdf": b"newer"})
    assert world.names("paper") == {"b.pdf"}


# only on a disk


def test_what_never_ends_is_not_read_to_its_end(tmp_path: Path) -> None:
    """A device says nothing of its size: reading stops a byte behind the limit."""
    endless = Path("/dev/zero")
    if not endless.exists():
        pytest.skip("no endless device here")
    (tmp_path / "show.yaml").symlink_to(endless)
    _refused(lambda: ShowFolder().read_show(str(tmp_path)), "file-too-large")


def test_a_file_that_may_not_be_read_is_said_to_be_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the right to read, the system's reason is given."""

    def forbidden(path: Path, mode: str) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    monkeypatch.setattr(Path, "open", forbidden)
    with pytest.raises(ShowUnreadable) as caught:
        ShowFolder().read_show(str(tmp_path / "show.yaml"))
    assert os.strerror(errno.EACCES) in only(caught.value.findings, "file-unreadable").what


def test_a_link_that_leads_round_in_a_circle_is_said_to_be_so(tmp_path: Path) -> None:
    """Whatever else the system refuses is a finding with its reason."""
    (tmp_path / "show.yaml").symlink_to(tmp_path / "show.yaml")
    _refused(lambda: ShowFolder().read_show(str(tmp_path / "show.yaml")), "file-unreadable")
    _refused(lambda: ShowFolder().read_show(str(tmp_path)), "file-unreadable")


def test_a_link_that_leads_nowhere_is_not_overwritten(tmp_path: Path) -> None:
    """It is somebody's, though nothing is behind it."""
    (tmp_path / "show.yaml").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(WouldOverwrite):
        ShowFolder().create(str(tmp_path), {"show.yaml": "new"})
    assert (tmp_path / "show.yaml").is_symlink()


def test_nothing_but_the_files_is_left_behind(tmp_path: Path) -> None:
    """No folder for waiting files stays, whether writing went well or not."""
    ShowFolder().create(str(tmp_path), {"show.yaml": "x"})
    with pytest.raises(ShowUnreadable):
        ShowFolder().write_paper(str(tmp_path), {"a.pdf": b"1", "x" * 300: b"1"})
    assert [path.name for path in tmp_path.iterdir()] == ["show.yaml"]


def test_a_list_of_sheets_that_was_tampered_with_takes_nothing_away(tmp_path: Path) -> None:
    """The list of what may be replaced cannot name the show, a path, a folder above, or be no text at all."""
    show = tmp_path / "paper" / "show.yaml"
    show.parent.mkdir()
    show.write_bytes(b"mine")
    (tmp_path / "outside").write_bytes(b"mine")
    for listed in (b"show.yaml\n..\n.\n\n../outside\n/a/b\na.pdf\n", b"\xff\xfe\n"):
        (show.parent / ".sidetrip-paper").write_bytes(listed)
        ShowFolder().write_paper(str(show.parent), {"b.pdf": b"1"})
        (show.parent / "b.pdf").unlink()
    assert (show.read_bytes(), (tmp_path / "outside").read_bytes()) == (b"mine", b"mine")


def test_a_folder_under_the_name_of_a_sheet_is_left_alone(tmp_path: Path) -> None:
    """What was a sheet may have become somebody's folder: it is neither replaced nor taken away."""
    store = ShowFolder()
    store.write_paper(str(tmp_path), {"a.pdf": b"1"})
    (tmp_path / "a.pdf").unlink()
    (tmp_path / "a.pdf").mkdir()
    (tmp_path / "a.pdf" / "inside").write_bytes(b"mine")
    for sheets in ({"a.pdf": b"2"}, {"b.pdf": b"2"}):
        with pytest.raises(WouldOverwrite):
            store.write_paper(str(tmp_path), sheets)
    assert (tmp_path / "a.pdf" / "inside").read_bytes() == b"mine"


def test_an_interrupt_puts_everything_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C between two sheets leaves the old set."""
    store = ShowFolder()
    store.write_paper(str(tmp_path), {"a.pdf": b"old", "b.pdf": b"old"})
    replace = Path.replace

    def interrupted(source: Path, target: Path) -> Path:
        if source.name == "b.pdf" and source.parent.name == "new":
            raise KeyboardInterrupt
        return replace(source, target)

    monkeypatch.setattr(Path, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        store.write_paper(str(tmp_path), {"a.pdf": b"new", "b.pdf": b"new"})
    assert {path.name: path.read_bytes() for path in tmp_path.glob("*.pdf")} == {"a.pdf": b"old", "b.pdf": b"old"}


def test_folders_in_a_folder_are_named(world: World) -> None:
    """Those that can be seen, sorted; files are none; and where there is no folder, there are none in it."""
    world.put("shows/b/show.yaml", b"x")
    world.put("shows/a/deep/show.yaml", b"x")
    world.put("shows/note.txt", b"x")
    world.make_folder("shows/.hidden")
    assert world.store.folders(world.path("shows")) == ("a", "b")
    assert world.store.folders(world.path("nowhere")) == ()
    assert world.store.folders(world.path("shows/note.txt")) == ()
