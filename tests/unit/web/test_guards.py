"""Who may ask the page for what: this machine by its name, from its own page, with its token; others look only."""

from pathlib import Path
from typing import Any

import pytest

from pages import PLACE, TOKEN, Asker, asker
from sidetrip.web.guards import COOKIE, MAX_BODY, TOKEN_HEADER, Viewers


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Asker:
    """Return who asks a page with the demo open."""
    return asker(tmp_path_factory.mktemp("shows"))


def test_the_page_is_served_with_its_rules(page: Asker) -> None:
    """Nothing but its own files may run, and nobody may frame it or keep a copy."""
    answer = page.get("/")
    assert answer.status_code == 200
    rules = answer.headers["content-security-policy"]
    assert "default-src 'none'" in rules
    assert "unsafe" not in rules
    assert "script-src 'self'" in rules
    assert answer.headers["cache-control"] == "no-store"
    assert "<script>" not in answer.text
    assert "style=" not in answer.text
    assert "http://" not in answer.text.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8377", "127.0.0.1", "localhost.evil.example:8377", ""])
def test_other_names_for_this_machine_are_refused(page: Asker, host: str) -> None:
    """A name that somebody else made point here gets nothing."""
    answer = page.get("/api/state", headers={"host": host})
    assert answer.status_code == 403
    assert PLACE in answer.json()["what"]


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://{PLACE}"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_other_sites_get_nothing(page: Asker, headers: dict[str, str]) -> None:
    """Reading and writing for another site are refused, whatever token it carries."""
    assert page.get("/api/state", headers=headers).status_code == 403
    answer = page.post("/api/untick", json={}, headers={TOKEN_HEADER: TOKEN, **headers})
    assert answer.status_code == 403


def test_writing_needs_the_token(page: Asker) -> None:
    """Without it, or with that of an earlier start, nothing is written, and the answer says which it is."""
    for token in (b"", b"old", "é".encode()):
        answer = page.post("/api/untick", json={}, headers=[(TOKEN_HEADER.encode(), token)])
        assert (answer.status_code, answer.json()["kind"]) == (409, "token")
    assert page.post("/api/untick", json={}, headers={TOKEN_HEADER: TOKEN}).status_code == 200


def test_the_token_is_for_this_machine_only(tmp_path: Path) -> None:
    """The page tells it to itself; whoever looks on is told none."""
    assert asker(tmp_path).get("/api/state").json()["token"] == TOKEN
    said: list[str] = []
    viewers = Viewers(said.append)
    other = asker(tmp_path, viewers=viewers, address="192.168.7.9")
    other.post("/look", data={"code": viewers.code}, follow_redirects=False)
    assert other.get("/api/state").json()["token"] == ""
    assert TOKEN not in other.get("/").text


def test_too_much_is_refused_unread(page: Asker) -> None:
    """A body of more than a megabyte, or of no stated length, is not read."""
    assert page.post("/api/untick", content=b"x" * (MAX_BODY + 1), headers={TOKEN_HEADER: TOKEN}).status_code == 413

    def stream() -> Any:
        yield b"{}"

    assert page.post("/api/untick", content=stream(), headers={TOKEN_HEADER: TOKEN}).status_code == 411


def test_unshared_nobody_else_gets_in(tmp_path: Path) -> None:
    """From another address there is nothing, with the token or without."""
    other = asker(tmp_path, address="192.168.7.9")
    assert other.get("/").status_code == 403
    assert other.get("/look").status_code == 403
    assert other.post("/api/untick", json={}, headers={TOKEN_HEADER: TOKEN}).status_code == 403


def test_shared_a_code_lets_one_look_and_change_nothing(tmp_path: Path) -> None:
    """The first who gives the code looks; the code is spent; looking is all that is allowed."""
    said: list[str] = []
    viewers = Viewers(said.append)
    code = viewers.code
    other = asker(tmp_path, viewers=viewers, address="192.168.7.9")
    answer = other.get("/", headers={"accept": "text/html"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/look")
    assert other.get("/api/state").status_code == 401
    assert other.post("/look", data={"code": "WRONG"}).status_code == 403
    lower = f" {code[:4].lower()} {code[4:].lower()}"
    assert other.post("/look", data={"code": lower}, follow_redirects=False).status_code == 303
    assert other.cookies.get(COOKIE)
    shown = other.get("/")
    assert shown.status_code == 200
    assert "you look on" in shown.text
    assert "data-mend" not in shown.text
    assert "draggable" not in shown.text
    for path in ("/api/untick", "/api/want", "/api/undo", "/api/jobs", "/api/start/demo", "/api/start/draft"):
        assert other.post(path, json={}, headers={TOKEN_HEADER: TOKEN}).status_code == 403, path
    second = asker(tmp_path, viewers=viewers, address="192.168.7.10")
    assert second.post("/look", data={"code": code}).status_code == 403
    assert len(said) == 2


def test_guessing_changes_the_code(tmp_path: Path) -> None:
    """After five wrong ones the code is another, and the person at the machine is told."""
    said: list[str] = []
    viewers = Viewers(said.append)
    first = viewers.code
    for _ in range(5):
        assert viewers.admit("AAAAAAAA") is None
    assert viewers.code != first
    assert viewers.admit(first) is None
    assert "5 wrong codes came" in said[-1]


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fguards.py",
        "/static/%2e%2e%2f%2e%2e%2fwiring.py",
        "/static//etc/passwd",
        "/paper/..%2f..%2fshow.pdf",
        "/paper/%2e%2e/x.csv",
        "/api/jobs/hear/..%2f..%2fetc/passwd/planned.wav",
        "/api/jobs/hear/a/b/..%2f..%2fshow.wav",
        "/part/..%2fpage",
    ],
)
def test_path_tricks_lead_nowhere(page: Asker, path: str) -> None:
    """No way out of the folders that are served."""
    answer = page.get(path)
    assert answer.status_code in (404, 405, 422), answer.text
    assert "root:" not in answer.text
    assert "import" not in answer.text


@pytest.mark.parametrize("name", ["..", "../tin-lantern", "/etc", "tin-lantern/../..", ".hidden", "nobody", ""])
def test_only_shows_that_lie_here_are_opened(page: Asker, name: str) -> None:
    """A show is opened by its name in the list, never by a path."""
    answer = page.post("/api/start/open", json={"name": name}, headers={TOKEN_HEADER: TOKEN})
    assert answer.status_code == 404
