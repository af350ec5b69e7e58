"""What the page answers: parts, pictures, changes, ticks, paper and long work, with the real parts behind it."""

import json
import re
import time
from pathlib import Path
from typing import Any

import pytest

from pages import DEMO, TOKEN, Asker, asker
from sidetrip.web.guards import TOKEN_HEADER
from sidetrip.web.views.who import step_key


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Asker:
    """Return who asks a page with the demo open; nobody changes it."""
    return asker(tmp_path_factory.mktemp("shows"))


@pytest.fixture
def own(tmp_path: Path) -> Asker:
    """Return who asks a page of their own."""
    return asker(tmp_path)


def tell(page: Asker, path: str, what: object) -> Any:
    """Post with the token."""
    return page.post(path, json=what, headers={TOKEN_HEADER: TOKEN})


def finished(page: Asker, what: dict[str, str]) -> dict[str, Any]:
    """Start long work and return it when it is over."""
    job: dict[str, Any] = tell(page, "/api/jobs", what).json()
    for _ in range(600):
        if job["state"] != "running":
            return job
        time.sleep(0.1)
        job = page.get(f"/api/jobs/{job['number']}").json()
    raise AssertionError(f"never over: {job}")


def test_every_part_is_in_the_first_page(page: Asker) -> None:
    """The card is there at once, so that it can be read when the program is gone."""
    text = page.get("/").text
    for words in ("4 strips go out of 7 that want to", "ALL LOOPS OUT", "sound is on backup", "Heard twice", "<svg"):
        assert words in text


def test_the_parts_are_those_of_the_page(page: Asker) -> None:
    """Each part alone is what stands in the page; another name is refused."""
    whole = page.get("/").text
    for name in ("who", "die", "paper"):
        assert page.get(f"/part/{name}").text.strip() in whole
    assert page.get("/part/now").status_code == 404


def test_the_slider_is_a_plan_at_that_buffer(page: Asker) -> None:
    """At 128 frames Lamplighter's loop is 128 frames longer there and back, and the planned one is as it was."""
    at = page.get("/api/when", params={"buffer": 128, "place": "row F"}).json()
    planned = page.get("/api/when", params={"place": "row F"}).json()
    assert (at["buffer"], planned["buffer"]) == (128, 64)
    assert ">loop 9.9<" in at["svg"]
    assert ">loop 7.3<" in planned["svg"]
    quick = page.get("/api/when", params={"buffer": 128, "place": "row F", "lists": "false"}).json()
    assert quick["svg"] == at["svg"]
    assert quick["lists"] == ""


def test_a_rate_that_the_desk_lacks_is_refused(page: Asker) -> None:
    """In three parts, not as a fault of the program."""
    answer = page.get("/api/when", params={"rate": 192000, "place": "row F"})
    assert answer.status_code == 422
    assert answer.json()["findings"]
    assert page.get("/api/when", params={"place": "nowhere", "lists": "false"}).status_code == 404
    assert page.get("/api/when", params={"buffer": 0}).status_code == 422


def test_a_comb_is_drawn_for_what_arrives_only(page: Asker) -> None:
    """A source at a place where it is heard; all else is refused in words."""
    answer = page.get("/api/comb", params={"source": "snare", "place": "row F"})
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "snare at row F" in answer.text
    assert page.get("/api/comb", params={"source": "nobody", "place": "row F"}).status_code == 404


def test_a_want_is_moved_and_undone(own: Asker) -> None:
    """The answer says who goes out now, and what undo would undo; after it the file is as it was."""
    revision = own.get("/api/state").json()["revision"]
    answer = tell(own, "/api/want", {"strip": "Drums", "want": "must", "revision": revision}).json()
    assert answer["says"].startswith("Drums is now wanted must. Drums now goes out; ")
    assert answer["undo"] == "want of Drums"
    assert 'Undo: <span id="undo-what">want of Drums' in own.get("/").text
    tell(own, "/api/undo", {"revision": answer["revision"]})
    assert Path(own.host.opened.seen().file).read_bytes() == DEMO.read_bytes()  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("path", "what"),
    [
        ("/api/want", {"strip": "Drums", "want": "10"}),
        ("/api/want", {"strip": "Drums", "want": "9", "more": 1}),
        ("/api/want", {"strip": "", "want": "9"}),
        ("/api/mend", {"strip": "Drums"}),
        ("/api/buffer", {"buffer": -1}),
        ("/api/tick", {"step": "x"}),
    ],
)
def test_what_the_page_would_never_send_is_refused(page: Asker, path: str, what: dict[str, object]) -> None:
    """With one shape of answer, which says where."""
    answer = tell(page, path, {"revision": "x", **what})
    assert answer.status_code == 422
    assert set(answer.json()) == {"kind", "what", "findings", "difference"}


def test_strips_that_are_not_there_are_refused(page: Asker) -> None:
    """A want for nobody changes nothing."""
    revision = page.get("/api/state").json()["revision"]
    answer = tell(page, "/api/want", {"strip": "Nobody", "want": "9", "revision": revision})
    assert answer.status_code == 409
    assert "no request of 'Nobody'" in answer.json()["what"]


def test_steps_are_ticked_in_no_dangerous_order(own: Asker) -> None:
    """A step that needs others waits for them; taken back, those after it go first; another browser sees the ticks."""
    show = own.host.opened
    assert show is not None
    plan = show.seen().plan
    assert plan is not None
    from sidetrip.reports.patch_sheet import patch_sheet
    from sidetrip.reports.sheet import Stamp

    rows = [row for phase in patch_sheet(plan, Stamp("", "", "", "", "")).data["phases"] for row in phase["steps"]]
    keys = {row["number"]: step_key(row["where"], row["item"], row["becomes"]) for row in rows}
    into = next(step for step in plan.steps if step.kind == "in")
    for number in range(1, into.number):
        late = tell(own, "/api/tick", {"step": keys[into.number], "done": True})
        assert late.status_code == 409
        assert f"Step {into.number} comes after step" in late.json()["what"]
        assert tell(own, "/api/tick", {"step": keys[number], "done": True}).status_code == 200
    assert tell(own, "/api/tick", {"step": keys[into.number], "done": True}).status_code == 200
    back = tell(own, "/api/tick", {"step": keys[1], "done": False})
    assert "Step 1 came before steps" in back.json()["what"]
    assert f"{into.number} of {len(rows)} steps done" in own.get("/part/who").text
    assert tell(own, "/api/tick", {"step": "0" * 20, "done": True}).status_code == 409
    tell(own, "/api/untick", {})
    assert f"0 of {len(rows)} steps done" in own.get("/part/who").text


def test_what_to_dial_comes_by_itself(own: Asker) -> None:
    """Worked out beside the page; then it stands in it, and on paper."""
    for _ in range(600):
        if own.get("/api/state").json()["aligned"]:
            break
        time.sleep(0.1)
    text = own.get("/part/when").text
    assert "1 tap to move: 1 meeting is cured" in text
    assert "send of Main to Subs" in text


def test_long_work_has_results(own: Asker) -> None:
    """Questions for the house, what else could be, and files to listen to, each found again by its number."""
    asked = finished(own, {"kind": "questions"})
    assert asked["state"] == "done"
    assert 1 <= len(asked["result"]) <= 12
    assert {"id", "question", "answers", "why"} == set(asked["result"][0])
    other = finished(own, {"kind": "else"})
    assert other["result"][0]["heading"] == "What else could be"
    heard = finished(own, {"kind": "hear", "source": "snare", "place": "row F"})
    names = [file["name"] for file in heard["result"]["files"]]
    assert names[:2] == ["planned", "out"]
    sound = own.get(f"/api/jobs/hear/snare/row%20F/{names[0]}.wav")
    assert sound.content[:4] == b"RIFF"
    part = own.get(f"/api/jobs/hear/snare/row%20F/{names[0]}.wav", headers={"range": "bytes=0-99"})
    assert (part.status_code, len(part.content)) == (206, 100)
    assert {job["kind"] for job in own.get("/api/jobs").json()} >= {"questions", "else", "hear"}
    assert tell(own, "/api/jobs", {"kind": "hear", "source": "nobody", "place": "row F"}).status_code == 404
    assert own.get("/api/jobs/9999").status_code == 404
    question = asked["result"][0]
    said = question["answers"].split(" or ")[0].replace("a number of milliseconds, like 3.5", "3.5")
    revision = own.get("/api/state").json()["revision"]
    what = {"id": question["id"], "answer": said, "by": "house engineer", "revision": revision}
    assert tell(own, "/api/answer", what).json()["says"].startswith("Noted.")


def test_paper_is_that_of_the_plan(own: Asker) -> None:
    """PDF, CSV and pictures of every sheet; a page too many and a sheet that is none are refused."""
    for name in ("patch-sheet", "timing-sheet", "recovery-card"):
        assert own.get(f"/paper/{name}.pdf").content[:5] == b"%PDF-"
        assert own.get(f"/paper/{name}.csv").text.count("\r\n") > 3
    answer = own.get("/paper/recovery-card/1.png")
    assert answer.content[:8] == b"\x89PNG\r\n\x1a\n"
    assert int(answer.headers["x-pages"]) == 1
    assert own.get("/paper/recovery-card/2.png").status_code == 404
    assert own.get("/paper/other.pdf").status_code == 404


def test_without_a_show_there_is_the_first_page(tmp_path: Path) -> None:
    """The demo is copied and opened, the second time as it was left; what lies here is listed."""
    page = asker(tmp_path, show=False)
    answer = page.get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/start")
    assert page.get("/api/when").status_code == 404
    assert tell(page, "/api/start/demo", {}).json() == {"name": "tin-lantern"}
    file = tmp_path / "tin-lantern" / "show.yaml"
    file.write_text(file.read_text().replace("want: 5", "want: 3"))
    again = asker(tmp_path, show=False)
    assert "Open The Tin Lantern" in again.get("/start").text
    tell(again, "/api/start/demo", {})
    assert "want: 3" in file.read_text()
    assert tell(again, "/api/start/open", {"name": "tin-lantern"}).status_code == 200


def test_a_show_with_errors_says_its_lines(own: Asker) -> None:
    """No plan: the page says what to mend and where; mended, it is the page again."""
    file = Path(own.host.opened.seen().file)  # type: ignore[union-attr]
    good = file.read_text()
    file.write_text(good.replace("want: 5", "want: often"))
    text = own.get("/").text
    assert "There is no plan yet" in text
    assert "line " in text
    assert own.get("/part/who").status_code == 409
    assert own.get("/api/state").json()["readable"] is False
    file.write_text(good)
    assert "Who goes out" in own.get("/").text


def test_unknown_times_stay_words(own: Asker) -> None:
    """Nobody measured the laptop: every part is shown, and every answer is JSON that a strict reader takes."""
    assert own.host.opened is not None
    file = Path(own.host.opened.seen().file)
    file.write_text(re.sub(r"round_trip_frames: \d+", "round_trip_frames: unknown", file.read_text()))
    assert own.host.opened.seen().plan is not None
    for part in ("who", "when", "die", "paper"):
        answer = own.get(f"/part/{part}")
        assert answer.status_code == 200, part
        assert ">inf<" not in answer.text
        assert "nan" not in answer.text.split()
    assert "unknown" in own.get("/part/when").text

    def refused(name: str) -> float:
        raise AssertionError(f"{name} is no JSON")

    for path in ("/api/when?place=row%20F", "/api/when?place=row%20F&lists=false", "/api/state", "/api/jobs"):
        json.loads(own.get(path).text, parse_constant=refused)
    heard = finished(own, {"kind": "hear", "source": "snare", "place": "row F"})
    assert heard["state"] in ("done", "failed")
    assert heard["state"] == "done" or heard["what"]
